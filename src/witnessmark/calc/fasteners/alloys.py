"""Which alloy a rivet is of, from the mark on its head."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.calc.fasteners.catalogue import Shape
from witnessmark.calc.tables import load_table

_PRINTED = {
    "plain": "plain",
    "indented dimple": "dimple",
    "raised teat": "teat",
    "raised double dash": "double dash",
    "raised cross": "cross",
    "dots": "dots",
}


@dataclass(frozen=True)
class Alloy:
    """An alloy with its rivet code, old names, and what has to be done before it is driven."""

    code: str
    alloy: str
    old_names: str
    head_mark: str
    drive_condition: str
    source: str
    status: str


def alloys_of(mark: str | None, shape: Shape | None) -> tuple[Alloy, ...]:
    """Return the alloys that a head mark stands for.

    Parameters
    ----------
    mark : str or None
        The mark as seen; None where nobody looked. [-]
    shape : Shape or None
        The size; only families whose heads carry marks say anything. [-]

    Returns
    -------
    tuple of Alloy
        Empty where the mark says nothing: an old maker's mark, a family without marks.

    Notes
    -----
    Marks of inch rivets and of the norm that took them over; other makers marked otherwise or not at all.

    Examples
    --------
    >>> from witnessmark.calc.fasteners.catalogue import built_in
    >>> [each.alloy for each in alloys_of("dimple", built_in()[0])]
    ['2117-T4 (T3 driven)']

    References
    ----------
    rivet-materials
    head-marks-elsewhere
    """
    if mark is None or shape is None or not shape.marked:
        return ()
    return tuple(each for each in known_alloys() if each.head_mark == mark)


def known_alloys() -> tuple[Alloy, ...]:
    """Return every rivet alloy of the table.

    Returns
    -------
    tuple of Alloy
        With head mark, drive condition, source and status.

    Examples
    --------
    >>> len(known_alloys()) > 5
    True

    References
    ----------
    rivet-materials
    """
    return tuple(
        Alloy(
            code=row["code"],
            alloy=row["alloy"],
            old_names=", ".join(name for name in (row["old_us_name"], row["german"]) if name),
            head_mark=_PRINTED.get(row["head_mark"], row["head_mark"]),
            drive_condition=row["drive_condition"],
            source=row["source"],
            status=row["status"],
        )
        for row in load_table("rivet_materials").rows
    )
