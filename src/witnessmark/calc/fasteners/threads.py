"""Threads by their formulas: the profile, the pitches of BA, the room that a tolerance leaves."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Profile:
    """Basic diameters of an external thread with a 60 degree profile."""

    major_mm: float
    pitch_diameter_mm: float
    root_mm: float
    stress_area_mm2: float


def profile(major_mm: float, pitch_mm: float) -> Profile:
    """Return the basic diameters and the stress area of a 60 degree thread.

    Parameters
    ----------
    major_mm : float
        Nominal outside diameter. [mm]
    pitch_mm : float
        From thread to thread. [mm]

    Returns
    -------
    Profile
        Pitch diameter d - 0.6495 P, root d - 1.2269 P, area of their mean circle.

    Raises
    ------
    ValueError
        A figure that is not above zero, or a pitch too coarse for the diameter.

    Notes
    -----
    The stress area is the metric one; unified tables take a slightly smaller circle. Whitworth and BA have other
    profiles.

    Examples
    --------
    >>> round(profile(8, 1.25).stress_area_mm2, 1)
    36.6

    References
    ----------
    iso-thread-tables
    """
    if not (math.isfinite(major_mm) and math.isfinite(pitch_mm)) or not 0 < 1.3 * pitch_mm < major_mm:
        raise ValueError(f"a thread of {major_mm} mm with a pitch of {pitch_mm} mm cannot be cut")
    height = math.sqrt(3) / 2 * pitch_mm
    middle, root = major_mm - 0.75 * height, major_mm - 17 / 12 * height
    return Profile(major_mm, middle, root, math.pi / 4 * ((middle + root) / 2) ** 2)


def ba_size(number: int) -> tuple[float, float]:
    """Return diameter and pitch of a BA size from its law: pitch 0.9 to the power of the number, diameter 6 P^1.2.

    Parameters
    ----------
    number : int
        BA number, 0 to 16. [-]

    Returns
    -------
    tuple of float
        Diameter, rounded to 0.1 mm, and pitch, rounded to 0.01 mm, as the sizes are given.

    Raises
    ------
    ValueError
        No such number.

    Notes
    -----
    The law is from memory. 47.5 degree flanks.

    Examples
    --------
    >>> ba_size(2)
    (4.7, 0.81)

    References
    ----------
    ba-law
    """
    if not 0 <= number <= 16:
        raise ValueError(f"BA sizes run from 0 to 16, not {number}")
    pitch_mm = round(0.9**number, 2)
    return round(6 * pitch_mm**1.2, 1), pitch_mm


def major_limits_mm(pitch_mm: float) -> tuple[float, float]:
    """Return how far the outside diameter of a 6g thread lies below nominal: least and most.

    Parameters
    ----------
    pitch_mm : float
        From thread to thread. [mm]

    Returns
    -------
    tuple of float
        Fundamental deviation g, and that plus the tolerance of grade 6.

    Raises
    ------
    ValueError
        A pitch that is not above zero.

    Notes
    -----
    Deviation 15 + 11 P and tolerance 180 P^(2/3) - 3.15 / sqrt(P), in micrometres, P in mm; the tolerance is from
    memory. P from 0.2 to 8 mm.

    Examples
    --------
    >>> [round(limit, 3) for limit in major_limits_mm(1.0)]
    [0.026, 0.203]

    References
    ----------
    iso965-deviation
    iso965-tolerance
    """
    if not math.isfinite(pitch_mm) or pitch_mm <= 0:
        raise ValueError(f"a pitch is above zero, not {pitch_mm}")
    least = (15 + 11 * pitch_mm) / 1000
    return least, least + max(0.0, 180 * pitch_mm ** (2 / 3) - 3.15 / math.sqrt(pitch_mm)) / 1000
