"""Days as they are said. Weeks and weekdays are held against the calendar of the standard library and ISO 8601's own examples."""

import calendar
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.calc.plain_days import UnknownDay, plain_day

FRIDAY = date(2026, 11, 27)
DAYS = st.dates(date(1990, 1, 1), date(2090, 12, 31))


@pytest.mark.parametrize(
    ("text", "ahead", "day"),
    [
        # Facts of the calendar: 27 November 2026 is a Friday (ISO 8601 weekday 5).
        ("today", True, "2026-11-27"),
        ("Tomorrow", True, "2026-11-28"),
        ("in 8 weeks", True, "2027-01-22"),
        ("8 weeks", True, "2027-01-22"),
        ("8 weeks", False, "2026-10-02"),
        ("8w", False, "2026-10-02"),
        ("three weeks ago", False, "2026-11-06"),
        ("a fortnight", True, "2026-12-11"),
        ("in a couple of weeks", True, "2026-12-11"),
        ("a couple of weeks ago", False, "2026-11-13"),
        ("half a year ago", False, "2026-05-27"),
        ("in 3 months", True, "2027-02-27"),
        ("friday", True, "2026-12-04"),
        ("Friday", False, "2026-11-20"),
        ("on Monday", True, "2026-11-30"),
        ("last tuesday", False, "2026-11-24"),
        ("next wednesday", True, "2026-12-02"),
        ("12 May", True, "2027-05-12"),
        ("12 May", False, "2026-05-12"),
        ("May 12th, 2027", True, "2027-05-12"),
        ("the 3rd of March", True, "2027-03-03"),
        ("2026-12-24", True, "2026-12-24"),
        ("24.12.", True, "2026-12-24"),
        ("24.12.26", True, "2026-12-24"),
        ("1/2/2027", True, "2027-02-01"),
        ("end of January", True, "2027-01-31"),
        ("mid january", True, "2027-01-15"),
        ("end of February 2028", True, "2028-02-29"),  # a leap year
        ("January", True, "2027-01-31"),
        ("September", False, "2026-09-01"),
        ("next week", True, "2026-12-04"),
        ("end of next month", True, "2026-12-31"),
        # ISO 8601: the week with the year's first Thursday is week 1; week 1 of 2027 begins on 4 January.
        ("week 1", True, "2027-01-08"),
        ("KW 50", True, "2026-12-11"),
        ("week 40", False, "2026-09-28"),
    ],
)  # fmt: skip
def test_a_day_as_it_is_said(text: str, ahead: bool, day: str) -> None:
    assert plain_day(text, FRIDAY, ahead).day == date.fromisoformat(day)


@pytest.mark.parametrize("text", ["1/2/2027", "next friday"])
def test_what_could_be_another_day_is_said(text: str) -> None:
    assert "read" in plain_day(text, FRIDAY, True).remark


@pytest.mark.parametrize(
    "text",
    ["", "soon", "when it is ready", "31 April", "30.2.2027", "12/25/2026", "in weeks", "week 54", "in 9999 years",
     "9999 years ago", "0000-01-01", "12 Smarch", "32 May", "\0", "١٢ May", "in -3 weeks"],
)  # fmt: skip
def test_what_is_no_day_is_refused_in_words(text: str) -> None:
    with pytest.raises(UnknownDay) as why:
        plain_day(text, FRIDAY, True)
    assert len(str(why.value)) > 10


@given(day=DAYS, today=DAYS, ahead=st.booleans())
def test_a_day_written_out_is_that_day_whenever_it_is_read(day: date, today: date, ahead: bool) -> None:
    written = f"{day.day} {calendar.month_name[day.month]} {day.year}"
    for text in (written, day.isoformat(), f"{day.day}.{day.month}.{day.year}", written.upper()):
        assert plain_day(text, today, ahead).day == day


@given(today=DAYS, n=st.integers(0, 400), ahead=st.booleans())
def test_weeks_on_and_weeks_ago_are_sevens(today: date, n: int, ahead: bool) -> None:
    assert plain_day(f"in {n} weeks", today, ahead).day - today == timedelta(days=7 * n)
    assert today - plain_day(f"{n} days ago", today, ahead).day == timedelta(days=n)


@given(today=DAYS, weekday=st.integers(0, 6))
def test_a_weekday_lies_within_the_week_ahead_or_behind(today: date, weekday: int) -> None:
    name = calendar.day_name[weekday]
    to_come, gone = plain_day(name, today, True).day, plain_day(name, today, False).day
    assert to_come.weekday() == gone.weekday() == weekday
    assert 1 <= (to_come - today).days <= 7 and 1 <= (today - gone).days <= 7


@given(today=DAYS, day=st.integers(1, 28), month=st.integers(1, 12))
def test_without_a_year_it_is_the_nearest_on_the_right_side(today: date, day: int, month: int) -> None:
    text = f"{day} {calendar.month_abbr[month]}"
    assert 0 <= (plain_day(text, today, True).day - today).days <= 366
    assert 0 <= (today - plain_day(text, today, False).day).days <= 366


@given(text=st.text(max_size=30), today=DAYS, ahead=st.booleans())
def test_any_words_are_a_day_or_a_sentence(text: str, today: date, ahead: bool) -> None:
    try:
        found = plain_day(text, today, ahead)
    except UnknownDay:
        return
    assert 1850 <= found.day.year <= 2200
