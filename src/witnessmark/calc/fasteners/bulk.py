"""Rivets by mass beside the count, and one run for all sizes of a family that have to be made."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.fasteners.catalogue import Shape, cone_height
from witnessmark.calc.fasteners.order import OrderLine
from witnessmark.calc.metals import metal
from witnessmark.calc.working import Answer, working

POUND_G = 453.59237


@dataclass(frozen=True)
class RivetMass(Answer):
    """One rivet before it is driven."""

    mass_g: float


@dataclass(frozen=True)
class CombinedRun(Answer):
    """All sizes of a family made as one run, against a least run for each."""

    family: str
    codes: tuple[str, ...]
    wanted: int
    together: int
    apart: int

    @property
    def saved(self) -> int:
        """Rivets that need not be bought."""
        return self.apart - self.together


def rivet_mass(shape: Shape, length_mm: float, alloy: str) -> RivetMass:
    """Return the mass of one rivet from its size and the density of its alloy.

    Parameters
    ----------
    shape : Shape
        The size with its head. [-]
    length_mm : float
        Stock length: over all for a flush head, under the head for any other. [mm]
    alloy : str
        As written in the catalogue. [-]

    Returns
    -------
    RivetMass
        Mass. [g]

    Raises
    ------
    ValueError
        A thread, a head that is not known, a length that the head does not leave room for.
    UnknownMetal
        An alloy that no figures are held for.

    Notes
    -----
    Flush: a cone, with a crown as a segment of a sphere when the head is higher than its cone. Round and universal: a
    segment of a sphere.

    Examples
    --------
    >>> from witnessmark.calc.fasteners.catalogue import rivet_shape
    >>> shape = rivet_shape("R", "own", "flush", 3.0, 6.0, head_deg=90.0)
    >>> round(rivet_mass(shape, 8.0, "2024").mass_g, 3)
    0.196

    References
    ----------
    metal-figures
    bs275
    """
    if shape.form == "thread" or shape.head_mm is None:
        raise ValueError(f"{shape.code}: the head is not known, so no mass is reckoned")
    d, head = shape.shank_mm, shape.head_mm
    cone_mm = 0.0
    if shape.form in ("flush", "domed"):
        if shape.head_deg is None:
            raise ValueError(f"{shape.code}: the head's angle is not known, so no mass is reckoned")
        cone_mm = cone_height(head, d, shape.head_deg)
        crown_mm = max(0.0, (shape.head_height_mm or cone_mm) - cone_mm) if shape.form == "domed" else 0.0
    elif shape.head_height_mm is None:
        raise ValueError(f"{shape.code}: the head's height is not known, so no mass is reckoned")
    else:
        crown_mm = shape.head_height_mm
    if not (math.isfinite(length_mm) and length_mm > cone_mm):
        raise ValueError(f"{shape.code}: a length of {length_mm:g} mm leaves no shank below the head")
    of = metal(alloy)
    shank = math.pi * d**2 / 4 * (length_mm - cone_mm)
    cone = math.pi * cone_mm * (d * d + d * head + head * head) / 12
    crown = math.pi * crown_mm * (3 * (head / 2) ** 2 + crown_mm**2) / 6
    mass_g = (shank + cone + crown) * of.density_kg_m3 * 1e-6
    return RivetMass(
        working=working(
            "mass = (shank + head) x density",
            [
                ("shank", round(shank, 3), "mm3", "pi d2 / 4 x length"),
                ("head", round(cone + crown, 3), "mm3", "cone, segment of a sphere"),
                ("density", of.density_kg_m3, "kg/m3", of.name),
                ("one rivet", round(mass_g, 4), "g", "computed"),
            ],
            ("metal-figures", "bs275"),
            ("From the nominal size: weigh ten before a count is made by mass.",),
            "The length of a flush rivet is over all, of any other under its head.",
        ),
        mass_g=mass_g,
    )


@dataclass(frozen=True)
class Weighed:
    """A line of an order with the mass of one rivet."""

    code: str
    stock_mm: float
    holes: int
    count: int
    one_g: float


def pieces_for_mass(lines: Sequence[Weighed], least_g: float, per_size: bool) -> dict[tuple[str, float], int]:
    """Return the least count of each line that a seller's least mass asks for.

    Parameters
    ----------
    lines : sequence of Weighed
        All that is ordered from the seller. [-]
    least_g : float
        The seller's least order. [g]
    per_size : bool
        True where it holds for each size and length by itself, else for the order as a whole. [-]

    Returns
    -------
    dict
        Count by code and stock length; empty where the mass is reached.

    Raises
    ------
    ValueError
        A mass that is not above zero.

    Notes
    -----
    What an order as a whole falls short of is filled up in the line with the most holes: it spoils the most.

    Examples
    --------
    >>> pieces_for_mass([Weighed("V-3", 8.0, 90, 100, 0.2)], 1000.0, True)
    {('V-3', 8.0): 5000}

    References
    ----------
    spares-practice
    """
    if not lines:
        return {}
    if not (math.isfinite(least_g) and least_g > 0 and all(line.one_g > 0 for line in lines)):
        raise ValueError("a mass is above zero")
    if per_size:
        want = {(line.code, line.stock_mm): math.ceil(round(least_g / line.one_g, 6)) for line in lines}
        return {
            (line.code, line.stock_mm): want[line.code, line.stock_mm]
            for line in lines
            if want[line.code, line.stock_mm] > line.count
        }
    short_g = least_g - sum(line.count * line.one_g for line in lines)
    if short_g <= 0:
        return {}
    most = max(lines, key=lambda line: line.holes)
    return {(most.code, most.stock_mm): most.count + math.ceil(round(short_g / most.one_g, 6))}


def combined_run(family: str, lines: Sequence[OrderLine]) -> CombinedRun | None:
    """Return what one run for all sizes of a family at one vendor saves against a least run for each line.

    Parameters
    ----------
    family : str
        Name of the family. [-]
    lines : sequence of OrderLine
        The vendor's lines of that family. [-]

    Returns
    -------
    CombinedRun or None
        None where fewer than two lines are bought beyond their want because of the least run.

    Notes
    -----
    The largest least run is filled once by all lines together; each line still comes in whole packs.

    Examples
    --------
    >>> from witnessmark.calc.fasteners.order import OrderRow, roll_up
    >>> rows = [OrderRow("A", "V-3", "7 mm", 7.0, 900), OrderRow("B", "V-3", "8 mm", 8.0, 100)]
    >>> found = combined_run("V", roll_up(rows, minimum_runs={"V-3": 5000}))
    >>> found.together, found.apart
    (5000, 10000)

    References
    ----------
    spares-practice
    """
    made = [line for line in lines if line.minimum_run > line.wanted]
    if len(made) < 2:
        return None
    packed = sum(math.ceil(line.wanted / line.pack) * line.pack for line in made)
    pack = max(line.pack for line in made)
    least = max(line.minimum_run for line in made)
    together = packed + max(0, math.ceil((least - packed) / pack)) * pack
    apart = sum(line.count for line in made)
    if together >= apart:
        return None
    return CombinedRun(
        working=working(
            "together = wanted in whole packs, filled up once to the least run",
            [
                *((f"wanted, {line.code} × {line.stock_label}", line.wanted, "-", "holes + spares") for line in made),
                ("in whole packs", packed, "-", "sum"),
                ("least run", least, "-", "vendor"),
                ("together", together, "-", "computed"),
                ("a run for each", apart, "-", "order lines"),
                ("saved", apart - together, "-", "difference"),
            ],
            ("spares-practice",),
            ("Whether the vendor takes sizes together as one run is his to say: ask before it leaves.",),
            "One vendor, one lead time; all sizes of the run come together.",
        ),
        family=family,
        codes=tuple(dict.fromkeys(line.code for line in made)),
        wanted=sum(line.wanted for line in made),
        together=together,
        apart=apart,
    )
