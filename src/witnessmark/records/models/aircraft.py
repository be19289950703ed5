"""The aircraft in the shop and their zones."""

from django.db import models


class Aircraft(models.Model):
    """One machine. `today` is set only where a demonstration plays on a fixed day."""

    name = models.CharField(max_length=120, unique=True)
    maker = models.CharField(max_length=120, blank=True)
    type = models.CharField(max_length=120, blank=True)
    works_number = models.CharField(max_length=40, blank=True)
    year = models.PositiveIntegerField(null=True)
    arrived_on = models.DateField(null=True)
    today = models.DateField(null=True)
    shop = models.CharField(max_length=120, blank=True)
    is_demo = models.BooleanField(default=False)
    handed_over_on = models.DateField(null=True, help_text="until then every original is kept, decided on or not")
    unseen_limit = models.FloatField(default=0.10)

    def __str__(self) -> str:
        return self.name


class Zone(models.Model):
    """A part of the aircraft that is opened, inspected and closed as one; called by its name."""

    aircraft = models.ForeignKey(Aircraft, models.PROTECT)
    number = models.CharField(max_length=20)
    name = models.CharField(max_length=120)

    class Meta:
        ordering = ("number",)
        constraints = (models.UniqueConstraint(fields=["aircraft", "number"], name="zone_once"),)

    def __str__(self) -> str:
        return self.name
