"""What can be measured on a fastener, with which tool, and which figures cannot be true."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from witnessmark.calc.units import MM_PER_IN, UnknownSize, parse_length

Value = float | str | bool
Kind = Literal["length", "angle", "choice"]
MARKS = ("plain", "dimple", "teat", "double dash", "cross", "dots", "number", "other")
CORES = ("solid", "hollow")
LOOKS = ("flush", "domed", "round", "universal", "thread", "shaved")
_SEEN = {
    "form": "Look what kind of head it is",
    "magnet": "Hold a magnet to it",
    "core": "Look whether the stem is solid or hollow, with a thin wire",
    "head_mark": "Look for a mark on the head, with a magnifier",
}
# What a head that was milled or shaved flush after driving cannot tell any more.
SHAVED_OFF = ("head_mm", "head_height_mm", "head_mark")


@dataclass(frozen=True)
class Way:
    """One thing to measure: its words, the tool, how it is done, its usual uncertainty and its bother in minutes."""

    what: str
    label: str
    tool: str
    how: str
    kind: Kind
    usual: float
    bother: float
    choices: tuple[str, ...] = ()

    @property
    def order(self) -> str:
        """What the mechanic is told to do, without its full stop: what is seen or tried is not measured."""
        return _SEEN.get(self.what) or f"Measure the {self.label}, with: {self.tool}"


WAYS: dict[str, Way] = {
    way.what: way
    for way in (
        Way("form", "kind of head", "your eyes", "Look: flush, domed flush, round, flat-topped (universal), a thread, or a head shaved flush after driving.", "choice", 0.0, 0.2, LOOKS),
        Way("head_mm", "head diameter", "calliper", "Strip the paint first; measure across the head twice, a quarter turn apart.", "length", 0.03, 1.0),
        Way("hole_mm", "hole diameter", "pin gauges or a small-hole gauge", "Take the largest pin that goes in without force.", "length", 0.05, 6.0),
        Way("hole_wide_mm", "hole the wide way", "small-hole gauge", "Turn the gauge until it reads the most: an oval hole has a narrow and a wide way.", "length", 0.05, 6.0),
        Way("driven_shank_mm", "driven shank", "calliper", "Measure the shank of a rivet knocked out, close under the head.", "length", 0.03, 6.0),
        Way("shank_mm", "shank or outside of the thread", "calliper", "Measure the plain shank of a rivet never driven, or across the threads.", "length", 0.03, 1.0),
        Way("head_deg", "head angle", "angle gauge or a photograph of the profile", "Read the cone of a rivet knocked out whole; measure the head before the drill touches it.", "angle", 2.0, 7.0),
        Way("head_height_mm", "head height", "depth rod of the calliper", "From the top of the head to where the shank begins.", "length", 0.05, 7.0),
        Way("pitch_mm", "pitch", "calliper over ten threads", "Measure over ten threads, from crest to crest, and divide.", "length", 0.004, 1.5),
        Way("thread_deg", "thread angle", "thread profile gauge", "Hold 60, 55 and 47.5 degree gauges against the light.", "angle", 2.0, 2.0),
        Way("across_flats_mm", "width across flats", "calliper", "Across two opposite flats of the hexagon.", "length", 0.05, 1.0),
        Way("length_mm", "length", "calliper", "Only on one never driven: a flush rivet over all, others under the head.", "length", 0.1, 1.0),
        Way("magnet", "does a magnet hold it", "magnet", "Hold a magnet to it.", "choice", 0.0, 0.3, ("yes", "no")),
        Way("core", "core of the stem", "your eyes and a thin wire", "Look at its end, the far one too where you can: is it solid, or hollow, with or without a pin in it?", "choice", 0.0, 0.4, CORES),
        Way("head_mark", "mark on the head", "magnifier", "Clean the head; look for a dimple, a teat, dashes, a cross, dots or figures.", "choice", 0.0, 0.6, MARKS),
    )
}  # fmt: skip
LEAST_MM = {"pitch_mm": 0.15, "head_height_mm": 0.1}
MOST_MM = {
    "hole_mm": 45.0,
    "hole_wide_mm": 45.0,
    "shank_mm": 45.0,
    "driven_shank_mm": 45.0,
    "head_mm": 45.0,
    "head_height_mm": 45.0,
    "pitch_mm": 6.0,
    "across_flats_mm": 75.0,
    "length_mm": 400.0,
}
_SHANKS = ("shank_mm", "driven_shank_mm", "hole_mm")
MOST_OVAL = 1.5  # wider than that by its narrow way it is two holes run together, or another unit


class BadReading(ValueError):
    """A figure that cannot be true; the message says which, why, and what to do. Nothing was taken."""

    def __init__(self, what: str, why: str) -> None:
        super().__init__(f"{why} Nothing was stored; measure or type it again.")
        self.what = what


@dataclass(frozen=True)
class Reading:
    """A figure as read: its uncertainty (one standard deviation) and whether paint lay over it."""

    value: Value
    uncertainty: float | None = None
    painted: bool = False


Measurements = Mapping[str, Value | Reading]


def read_measurements(measurements: Measurements) -> dict[str, Reading]:
    """Check figures against what a fastener can be, alone and against each other.

    Parameters
    ----------
    measurements : mapping
        What was measured to its figure in mm or degrees, its choice, or a `Reading`. [-]

    Returns
    -------
    dict
        The same as readings with their uncertainty.

    Raises
    ------
    BadReading
        Zero, negative, absurd or swapped units; a head smaller than its shank; an angle that is none; an unknown
        word.

    Notes
    -----
    Shanks from 0.8 to 45 mm.

    Examples
    --------
    >>> read_measurements({"hole_mm": 3.1})["hole_mm"].uncertainty
    0.05
    >>> read_measurements({"head_deg": 200.0})
    Traceback (most recent call last):
    ...
    witnessmark.calc.fasteners.readings.BadReading: A head angle lies between 40 and 180 degrees, not 200. Nothing was stored; measure or type it again.

    References
    ----------
    fastener-habits
    """
    read: dict[str, Reading] = {}
    for what, given in measurements.items():
        if what not in WAYS:
            raise BadReading(what, f"'{what}' is nothing that is measured here; one of {', '.join(WAYS)}.")
        reading = given if isinstance(given, Reading) else Reading(given)
        read[what] = _checked(WAYS[what], reading)
    _oval(read)
    _compare(read)
    return read


def _checked(way: Way, reading: Reading) -> Reading:
    value = reading.value
    if way.kind == "choice":
        word = ("yes" if value else "no") if isinstance(value, bool) else str(value).strip().lower()
        if word not in way.choices:
            raise BadReading(way.what, f"{way.label.capitalize()}: '{word[:40]}' is none of {', '.join(way.choices)}.")
        return Reading(word, 0.0, reading.painted)
    if isinstance(value, str | bool) or not math.isfinite(value):
        raise BadReading(way.what, f"The {way.label} must be a figure, not '{str(value)[:40]}'.")
    if value <= 0:
        raise BadReading(way.what, f"The {way.label} must be above zero, not {value:g}.")
    if way.what == "head_deg" and not 40 <= value < 180:
        raise BadReading(way.what, f"A head angle lies between 40 and 180 degrees, not {value:g}.")
    if way.what == "thread_deg" and not 25 <= value <= 95:
        raise BadReading(way.what, f"A thread angle lies between 25 and 95 degrees, not {value:g}.")
    if way.kind == "length":
        _sized(way, value)
    uncertainty = way.usual if reading.uncertainty is None else reading.uncertainty
    if not math.isfinite(uncertainty) or not 0 <= uncertainty <= max(0.5 * value, way.usual):
        raise BadReading(way.what, f"An uncertainty of {uncertainty:g} on a {way.label} of {value:g} says nothing.")
    return Reading(float(value), max(uncertainty, 0.1 * way.usual), reading.painted)


def _sized(way: Way, mm: float) -> None:
    least, most = LEAST_MM.get(way.what, 0.8), MOST_MM[way.what]
    if mm < least:
        if way.what != "pitch_mm" and least <= mm * MM_PER_IN <= most:
            hint = f" {mm:g} in would be {mm * MM_PER_IN:.2f} mm: was it read in inches?"
        else:
            hint = ""
        raise BadReading(way.what, f"A {way.label} of {mm:g} mm is smaller than any fastener has.{hint}")
    if mm > most:
        if least <= mm / MM_PER_IN <= most:
            hint = f" {mm / MM_PER_IN:.3g} mm typed as inches would be that: was it read in mm?"
        else:
            hint = ""
        raise BadReading(way.what, f"A {way.label} of {mm:g} mm is larger than any fastener here has.{hint}")


def _oval(read: dict[str, Reading]) -> None:
    """Put the narrow way of a hole first, whichever was typed first."""
    if "hole_wide_mm" not in read:
        return
    if "hole_mm" not in read:
        raise BadReading(
            "hole_wide_mm", "The wide way of a hole alone says nothing of what sat in it: measure its narrow way too."
        )
    ways = sorted((read["hole_mm"], read["hole_wide_mm"]), key=lambda each: float(each.value))
    narrow, wide = (float(each.value) for each in ways)
    if wide > MOST_OVAL * narrow:
        raise BadReading(
            "hole_wide_mm",
            f"{narrow:g} and {wide:g} mm are not the two ways of one hole: two holes run together, or one of them is in inches?",
        )
    read["hole_mm"], read["hole_wide_mm"] = ways


def _compare(read: Mapping[str, Reading]) -> None:
    if "form" in read and read["form"].value == "shaved":
        for what in SHAVED_OFF:
            if what in read:
                raise BadReading(
                    what,
                    f"A shaved head has lost its width, its height and its mark: leave the {WAYS[what].label} out. Its hole or "
                    "driven shank still tells, and its angle on a rivet knocked out whole.",
                )
    shanks = {what: float(read[what].value) for what in _SHANKS if what in read}
    for name, shank in shanks.items():
        for what, most in (("head_mm", 3.5), ("across_flats_mm", 3.5)):
            if what not in read:
                continue
            over = float(read[what].value)
            if over <= shank:
                words = (
                    f"The {WAYS[what].label} of {over:g} mm is not larger than the {WAYS[name].label} of {shank:g} mm."
                )
                raise BadReading(what, words)
            if over > most * shank:
                words = f"The {WAYS[what].label} of {over:g} mm is more than {most:g} times the {WAYS[name].label} of {shank:g} mm: is one of them in inches?"
                raise BadReading(what, words)
        if "pitch_mm" in read and float(read["pitch_mm"].value) * 1.3 >= shank:
            words = f"A pitch of {read['pitch_mm'].value:g} mm is too coarse for {shank:g} mm: is it the length over several threads?"
            raise BadReading("pitch_mm", words)
    if shanks and max(shanks.values()) > 1.6 * min(shanks.values()):
        least, most_of = min(shanks, key=lambda k: shanks[k]), max(shanks, key=lambda k: shanks[k])
        words = f"The {WAYS[most_of].label} of {shanks[most_of]:g} mm and the {WAYS[least].label} of {shanks[least]:g} mm cannot be of one fastener: is one of them in inches?"
        raise BadReading(most_of, words)


def parse_readings(typed: Mapping[str, str]) -> dict[str, Reading]:
    """Read figures as they were typed, each alone; an oval hole may be typed as both its ways in one: `3.3x3.5`.

    Parameters
    ----------
    typed : mapping
        What was measured to its figure as typed; what is empty is left out. [-]

    Returns
    -------
    dict
        In mm, degrees or words, with the usual uncertainty; held against each other by `read_measurements`.

    Raises
    ------
    BadReading
        One cannot be read, or cannot be true; a hole of three ways; its wide way typed twice.

    Examples
    --------
    >>> [each.value for each in parse_readings({"hole_mm": "3.5 x 3.3 mm"}).values()]
    [3.5, 3.3]

    References
    ----------
    none: reads what was typed.
    """
    figures: dict[str, str] = {}
    for what, text in typed.items():
        if not text.strip():
            continue
        ways = re.split(r"\s*(?:[x×*]|\bby\b)\s*", text.strip(), flags=re.IGNORECASE) if what == "hole_mm" else [text]
        if len(ways) == 1:
            figures[what] = text
            continue
        if len(ways) != 2 or not all(ways):
            raise BadReading(what, f"'{text.strip()[:40]}' are not the two ways of a hole: write them like 3.3x3.5.")
        if typed.get("hole_wide_mm", "").strip():
            raise BadReading("hole_wide_mm", "The wide way of the hole was typed twice: leave one out.")
        unit = re.search(r"(?:mm|in|inch|\")$", ways[1].strip())
        if unit and not re.search(r"[a-z\"]$", ways[0].strip()):
            ways[0] = f"{ways[0]} {unit[0]}"
        figures |= {"hole_mm": ways[0], "hole_wide_mm": ways[1]}
    return {what: parse_reading(what, text) for what, text in figures.items()}


def parse_reading(what: str, typed: str, over: int = 1) -> Reading:
    """Read one figure as it was typed: a size, an angle, a choice.

    Parameters
    ----------
    what : str
        What was measured. [-]
    typed : str
        As typed: `3.1`, `1/8`, `0.125 in`, `118`, `flush`, `10.6 over 10` for a pitch, `24 tpi`. [-]
    over : int
        Threads that a pitch was measured over. [-]

    Returns
    -------
    Reading
        In mm or degrees, with the usual uncertainty.

    Raises
    ------
    BadReading
        It cannot be read, or cannot be true.

    Examples
    --------
    >>> round(parse_reading("pitch_mm", "10.6 over 10").value, 3)
    1.06

    References
    ----------
    none: reads what was typed.
    """
    if what not in WAYS:
        raise BadReading(what, f"'{what[:40]}' is nothing that is measured here; one of {', '.join(WAYS)}.")
    way, text = WAYS[what], typed.strip()
    if way.kind == "choice":
        return read_measurements({what: text})[what]
    if way.kind == "angle":
        plain = text.lower().removesuffix("degrees").removesuffix("deg").removesuffix("°").strip().replace(",", ".")
        try:
            return read_measurements({what: float(plain)})[what]
        except (ValueError, OverflowError) as error:
            if isinstance(error, BadReading):
                raise
            raise BadReading(what, f"'{text[:40]}' is no angle.") from None
    if what == "pitch_mm":
        before, _, count = text.lower().partition("over")
        if count.strip():
            if not count.strip().isascii() or not count.strip().isdigit() or not 1 <= int(count) <= 100:
                raise BadReading(what, f"'{count.strip()[:20]}' is no count of threads from 1 to 100.")
            text, over = before.strip(), int(count)
        elif text.lower().endswith("tpi"):
            text = text[:-3].strip()
            if not text.isascii() or not text.isdigit() or not 3 <= int(text) <= 160:
                raise BadReading(what, f"'{text[:20]}' is no count of threads an inch.")
            return read_measurements({what: MM_PER_IN / int(text)})[what]
    if over < 1:
        raise BadReading(what, "A pitch is measured over one thread or more.")
    try:
        mm = parse_length(text).mm
    except UnknownSize as error:
        raise BadReading(what, f"The {way.label}: {error}") from None
    usual = max(way.usual, 0.04 / over) if what == "pitch_mm" else None
    return _checked(way, Reading(mm / over, usual))
