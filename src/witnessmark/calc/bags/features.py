"""What is measured on small hardware, how a coat and wear change it, and what a bag's readings say of the bag."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache

# Surfaces that a coat grows on, as a factor on its thickness; wear takes away by the same factor.
_OUTSIDE, _BORE, _NONE = 2.0, -2.0, 0.0
GROWTH = {
    "diameter_mm": _OUTSIDE,
    "shank_diameter_mm": _OUTSIDE,
    "thread_major_diameter_mm": _OUTSIDE,
    "length_mm": _OUTSIDE,
    "shank_length_mm": 1.0,
    "grip_mm": 1.0,
    "head_width_mm": _OUTSIDE,
    "head_diameter_mm": _OUTSIDE,
    "head_height_mm": _OUTSIDE,
    "thickness_mm": _OUTSIDE,
    "outer_diameter_mm": _OUTSIDE,
    "hole_mm": _BORE,
    "thread_pitch_mm": _NONE,
    "ten_pitches_mm": _NONE,
    "head_angle_deg": _NONE,
    "mass_g": _NONE,
}
THREAD = "thread_pitch_diameter_mm"
FEATURES = (*GROWTH, THREAD)

# One reading's own error where nobody says: calliper on small hardware, pitch gauge or rule over ten pitches.
USUAL_SIGMA = {"thread_pitch_mm": 0.01, "ten_pitches_mm": 0.10, "head_angle_deg": 2.0, "mass_g": 0.1}
_CALLIPER_MM = 0.03


class UnknownFeature(ValueError):
    """A feature that nobody here knows how to measure or grow."""


@dataclass(frozen=True)
class Reading:
    """One figure read on one piece, in the unit of its feature, with its standard uncertainty; the mean of `times`."""

    value: float
    sigma: float
    times: int = 1


@dataclass(frozen=True)
class Feature:
    """What is known of one feature of a group before it left: mean of `n` pieces and the two spreads of one reading."""

    mean: float
    sigma_measure: float
    sigma_piece: float = 0.0
    n: int = 1
    from_catalogue: bool = False

    def __post_init__(self) -> None:
        if not all(map(math.isfinite, (self.mean, self.sigma_measure, self.sigma_piece))):
            raise ValueError("a feature's figures must be numbers")
        if self.sigma_measure < 0 or self.sigma_piece < 0 or self.n < 1:
            raise ValueError("a spread is not negative, and a mean rests on one piece at least")
        if self.sigma_measure == 0 and self.sigma_piece == 0:
            raise ValueError("nothing is known without any error: say how well it was measured")

    @property
    def variance(self) -> float:
        """Of one reading about the true mean."""
        return self.sigma_measure**2 + self.sigma_piece**2


@dataclass(frozen=True)
class Coat:
    """What the process adds a surface, and what blasting, tumbling or stripping takes from it."""

    thickness_um: float = 0.0
    spread_um: float = 0.0
    wear_um: float = 0.0
    wear_spread_um: float = 0.0
    thread_angle_deg: float = 60.0

    def __post_init__(self) -> None:
        figures = (self.thickness_um, self.spread_um, self.wear_um, self.wear_spread_um)
        if not all(math.isfinite(f) and f >= 0 for f in figures):
            raise ValueError("coat and wear are not negative")
        growth_factor(THREAD, self.thread_angle_deg)

    def growth(self, feature: str) -> float:
        """By how much a reading of this feature grows, in its unit."""
        return growth_factor(feature, self.thread_angle_deg) * (self.thickness_um - self.wear_um) / 1000

    def spread(self, feature: str) -> float:
        """How far that differs from piece to piece, one standard deviation."""
        each = math.hypot(self.spread_um, self.wear_spread_um) / 1000
        return abs(growth_factor(feature, self.thread_angle_deg)) * each


@dataclass(frozen=True)
class Group:
    """Pieces that left together and that the record does not tell apart: a bag, one size of it, or one hole's bolt.

    `looks` is what anybody sees without measuring (nut, hexagon bolt); groups of other looks are never mixed up.
    `basket` names what it was kept apart in: pieces of other baskets are hardly ever its own.
    """

    key: str
    bag: str
    count: int
    features: Mapping[str, Feature] = field(default_factory=dict)
    place: str = ""
    looks: str = ""
    mass_g: float | None = None
    basket: str = ""

    def __post_init__(self) -> None:
        if self.count < 1:
            raise ValueError(f"{self.key}: a count is a whole number above nought, not {self.count}")
        for name in self.features:
            growth_factor(name)


@dataclass(frozen=True)
class MeasuredPiece:
    """One piece that came back, with what was read on it."""

    key: str
    readings: Mapping[str, Reading] = field(default_factory=dict)
    looks: str = ""
    basket: str = ""

    def __post_init__(self) -> None:
        for name, reading in self.readings.items():
            growth_factor(name)
            if not (math.isfinite(reading.value) and math.isfinite(reading.sigma) and reading.sigma > 0):
                raise ValueError(f"{self.key}: {name} needs a number and an uncertainty above nought")


def growth_factor(feature: str, thread_angle_deg: float = 60.0) -> float:
    """Return by how many coat thicknesses a reading of this feature grows.

    Parameters
    ----------
    feature : str
        One of `FEATURES`. [-]
    thread_angle_deg : float
        Included angle of the thread; counts for the pitch diameter alone. [deg]

    Returns
    -------
    float
        2 on an outside size, -2 on a bore, 0 on a pitch, an angle or a mass; on a thread's pitch diameter
        2 / sin(half the thread angle), which is 4 at 60 degrees. [-]

    Raises
    ------
    UnknownFeature
        No such feature.
    ValueError
        A thread angle outside 20 to 90 degrees.

    Notes
    -----
    Holds for an even coat on flanks that are straight; 20 <= thread angle <= 90 degrees.

    Examples
    --------
    >>> growth_factor("diameter_mm"), round(growth_factor("thread_pitch_diameter_mm"), 6)
    (2.0, 4.0)
    >>> round(growth_factor("thread_pitch_diameter_mm", 47.5), 3)
    4.966

    References
    ----------
    iso4042-annex
    """
    if not 20 <= thread_angle_deg <= 90:
        raise ValueError(f"a thread angle lies between 20 and 90 degrees, not {thread_angle_deg}")
    if feature == THREAD:
        return 2 / math.sin(math.radians(thread_angle_deg / 2))
    if feature not in GROWTH:
        raise UnknownFeature(f"'{feature}' is no feature that is measured here. There are: {', '.join(FEATURES)}")
    return GROWTH[feature]


BARE = Coat()


def coat_growth_um(feature: str, coating_um: float, thread_angle_deg: float = 60.0) -> float:
    """Return by how much a reading grows under a coat.

    Parameters
    ----------
    feature : str
        One of `FEATURES`. [-]
    coating_um : float
        Thickness of the coat. [um]
    thread_angle_deg : float
        Included angle of the thread. [deg]

    Returns
    -------
    float
        Growth of the reading. [um]

    Raises
    ------
    ValueError
        A negative thickness.

    Notes
    -----
    Nominal coat, even all round; the ends of a bolt longer than five diameters take up to half as much again.

    Examples
    --------
    >>> coat_growth_um("diameter_mm", 8.0), round(coat_growth_um("thread_pitch_diameter_mm", 8.0), 6)
    (16.0, 32.0)

    References
    ----------
    iso4042-annex
    """
    if not math.isfinite(coating_um) or coating_um < 0:
        raise ValueError(f"a coat is not {coating_um} um thick")
    return growth_factor(feature, thread_angle_deg) * coating_um


def usual_sigma(feature: str) -> float:
    """Return the uncertainty of one reading where nobody says better.

    Parameters
    ----------
    feature : str
        One of `FEATURES`. [-]

    Returns
    -------
    float
        One standard deviation, in the unit of the feature. [-]

    Examples
    --------
    >>> usual_sigma("diameter_mm"), usual_sigma("ten_pitches_mm")
    (0.03, 0.1)

    References
    ----------
    reading-uncertainty-practice
    """
    growth_factor(feature)
    return USUAL_SIGMA.get(feature, _CALLIPER_MM)


# More readings than this of one feature add nothing: the calliper's own error stays in all of them.
MOST_TIMES = 4
_SLIP = 4.0


def pooled(readings: Sequence[Reading]) -> Reading:
    """Return what several readings of one feature on one piece say together, the newest last.

    Parameters
    ----------
    readings : sequence of Reading
        In the order in which they were read. [-]

    Returns
    -------
    Reading
        Mean weighted by 1 / sigma^2, and how many readings it is of.

    Raises
    ------
    ValueError
        No reading.

    Notes
    -----
    The newest counts. Earlier ones that lie within four deviations are averaged with it, back to the first that does not:
    that one was a slip, and the newer reading corrected it. At most four count.

    Examples
    --------
    >>> both = pooled([Reading(8.04, 0.04), Reading(7.98, 0.04)])
    >>> round(both.value, 2), round(both.sigma, 4), both.times
    (8.01, 0.0283, 2)
    >>> pooled([Reading(5.80, 0.03), Reading(8.50, 0.03)]).value
    8.5

    References
    ----------
    none: the weighted mean and its deviation.
    """
    if not readings:
        raise ValueError("nothing was read")
    told = Reading(readings[-1].value, readings[-1].sigma)
    for each in reversed(readings[:-1]):
        if told.times >= MOST_TIMES or abs(each.value - told.value) > _SLIP * math.hypot(each.sigma, told.sigma):
            break
        weights = (1 / told.sigma**2, 1 / each.sigma**2)
        mean = (told.value * weights[0] + each.value * weights[1]) / sum(weights)
        told = Reading(mean, 1 / math.sqrt(sum(weights)), told.times + 1)
    return told


@dataclass(frozen=True)
class BagReadings:
    """What a bag's readings say of the bag, and which of them do not fit it."""

    feature: Feature
    strangers: tuple[int, ...]


def feature_of(values: Sequence[float], sigma_measure: float, usual_sigma_piece: float = 0.0) -> BagReadings:
    """Return what the readings of one bag say of it; a reading that does not fit is named and left out.

    Parameters
    ----------
    values : sequence of float
        One reading a piece, in the unit of the feature. [-]
    sigma_measure : float
        Uncertainty of one reading. [-]
    usual_sigma_piece : float
        Spread from piece to piece in like bags; counts as four readings of its own. [-]

    Returns
    -------
    BagReadings
        Mean, spreads and number of the readings that fit, and the positions of those that do not.

    Raises
    ------
    ValueError
        No reading, one that is no number, or an uncertainty that is not above zero.

    Notes
    -----
    A reading is left out when, of three or more, it lies more than 4.5 robust deviations (1.4826 times the median
    deviation, not less than the known spreads) from the median.

    Examples
    --------
    >>> told = feature_of([8.01, 7.99, 8.00, 8.02, 6.35], 0.03)
    >>> round(told.feature.mean, 3), told.feature.n, told.strangers
    (8.005, 4, (4,))

    References
    ----------
    none: median, median deviation and pooled variance.
    """
    if not values or not all(math.isfinite(v) for v in values):
        raise ValueError("a bag's feature needs one reading at least, and each a number")
    if not (math.isfinite(sigma_measure) and sigma_measure > 0) or usual_sigma_piece < 0:
        raise ValueError("the uncertainty of a reading is above zero")
    known = math.hypot(sigma_measure, usual_sigma_piece)
    keep = list(range(len(values)))
    if len(values) >= 3:
        middle = _median(values)
        robust = max(1.4826 * _median([abs(v - middle) for v in values]), known)
        keep = [i for i in keep if abs(values[i] - middle) <= 4.5 * robust]
    mean = math.fsum(values[i] for i in keep) / len(keep)
    squares = math.fsum((values[i] - mean) ** 2 for i in keep)
    weight = 4 if usual_sigma_piece else 0
    free = weight + len(keep) - 1
    spread = (weight * known**2 + squares) / free - sigma_measure**2 if free else 0.0
    left_out = tuple(i for i in range(len(values)) if i not in set(keep))
    return BagReadings(Feature(mean, sigma_measure, math.sqrt(max(0.0, spread)), len(keep)), left_out)


def _median(values: Sequence[float]) -> float:
    ordered = sorted(values)
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2


def usual_coat(process: str) -> Coat:
    """Return what a process is taken to add a surface, where nobody says better.

    Parameters
    ----------
    process : str
        The process in words. [-]

    Returns
    -------
    Coat
        Thickness and spread of the first word of the table that stands in it; bare where none does.

    Examples
    --------
    >>> usual_coat("cadmium plate, bake").thickness_um, usual_coat("MPI").thickness_um
    (8.0, 0.0)

    References
    ----------
    process-coats
    """
    said = process.casefold()
    for words, coat in _coats():
        if words in said:
            return coat
    return BARE


@cache
def _coats() -> tuple[tuple[str, Coat], ...]:
    import csv
    from importlib.resources import files

    text = (files("witnessmark.calc") / "data" / "coats.csv").read_text(encoding="utf-8")
    return tuple(
        (row["words"], Coat(float(row["thickness_um"]), float(row["spread_um"])))
        for row in csv.DictReader(text.splitlines())
    )
