"""Vendors, what was sent to them and what was ordered from them."""

from django.db import models
from django.db.models import Q

from witnessmark.records.models.ledger import Act, Holder, Piece


class Vendor(models.Model):
    """A shop outside. Its lead time is three figures in working days until deliveries have taught better."""

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=120)
    does = models.CharField(max_length=200, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    least_days = models.FloatField()
    likely_days = models.FloatField()
    most_days = models.FloatField()
    min_order = models.CharField(max_length=80, blank=True)
    baskets = models.PositiveIntegerField(default=1, help_text="separate baskets he runs of one shipment")
    note = models.TextField(blank=True)
    continuous = models.BooleanField(default=False, help_text="once he has begun he should not run out of our work")
    holder = models.OneToOneField(Holder, models.PROTECT, related_name="vendor")

    class Meta:
        ordering = ("code",)
        constraints = (
            models.CheckConstraint(
                condition=Q(least_days__gte=0)
                & Q(likely_days__gte=models.F("least_days"))
                & Q(most_days__gte=models.F("likely_days")),
                name="vendor_days_in_order",
            ),
        )

    def __str__(self) -> str:
        return self.name


class Shipment(models.Model):
    """What leaves together for one vendor and process."""

    number = models.CharField(max_length=40, unique=True)
    vendor = models.ForeignKey(Vendor, models.PROTECT, related_name="shipments")
    process = models.CharField(max_length=120)
    sent_on = models.DateField(null=True)
    promised_on = models.DateField(null=True)
    back_on = models.DateField(null=True)
    note = models.TextField(blank=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("number",)

    def __str__(self) -> str:
        return self.number


class ShipmentLine(models.Model):
    """One bag or part of a shipment, with the count and mass that left and that came back."""

    shipment = models.ForeignKey(Shipment, models.PROTECT, related_name="lines")
    piece = models.ForeignKey(Piece, models.PROTECT, related_name="shipment_lines")
    count_out = models.PositiveIntegerField()
    mass_out_g = models.FloatField(null=True)
    count_back = models.PositiveIntegerField(null=True)

    class Meta:
        constraints = (models.UniqueConstraint(fields=["shipment", "piece"], name="shipment_line_once"),)

    def __str__(self) -> str:
        return f"{self.count_out} of {self.piece_id}"


class Order(models.Model):
    """Something ordered, or to be ordered, from a vendor; it spans aircraft."""

    number = models.CharField(max_length=40)
    vendor = models.ForeignKey(Vendor, models.PROTECT, related_name="orders")
    what = models.CharField(max_length=200)
    size = models.ForeignKey("FastenerSize", models.PROTECT, null=True, related_name="orders")
    count = models.PositiveIntegerField()
    ordered_on = models.DateField(null=True)
    promised_on = models.DateField(null=True)
    came_on = models.DateField(null=True)
    note = models.TextField(blank=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("number", "id")
        constraints = (
            models.UniqueConstraint(fields=["number", "what"], name="order_line_once"),
            models.CheckConstraint(condition=Q(count__gt=0), name="order_count_above_0"),
        )

    def __str__(self) -> str:
        return self.number


class SpeedAsked(models.Model):
    """What a vendor asks for doing it faster: in so many working days, for so much more. The newest counts."""

    vendor = models.ForeignKey(Vendor, models.PROTECT, related_name="speeds")
    days = models.FloatField(help_text="working days that he then needs")
    price = models.DecimalField(max_digits=10, decimal_places=2, help_text="on top, for each order or shipment")
    currency = models.CharField(max_length=3)
    said_on = models.DateField()
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (
            models.CheckConstraint(condition=Q(days__gt=0) & Q(price__gte=0), name="speed_in_days_for_money"),
        )

    def __str__(self) -> str:
        return f"{self.vendor}: {self.days:g} working days for {self.price} {self.currency} more"
