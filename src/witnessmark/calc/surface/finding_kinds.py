"""Kinds of findings, the figures each asks for after cleaning, and how a typed figure with its uncertainty is read."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from witnessmark.calc.units import UnknownSize, parse_length

HOLE_LARGEST_MM = 200.0


class BadFigure(ValueError):
    """A figure that cannot be read or cannot be; the message says what was typed and what to do."""


@dataclass(frozen=True)
class Figure:
    """One figure of a finding; its unit is in its name."""

    name: str
    words: str
    unit: str
    reads: str  # length, area, number, percent or count
    doubt: bool = False  # whether the figure means little without its uncertainty
    needed: bool = False


@dataclass(frozen=True)
class FindingKind:
    """One kind of finding and what is asked of it once the part is clean."""

    key: str
    words: str
    figures: tuple[str, ...]
    hint: str = ""


@dataclass(frozen=True)
class Read:
    """A typed figure as it was read; without an uncertainty, none was given."""

    value: float
    plus_minus: float | None
    typed: str


FIGURES = {
    f.name: f
    for f in (
        Figure("pit_depth_mm", "Depth of the deepest pit", "mm", "length", doubt=True, needed=True),
        Figure("pit_area_mm2", "Area that is pitted", "mm2", "area"),
        Figure("lifted_mm", "Metal lifted", "mm", "length", doubt=True),
        Figure("length_mm", "Length", "mm", "length"),
        Figure("crack_length_mm", "Length of the crack", "mm", "length", doubt=True, needed=True),
        Figure("crack_count", "Cracks", "", "count"),
        Figure("worn_mm", "Depth of the wear", "mm", "length", doubt=True, needed=True),
        Figure("remaining_mm", "Metal left at the worst place", "mm", "length", doubt=True),
        Figure("thickness_mm", "Original thickness, measured beside it", "mm", "length", doubt=True),
        Figure("hole_mm", "The hole", "mm", "length", doubt=True, needed=True),
        Figure("hole_wanted_mm", "What it should be", "mm", "length"),
        Figure("edge_mm", "Hole centre to the edge", "mm", "length"),
        Figure("hole_count", "Holes", "", "count"),
        Figure("bend_mm", "Out of straight, deepest", "mm", "length", doubt=True, needed=True),
        Figure("over_mm", "Over a length of", "mm", "length"),
        Figure("hardness_hrc", "Hardness, Rockwell C", "HRC", "number", doubt=True),
        Figure("hardness_hb", "Hardness, Brinell", "HB", "number", doubt=True),
        Figure("conductivity_iacs", "Conductivity", "% IACS", "percent", doubt=True),
        Figure("joints_open", "Glue joints open", "", "count", needed=True),
        Figure("joints_of", "Glue joints looked at", "", "count"),
        Figure("gap_length_mm", "Length of the open glue line", "mm", "length"),
        Figure("patch_length_mm", "Repair, along", "mm", "length"),
        Figure("patch_width_mm", "Repair, across", "mm", "length"),
        Figure("patch_thickness_mm", "Repair, its sheet", "mm", "length"),
        Figure("cut_length_mm", "Length of the cut", "mm", "length", needed=True),
        Figure("missing_count", "Missing", "", "count", needed=True),
        Figure("work_hours", "Hours it adds, as reckoned now", "h", "number"),
    )
}

KINDS = {
    k.key: k
    for k in (
        FindingKind("pitting", "pitting", ("pit_depth_mm", "pit_area_mm2", "thickness_mm", "remaining_mm")),
        FindingKind("exfoliation", "exfoliation", ("lifted_mm", "length_mm", "thickness_mm", "remaining_mm")),
        FindingKind("crack", "crack", ("crack_length_mm", "crack_count", "edge_mm", "thickness_mm"),
                    "A crack is measured after the crack test; the program does not interpret the test."),
        FindingKind("wear", "worn or scored", ("worn_mm", "length_mm", "thickness_mm", "remaining_mm")),
        FindingKind("hole", "hole", ("hole_mm", "hole_wanted_mm", "edge_mm", "hole_count")),
        FindingKind("bent", "bent or dented", ("bend_mm", "over_mm")),
        FindingKind("temper", "soft or overheated", ("hardness_hrc", "hardness_hb", "conductivity_iacs"),
                    "Conductivity for light alloys, hardness for steel: on bare metal, beside a reference piece."),
        FindingKind("glue", "glue joint", ("joints_open", "joints_of", "gap_length_mm")),
        FindingKind("wrong", "wrong for the type", ()),
        FindingKind("repair", "earlier repair", ("patch_length_mm", "patch_width_mm", "patch_thickness_mm")),
        FindingKind("cut", "cut", ("cut_length_mm", "remaining_mm", "thickness_mm")),
        FindingKind("missing", "missing", ("missing_count",)),
        FindingKind("other", "something else", ()),
    )
}  # fmt: skip


def figures_of(kind: str) -> tuple[Figure, ...]:
    """Return the figures that a kind asks for, the hours it adds last.

    Parameters
    ----------
    kind : str
        Kind of finding; another word asks for the hours alone. [-]

    Returns
    -------
    tuple of Figure
        In the order they are asked.

    Examples
    --------
    >>> [f.name for f in figures_of("glue")]
    ['joints_open', 'joints_of', 'gap_length_mm', 'work_hours']

    References
    ----------
    none: the shop's own list.
    """
    own = KINDS[kind].figures if kind in KINDS else ()
    return tuple(FIGURES[name] for name in (*own, "work_hours"))


def _part(figure: Figure, text: str) -> float:
    if figure.reads == "length":
        if re.fullmatch(r"0+(?:[.,]0*)?\s*(?:mm|in)?", text.strip(), re.IGNORECASE):
            return 0.0  # nothing left is a figure; a size is not
        try:
            return parse_length(text).mm
        except UnknownSize as why:
            raise BadFigure(f"{figure.words}: {why}") from None
    number = re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*(?:hrc|hb|%|% ?iacs|h|hours|mm2|mm²)?", text.strip(), re.IGNORECASE)
    if number is None:
        like = {"area": "12 x 8 mm or 96 mm2", "count": "11", "percent": "32.5 %"}.get(figure.reads, "34.5")
        raise BadFigure(f"{figure.words}: '{text[:40]}' is no figure. Type it like {like}.")
    return float(number[1].replace(",", "."))


def _value(figure: Figure, text: str) -> float:
    sides = re.split(r"\s*[x×*]\s*", text.strip(), flags=re.IGNORECASE)
    if figure.reads == "area" and len(sides) == 2:
        unit = re.search(r"(mm|cm|in|\")\s*$", sides[1])
        first = sides[0] if re.search(r"[a-z\"]", sides[0]) or unit is None else f"{sides[0]} {unit[1]}"
        try:
            return parse_length(first).mm * parse_length(sides[1]).mm
        except UnknownSize as why:
            raise BadFigure(f"{figure.words}: {why}") from None
    return _part(figure, text)


def read_figure(name: str, text: str) -> Read:
    """Read one typed figure with its uncertainty.

    Parameters
    ----------
    name : str
        Figure, such as `pit_depth_mm`. [-]
    text : str
        As typed: `0.3 mm`, `0.012 in`, `0.30 ± 0.05 mm`, `12 x 8 mm`. [-]

    Returns
    -------
    Read
        Value and uncertainty in the unit of the name.

    Raises
    ------
    BadFigure
        No such figure, no number, nought where something was found, or an uncertainty as large as the figure.

    Examples
    --------
    >>> read_figure("pit_depth_mm", "0.30 +/- 0.05 mm").plus_minus
    0.05
    >>> round(read_figure("pit_depth_mm", "0.012 in").value, 4)
    0.3048
    >>> read_figure("pit_area_mm2", "12 x 8 mm").value
    96.0

    References
    ----------
    none: reads what was typed.
    """
    figure = FIGURES.get(name)
    if figure is None:
        raise BadFigure(f"'{name[:40]}' is no figure of a finding.")
    typed = " ".join(text.split())[:60]
    halves = re.split(r"\s*(?:±|\+\s*/?\s*-)\s*", typed)
    if len(halves) > 2 or not halves[0]:
        raise BadFigure(f"{figure.words}: '{typed}' is no figure. Type it like 0.30 ± 0.05 mm.")
    unit = re.search(r"[a-z\"%²]+[0-9]?\s*$", halves[-1], re.IGNORECASE)
    first = halves[0]
    if len(halves) == 2 and unit and not re.search(r"[a-z\"%]", first, re.IGNORECASE):
        first = f"{first} {unit[0]}"
    value = _value(figure, first)
    doubt = _part(figure, halves[1]) if len(halves) == 2 else None
    if figure.reads == "count" and value != int(value):
        raise BadFigure(f"{figure.words}: '{typed}' is no whole number. Count again.")
    may_be_nought = name in ("work_hours", "remaining_mm", "joints_open")
    if not math.isfinite(value) or value < 0 or (value == 0 and not may_be_nought):
        raise BadFigure(f"{figure.words}: '{typed}' is not above nought. Measure again, or leave it empty.")
    if figure.reads == "percent" and value > 120:
        raise BadFigure(f"{figure.words}: '{typed}' is more than any metal has (copper: about 100 % IACS).")
    if name == "hardness_hrc" and not 0 < value <= 70:
        raise BadFigure(f"{figure.words}: the C scale ends at 70, '{typed}' is not on it.")
    if doubt is not None and value > 0 and doubt >= value:
        raise BadFigure(
            f"{figure.words}: the uncertainty of '{typed}' is as large as the figure. Measure it another way."
        )
    return Read(value, doubt, typed)


def check_together(kind: str, figures: dict[str, Read]) -> None:
    """Refuse figures of one finding that cannot stand together.

    Parameters
    ----------
    kind : str
        Kind of finding. [-]
    figures : dict of str to Read
        What is measured, the older figures included. [-]

    Returns
    -------
    None
        Where they can stand together.

    Raises
    ------
    BadFigure
        A pit deeper than the metal, more left than there was, more joints open than were looked at, a hole smaller
        than the edge allows.

    Examples
    --------
    >>> check_together("pitting", {"pit_depth_mm": Read(0.3, None, ""), "thickness_mm": Read(1.0, None, "")})

    References
    ----------
    none: geometry.
    """

    def of(name: str) -> float:
        return figures[name].value if name in figures else math.nan

    thick = of("thickness_mm")
    for name in ("pit_depth_mm", "worn_mm"):
        if of(name) >= thick:
            raise BadFigure(
                f"{FIGURES[name].words} {of(name):g} mm is not less than the metal, {thick:g} mm. "
                "If it goes through, the finding is a hole."
            )
    if of("remaining_mm") > thick:
        raise BadFigure(
            f"More metal left ({of('remaining_mm'):g} mm) than the original ({thick:g} mm). Measure both again."
        )
    deepest = of("pit_depth_mm") if "pit_depth_mm" in figures else of("worn_mm")
    slack = sum(
        figures[n].plus_minus or 0.0
        for n in ("pit_depth_mm", "worn_mm", "thickness_mm", "remaining_mm")
        if n in figures
    )
    if abs(thick - deepest - of("remaining_mm")) > max(0.1, slack):
        raise BadFigure(
            f"Thickness {thick:g}, depth {deepest:g} and metal left {of('remaining_mm'):g} mm do not add up. "
            "Measure again, and leave out what was not measured."
        )
    if of("joints_open") > of("joints_of"):
        raise BadFigure(f"{of('joints_open'):g} joints open of {of('joints_of'):g} looked at. Count again.")
    if kind == "hole" and (of("hole_mm") > HOLE_LARGEST_MM or of("hole_mm") / 2 >= of("edge_mm")):
        raise BadFigure("The hole reaches the edge: type the distance from the hole's centre to the edge.")
