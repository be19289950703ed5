"""Bolts: which AN bolt a stack wants and with which washers, and what a metric bolt of a grade holds."""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.calc.fasteners.length import thirtyseconds
from witnessmark.calc.fasteners.threads import profile
from witnessmark.calc.tables import OutsideTable, load_table
from witnessmark.calc.units import MM_PER_IN
from witnessmark.calc.working import Answer, working

# What a bolt's length has over its nominal one, and what of that is no grip [in].
AN_BOLTS = {"AN3": (1 / 32, 3 / 8), "AN4": (1 / 32, 7 / 16), "AN5": (3 / 32, 7 / 16), "AN6": (5 / 64, 9 / 16)}
# The shortest sizes keep a grip of 1/16 and lie outside the formula [in].
SHORTEST = {("AN3", 3): (1 / 16, 15 / 32), ("AN4", 3): (1 / 16, 15 / 32)}
LEAST_STACK_MM = 0.5  # two of the thinnest sheets that are met, common practice
LONGEST_DASH = 80
# One thin washer, one of the usual thickness, two of them [in].
WASHERS = (
    (1 / 32, "one thin washer"),
    (1 / 16, "one washer"),
    (3 / 32, "one washer and one thin"),
    (1 / 8, "two washers"),
)
# Proof stress to M16 and above, tensile strength to M16 and above [MPa].
GRADES: dict[str, tuple[float, float, float | None, float | None]] = {
    "4.6": (225, 225, None, None),
    "4.8": (310, 310, None, None),
    "5.6": (280, 280, None, None),
    "5.8": (380, 380, None, None),
    "6.8": (440, 440, None, None),
    "8.8": (580, 600, 800, 830),
    "9.8": (650, 650, None, None),
    "10.9": (830, 830, 1040, 1040),
    "12.9": (970, 970, 1220, 1220),
}
UP_TO_MM = 16.0


@dataclass(frozen=True)
class ANBolt:
    """An AN bolt's grip and length by its dash number."""

    bolt: str
    dash: int
    grip_mm: float
    length_mm: float


@dataclass(frozen=True)
class BoltChoice(Answer):
    """The bolt for a stack, what its grip has over the stack, and the washers that fill it."""

    bolt: str
    dash: int
    grip_mm: float
    length_mm: float
    over_mm: float
    washers: str
    washers_mm: float
    sentence: str


@dataclass(frozen=True)
class BoltLoad(Answer):
    """What a metric coarse bolt of a grade holds; `ultimate_n` is None where the table has no figure for the grade."""

    thread: str
    grade: str
    stress_area_mm2: float
    proof_n: float
    ultimate_n: float | None
    sentence: str


def an_bolt(bolt: str, dash: int) -> ANBolt:
    """Return the grip and the length of an AN bolt.

    Parameters
    ----------
    bolt : str
        `AN3`, `AN4`, `AN5` or `AN6`. [-]
    dash : int
        Dash number: eighths of an inch, from 10 on inches and eighths (`12` is 1 1/4 in). [-]

    Returns
    -------
    ANBolt
        Grip and length. [mm]

    Raises
    ------
    OutsideTable
        Another bolt, a dash number that is none or has no grip.

    Notes
    -----
    Grip and length follow from the dash number; printed to 1/64 in. The shortest AN3 and AN4 keep a grip of 1/16 in.

    Examples
    --------
    >>> round(an_bolt("AN4", 7).grip_mm / 25.4, 4)
    0.4375

    References
    ----------
    an-bolt-table
    """
    if bolt not in AN_BOLTS:
        raise OutsideTable(f"there are {', '.join(AN_BOLTS)} here, not {bolt}")
    inches, eighths = divmod(dash, 10) if dash >= 10 else (0, dash)
    more, less = AN_BOLTS[bolt]
    nominal = inches + eighths / 8
    grip, length = SHORTEST.get((bolt, dash), (nominal - less, nominal + more))
    if not 3 <= dash <= LONGEST_DASH or eighths > 7 or grip <= 0:
        raise OutsideTable(f"there is no {bolt} of dash number {dash}")
    return ANBolt(bolt, dash, grip * MM_PER_IN, length * MM_PER_IN)


def an_bolt_for(bolt: str, stack_mm: float) -> BoltChoice:
    """Return the shortest AN bolt whose grip covers a stack, and its washers.

    Parameters
    ----------
    bolt : str
        `AN3`, `AN4`, `AN5` or `AN6`. [-]
    stack_mm : float
        Thickness of all that it clamps, without washers. [mm]

    Returns
    -------
    BoltChoice
        Dash number, grip, and the washers that take up what the grip has over the stack.

    Raises
    ------
    ValueError
        A stack that is not above zero, thinner than any two sheets, or absurd.
    OutsideTable
        A stack longer than the longest bolt.

    Notes
    -----
    Threads do not bear: the grip is never shorter than the stack. At least one thin washer stands under the nut, at
    most two of any; that is common practice. Printed grips may be 1/64 in off: try it in its hole.

    Examples
    --------
    >>> found = an_bolt_for("AN4", 0.40 * 25.4)
    >>> found.dash, found.washers
    (7, 'one washer')

    References
    ----------
    an-bolt-table
    p40-threads-in-bearing
    an960-washers
    bolt-practice
    """
    if not math.isfinite(stack_mm) or stack_mm <= 0:
        raise ValueError(f"the stack must be above zero, not {stack_mm:g}")
    if stack_mm < LEAST_STACK_MM:
        raise ValueError(
            f"a stack of {stack_mm:g} mm is thinner than any two sheets ({LEAST_STACK_MM:g} mm): look at its unit"
        )
    if stack_mm > 250:
        raise ValueError(f"a stack of {stack_mm:g} mm is past 250 mm: look at its unit")
    if bolt not in AN_BOLTS:
        raise OutsideTable(f"there are {', '.join(AN_BOLTS)} here, not {bolt}")
    for dash in range(3, LONGEST_DASH + 1):
        try:
            found = an_bolt(bolt, dash)
        except OutsideTable:
            continue
        if found.grip_mm >= stack_mm - 1e-6:
            break
    else:
        raise OutsideTable(f"no {bolt} is long enough for {stack_mm:g} mm")
    over = max(0.0, found.grip_mm - stack_mm)
    fit = next(((t * MM_PER_IN, words) for t, words in WASHERS if t * MM_PER_IN >= over - 1e-6), None)
    if fit is None:
        raise OutsideTable(
            f"a stack of {stack_mm:g} mm is too thin for the shortest {bolt}: two washers do not fill it"
        )
    thick, words = fit
    said = thirtyseconds(round(found.grip_mm / MM_PER_IN * 32))
    return BoltChoice(
        working=working(
            "the shortest bolt with grip >= stack; washers >= grip - stack",
            [
                ("stack", round(stack_mm, 3), "mm", "typed"),
                ("grip", round(found.grip_mm, 3), "mm", f"{bolt}-{found.dash}"),
                ("length", round(found.length_mm, 3), "mm", f"{bolt}-{found.dash}"),
                ("grip over the stack", round(over, 3), "mm", "computed"),
                ("washers", round(thick, 3), "mm", words),
            ],
            ("an-bolt-table", "p40-threads-in-bearing", "an960-washers", "bolt-practice"),
            ("Printed grips may be 1/64 in off, and the smallest washers are thinner: try it in its hole.",),
            "AN3 to AN6.",
        ),
        bolt=bolt,
        dash=found.dash,
        grip_mm=found.grip_mm,
        length_mm=found.length_mm,
        over_mm=over,
        washers=words,
        washers_mm=thick,
        sentence=f"{bolt}-{found.dash}, grip {said} in ({found.grip_mm:.2f} mm), {over:.2f} mm over the stack: {words} under the nut.",
    )


def bolt_load(thread: str, grade: str) -> BoltLoad:
    """Return the proof load, and where it is printed the least breaking load, of a metric coarse bolt.

    Parameters
    ----------
    thread : str
        `M3` to `M27`, coarse. [-]
    grade : str
        `4.6` to `12.9`, as marked on the head. [-]

    Returns
    -------
    BoltLoad
        Loads. [N]

    Raises
    ------
    OutsideTable
        A thread or a grade that the standard's table does not hold.

    Notes
    -----
    Stress area times proof stress; the table prints three figures, so it may differ by 7 in a thousand. A static load
    of a whole, unworn, unplated bolt; what a joint may carry is another question.

    Examples
    --------
    >>> round(bolt_load("M8", "8.8").proof_n, -2)
    21200.0

    References
    ----------
    iso898-loads
    iso-thread-tables
    """
    name = thread.strip().upper().removesuffix(" COARSE")
    held = dict.fromkeys(row["thread"] for row in load_table("proof_loads").rows)
    if name not in held:
        raise OutsideTable(f"the table holds {', '.join(held)}, all coarse, not {thread or 'none'}")
    if grade not in GRADES:
        raise OutsideTable(f"a grade is one of {', '.join(GRADES)}, not {grade or 'none'}")
    if not any(row["thread"] == name and row["class"] == grade for row in load_table("proof_loads").rows):
        raise OutsideTable(f"the table has no {name} of grade {grade}")
    row = next(
        r for r in load_table("threads_metric").rows if r["size"].split("x")[0] == name and "coarse" in r["series"]
    )
    small, large, rm_small, rm_large = GRADES[grade]
    at_most = float(row["d_mm"]) <= UP_TO_MM
    area = profile(float(row["d_mm"]), float(row["P_mm"])).stress_area_mm2
    proof, strength = (small, rm_small) if at_most else (large, rm_large)
    breaks = None if strength is None else strength * area
    rows: list[tuple[str, float | int | str, str, str]] = [
        ("stress area", round(area, 2), "mm2", row["size"]),
        ("proof stress", proof, "MPa", f"grade {grade}"),
        ("proof load", round(proof * area), "N", "computed"),
    ]
    if breaks is not None and strength is not None:
        rows += [
            ("tensile strength", strength, "MPa", f"grade {grade}"),
            ("breaks at", round(breaks), "N", "at the least"),
        ]
    sentence = f"{name} of grade {grade} holds {proof * area:,.0f} N without lasting stretch"
    sentence += f" and breaks at {breaks:,.0f} N at the least." if breaks is not None else "."
    return BoltLoad(
        working=working(
            "load = stress area x stress",
            rows,
            ("iso898-loads", "iso-thread-tables"),
            ("A whole, unworn bolt pulled along its axis. After plating, bake and test as its standard says.",),
            "M3 to M27 coarse, as far as the standard's table goes.",
        ),
        thread=name,
        grade=grade,
        stress_area_mm2=area,
        proof_n=proof * area,
        ultimate_n=breaks,
        sentence=sentence,
    )
