"""What is said of pieces before they leave; and what an act of sending refuses or asks a named person for."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from witnessmark.calc.bags.leaving import trait_names
from witnessmark.calc.bags.solids import Magnet, Solid, check_material, solid
from witnessmark.records.actions.certificates import expect, refuse_quarantined
from witnessmark.records.actions.route_reasons import refuse_shipping_broken
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.lookups.leaving import judge, price_for, readings, tariff
from witnessmark.records.models import (
    Act,
    MaterialReading,
    Packing,
    Person,
    Piece,
    PieceKind,
    PieceNature,
    Shipment,
    TermTaken,
    Vendor,
    VendorPrice,
)

Terms = Mapping[tuple[int, str], Person]


@dataclass(frozen=True)
class Packed:
    """Who packs, what the vendor is told, and who answers for which term: (piece, rule) to the person."""

    by: Person
    instruction: str = ""
    terms: tuple[tuple[int, str, Person], ...] = ()

    @property
    def taken(self) -> Terms:
        return {(piece, rule): person for piece, rule, person in self.terms}


def say_nature(*, by: Person, act_id: uuid.UUID, piece: Piece, trait: str, holds: bool) -> Result:
    """Say that a piece is, or is not, a spring, a closed tube and so on: it goes before what its words suggest."""
    if trait not in trait_names():
        raise Refused(f"'{trait}' is nothing that is asked here. Nothing was changed. Choose one of the list.")

    def do(act: Act) -> Result:
        PieceNature.objects.create(piece=piece, trait=trait, holds=holds, act=act)
        return {"piece": piece.pk, "trait": trait, "holds": holds}

    said = {"piece": piece.pk, "trait": trait, "holds": holds}
    return say("say_nature", by=by, act_id=act_id, said=said, do=do, aircraft=piece.aircraft)


def read_material(
    *,
    by: Person,
    act_id: uuid.UUID,
    piece: Piece,
    magnet: Magnet,
    shape: str = "",
    dimensions_mm: Sequence[float] = (),
    mass_one_g: float | None = None,
) -> Result:
    """Record magnet, dimensions and mass of one, held against the recorded material."""
    if magnet == "not tried" and not shape and mass_one_g is None:
        raise Refused("Nothing was tried. Nothing was changed. Hold a magnet to it, or weigh and measure one.")
    try:
        body = solid(shape, tuple(dimensions_mm)) if shape else None
        each = mass_one_g if mass_one_g is not None else _mass_of_one(piece, body)
        material = piece.material or (piece.size.alloy if piece.size else "")
        checked = check_material(material, magnet, each, body.volume_mm3 if body else None)
    except ValueError as why:
        raise Refused(
            f"{str(why)[:1].upper()}{str(why)[1:].rstrip('.')}. Nothing was changed. Measure again."
        ) from None

    def do(act: Act) -> Result:
        MaterialReading.objects.create(
            piece=piece,
            magnet=magnet,
            shape=shape,
            dimensions_mm=list(dimensions_mm),
            mass_one_g=each,
            volume_one_mm3=body.volume_mm3 if body else None,
            surface_one_mm2=body.surface_mm2 if body else None,
            agrees=checked.agrees,
            sentence=checked.sentence,
            act=act,
        )
        return {"piece": piece.pk, "agrees": checked.agrees, "say": checked.sentence}

    said = {
        "piece": piece.pk,
        "magnet": magnet,
        "shape": shape,
        "dimensions_mm": list(dimensions_mm),
        "mass_one_g": mass_one_g,
    }
    return say("read_material", by=by, act_id=act_id, said=said, do=do, aircraft=piece.aircraft)


def _mass_of_one(piece: Piece, body: Solid | None) -> float | None:
    """The recorded mass, shared out over a bag; only where dimensions were taken to hold it against."""
    if body is None or not piece.mass_g or piece.mass_g <= 0:
        return None
    return piece.mass_g / piece.count_off if piece.kind != PieceKind.PART else piece.mass_g


def say_price(
    *,
    by: Person,
    act_id: uuid.UUID,
    vendor: Vendor,
    process: str,
    currency: str,
    said_on: date,
    least_charge: Decimal = Decimal(0),
    per_kg: Decimal = Decimal(0),
    per_piece: Decimal = Decimal(0),
    per_dm2: Decimal = Decimal(0),
) -> Result:
    """Record what a vendor asks for a process."""
    rates = {"least_charge": least_charge, "per_kg": per_kg, "per_piece": per_piece, "per_dm2": per_dm2}
    if not any(rates.values()) or any(not rate.is_finite() or rate < 0 or rate >= 10**8 for rate in rates.values()):
        raise Refused("A price is one figure or more above nought. Nothing was changed. Write what he said.")
    if not (len(currency) == 3 and currency.isascii() and currency.isalpha()):
        raise Refused(f"'{currency}' is no currency of three letters, such as EUR. Nothing was changed.")

    def do(act: Act) -> Result:
        VendorPrice.objects.create(
            vendor=vendor, process=process.strip()[:120], currency=currency.upper(), said_on=said_on, act=act, **rates
        )
        return {"vendor": vendor.code, "process": process.strip()}

    said = {"vendor": vendor.pk, "process": process.strip(), "currency": currency.upper(), "said_on": said_on, **rates}
    return say("say_price", by=by, act_id=act_id, said=said, do=do)


def let_leave(act: Act, shipment: Shipment, lines: Sequence[tuple[Piece, int]], packed: Packed | None) -> None:
    """Refuse what must not go, ask for the terms, and note the papers that must come back. Part of the act of sending."""
    pieces = [piece for piece, _ in lines]
    refuse_quarantined(pieces, "cannot be sent on")
    refuse_shipping_broken(pieces, shipment.vendor)
    judged = judge(pieces, shipment.vendor, shipment.process)
    stays = [f"{bar.tag}: {bar.why}" for bar in judged.must_not]
    if stays:
        raise Refused(f"This must not go. {' '.join(stays)} Nothing was changed, nothing was sent. Take it out.")
    taken = packed.taken if packed else {}
    pks = {each.leaving.tag: each.piece.pk for each in judged.known}
    open_terms = [bar for bar in judged.terms if (pks[bar.tag], bar.rule) not in taken]
    if open_terms:
        asks = " ".join(f"{bar.tag}: {bar.why} It goes only so: {bar.term}." for bar in open_terms)
        raise Refused(
            f"{asks} Nothing was changed, nothing was sent. On the packing page a named person ticks each term."
        )
    for bar in judged.terms:
        person = taken[pks[bar.tag], bar.rule]
        if not person.may_write or not person.is_active:
            raise Refused(
                f"{person.name} cannot answer for a term. Nothing was sent. Let a person of the shop tick it."
            )
        TermTaken.objects.create(
            shipment=shipment,
            piece_id=pks[bar.tag],
            rule=bar.rule,
            why=bar.why[:300],
            term=bar.term,
            source=bar.source,
            status=bar.status,
            by=person,
            act=act,
        )
    expect(act, shipment, judged.papers)
    price = tariff(shipment.vendor, shipment.process)
    worked = price_for(price, lines, readings([piece.pk for piece in pieces])) if price else None
    Packing.objects.create(
        shipment=shipment,
        packed_by=packed.by if packed else act.person,
        instruction=packed.instruction.strip() if packed else "",
        price=Decimal(str(worked.price)) if worked and worked.price is not None else None,
        currency=price.currency if price and worked and worked.price is not None else "",
        act=act,
    )
