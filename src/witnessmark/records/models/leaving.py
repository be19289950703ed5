"""What is known of a piece before it leaves, on which terms it left, and which papers must come back with it."""

from django.db import models
from django.db.models import Q

from witnessmark.records.models.answers import Photo
from witnessmark.records.models.ledger import Act, Piece
from witnessmark.records.models.outwork import Shipment, Vendor
from witnessmark.records.models.people import Person


class PieceNature(models.Model):
    """What a person said of a piece's nature (a spring, a closed tube ...), or that it is not so. The newest counts."""

    piece = models.ForeignKey(Piece, models.PROTECT, related_name="natures")
    trait = models.CharField(max_length=40)
    holds = models.BooleanField()
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.trait}: {'yes' if self.holds else 'no'}"


class MaterialReading(models.Model):
    """Magnet, dimensions and mass of one, held against the recorded material. The newest counts."""

    piece = models.ForeignKey(Piece, models.PROTECT, related_name="material_readings")
    magnet = models.CharField(max_length=10)
    shape = models.CharField(max_length=10, blank=True)
    dimensions_mm = models.JSONField(default=list)
    mass_one_g = models.FloatField(null=True)
    volume_one_mm3 = models.FloatField(null=True)
    surface_one_mm2 = models.FloatField(null=True)
    agrees = models.BooleanField(null=True)
    sentence = models.CharField(max_length=400)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return self.sentence


class VendorPrice(models.Model):
    """What a vendor asks for a process; the newest counts."""

    vendor = models.ForeignKey(Vendor, models.PROTECT, related_name="prices")
    process = models.CharField(max_length=120, blank=True, help_text="empty: for all that he does")
    least_charge = models.DecimalField(max_digits=10, decimal_places=2, default=0)
    per_kg = models.DecimalField(max_digits=10, decimal_places=2, default=0)
    per_piece = models.DecimalField(max_digits=10, decimal_places=2, default=0)
    per_dm2 = models.DecimalField(max_digits=10, decimal_places=2, default=0)
    currency = models.CharField(max_length=3)
    said_on = models.DateField()
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (
            models.CheckConstraint(
                condition=Q(least_charge__gte=0) & Q(per_kg__gte=0) & Q(per_piece__gte=0) & Q(per_dm2__gte=0),
                name="price_not_below_0",
            ),
        )

    @property
    def words(self) -> str:
        """The tariff as it is said: `60 EUR at least, 14.50 EUR a kilogram`."""
        rates = ((self.per_kg, "a kilogram"), (self.per_piece, "a piece"), (self.per_dm2, "a square decimetre"))
        said = [f"{self.least_charge.normalize():f} {self.currency} at least"] if self.least_charge else []
        said += [f"{rate} {self.currency} {each}" for rate, each in rates if rate]
        return ", ".join(said) or "nothing"

    def __str__(self) -> str:
        return f"{self.vendor_id} {self.process}"


class Packing(models.Model):
    """Who packed a shipment, what the vendor is told to do, and what it was to cost."""

    shipment = models.OneToOneField(Shipment, models.PROTECT, primary_key=True, related_name="packing")
    packed_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    instruction = models.TextField(blank=True)
    price = models.DecimalField(max_digits=10, decimal_places=2, null=True)
    currency = models.CharField(max_length=3, blank=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"packed by {self.packed_by}"


class TermTaken(models.Model):
    """A term on which a piece left, and the person who answers for it."""

    shipment = models.ForeignKey(Shipment, models.PROTECT, related_name="terms")
    piece = models.ForeignKey(Piece, models.PROTECT, related_name="+")
    rule = models.CharField(max_length=60)
    why = models.CharField(max_length=300)
    term = models.CharField(max_length=300)
    source = models.CharField(max_length=60)
    status = models.CharField(max_length=10)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (models.UniqueConstraint(fields=["shipment", "piece", "rule"], name="term_once"),)

    def __str__(self) -> str:
        return self.term


class CertificateKind(models.TextChoices):
    """The papers that a shipment brings back."""

    BAKE = "bake", "bake certificate"
    TEST = "test report", "test report"
    CONFORMITY = "conformity", "certificate of conformity"
    MATERIAL = "material", "material certificate"


class Certificate(models.Model):
    """A paper that a shipment must bring back; it is there from the day it came."""

    shipment = models.ForeignKey(Shipment, models.PROTECT, related_name="certificates")
    kind = models.CharField(max_length=12, choices=CertificateKind.choices)
    why = models.CharField(max_length=300, blank=True)
    number = models.CharField(max_length=60, blank=True)
    came_on = models.DateField(null=True)
    photo = models.ForeignKey(Photo, models.PROTECT, null=True, related_name="+")
    came_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (models.UniqueConstraint(fields=["shipment", "kind"], name="certificate_once"),)

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.shipment_id}"


class Quarantine(models.Model):
    """A piece that is kept from being fitted or sent on, until an act lifts it."""

    piece = models.ForeignKey(Piece, models.PROTECT, related_name="quarantines")
    shipment = models.ForeignKey(Shipment, models.PROTECT, null=True, related_name="quarantines")
    why = models.CharField(max_length=300)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")
    lifted_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")
    lifted_why = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ("id",)
        constraints = (
            models.UniqueConstraint(
                fields=["piece", "shipment"], condition=Q(lifted_act=None), name="one_open_quarantine"
            ),
        )

    def __str__(self) -> str:
        return self.why


class Untraced(models.Model):
    """A piece of which nothing shows where it comes from, until somebody shows it."""

    piece = models.OneToOneField(Piece, models.PROTECT, primary_key=True, related_name="untraced")
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")
    shown_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")
    papers = models.CharField(max_length=300, blank=True)

    def __str__(self) -> str:
        return "untraced" if self.shown_act_id is None else self.papers


class OutsideLink(models.Model):
    """A signed link that shows an outside craftsman his own shipments until it runs out or is taken back."""

    vendor = models.ForeignKey(Vendor, models.PROTECT, related_name="links")
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    token_sha256 = models.CharField(max_length=64, unique=True)
    expires_at = models.DateTimeField()
    taken_back_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"link of {self.vendor_id}"


class VendorSaid(models.Model):
    """What the vendor said of a shipment, by his link or on the phone: that it is there, for which day he promises it, nothing new."""

    shipment = models.ForeignKey(Shipment, models.PROTECT, related_name="said")
    what = models.CharField(
        max_length=10, choices=[("received", "received"), ("promised", "promised"), ("rang", "rang")]
    )
    day = models.DateField()
    note = models.CharField(max_length=300, blank=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.what} {self.day}"
