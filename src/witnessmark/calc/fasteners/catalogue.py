"""The catalogue: every size of every family with its shape, its source and how far that can be trusted."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Literal, cast

from witnessmark.calc.fasteners.threads import ba_size, major_limits_mm
from witnessmark.calc.sources import Status
from witnessmark.calc.tables import load_table
from witnessmark.calc.units import MM_PER_IN

Form = Literal["flush", "domed", "round", "universal", "thread"]
FORMS: tuple[Form, ...] = ("flush", "domed", "round", "universal", "thread")


@dataclass(frozen=True)
class Shape:
    """One size as it can be measured; a shank runs from nominal minus `shank_minus_mm` to plus `shank_plus_mm`."""

    code: str
    family: str
    form: Form
    shank_mm: float
    shank_minus_mm: float
    shank_plus_mm: float
    hole_mm: float
    head_mm: float | None
    head_tol_mm: float
    head_deg: float | None
    head_height_mm: float | None
    pitch_mm: float | None
    thread_deg: float | None
    across_flats_mm: float | None
    length_step_mm: float
    magnetic: float
    marked: bool
    source: str
    status: Status

    @property
    def big_word(self) -> str:
        """The size as it is called across the bench."""
        return self.code

    @property
    def figure(self) -> str:
        """The one figure that goes with the word."""
        if self.pitch_mm is not None:
            return f"{self.shank_mm:.2f} mm, pitch {self.pitch_mm:.3f} mm"
        return f"shank {self.shank_mm:.2f} mm"


def cone_height(head_mm: float, shank_mm: float, head_deg: float) -> float:
    """Return the height of a countersunk head from its cone.

    Parameters
    ----------
    head_mm : float
        Diameter of the head. [mm]
    shank_mm : float
        Diameter of the shank. [mm]
    head_deg : float
        Angle of the cone. [degree]

    Returns
    -------
    float
        (head - shank) / 2 over the tangent of half the angle. [mm]

    Raises
    ------
    ValueError
        A head that is not larger than its shank, or an angle outside 0 to 180 degrees.

    Examples
    --------
    >>> round(cone_height(2.0, 1.0, 90), 3)
    0.5

    References
    ----------
    bs4620-t6
    bs275
    """
    if not 0 < shank_mm < head_mm or not 0 < head_deg < 180:
        raise ValueError(f"no cone of {head_deg} degrees from {head_mm} mm to {shank_mm} mm")
    return (head_mm - shank_mm) / 2 / math.tan(math.radians(head_deg / 2))


def rivet_shape(
    code: str,
    family: str,
    form: Form,
    shank_mm: float,
    head_mm: float,
    head_deg: float | None = None,
    head_height_mm: float | None = None,
    source: str = "measured",
    status: Status = "read",
    inch: bool = False,
    hole_mm: float | None = None,
    shank_minus_mm: float | None = None,
    dome_mm: float = 0.0,
    marked: bool = False,
    head_tol_mm: float | None = None,
) -> Shape:
    """Make the shape of a solid rivet; what was not given follows from geometry or habit.

    Parameters
    ----------
    code : str
        What the size is called. [-]
    family : str
        The family it is of. [-]
    form : str
        One of flush, domed, round, universal. [-]
    shank_mm : float
        Nominal diameter of the shank. [mm]
    head_mm : float
        Diameter of the head. [mm]
    head_deg : float or None
        Angle of a countersunk head. [degree]
    head_height_mm : float or None
        Height of the head; a countersunk one follows from its cone and dome. [mm]
    source : str
        Where the figures are from, in words. [-]
    status : str
        read, quoted, derived or memory. [-]
    inch : bool
        True for an inch rivet: its tolerance lies above nominal, its lengths go in 16ths. [-]
    hole_mm : float or None
        Nominal hole; 0.1 mm above the shank up to 5 mm, else 0.2 mm. [mm]
    shank_minus_mm : float or None
        How far below nominal a shank may lie. [mm]
    dome_mm : float
        Height of a dome above the cone. [mm]
    marked : bool
        True where heads carry the mark of the alloy. [-]
    head_tol_mm : float or None
        How far a head may depart from its diameter; 0.03 mm and 1.25 % where not given, about the 0.004 in of inch heads. [mm]

    Returns
    -------
    Shape
        The size with all that can be measured on it.

    Raises
    ------
    ValueError
        A flush head without its angle, or a head that is not larger than its shank.

    Examples
    --------
    >>> round(rivet_shape("VN11-3.0", "house", "domed", 3.0, 6.3, 120, dome_mm=0.4).head_height_mm, 2)
    1.35

    References
    ----------
    fastener-habits
    lecture-notes-rivets
    """
    if not 0 < shank_mm < head_mm:
        raise ValueError(f"{code}: a head of {head_mm} mm is not larger than its shank of {shank_mm} mm")
    if form in ("flush", "domed"):
        if head_deg is None:
            raise ValueError(f"{code}: a flush head needs its angle")
        if head_height_mm is None:
            head_height_mm = cone_height(head_mm, shank_mm, head_deg) + dome_mm
    usual_minus = 0.025 if inch else min(0.18, 0.06 + 0.02 * shank_mm)
    return Shape(
        code=code,
        family=family,
        form=form,
        shank_mm=shank_mm,
        shank_minus_mm=usual_minus if shank_minus_mm is None else shank_minus_mm,
        shank_plus_mm=0.076 if inch else 0.03,
        hole_mm=hole_mm if hole_mm is not None else shank_mm + (0.1 if shank_mm <= 5 else 0.2),
        head_mm=head_mm,
        head_tol_mm=0.03 + 0.0125 * head_mm if head_tol_mm is None else head_tol_mm,
        head_deg=head_deg,
        head_height_mm=head_height_mm,
        pitch_mm=None,
        thread_deg=None,
        across_flats_mm=None,
        length_step_mm=MM_PER_IN / 16 if inch else 1.0,
        magnetic=0.05 if marked else 0.15,
        marked=marked,
        source=source,
        status=status,
    )


def thread_shape(
    code: str,
    family: str,
    shank_mm: float,
    pitch_mm: float,
    thread_deg: float = 60.0,
    across_flats_mm: float | None = None,
    source: str = "measured",
    status: Status = "read",
    inch: bool = False,
) -> Shape:
    """Make the shape of a bolt or screw.

    Parameters
    ----------
    code : str
        What the size is called. [-]
    family : str
        The family it is of. [-]
    shank_mm : float
        Nominal outside diameter of the thread. [mm]
    pitch_mm : float
        From thread to thread. [mm]
    thread_deg : float
        Angle between the flanks. [degree]
    across_flats_mm : float or None
        Width of the usual hexagon; none where the size has no usual one. [mm]
    source : str
        Where the figures are from, in words. [-]
    status : str
        read, quoted, derived or memory. [-]
    inch : bool
        True where lengths go in 16ths of an inch. [-]

    Returns
    -------
    Shape
        The size with all that can be measured on it.

    Raises
    ------
    ValueError
        A diameter or pitch that no thread has.

    Examples
    --------
    >>> thread_shape("M8x1", "metric fine", 8.0, 1.0).figure
    '8.00 mm, pitch 1.000 mm'

    References
    ----------
    iso965-deviation
    iso965-tolerance
    """
    if not 0 < 1.3 * pitch_mm < shank_mm:
        raise ValueError(f"{code}: no thread of {shank_mm} mm has a pitch of {pitch_mm} mm")
    least, most = major_limits_mm(pitch_mm)
    return Shape(
        code=code,
        family=family,
        form="thread",
        shank_mm=shank_mm,
        shank_minus_mm=most,
        shank_plus_mm=-least,
        hole_mm=shank_mm + 0.1,
        head_mm=None,
        head_tol_mm=0.0,
        head_deg=None,
        head_height_mm=None,
        pitch_mm=pitch_mm,
        thread_deg=thread_deg,
        across_flats_mm=across_flats_mm,
        length_step_mm=MM_PER_IN / 16 if inch else 1.0,
        magnetic=0.85,
        marked=False,
        source=source,
        status=status,
    )


def _metric_rivets() -> Iterator[Shape]:
    for row in load_table("rivets_metric").rows:
        head = row["head"]
        form: Form = "flush" if head == "countersunk" else "universal" if head == "universal" else "round"
        deg = float(row["csk_angle_deg"]) if row["csk_angle_deg"] else None
        rough = row["standard"].startswith("LN")
        d_mm, head_mm = float(row["d_mm"]), float(row["head_dia_mm"])
        height = float(row["head_height_k_mm"]) if row["head_height_k_mm"] else None
        least = float(row["shank_min_mm"]) if row["shank_min_mm"] else None
        yield rivet_shape(
            f"{row['standard'].split(' / ')[0]} {d_mm:g}",
            row["standard"].split(" / ")[0],
            form,
            d_mm,
            head_mm,
            deg,
            height,
            source=row["source"],
            status=cast("Status", row["status"]),
            shank_minus_mm=d_mm - least if least is not None else None,
            marked=rough,
            # The lecture notes give a rule for these heads, not their sheet.
            head_tol_mm=0.06 * head_mm if rough else None,
        )


def _inch_rivets() -> Iterator[Shape]:
    holes = {
        round(float(row["d_in"]), 4): float(row["nominal_hole_in"]) * MM_PER_IN
        for row in load_table("rivet_holes").rows
    }
    for row in load_table("rivets_us_inch").rows:
        d_in = float(row["d_in"])
        name = _thirty_seconds(int(row["dash"]))
        for form, family, column in (
            ("flush", "inch flush 100", "csk100"),
            ("universal", "inch universal", "universal"),
        ):
            yield rivet_shape(
                f"{name} {family.removeprefix('inch ')}",
                family,
                cast("Form", form),
                d_in * MM_PER_IN,
                float(row[f"{column}_head_dia_in"]) * MM_PER_IN,
                100.0 if form == "flush" else None,
                float(row[f"{column}_head_height_in"]) * MM_PER_IN,
                source=row["source"],
                status=cast("Status", row["status"]),
                inch=True,
                hole_mm=holes.get(round(d_in, 4), d_in * MM_PER_IN * 1.03),
                marked=True,
            )


def _thirty_seconds(dash: int) -> str:
    shared = math.gcd(dash, 32)
    return f"{dash // shared}/{32 // shared}"


def _rivets_by_rule() -> Iterator[Shape]:
    for row in load_table("rivets_by_rule").rows:
        inch = row["unit"] == "in"
        for size in row["sizes"].split():
            top, _, bottom = size.partition("/")
            d_mm = float(top) / float(bottom or 1) * (MM_PER_IN if inch else 1)
            yield rivet_shape(
                f"{row['code']} {size}",
                row["family"],
                cast("Form", row["head"]),
                d_mm,
                round(float(row["head_over_d"]) * d_mm, 2),
                float(row["csk_angle_deg"]),
                source=f"{row['source']}: {row['note']}",
                status=cast("Status", row["status"]),
                inch=inch,
                dome_mm=float(row["dome_over_d"]) * d_mm,
            )


def _threads() -> Iterator[Shape]:
    hexagons = {(row["system"], row["size"]): float(row["across_flats_mm"]) for row in load_table("hexagons").rows}
    for row in load_table("threads_metric").rows:
        series = "metric coarse" if row["series"].startswith("coarse") else "metric fine"
        flats = hexagons.get(("metric", row["size"].split("x")[0]))
        status = cast("Status", row["status"])
        yield thread_shape(
            row["size"], series, float(row["d_mm"]), float(row["P_mm"]), 60.0, flats, row["source"], status
        )
    for row in load_table("threads_unf").rows:
        d_mm, pitch_mm = float(row["major_in"]) * MM_PER_IN, MM_PER_IN / float(row["tpi"])
        flats, name = hexagons.get(("UNF", row["size"])), f"{row['size']}-{row['tpi']} UNF"
        status = cast("Status", row["status"])
        yield thread_shape(name, "UNF", d_mm, pitch_mm, 60.0, flats, row["source"], status, inch=True)
    for row in load_table("threads_memory").rows:
        d_mm, pitch_mm = float(row["major_in"]) * MM_PER_IN, MM_PER_IN / float(row["tpi"])
        flats = float(row["across_flats_in"]) * MM_PER_IN if row["across_flats_in"] else None
        flanks = 60.0 if row["system"] == "UNC" else 55.0
        name = f"{row['size']}-{row['tpi']} {row['system']}"
        yield thread_shape(name, row["system"], d_mm, pitch_mm, flanks, flats, row["source"], "memory", inch=True)
    for number in range(13):
        d_mm, pitch_mm = ba_size(number)
        flats = hexagons.get(("BA", str(number)))
        yield thread_shape(f"{number} BA", "BA", d_mm, pitch_mm, 47.5, flats, "law from memory", "memory", inch=True)


@cache
def built_in() -> tuple[Shape, ...]:
    """Return every size that comes with the program.

    Returns
    -------
    tuple of Shape
        Rivets, then bolts and screws; each names its source and status.

    Examples
    --------
    >>> len({shape.family for shape in built_in()}) > 15
    True

    References
    ----------
    rivets-metric
    rivets-inch
    rivets-by-rule
    iso-thread-tables
    ba-law
    """
    return (*_inch_rivets(), *_metric_rivets(), *_rivets_by_rule(), *_threads())


def alike(one: Shape, other: Shape) -> bool:
    """Tell whether two sizes are one thing under two names: nothing that can be measured on a piece parts them.

    Parameters
    ----------
    one : Shape
        A size. [-]
    other : Shape
        Another size. [-]

    Returns
    -------
    bool
        True where form and angles agree, shanks within 0.05 mm, heads and heights within what their tolerances
        leave, pitches within 0.3 %.

    Examples
    --------
    >>> by_code = {shape.code: shape for shape in built_in()}
    >>> alike(by_code["LN 9198 4"], by_code["5/32 universal"])
    True

    References
    ----------
    none: compares the figures of the catalogue.
    """
    if one.form != other.form or abs(one.shank_mm - other.shank_mm) > 0.0505:
        return False
    if (one.head_deg or 0) != (other.head_deg or 0) or (one.thread_deg or 0) != (other.thread_deg or 0):
        return False
    if one.pitch_mm and other.pitch_mm:
        return abs(one.pitch_mm / other.pitch_mm - 1) < 0.003
    room_mm = max(one.head_tol_mm, other.head_tol_mm, 0.105)
    if one.head_mm and other.head_mm and abs(one.head_mm - other.head_mm) > room_mm:
        return False
    if one.head_height_mm and other.head_height_mm:
        if one.head_deg:  # the height of a cone follows its diameter
            room_mm /= 2 * math.tan(math.radians(one.head_deg / 2))
        return abs(one.head_height_mm - other.head_height_mm) < 0.06 + room_mm
    return True
