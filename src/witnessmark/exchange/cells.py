"""One cell at a time: what people type, read into a value or refused in a sentence."""

import re
from datetime import date
from functools import lru_cache

from witnessmark.calc.units import Length, UnknownSize, parse_length, parse_mass, parse_stress

MOST_COUNT = 100_000
MONTHS = {
    name: number
    for number, names in enumerate(
        (
            ("jan", "january"), ("feb", "february"), ("mar", "march"), ("apr", "april"), ("may",), ("jun", "june"),
            ("jul", "july"), ("aug", "august"), ("sep", "sept", "september"), ("oct", "october"),
            ("nov", "november"), ("dec", "december"),
        ),
        1,
    )
    for name in names
}  # fmt: skip
SIDES = {
    "l": "L", "left": "L", "lh": "L", "port": "L",
    "r": "R", "right": "R", "rh": "R", "starboard": "R",
    "c": "C", "centre": "C", "center": "C", "middle": "C",
    "lr": "LR", "l/r": "LR", "l+r": "LR", "rl": "LR", "both": "LR", "left and right": "LR",
}  # fmt: skip


class Wrong(Exception):
    """A row that is not taken. The message says what was wrong and what to do; the report adds what was kept."""


@lru_cache(maxsize=4096)
def whole(text: str, what: str, *, least: int = 1, most: int = MOST_COUNT) -> int:
    """Read a count: a whole number between two bounds."""
    plain = text.strip().replace(" ", "")
    if not re.fullmatch(r"[+-]?[0-9]+([.,]0*)?", plain):
        if re.fullmatch(r"[+-]?[0-9]*[.,][0-9]+", plain):
            raise Wrong(f"{what} is {text}, a fraction. Things are counted whole: write a whole number")
        raise Wrong(f"{what} is '{text}', not a number. Write a whole number")
    if len(plain) > 15:
        raise Wrong(f"{what} is {plain[:12]}..., more than {most:,}. Check it")
    number = int(re.split(r"[.,]", plain)[0])
    if number < least:
        raise Wrong(f"{what} is {number}. It cannot be less than {least}: count again")
    if number > most:
        raise Wrong(f"{what} is {number}, more than {most:,}. Check it")
    return number


@lru_cache(maxsize=4096)
def number(text: str, what: str, *, least: float = 0, most: float = 100_000) -> float:
    """Read a figure with a decimal point or comma."""
    plain = text.strip().replace(" ", "").replace(",", ".")
    if not re.fullmatch(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)", plain) or len(plain) > 20:
        raise Wrong(f"{what} is '{text}', not a number")
    value = float(plain)
    if not least <= value <= most:
        raise Wrong(f"{what} is {text}. It lies between {least:g} and {most:g}: check it")
    return value


@lru_cache(maxsize=4096)
def day(text: str, what: str) -> tuple[date, str]:
    """Read a day; the second value is a remark where it could be read in two ways."""
    plain = " ".join(text.strip().split())
    remark = ""
    if match := re.fullmatch(r"([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})(?:[T ][0-9:.]+Z?)?", plain):
        year, month, of_month = int(match[1]), int(match[2]), int(match[3])
    elif match := re.fullmatch(r"([0-9]{1,2})[./-]([0-9]{1,2})[./-]([0-9]{4})", plain):
        of_month, month, year = int(match[1]), int(match[2]), int(match[3])
        if month > 12 >= of_month:
            raise Wrong(
                f"{what} is {text}: there is no month {month}. Days are read day first; write {year}-{of_month:02d}-{month:02d}"
            )
        if "." not in plain and of_month <= 12 and of_month != month:
            remark = f"{what} {text} is read day first: {of_month} {_month_name(month)} {year}"
    elif match := re.fullmatch(r"([0-9]{1,2})\.? ([A-Za-z]+)\.?,? ([0-9]{4})", plain):
        of_month, month, year = int(match[1]), MONTHS.get(match[2].lower(), 0), int(match[3])
    else:
        raise Wrong(f"{what} is '{text}', not a day. Write it like 2026-05-12 or 12 May 2026")
    try:
        found = date(year, month, of_month)
    except ValueError:
        raise Wrong(f"{what} is {text}: there is no such day. Write it like 2026-05-12") from None
    if not 1850 <= year <= 2200:
        raise Wrong(f"{what} is {text}: check the year")
    return found, remark


def _month_name(month: int) -> str:
    names = [name for name, number in MONTHS.items() if number == month]
    return max(names, key=len).capitalize()


def sides(text: str) -> str:
    """Read a side word: one letter, or LR for one on each side."""
    found = SIDES.get(" ".join(text.strip().lower().split()))
    if found is None:
        raise Wrong(f"side is '{text}'. Write L, R, C or LR")
    return found


def one_side(text: str) -> str:
    """Read a side that cannot be both."""
    found = sides(text)
    if found == "LR":
        raise Wrong("side is LR, but this has one side. Write one row for L and one for R")
    return found


def length(text: str, what: str) -> Length:
    """Read a size as people write it."""
    try:
        return parse_length(text)
    except UnknownSize as error:
        raise Wrong(f"{what}: {str(error).rstrip('.')}") from None


def mass_g(text: str) -> float:
    """Read a mass; a bare number is g."""
    if re.fullmatch(r"[0-9]{1,8}(\.[0-9]+)?", text) and float(text) > 0:
        return float(text)  # thousands of plain rows need no unit registry
    try:
        return parse_mass(text).g
    except UnknownSize as error:
        raise Wrong(f"mass_g: {str(error).rstrip('.')}") from None


def strength_mpa(text: str) -> float:
    """Read a strength; a bare number is MPa."""
    try:
        return parse_stress(text).mpa
    except UnknownSize as error:
        raise Wrong(f"strength_mpa: {str(error).rstrip('.')}") from None


def word(text: str, what: str, allowed: tuple[str, ...]) -> str:
    """Read one of a few words."""
    plain = " ".join(text.strip().lower().replace("_", " ").split())
    if plain not in allowed:
        raise Wrong(f"{what} is '{text}'. Write one of: {', '.join(allowed)}")
    return plain


def three(row_cells: dict[str, str], stem: str) -> tuple[float, float, float]:
    """Read least, likely and most, which must rise."""
    values = [number(row_cells[part], part) for part in (f"{stem}_least", f"{stem}_likely", f"{stem}_most")]
    least, likely, most = values
    if not least <= likely <= most:
        raise Wrong(f"least, likely and most are {least:g}, {likely:g}, {most:g}. They must rise")
    return least, likely, most


def listed(text: str, by: str = ";") -> list[str]:
    """Split a cell that names several."""
    return [part.strip() for part in text.split(by) if part.strip()]
