"""Stress relief and embrittlement bakes, by the specification called out, with the strictest beside it."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache

from witnessmark.calc.sources import Status
from witnessmark.calc.surface.heat_caps import celsius
from witnessmark.calc.tables import load_table
from witnessmark.calc.working import Answer, working

KSI = 6.894757
# HRC of the scope of the relief specification beside its strengths: 34 at 150 ksi, 40 at 180 ksi.
_HRC_KSI = {34.0: 150.0, 40.0: 180.0}
ALWAYS_REFUSED = ("case-hardened", "cold-straightened", "spring")
DANGEROUS_START_H = 4.0
NOT_PUT_RIGHT = "A later bake does not put it right."


class UnknownSpecification(ValueError):
    """A specification of whose bake nothing is held."""


@dataclass(frozen=True)
class BakeRule:
    """One row of the bake table, in its specification's own figures."""

    spec: str
    applies_to: str
    when: str
    low_mpa: float | None
    high_mpa: float | None
    section_low_mm: float
    section_high_mm: float
    least_c: float | None
    most_c: float | None
    temperature_printed: str
    hours: float | None
    start_within_h: float | None
    note: str
    source: str
    status: Status

    def covers(self, strength_mpa: float, section_mm: float | None) -> bool:
        """Say whether the row speaks of this strength and section."""
        if self.low_mpa is None and self.high_mpa is None:
            return True
        low, high = self.low_mpa or 0.0, self.high_mpa or math.inf
        if not low <= strength_mpa <= high:
            return False
        if section_mm is None:
            return True
        return self.section_low_mm < section_mm <= self.section_high_mm


@dataclass(frozen=True)
class Bake(Answer):
    """The bake of the specification called out; the strictest of the others beside it; or why it is refused."""

    called_out: BakeRule | None
    refusal: str
    next_step: str
    longest: BakeRule | None
    soonest: BakeRule | None
    asks_on_the_instruction: tuple[str, ...]

    @property
    def released(self) -> bool:
        """Whether a plating route may carry this bake."""
        return not self.refusal


@dataclass(frozen=True)
class CertificateVerdict:
    """What the times on a certificate mean for the pieces."""

    quarantine: bool
    reasons: tuple[str, ...]
    hand_over: str


def _section(text: str) -> tuple[float, float]:
    if text.startswith("<="):
        return 0.0, float(text[2:])
    if text.startswith(">"):
        return float(text[1:]), math.inf
    if "-" in text:
        low, high = text.split("-")
        return float(low), float(high)
    return 0.0, math.inf


def _mpa(value: str, unit: str) -> float | None:
    if not value or unit in ("HRC", "HV"):
        if unit == "HRC" and value and float(value) in _HRC_KSI:
            return _HRC_KSI[float(value)] * KSI
        return None
    # "1001 to 1100" of the chart means above 1000: whole figures leave no gap between rows.
    figure = float(value)
    return (figure - 1 + 1e-6 if figure % 100 == 1 else figure) if unit == "MPa" else figure * KSI


@cache
def bake_rules() -> tuple[BakeRule, ...]:
    """Return the bake table, row by row, nothing merged.

    Returns
    -------
    tuple of BakeRule
        In the order of the table.

    Examples
    --------
    >>> [r.hours for r in bake_rules() if r.spec.startswith("ASTM B850")]
    [22.0, 20.0, 18.0, 16.0, 14.0, 12.0, 10.0, 8.0]

    References
    ----------
    bake-rules
    """
    found = []
    for row in load_table("bake_rules").rows:
        section_low, section_high = _section(row["section_mm"])
        least, most = row["temp_min_F"], row["temp_max_F"]
        found.append(
            BakeRule(
                row["source_std"],
                row["applies_to"],
                row["when"],
                _mpa(row["threshold_low"], row["threshold_unit"]),
                _mpa(row["threshold_high"], row["threshold_unit"]),
                section_low,
                section_high,
                celsius(float(least)) if least else None,
                celsius(float(most)) if most else None,
                row["temp_printed"],
                # "5-10" is a range: its longer end is the cautious one.
                float(row["time_h"].split("-")[-1]) if row["time_h"] else None,
                float(row["start_within_h"]) if row["start_within_h"] else None,
                row["note"],
                row["source"],
                row["status"],  # type: ignore[arg-type]  # load_table refuses other words
            )
        )
    return tuple(found)


def _after_plating(rule: BakeRule) -> bool:
    apart = ("specimen", "case hardened")
    return rule.when.startswith("after plating") and not any(word in rule.applies_to for word in apart)


def specifications() -> tuple[str, ...]:
    """Return the specifications with a bake after plating.

    Returns
    -------
    tuple of str
        Names as printed.

    Examples
    --------
    >>> "MIL-STD-1501F" in specifications()
    True

    References
    ----------
    bake-rules
    """
    return tuple(dict.fromkeys(rule.spec for rule in bake_rules() if _after_plating(rule)))


@cache
def asked_from_mpa() -> float:
    """Return the least strength from which a specification that was read asks a bake after plating.

    Returns
    -------
    float
        Rows from memory, and rows for every steel of one kind of plating, do not count. [MPa]

    Examples
    --------
    >>> asked_from_mpa()
    1000.0

    References
    ----------
    bake-rules
    """
    return min(
        rule.low_mpa
        for rule in bake_rules()
        if _after_plating(rule) and rule.status != "memory" and rule.low_mpa is not None
    )


def bake_for(
    spec: str,
    strength_mpa: float | None,
    section_mm: float | None = None,
    tempering_limit_c: float | None = None,
    kind: str = "",
) -> Bake:
    """Return the embrittlement bake of the specification called out, the strictest others beside it.

    Parameters
    ----------
    spec : str
        Specification called out for the plating or its bake. [-]
    strength_mpa : float or None
        Tensile strength; None where nobody measured it. [MPa]
    section_mm : float or None
        Thickest section, which some tables ask. [mm]
    tempering_limit_c : float or None
        What the part may see without losing its temper. [C]
    kind : str
        `case-hardened`, `cold-straightened` or `spring`, or empty. [-]

    Returns
    -------
    Bake
        The row of that specification alone; refused where it does not hold for this part.

    Raises
    ------
    UnknownSpecification
        A specification of whose bake nothing is held.
    ValueError
        A strength, section or limit that is not above zero, or another kind of part.

    Notes
    -----
    Specifications disagree for the same steel: rows are never merged. Rows from memory release nothing.

    Examples
    --------
    >>> bake_for("ASTM B850-98(2009)", 1450).called_out.hours
    16.0
    >>> bake_for("MIL-STD-1501F", None).next_step
    'hardness check'

    References
    ----------
    bake-rules
    """
    if spec not in specifications():
        raise UnknownSpecification(
            f"Nothing is held of a bake after plating by '{spec}'. Held are: {', '.join(specifications())}."
        )
    if kind and kind not in ALWAYS_REFUSED:
        raise ValueError(f"a part is {', '.join(ALWAYS_REFUSED)} or none of these, not {kind!r}")
    for value in (strength_mpa, section_mm, tempering_limit_c):
        if value is not None and not (math.isfinite(value) and value > 0):
            raise ValueError(f"a strength, section or limit is above zero, not {value}")
    rows = [rule for rule in bake_rules() if rule.spec == spec and _after_plating(rule)]
    chosen, refusal, next_step = None, "", ""
    if strength_mpa is None:
        refusal = "Its strength is not recorded: it is read neither as mild nor as hard."
        next_step = "hardness check"
    else:
        chosen, refusal, next_step = _choose(rows, strength_mpa, section_mm)
        if kind:
            refusal = f"It is {kind} and {spec} holds no rule of its own for that, as far as it was read."
            next_step = "ask the engineer"
        elif chosen is not None and not refusal and too_hot(chosen, tempering_limit_c):
            refusal = (
                f"The bake runs up to {chosen.most_c:.0f} C and this part may see {tempering_limit_c:.0f} C: "
                "it would lose its temper."
            )
            next_step = "ask the engineer"
    longest, soonest = _strictest(strength_mpa, section_mm)
    return Bake(
        working=working(
            "the row of the specification called out; beside it the longest and the soonest of all others",
            [
                ("specification", spec, "-", "called out"),
                ("strength", strength_mpa if strength_mpa is not None else "not recorded", "MPa", "given"),
                ("thickest section", section_mm if section_mm is not None else "not given", "mm", "given"),
                *(_row("called out", chosen) if chosen else []),
                *(_row("longest of the others", longest) if longest and longest != chosen else []),
                *(_row("soonest of the others", soonest) if soonest and soonest != chosen else []),
            ],
            ("bake-rules",),
            (
                "Bake rules of different specifications disagree for the same steel; they are not merged.",
                NOT_PUT_RIGHT,
                *((chosen.note + ".",) if chosen and "DANGEROUS" in chosen.note else ()),
            ),
            "Carbon and low-alloy steel, as far as each document was read.",
        ),
        called_out=chosen,
        refusal=refusal,
        next_step=next_step,
        longest=longest,
        soonest=soonest,
        asks_on_the_instruction=("time out of the bath", "time into the oven", "hours in the oven", "temperature"),
    )


def too_hot(rule: BakeRule | None, limit_c: float | None) -> bool:
    """Say whether a bake runs hotter than a part may see.

    Parameters
    ----------
    rule : BakeRule or None
        The row called out. [-]
    limit_c : float or None
        What the part may see; None where nobody said. [C]

    Returns
    -------
    bool
        False where either is not known.

    Examples
    --------
    >>> too_hot(bake_for("MIL-STD-1501F", 1379).called_out, 150.0)
    True

    References
    ----------
    bake-rules
    """
    return rule is not None and limit_c is not None and rule.most_c is not None and rule.most_c > limit_c


def _row(what: str, rule: BakeRule) -> list[tuple[str, float | int | str, str, str]]:
    hours = f"{rule.hours:g}" if rule.hours is not None else "not read"
    start = f", started within {rule.start_within_h:g} h" if rule.start_within_h is not None else ""
    return [(what, f"{rule.spec}: {rule.temperature_printed}{start}, {hours}", "h", f"{rule.source} ({rule.status})")]


def _choose(rows: list[BakeRule], strength_mpa: float, section_mm: float | None) -> tuple[BakeRule | None, str, str]:
    if section_mm is None and any(math.isfinite(rule.section_high_mm) for rule in rows):
        return None, "Its table goes by the thickest section, which is not given.", "measure the thickest section"
    covering = [rule for rule in rows if rule.covers(strength_mpa, section_mm)]
    if not covering:
        tops = [rule.high_mpa for rule in rows if rule.high_mpa is not None]
        lows = [rule.low_mpa for rule in rows if rule.low_mpa is not None]
        if tops and strength_mpa > max(tops) and all(rule.high_mpa for rule in rows):
            return (
                None,
                f"{strength_mpa:g} MPa lies above its table, which ends at {max(tops):g} MPa.",
                "ask the engineer",
            )
        if lows and strength_mpa < min(lows):
            return None, "", ""
        return None, f"Its table holds no row for {strength_mpa:g} MPa.", "ask the engineer"
    # Where two rows of one table meet (1150 MPa), the stricter counts.
    chosen = max(covering, key=lambda rule: (rule.hours is None, rule.hours or 0.0))
    if chosen.status == "memory":
        return chosen, "Its bake is from memory only: read the specification first.", "read the specification"
    if chosen.hours is None:
        why = "time by experiment" if "experiment" in chosen.note else "its table was not read"
        return chosen, f"It gives no time for this part ({why}).", "ask the engineer"
    return chosen, "", ""


def _strictest(strength_mpa: float | None, section_mm: float | None) -> tuple[BakeRule | None, BakeRule | None]:
    """The longest and the soonest bake of any aircraft or general specification for this strength."""
    if strength_mpa is None:
        return None, None
    found = [
        rule
        for rule in bake_rules()
        if _after_plating(rule)
        and rule.status != "memory"
        and not rule.spec.startswith("USCAR")
        and rule.covers(strength_mpa, section_mm)
    ]
    timed = [rule for rule in found if rule.hours is not None]
    started = [rule for rule in found if rule.start_within_h is not None]
    return (
        max(timed, key=lambda rule: rule.hours or 0.0, default=None),
        min(started, key=lambda rule: rule.start_within_h or 0.0, default=None),
    )


def read_certificate(
    rule: BakeRule,
    out_of_bath_h: float | None,
    into_oven_h: float | None,
    hours: float | None,
    temperature_c: float | None,
) -> CertificateVerdict:
    """Read the times of a bake certificate against the row that was called out.

    Parameters
    ----------
    rule : BakeRule
        Row called out on the instruction. [-]
    out_of_bath_h : float or None
        Time out of the bath, counted from any moment; None where the certificate is silent. [h]
    into_oven_h : float or None
        Time into the oven, counted from the same moment. [h]
    hours : float or None
        Hours in the oven. [h]
    temperature_c : float or None
        Temperature of the oven. [C]

    Returns
    -------
    CertificateVerdict
        Quarantine with reasons where a figure is missing or over its limit.

    Notes
    -----
    Where the row itself names no start, four hours, the common figure of the others, is asked for.

    Examples
    --------
    >>> chrome = bake_for("MIL-STD-1501F", 1379).called_out
    >>> read_certificate(chrome, 9.0, 12 + 59 / 60, 23, 190).quarantine
    False
    >>> read_certificate(chrome, 9.0, 13 + 1 / 60, 23, 190).reasons[0]
    'It waited 4.02 h between bath and oven; 4 h is the limit. A later bake does not put it right.'

    References
    ----------
    bake-rules
    """
    reasons = []
    limit = rule.start_within_h if rule.start_within_h is not None else DANGEROUS_START_H
    if out_of_bath_h is None or into_oven_h is None:
        reasons.append(f"The certificate does not say when it left the bath and entered the oven. {NOT_PUT_RIGHT}")
    elif into_oven_h < out_of_bath_h:
        reasons.append("The certificate puts it into the oven before it left the bath.")
    elif into_oven_h - out_of_bath_h > limit + 1e-9:
        waited = into_oven_h - out_of_bath_h
        reasons.append(f"It waited {waited:.2f} h between bath and oven; {limit:g} h is the limit. {NOT_PUT_RIGHT}")
    if hours is None:
        reasons.append("The certificate does not say how long it was baked.")
    elif rule.hours is not None and hours < rule.hours:
        reasons.append(f"It was baked {hours:g} h; {rule.hours:g} h were called out. {NOT_PUT_RIGHT}")
    if temperature_c is None:
        reasons.append("The certificate does not say how hot the oven was.")
    elif (rule.least_c is not None and temperature_c < rule.least_c - 0.5) or (
        rule.most_c is not None and temperature_c > rule.most_c + 0.5
    ):
        reasons.append(f"The oven stood at {temperature_c:g} C; called out was {rule.temperature_printed}.")
    return CertificateVerdict(bool(reasons), tuple(reasons), "design engineer" if reasons else "")


def relief_before_plating(strength_mpa: float | None, hardness_hrc: float | None, worked: bool) -> tuple[BakeRule, str]:
    """Return the stress relief before plating of steel that was ground, formed or straightened after hardening.

    Parameters
    ----------
    strength_mpa : float or None
        Tensile strength. [MPa]
    hardness_hrc : float or None
        Rockwell C hardness, where it was measured. [HRC]
    worked : bool
        Machined, ground, formed or straightened after hardening. [-]

    Returns
    -------
    tuple
        The row, and a sentence that says whether it is asked for.

    Raises
    ------
    ValueError
        Neither strength nor hardness: unknown is read neither as mild nor as hard.

    Examples
    --------
    >>> relief_before_plating(1300, None, True)[1]
    'Stress relief before plating: 375+/-25 F, 4 h.'

    References
    ----------
    bake-rules
    """
    if strength_mpa is None and hardness_hrc is None:
        raise ValueError("neither strength nor hardness is known: a hardness check comes first")
    hard = (hardness_hrc or 0) >= 40 or (strength_mpa or 0) >= 180 * KSI
    very = (hardness_hrc or 0) >= 55
    rows = [rule for rule in bake_rules() if "stress relief BEFORE" in rule.when]
    row = next(rule for rule in rows if bool(re.search(r">=55", rule.applies_to)) == very)
    if not worked or not hard:
        return row, "No stress relief is asked for before plating."
    return row, f"Stress relief before plating: {row.temperature_printed}, {row.hours:g} h."
