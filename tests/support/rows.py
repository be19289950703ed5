"""Rows of holes, routes, findings and orders for tests of what is computed from the record."""

import uuid
from collections.abc import Callable, Sequence
from typing import Any

from tests.records.shop import Shop, make_place
from witnessmark.records.actions.saying import say
from witnessmark.records.models import (
    Act,
    FastenerSize,
    Finding,
    HandJob,
    Hole,
    HoleFilled,
    Layer,
    Order,
    Piece,
    Row,
    Step,
)


def told(shop: Shop, do: Callable[[Act], Any]) -> None:
    """Do something to the record inside one act of loading."""

    def once(act: Act) -> dict[str, int]:
        do(act)
        return {}

    say("load_lists", by=shop.lead, act_id=uuid.uuid4(), said={}, do=once, aircraft=shop.aircraft)


def make_size(shop: Shop, code: str = "VN12-3.0", mm: float = 3.0, kind: str = "round-head rivet") -> FastenerSize:
    """A size of the yard's own norm, made by the shop's one vendor."""
    return FastenerSize.objects.create(
        code=code, kind=kind, nominal_mm=mm, nominal_typed=f"{mm} mm", vendor=shop.vendor, family="house metric"
    )


def make_row(
    shop: Shop,
    mark: str,
    size: FastenerSize | None,
    holes: int = 84,
    *,
    side: str = "L",
    states: dict[str, Sequence[int]] | None = None,
    stack: Sequence[float] = (1.0, 2.5),
    looked_at: str = "yes",
    edge_mm: float | None = None,
    part_no: str = "",
) -> Row:
    """A row with its stack and what stands in its holes."""
    place = make_place(shop, mark, side, holes)
    place.wants_size = size
    place.save()
    row = Row.objects.create(place=place, seam="spar cap to web", pitch_mm=20.0, edge_mm=edge_mm, looked_at=looked_at)
    for number, thickness in enumerate(stack, 1):
        Layer.objects.create(
            row=row,
            number=number,
            name=f"sheet {number}",
            part_no=part_no,
            thickness_mm=thickness,
            thickness_typed=f"{thickness}",
        )
    Hole.objects.bulk_create([Hole(place=place, number=n) for n in range(1, holes + 1)])
    numbered = {hole.number: hole for hole in Hole.objects.filter(place=place)}

    def fill(act: Act) -> None:
        for state, numbers in (states if states is not None else {"empty": range(1, holes + 1)}).items():
            HoleFilled.objects.bulk_create([HoleFilled(hole=numbered[n], state=state, act=act) for n in numbers])

    told(shop, fill)
    return row


def make_steps(piece: Piece, *steps: tuple[str, str], hours: float = 2.0) -> None:
    """A route: (name, who) in order."""
    Step.objects.bulk_create(
        [
            Step(
                piece=piece,
                number=n,
                name=name,
                who=who,
                hours_least=hours / 2,
                hours_likely=hours,
                hours_most=2 * hours,
            )
            for n, (name, who) in enumerate(steps, 1)
        ]
    )


def make_finding(shop: Shop, number: str, **on: Any) -> None:
    """An open finding on a piece, a place or a zone."""
    told(
        shop,
        lambda act: Finding.objects.create(aircraft=shop.aircraft, number=number, what="Lap corrosion", act=act, **on),
    )


def make_order(shop: Shop, number: str, what: str, **more: Any) -> None:
    """Something ordered from the shop's vendor."""
    told(shop, lambda act: Order.objects.create(number=number, vendor=shop.vendor, what=what, act=act, **more))


def make_hand_job(shop: Shop, name: str, what: str, craft: str = "sheet metal", **more: Any) -> HandJob:
    """A job written down by hand."""
    return HandJob.objects.create(
        aircraft=shop.aircraft,
        name=name,
        what=what,
        craft=craft,
        hours_least=1,
        hours_likely=2,
        hours_most=4,
        **more,
    )
