"""The hunt for what is missing, wrong for the type, or wanted better."""

from django.db import models
from django.db.models import Q

from witnessmark.records.models.aircraft import Aircraft
from witnessmark.records.models.condition import Finding
from witnessmark.records.models.ledger import Act, Piece, Place


class HuntWhy(models.TextChoices):
    """Why something is hunted."""

    MISSING = "missing"
    WRONG = "wrong", "wrong for the type"
    BETTER = "better", "wanted better"


class Hunt(models.Model):
    """Something looked for: what would do, until when it may wait, and whether it was looked for at home first.

    Without an aircraft it was begun before the record knew one; `photo` shows what is hunted where no piece or place does.
    """

    aircraft = models.ForeignKey(Aircraft, models.PROTECT, null=True)
    number = models.CharField(max_length=40)
    what = models.CharField(max_length=200)
    why = models.CharField(max_length=10, choices=HuntWhy.choices)
    piece = models.ForeignKey(Piece, models.PROTECT, null=True, related_name="hunts")
    place = models.ForeignKey(Place, models.PROTECT, null=True, related_name="hunts")
    finding = models.ForeignKey(Finding, models.PROTECT, null=True, related_name="hunts")
    measurements = models.CharField(max_length=300, blank=True)
    also_do = models.CharField(max_length=300, blank=True)
    may_wait_until = models.DateField(null=True)
    stores_said = models.CharField(max_length=300, blank=True)
    stores_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")
    bought = models.ForeignKey("HuntAsked", models.PROTECT, null=True, related_name="+")
    bought_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")
    found_piece = models.ForeignKey(Piece, models.PROTECT, null=True, related_name="found_by")
    photo = models.ForeignKey("Photo", models.PROTECT, null=True, related_name="+")
    state = models.CharField(max_length=10, choices=[(s, s) for s in ("open", "found", "given up")], default="open")
    note = models.TextField(blank=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("number",)
        constraints = (
            models.UniqueConstraint(fields=["aircraft", "number"], name="hunt_once"),
            models.UniqueConstraint(fields=["number"], condition=Q(aircraft=None), name="hunt_once_before_an_aircraft"),
        )

    def __str__(self) -> str:
        return f"{self.number} {self.what}"


class HuntAsked(models.Model):
    """Who was asked, when, what he said, what it would cost, and which papers are with it."""

    hunt = models.ForeignKey(Hunt, models.PROTECT, related_name="asked")
    whom = models.CharField(max_length=120)
    asked_on = models.DateField()
    said = models.CharField(max_length=300, blank=True)
    price = models.DecimalField(max_digits=10, decimal_places=2, null=True)
    currency = models.CharField(max_length=3, blank=True)
    papers = models.CharField(max_length=200, blank=True)
    ask_again_on = models.DateField(null=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("asked_on", "id")
        constraints = (
            models.CheckConstraint(condition=Q(price=None) | Q(price__gte=0), name="asked_price_not_below_0"),
        )

    def __str__(self) -> str:
        return f"{self.whom}: {self.said}"


class HuntWaiting(models.Model):
    """What cannot go on until the hunted thing is there, and what it waits to be told: a cable waits for its load."""

    hunt = models.ForeignKey(Hunt, models.PROTECT, related_name="waiting")
    piece = models.ForeignKey(Piece, models.PROTECT, null=True, related_name="waits_for_hunts")
    place = models.ForeignKey(Place, models.PROTECT, null=True, related_name="waits_for_hunts")
    for_what = models.CharField(max_length=200)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (
            models.CheckConstraint(
                condition=Q(piece__isnull=False) | Q(place__isnull=False), name="something_waits_for_the_hunt"
            ),
        )

    def __str__(self) -> str:
        return self.for_what

    @property
    def what(self) -> str:
        """Name what waits."""
        if self.place is not None:
            return self.place.name or self.place.mark
        return self.piece.name if self.piece is not None else ""
