"""Whether a figure can be of a fastener, by itself and beside what else was read on it: the slip of a point, or of a unit."""

from __future__ import annotations

from collections.abc import Mapping

# What the calliper reads on a loose piece, as the survey of rivets and bolts calls it.
_AS_SURVEYED = {
    "diameter_mm": "shank_mm",
    "shank_diameter_mm": "shank_mm",
    "head_diameter_mm": "head_mm",
    "head_width_mm": "across_flats_mm",
    "length_mm": "length_mm",
    "thread_pitch_mm": "pitch_mm",
    "ten_pitches_mm": "pitch_mm",
    "head_angle_deg": "head_deg",
}


def slip(feature: str, value: float, beside: Mapping[str, float]) -> str:
    """Say why a figure that was typed cannot be of a fastener, with the unit it may have been read in.

    Parameters
    ----------
    feature : str
        What was read; its name ends in its unit. [-]
    value : float
        The figure. [mm or degrees]
    beside : mapping
        What else was read on the same piece, by feature. [mm or degrees]

    Returns
    -------
    str
        Empty where it can be, and for a feature that no fastener bounds.

    Notes
    -----
    These are the bounds of the survey of fasteners: what no fastener has, and proportions that none has.

    Examples
    --------
    >>> slip("diameter_mm", 0.315, {}).split(". ")[1]
    '0.315 in would be 8.00 mm: was it read in inches? Nothing was stored; measure or type it again.'
    >>> slip("diameter_mm", 8.0, {})
    ''

    References
    ----------
    fastener-habits
    """
    from witnessmark.calc.fasteners.readings import BadReading, Measurements, Reading, read_measurements

    name = _AS_SURVEYED.get(feature)
    if name is None:
        return ""
    told: dict[str, Reading] = {}
    for what, figure in {**beside, feature: value}.items():
        if what in _AS_SURVEYED:
            told[_AS_SURVEYED[what]] = Reading(figure / 10 if what == "ten_pitches_mm" else figure)
    told[name] = Reading(value / 10 if feature == "ten_pitches_mm" else value)
    try:
        alone: Measurements = {name: told[name]}
        read_measurements(alone)
        others: Measurements = dict(told)
        read_measurements(others)
    except BadReading as why:
        return str(why)
    return ""
