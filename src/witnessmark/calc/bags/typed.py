"""A figure as it is typed at the bench or sent by a calliper, read as one of the features."""

from __future__ import annotations

import re

from witnessmark.calc.bags.features import growth_factor
from witnessmark.calc.units import UnknownSize, parse_length, parse_mass


def typed_figure(feature: str, text: str) -> float:
    """Read a figure of one feature.

    Parameters
    ----------
    feature : str
        One of the features; its name ends in its unit. [-]
    text : str
        As typed: `7.98`, `5/16`, `0.312 in`, `120`, `31 g`; a bare number is in the feature's unit. [-]

    Returns
    -------
    float
        In mm, degrees or g, as the feature's name says.

    Raises
    ------
    UnknownSize
        The text is no such figure.
    UnknownFeature
        No such feature.

    Examples
    --------
    >>> typed_figure("diameter_mm", "5/16 in")
    7.9375
    >>> typed_figure("head_angle_deg", "119,5")
    119.5

    References
    ----------
    none: reads what is typed.
    """
    growth_factor(feature)
    plain = text.strip()
    if feature == "mass_g":
        return parse_mass(plain if not re.fullmatch(r"[0-9.,]+", plain) else f"{plain} g").g
    if feature == "head_angle_deg":
        found = re.fullmatch(r"([0-9]{1,3}(?:[.,][0-9]+)?) ?(?:°|deg|degrees)?", plain)
        if not found or not 0 < float(found[1].replace(",", ".")) < 180:
            raise UnknownSize(plain[:40], "that is no angle, write it like 119.5")
        return float(found[1].replace(",", "."))
    return parse_length(plain).mm
