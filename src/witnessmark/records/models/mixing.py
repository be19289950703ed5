"""What was read on small pieces, what came back mixed, what was told apart, and claims on vendors."""

from django.db import models
from django.db.models import Q

from witnessmark.records.models.answers import Photo
from witnessmark.records.models.condition import Finding
from witnessmark.records.models.ledger import Act, Piece, Place
from witnessmark.records.models.outwork import Order, Shipment


class PieceReading(models.Model):
    """A figure read on one piece, or on one of a bag or bucket: `item` is its number there. Repeated readings count together.

    The unit is that of the feature's name: mm, degrees or g.
    """

    piece = models.ForeignKey(Piece, models.PROTECT, related_name="readings")
    item = models.CharField(max_length=40, blank=True)
    place = models.ForeignKey(Place, models.PROTECT, null=True, related_name="+")
    what = models.CharField(max_length=40)
    value = models.FloatField()
    uncertainty = models.FloatField()
    typed = models.CharField(max_length=40)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (models.CheckConstraint(condition=Q(uncertainty__gt=0), name="piece_reading_uncertain"),)

    def __str__(self) -> str:
        return f"{self.what} {self.typed}"


class ReadingStruck(models.Model):
    """A reading was struck out: it stays in the history and counts no more."""

    reading = models.OneToOneField(PieceReading, models.PROTECT, related_name="struck")
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.reading} struck out"


class Mix(models.Model):
    """Bags of one shipment that lie in one bucket: `piece` is the mixed piece that the ledger moves."""

    shipment = models.OneToOneField(Shipment, models.PROTECT, related_name="mix")
    piece = models.OneToOneField(Piece, models.PROTECT, related_name="mix")
    count_back = models.PositiveIntegerField(null=True)
    mass_back_g = models.FloatField(null=True)
    coat_um = models.FloatField(default=0)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"mixed in {self.shipment_id}"


def stranger_tag(number: str) -> str:
    """The tag of the bag that takes in what came back with this shipment and is not ours."""
    return f"X-{number}"[:40]


class ToldApart(models.Model):
    """One piece of the bucket that a person confirmed: its bag (none for a stranger), and the place it came from."""

    mix = models.ForeignKey(Mix, models.PROTECT, related_name="told")
    item = models.CharField(max_length=40)
    piece = models.ForeignKey(Piece, models.PROTECT, related_name="+")
    place = models.ForeignKey(Place, models.PROTECT, null=True, related_name="+")
    foreign = models.BooleanField(default=False)
    sure = models.FloatField(null=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (models.UniqueConstraint(fields=["mix", "item"], name="told_once"),)

    def __str__(self) -> str:
        return f"{self.item} to {self.piece_id}"


class WhoseWord(models.Model):
    """What a person says of one piece in the bucket, before the readings: its bag, not ours, or (neither) taken back.

    `read_*` is what the readings had said when he spoke.
    """

    mix = models.ForeignKey(Mix, models.PROTECT, related_name="words")
    item = models.CharField(max_length=40)
    bag = models.ForeignKey(Piece, models.PROTECT, null=True, related_name="+")
    foreign = models.BooleanField(default=False)
    why = models.CharField(max_length=200, blank=True)
    read_bag = models.ForeignKey(Piece, models.PROTECT, null=True, related_name="+")
    read_state = models.CharField(max_length=10, blank=True)
    read_sure = models.FloatField(null=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (models.CheckConstraint(condition=Q(bag=None) | Q(foreign=False), name="whose_is_one_thing"),)

    def __str__(self) -> str:
        return f"{self.item}: {self.says}"

    @property
    def stands(self) -> bool:
        """Whether something is said; else it was taken back."""
        return self.bag_id is not None or self.foreign

    @property
    def says(self) -> str:
        """Whose it is, in words."""
        return (self.bag.tag or self.bag.key) if self.bag else "not ours" if self.foreign else "as the readings say"

    @property
    def against(self) -> str:
        """What the readings had said, with their chance."""
        if self.read_sure is None:
            return "the readings said nothing"
        whose = (self.read_bag.tag or self.read_bag.key) if self.read_bag else "not ours"
        doubt = ", in doubt" if self.read_state == "doubtful" else ""
        return f"the readings said {whose}, {self.read_sure:.3f}{doubt}"


class ClaimKind(models.TextChoices):
    """What a vendor is held to."""

    SHORT = "short", "short"
    DAMAGED = "damaged", "damaged"
    FOREIGN = "foreign", "not ours"
    LATE = "late", "late"


class Claim(models.Model):
    """Something a vendor answers for; open until his answer settles it."""

    shipment = models.ForeignKey(Shipment, models.PROTECT, null=True, related_name="claims")
    order = models.ForeignKey(Order, models.PROTECT, null=True, related_name="claims")
    kind = models.CharField(max_length=10, choices=ClaimKind.choices)
    piece = models.ForeignKey(Piece, models.PROTECT, null=True, related_name="+")
    count = models.PositiveIntegerField(default=1)
    what = models.CharField(max_length=400)
    finding = models.ForeignKey(Finding, models.PROTECT, null=True, related_name="+")
    photo = models.ForeignKey(Photo, models.PROTECT, null=True, related_name="+")
    answer = models.CharField(max_length=400, blank=True)
    settled_on = models.DateField(null=True)
    settled_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (
            models.CheckConstraint(
                condition=Q(shipment__isnull=False) | Q(order__isnull=False), name="claim_is_on_something"
            ),
        )

    def __str__(self) -> str:
        return self.what
