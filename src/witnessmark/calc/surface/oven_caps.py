"""What an oven may do to a part as it stands: its metal in its temper, and every coat that is on it by then."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from witnessmark.calc.sources import Status
from witnessmark.calc.surface.heat_caps import HeatCap, celsius, fahrenheit, heat_cap
from witnessmark.calc.surface.processes import processes_of
from witnessmark.calc.tables import load_table

HEATS = frozenset({"bake", "heat", "heat treat", "stress relief"})
CONVERSION, ON_PLATE = "conversion coat", "chromate on plate"
PLATED = ("cadmium", "zinc", "chrome", "nickel", "plate")
# The words of a finish or a step that name each coat.
_WORDS = (
    ("cadmium", r"\bcad(?:mium)?\b|silvery plate"),
    ("zinc", r"\bzinc(?! chromate)\b|\bgalvani"),
    ("nickel", r"\bnickel|\bdecorative chrome"),
    ("chrome", r"\bchrom(?:e|ed|ium)\b(?![ -]moly)"),
    (CONVERSION, r"\bconversion coat|\bchromated\b|\bphosphated\b"),
    ("anodic film", r"\banodi[sz]|\banodic"),
    ("primer", r"\bprime"),
    ("paint", r"\bpaint|\bvarnish|\benamel|\blacquer|\btopcoat|\btop coat"),
)
_GONE = {
    "strip paint": {"primer", "paint"},
    "strip plate": {*PLATED, ON_PLATE},
    "blast": {"primer", "paint", CONVERSION, "anodic film"},
    "etch": {CONVERSION, "anodic film"},
}


@dataclass(frozen=True)
class CoatCap:
    """What one coat may see; None where no figure was read, which is no permission."""

    coat: str
    max_c: float | None
    note: str
    source: str
    status: Status


@dataclass(frozen=True)
class OvenCap:
    """The metal's cap and those of the coats on it: the lowest counts, and what is not known is said."""

    material: str
    metal: HeatCap | None
    coats: tuple[CoatCap, ...]

    @property
    def unknown(self) -> tuple[str, ...]:
        """What no cap is held for."""
        metal = () if self.metal else (self.material.strip() or "its alloy and temper",)
        return (*metal, *(f"the {coat.coat} on it" for coat in self.coats if coat.max_c is None))

    @property
    def max_c(self) -> float | None:
        """The lowest cap that is known, of metal and coats; None where none is."""
        known = [cap for cap in (self.metal.max_c if self.metal else None, *(c.max_c for c in self.coats)) if cap]
        return min(known, default=None)

    @property
    def lowest(self) -> HeatCap | None:
        """What decides, as a cap; None where something on it is not known, which is no permission."""
        return None if self.unknown else self.known

    @property
    def known(self) -> HeatCap | None:
        """The lowest of what is known, said as the cap that it is."""
        found = [self.metal] if self.metal else []
        found += [
            HeatCap(f"the {c.coat} on it", c.max_c, False, "coat", c.note, c.source, c.status)
            for c in self.coats
            if c.max_c is not None
        ]
        return min(found, key=lambda cap: cap.max_c, default=None)

    @property
    def sentence(self) -> str:
        """Say what it may see and why, and what nobody knows."""
        cap, asks = self.known, f"No cap is held for {' and '.join(self.unknown)}: ask the engineer before any heat."
        if cap is None:
            return asks
        said = (
            f"{'Less than' if cap.below else 'At most'} {cap.max_c:.0f} °C ({fahrenheit(cap.max_c):.0f} °F), by "
            f"{cap.material_temper}: {cap.source} ({cap.status})."
        )
        return f"{said} {asks}" if self.unknown else said


def coats_on(finish: str, steps: Sequence[str] = ()) -> tuple[str, ...]:
    """Return the coats that are on a part after these steps of its route.

    Parameters
    ----------
    finish : str
        Finish as found, as written. [-]
    steps : sequence of str
        Names of the steps that were done on it, in order. [-]

    Returns
    -------
    tuple of str
        Names of coats, in the order of the table below.

    Notes
    -----
    Read from words: no coat is no word that it is bare. A conversion coat under paint counts as painted.

    Examples
    --------
    >>> coats_on("old silvery plate, taken to be cadmium", ["strip plate", "hard chrome"])
    ('chrome',)
    >>> coats_on("primer, grey", ["strip paint", "conversion coat"])
    ('conversion coat',)

    References
    ----------
    none: words only.
    """
    found = {coat for coat, words in _WORDS if re.search(words, finish.lower())}
    for step in steps:
        named = processes_of(step)
        for process in named:
            found -= _GONE.get(process, set())
            if process == "plate":
                found |= {c for c, words in _WORDS if c in PLATED and re.search(words, step.lower())} or {"plate"}
            elif process == "conversion coat":
                found.add(ON_PLATE if found & {"cadmium", "zinc"} else CONVERSION)
            elif process in ("prime", "paint", "anodise"):
                found.add({"prime": "primer", "paint": "paint", "anodise": "anodic film"}[process])
    order = [coat for coat, _ in _WORDS]
    return tuple(sorted(found, key=lambda coat: order.index(coat) if coat in order else len(order)))


def oven_cap(material: str, coats: Collection[str] = ()) -> OvenCap:
    """Return what a part may see in the oven with the coats that are on it.

    Parameters
    ----------
    material : str
        Alloy and temper as written. [-]
    coats : collection of str
        Coats on it, as `coats_on` names them. [-]

    Returns
    -------
    OvenCap
        The caps of the metal and of each coat, with what is not known.

    Notes
    -----
    A conversion coat counts only while nothing is painted over it. A coat of which no figure was read gives no
    permission, however high the metal's own cap.

    Examples
    --------
    >>> round(oven_cap("6061-T6", ("conversion coat",)).max_c)
    60
    >>> oven_cap("AZ63A casting", ("paint",)).unknown
    ('the paint on it',)

    References
    ----------
    heat-caps
    coat-caps
    """
    rows = {row["coat"]: row for row in load_table("coat_caps").rows}
    found = []
    for coat in coats:
        if coat == CONVERSION:
            if {"primer", "paint"} & set(coats):
                continue
            bare = heat_cap("", (CONVERSION,))
            assert bare is not None
            found.append(CoatCap("unpainted conversion coat", bare.max_c, bare.meaning, bare.source, bare.status))
            continue
        row = rows.get(coat)
        figure = celsius(float(row["suggested_max_F"])) if row and row["suggested_max_F"] else None
        found.append(
            CoatCap(
                coat, figure, row["note"] if row else "no cap was read: ask the plater which plate it is",
                row["source"] if row else "no document was read", row["status"] if row else "memory",  # type: ignore[arg-type]
            )
        )  # fmt: skip
    return OvenCap(material, heat_cap(material), tuple(found))


def caps_of_steps(material: str, finish: str, steps: Sequence[str]) -> dict[int, OvenCap]:
    """Return the cap at each step of a route that heats, by the coats that are on the part by then.

    Parameters
    ----------
    material : str
        Alloy and temper as written. [-]
    finish : str
        Finish as found. [-]
    steps : sequence of str
        Step names in order. [-]

    Returns
    -------
    dict of int to OvenCap
        By step number, counted from 1.

    Examples
    --------
    >>> steps = ["conversion coat", "bake", "prime", "shrink fit"]
    >>> caps = caps_of_steps("6061-T6", "", steps)
    >>> round(caps[2].max_c), caps[4].unknown
    (60, ('the primer on it',))

    References
    ----------
    heat-caps
    coat-caps
    """
    found = {}
    for number, step in enumerate(steps, start=1):
        named = processes_of(step)
        heat = next((n for n, process in enumerate(named) if process in HEATS), None)
        if heat is None:
            continue
        # "Plate and bake" is in the oven with its plate on.
        own = [step] if heat > 0 else []
        found[number] = oven_cap(material, coats_on(finish, [*steps[: number - 1], *own]))
    return found
