"""One reader for sizes, masses, stresses and temperatures as mechanics type them."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any, Literal

from witnessmark.calc.tables import load_table

MM_PER_IN = 25.4
LENGTH_FORMS = "5/32, 1 1/4, 5/32 in, 0.032 in, .032 in, 3.5 mm, 3,5 mm, 1.2 (mm), No. 30, #40, F drill, letter F, M6"
_LEAST_MM, _MOST_MM = 1e-4, 100_000.0
_NUMBER = r"(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)"
_FRACTION = r"(?:([0-9]+)(?: +|-))?([0-9]+) ?/ ?([0-9]+)"
_RE_FRACTION = re.compile(rf"{_FRACTION} ?([a-zµ\"°]*)")
_RE_DECIMAL = re.compile(rf"([+-]?)({_NUMBER}) ?([a-zµ\"°%][a-zµ\"° /0-9^*]*)?")
_RE_NUMBER_DRILL = re.compile(r"(?:no ?\.?|nr ?\.?|number|#) ?([0-9]{1,3})(?: drill)?|drill #?([0-9]{1,3})")
_RE_LETTER_DRILL = re.compile(r"letter ([a-z])(?: drill)?|([a-z]) drill|drill ([a-z])")
_RE_METRIC_THREAD = re.compile(r"m ?([0-9]+(?:[.,][0-9]+)?)(?: ?[x×] ?[0-9]+(?:[.,][0-9]+)?)?")
_RE_GAUGE = re.compile(r"\b(?:gauge|gage|ga|swg|awg|bwg)\b")
_INCH = frozenset({"in", "inch", "inches", '"', "in."})
_VULGAR = re.compile("([0-9])([¼-¾⅐-⅞])")


class UnknownSize(ValueError):
    """Text that cannot be read as a size; the message says what was typed and what is read."""

    def __init__(self, typed: str, why: str, forms: str = LENGTH_FORMS) -> None:
        shown = typed if len(typed) <= 40 else typed[:37] + "..."
        super().__init__(f"Cannot read {shown!r}: {why}. Type one of these forms: {forms}.")
        self.typed = typed


@dataclass(frozen=True)
class Length:
    """A length in mm, with the text as typed and the unit it was typed in."""

    mm: float
    as_typed: str
    unit: str


@dataclass(frozen=True)
class Mass:
    """A mass in g, with the text as typed and the unit it was typed in."""

    g: float
    as_typed: str
    unit: str


@dataclass(frozen=True)
class Stress:
    """A stress or strength in MPa, with the text as typed and the unit it was typed in."""

    mpa: float
    as_typed: str
    unit: str


@dataclass(frozen=True)
class Temperature:
    """A temperature in degrees Celsius, with the text as typed and the unit it was typed in."""

    celsius: float
    as_typed: str
    unit: str


def _tidy(text: str) -> str:
    spaced = _VULGAR.sub(r"\1 \2", text.strip())
    plain = unicodedata.normalize("NFKC", spaced).replace("\u2044", "/").replace("\u2212", "-")
    plain = plain.replace("″", '"').replace("”", '"').replace("“", '"').replace("''", '"').replace("μ", "µ")
    return re.sub(r"\s+", " ", plain).lower()


def _decimal(digits: str, fail: Callable[[str], UnknownSize]) -> float:
    whole, comma, decimals = digits.partition(",")
    if comma and len(decimals) == 3 and whole.strip("0"):
        # 1,200 is twelve hundred to one mechanic and 1.2 to another: a factor of a thousand is not guessed.
        raise fail("a comma before three figures may be thousands or decimals; type a point or leave the comma out")
    return float(digits.replace(",", "."))


def _fraction(whole: str | None, top: str, bottom: str, fail: Callable[[str], UnknownSize]) -> float:
    numerator, denominator = int(top), int(bottom)
    if denominator == 0:
        raise fail("a fraction needs a lower figure above zero")
    if whole is not None and numerator >= denominator:
        raise fail("the fraction after a whole number must be below one")
    return (int(whole) if whole else 0) + numerator / denominator


def _within(mm: float, fail: Callable[[str], UnknownSize]) -> float:
    if not math.isfinite(mm) or mm > _MOST_MM:
        raise fail("longer than 100 m")
    if mm <= 0:
        raise fail("a size is above zero")
    if mm < _LEAST_MM:
        raise fail("smaller than 0.0001 mm")
    return round(mm, 9)


def _drill_mm(name: str, fail: Callable[[str], UnknownSize]) -> float:
    size = _drills().get(name)
    if size is None:
        raise fail("drills run from No. 80 to No. 1 and from letter A to letter Z")
    return size


@cache
def _drills() -> dict[str, float]:
    # Inches are the defining figures; the mm column of the table is rounded.
    return {row["drill"]: float(row["dia_in"]) * MM_PER_IN for row in load_table("drills").rows}


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


def _by_pint(value: float, unit: str, to: str, fail: Callable[[str], UnknownSize]) -> float:
    import pint

    registry = _registry()
    try:
        return float(registry.Quantity(value, unit.replace('"', "inch")).to(to).magnitude)
    except (pint.errors.PintError, ValueError, AttributeError, TypeError, AssertionError, OverflowError):
        raise fail(f"{unit!r} is not a unit that is read here") from None


@lru_cache(maxsize=4096)
def parse_length(text: str) -> Length:
    """Read a size as a mechanic types it.

    A bare number is mm. A bare fraction is inch. A bare decimal that starts with its point (`.032`) is refused:
    inch men write it so, and reading it as mm would be wrong by 25. `#10` and `No. 10` are drill numbers.

    Parameters
    ----------
    text : str
        Size as typed. [-]

    Returns
    -------
    Length
        Millimetres, the text as typed and its unit (`mm`, `in`, `drill` or the unit as typed).

    Raises
    ------
    UnknownSize
        Anything else, a gauge number, zero, a negative or absurd size.

    Notes
    -----
    Reads from 0.0001 mm to 100 m.

    Examples
    --------
    >>> round(parse_length("5/32").mm, 3)
    3.969
    >>> round(parse_length("No. 30").mm, 4)
    3.2639
    >>> parse_length("3,5 mm").mm
    3.5

    References
    ----------
    drill-sizes
    """
    plain = _tidy(text)

    def fail(why: str) -> UnknownSize:
        return UnknownSize(text, why)

    if not plain:
        raise fail("nothing was typed")
    if len(plain) > 60:
        raise fail("it is too long")
    if _RE_GAUGE.search(plain):
        raise fail("gauge numbers mean different thicknesses in different gauges; measure the thickness and type it")
    if match := _RE_NUMBER_DRILL.fullmatch(plain):
        return Length(_drill_mm(f"#{int(match[1] or match[2])}", fail), text, "drill")
    if match := _RE_LETTER_DRILL.fullmatch(plain):
        return Length(_drill_mm((match[1] or match[2] or match[3]).upper(), fail), text, "drill")
    if match := _RE_METRIC_THREAD.fullmatch(plain):
        return Length(_within(_decimal(match[1], fail), fail), text, "mm")
    if match := _RE_FRACTION.fullmatch(plain):
        return _fraction_length(text, match, fail)
    if match := _RE_DECIMAL.fullmatch(plain):
        sign, digits, unit = match[1], match[2], (match[3] or "").strip()
        if sign == "-":
            raise fail("a size is above zero")
        value = _decimal(digits, fail)
        if not unit and digits[0] in ".,":
            raise fail("a decimal that starts with its point needs its unit: type .032 in or 0.8 mm")
        if unit in ("", "mm"):
            return Length(_within(value, fail), text, "mm")
        if unit in _INCH:
            return Length(_within(value * MM_PER_IN, fail), text, "in")
        if not unit.isalpha():
            raise fail(f"{unit!r} is not a unit that is read here")
        return Length(_within(_by_pint(value, unit, "mm", fail), fail), text, unit)
    raise fail("it is not a size")


def _fraction_length(text: str, match: re.Match[str], fail: Callable[[str], UnknownSize]) -> Length:
    value = _fraction(match[1], match[2], match[3], fail)
    unit = match[4]
    if unit == "mm":
        return Length(_within(value, fail), text, "mm")
    if unit and unit not in _INCH:
        raise fail("a fraction is read in inches or mm")
    bottom = int(match[3])
    if bottom > 128 or bottom & (bottom - 1):
        raise fail("inch fractions go in halves, 4ths, 8ths, 16ths, 32nds, 64ths and 128ths")
    return Length(_within(value * MM_PER_IN, fail), text, "in")


def _quantity(text: str, to: str, default: str, forms: str, short: dict[str, str]) -> tuple[float, str]:
    plain = _tidy(text)

    def fail(why: str) -> UnknownSize:
        return UnknownSize(text, why, forms)

    if not plain:
        raise fail("nothing was typed")
    if len(plain) > 60:
        raise fail("it is too long")
    if match := _RE_FRACTION.fullmatch(plain):
        sign, value, unit = "", _fraction(match[1], match[2], match[3], fail), match[4]
    elif match := _RE_DECIMAL.fullmatch(plain):
        sign, value, unit = match[1], _decimal(match[2], fail), (match[3] or "").strip()
    else:
        raise fail("it is not a number with a unit")
    if not unit and not default:
        raise fail("the unit is missing")
    named = short.get(unit or default, unit or default)
    result = _by_pint(-value if sign == "-" else value, named, to, fail)
    if not math.isfinite(result):
        raise fail("the figure is too large")
    return result, unit or default


@lru_cache(maxsize=4096)
def parse_mass(text: str) -> Mass:
    """Read a mass; a bare number is g.

    Parameters
    ----------
    text : str
        Mass as typed: 250, 250 g, 8 kg, 1.5 lb, 12 oz. [-]

    Returns
    -------
    Mass
        Grams, the text as typed and its unit.

    Raises
    ------
    UnknownSize
        Anything else, zero, a negative mass or more than 100 t.

    Examples
    --------
    >>> parse_mass("8 kg").g
    8000.0

    References
    ----------
    none: units by definition.
    """
    forms = "250 g, 8 kg, 1.5 lb, 12 oz, 250 (g)"
    short = {"g": "gram", "kg": "kilogram", "lb": "pound", "lbs": "pound", "oz": "ounce", "t": "metric_ton"}
    g, unit = _quantity(text, "gram", "g", forms, short)
    if not 0 < g <= 1e8:
        raise UnknownSize(text, "a mass is above zero and below 100 t", forms)
    return Mass(g, text, unit)


@lru_cache(maxsize=4096)
def parse_stress(text: str) -> Stress:
    """Read a stress or a strength; a bare number is MPa.

    Parameters
    ----------
    text : str
        Stress as typed: 1240, 1240 MPa, 180 ksi, 450 N/mm2. [-]

    Returns
    -------
    Stress
        MPa, the text as typed and its unit.

    Raises
    ------
    UnknownSize
        Anything else, zero, a negative stress or more than 10,000 MPa.

    Examples
    --------
    >>> round(parse_stress("180 ksi").mpa)
    1241

    References
    ----------
    none: units by definition.
    """
    forms = "1240 MPa, 180 ksi, 450 N/mm2, 1240 (MPa)"
    short = {"mpa": "megapascal", "ksi": "kip/inch**2", "psi": "psi", "n/mm2": "newton/millimeter**2",
             "n/mm^2": "newton/millimeter**2", "gpa": "gigapascal"}  # fmt: skip
    mpa, unit = _quantity(text, "megapascal", "mpa", forms, short)
    if not 0 < mpa <= 10_000:
        raise UnknownSize(text, "a strength is above zero and below 10000 MPa", forms)
    return Stress(mpa, text, {"mpa": "MPa"}.get(unit, unit))


@lru_cache(maxsize=4096)
def parse_temperature(text: str) -> Temperature:
    """Read a temperature; the unit must be typed.

    Parameters
    ----------
    text : str
        Temperature as typed: 190 C, 375 F, 190 °C. [-]

    Returns
    -------
    Temperature
        Degrees Celsius, the text as typed and its unit.

    Raises
    ------
    UnknownSize
        Anything else, no unit, below absolute zero or above 5,000 °C.

    Examples
    --------
    >>> round(parse_temperature("375 F").celsius, 1)
    190.6

    References
    ----------
    none: units by definition.
    """
    forms = "190 C, 375 F, 190 °C, 300 K"
    names = {"c": "degC", "°c": "degC", "deg c": "degC", "f": "degF", "°f": "degF", "deg f": "degF", "k": "kelvin"}
    celsius, unit = _quantity(text, "degC", "", forms, names)
    if not -273.15 <= celsius <= 5000:
        raise UnknownSize(text, "a temperature lies between -273.15 C and 5000 C", forms)
    return Temperature(celsius, text, unit.upper().replace("DEG ", "").replace("°", ""))


def _inches(mm: float) -> str:
    inches = mm / MM_PER_IN
    in_64ths = round(inches * 64)
    if in_64ths and abs(in_64ths / 64 * MM_PER_IN - mm) < 5e-4:
        whole, part = divmod(in_64ths, 64)
        if not part:
            return f"{whole} in"
        common = math.gcd(part, 64)
        return f"{f'{whole} ' if whole else ''}{part // common}/{64 // common} in"
    return f"{inches:.5f}".rstrip("0").rstrip(".") + " in"


def show_length(mm: float, first: Literal["mm", "in"] = "mm") -> str:
    """Write a length in both units, the wanted one first.

    Parameters
    ----------
    mm : float
        Length. [mm]
    first : str
        Unit to write first, `mm` or `in`. [-]

    Returns
    -------
    str
        For example `3.969 mm (5/32 in)`; inches go as a fraction where one of 64ths lies within 0.0005 mm.

    Raises
    ------
    ValueError
        Not a number, infinite, zero or negative.

    Examples
    --------
    >>> show_length(3.96875)
    '3.969 mm (5/32 in)'
    >>> show_length(3.2639, first="in")
    '0.1285 in (3.264 mm)'

    References
    ----------
    none: units by definition.
    """
    if not math.isfinite(mm) or mm <= 0:
        raise ValueError(f"a length to show is above zero, not {mm}")
    metric = (f"{mm:.3f}" if mm >= 0.01 else f"{mm:.5f}").rstrip("0").rstrip(".") + " mm"
    one, other = (metric, _inches(mm)) if first == "mm" else (_inches(mm), metric)
    return f"{one} ({other})"
