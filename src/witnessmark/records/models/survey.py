"""Sizes that the shop added from measurement: an old maker's own norm that stands in no table."""

from django.db import models
from django.db.models import Q

from witnessmark.records.models.ledger import Act


class MeasuredSize(models.Model):
    """One size of a family the shop added; shared by all its aircraft. Never changed: a better one is added anew."""

    code = models.CharField(max_length=60, unique=True)
    family = models.CharField(max_length=120)
    form = models.CharField(max_length=10)
    shank_mm = models.FloatField()
    head_mm = models.FloatField(null=True)
    head_deg = models.FloatField(null=True)
    head_height_mm = models.FloatField(null=True)
    pitch_mm = models.FloatField(null=True)
    thread_deg = models.FloatField(null=True)
    across_flats_mm = models.FloatField(null=True)
    measured_on = models.CharField(max_length=200)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("family", "shank_mm", "code")
        constraints = (models.CheckConstraint(condition=Q(shank_mm__gt=0), name="measured_shank_above_0"),)

    def __str__(self) -> str:
        return self.code
