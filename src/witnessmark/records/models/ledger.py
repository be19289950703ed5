"""The custody ledger: pieces are with exactly one holder, and only acts move them.

The database refuses what breaks the ledger (records/guards.py); `Holding` is written by the move's trigger alone.
"""

import uuid

from django.db import models
from django.db.models import F, Q

from witnessmark.records.models.aircraft import Aircraft, Zone
from witnessmark.records.models.people import Person


class HolderKind(models.TextChoices):
    """What can hold a piece."""

    PLACE = "place"
    SHELF = "shelf"
    CONTAINER = "container"
    ASSEMBLY = "assembly"
    PERSON = "person"
    VENDOR = "vendor"
    SCRAP = "scrap"
    NOT_FOUND = "not_found"
    NOT_SAID = "not_said"
    ORIGIN = "origin"


class PieceKind(models.TextChoices):
    """A single thing, a counted bag of like hardware, or what is mixed and not yet told apart."""

    PART = "part"
    BAG = "bag"
    MIXED = "mixed"


class Side(models.TextChoices):
    """Left and right are part of identity."""

    LEFT = "L", "left"
    RIGHT = "R", "right"
    CENTRE = "C", "centre"


class Known(models.TextChoices):
    """How a position or figure is known."""

    MEASURED = "measured"
    DRAWN = "drawn"
    INFERRED = "inferred"
    MIRRORED = "mirrored"


class Piece(models.Model):
    """A physical thing, or a counted bag of like hardware."""

    tag = models.CharField(max_length=40, null=True, unique=True)
    aircraft = models.ForeignKey(Aircraft, models.PROTECT, null=True)
    kind = models.CharField(max_length=10, choices=PieceKind.choices)
    side = models.CharField(max_length=1, choices=Side.choices, default=Side.CENTRE)
    name = models.CharField(max_length=200, blank=True)
    part_no = models.CharField(max_length=60, blank=True)
    material = models.CharField(max_length=120, blank=True)
    strength_mpa = models.FloatField(null=True)
    finish = models.CharField(max_length=120, blank=True)
    mass_g = models.FloatField(null=True, help_text="of the whole piece or bag")
    count_off = models.PositiveIntegerField(default=1, help_text="what was taken off; the ledger counts what is here")
    size = models.ForeignKey("FastenerSize", models.PROTECT, null=True)
    as_found = models.TextField(blank=True)
    matched_set = models.CharField(max_length=60, blank=True)
    zones = models.ManyToManyField(Zone)
    note = models.TextField(blank=True)
    words = models.TextField(blank=True, help_text="case-folded text that search reads; written by actions")

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.tag} {self.name}".strip() if self.tag else f"{self.name or 'a piece'} (no tag)"

    @property
    def key(self) -> str:
        """What opens it: its tag, or its number in the record where it has none."""
        return self.tag or f"id-{self.pk}"


class Holder(models.Model):
    """Whatever a piece can be with. A place, a container or an assembly is a holder too."""

    kind = models.CharField(max_length=10, choices=HolderKind.choices)
    name = models.CharField(max_length=200)
    piece = models.OneToOneField(Piece, models.PROTECT, null=True, related_name="as_holder")
    person = models.OneToOneField(Person, models.PROTECT, null=True, related_name="as_holder")

    class Meta:
        ordering = ("id",)
        constraints = (
            models.UniqueConstraint(
                fields=["kind", "name"], condition=~Q(kind="place"), name="holder_name_once_a_kind"
            ),
        )

    def __str__(self) -> str:
        return self.name


class Place(models.Model):
    """A position on the aircraft that must be filled: a fitting's seat, or a row of rivet holes."""

    holder = models.OneToOneField(Holder, models.PROTECT, primary_key=True)
    aircraft = models.ForeignKey(Aircraft, models.PROTECT)
    zone = models.ForeignKey(Zone, models.PROTECT)
    mark = models.CharField(max_length=60)
    side = models.CharField(max_length=1, choices=Side.choices, default=Side.CENTRE)
    name = models.CharField(max_length=200, blank=True)
    station = models.CharField(max_length=60, blank=True)
    capacity = models.PositiveIntegerField(default=1)
    parent_place = models.ForeignKey("self", models.PROTECT, null=True)
    wants = models.CharField(max_length=200, blank=True)
    wants_size = models.ForeignKey("FastenerSize", models.PROTECT, null=True)
    known = models.CharField(max_length=10, choices=Known.choices, default=Known.MEASURED)
    words = models.TextField(blank=True)

    class Meta:
        ordering = ("mark", "side")
        constraints = (
            models.UniqueConstraint(fields=["aircraft", "mark", "side"], name="place_once"),
            models.CheckConstraint(condition=Q(capacity__gte=1), name="place_capacity_at_least_1"),
        )

    def __str__(self) -> str:
        return f"{self.mark} {self.get_side_display()}"


class Act(models.Model):
    """Something a person did, said once: history, and the key that makes a re-sent act happen once."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    verb = models.CharField(max_length=60)
    person = models.ForeignKey(Person, models.PROTECT)
    aircraft = models.ForeignKey(Aircraft, models.PROTECT, null=True)
    said = models.JSONField()
    said_sha256 = models.CharField(max_length=64)
    device = models.CharField(max_length=80, blank=True)
    device_seq = models.PositiveBigIntegerField(null=True)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField(auto_now_add=True)
    undoes = models.OneToOneField("self", models.PROTECT, null=True, related_name="undone_by")

    class Meta:
        ordering = ("recorded_at",)

    def __str__(self) -> str:
        return f"{self.verb} by {self.person}"


class ActResult(models.Model):
    """What the act answered; written last in the same transaction."""

    act = models.OneToOneField(Act, models.PROTECT, primary_key=True)
    result = models.JSONField()

    def __str__(self) -> str:
        return str(self.act_id)


class Move(models.Model):
    """One row carries both sides: count leaves one piece at one holder and joins another."""

    act = models.ForeignKey(Act, models.PROTECT, related_name="moves")
    from_piece = models.ForeignKey(Piece, models.PROTECT, related_name="moves_out")
    from_holder = models.ForeignKey(Holder, models.PROTECT, related_name="moves_out")
    to_piece = models.ForeignKey(Piece, models.PROTECT, related_name="moves_in")
    to_holder = models.ForeignKey(Holder, models.PROTECT, related_name="moves_in")
    count = models.PositiveIntegerField()

    class Meta:
        ordering = ("id",)
        constraints = (
            models.CheckConstraint(condition=Q(count__gt=0), name="move_count_above_0"),
            models.CheckConstraint(
                condition=~(Q(from_piece=F("to_piece")) & Q(from_holder=F("to_holder"))),
                name="move_goes_somewhere",
            ),
        )

    def __str__(self) -> str:
        return f"{self.count} of {self.from_piece_id} to {self.to_holder_id}"


class Holding(models.Model):
    """What is where now: kept by the move's trigger, never written from Python. None is kept for the origin."""

    pk = models.CompositePrimaryKey("piece_id", "holder_id")
    piece = models.ForeignKey(Piece, models.PROTECT, related_name="holdings")
    holder = models.ForeignKey(Holder, models.PROTECT, related_name="holdings")
    count = models.IntegerField()
    move_id = models.BigIntegerField(default=0, help_text="the move that wrote it last")

    class Meta:
        constraints = (models.CheckConstraint(condition=Q(count__gte=0), name="holding_never_below_0"),)

    def __str__(self) -> str:
        return f"{self.count} of {self.piece_id} at {self.holder_id}"


class Tagging(models.Model):
    """Tags come off for the bath and go on again."""

    tag = models.CharField(max_length=40, db_index=True)
    piece = models.ForeignKey(Piece, models.PROTECT, related_name="taggings")
    medium = models.CharField(max_length=40, blank=True)
    on_act = models.ForeignKey(Act, models.PROTECT, related_name="+")
    off_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")

    def __str__(self) -> str:
        return self.tag


class Belongs(models.Model):
    """Where a piece came from and should go back to, and how that is known; not where it is."""

    piece = models.ForeignKey(Piece, models.PROTECT, related_name="belongs")
    place = models.ForeignKey(Place, models.PROTECT, related_name="belongs")
    count = models.PositiveIntegerField(default=1)
    evidence = models.CharField(max_length=200, blank=True)
    confidence = models.FloatField(default=1.0)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        constraints = (models.UniqueConstraint(fields=["piece", "place"], name="belongs_once"),)

    def __str__(self) -> str:
        return f"{self.piece_id} to {self.place_id}"
