"""Plating: specifications, types and classes, growth under the coat, and the threads on which a nut still runs."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from witnessmark.calc.sources import Status
from witnessmark.calc.tables import OutsideTable, load_table
from witnessmark.calc.working import Answer, working


@dataclass(frozen=True)
class ThreadGrowth:
    """How much a coat adds to a thread."""

    pitch_um: float
    major_um: float


@dataclass(frozen=True)
class Coat:
    """A class of a plating specification with its least thickness."""

    spec: str
    code: str
    least_um: float
    source: str
    status: Status


@dataclass(frozen=True)
class NutRuns(Answer):
    """Which coats leave the bolt's thread under its basic profile, so that the nut still runs."""

    deviation_um: float
    thickest_um: float
    runs: tuple[Coat, ...]
    jams: tuple[Coat, ...]


@dataclass(frozen=True)
class PlatedSize(Answer):
    """A size before and after the coat, at its least and its likely most thickness."""

    before_mm: float
    after_least_mm: float
    after_most_mm: float


def thread_growth(coat_um: float, angle_deg: float = 60.0) -> ThreadGrowth:
    """Return what an even coat adds to the diameters of a thread.

    Parameters
    ----------
    coat_um : float
        Thickness of the coat on the flank. [um]
    angle_deg : float
        Included angle of the thread: 60 metric and unified, 55 BSF, 47.5 BA. [deg]

    Returns
    -------
    ThreadGrowth
        Added to the pitch diameter and to the major (or minor) diameter, in um.

    Raises
    ------
    ValueError
        A negative coat, or an angle not between 0 and 180 degrees.

    Notes
    -----
    Pitch diameter: 2 t / sin(a/2), which is 4 t at 60 degrees. A real coat is thicker at the crest.

    Examples
    --------
    >>> growth = thread_growth(5.0)
    >>> round(growth.pitch_um, 3), growth.major_um
    (20.0, 10.0)

    References
    ----------
    iso4042-annex
    """
    if not math.isfinite(coat_um) or coat_um < 0 or not 0 < angle_deg < 180:
        raise ValueError("a coat is not negative and a thread angle lies between 0 and 180 degrees")
    return ThreadGrowth(2 * coat_um / math.sin(math.radians(angle_deg) / 2), 2 * coat_um)


def thickest_coat(deviation_um: float, angle_deg: float = 60.0) -> float:
    """Return the coat that uses up the gap between a bolt thread and its basic profile.

    Parameters
    ----------
    deviation_um : float
        Fundamental deviation of the pitch diameter, as an amount. [um]
    angle_deg : float
        Included angle of the thread. [deg]

    Returns
    -------
    float
        Coat on the flank. [um]

    Raises
    ------
    ValueError
        A negative deviation, or an angle not between 0 and 180 degrees.

    Examples
    --------
    >>> round(thickest_coat(26.0), 2)
    6.5

    References
    ----------
    iso965-1-g
    iso4042-annex
    """
    if not math.isfinite(deviation_um) or deviation_um < 0 or not 0 < angle_deg < 180:
        raise ValueError("a deviation is not negative and a thread angle lies between 0 and 180 degrees")
    return deviation_um * math.sin(math.radians(angle_deg) / 2) / 2


def specifications() -> tuple[str, ...]:
    """Return the plating specifications of which figures are held.

    Returns
    -------
    tuple of str
        Names as printed.

    Examples
    --------
    >>> "QQ-P-416F" in specifications()
    True

    References
    ----------
    plating-specs
    """
    return tuple(dict.fromkeys(row["spec"] for row in load_table("plating_specs").rows))


def coats_of(spec: str) -> tuple[Coat, ...]:
    """Return the classes of a specification with their least thickness.

    Parameters
    ----------
    spec : str
        Specification as called out. [-]

    Returns
    -------
    tuple of Coat
        Thickest first; empty where the specification leaves it to the drawing.

    Raises
    ------
    OutsideTable
        A specification of which nothing is held.

    Examples
    --------
    >>> [(c.code, round(c.least_um, 2)) for c in coats_of("QQ-P-416F")]
    [('1', 12.7), ('2', 7.62), ('3', 5.08)]

    References
    ----------
    plating-specs
    """
    if spec not in specifications():
        raise OutsideTable(
            f"Nothing is held of '{spec}'. Held are: {', '.join(specifications())}. Ask for its document."
        )
    found = []
    for row in load_table("plating_specs").rows:
        unit = row["unit"].split(" ")[0]
        if row["spec"] != spec or row["kind"] not in ("class", "SC", "grade") or unit not in ("um", "in"):
            continue
        if re.fullmatch(r"[0-9.]+", row["value"]):
            thick = float(row["value"]) * (1.0 if unit == "um" else 25400.0)
            found.append(Coat(spec, row["code"], thick, row["source"], row["status"]))  # type: ignore[arg-type]
    return tuple(sorted(found, key=lambda coat: -coat.least_um))


def type_means(spec: str, numeral: str) -> str:
    """Return what a specification's type numeral means; the same numeral means another thing elsewhere.

    Parameters
    ----------
    spec : str
        Specification as called out. [-]
    numeral : str
        Type as called out, such as `III`. [-]

    Returns
    -------
    str
        The words of that specification.

    Raises
    ------
    OutsideTable
        A specification or type of which nothing is held.

    Examples
    --------
    >>> type_means("QQ-P-416F", "III"), type_means("ASTM B766", "III")
    ('supplementary phosphate', 'colourless chromate')

    References
    ----------
    plating-specs
    """
    for row in load_table("plating_specs").rows:
        if row["spec"] == spec and row["kind"] == "type" and row["code"] == numeral:
            return row["value"]
    raise OutsideTable(
        f"Nothing is held of '{spec}' type {numeral}. A type is never carried over from another specification."
    )


def deviation_um(pitch_mm: float, position: str) -> float:
    """Return how far a bolt thread of a tolerance position stands under its basic profile.

    Parameters
    ----------
    pitch_mm : float
        From thread to thread. [mm]
    position : str
        Letter of the tolerance position: e, f, g or h. [-]

    Returns
    -------
    float
        Amount of the fundamental deviation of the pitch diameter. [um]

    Raises
    ------
    ValueError
        Another letter, or a pitch that is not between 0.2 and 6 mm.

    Notes
    -----
    15 + 11 P for g, 30 + 11 P for f, 50 + 11 P for e (not below a pitch of 0.5 mm), nothing for h; only g at a pitch
    of 1 mm (26 um) was read in print, the rest is from memory.

    Examples
    --------
    >>> deviation_um(1.0, "g"), deviation_um(1.0, "h")
    (26.0, 0.0)

    References
    ----------
    iso965-1-g
    iso965-formula
    """
    base = {"g": 15.0, "f": 30.0, "e": 50.0}
    if position == "h":
        return 0.0
    if position not in base or not 0.2 <= pitch_mm <= 6 or (position == "e" and pitch_mm < 0.5):
        raise ValueError(
            f"no tolerance position {position!r} is held for a pitch of {pitch_mm:g} mm: type e, f, g or h"
        )
    return base[position] + 11 * pitch_mm


def nut_runs(spec: str, pitch_mm: float, position: str = "g", angle_deg: float = 60.0) -> NutRuns:
    """Return which classes of a plating specification still let the nut run on.

    Parameters
    ----------
    spec : str
        Specification called out. [-]
    pitch_mm : float
        From thread to thread. [mm]
    position : str
        Tolerance position before plating. [-]
    angle_deg : float
        Included angle of the thread. [deg]

    Returns
    -------
    NutRuns
        Classes whose least coat stays under the basic profile, and those that pass it.

    Raises
    ------
    ValueError
        A pitch, position or angle that is not held.
    OutsideTable
        A specification of which nothing is held.

    Notes
    -----
    Judged by the least thickness of the class: the real coat is thicker, most at the crests and ends. The allowance is
    that of metric threads; for BA and BSF measure the thread and the nut instead.

    Examples
    --------
    >>> fit = nut_runs("ASTM B633", 1.0)
    >>> round(fit.thickest_um, 2), [c.code for c in fit.runs], [c.code for c in fit.jams]
    (6.5, ['SC1'], ['SC4', 'SC3', 'SC2'])

    References
    ----------
    iso965-1-g
    iso965-formula
    iso4042-annex
    plating-specs
    """
    gap = deviation_um(pitch_mm, position)
    most = thickest_coat(gap, angle_deg)
    coats = coats_of(spec)
    cautions = (
        "The real coat is thicker than the least of its class, most at crests and ends.",
        f"Gauge after plating: the coated bolt must pass a GO gauge of the basic profile ({'60 degree metric h' if angle_deg == 60 else 'its own form'}); before plating gauge at position {position}.",
    )
    return NutRuns(
        working=working(
            "growth of the pitch diameter = 2 t / sin(angle / 2); the nut runs while it is no more than the allowance",
            [
                ("pitch", pitch_mm, "mm", "given"),
                ("tolerance position", position, "-", "given"),
                ("allowance", gap, "um", "15 + 11 P for g"),
                ("thickest coat", most, "um", "formula"),
                *((f"class {c.code}", c.least_um, "um", f"{c.source} ({c.status})") for c in coats),
            ],
            ("iso965-1-g", "iso965-formula", "iso4042-annex", "plating-specs"),
            cautions,
            "Metric allowance; even coat.",
        ),
        deviation_um=gap,
        thickest_um=most,
        runs=tuple(c for c in coats if c.least_um <= most),
        jams=tuple(c for c in coats if c.least_um > most),
    )


def plated_size(size_mm: float, coat_least_um: float, coat_most_um: float, kind: str) -> PlatedSize:
    """Return a shaft's or bore's diameter after plating.

    Parameters
    ----------
    size_mm : float
        Diameter before. [mm]
    coat_least_um : float
        Least thickness of the coat. [um]
    coat_most_um : float
        Most thickness of the coat. [um]
    kind : str
        `shaft`, which grows, or `bore`, which shrinks. [-]

    Returns
    -------
    PlatedSize
        Diameter with the least and with the most coat.

    Raises
    ------
    ValueError
        Another kind, a size that is not above zero, coats out of order, or a bore that would close.

    Examples
    --------
    >>> done = plated_size(20.0, 5, 8, "shaft")
    >>> round(done.after_least_mm, 3), round(done.after_most_mm, 3)
    (20.01, 20.016)

    References
    ----------
    plating-growth
    """
    signs = {"shaft": 1, "bore": -1}
    if kind not in signs:
        raise ValueError(f"a shaft grows and a bore shrinks; {kind!r} is neither")
    if not size_mm > 0 or not 0 <= coat_least_um <= coat_most_um or not math.isfinite(size_mm + coat_most_um):
        raise ValueError("a size is above zero, and the least coat is no more than the most")
    least, most = (size_mm + signs[kind] * 2 * coat / 1000 for coat in (coat_least_um, coat_most_um))
    if most <= 0:
        raise ValueError("that coat would close the bore")
    return PlatedSize(
        working=working(
            "after = before + 2 t for a shaft, before - 2 t for a bore",
            [
                ("before", size_mm, "mm", "given"),
                ("coat", f"{coat_least_um:g} to {coat_most_um:g}", "um", "given"),
            ],
            ("plating-growth",),
            ("Gauge it after plating: edges and ends build up more than the middle.",),
            "Even coat on all of the surface.",
        ),
        before_mm=size_mm,
        after_least_mm=least,
        after_most_mm=most,
    )
