"""What a vendor's earlier returns say of him: what he lost, and what he handed back that was not ours."""

from django.db.models import Exists, OuterRef, Q

from witnessmark.calc.bags.shares import Shares, learned_shares
from witnessmark.records.models import Claim, ClaimKind, HolderKind, Move, Shipment, ShipmentLine, Vendor
from witnessmark.records.models.mixing import stranger_tag


def vendor_shares(vendor: Vendor, but: Shipment | None = None) -> Shares:
    """What this vendor lost, and handed back that was not ours, over his earlier shipments that are back or claimed."""
    earlier = ShipmentLine.objects.filter(shipment__vendor=vendor)
    # What a counted return lacks may come with the next: it is claimed, and no share of his until he is done with it.
    short = Claim.objects.filter(kind=ClaimKind.SHORT, shipment=OuterRef("shipment"), piece=OuterRef("piece"))
    claimed = Exists(short.exclude(act__verb="receive_back"))
    settled = earlier.filter(Q(shipment__back_on__isnull=False) | claimed)
    lines = {
        line.pk: line for line in settled.exclude(shipment=but).exclude(count_back=None).select_related("shipment")
    }
    numbers = {line.shipment.number for line in lines.values()}
    strangers = Move.objects.filter(
        from_holder__kind=HolderKind.ORIGIN, to_piece__tag__in=[stranger_tag(number) for number in numbers]
    )
    return learned_shares(
        out=sum(line.count_out for line in lines.values()),
        lost=sum(line.count_out - (line.count_back or 0) for line in lines.values()),
        foreign=sum(strangers.values_list("count", flat=True)),
    )
