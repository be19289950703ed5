"""Figures as the screens write them: a length with its twin unit, a count with its thousands, a mass."""

import re
from datetime import date, datetime
from typing import Any

from django import template
from django.utils import timezone
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe

from witnessmark.calc.fasteners.length import stock_words
from witnessmark.calc.plan.working_days import said_day
from witnessmark.calc.units import MM_PER_IN

register = template.Library()


def _short(value: float, digits: int) -> str:
    text = f"{value:,.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


@register.filter
def mm(value: float | None) -> str:
    """A length in mm, as a table writes it."""
    return "" if value is None else _short(value, 3)


@register.filter
def stock(value: float | None) -> str:
    """A stock length as its rivet is sold: `8 mm`, `9/32 in (7.14 mm)`."""
    return "" if value is None else stock_words(value)


@register.filter
def inch(value: float | None) -> str:
    """The same length in inches, as a table writes it."""
    return "" if value is None else f"{value / MM_PER_IN:.3f}"


@register.filter
def twin(value: float | None, first: str = "mm") -> SafeString | str:
    """A length in a sentence: the wanted unit first, the other beside it."""
    if value is None:
        return ""
    one, other = f"{_short(value, 3)} mm", f"{value / MM_PER_IN:.3f} in"
    if first == "in":
        one, other = other, one
    return format_html('<span class="key">{}</span> <span class="in">({})</span>', one, other)


@register.filter
def thousands(value: Any) -> str:
    """A count with its thousands apart."""
    return f"{value:,}" if isinstance(value, int) else str(value)


@register.filter
def grams(value: float | None) -> str:
    """A mass in g."""
    return "not weighed" if value is None else _short(value, 1)


@register.filter
def day(value: date | None, now: date) -> str:
    """A day in a sentence, with its year where that could be mistaken."""
    return "" if value is None else said_day(_date(value), now)


@register.filter
def short_day(value: date | None, now: date) -> str:
    """The same as a table writes it."""
    return "" if value is None else said_day(_date(value), now, short=True)


@register.filter
def iso_day(value: str, now: date) -> str:
    """A day that was kept as text, as a table writes it."""
    return said_day(date.fromisoformat(value), now, short=True)


def _date(value: date) -> date:
    """A moment's day by the shop's clock."""
    return timezone.localtime(value).date() if isinstance(value, datetime) else value


@register.filter
def small(text: str) -> str:
    """The same words inside a sentence: the first letter small, unless it is an abbreviation."""
    return text[0].lower() + text[1:] if text[:1].isupper() and not text[:2].isupper() else text


@register.filter
def mass(value: float | None) -> SafeString | str:
    """A mass in a sentence, pounds beside it."""
    if value is None:
        return "not weighed"
    return format_html(
        '<span class="id">{} g</span> <span class="in">({} lb)</span>', _short(value, 1), f"{value / 453.59237:.2f}"
    )


@register.filter
def whole(text: Any) -> SafeString:
    """Numbers and marks that must not break at a line's end: `HB-12`, `F-44`, `3.0 mm`."""
    marked = re.sub(
        r"(?<![\w&#;])((?:[A-Z][A-Z0-9]*-[\w./×-]*\w)|(?:\d+[-–]\d+)|(?:\d[\d.,]* (?:mm|in|kg|g|D))(?![\w]))",
        r'<span class="id">\1</span>',
        str(conditional_escape(text)),
    )
    return mark_safe(marked)  # noqa: S308 the text was escaped, the span is our own


@register.filter
def percent(value: float | None) -> str:
    """A chance in a hundred, as a table writes it; what is small is not written as nought."""
    if value is None:
        return "no claim"
    return "under 1" if 0 < value < 0.005 else f"{100 * value:.0f}"


@register.filter
def stopped(text: str) -> str:
    """What people wrote, closed with a full stop as a sentence is."""
    plain = text.strip()
    return plain if not plain or plain[-1] in ".!?" else f"{plain}."
