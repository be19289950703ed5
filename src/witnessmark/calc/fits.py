"""Growth of threads under a coat of plating."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class ThreadGrowth:
    """How much a coat adds to a thread."""

    pitch_um: float
    major_um: float


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
