"""Mass and moment about the datum. What is not weighed keeps its arm, and its mass stays unknown: it is never nought."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.working import Answer, working


@dataclass(frozen=True)
class Item:
    """One thing aboard; None where nobody has measured it."""

    name: str
    mass_kg: float | None
    arm_mm: float | None


@dataclass(frozen=True)
class OpenItem:
    """A thing of unknown mass: where it sits, and how far each kilogram of it would move the centre of gravity."""

    name: str
    arm_mm: float | None
    moves_mm_per_kg: float | None


@dataclass(frozen=True)
class Balance(Answer):
    """What is known, and what is open. With anything open, the known part is not the aircraft's mass."""

    known_kg: float
    known_moment_kg_mm: float
    known_cg_mm: float | None
    open: tuple[OpenItem, ...]
    whole: bool
    sentence: str


def arm_of(station: str) -> float | None:
    """Read a thing's arm from its station as written; of a stretch, the middle.

    Parameters
    ----------
    station : str
        Such as `2420`, `180-2610`, or `WS 2900`. [-]

    Returns
    -------
    float or None
        Arm from the datum in mm; None where the words are no fuselage station (a wing station says nothing of the arm).

    Examples
    --------
    >>> arm_of("2420"), arm_of("2400-2700"), arm_of("WS 2900")
    (2420.0, 2550.0, None)

    References
    ----------
    none: reads the user's own list.
    """
    match = re.fullmatch(r"(-?\d+(?:\.\d+)?)(?:\s*-\s*(-?\d+(?:\.\d+)?))?(?:\s*mm)?", station.strip())
    if match is None:
        return None
    first = float(match[1])
    return first if match[2] is None else (first + float(match[2])) / 2


def balance(items: Sequence[Item]) -> Balance:
    """Add up mass and moment, and keep what is unknown apart.

    Parameters
    ----------
    items : sequence of Item
        What is aboard. [-]

    Returns
    -------
    Balance
        Known mass, moment and centre of gravity; each open item with its arm, and by how much each kilogram of it
        would move the known centre of gravity at first.

    Raises
    ------
    ValueError
        A mass below nought or an arm that is no number.

    Notes
    -----
    A known mass without an arm counts as open: its moment is unknown. Removed things are given with the others left in.

    Examples
    --------
    >>> b = balance([Item("mains", 875.0, 3360.0), Item("tail", 40.0, 7480.0), Item("generator", None, 2420.0)])
    >>> round(b.known_cg_mm, 1), b.open[0].arm_mm, b.whole
    (3540.1, 2420.0, False)

    References
    ----------
    moments-about-datum
    """
    for item in items:
        if item.mass_kg is not None and not (math.isfinite(item.mass_kg) and item.mass_kg >= 0):
            raise ValueError(f"the mass of {item.name} must not be below nought: {item.mass_kg}")
        if item.arm_mm is not None and not math.isfinite(item.arm_mm):
            raise ValueError(f"the arm of {item.name} is no number")
    known = [(i.name, i.mass_kg, i.arm_mm) for i in items if i.mass_kg is not None and i.arm_mm is not None]
    mass = math.fsum(m for _, m, _ in known)
    moment = math.fsum(m * a for _, m, a in known)
    cg = moment / mass if mass > 0 else None
    opened = tuple(
        OpenItem(i.name, i.arm_mm, None if cg is None or i.arm_mm is None else (i.arm_mm - cg) / mass)
        for i in items
        if i.mass_kg is None or i.arm_mm is None
    )
    names = ", ".join(f"{o.name} at {o.arm_mm:,.0f} mm" if o.arm_mm is not None else o.name for o in opened[:6])
    more = f" and {len(opened) - 6} more" if len(opened) > 6 else ""
    sentence = f"{mass:,.1f} kg are known." if known else "No mass is known yet."
    if opened:
        sentence += f" Still open, and not counted as nought: {names}{more}."
    return Balance(
        working=working(
            "moment = mass x arm; centre of gravity = sum of moments / sum of masses; a kilogram more at arm a moves it "
            "by (a - cg) / mass at first",
            [("known mass", round(mass, 3), "kg", "sum"), ("known moment", round(moment, 1), "kg mm", "sum")]
            + [
                (o.name, "mass unknown", "kg", f"arm {o.arm_mm:g} mm" if o.arm_mm is not None else "arm unknown")
                for o in opened
            ],
            ("moments-about-datum",),
            ("With anything open this is not the aircraft's mass.",) if opened else (),
        ),
        known_kg=mass,
        known_moment_kg_mm=moment,
        known_cg_mm=cg,
        open=opened,
        whole=not opened,
        sentence=sentence,
    )
