"""Count and mass of what leaves together."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.bags.solids import told_apart
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
    """A vendor's least order: a mass, a count, or words only; `per_size` where it holds for each size by itself."""

    as_typed: str
    mass_g: float | None
    count: int | None
    per_size: bool = False

    @property
    def whole_g(self) -> float | None:
        """The mass that a shipment as a whole must reach."""
        return None if self.per_size else self.mass_g


_PER_SIZE = re.compile(r"\s+(?:per|a|each) size\b.*$")


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
    >>> parse_minimum_order("2 kg per size")
    MinimumOrder(as_typed='2 kg per size', mass_g=2000.0, count=None, per_size=True)

    References
    ----------
    none: reads the user's own list.
    """
    plain = text.strip()
    per_size = bool(_PER_SIZE.search(plain))
    plain = _PER_SIZE.sub("", plain).strip()
    if not re.fullmatch(r"[0-9.,]*", plain):
        try:
            return MinimumOrder(text, parse_mass(plain).g, None, per_size)
        except UnknownSize:
            pass
    match = re.fullmatch(r"([0-9]{1,3}(?:,[0-9]{3})+|[0-9]{1,9})(?: (?:pieces|pcs|each).*)?", plain)
    return MinimumOrder(text, None, int(match[1].replace(",", "")) if match else None, per_size)


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
    # One material however it was written, in the words of the line that names it last: units keep their letters.
    spelled = {line.material.strip().lower(): _small(line.material.strip()) for line in lines if line.material.strip()}
    materials = tuple(spelled[plain] for plain in sorted(spelled))
    missing = tuple(line.tag for line in lines if not line.material.strip())
    under: bool | None = None
    if minimum_mass_g is not None and (mass_g >= minimum_mass_g or not not_weighed):
        under = mass_g < minimum_mass_g
    cautions = []
    if not_weighed:
        cautions.append(f"Not weighed: {', '.join(not_weighed)}. The total leaves them out.")
    if len(materials) > 1:
        cautions.append(f"Mixed materials: {', '.join(materials)}. {told_apart(materials)}")
    if missing:
        cautions.append(f"Material not written down: {', '.join(missing)}.")
    return ShipmentTotals(
        working=working(
            "count = sum of counts; mass = sum of the weighed lines",
            [
                (
                    f"{line.tag}, {_pieces(line.count)}",
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


def _pieces(count: int) -> str:
    return "1 piece" if count == 1 else f"{count} pieces"


def _kg(grams: float) -> str:
    return f"{round(grams / 1000, 3):g} kg"


def _small(text: str) -> str:
    return text[0].lower() + text[1:] if not text[:2].isupper() else text


def _sentence(
    count: int, mass_g: float, not_weighed: tuple[str, ...], minimum_g: float | None, under: bool | None
) -> str:
    known = f"{_pieces(count)}, {_kg(mass_g)}"
    if not_weighed and not mass_g:
        known = f"{_pieces(count)}, not weighed ({', '.join(not_weighed)})"
    elif not_weighed:
        known += f" without {', '.join(not_weighed)}"
    if minimum_g is None:
        return f"{known}."
    if under is None:
        return f"{known}: weigh the rest to compare with the least order of {_kg(minimum_g)}."
    if under:
        return f"{known}: {_kg(minimum_g - mass_g)} under the least order of {_kg(minimum_g)}."
    return f"{known}: not under the least order of {_kg(minimum_g)}."


@dataclass(frozen=True)
class Tariff:
    """What a vendor asks: so much a kilogram, a piece and a square decimetre, and at least so much."""

    least: float
    per_kg: float
    per_piece: float
    per_dm2: float
    currency: str


@dataclass(frozen=True)
class Price(Answer):
    """What a shipment is to cost; `price` is None while a figure that it needs is missing."""

    price: float | None
    by_least: bool
    sentence: str


@dataclass(frozen=True)
class CountAgainstMass(Answer):
    """Whether a count and a mass of the same bag agree."""

    by_mass: float
    agrees: bool
    sentence: str


def price_of(tariff: Tariff, count: int, mass_g: float | None, surface_mm2: float | None) -> Price:
    """Work out a shipment's price from the vendor's tariff.

    Parameters
    ----------
    tariff : Tariff
        As he said it. [-]
    count : int
        Pieces. [-]
    mass_g : float or None
        Mass of all; None while a line is not weighed. [g]
    surface_mm2 : float or None
        Surface of all; None while a line is not measured. [mm2]

    Returns
    -------
    Price
        The sum, or the least charge where the sum lies under it.

    Raises
    ------
    ValueError
        A count below 1 or a figure below nought.

    Examples
    --------
    >>> price_of(Tariff(60.0, 12.0, 0.0, 0.0, "EUR"), 70, 1810.0, None).sentence
    '60.00 EUR: the least charge; by the tariff it would be 21.72.'

    References
    ----------
    none: the vendor's own figures.
    """
    figures = (tariff.least, tariff.per_kg, tariff.per_piece, tariff.per_dm2, mass_g or 0.0, surface_mm2 or 0.0)
    if count < 1 or any(not math.isfinite(x) or x < 0 for x in figures):
        raise ValueError("a price needs a count from 1 and figures that are not below nought")
    missing = [
        name
        for name, rate, known in (("mass", tariff.per_kg, mass_g), ("surface", tariff.per_dm2, surface_mm2))
        if rate and known is None
    ]
    rows: list[tuple[str, float | int | str, str, str]] = [
        ("pieces", count, "-", f"x {tariff.per_piece:g}"),
        ("mass", "not weighed" if mass_g is None else round(mass_g / 1000, 3), "kg", f"x {tariff.per_kg:g}"),
        (
            "surface",
            "not measured" if surface_mm2 is None else round(surface_mm2 / 1e4, 2),
            "dm2",
            f"x {tariff.per_dm2:g}",
        ),
        ("least charge", tariff.least, tariff.currency, "vendor"),
    ]
    if missing:
        sentence = f"The price hangs on the {' and the '.join(missing)}: weigh and measure the rest."
        return Price(working=working("sum of the rates", rows), price=None, by_least=False, sentence=sentence)
    total = round(
        tariff.per_piece * count + tariff.per_kg * (mass_g or 0.0) / 1000 + tariff.per_dm2 * (surface_mm2 or 0.0) / 1e4,
        2,
    )
    by_least = total < tariff.least
    price = max(total, tariff.least)
    sentence = f"{price:.2f} {tariff.currency}" + (
        f": the least charge; by the tariff it would be {total:.2f}." if by_least else "."
    )
    return Price(
        working=working("pieces x rate + kg x rate + dm2 x rate, at least the least charge", rows),
        price=price,
        by_least=by_least,
        sentence=sentence,
    )


# What a coat may add to the mass: common practice, unverified.
_COAT_SHARE = 0.02


def hidden_from_scales(count: int) -> bool:
    """Return whether a single missing piece of so many does not show in the mass.

    Parameters
    ----------
    count : int
        Pieces counted. [-]

    Returns
    -------
    bool
        True where what a coat may add is more than half a piece: above 25 pieces at 2 %.

    Notes
    -----
    The 2 % is common practice, unverified.

    Examples
    --------
    >>> hidden_from_scales(25), hidden_from_scales(26)
    (False, True)

    References
    ----------
    shipment-practice
    """
    return count * _COAT_SHARE > 0.5


def count_against_mass(count_out: int, mass_out_g: float, count: int, mass_g: float) -> CountAgainstMass:
    """Hold a count against a mass, by what each weighed when it left.

    Parameters
    ----------
    count_out : int
        Pieces that left. [-]
    mass_out_g : float
        Their mass then. [g]
    count : int
        Pieces counted now. [-]
    mass_g : float
        Their mass now. [g]

    Returns
    -------
    CountAgainstMass
        How many the mass speaks of; they agree within half a piece, or within 2 % for what a coat adds.

    Raises
    ------
    ValueError
        A count below 1 or a mass that is not above zero.

    Notes
    -----
    The 2 % is common practice, unverified: a coat of 8 um adds about 0.5 % to an M8 bolt. Where 2 % is more than half a
    piece (above 25 pieces) a single missing one does not show in the mass: the sentence says so.

    Examples
    --------
    >>> count_against_mass(46, 1412.0, 46, 1381.3).agrees
    False
    >>> count_against_mass(10, 300.0, 10, 301.5).agrees
    True

    References
    ----------
    shipment-practice
    """
    if count_out < 1 or count < 1 or not (math.isfinite(mass_out_g) and mass_out_g > 0):
        raise ValueError("counts start at 1 and a mass is above zero")
    if not (math.isfinite(mass_g) and mass_g > 0):
        raise ValueError("a mass is above zero")
    each = mass_out_g / count_out
    by_mass = mass_g / each
    grown = by_mass - count
    agrees = -0.5 < grown < max(0.5, _COAT_SHARE * count)
    many = f"{count} counted, and the mass speaks of {by_mass:.1f}"
    sentence = f"{many}: they agree." if agrees else f"{many}: count and weigh once more."
    blind = agrees and hidden_from_scales(count)
    if blind:
        sentence = f"{sentence[:-1]}, but with so many the scales do not show a single missing one: the count decides."
    return CountAgainstMass(
        working=working(
            "pieces by mass = mass now / (mass out / count out)",
            [
                ("each when it left", round(each, 3), "g", f"{mass_out_g:g} g / {count_out}"),
                ("by mass", round(by_mass, 2), "pieces", f"{mass_g:g} g / {each:.3f} g"),
            ],
            ("shipment-practice",),
            ("With so many a coat can hide a missing one from the scales.",) if blind else (),
        ),
        by_mass=by_mass,
        agrees=agrees,
        sentence=sentence,
    )
