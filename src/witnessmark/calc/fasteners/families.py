"""Fastener sizes, matched by their code and never by a figure in mm."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from witnessmark.calc.sources import Status
from witnessmark.calc.tables import OutsideTable, load_table
from witnessmark.calc.units import MM_PER_IN, UnknownSize

_DASHES = re.compile(r"([0-9]{1,2})-([0-9]{1,2}(?:\.5)?)")


@dataclass(frozen=True)
class Size:
    """One size of a family; a user may add families from measurement."""

    code: str
    kind: str
    head_deg: float | None
    nominal_mm: float
    pitch_mm: float | None
    family: str
    source: str
    status: str


@dataclass(frozen=True)
class NominalHole:
    """Nominal hole of an inch rivet and the drill that makes it."""

    rivet: str
    diameter_mm: float
    hole_mm: float
    drill: str
    note: str
    source: str
    status: Status


@dataclass(frozen=True)
class DashSizes:
    """Diameter and length that the dash numbers of an inch rivet stand for."""

    diameter_mm: float
    length_mm: float


def size_key(code: str) -> str:
    """Return the key that two spellings of one code share.

    Parameters
    ----------
    code : str
        Code as typed. [-]

    Returns
    -------
    str
        Capitals without spaces.

    Raises
    ------
    UnknownSize
        Nothing was typed.

    Examples
    --------
    >>> size_key(" vn11 - 3.0 ")
    'VN11-3.0'

    References
    ----------
    none: words only.
    """
    key = re.sub(r"\s+", "", code).upper()
    if not key:
        raise UnknownSize(code, "a fastener code is missing", "the codes of the fastener list")
    return key


def find_size(code: str, sizes: Iterable[Size]) -> Size:
    """Return the size that bears the code.

    Parameters
    ----------
    code : str
        Code as typed. [-]
    sizes : iterable of Size
        The fastener list. [-]

    Returns
    -------
    Size
        The one entry.

    Raises
    ------
    UnknownSize
        No entry, or two entries with the same code.

    Examples
    --------
    >>> vn = Size("VN11-3.0", "flush rivet", 120, 3.0, None, "house metric", "measured", "read")
    >>> find_size("vn11-3.0", [vn]).nominal_mm
    3.0

    References
    ----------
    none: looks up the user's own list.
    """
    key = size_key(code)
    found = [size for size in sizes if size_key(size.code) == key]
    if len(found) != 1:
        why = "the fastener list has no such code" if not found else "the fastener list has this code twice"
        raise UnknownSize(code, why, "the codes of the fastener list")
    return found[0]


def nominal_hole(rivet: str) -> NominalHole:
    """Return the nominal hole and drill of an inch rivet.

    Parameters
    ----------
    rivet : str
        Diameter as its fraction of an inch: `5/32`, `5/32 in`. [-]

    Returns
    -------
    NominalHole
        Hole in mm, drill, source and status.

    Raises
    ------
    OutsideTable
        No rivet of that fraction in the table.

    Notes
    -----
    1/16 to 3/8 in. The row for 1/16 is from memory; its status says so.

    Examples
    --------
    >>> nominal_hole("1/8 in").drill
    '#30'

    References
    ----------
    mil-hdbk-5j-holes
    """
    key = re.sub(r'\s*(?:in|inch|")\s*$', "", rivet.strip().lower())
    row = load_table("rivet_holes").find("rivet", key)
    hole_mm = float(row["nominal_hole_in"]) * MM_PER_IN
    status: Status = "memory" if row["status"] == "memory" else "derived"
    return NominalHole(key, float(row["d_in"]) * MM_PER_IN, hole_mm, row["drill"], row["note"], row["source"], status)


def dash_sizes(code: str) -> DashSizes:
    """Read the dash numbers at the end of an inch rivet code: diameter in 32nds, length in 16ths.

    Parameters
    ----------
    code : str
        Code that ends in two numbers, such as `MS20426DD-5-6` or `AD4-3.5`. [-]

    Returns
    -------
    DashSizes
        Diameter and length in mm.

    Raises
    ------
    UnknownSize
        The code does not end in two such numbers.
    OutsideTable
        The diameter is not in the table of inch rivets.

    Notes
    -----
    A length of `.5` is half a 16th, so lengths go in 32nds. The length of a flush rivet includes its head.

    Examples
    --------
    >>> round(dash_sizes("MS20426DD-5-6").length_mm, 3)
    9.525

    References
    ----------
    ac43.13-1b-4-57
    lecture-notes-rivets
    """
    match = re.fullmatch(rf".*?[A-Z]-?{_DASHES.pattern}", code.strip().upper())
    if match is None:
        raise UnknownSize(code, "its dash numbers are missing", "AD4-3.5, MS20426DD-5-6")
    diameter_in, length_in = int(match[1]) / 32, float(match[2]) / 16
    if not length_in or not any(abs(float(row["d_in"]) - diameter_in) < 1e-9 for row in load_table("rivet_holes").rows):
        raise OutsideTable(f"{code}: no inch rivet of {match[1]}/32 in diameter and {match[2]}/16 in length")
    return DashSizes(diameter_in * MM_PER_IN, length_in * MM_PER_IN)
