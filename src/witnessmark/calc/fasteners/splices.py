"""Rivets an inch and the count of a splice by the handbook's three tables, in both printed orders of rounding."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.calc.fasteners.joint import AC_TABLES, rivets_per_inch, splice_count
from witnessmark.calc.tables import OutsideTable, load_table
from witnessmark.calc.units import MM_PER_IN
from witnessmark.calc.working import Answer, working

# Share of the rate by the tables' own notes.
PARTS = {"joint": 100.0, "stringer": 80.0, "lap": 75.0, "frame": 60.0}
# Printed cells that the tables' own notes do not give.
APART = 0.06


@dataclass(frozen=True)
class TableRate:
    """One table's rate by its formula, and as it is printed where it prints this sheet and rivet."""

    table: str
    per_in: float
    printed_per_in: float | None
    taken_per_in: float
    count_frame: int
    count_sheet: int


@dataclass(frozen=True)
class SpliceCount(Answer):
    """The rates of the three tables with the count a side in both orders; `rates` runs from the most rivets down."""

    rivet: str
    sheet_mm: float
    width_mm: float
    percent: float
    rates: tuple[TableRate, ...]
    sentence: str


def splice(rivet: str, sheet_mm: float, width_mm: float, part: str = "joint") -> SpliceCount:
    """Return the rivets on each side of a cut by each table.

    Parameters
    ----------
    rivet : str
        `3/32`, `1/8`, `5/32`, `3/16` or `1/4`, in inches. [-]
    sheet_mm : float
        Thickness of the sheet. [mm]
    width_mm : float
        Width of the part across the cut. [mm]
    part : str
        `joint` for the whole rate, `stringer` 80, `lap` 75, `frame` 60 in a hundred. [-]

    Returns
    -------
    SpliceCount
        By table: formula, printed cell, what is taken (the print unless it is a fault), the count with either order of rounding.

    Raises
    ------
    ValueError
        A part that is none of the four, a width that is absurd.
    OutsideTable
        A rivet or a sheet that the tables do not hold.

    Notes
    -----
    The tables speak of different alloys, and two name the same one: which counts is for the person who signs. Metric
    rivets are in no table.

    Examples
    --------
    >>> found = splice("1/8", 0.032 * 25.4, 0.6 * 25.4, "frame")
    >>> (found.rates[0].table, found.rates[0].count_frame, found.rates[0].count_sheet)
    ('4-9', 3, 3)

    References
    ----------
    ac43.13-1b-tables-4-9
    ac43.13-1b-4-58g
    ac43.13-1b-fig-4-20
    """
    if part not in PARTS:
        raise ValueError(f"a part is one of {', '.join(PARTS)}, not {part!r}")
    holes = {row["rivet"]: float(row["nominal_hole_in"]) for row in load_table("rivet_holes").rows}
    column = f"rivet_{rivet.replace('/', '_')}_per_in"
    table = load_table("rivets_per_inch")
    if rivet not in holes or column not in table.columns:
        sizes = ", ".join(size for size in holes if f"rivet_{size.replace('/', '_')}_per_in" in table.columns)
        raise OutsideTable(f"the tables hold {sizes} in rivets, not {rivet or 'none'}")
    sheet_in, width_in, percent = sheet_mm / MM_PER_IN, width_mm / MM_PER_IN, PARTS[part]
    rates = []
    for name in AC_TABLES:
        computed = rivets_per_inch(name, holes[rivet], sheet_in)
        printed = next(
            (
                float(row[column])
                for row in table.rows
                if row["table"] == name and row[column] and abs(float(row["t_in"]) - sheet_in) < 0.0002
            ),
            None,
        )
        # The handbook counts with its printed cell; where a cell is a fault on the low side, the formula counts.
        taken = printed if printed is not None and printed > computed - APART else computed
        rates.append(
            TableRate(
                name,
                computed,
                printed,
                taken,
                splice_count(taken, width_in, percent, "frame"),
                splice_count(taken, width_in, percent, "sheet"),
            )
        )
    rates.sort(key=lambda rate: -rate.taken_per_in)
    most = rates[0]
    cautions = [
        f"Table {r.table} prints {r.printed_per_in:g} where its own note gives {r.per_in:.2f}: {r.taken_per_in:.2f} is taken."
        for r in rates
        if r.printed_per_in is not None and abs(r.printed_per_in - r.per_in) > APART
    ]
    counts = (
        f"{most.count_frame} a side, in either order of rounding"
        if most.count_frame == most.count_sheet
        else f"{most.count_frame} a side where the count is rounded up before the percentage, {most.count_sheet} where "
        "the percentage is taken off the rate first"
    )
    return SpliceCount(
        working=working(
            "rivets an inch = max(1/(kb Dh), t/(ks (pi/4) Dh^2)); count = rate x width x share, rounded up",
            [
                ("t", round(sheet_in, 4), "in", f"{sheet_mm:g} mm"),
                ("Dh", holes[rivet], "in", f"{rivet} in rivet"),
                ("width", round(width_in, 3), "in", f"{width_mm:g} mm"),
                ("share", percent, "%", part),
                *(
                    (
                        f"table {r.table}",
                        round(r.per_in, 2),
                        "1/in",
                        f"printed {r.printed_per_in:g}" if r.printed_per_in is not None else "not printed here",
                    )
                    for r in rates
                ),
                *((f"table {r.table}, frame order", r.count_frame, "-", "up, share, up") for r in rates),
                *((f"table {r.table}, sheet order", r.count_sheet, "-", "share on the rate") for r in rates),
            ],
            ("ac43.13-1b-tables-4-9", "ac43.13-1b-4-58g", "ac43.13-1b-fig-4-20"),
            (*cautions, "Tables 4-9 and 4-10 both claim clad 2024-T3. Say which was taken; 4-9 asks for the most."),
            "2117 rivets of 3/32 to 1/4 in, sheets of .016 to .128 in.",
        ),
        rivet=rivet,
        sheet_mm=sheet_mm,
        width_mm=width_mm,
        percent=percent,
        rates=tuple(rates),
        sentence=f"By table {most.table}, {most.taken_per_in:.1f} an inch ({most.taken_per_in / 2.54:.1f} a centimetre): {counts}.",
    )
