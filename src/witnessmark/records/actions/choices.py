"""What somebody reckons of a choice for a piece, what an hour of the shop costs, and the day of the hand-over."""

import re
import uuid
from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from witnessmark.calc.stock import UnknownSheet, casting_factor, stock
from witnessmark.calc.units import UnknownSize, parse_length
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.models import Act, Aircraft, ChoiceFigure, DecisionKind, Person, Piece, Role, ShopHourSaid

# What can be reckoned: its words, and how it is read.
RECKONED = {
    "hours": ("Hours", "number"),
    "money": ("Money paid out (material, vendors), with its currency", "money"),
    "mass_g": ("What it adds to the mass, g", "number"),
    "strength": ("Strength by the original, such as 0.9", "number"),
    "stiffness": ("Bending stiffness by the original, such as 0.9", "number"),
}
SUBSTITUTE = {
    "material": ("What it would be made of: alloy and temper, casting, wood", "stock"),
    "thickness_mm": ("Its thickness; empty: the inch sheet that is strong and stiff enough", "length"),
    "inspection": ("How each new casting is looked at: visual, penetrant or radiographic", "inspection"),
    "old_material": ("What the original is made of, where the record does not say it", "stock"),
    "old_thickness_mm": ("Thickness of the original, where nobody measured it", "length"),
    "touches": ("What else it touches, separated by ;", "words"),
}


def asked_of(kind: str) -> dict[str, tuple[str, str]]:
    """What can be typed for a choice."""
    return {
        "reuse": {k: RECKONED[k] for k in ("hours", "money")},
        "repair": RECKONED,
        "remake": {k: RECKONED[k] for k in ("hours", "money", "mass_g")},
        "substitute": {**{k: RECKONED[k] for k in ("hours", "money")}, **SUBSTITUTE},
        "scrap": {},
    }.get(kind, {})


def read_reckoned(what: str, reads: str, words: str, text: str) -> float | None:
    """Read what was typed; words have no value."""
    if reads == "words":
        return None
    if reads in ("stock", "inspection"):
        try:
            stock(text) if reads == "stock" else casting_factor(text)
        except UnknownSheet as why:
            raise Refused(f"{why} Nothing was changed.") from None
        except ValueError as why:
            raise Refused(f"{str(why)[:1].upper()}{str(why)[1:].rstrip('.')}. Nothing was changed.") from None
        return None
    if reads == "length":
        try:
            return parse_length(text).mm
        except UnknownSize as why:
            raise Refused(f"{words}: {why} Nothing was changed.") from None
    pattern = r"(\d[\d ]*(?:[.,]\d+)?)\s*([A-Za-z]{1,3})" if reads == "money" else r"(\d+(?:[.,]\d+)?)\s*(?:h|g)?"
    found = re.fullmatch(pattern, text)
    if found is None:
        like = "2300 EUR" if reads == "money" else "14"
        raise Refused(f"{words}: '{text[:30]}' cannot be read. Nothing was changed. Type it like {like}.")
    value = float(found[1].replace(" ", "").replace(",", "."))
    if what in ("strength", "stiffness") and value > 20:
        raise Refused(f"{words}: '{text[:30]}' times the original is no repair. Nothing was changed. 1 is equal.")
    return value


def reckon_choice(*, by: Person, act_id: uuid.UUID, piece: Piece, kind: str, typed: Mapping[str, str]) -> Result:
    """Write down what a choice is reckoned to take; the newest counts, the older ones stay to be read."""
    asked = asked_of(kind)
    if kind not in DecisionKind.values:
        raise Refused(
            f"'{kind[:20]}' is no choice. Nothing was changed. It is one of {', '.join(DecisionKind.values)}."
        )
    given = {what: " ".join(text.split())[:200] for what, text in typed.items() if text.strip()}
    strange = next((what for what in given if what not in asked), None)
    if strange is not None:
        raise Refused(f"'{strange[:30]}' is not reckoned for {kind}. Nothing was changed.")
    if not given:
        raise Refused("Nothing was typed. Nothing was changed. Type what is reckoned.")
    values = {what: read_reckoned(what, asked[what][1], asked[what][0], text) for what, text in given.items()}

    def do(act: Act) -> Result:
        ChoiceFigure.objects.bulk_create(
            ChoiceFigure(piece=piece, kind=kind, what=what, value=values[what], typed=text, act=act)
            for what, text in given.items()
        )
        return {"choice": kind, "figures": values}

    said = {"piece": piece.pk, "kind": kind, "typed": given}
    return say("reckon_choice", by=by, act_id=act_id, said=said, do=do, aircraft=piece.aircraft)


def read_shop_hour(text: str) -> tuple[Decimal, str]:
    """Read what an hour of the shop costs, with its currency."""
    found = re.fullmatch(r"(\d{1,6}(?:[.,]\d{1,2})?)\s*([A-Za-z]{3})", " ".join(text.split()))
    amount = Decimal(found[1].replace(",", ".")) if found else Decimal(0)
    if found is None or amount <= 0:
        raise Refused(
            f"What an hour costs: '{text[:30]}' cannot be read. Nothing was changed. Type it above nought with three "
            "letters, like 62 EUR."
        )
    return amount, found[2].upper()


def say_shop_hour(*, by: Person, act_id: uuid.UUID, aircraft: Aircraft | None, typed: str, since: date) -> Result:
    """Say what an hour of the shop costs from a day on; what it cost before stays to be read."""
    amount, currency = read_shop_hour(typed)

    def do(act: Act) -> Result:
        row = ShopHourSaid.objects.create(amount=amount, currency=currency, since=since, act=act)
        return {"amount": str(row.amount), "currency": currency, "since": since.isoformat()}

    said = {"amount": str(amount), "currency": currency, "since": since}
    return say("say_shop_hour", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, roles=(Role.LEAD,))


def hand_over(*, by: Person, act_id: uuid.UUID, aircraft: Aircraft, day: date) -> Result:
    """Say that the aircraft is handed over: from then on the originals kept as patterns may go."""

    def do(act: Act) -> Result:
        fresh = Aircraft.objects.select_for_update().get(pk=aircraft.pk)
        if fresh.arrived_on is not None and day < fresh.arrived_on:
            raise Refused(f"{day} is before it arrived, {fresh.arrived_on}. Nothing was changed. Correct the day.")
        if fresh.handed_over_on is not None:
            raise Refused(f"It was handed over on {fresh.handed_over_on}. Nothing was changed.")
        fresh.handed_over_on = day
        fresh.save(update_fields=["handed_over_on"])
        return {"handed_over_on": day.isoformat()}

    said = {"aircraft": aircraft.pk, "day": day}
    return say("hand_over", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, roles=(Role.LEAD,))
