"""A record in which every kind of thing that the public is not told bears a word of its own, and pictures full of metadata."""

import io
import struct
import uuid
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from django.utils import timezone
from PIL import ExifTags, Image

from tests.records.shop import Shop, make_part, make_place, make_shop
from tests.support.rows import make_steps, told
from witnessmark.records.actions.condition import decide, finish_step
from witnessmark.records.actions.custody import holder
from witnessmark.records.models import (
    Act,
    EngineeringWord,
    Finding,
    HoursBooked,
    Hunt,
    HuntAsked,
    Order,
    Packing,
    Person,
    Photo,
    PhotoUse,
    Piece,
    Role,
    Shipment,
    ShipmentLine,
    Step,
    Vendor,
)
from witnessmark.records.photo_store import keep_bytes

# By kind, the words that stand nowhere else: invented, and nothing that a sentence of ours could hold.
SECRETS = {
    "people": ("Zebulon Quark", "Ottilie Vroom"),
    "shops": ("Xylograf Galvanik", "Hangarlund Werft"),
    "money": ("4711.50", "4,711.50", "8,153.25", "8153.25"),
    "mark": ("SE-QXZ",),
    "serial": ("WN90417", "TAGQ77", "PN-77-QQ", "SHPQ-31", "ORDQ-9", "FNDQ-5"),
    "where": ("Zonkhull", "Shelfquux", "6-QQ-001"),
}
TYPED = "Polished by Zebulon for Xylograf, SEQXZ, 4711.50 EUR, tag TAGQ77, on Shelfquux"
IN_METADATA = ("Zebulon Quark", "Camera of Zebulon", "59.3293", "18.0686", "Profile of Zebulon", "QQSERIAL55")


def _segment(marker: int, body: bytes) -> bytes:
    return struct.pack(">BBH", 0xFF, marker, len(body) + 2) + body


def full_of_metadata(colour: str, day: datetime) -> bytes:
    """A JPEG with all that a camera and an editor may write: Exif with a position, XMP, IPTC, a comment, a profile."""
    exif = Image.Exif()
    exif[ExifTags.Base.Artist.value] = "Zebulon Quark"
    exif[ExifTags.Base.Model.value] = "Camera of Zebulon"
    exif[ExifTags.Base.ImageDescription.value] = TYPED
    own = exif.get_ifd(ExifTags.IFD.Exif)
    own[ExifTags.Base.DateTimeOriginal.value] = f"{day:%Y:%m:%d} 10:00:00"
    own[ExifTags.Base.BodySerialNumber.value] = "QQSERIAL55"
    place = exif.get_ifd(ExifTags.IFD.GPSInfo)
    place[ExifTags.GPS.GPSLatitudeRef.value], place[ExifTags.GPS.GPSLatitude.value] = "N", (59.0, 19.0, 45.0)
    place[ExifTags.GPS.GPSLongitudeRef.value], place[ExifTags.GPS.GPSLongitude.value] = "E", (18.0, 4.0, 7.0)
    out = io.BytesIO()
    image = Image.new("RGB", (640, 480), colour)
    image.save(out, "JPEG", exif=exif, comment=b"by Zebulon Quark")
    whole = out.getvalue()
    xmp = b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta>59.3293 18.0686 Zebulon Quark</x:xmpmeta>"
    profile = b"ICC_PROFILE\0\1\1" + b"Profile of Zebulon".ljust(200, b"\0")
    return (
        whole[:2]
        + _segment(0xE1, xmp)
        + _segment(0xED, b"Photoshop 3.0\0Zebulon Quark")
        + _segment(0xE2, profile)
        + whole[2:]
    )


@dataclass(frozen=True)
class Told:
    """The shop, a piece with a picture before and after, and when it all happened."""

    shop: Shop
    piece: Piece
    photos: tuple[str, str]


def filled() -> Told:
    """Fill a record with one of each kind of thing that is told."""
    shop = make_shop()
    now = timezone.now()
    today = timezone.localdate()
    aircraft = shop.aircraft
    aircraft.name, aircraft.works_number, aircraft.shop, aircraft.year = "SE-QXZ", "WN90417", "Hangarlund Werft", 1938
    aircraft.maker, aircraft.type = "Yard of Zebulon", "VF-6"
    aircraft.save()
    shop.zone.name = "Zonkhull"
    shop.zone.save()
    mechanic = Person.objects.create(name="Zebulon Quark", role=Role.MECHANIC, craft="sheet metal")
    Person.objects.create(name="Ottilie Vroom", role=Role.OWNER)
    vendor = Vendor.objects.create(
        code="XG", name="Xylograf Galvanik", least_days=1, likely_days=5, most_days=9,
        holder=holder("vendor", "Xylograf Galvanik"),
    )  # fmt: skip
    shelf = holder("shelf", "Shelfquux")
    place = make_place(shop, "6-QQ-001")
    piece = make_part(shop, "TAGQ77", shelf, belongs=place)
    Piece.objects.filter(pk=piece.pk).update(name="Fitting of Zebulon", part_no="PN-77-QQ")
    piece.refresh_from_db()
    piece.zones.add(shop.zone)
    make_steps(piece, ("Strip, as Zebulon says", "sheet metal"))
    photos = []
    for colour, days, what in (("#335577", 80, TYPED), ("#aabbcc", 2, TYPED)):
        day = now - timedelta(days=days)
        photos.append(keep_bytes(full_of_metadata(colour, day.astimezone(UTC)), "Zebulon Quark.jpg"))

        def show(act: Act, photo: Photo = photos[-1], said: str = what) -> None:
            PhotoUse.objects.create(photo=photo, piece=piece, what=said, act=act)

        told(shop, show)

    def rest(act: Act) -> None:
        back = Shipment.objects.create(
            number="SHPQ-31", vendor=vendor, process=TYPED, sent_on=today - timedelta(days=20),
            promised_on=today - timedelta(days=9), back_on=today - timedelta(days=3), act=act,
        )  # fmt: skip
        ShipmentLine.objects.create(shipment=back, piece=piece, count_out=1, count_back=1)
        Packing.objects.create(shipment=back, packed_by=mechanic, price=Decimal("4711.50"), currency="EUR", act=act)
        out = Shipment.objects.create(
            number="SHPQ-32", vendor=vendor, process=TYPED, sent_on=today - timedelta(days=2), act=act
        )
        ShipmentLine.objects.create(shipment=out, piece=piece, count_out=1)
        Order.objects.create(
            number="ORDQ-9", vendor=vendor, what=TYPED, count=3, ordered_on=today - timedelta(days=9),
            came_on=today - timedelta(days=1), act=act,
        )  # fmt: skip
        Order.objects.create(
            number="ORDQ-10", vendor=vendor, what=TYPED, count=3, ordered_on=today - timedelta(days=9), act=act
        )
        finding = Finding.objects.create(
            aircraft=aircraft, number="FNDQ-5", piece=piece, what=TYPED, kind="crack", opened=True,
            seen_on=today - timedelta(days=4), seen_by="Zebulon Quark", act=act,
        )  # fmt: skip
        EngineeringWord.objects.create(finding=finding, kind="asked", said=TYPED, from_whom="Ottilie Vroom", act=act)
        hunt = Hunt.objects.create(aircraft=aircraft, number="H-1", what=TYPED, why="missing", place=place, act=act)
        HuntAsked.objects.create(
            hunt=hunt, whom="Ottilie Vroom", asked_on=today, price=Decimal("8153.25"), currency="EUR", act=act
        )
        HoursBooked.objects.create(key="hand:x", person=mechanic, day=today - timedelta(days=1), hours=7.25, act=act)

    finish_step(by=mechanic, act_id=uuid.uuid4(), step=Step.objects.get(piece=piece))
    decide(by=shop.lead, act_id=uuid.uuid4(), piece=piece, kind="repair", reason=TYPED)
    told(shop, rest)
    return Told(shop, piece, (photos[0].sha256, photos[1].sha256))
