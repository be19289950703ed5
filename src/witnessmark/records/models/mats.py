"""Printed mats: each sheet of paper is measured with a ruler once."""

from django.db import models
from django.db.models import Q

from witnessmark.records.models.ledger import Act


class PrintedMat(models.Model):
    """One printed sheet by its number; the two lengths as a ruler reads them are nought until measured."""

    serial = models.CharField(max_length=12, primary_key=True)
    kind = models.CharField(max_length=40)
    check_a_mm = models.FloatField(default=0.0)
    check_b_mm = models.FloatField(default=0.0)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")
    measured_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ("serial",)
        constraints = (
            models.CheckConstraint(
                condition=Q(check_a_mm=0, check_b_mm=0) | Q(check_a_mm__gt=100, check_b_mm__gt=100),
                name="mat_measured_in_both_directions_or_not_at_all",
            ),
        )

    def __str__(self) -> str:
        return f"{self.serial} {self.kind}"

    @property
    def measured(self) -> bool:
        """Whether a ruler was laid on it."""
        return self.check_a_mm > 0
