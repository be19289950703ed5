"""A small shop for tests of the record: one aircraft, a few people, shelves, places and pieces."""

import uuid
from dataclasses import dataclass

from django.utils import timezone

from witnessmark.records.actions.custody import holder, single
from witnessmark.records.actions.saying import move, say
from witnessmark.records.models import (
    Act,
    Aircraft,
    Belongs,
    Holder,
    HolderKind,
    Move,
    Person,
    Piece,
    PieceKind,
    Place,
    Role,
    Vendor,
    Zone,
)


@dataclass(frozen=True)
class Shop:
    aircraft: Aircraft
    zone: Zone
    lead: Person
    mechanic: Person
    owner: Person
    shelf: Holder
    box: Holder
    vendor: Vendor


def make_shop() -> Shop:
    aircraft = Aircraft.objects.create(name="Testbird", arrived_on=timezone.localdate())
    vendor_holder = Holder.objects.create(kind=HolderKind.VENDOR, name="Plater")
    return Shop(
        aircraft=aircraft,
        zone=Zone.objects.create(aircraft=aircraft, number="100", name="hull bottom"),
        lead=Person.objects.create(name="Lead", role=Role.LEAD),
        mechanic=Person.objects.create(name="Mechanic", role=Role.MECHANIC, craft="sheet metal"),
        owner=Person.objects.create(name="Owner", role=Role.OWNER),
        shelf=holder("shelf", "C2"),
        box=holder("shelf", "box 7"),
        vendor=Vendor.objects.create(
            code="PL", name="Plater", least_days=8, likely_days=15, most_days=45, holder=vendor_holder
        ),
    )


def make_place(shop: Shop, mark: str, side: str = "C", capacity: int = 1) -> Place:
    at = Holder.objects.create(kind=HolderKind.PLACE, name=f"{mark} {side}")
    return Place.objects.create(
        holder=at,
        aircraft=shop.aircraft,
        zone=shop.zone,
        mark=mark,
        side=side,
        capacity=capacity,
        words=mark.lower(),
    )


def take_in(shop: Shop, piece: Piece, at: Holder, count: int = 1, belongs: Place | None = None) -> None:
    """Let a piece arrive, by an act, out of the origin."""

    def do(act: Act) -> dict[str, int]:
        move(
            act,
            [Move(from_piece=piece, from_holder=single("origin"), to_piece=piece, to_holder=at, count=count)],
        )
        if belongs is not None:
            Belongs.objects.create(piece=piece, place=belongs, count=count, act=act)
        return {"count": count}

    say(
        "load_lists",
        by=shop.lead,
        act_id=uuid.uuid4(),
        said={"piece": piece.pk},
        do=do,
        aircraft=shop.aircraft,
    )


def make_part(shop: Shop, tag: str, at: Holder, side: str = "C", belongs: Place | None = None) -> Piece:
    part = Piece.objects.create(
        tag=tag,
        aircraft=shop.aircraft,
        kind=PieceKind.PART,
        side=side,
        name=f"Fitting {tag}",
        material="steel",
        strength_mpa=800.0,
        words=f"fitting {tag}",
    )
    take_in(shop, part, at, belongs=belongs)
    return part


def make_bag(shop: Shop, tag: str, at: Holder, count: int) -> Piece:
    bag = Piece.objects.create(
        tag=tag,
        aircraft=shop.aircraft,
        kind=PieceKind.BAG,
        name=f"Bolts {tag}",
        material="steel",
        strength_mpa=800.0,
        count_off=count,
        words=f"bolts {tag}",
    )
    take_in(shop, bag, at, count=count)
    return bag
