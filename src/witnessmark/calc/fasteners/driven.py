"""Length by volume beside the 1.5 D rule, and the shop head that a stock length would make."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from witnessmark.calc.fasteners.length import INCH_STEP_MM, METRIC_STEP_MM, Head, System, rivet_length, stock_words
from witnessmark.calc.working import Answer, working

LEAST_WIDTH, LEAST_HEIGHT = 1.3, 0.3
CLINCH = 2.0
WIDE = 1.9
AIMED = 1.5**2 * 0.5  # D: shank that a flat head of 1.5 D by 0.5 D uses up


@dataclass(frozen=True)
class StockHead:
    """One stock length and the shop head it would make when driven to 0.5 D high."""

    stock_mm: float
    stands_out_mm: float
    width_mm: float
    width_over_d: float
    flag: str


@dataclass(frozen=True)
class LengthChoice(Answer):
    """The rule and the volume side by side, and the stock lengths around them; `order_mm` is the length to order."""

    rule_mm: float
    volume_mm: float
    rule_stock_mm: float
    best_stock_mm: float
    heads: tuple[StockHead, ...]
    order_mm: float
    sentence: str

    @property
    def near(self) -> tuple[StockHead, ...]:
        """The stock lengths that make a head at all, and the next shorter one."""
        made = [at for at, head in enumerate(self.heads) if head.flag != "short"]
        return self.heads[max(0, made[0] - 2) :] if made else self.heads[-3:]


def length_choice(
    grip_mm: float,
    diameter_mm: float,
    hole_mm: float | None = None,
    head: Head = "protruding",
    head_height_mm: float = 0.0,
    system: System = "metric",
    half_steps: bool = False,
    order_mm: float | None = None,
) -> LengthChoice:
    """Return the length by rule and by volume, and what each near stock length would make.

    Parameters
    ----------
    grip_mm : float
        Thickness of the stack. [mm]
    diameter_mm : float
        Nominal diameter of the rivet. [mm]
    hole_mm : float or None
        Hole as measured; None for a hole that the shank just fills. [mm]
    head : str
        `protruding` or `flush` (length over all). [-]
    head_height_mm : float
        Height of a flush head's cone; 0 for a protruding head. [mm]
    system : str
        `metric` or `inch`. [-]
    half_steps : bool
        True where metric lengths in steps of 0.5 mm can be had; inch lengths have half sizes always. [-]
    order_mm : float or None
        Stock length that the order has already; None for the rule's next one. [mm]

    Returns
    -------
    LengthChoice
        Both lengths, three or more stock lengths, each flagged, and which one the order takes and why.

    Raises
    ------
    ValueError
        A figure that is not above zero or absurd, a hole smaller than the rivet, a flush head taller than the stack.

    Notes
    -----
    Volume: L = k + (G - k)(Dh/D)^2 + 1.125 D; k is the flush head. Flags: *short* below 1.3 D wide at 0.5 D high;
    *over-driven* past 1.9 D wide there; *clinch-prone* where more than 2 D stands out. The last two are from memory.

    Examples
    --------
    >>> choice = length_choice(2.4, 4.0, 4.1)
    >>> round(choice.rule_mm, 2), round(choice.volume_mm, 2)
    (8.4, 7.02)

    References
    ----------
    navedtra-14018-length
    bs275
    mil-hdbk-5h-shop-head
    driving-practice
    """
    hole = diameter_mm if hole_mm is None else hole_mm
    for what, value, most in (("grip", grip_mm, 200), ("diameter", diameter_mm, 12), ("hole", hole, 15)):
        if not math.isfinite(value) or value <= 0:
            raise ValueError(f"the {what} must be above zero, not {value}")
        if value > most or (what != "grip" and value < 1):
            raise ValueError(f"the {what} of {value:g} mm is no solid rivet's: look at its unit")
    if not diameter_mm - 0.05 <= hole <= 1.5 * diameter_mm:
        raise ValueError(f"a hole of {hole:g} mm does not belong to a rivet of {diameter_mm:g} mm")
    if not 0 <= head_height_mm < grip_mm or (head == "protruding" and head_height_mm):
        raise ValueError("a flush head is lower than the stack, and a protruding one has no height inside it")
    rule = rivet_length(grip_mm, diameter_mm, head, system)
    fill = head_height_mm + (grip_mm - head_height_mm) * (hole / diameter_mm) ** 2
    volume = fill + AIMED * diameter_mm
    step = INCH_STEP_MM if system == "inch" else METRIC_STEP_MM / (2 if half_steps else 1)
    first = max(1, math.ceil(grip_mm / step))
    last = math.ceil(max(rule.exact_mm, volume, grip_mm + 2.2 * diameter_mm) / step - 1e-9)
    heads = tuple(_head(n * step, grip_mm, fill, diameter_mm) for n in range(first, last + 1) if n * step > fill)
    best = min(heads, key=lambda h: (h.flag != "", abs(h.stock_mm - volume)))
    ordered = _head(rule.stock_mm if order_mm is None else order_mm, grip_mm, fill, diameter_mm)
    cautions: tuple[str, ...] = ()
    if all(h.flag for h in heads):
        cautions = ("No stock length makes a head within the limits: cut a longer one down.",)
    return LengthChoice(
        working=working(
            "rule L = G + 1.5 D; volume L = k + (G - k)(Dh/D)^2 + 1.125 D",
            [
                ("G", grip_mm, "mm", "stack"),
                ("D", diameter_mm, "mm", "size"),
                ("Dh", hole, "mm", "hole"),
                ("k", head_height_mm, "mm", "flush head"),
                ("L, rule", rule.exact_mm, "mm", "computed"),
                ("L, volume", round(volume, 4), "mm", "computed"),
                ("L, order", ordered.stock_mm, "mm", "the rule, rounded up to the stock step"),
            ],
            ("navedtra-14018-length", "bs275", "mil-hdbk-5h-shop-head", "driving-practice"),
            cautions,
            "Solid rivets with a flat shop head.",
        ),
        rule_mm=rule.exact_mm,
        volume_mm=volume,
        rule_stock_mm=math.ceil(rule.exact_mm / step - 1e-6) * step,
        best_stock_mm=best.stock_mm,
        heads=heads,
        order_mm=ordered.stock_mm,
        sentence=_sentence(ordered, rule.exact_mm, volume, best.stock_mm),
    )


def _sentence(ordered: StockHead, rule_mm: float, volume_mm: float, best_mm: float) -> str:
    """Say in one sentence which of both lengths the order takes, why, and how far the other lies from it."""
    said = stock_words(ordered.stock_mm)
    apart = rule_mm - volume_mm
    other = f"by volume {volume_mm:.2f} mm would do, {apart:.2f} mm less" if apart >= 0 else (
        f"by volume it takes {volume_mm:.2f} mm, {-apart:.2f} mm more"
    )  # fmt: skip
    makes = {
        "": "within the limits",
        "short": "too narrow",
        "over-driven": "too wide and thin",
        "clinch-prone": "and may bend over, so much stands out",
    }[ordered.flag]
    end = "" if not ordered.flag else f" Try {stock_words(best_mm)} on scrap before the order leaves."
    return (
        f"Order {said}: the 1.5 D rule gives {rule_mm:.2f} mm and leads, for it is the printed one and a long rivet can be "
        f"cut; {other}; the ordered one makes a head {ordered.width_over_d:.2f} D wide, {makes}.{end}"
    )


def _head(stock_mm: float, grip_mm: float, fill_mm: float, diameter_mm: float) -> StockHead:
    width = math.sqrt(max(0.0, (stock_mm - fill_mm) / diameter_mm) / 0.5)
    stands = stock_mm - grip_mm
    flag = ""
    if width < LEAST_WIDTH - 1e-9:
        flag = "short"
    elif stands > CLINCH * diameter_mm + 1e-9:
        flag = "clinch-prone"
    elif width > WIDE + 1e-9:
        flag = "over-driven"
    return StockHead(round(stock_mm, 6), round(stands, 6), width * diameter_mm, width, flag)


def judge_head(width_mm: float, height_mm: float, diameter_mm: float) -> Literal["", "short", "over-driven"]:
    """Judge a shop head that was measured.

    Parameters
    ----------
    width_mm : float
        Width of the driven head. [mm]
    height_mm : float
        Height of the driven head. [mm]
    diameter_mm : float
        Nominal diameter of the rivet. [mm]

    Returns
    -------
    str
        Empty where both lie within the minimum; `short` too narrow; `over-driven` too flat.

    Raises
    ------
    ValueError
        A figure that is not above zero.

    Notes
    -----
    At least 1.3 D wide and 0.3 D high; 7050 rivets want 1.4 D.

    Examples
    --------
    >>> judge_head(6.2, 1.0, 4.0)
    'over-driven'

    References
    ----------
    mil-hdbk-5h-shop-head
    """
    if min(width_mm, height_mm, diameter_mm) <= 0 or not math.isfinite(width_mm + height_mm + diameter_mm):
        raise ValueError("width, height and diameter are above zero")
    if height_mm < LEAST_HEIGHT * diameter_mm - 1e-9:
        return "over-driven"
    return "short" if width_mm < LEAST_WIDTH * diameter_mm - 1e-9 else ""
