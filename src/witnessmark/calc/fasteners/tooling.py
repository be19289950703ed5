"""Tools that an order's rivets want: drills, cutters or dimple dies, sets, and the room to buck them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.fasteners.flush import least_sheet
from witnessmark.calc.tables import load_table
from witnessmark.calc.units import MM_PER_IN
from witnessmark.calc.working import Answer, working

METRIC_OVER_MM = 0.1


@dataclass(frozen=True)
class Drives:
    """One size as it is driven: figures that nobody measured are None."""

    code: str
    diameter_mm: float
    flush: bool
    flush_deg: float | None
    head_mm: float | None
    outer_sheet_mm: float
    length_mm: float
    grip_mm: float
    inch: bool
    holes: int
    rows: tuple[str, ...]


@dataclass(frozen=True)
class Tool:
    """One tool with the rows and holes it is for."""

    what: str
    size: str
    for_codes: tuple[str, ...]
    rows: tuple[str, ...]
    holes: int


@dataclass(frozen=True)
class ToolList(Answer):
    """The whole list."""

    tools: tuple[Tool, ...]


def drill_for(diameter_mm: float, inch: bool) -> tuple[str, float]:
    """Return the last drill for a rivet and the hole it makes.

    Parameters
    ----------
    diameter_mm : float
        Nominal diameter. [mm]
    inch : bool
        True for an inch rivet. [-]

    Returns
    -------
    tuple of str and float
        Its name and its diameter in mm.

    Raises
    ------
    ValueError
        A diameter that is not above zero or absurd.

    Notes
    -----
    Inch from the handbook's nominal holes; metric 0.1 mm over the shank.

    Examples
    --------
    >>> drill_for(3.5, False)
    ('3.6 mm', 3.6)
    >>> drill_for(3.175, True)[0]
    '#30'

    References
    ----------
    mil-hdbk-5j-holes
    tooling-practice
    """
    if not 0.5 <= diameter_mm <= 30:
        raise ValueError(f"a rivet of {diameter_mm:g} mm is none: look at its unit")
    if inch:
        for row in load_table("rivet_holes").rows:
            if abs(float(row["d_in"]) * MM_PER_IN - diameter_mm) < 0.02:
                return row["drill"], round(float(row["nominal_hole_in"]) * MM_PER_IN, 3)
    hole = round(diameter_mm + METRIC_OVER_MM, 2)
    return f"{hole:g} mm", hole


def tool_list(driven: Sequence[Drives]) -> ToolList:
    """Return every tool once, with what it is for.

    Parameters
    ----------
    driven : sequence of Drives
        Sizes of the order. [-]

    Returns
    -------
    ToolList
        Drills, countersinks or dimple dies, sets, bucking room.

    Raises
    ------
    ValueError
        A figure that is absurd.

    Notes
    -----
    A flush head in a sheet thinner than its cone and a land of 0.2 mm is dimpled, else countersunk. Room behind the
    sheet: what stands out, and 1.5 D for the bar; its edge 1 D from the web.

    Examples
    --------
    >>> flush = Drives("VN11-3.5", 3.5, True, 120, 7.4, 1.2, 8, 3.2, False, 70, ("HB-09",))
    >>> [tool.what for tool in tool_list([flush]).tools]
    ['bucking room', 'dimple dies', 'drill', 'flush set']

    References
    ----------
    mil-hdbk-5j-holes
    lecture-notes-rivets
    tooling-practice
    """
    found: dict[tuple[str, str], list[Drives]] = {}
    unsure: dict[str, None] = {}
    for each in driven:
        drill, _ = drill_for(each.diameter_mm, each.inch)
        found.setdefault(("drill", drill), []).append(each)
        room = each.length_mm - each.grip_mm + 1.5 * each.diameter_mm
        found.setdefault(("bucking room", f"{room:.0f} mm behind, {each.diameter_mm:g} mm beside"), []).append(each)
        if not each.flush:
            found.setdefault(("cup set", f"{each.diameter_mm:g} mm head form"), []).append(each)
            continue
        found.setdefault(("flush set", "flat, slightly crowned"), []).append(each)
        if each.head_mm is None or each.flush_deg is None:
            unsure[f"{each.code}: nobody has measured its head, so no cutter or die is named."] = None
            continue
        thin = each.outer_sheet_mm < least_sheet(each.head_mm, each.diameter_mm, each.flush_deg) - 1e-9
        what = "dimple dies" if thin else "countersink with stop"
        size = f"{each.diameter_mm:g} mm, {each.flush_deg:g} deg, head {each.head_mm:g} mm"
        found.setdefault((what, size), []).append(each)
    tools = tuple(
        Tool(
            what=what,
            size=size,
            for_codes=tuple(dict.fromkeys(each.code for each in group)),
            rows=tuple(dict.fromkeys(row for each in group for row in each.rows)),
            holes=sum(each.holes for each in group),
        )
        for (what, size), group in sorted(found.items())
    )
    return ToolList(
        working=working(
            "each size's drill, seat, set and room, listed once",
            [("sizes and lengths", len(driven), "-", "order"), ("tools", len(tools), "-", "listed")],
            ("mil-hdbk-5j-holes", "lecture-notes-rivets", "tooling-practice"),
            tuple(unsure),
            "Solid rivets. Wear eyes and ears when drilling, dimpling and driving.",
        ),
        tools=tools,
    )
