"""What is said of a finding after it was seen: rings on its pictures, figures, engineering; and of the choices for a piece."""

from django.db import models
from django.db.models import Q

from witnessmark.records.models.answers import PhotoUse
from witnessmark.records.models.condition import DecisionKind, Finding
from witnessmark.records.models.ledger import Act, Piece


class FindingRing(models.Model):
    """A ring drawn on a picture, as shares of its upright width and height; the picture itself is never touched.

    The newest of a picture counts; without a shape it is in words alone.
    """

    use = models.ForeignKey(PhotoUse, models.PROTECT, related_name="rings")
    across = models.FloatField(null=True, help_text="centre from the left, share of the width")
    down = models.FloatField(null=True, help_text="centre from the top, share of the height")
    half_wide = models.FloatField(null=True, help_text="half the ring's width, share of the picture's width")
    half_high = models.FloatField(null=True, help_text="half the ring's height, share of the picture's height")
    where_words = models.CharField(max_length=200, blank=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (
            models.CheckConstraint(
                condition=Q(across__isnull=True)
                | (
                    Q(across__gte=0, across__lte=1, down__gte=0, down__lte=1)
                    & Q(half_wide__gt=0, half_wide__lte=0.5, half_high__gt=0, half_high__lte=0.5)
                ),
                name="ring_lies_on_the_picture",
            ),
        )

    def __str__(self) -> str:
        return self.where_words or f"ring {self.pk}"


class FindingFigure(models.Model):
    """A figure measured on a finding; the newest of each kind counts, the older ones stay to be read."""

    finding = models.ForeignKey(Finding, models.PROTECT, related_name="figures")
    what = models.CharField(max_length=40, help_text="a figure of calc/surface/finding_kinds, its unit in its name")
    value = models.FloatField()
    plus_minus = models.FloatField(null=True)
    typed = models.CharField(max_length=60)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.what} {self.typed}"


class EngineeringWord(models.Model):
    """A finding goes to engineering, or comes back with an answer; the newest counts."""

    finding = models.ForeignKey(Finding, models.PROTECT, related_name="engineering")
    kind = models.CharField(max_length=10, choices=[("asked", "asked"), ("answered", "answered")])
    said = models.TextField()
    from_whom = models.CharField(max_length=120, blank=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.finding_id} {self.kind}"


class ChoiceFigure(models.Model):
    """What somebody reckons of one choice for a piece: hours, money, a material; the newest of each counts."""

    piece = models.ForeignKey(Piece, models.PROTECT, related_name="choice_figures")
    kind = models.CharField(max_length=12, choices=DecisionKind.choices)
    what = models.CharField(max_length=30)
    value = models.FloatField(null=True)
    typed = models.CharField(max_length=200)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (
            models.CheckConstraint(condition=Q(value__isnull=True) | Q(value__gte=0), name="choice_figure_not_below_0"),
        )

    def __str__(self) -> str:
        return f"{self.kind} {self.what} {self.typed}"


class ShopHourSaid(models.Model):
    """What an hour of the shop costs from a day on; the newest that holds on a day counts, the older ones stay."""

    amount = models.DecimalField(max_digits=8, decimal_places=2)
    currency = models.CharField(max_length=3)
    since = models.DateField()
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (models.CheckConstraint(condition=Q(amount__gt=0), name="shop_hour_above_0"),)

    def __str__(self) -> str:
        return f"{self.amount} {self.currency} from {self.since}"
