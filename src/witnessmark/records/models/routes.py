"""What people say of a part's route, of a plater's times and of a shrink fit; nothing here is ever changed."""

from django.db import models
from django.db.models import Q

from witnessmark.records.models.leaving import Certificate
from witnessmark.records.models.ledger import Act, Piece
from witnessmark.records.models.people import Person


class RouteReason(models.Model):
    """Why a step goes on although an order rule asks: a person's word, with the rule as it stood."""

    piece = models.ForeignKey(Piece, models.PROTECT, related_name="route_reasons")
    rule = models.CharField(max_length=10)
    hard = models.BooleanField(help_text="a hard rule that is behind the piece: what is done cannot be undone")
    step_number = models.PositiveIntegerField()
    step_name = models.CharField(max_length=120)
    sentence = models.CharField(max_length=400)
    source = models.CharField(max_length=300)
    reason = models.CharField(max_length=400)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (models.CheckConstraint(condition=~Q(reason=""), name="route_reason_is_said"),)

    def __str__(self) -> str:
        return f"{self.rule}: {self.reason}"


class RouteFact(models.Model):
    """Whether a part has bushes, threads, bearing seats and so on; None is said to be unknown. The newest counts."""

    piece = models.ForeignKey(Piece, models.PROTECT, related_name="route_facts")
    fact = models.CharField(max_length=40)
    holds = models.BooleanField(null=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.fact}: {self.holds}"


class CertificateTimes(models.Model):
    """The times of one bake certificate as they were read off it; empty where it is silent."""

    certificate = models.ForeignKey(Certificate, models.PROTECT, related_name="times")
    spec = models.CharField(max_length=60, blank=True, help_text="specification of the bake that was called out")
    out_of_bath = models.DateTimeField(null=True)
    into_oven = models.DateTimeField(null=True)
    hours = models.FloatField(null=True)
    oven_c = models.FloatField(null=True)
    section_mm = models.FloatField(null=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"times of certificate {self.certificate_id}"


class CalledOut(models.Model):
    """By what a step of a part is done, as the design engineer called it out; the newest counts."""

    piece = models.ForeignKey(Piece, models.PROTECT, related_name="called_out")
    step_number = models.PositiveIntegerField()
    step_name = models.CharField(max_length=120)
    spec = models.CharField(max_length=60, blank=True)
    kind = models.CharField(max_length=20, blank=True, help_text="type, as that specification numbers them")
    code = models.CharField(max_length=20, blank=True, help_text="class, as that specification numbers them")
    bake_spec = models.CharField(max_length=60, blank=True)
    section_mm = models.FloatField(null=True)
    temper_c = models.FloatField(null=True, help_text="what the part may see without losing its temper")
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.step_name}: {self.spec or self.bake_spec}"


class ShrinkSeat(models.Model):
    """The part into which a piece is shrunk, as it was measured: the newest counts."""

    piece = models.ForeignKey(Piece, models.PROTECT, related_name="shrink_seats", help_text="the inner part")
    inner = models.CharField(max_length=120)
    outer = models.CharField(max_length=120, help_text="alloy and temper of the outer part, as written")
    seat_mm = models.FloatField(help_text="bore of the outer part")
    outside_mm = models.FloatField(help_text="outside diameter of the outer part round the seat")
    bore_mm = models.FloatField(default=0, help_text="bore of the inner part, nought where it is solid")
    length_mm = models.FloatField()
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (models.CheckConstraint(condition=Q(seat_mm__gt=0), name="shrink_seat_above_0"),)

    def __str__(self) -> str:
        return f"seat of {self.seat_mm:g} mm in {self.outer}"
