"""A day's drive: its stops, what is left and fetched at each, and what was said at the counter."""

from django.db import models
from django.db.models import Q

from witnessmark.records.models.answers import Photo
from witnessmark.records.models.ledger import Act, Piece
from witnessmark.records.models.outwork import Shipment, Vendor
from witnessmark.records.models.people import Person


class Trip(models.Model):
    """One day, one driver, several stops."""

    number = models.CharField(max_length=40, unique=True)
    day = models.DateField()
    driver = models.ForeignKey(Person, models.PROTECT, related_name="trips")
    leaves_at = models.TimeField(null=True)
    note = models.TextField(blank=True)
    ended_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("day", "number")

    def __str__(self) -> str:
        return self.number


class TripStop(models.Model):
    """One vendor on the way. `position` is the order driven, `said_position` the order first said."""

    trip = models.ForeignKey(Trip, models.PROTECT, related_name="stops")
    vendor = models.ForeignKey(Vendor, models.PROTECT, related_name="stops")
    position = models.PositiveIntegerField()
    said_position = models.PositiveIntegerField()
    while_waiting = models.BooleanField(default=False, help_text="tests are done there while one waits")
    moved_why = models.CharField(max_length=300, blank=True)
    signed_by = models.CharField(max_length=120, blank=True)
    signed_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ("position",)
        constraints = (models.UniqueConstraint(fields=["trip", "vendor"], name="stop_once"),)

    def __str__(self) -> str:
        return f"stop {self.position}"


class TripLine(models.Model):
    """One piece to be left or fetched at a stop; what came unasked and what was refused stay on the sheet too."""

    stop = models.ForeignKey(TripStop, models.PROTECT, related_name="lines")
    piece = models.ForeignKey(Piece, models.PROTECT, related_name="trip_lines")
    kind = models.CharField(max_length=6, choices=[("leave", "leave"), ("fetch", "fetch")])
    process = models.CharField(max_length=120, blank=True)
    box = models.CharField(max_length=60, blank=True)
    shipment = models.ForeignKey(Shipment, models.PROTECT, null=True, related_name="trip_lines")
    count = models.PositiveIntegerField(null=True)
    unasked = models.BooleanField(default=False)
    refused_why = models.CharField(max_length=300, blank=True)
    off_why = models.CharField(max_length=300, blank=True)
    photo = models.ForeignKey(Photo, models.PROTECT, null=True, related_name="+")
    done_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (
            models.UniqueConstraint(fields=["stop", "piece", "kind"], name="trip_line_once"),
            models.CheckConstraint(condition=~(Q(refused_why__gt="") & Q(off_why__gt="")), name="refused_or_off"),
        )

    def __str__(self) -> str:
        return f"{self.kind} {self.piece_id}"
