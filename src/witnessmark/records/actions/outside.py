"""Links for craftsmen outside, and the two things that such a link lets them say.

The token is signed with this installation's own key and runs out; only its hash is kept.
"""

import hashlib
import secrets
import uuid
from datetime import date, datetime, timedelta

from django.core import signing
from django.utils import timezone

from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.models import (
    Act,
    OutsideLink,
    Person,
    Role,
    Shipment,
    Vendor,
    VendorSaid,
)

LONGEST = timedelta(days=120)
SALT = "witnessmark.outside"


def _sha256(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _person_of(vendor: Vendor) -> Person:
    """The craftsman a vendor's link speaks for; he never signs in to the shop's screens."""
    found, made = Person.objects.get_or_create(
        name=f"{vendor.name} (outside)",
        defaults={"role": Role.CRAFTSMAN, "craft": vendor.does[:80], "hours_per_day": 0, "days": ""},
    )
    if not made and found.role != Role.CRAFTSMAN:
        raise Refused(f"{found.name} is one of the shop's own people. No link was made. Rename one of the two.")
    return found


def make_outside_link(*, by: Person, act_id: uuid.UUID, vendor: Vendor, lasts: timedelta) -> tuple[str, datetime]:
    """Make a link that shows this vendor his own shipments; give its token, told here and nowhere else.

    Said twice, the first link stands and a second token is not told.
    """
    if not timedelta(0) < lasts <= LONGEST:
        raise Refused(f"A link lasts from 1 to {LONGEST.days} days. No link was made.")
    token = signing.TimestampSigner(salt=SALT).sign(secrets.token_urlsafe(24))
    until = timezone.now() + lasts

    def do(act: Act) -> Result:
        link = OutsideLink.objects.create(
            vendor=vendor, person=_person_of(vendor), token_sha256=_sha256(token), expires_at=until, act=act
        )
        return {"link": link.pk, "token_sha256": link.token_sha256}

    said = {"vendor": vendor.pk, "days": lasts.total_seconds() / 86400}
    told = say("make_outside_link", by=by, act_id=act_id, said=said, do=do, roles=(Role.LEAD,))
    if told["token_sha256"] != _sha256(token):
        raise Refused("This link was made before and is told only once. Make another one.")
    return token, until


def take_link_back(*, by: Person, act_id: uuid.UUID, link: OutsideLink) -> Result:
    """Close a link before it runs out."""

    def do(act: Act) -> Result:
        done = OutsideLink.objects.filter(pk=link.pk, taken_back_act=None).update(taken_back_act=act)
        if not done:
            raise Refused("That link is closed already. Nothing was changed.")
        return {"link": link.pk}

    return say("take_link_back", by=by, act_id=act_id, said={"link": link.pk}, do=do, roles=(Role.LEAD,))


def open_link(token: str) -> OutsideLink | None:
    """Give the link that this token opens now; None for one that is forged, unknown, closed or run out."""
    try:
        signing.TimestampSigner(salt=SALT).unsign(token, max_age=LONGEST)
    except signing.BadSignature:
        return None
    return (
        OutsideLink.objects.filter(
            token_sha256=_sha256(token),
            taken_back_act=None,
            expires_at__gt=timezone.now(),
            person__is_active=True,
        )
        .select_related("vendor__holder", "person")
        .first()
    )


def _own(link: OutsideLink, shipment: Shipment) -> None:
    if shipment.vendor_id != link.vendor_id or shipment.sent_on is None:
        raise Refused("That is not among your shipments. Nothing was changed.")
    if shipment.back_on is not None:
        raise Refused(f"Shipment {shipment.number} went back already. Nothing was changed.")


def confirm_receipt(*, link: OutsideLink, act_id: uuid.UUID, shipment: Shipment, day: date, note: str = "") -> Result:
    """The vendor says that a shipment is with him; what he counts otherwise stands in his note."""
    _own(link, shipment)

    def do(act: Act) -> Result:
        Shipment.objects.select_for_update().get(pk=shipment.pk)
        if VendorSaid.objects.filter(shipment=shipment, what="received").exists():
            raise Refused("You confirmed this shipment before. Nothing was changed.")
        VendorSaid.objects.create(shipment=shipment, what="received", day=day, note=note.strip()[:300], act=act)
        return {"shipment": shipment.number}

    said = {"shipment": shipment.pk, "day": day, "note": note.strip()}
    return say("confirm_receipt", by=link.person, act_id=act_id, said=said, do=do, roles=(Role.CRAFTSMAN,))


def promise_day(
    *, link: OutsideLink, act_id: uuid.UUID, shipment: Shipment, day: date, today: date, note: str = ""
) -> Result:
    """The vendor promises a day; the earlier promise stays in the history."""
    _own(link, shipment)
    if day < today:
        raise Refused(f"{day} is past. Nothing was changed. Promise a day to come.")
    if day > today + timedelta(days=3 * 365):
        raise Refused(f"{day} lies more than three years ahead. Nothing was changed. Look at the year.")

    def do(act: Act) -> Result:
        fresh = Shipment.objects.select_for_update().get(pk=shipment.pk)
        VendorSaid.objects.create(shipment=fresh, what="promised", day=day, note=note.strip()[:300], act=act)
        fresh.promised_on = day
        fresh.save(update_fields=["promised_on"])
        return {"shipment": fresh.number, "promised_on": str(day)}

    said = {"shipment": shipment.pk, "day": day, "note": note.strip()}
    return say("promise_day", by=link.person, act_id=act_id, said=said, do=do, roles=(Role.CRAFTSMAN,))
