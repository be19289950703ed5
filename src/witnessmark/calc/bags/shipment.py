"""Count and mass of what leaves together."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.units import UnknownSize, parse_mass
from witnessmark.calc.working import Answer, working


@dataclass(frozen=True)
class ShipmentLine:
    """One bag or part of a shipment; `mass_g` is the whole line, None where it was not weighed."""

    tag: str
    what: str
    count: int
    mass_g: float | None
    material: str


@dataclass(frozen=True)
class ShipmentTotals(Answer):
    """Totals; the mass of a line that was not weighed is never guessed."""

    count: int
    mass_g: float
    not_weighed: tuple[str, ...]
    materials: tuple[str, ...]
    mixed: bool
    material_missing: tuple[str, ...]
    minimum_mass_g: float | None
    under_minimum: bool | None
    sentence: str


@dataclass(frozen=True)
class MinimumOrder:
    """A vendor's least order: a mass, a count, or words only."""

    as_typed: str
    mass_g: float | None
    count: int | None


def parse_minimum_order(text: str) -> MinimumOrder:
    """Read a vendor's least order.

    Parameters
    ----------
    text : str
        As typed: `8 kg`, `5,000 per size`, `1 furnace load`, or empty. [-]

    Returns
    -------
    MinimumOrder
        A mass in g, or a count, or neither where the words say something else.

    Examples
    --------
    >>> parse_minimum_order("8 kg").mass_g
    8000.0
    >>> parse_minimum_order("5,000 per size").count
    5000

    References
    ----------
    none: reads the user's own list.
    """
    plain = text.strip()
    if not re.fullmatch(r"[0-9.,]*", plain):
        try:
            return MinimumOrder(text, parse_mass(plain).g, None)
        except UnknownSize:
            pass
    match = re.fullmatch(r"([0-9]{1,3}(?:,[0-9]{3})+|[0-9]{1,9})(?: (?:pieces|pcs|per size|each).*)?", plain)
    return MinimumOrder(text, None, int(match[1].replace(",", "")) if match else None)


def shipment_totals(lines: Sequence[ShipmentLine], minimum_mass_g: float | None = None) -> ShipmentTotals:
    """Add up the count and the mass of a shipment.

    Parameters
    ----------
    lines : sequence of ShipmentLine
        What leaves together. [-]
    minimum_mass_g : float or None
        The vendor's least order. [g]

    Returns
    -------
    ShipmentTotals
        Count, mass of the weighed lines, lines not weighed, materials, and whether the least order is met
        (None while a line is not weighed and the rest lies under it).

    Raises
    ------
    ValueError
        A count below 1, a mass that is not above zero, one tag twice, or a negative least order.

    Examples
    --------
    >>> bags = [ShipmentLine("L-014", "bolts", 46, 1412.0, "steel"), ShipmentLine("L-017", "bolts", 24, 398.0, "steel")]
    >>> shipment_totals(bags, 8000.0).sentence
    '70 pieces, 1.81 kg: 6.19 kg under the least order of 8 kg.'

    References
    ----------
    none: sums.
    """
    if minimum_mass_g is not None and (not math.isfinite(minimum_mass_g) or minimum_mass_g < 0):
        raise ValueError("a least order is not negative")
    tags = [line.tag for line in lines]
    for line in lines:
        if line.count < 1:
            raise ValueError(f"{line.tag} has a count of {line.count}")
        if line.mass_g is not None and (not math.isfinite(line.mass_g) or line.mass_g <= 0):
            raise ValueError(f"the mass of {line.tag} must be above zero, not {line.mass_g}")
        if tags.count(line.tag) > 1:
            raise ValueError(f"{line.tag} is in the shipment twice")
    count = sum(line.count for line in lines)
    mass_g = round(math.fsum(line.mass_g for line in lines if line.mass_g is not None), 6)
    not_weighed = tuple(line.tag for line in lines if line.mass_g is None)
    materials = tuple(sorted({line.material.strip().lower() for line in lines if line.material.strip()}))
    missing = tuple(line.tag for line in lines if not line.material.strip())
    under: bool | None = None
    if minimum_mass_g is not None and (mass_g >= minimum_mass_g or not not_weighed):
        under = mass_g < minimum_mass_g
    cautions = []
    if not_weighed:
        cautions.append(f"Not weighed: {', '.join(not_weighed)}. The total leaves them out.")
    if len(materials) > 1:
        cautions.append(f"Mixed materials: {', '.join(materials)}. Check with a magnet before they leave together.")
    if missing:
        cautions.append(f"Material not written down: {', '.join(missing)}.")
    return ShipmentTotals(
        working=working(
            "count = sum of counts; mass = sum of the weighed lines",
            [
                (
                    f"{line.tag}, {line.count} pieces",
                    "not weighed" if line.mass_g is None else line.mass_g,
                    "g",
                    "weighed",
                )
                for line in lines
            ]
            + [("mass", mass_g, "g", "sum")],
            cautions=tuple(cautions),
        ),
        count=count,
        mass_g=mass_g,
        not_weighed=not_weighed,
        materials=materials,
        mixed=len(materials) > 1,
        material_missing=missing,
        minimum_mass_g=minimum_mass_g,
        under_minimum=under,
        sentence=_sentence(count, mass_g, not_weighed, minimum_mass_g, under),
    )


def _kg(grams: float) -> str:
    return f"{round(grams / 1000, 3):g} kg"


def _sentence(
    count: int, mass_g: float, not_weighed: tuple[str, ...], minimum_g: float | None, under: bool | None
) -> str:
    known = f"{count} pieces, {_kg(mass_g)}"
    if not_weighed:
        known += f" without {', '.join(not_weighed)}"
    if minimum_g is None:
        return f"{known}."
    if under is None:
        return f"{known}: weigh the rest to compare with the least order of {_kg(minimum_g)}."
    if under:
        return f"{known}: {_kg(minimum_g - mass_g)} under the least order of {_kg(minimum_g)}."
    return f"{known}: not under the least order of {_kg(minimum_g)}."
