"""What was put in since a day: pictures, pieces begun by one, counts said, and what went out; counts alone, without a name."""

from django.db.models import Q

from witnessmark.calc.since import Line, Part
from witnessmark.records.lookups.outwork import shipments
from witnessmark.records.lookups.since import LOADED, Days, plural
from witnessmark.records.models import Aircraft, NotCounted, PictureIn, ShipmentLine


def _put_in(days: Days, act: str = "act") -> Q:
    """Acts of these days, or recorded in them: an old picture comes in on the day it is brought, whenever it was taken."""
    said = Q()
    for clock in ("happened_at", "recorded_at"):
        said |= Q(**{f"{act}__{clock}__gte": days.begins, f"{act}__{clock}__lt": days.ends})
    return said & ~Q(**{f"{act}__verb": LOADED})


def came_in(aircraft: Aircraft, days: Days) -> list[Line]:
    """Count what came in and what went out; a picture or a piece that is of no aircraft yet is counted with this one."""
    own = Q(aircraft=aircraft) | Q(aircraft=None)
    of_own = Q(piece__aircraft=aircraft) | Q(piece__aircraft=None)
    pictures = PictureIn.objects.filter(own, _put_in(days)).values("photo").distinct().count()
    begun = NotCounted.objects.filter(of_own, _put_in(days)).count()
    counted = NotCounted.objects.filter(of_own, _put_in(days, "counted_act")).count()
    sent = {each.shipment.pk for each in shipments(days.until) if days.hold(each.shipment.sent_on)}
    went = ShipmentLine.objects.filter(of_own, shipment__in=sent).values_list("count_out", flat=True)
    out = sum(count or 0 for count in went)
    came = [
        *([f"{plural(pictures, 'picture')} came in"] if pictures else []),
        *([f"{plural(begun, 'piece was', 'pieces were')} tagged"] if begun else []),
        *([f"{plural(counted, 'count was', 'counts were')} said"] if counted else []),
    ]
    said = [*([", ".join(came)] if came else []), *([f"{plural(out, 'thing')} went out"] if out else [])]
    return [Line("came-in", "done", (Part(f"{'; '.join(said)}."),))] if said else []
