"""What heat an alloy in its temper may see, and after which coats none is allowed."""

from __future__ import annotations

import re
from dataclasses import dataclass

from witnessmark.calc.sources import Status
from witnessmark.calc.tables import load_table

# Table row by the words of a material: the alloy, and the temper or form where the table tells them apart.
_ROWS = (
    (r"az31b?\b.*\b(?:extru|anneal|-o\b|-f\b)", "AZ31B extrusion / annealed sheet"),
    (r"az31b?\b", "AZ31B hard rolled sheet"),
    (r"az63", "AZ63A casting"),
    (r"az91\w*.*t7", "AZ91C casting T7"),
    (r"az91\w*.*t6", "AZ91C casting T6"),
    (r"az92", "AZ92A casting"),
    (r"6061\s*-?\s*t6", "6061-T6"),
    (r"356\s*-?\s*t6|356.*\bt6", "356-T6 casting"),
    (r"356.*t51", "356 casting T51"),
    (r"2024\s*-?\s*t[34]|24s?t\b", "2024-T3"),
    (r"7075\s*-?\s*t6|75st\b", "7075-T6"),
    (r"\b(?:ball|roller|rolling) bearing", "rolling bearing"),
)


@dataclass(frozen=True)
class HeatCap:
    """The highest temperature of a material in its temper; `below` where the figure itself is too much."""

    material_temper: str
    max_c: float
    below: bool
    meaning: str
    note: str
    source: str
    status: Status

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to say beside the cap."""
        said = [f"{self.material_temper}: {self.note}."] if self.note else []
        if self.status == "memory":
            said.append(f"The cap of {self.material_temper} is from memory: verify it.")
        return tuple(said)


def fahrenheit(celsius: float) -> float:
    """Return a temperature in degrees Fahrenheit.

    Parameters
    ----------
    celsius : float
        Temperature. [C]

    Returns
    -------
    float
        Temperature. [F]

    Examples
    --------
    >>> fahrenheit(100)
    212.0

    References
    ----------
    none: units by definition.
    """
    return celsius * 9 / 5 + 32


def celsius(fahrenheit: float) -> float:
    """Return a temperature in degrees Celsius.

    Parameters
    ----------
    fahrenheit : float
        Temperature. [F]

    Returns
    -------
    float
        Temperature. [C]

    Examples
    --------
    >>> celsius(212)
    100.0

    References
    ----------
    none: units by definition.
    """
    return (fahrenheit - 32) * 5 / 9


def heat_cap(material: str, coats: tuple[str, ...] = ()) -> HeatCap | None:
    """Return what a material in its temper may see, or None where alloy or temper is not known.

    Parameters
    ----------
    material : str
        Alloy and temper as written. [-]
    coats : tuple of str
        Coats that are on it already; an unpainted conversion coat lowers the cap to 140 F. [-]

    Returns
    -------
    HeatCap or None
        None is no permission: the engineer names the cap.

    Notes
    -----
    Caps inferred from ageing or stabilising temperatures stay below them. An AZ91C whose temper is not named is not
    known: its tempers have different caps. Steel has its tempering temperature as cap, which no table holds.

    Examples
    --------
    >>> round(heat_cap("AZ63A casting").max_c), heat_cap("Mg casting") is None
    (149, True)
    >>> round(heat_cap("6061-T6", ("conversion coat",)).max_c)
    60

    References
    ----------
    heat-caps
    """
    text = material.lower()
    name = next((row for pattern, row in _ROWS if re.search(pattern, text)), None)
    found = _cap(name) if name else None
    if {coat.lower() for coat in coats} & {"conversion coat"} and not {"prime", "paint"} & set(coats):
        coat = _cap("conversion coat unpainted")
        if found is None or coat.max_c < found.max_c:
            return coat
    return found


def _cap(name: str) -> HeatCap:
    row = load_table("heat_caps").find("material_temper", name)
    return HeatCap(
        name,
        celsius(float(row["suggested_max_F"])),
        row["cap_sense"] == "below",
        row["meaning"],
        row["note"],
        row["source"],
        row["status"],  # type: ignore[arg-type]  # load_table refuses other words
    )
