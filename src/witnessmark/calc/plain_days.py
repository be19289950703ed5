"""Days as they are said in a shop: `in 8 weeks`, `Friday`, `12 May`, `end of January`, `week 50`."""

import calendar
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

EARLIEST_YEAR, LATEST_YEAR = 1850, 2200
_NUMBERS = {
    word: number
    for number, words in enumerate(
        (
            ("a", "an", "one"), ("two", "a couple of", "couple of"), ("three",), ("four",), ("five",), ("six",),
            ("seven",), ("eight",), ("nine",), ("ten",), ("eleven",), ("twelve",),
        ),
        1,
    )
    for word in words
}  # fmt: skip
_UNITS = {
    "d": "day", "day": "day", "days": "day",
    "w": "week", "wk": "week", "wks": "week", "week": "week", "weeks": "week",
    "fortnight": "fortnight", "fortnights": "fortnight",
    "month": "month", "months": "month", "mth": "month", "mths": "month",
    "y": "year", "yr": "year", "yrs": "year", "year": "year", "years": "year",
}  # fmt: skip
_MONTHS = {name.lower(): number for number, name in enumerate(calendar.month_name) if name}
_MONTHS |= {name[:3]: number for name, number in _MONTHS.items()} | {"sept": 9}
_WEEKDAYS = {name.lower(): number for number, name in enumerate(calendar.day_name)}
_WEEKDAYS |= {name[:3]: number for name, number in _WEEKDAYS.items()} | {"tues": 1, "thur": 3, "thurs": 3}
_FIXED = {
    "now": 0, "today": 0, "tonight": 0, "this morning": 0,
    "tomorrow": 1, "the day after tomorrow": 2, "day after tomorrow": 2,
    "yesterday": -1, "the day before yesterday": -2, "day before yesterday": -2,
}  # fmt: skip
_SPAN = re.compile(
    r"(?:(in|for|about|since)\s+)?(?:about\s+)?(half a|[0-9]{1,4}|[a-z ]+?)\s*([a-z]+)(\s+ago)?(?:\s+time)?"
)
_PART = re.compile(r"(?:the\s+)?(beginning|start|early|mid|middle|end|late)(?:\s+of)?[\s-]+([a-z]+)(?:\s+([0-9]{4}))?")


class UnknownDay(ValueError):
    """What was typed names no day; the message says what can be read."""


@dataclass(frozen=True)
class PlainDay:
    """The day that was meant, and what to say where it could have been another."""

    day: date
    remark: str = ""


def plain_day(text: str, today: date, ahead: bool) -> PlainDay:
    """Read a day as people say it; a month or a week means its end for a promise, its beginning for a start.

    Parameters
    ----------
    text : str
        What was typed. [-]
    today : date
        The day on which it was said. [day]
    ahead : bool
        True for a promise: `Friday` is the one to come. False for a start: the one that was. [-]

    Returns
    -------
    PlainDay
        The day, with a remark where it could be read in two ways. [day]

    Raises
    ------
    UnknownDay
        The words name no day, or one outside the range.

    Notes
    -----
    Years 1850 to 2200. Day before month where both are figures. Weeks are counted as ISO 8601 counts them, from Monday; a
    month added to the 31st ends on the last day of a shorter month.

    References
    ----------
    none: reading words, nothing is reckoned

    Examples
    --------
    >>> plain_day("in 8 weeks", date(2026, 11, 27), True).day
    datetime.date(2027, 1, 22)
    >>> plain_day("3 weeks ago", date(2026, 11, 27), False).day
    datetime.date(2026, 11, 6)
    >>> plain_day("end of January", date(2026, 11, 27), True).day
    datetime.date(2027, 1, 31)
    """
    plain = " ".join(text.casefold().replace(",", " ").split()).rstrip(".!") or " "
    for read in (_fixed, _span, _weekday, _part_of_month, _figures, _named_month, _iso_week, _next):
        found = read(plain, today, ahead)
        if found is not None:
            return found
    raise UnknownDay(
        f"'{text.strip()[:40]}' is no day that can be read. Write it like 12 May, 2026-05-12, Friday, in 8 weeks or 3 weeks ago"
    )


def _made(year: int, month: int, of_month: int, said: str) -> date:
    try:
        found = date(year, month, of_month)
    except (ValueError, OverflowError):
        raise UnknownDay(f"There is no day {said}. Write it like 12 May or 2026-05-12") from None
    if not EARLIEST_YEAR <= year <= LATEST_YEAR:
        raise UnknownDay(f"{said} lies in the year {year}. Look at the year")
    return found


def _fixed(plain: str, today: date, ahead: bool) -> PlainDay | None:
    days = _FIXED.get(plain)
    return None if days is None else PlainDay(today + timedelta(days=days))


def _span(plain: str, today: date, ahead: bool) -> PlainDay | None:
    match = _SPAN.fullmatch(plain)
    if match is None or match[3] not in _UNITS:
        return None
    number = 0.5 if match[2] == "half a" else int(match[2]) if match[2].isdigit() else _NUMBERS.get(match[2].strip())
    if number is None:
        return None
    onward = not match[4] and (match[1] == "in" or (ahead and match[1] not in ("for", "since")))
    unit, way = _UNITS[match[3]], 1 if onward else -1
    if unit in ("month", "year"):
        return PlainDay(_months_on(today, round(way * number * (12 if unit == "year" else 1)), plain))
    days = round(way * number * {"day": 1, "week": 7, "fortnight": 14}[unit])
    day = today + timedelta(days=days)
    return PlainDay(_made(day.year, day.month, day.day, plain))


def _months_on(day: date, months: int, said: str) -> date:
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    if not EARLIEST_YEAR <= year <= LATEST_YEAR:
        raise UnknownDay(f"{said} lies in the year {year}. Look at the year")
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def _weekday(plain: str, today: date, ahead: bool) -> PlainDay | None:
    match = re.fullmatch(r"(?:on\s+|by\s+|since\s+)?(?:(next|this|last)\s+)?([a-z]+)", plain)
    if match is None or match[2] not in _WEEKDAYS:
        return None
    wanted, which = _WEEKDAYS[match[2]], match[1]
    monday = today - timedelta(days=today.weekday())
    if which == "next":
        day = monday + timedelta(days=7 + wanted)
        return PlainDay(day, f"{plain.capitalize()} is read as {_said(day)}, in the week that comes")
    if which == "last" or (which is None and not ahead):
        return PlainDay(today - timedelta(days=(today.weekday() - wanted - 1) % 7 + 1))
    if which == "this":
        return PlainDay(monday + timedelta(days=wanted))
    return PlainDay(today + timedelta(days=(wanted - today.weekday() - 1) % 7 + 1))


def _part_of_month(plain: str, today: date, ahead: bool) -> PlainDay | None:
    match = _PART.fullmatch(plain)
    if match is None or match[2] not in _MONTHS:
        return None
    part = match[1]

    def in_year(year: int) -> date:
        month = _MONTHS[match[2]]
        last = calendar.monthrange(year, month)[1]
        early = 10 if ahead else 1
        return date(year, month, {"mid": 15, "middle": 15, "end": last, "late": last}.get(part, early))

    return PlainDay(_in_the_nearest_year(in_year, match[3], today, ahead, plain))


def _in_the_nearest_year(
    in_year: Callable[[int], date], said_year: str | None, today: date, ahead: bool, said: str
) -> date:
    """The day in the year that was said; else in the nearest year that puts it ahead, or behind."""
    if said_year:
        year = int(said_year) + (2000 if len(said_year) == 2 else 0)
        if not EARLIEST_YEAR <= year <= LATEST_YEAR:
            raise UnknownDay(f"{said} lies in the year {year}. Look at the year")
        return in_year(year)
    day = in_year(today.year)
    if ahead and day < today:
        return in_year(today.year + 1)
    return in_year(today.year - 1) if not ahead and day > today else day


def _figures(plain: str, today: date, ahead: bool) -> PlainDay | None:
    if match := re.fullmatch(r"([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})", plain):
        return PlainDay(_made(int(match[1]), int(match[2]), int(match[3]), plain))
    match = re.fullmatch(r"([0-9]{1,2})([./-])([0-9]{1,2})(?:[./-]([0-9]{4}|[0-9]{2})?)?", plain)
    if match is None:
        return None
    of_month, month = int(match[1]), int(match[3])
    if month > 12 >= of_month:
        raise UnknownDay(f"'{plain}': there is no month {month}. Days are read day first")
    day = _in_the_nearest_year(lambda year: _made(year, month, of_month, plain), match[4], today, ahead, plain)
    twofold = match[2] != "." and of_month <= 12 and of_month != month
    return PlainDay(day, f"{plain} is read day first: {_said(day)}" if twofold else "")


def _named_month(plain: str, today: date, ahead: bool) -> PlainDay | None:
    words = re.sub(r"\b([0-9]{1,2})(?:st|nd|rd|th|\.)(?=\s|$)", r"\1", plain)
    words = re.sub(r"^(?:on|by|since|in)\s+|\bof\s+|\bthe\s+", "", words)
    match = re.fullmatch(r"(?:([0-9]{1,2})\s*)?([a-z]+)\.?(?:\s+([0-9]{1,2}))?(?:\s+([0-9]{4}))?", words)
    if match is None or match[2] not in _MONTHS or (match[1] and match[3]):
        return None
    month, figure = _MONTHS[match[2]], match[1] or match[3]

    def in_year(year: int) -> date:
        if figure:
            return _made(year, month, int(figure), plain)
        return date(year, month, calendar.monthrange(year, month)[1] if ahead else 1)

    if not figure and not match[4] and not ahead and date(today.year, month, 1) > today:
        return PlainDay(in_year(today.year - 1))
    return PlainDay(_in_the_nearest_year(in_year, match[4], today, ahead, plain))


def _iso_week(plain: str, today: date, ahead: bool) -> PlainDay | None:
    match = re.fullmatch(
        r"(?:in\s+|by\s+)?(?:calendar\s+)?(?:week|wk|w|kw|cw)\.?\s*([0-9]{1,2})(?:\s+([0-9]{4}))?", plain
    )
    if match is None:
        return None
    week = int(match[1])

    def in_year(year: int) -> date:
        try:
            return date.fromisocalendar(year, week, 5 if ahead else 1)
        except ValueError:
            raise UnknownDay(f"There is no week {week} in {year}") from None

    return PlainDay(_in_the_nearest_year(in_year, match[2], today, ahead, plain))


def _next(plain: str, today: date, ahead: bool) -> PlainDay | None:
    """This, next and last week and month: a promise means the Friday or the last day, a start the first."""
    match = re.fullmatch(r"(?:(?:the\s+)?end\s+of\s+)?(?:the\s+)?(this|next|last)\s+(week|month|year)", plain)
    if match is None:
        return None
    steps = {"last": -1, "this": 0, "next": 1}[match[1]]
    to_end = ahead or plain.startswith(("end", "the end"))
    if match[2] == "week":
        monday = today + timedelta(days=7 * steps - today.weekday())
        return PlainDay(monday + timedelta(days=4 if to_end else 0))
    if match[2] == "year":
        return PlainDay(date(today.year + steps, 12, 31) if to_end else date(today.year + steps, 1, 1))
    first = _months_on(today.replace(day=1), steps, plain)
    return PlainDay(first.replace(day=calendar.monthrange(first.year, first.month)[1]) if to_end else first)


def _said(day: date) -> str:
    return f"{day:%A} {day.day} {day:%B} {day.year}"
