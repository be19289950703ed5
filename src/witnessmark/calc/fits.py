"""Press and shrink fits: pressure and grip by Lame, and the heat that assembles or releases them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.calc.metals import Metal
from witnessmark.calc.surface.heat_caps import HeatCap, fahrenheit
from witnessmark.calc.working import Answer, working

DRY_ICE_C, LIQUID_NITROGEN_C = -78.0, -196.0
BEFORE_THE_OVEN = (
    "Bearings, seals, tyre and tube are out, rivets are out, dust is gone without an air hose.",
    "An index mark runs across both parts, so that they go back as they were.",
    "A thermocouple sits on the part itself. An oven, never a flame.",
)
FOR_PUTTING_BACK = (
    "Measure the outside diameter after plating, and bring a pair of drums to one bore.",
    "Have the press or the stop ready: a light part cools in seconds, and a half-home drum is pressed out again.",
    "Coats that the heat would harm go on only afterwards.",
)


@dataclass(frozen=True)
class Joint:
    """An inner part in an outer one: sizes at room temperature; `bore_mm` is 0 where the inner part is solid."""

    inner: Metal
    outer: Metal
    diameter_mm: float
    outer_diameter_mm: float
    interference_mm: float
    length_mm: float
    bore_mm: float = 0.0
    friction: float = 0.12


@dataclass(frozen=True)
class PressFit(Answer):
    """What the fit holds: pressure on the seat, force and torque to move it, hoop stresses at the seat."""

    pressure_mpa: float
    force_n: float
    torque_nm: float
    outer_hoop_mpa: float
    inner_hoop_mpa: float


@dataclass(frozen=True)
class Instead:
    """Another way where heat alone is refused."""

    what: str
    figure: float
    unit: str
    sentence: str


@dataclass(frozen=True)
class ShrinkFit(Answer):
    """The temperature that opens the fit by the wanted gap, and whether the outer part may see it."""

    needed_c: float
    least_c: float
    most_c: float
    cap_c: float | None
    allowed: bool
    refusal: str
    instead: tuple[Instead, ...]
    grip_share_at_service: float
    grip_share_low: float
    grip_share_high: float
    pressure_at_service_mpa: float


def _check(joint: Joint) -> None:
    figures = (joint.diameter_mm, joint.outer_diameter_mm, joint.interference_mm, joint.length_mm, joint.bore_mm)
    if not all(math.isfinite(value) for value in (*figures, joint.friction)):
        raise ValueError("every size of a fit is a number")
    if not 0 <= joint.bore_mm < joint.diameter_mm < joint.outer_diameter_mm:
        raise ValueError("the bore is smaller than the seat, and the seat smaller than the outer part")
    if joint.interference_mm <= 0 or joint.length_mm <= 0 or not 0 < joint.friction < 1:
        raise ValueError("interference, length and friction are above zero, and friction below one")


def _give(joint: Joint) -> tuple[float, float, float]:
    """Widening of the outer and narrowing of the inner part per MPa and mm of diameter, and the outer part's factor."""
    d, outer, bore = joint.diameter_mm, joint.outer_diameter_mm, joint.bore_mm
    hoop_out = (outer**2 + d**2) / (outer**2 - d**2)
    hoop_in = (d**2 + bore**2) / (d**2 - bore**2)
    widen = (hoop_out + joint.outer.poisson) / (joint.outer.e_gpa * 1000)
    narrow = (hoop_in - joint.inner.poisson) / (joint.inner.e_gpa * 1000)
    return widen, narrow, hoop_out


def press_fit(joint: Joint) -> PressFit:
    """Return what a press or shrink fit holds at room temperature.

    Parameters
    ----------
    joint : Joint
        Metals and sizes at room temperature; interference on the diameter. [mm]

    Returns
    -------
    PressFit
        Pressure and hoop stresses in MPa, force along the axis in N, torque in N m.

    Raises
    ------
    ValueError
        Sizes that do not nest, or a figure that is not above zero.

    Notes
    -----
    Lame's thick cylinders, both parts elastic, of one length and smooth; the real grip is lower by the flattening of
    the surfaces.

    Examples
    --------
    >>> from witnessmark.calc.metals import Metal
    >>> steel = Metal("steel of the example", 7850, 12, 12, 12, 200, 0.3, "", "read")
    >>> fit = press_fit(Joint(steel, steel, 50, 80, 0.04, 40, friction=0.15))
    >>> round(fit.pressure_mpa, 2), round(fit.force_n / 1000, 2), round(fit.torque_nm)
    (48.75, 45.95, 1149)

    References
    ----------
    lame-cylinders
    """
    _check(joint)
    widen, narrow, hoop_out = _give(joint)
    pressure = joint.interference_mm / (joint.diameter_mm * (widen + narrow))
    force = joint.friction * pressure * math.pi * joint.diameter_mm * joint.length_mm
    bore = joint.bore_mm
    hoop_in = (joint.diameter_mm**2 + bore**2) / (joint.diameter_mm**2 - bore**2)
    rows = [*_rows(joint), ("friction", joint.friction, "-", "given")]
    return PressFit(
        working=working(
            "p = interference / (d [(Ko + vo) / Eo + (Ki - vi) / Ei]); force = friction p pi d L; torque = force d / 2",
            [*rows, ("pressure", round(pressure, 3), "MPa", "formula")],
            ("lame-cylinders",),
            (*joint.inner.cautions, *joint.outer.cautions),
            "Both parts elastic and of one length.",
        ),
        pressure_mpa=pressure,
        force_n=force,
        torque_nm=force * joint.diameter_mm / 2000,
        outer_hoop_mpa=pressure * hoop_out,
        inner_hoop_mpa=-pressure * hoop_in,
    )


def _rows(joint: Joint) -> list[tuple[str, float | int | str, str, str]]:
    return [
        ("inner part", joint.inner.name, "-", joint.inner.source),
        ("outer part", joint.outer.name, "-", joint.outer.source),
        ("seat d", joint.diameter_mm, "mm", "given"),
        ("outside of the outer part", joint.outer_diameter_mm, "mm", "given"),
        ("bore of the inner part", joint.bore_mm, "mm", "given"),
        ("interference on the diameter", round(joint.interference_mm, 6), "mm", "given"),
        ("length", joint.length_mm, "mm", "given"),
    ]


def grip_left(joint: Joint, service_c: float, room_c: float = 20.0) -> tuple[float, float, float]:
    """Return the share of the interference that is left at a temperature of both parts.

    Parameters
    ----------
    joint : Joint
        Metals and sizes at room temperature. [mm]
    service_c : float
        Temperature of both parts. [C]
    room_c : float
        Temperature at which the sizes were measured. [C]

    Returns
    -------
    tuple of float
        Likely, lowest and highest share by the spread of the expansion figures; 0 where the fit is loose.

    Raises
    ------
    ValueError
        Sizes that do not nest.

    Examples
    --------
    >>> from witnessmark.calc.metals import metal
    >>> joint = Joint(metal("steel"), metal("magnesium"), 200, 230, 0.3, 40, 180)
    >>> [round(share, 2) for share in grip_left(joint, 60)]
    [0.62, 0.59, 0.63]

    References
    ----------
    linear-expansion
    """
    _check(joint)
    rise = (service_c - room_c) * joint.diameter_mm * 1e-6

    def share(inner: float, outer: float) -> float:
        return max(0.0, 1 + (inner - outer) * rise / joint.interference_mm)

    i, o = joint.inner, joint.outer
    ends = [share(a, b) for a in (i.cte_low, i.cte_high) for b in (o.cte_low, o.cte_high)]
    return share(i.cte, o.cte), min(ends), max(ends)


def shrink_fit(
    joint: Joint,
    clearance_mm: float,
    cap: HeatCap | None,
    both_heated: bool = False,
    service_c: float = 60.0,
    room_c: float = 20.0,
    not_known: str = "",
) -> ShrinkFit:
    """Return the temperature that assembles or releases a fit, and what else to do where the heat is refused.

    Parameters
    ----------
    joint : Joint
        Metals and sizes at room temperature. [mm]
    clearance_mm : float
        Gap on the diameter wanted at the moment of moving. [mm]
    cap : HeatCap or None
        What the outer part may see; None where its alloy or temper is not known. [-]
    both_heated : bool
        True where the inner part stays in and soaks with the outer one. [-]
    service_c : float
        Warmest temperature in service, for the grip that is left. [C]
    room_c : float
        Temperature at which the sizes were measured. [C]
    not_known : str
        What no cap is held for, where it is not the outer part's alloy. [-]

    Returns
    -------
    ShrinkFit
        Likely, least and most temperature by the spread of the expansion figures; allowed only where the most lies
        under the cap.

    Raises
    ------
    ValueError
        Sizes that do not nest, a negative clearance, or both parts heated where the outer one does not grow more.

    Notes
    -----
    gap = d (ao dTo - ai dTi). Expansion figures are those near room temperature; hot figures are a little higher.
    An unknown alloy gets the least temperature that releases and no allowed one.

    Examples
    --------
    >>> from witnessmark.calc.metals import metal
    >>> from witnessmark.calc.surface.heat_caps import heat_cap
    >>> drum = Joint(metal("steel"), metal("AZ63A"), 250, 290, 0.3, 60, 235)
    >>> out = shrink_fit(drum, 0.1, heat_cap("AZ63A casting"), both_heated=True)
    >>> out.allowed, round(out.needed_c)
    (True, 132)
    >>> shrink_fit(drum, 0.1, None, both_heated=True).allowed
    False

    References
    ----------
    linear-expansion
    lame-cylinders
    shrink-practice
    """
    _check(joint)
    if not (math.isfinite(clearance_mm) and math.isfinite(service_c) and math.isfinite(room_c)) or clearance_mm < 0:
        raise ValueError("a clearance is not negative, and a temperature is a number")
    i, o = joint.inner, joint.outer
    gap = joint.interference_mm + clearance_mm

    def rise(outer: float, inner: float) -> float:
        difference = outer - (inner if both_heated else 0.0)
        return gap / (joint.diameter_mm * difference * 1e-6) if difference > 0 else math.inf

    needed, most, least = rise(o.cte, i.cte), rise(o.cte_low, i.cte_high), rise(o.cte_high, i.cte_low)
    if not math.isfinite(most):
        raise ValueError(
            f"{o.name} does not surely grow more than {i.name}: heating both does not part them. Heat the outer part alone, or chill the inner."
        )
    cap_c = cap.max_c if cap else None
    allowed = cap_c is not None and (room_c + most < cap_c if cap and cap.below else room_c + most <= cap_c)
    refusal, instead = "", tuple[Instead, ...]()
    if cap is None or cap_c is None:
        refusal = (
            f"What {not_known or o.name} may see is not known. The least that releases it is {room_c + least:.0f} °C "
            f"({fahrenheit(room_c + least):.0f} °F); no temperature is allowed until the engineer names the cap."
        )
    elif not allowed:
        refusal = (
            f"{'Both parts soaking together need' if both_heated else 'The outer part alone needs'} {room_c + needed:.0f} °C ({fahrenheit(room_c + needed):.0f} °F), "
            f"at worst {room_c + most:.0f} °C, and {cap.material_temper} may see {'less than' if cap.below else 'at most'} {cap_c:.0f} °C ({fahrenheit(cap_c):.0f} °F)."
        )
        instead = _instead(joint, clearance_mm, cap_c, both_heated, room_c)
    share, low, high = grip_left(joint, service_c, room_c)
    cautions = [*BEFORE_THE_OVEN, *FOR_PUTTING_BACK, *i.cautions, *o.cautions]
    if low == 0:
        cautions.insert(0, f"At {service_c:g} °C the fit may be loose: ask the engineer what holds it then.")
    if cap is not None:
        cautions += cap.cautions
    return ShrinkFit(
        working=working(
            "T = room + (interference + clearance) / (d (ao - ai)), ai = 0 where the inner part stays cold",
            [
                *_rows(joint),
                ("clearance wanted", clearance_mm, "mm", "given"),
                ("expansion of the outer part", o.cte, "1e-6/°C", f"{o.cte_low:g} to {o.cte_high:g}, {o.source}"),
                ("expansion of the inner part", i.cte, "1e-6/°C", f"{i.cte_low:g} to {i.cte_high:g}, {i.source}"),
                ("the gap opens by", round(gap / needed, 6), "mm/°C", "formula"),
                (
                    "cap",
                    round(cap_c, 1) if cap_c is not None else "not known",
                    "°C",
                    cap.source if cap else "ask the engineer",
                ),
            ],
            ("linear-expansion", "lame-cylinders", "shrink-practice", *(("heat-caps",) if cap else ())),
            tuple(cautions),
            "Expansion figures near room temperature; even heat through both parts.",
        ),
        needed_c=room_c + needed,
        least_c=room_c + least,
        most_c=room_c + most,
        cap_c=cap_c,
        allowed=allowed,
        refusal=refusal,
        instead=instead,
        grip_share_at_service=share,
        grip_share_low=low,
        grip_share_high=high,
        pressure_at_service_mpa=press_fit(joint).pressure_mpa * share,
    )


def _instead(joint: Joint, clearance_mm: float, cap_c: float, both_heated: bool, room_c: float) -> tuple[Instead, ...]:
    """Chill the inner part, or grind the fit: by the cautious ends of the expansion figures."""
    i, o, d = joint.inner, joint.outer, joint.diameter_mm
    hot = max(0.0, cap_c - room_c)
    opened = d * hot * (o.cte_low - (i.cte_high if both_heated else 0.0)) * 1e-6
    found = []
    alone = d * hot * o.cte_low * 1e-6
    wanted = joint.interference_mm + clearance_mm - alone
    chill_c = room_c - max(0.0, wanted) / (d * i.cte_low * 1e-6) if wanted > 0 else DRY_ICE_C
    if wanted <= 0:
        # The outer part alone opens it under the cap; chilling spares it heat still.
        gap, shrunk = joint.interference_mm + clearance_mm, d * (room_c - DRY_ICE_C) * i.cte_low * 1e-6
        hot_alone, hot_chilled = (room_c + max(0.0, g) / (d * o.cte_low * 1e-6) for g in (gap, gap - shrunk))
        sentence = (
            f"To put it together heat the outer part alone to {hot_alone:.0f} °C, or chill the inner part to {DRY_ICE_C:.0f} °C "
            f"(dry ice) and heat the outer only to {hot_chilled:.0f} °C. The inner part goes in cold and must not soak."
        )
        found.append(Instead("chill", DRY_ICE_C, "C", sentence))
    elif chill_c > LIQUID_NITROGEN_C:
        cold = "a deep freezer" if chill_c > -25 else "dry ice" if chill_c > DRY_ICE_C else "liquid nitrogen"
        sentence = (
            f"Heat the outer part alone to the cap and chill the inner part to {chill_c:.0f} °C ({cold}). It must go in "
            "cold, not soak."
        )
        found.append(Instead("chill", round(chill_c, 1), "C", sentence))
    grind = joint.interference_mm + clearance_mm - opened
    left = joint.interference_mm - grind
    if left > 0:
        found.append(
            Instead(
                "grind",
                round(grind, 4),
                "mm",
                f"Grind {grind:.3f} mm off the diameter of the fit: {left:.3f} mm of interference is left and opens at the cap. "
                "The engineer says whether that still holds it.",
            )
        )
    if not found:
        found.append(
            Instead("ask", 0.0, "-", "Neither chilling nor grinding opens it under the cap: ask the engineer.")
        )
    return tuple(found)
