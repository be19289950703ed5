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


class MatBox(models.Model):
    """A box of a printed mat was bound to a tag before its picture; the newest word about a box counts.

    `printed` stands in the box for good. `came_from` are a person's words of where its pieces were; no tag: nobody's.
    """

    mat = models.ForeignKey(PrintedMat, models.PROTECT, related_name="boxes")
    box = models.CharField(max_length=4)
    tag = models.CharField(max_length=40, blank=True)
    came_from = models.CharField(max_length=300, blank=True)
    printed = models.BooleanField(default=False)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (
            models.UniqueConstraint(fields=["act", "mat", "box"], name="mat_box_bound_once_an_act"),
            models.CheckConstraint(condition=~Q(printed=True, tag=""), name="mat_box_printed_with_a_tag"),
        )

    def __str__(self) -> str:
        return f"{self.mat_id} box {self.box}: {self.tag}"
