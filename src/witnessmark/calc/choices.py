"""The five choices for a part side by side: what each does to mass, balance, strength, couples, heat and originality.

What nobody knows is said to be unknown; it is never nought.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from witnessmark.calc.balance import Item, balance
from witnessmark.calc.substitution import WOOD_BESIDE_METAL, Substitution, UnknownSheet, stock, substitute
from witnessmark.calc.surface.galvanic import couple, metal_touched
from witnessmark.calc.surface.heat_caps import HeatCap, fahrenheit
from witnessmark.calc.surface.oven_caps import OvenCap, oven_cap
from witnessmark.calc.tables import OutsideTable
from witnessmark.calc.working import Answer, working

CHOICES = ("reuse", "repair", "remake", "substitute", "scrap")
ASPECTS = {
    "hours": "Hours",
    "days": "Days, by the plan",
    "money": "Money paid out",
    "cost": "Money, with the shop's hours",
    "mass": "Mass",
    "balance": "Centre of gravity",
    "strength": "Strength, by the original",
    "stiffness": "Bending stiffness, by the original",
    "couples": "What it touches",
    "bends": "Bends",
    "heat": "Temper, and the heat it may see",
    "originality": "Originality",
    "gone": "What cannot be undone",
}


@dataclass(frozen=True)
class Said:
    """One cell of the sheet. Without a value and not `known` it is unknown, and says what would make it known."""

    words: str
    known: bool = True
    value: float | None = None
    come_from: str = ""


@dataclass(frozen=True)
class ShopHour:
    """What an hour of the shop costs, and since when."""

    amount: float
    currency: str
    since: str


@dataclass(frozen=True)
class Facts:
    """What is known of the part; None and empty are unknown."""

    material: str = ""
    finish: str = ""
    thickness_mm: float | None = None
    mass_g: float | None = None
    arm_mm: float | None = None
    weighed_kg: float | None = None
    weighed_cg_mm: float | None = None
    left_share: float | None = None
    pit_mm: float | None = None
    touches: tuple[str, ...] = ()
    new_material: str = ""
    new_thickness_mm: float | None = None
    new_inspection: str = ""  # how a new casting is looked at
    reckoned: Mapping[str, Mapping[str, Said]] = field(default_factory=dict)  # choice -> aspect -> typed or planned
    mass_change_g: Mapping[str, float] = field(default_factory=dict)  # choice -> typed change
    paid_in: Mapping[str, str] = field(default_factory=dict)  # choice -> currency of what is paid out
    shop_hour: ShopHour | None = None
    oven: OvenCap | None = None  # the original's cap with the coats that are on it


@dataclass(frozen=True)
class Choices(Answer):
    """The whole sheet: choice, then aspect; and the substitution where one was reckoned."""

    cells: Mapping[str, Mapping[str, Said]]
    substitution: Substitution | None
    substitution_words: str

    def rows(self) -> list[tuple[str, list[tuple[str, Said]]]]:
        """Return the sheet by aspect, the five choices side by side.

        Returns
        -------
        list
            Heading, then choice and cell in the order of the five.

        Examples
        --------
        >>> [heading for heading, _ in weigh(Facts()).rows()][:2]
        ['Hours', 'Days, by the plan']

        References
        ----------
        none: words only.
        """
        return [(words, [(c, self.cells[c][key]) for c in CHOICES]) for key, words in ASPECTS.items()]


def _unknown(why: str) -> Said:
    return Said(f"unknown: {why}", known=False)


def _mass(kind: str, facts: Facts, new: Substitution | None, why_not: str) -> Said:
    if kind in facts.mass_change_g:
        change = facts.mass_change_g[kind]
        return Said(f"{change:+,.0f} g", value=change, come_from="as reckoned")
    if kind == "reuse":
        return Said("as it is", value=0.0, come_from="nothing is added or taken off")
    if kind == "repair":
        return _unknown("write what the repair adds")
    if kind == "remake":
        return Said("as the original, in its material and thickness", value=0.0, come_from="like for like")
    if kind == "scrap":
        if facts.mass_g is None:
            return _unknown("it was not weighed")
        return Said(f"{-facts.mass_g:+,.0f} g, its place empty", value=-facts.mass_g, come_from="weighed")
    if new is None:
        return _unknown(why_not)
    if facts.mass_g is None:
        return Said(f"unknown: it was not weighed; {new.mass_ratio:.2f} of whatever it weighs", known=False)
    change = facts.mass_g * (new.mass_ratio - 1)
    return Said(f"{change:+,.0f} g, {new.mass_ratio:.2f} of the original", value=change, come_from="rho t, new by old")


def _moved(facts: Facts, change_g: float | None) -> Said:
    if change_g is None:
        return _unknown("first say the mass")
    if change_g == 0:
        return Said("does not move", value=0.0)
    if facts.arm_mm is None:
        return _unknown("its station is not written as an arm")
    moment = change_g / 1000 * facts.arm_mm
    if not facts.weighed_kg or facts.weighed_cg_mm is None or facts.mass_g is None:
        return Said(
            f"{moment:+,.1f} kg mm of moment; how far that moves it is unknown until more is weighed", known=False
        )
    kg = facts.mass_g / 1000
    rest_kg = facts.weighed_kg - kg
    if rest_kg <= 0:
        return Said(f"{moment:+,.1f} kg mm of moment; nothing else is weighed", known=False)
    rest = Item(
        "the rest that is weighed", rest_kg, (facts.weighed_kg * facts.weighed_cg_mm - kg * facts.arm_mm) / rest_kg
    )
    before = balance([rest, Item("old", kg, facts.arm_mm)]).known_cg_mm
    after = balance([rest, Item("new", max(0.0, kg + change_g / 1000), facts.arm_mm)]).known_cg_mm
    if before is None or after is None:
        return _unknown("nothing is weighed")
    shift = after - before
    way = "aft" if shift > 0 else "forward"
    return Said(
        f"{abs(shift):.2f} mm {way}, of the {facts.weighed_kg:,.0f} kg weighed so far",
        value=shift,
        come_from=f"moments about the datum, its arm {facts.arm_mm:,.0f} mm",
    )


def _strength(kind: str, facts: Facts, new: Substitution | None, why_not: str, power: int) -> Said:
    if kind == "scrap":
        return Said("none: its place stays empty", value=0.0)
    if kind == "remake":
        return Said("as the original, in its material and temper", value=1.0, come_from="like for like")
    if kind == "substitute":
        if new is None:
            return _unknown(why_not)
        if power == 1:
            words = f"{new.strength_ratio:.2f} in tension, {new.bending_strength_ratio:.2f} in bending"
            return Said(
                words, value=min(new.strength_ratio, new.bending_strength_ratio), come_from="F t, F t2, new by old"
            )
        return Said(
            f"{new.bending_stiffness_ratio:.2f}", value=new.bending_stiffness_ratio, come_from="E t3, new by old"
        )
    if kind == "repair":
        return _unknown("it is what the repair's drawing makes it")
    if facts.left_share is None:
        return _unknown("the metal left was not measured")
    left = facts.left_share**power
    how = "t" if power == 1 else "t3"
    return Said(f"{left:.2f} at the worst place, as flat sheet", value=left, come_from=f"metal left, {how}")


def _cost(kind: str, facts: Facts, hours: Said, paid: Said) -> Said:
    """Hours priced, and what is paid out beside them; one that is unknown leaves the whole unknown, and says the rest."""
    if kind == "scrap":
        return Said("none on this piece", value=0.0)
    hour = facts.shop_hour
    if hours.value is None:
        return _unknown("first say the hours")
    if hour is None:
        return _unknown("nobody has said what an hour of the shop costs")
    own = hours.value * hour.amount
    how = f"{_hours(hours.value, hour.amount)} h at {hour.amount:,.2f} {hour.currency}, from {hour.since} on"
    if paid.value is None:
        return _unknown(f"what is paid out is not; the shop's hours alone are {own:,.2f} {hour.currency} ({how})")
    currency = facts.paid_in.get(kind, "")
    if paid.value and currency and currency != hour.currency:
        return _unknown(
            f"{own:,.2f} {hour.currency} of hours and {paid.value:,.2f} {currency} paid out: two currencies"
        )
    return Said(
        f"{own + paid.value:,.2f} {hour.currency}", value=own + paid.value, come_from=f"{how}, and what is paid out"
    )


def _hours(hours: float, price: float) -> str:
    """Hours with as many digits as it takes that they, times the price, are the sum that is printed."""
    places = next((n for n in range(1, 6) if f"{round(hours, n) * price:.2f}" == f"{hours * price:.2f}"), 6)
    return f"{hours:,.{places}f}"


def _couples(surface: str, touches: tuple[str, ...]) -> Said:
    if not touches:
        return _unknown("nothing says what it touches")
    if not surface:
        return _unknown("its material is not named")
    if _wood(surface):
        return Said(WOOD_BESIDE_METAL, come_from="from memory")
    alike: dict[str, list[str]] = {}
    open_ends = []
    for other in dict.fromkeys(touches):
        try:
            alike.setdefault(couple(surface, other).sentence, []).append(other)
        except OutsideTable:
            open_ends.append(other)
    said = [f"{', '.join(others)}: {sentence}" for sentence, others in alike.items()]
    if open_ends:
        said.append(
            f"unknown beside {', '.join(open_ends)}: the order of metals, as far as it was read, does not hold both."
        )
    return Said(" ".join(said), known=not open_ends, come_from="MIL-STD-889B Table II, an order and not volts")


def _wood(material: str) -> bool:
    try:
        return stock(material).form in ("wood", "plywood")
    except ValueError:
        return "wood" in material.casefold()


def _faying(kind: str, surface: str, touches: tuple[str, ...]) -> Said:
    if kind == "scrap":
        return Said("none: its place stays empty")
    found = _couples(surface, touches)
    if kind in ("repair", "remake") and found.known:
        return Said("as reuse, while material and finish stay the same")
    return found


def _heat(material: str, oven: OvenCap | None) -> Said:
    """The cap of the metal, and of the coats on it where the record says them; one that is not known leaves it unknown."""
    if _wood(material):
        return _unknown("no cap is held for wood and its glue, so the engineer names it")
    if oven is None and material:
        oven = oven_cap(material, ())
    if oven is None or oven.lowest is None:
        known = oven.known if oven is not None else None
        least = f"; {_cap_words(known)} is known" if known else ""
        what = " and ".join(oven.unknown) if oven is not None else "its alloy and temper"
        return _unknown(f"no cap is held for {what}, so the engineer names it{least}")
    return Said(
        _cap_words(oven.lowest), value=oven.lowest.max_c, come_from=f"{oven.lowest.source} ({oven.lowest.status})"
    )


def _cap_words(cap: HeatCap) -> str:
    sense = "below" if cap.below else "at most"
    return f"{sense} {cap.max_c:.0f} C ({fahrenheit(cap.max_c):.0f} F), {cap.material_temper}"


def _originality(kind: str) -> Said:
    return Said(
        {
            "reuse": "the original stays",
            "repair": "the original stays, with what the repair adds or takes",
            "remake": "a copy flies; the original is kept as its pattern",
            "substitute": "a copy in another material or size flies; the original is kept as its pattern",
            "scrap": "the original is lost to the aircraft; it is kept as pattern until the hand-over",
        }[kind]
    )


def _gone(kind: str, facts: Facts) -> Said:
    if kind == "reuse":
        return Said("nothing")
    if kind == "repair":
        cut = (
            f"{facts.pit_mm:.2f} mm blended out at the worst pit"
            if facts.pit_mm
            else "wood that is cut, drilled or scarfed"
            if _wood(facts.material)
            else "metal that is cut, drilled or blended"
        )
        return Said(f"{cut} does not come back")
    if kind == "scrap":
        return Said("the original itself, once the aircraft is handed over; not before")
    return Said("nothing of the original, while it is kept as pattern")


def _substitution(facts: Facts) -> tuple[Substitution | None, str]:
    if not facts.new_material:
        return None, "Nothing is named to make it of."
    if facts.thickness_mm is None:
        return None, "The original's thickness is not known: measure it beside the damage."
    held = [other for other in facts.touches if _held(other)]
    try:
        return substitute(
            stock(facts.material),
            facts.thickness_mm,
            stock(facts.new_material),
            facts.new_thickness_mm,
            held,
            facts.new_inspection,
        ), ""
    except (UnknownSheet, OutsideTable, ValueError) as why:
        return None, str(why)


def _held(other: str) -> bool:
    try:
        metal_touched(other)
    except OutsideTable:
        return False
    return True


def weigh(facts: Facts) -> Choices:
    """Lay the five choices side by side.

    Parameters
    ----------
    facts : Facts
        What is known of the part, and what people reckoned of each choice. [-]

    Returns
    -------
    Choices
        A cell for each choice and aspect; what is unknown says so and what would make it known.

    Raises
    ------
    ValueError
        A share of metal left that is not between nought and one.

    Notes
    -----
    Metal left counts as flat sheet: tension goes with t, bending stiffness with t^3. Joints, buckling and fatigue are not
    weighed. The centre of gravity is that of what is weighed so far, not the aircraft's.

    Examples
    --------
    >>> cells = weigh(Facts(material="2024-T3 sheet", mass_g=1000, left_share=0.8)).cells
    >>> cells["reuse"]["stiffness"].words, cells["repair"]["money"].known
    ('0.51 at the worst place, as flat sheet', False)

    References
    ----------
    bending-theory
    moments-about-datum
    mil-std-889b
    heat-caps
    """
    if facts.left_share is not None and not (math.isfinite(facts.left_share) and 0 <= facts.left_share <= 1):
        raise ValueError("the share of metal left lies between nought and one")
    new, why_not = _substitution(facts)
    surface = f"{facts.finish} {facts.material}".strip() if "plat" in facts.finish.lower() else facts.material
    lacks = "it cannot be reckoned, see below" if facts.new_material else "name what it would be made of"
    cells: dict[str, dict[str, Said]] = {}
    for kind in CHOICES:
        typed = facts.reckoned.get(kind, {})
        other = kind == "substitute"
        mass = _mass(kind, facts, new, lacks)
        alone, nothing = Said("none: its place stays empty"), Said("none on this piece", value=0.0)
        made_of = (facts.new_material or "") if other else facts.material
        own = {
            "hours": nothing if kind == "scrap" else _unknown("nobody reckoned it"),
            "days": nothing if kind == "scrap" else _unknown("first say the hours"),
            "money": nothing if kind == "scrap" else _unknown("nobody reckoned it"),
            "cost": Said(""),
            "mass": mass,
            "balance": _moved(facts, mass.value),
            "strength": _strength(kind, facts, new, lacks, 1),
            "stiffness": _strength(kind, facts, new, lacks, 3),
            "couples": _faying(kind, made_of if other else surface, facts.touches),
            "bends": _bends(kind, new, lacks),
            "heat": alone if kind == "scrap" else _heat(made_of, None if other else facts.oven),
            "originality": _originality(kind),
            "gone": _gone(kind, facts),
        }
        cells[kind] = {key: typed.get(key, own[key]) for key in ASPECTS}
        cells[kind]["cost"] = _cost(kind, facts, cells[kind]["hours"], cells[kind]["money"])
    cautions = [
        "Unknown is not nought: what nobody knows weighs as much as you fear.",
        "Joints, buckling and fatigue are not weighed. Major repair and substitution: licensed inspector, authority.",
    ]
    # What is from memory is said again of its sources, below.
    told = [c for c in (new.cautions if new else ()) if not c.startswith("From memory")]
    cautions += [c for c in told if c not in cautions]
    return Choices(
        working=working(
            "money: hours x the shop's hour + paid out; mass: rho t; centre of gravity: moments before and after; strength F t, F t2; bending stiffness E t3",
            [
                ("material", facts.material or "not written", "-", "record"),
                (
                    "thickness",
                    facts.thickness_mm if facts.thickness_mm is not None else "not known",
                    "mm",
                    "measured, or as written",
                ),
                ("mass", facts.mass_g if facts.mass_g is not None else "not weighed", "g", "record"),
                ("arm", facts.arm_mm if facts.arm_mm is not None else "not known", "mm", "station"),
                (
                    "metal left, worst",
                    facts.left_share if facts.left_share is not None else "not measured",
                    "-",
                    "findings",
                ),
                ("touches", ", ".join(facts.touches) or "not written", "-", "rows and typed"),
                (
                    "an hour of the shop",
                    f"{facts.shop_hour.amount:,.2f} {facts.shop_hour.currency}" if facts.shop_hour else "not said",
                    "-",
                    f"from {facts.shop_hour.since} on" if facts.shop_hour else "record",
                ),
            ],
            ("bending-theory", "moments-about-datum", "mil-std-889b", "heat-caps", *(new.sources if new else ())),
            tuple(cautions),
            "One part; flat sheet, elastic.",
        ),
        cells=cells,
        substitution=new,
        substitution_words=why_not,
    )


def _bends(kind: str, new: Substitution | None, why_not: str) -> Said:
    if kind != "substitute":
        return Said(
            "as they are" if kind in ("reuse", "repair") else "as the original's" if kind == "remake" else "none"
        )
    if new is None:
        return _unknown(why_not)
    return Said(
        new.bend_words,
        known=new.bend is not None or new.casting is not None,
        come_from="as printed for its thickness" if new.bend else "",
    )
