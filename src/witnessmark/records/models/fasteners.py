"""Fastener families and sizes, rows of holes, what stands in each hole and what was read there."""

from django.db import models
from django.db.models import Q

from witnessmark.records.models.ledger import Act, Known, Piece, Place


class FastenerSize(models.Model):
    """A catalogue entry: matched and rolled up by its code, never by a figure in mm."""

    code = models.CharField(max_length=60, unique=True)
    family = models.CharField(max_length=120, blank=True)
    kind = models.CharField(max_length=120)
    head_deg = models.FloatField(null=True)
    nominal_mm = models.FloatField()
    nominal_typed = models.CharField(max_length=40)
    pitch_mm = models.FloatField(null=True)
    alloy = models.CharField(max_length=60, blank=True)
    confusable_with = models.CharField(max_length=200, blank=True)
    pack = models.PositiveIntegerField(null=True)
    vendor = models.ForeignKey("Vendor", models.PROTECT, null=True)
    source = models.CharField(max_length=200, blank=True)
    status = models.CharField(max_length=40, blank=True)

    class Meta:
        ordering = ("code",)

    def __str__(self) -> str:
        return self.code


class LookedAt(models.TextChoices):
    """A row that was not looked at is never taken to be like the others."""

    YES = "yes", "looked at"
    NO = "no", "not looked at"
    UNDER_PAINT = "under paint", "under paint, not looked at"
    CANNOT_REACH = "cannot reach", "cannot be reached, not looked at"
    DISPUTED = "disputed", "disputed, not looked at"


class Row(models.Model):
    """A row of rivet holes: one place whose capacity is its holes."""

    place = models.OneToOneField(Place, models.PROTECT, primary_key=True)
    seam = models.CharField(max_length=120)
    from_station = models.CharField(max_length=40, blank=True)
    to_station = models.CharField(max_length=40, blank=True)
    pitch_mm = models.FloatField(null=True)
    edge_mm = models.FloatField(null=True)
    looked_at = models.CharField(max_length=20, choices=LookedAt.choices, default=LookedAt.NO)
    structure = models.CharField(max_length=20, blank=True)
    also_holds = models.CharField(max_length=200, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ("place_id",)

    def __str__(self) -> str:
        return self.place.mark


class Layer(models.Model):
    """One sheet of a row's stack; number 1 lies under the manufactured head."""

    row = models.ForeignKey(Row, models.PROTECT, related_name="layers")
    number = models.PositiveIntegerField()
    name = models.CharField(max_length=120)
    part_no = models.CharField(max_length=60, blank=True)
    material = models.CharField(max_length=120, blank=True)
    thickness_mm = models.FloatField()
    thickness_typed = models.CharField(max_length=40)
    known = models.CharField(max_length=10, choices=Known.choices, default=Known.MEASURED)

    class Meta:
        ordering = ("number",)
        constraints = (
            models.UniqueConstraint(fields=["row", "number"], name="layer_once"),
            models.CheckConstraint(condition=Q(thickness_mm__gt=0), name="layer_thickness_above_0"),
        )

    def __str__(self) -> str:
        return f"{self.name} {self.thickness_typed}"


class Hole(models.Model):
    """A numbered position of a row; never a holder."""

    place = models.ForeignKey(Place, models.PROTECT, related_name="holes")
    number = models.PositiveIntegerField()

    class Meta:
        ordering = ("number",)
        constraints = (
            models.UniqueConstraint(fields=["place", "number"], name="hole_once"),
            models.CheckConstraint(condition=Q(number__gte=1), name="hole_number_from_1"),
        )

    def __str__(self) -> str:
        return f"hole {self.number}"


class HoleState(models.TextChoices):
    """What stands in a hole: the right fastener, a named temporary one, or none for a known reason."""

    RIVETED = "riveted"
    OVERSIZE = "oversize", "riveted, oversize"
    TEMPORARY = "temporary", "temporary (cleco)"
    EMPTY = "empty"
    OPEN = "open", "open, waits"


class HoleFilled(models.Model):
    """The newest row of a hole counts."""

    hole = models.ForeignKey(Hole, models.PROTECT, related_name="fillings")
    piece = models.ForeignKey(Piece, models.PROTECT, null=True)
    state = models.CharField(max_length=10, choices=HoleState.choices)
    reason = models.CharField(max_length=300, blank=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.hole_id} {self.state}"


class HoleReading(models.Model):
    """A figure read at a hole, in the layer it was read in: a remade skin starts unread.

    A length stands in mm, an angle in degrees, what was only looked at in its word.
    """

    hole = models.ForeignKey(Hole, models.PROTECT, related_name="readings")
    layer_piece = models.ForeignKey(Piece, models.PROTECT, null=True)
    layer_name = models.CharField(max_length=120, blank=True)
    what = models.CharField(max_length=60)
    value_mm = models.FloatField(null=True)
    value_deg = models.FloatField(null=True)
    word = models.CharField(max_length=20, blank=True)
    typed = models.CharField(max_length=40)
    uncertainty_mm = models.FloatField(null=True)
    uncertainty_deg = models.FloatField(null=True)
    painted = models.BooleanField(default=False)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=Q(value_mm__isnull=False) | Q(value_deg__isnull=False) | ~Q(word=""), name="reading_says_one"
            ),
        )

    def __str__(self) -> str:
        return f"{self.what} {self.typed}"

    @property
    def label(self) -> str:
        """What was read, in words: the key without its unit."""
        return self.what.removesuffix("_mm").removesuffix("_deg").replace("_", " ")
