"""How long a shrink fit stays open: seconds to slide the inner part home before the gap is gone."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

from witnessmark.calc.fits import Joint, ShrinkFit, shrink_fit
from witnessmark.calc.metals import Metal
from witnessmark.calc.surface.heat_caps import HeatCap
from witnessmark.calc.tables import load_table
from witnessmark.calc.working import Answer, working

# Still air and radiation in a shop, and two faces that touch lightly in air: textbook ranges, from memory.
AIR_W_M2K = (5.0, 25.0)
TOUCHING_W_M2K = 5000.0
AIR_CONDUCTS_W_MK = 0.026
MOST_S = 1e6
ROOM_C = 20.0


@dataclass(frozen=True)
class Heats:
    """What flows, a metre of length: heat held by each part, and watts a degree between them and to the air."""

    outer_j_mk: float
    inner_j_mk: float
    between_w_mk: float
    outer_air_w_mk: float
    inner_air_w_mk: float


@dataclass(frozen=True)
class SlideHome(Answer):
    """Seconds until the gap is gone: once the inner part is inside, and on the way from the oven to the bench."""

    outer_c: float
    inner_c: float
    gap_mm: float
    least_s: float
    most_s: float
    in_air_least_s: float
    in_air_most_s: float

    @property
    def sentence(self) -> str:
        """Say both, the shorter end first."""
        if not self.least_s > 0:
            return "By the cautious end of the expansion figures it does not go in at all: more heat, or grind the fit."
        return (
            f"From the oven to the bench the gap lasts {_seconds(self.in_air_least_s)} to {_seconds(self.in_air_most_s)}; "
            f"once it is inside and touches, {_seconds(self.least_s)} to {_seconds(self.most_s)} to slide it home."
        )


def heat_headline(heat: ShrinkFit, both_heated: bool, home: SlideHome | None) -> str:
    """Say which heat opens a fit or is refused, and in the same breath which way is open.

    Parameters
    ----------
    heat : ShrinkFit
        The heat that was asked for. [-]
    both_heated : bool
        True where both parts soak together, as when it is taken apart. [-]
    home : SlideHome or None
        Putting back with the outer part heated alone; None where no heat that is allowed opens it so. [-]

    Returns
    -------
    str
        One or two sentences.

    Examples
    --------
    >>> from witnessmark.calc.metals import metal
    >>> from witnessmark.calc.surface.heat_caps import heat_cap
    >>> drum, cap = Joint(metal("steel"), metal("AZ63A"), 250, 290, 0.42, 60, 235), heat_cap("AZ63A casting")
    >>> heat_headline(shrink_fit(drum, 0.05, cap, True), True, way_home(drum, 0.05, cap))
    'The heat is refused only to take it apart, both parts soaking together. To put it together heat the outer part alone to 92 °C: that is open.'

    References
    ----------
    none: words only.
    """
    if heat.allowed:
        return f"{heat.needed_c:.0f} °C opens it."
    opens = home is not None and home.least_s > 0
    which = "to take it apart, both parts soaking together" if both_heated else "for the outer part alone"
    if home is None or not opens:
        also = ", and no heat of the outer part alone is known to open it" if both_heated else ""
        return f"The heat is refused {which}{also}."
    chilled = f" and chill the inner part to {home.inner_c:.0f} °C" if home.inner_c < ROOM_C else ""
    only = "only " if both_heated else ""
    return (
        f"The heat is refused {only}{which}. To put it together heat the outer part alone to {home.outer_c:.0f} °C{chilled}: "
        "that is open."
    )


def _seconds(value: float) -> str:
    if value >= 120:
        return f"{value / 60:.0f} min"
    return f"{value:.0f} s" if value >= 10 else f"{value:.1f} s"


def specific_heat(metal: Metal) -> float:
    """Return the heat that a kilogram of a metal takes up for a degree.

    Parameters
    ----------
    metal : Metal
        One of the table of metals. [-]

    Returns
    -------
    float
        Specific heat near room temperature. [J/(kg K)]

    Raises
    ------
    OutsideTable
        A metal of which none is held.

    Examples
    --------
    >>> from witnessmark.calc.metals import metal
    >>> specific_heat(metal("steel"))
    486.0

    References
    ----------
    specific-heats
    """
    return float(load_table("specific_heats").find("metal", metal.name)["heat_J_per_kgK"])


def gap_after(joint: Joint, flows: Heats, outer_rise_c: float, inner_rise_c: float, seconds: float) -> float:
    """Return the gap on the diameter after some time, both parts each of one temperature.

    Parameters
    ----------
    joint : Joint
        Metals and sizes at room temperature. [mm]
    flows : Heats
        Heat held and exchanged, a metre of length. [W/(m K)]
    outer_rise_c : float
        Outer part above room temperature at the start. [C]
    inner_rise_c : float
        Inner part above room temperature at the start; negative where it was chilled. [C]
    seconds : float
        Time. [s]

    Returns
    -------
    float
        Gap; negative where it is closed. [mm]

    Notes
    -----
    Two bodies that exchange heat with each other and with the air: exp(Mt) of the two linear equations, written out.

    Examples
    --------
    >>> from witnessmark.calc.metals import metal
    >>> drum = Joint(metal("steel"), metal("AZ63A"), 250, 290, 0.3, 60, 235)
    >>> alone = Heats(31000.0, 21000.0, 0.0, 0.0, 0.0)
    >>> round(gap_after(drum, alone, 60.0, 0.0, 99.0), 3)
    0.09

    References
    ----------
    lumped-cooling
    linear-expansion
    """
    a = (flows.between_w_mk + flows.outer_air_w_mk) / flows.outer_j_mk
    b, c = flows.between_w_mk / flows.outer_j_mk, flows.between_w_mk / flows.inner_j_mk
    e = (flows.between_w_mk + flows.inner_air_w_mk) / flows.inner_j_mk
    mean, half = -(a + e) / 2, math.sqrt(((a - e) / 2) ** 2 + b * c)
    slow, fast = math.exp((mean + half) * seconds), math.exp((mean - half) * seconds)
    cosh = (slow + fast) / 2
    sinh = (slow - fast) / (2 * half) if half > 0 else seconds * math.exp(mean * seconds)
    outer = cosh * outer_rise_c + sinh * ((-a - mean) * outer_rise_c + b * inner_rise_c)
    inner = cosh * inner_rise_c + sinh * (c * outer_rise_c + (-e - mean) * inner_rise_c)
    opened = joint.diameter_mm * 1e-6 * (joint.outer.cte * outer - joint.inner.cte * inner)
    return opened - joint.interference_mm


def seconds_open(joint: Joint, flows: Heats, outer_rise_c: float, inner_rise_c: float) -> float:
    """Return how long the gap stays open; nothing where it is not open at the start.

    Parameters
    ----------
    joint : Joint
        Metals and sizes at room temperature. [mm]
    flows : Heats
        Heat held and exchanged, a metre of length. [W/(m K)]
    outer_rise_c : float
        Outer part above room temperature at the start. [C]
    inner_rise_c : float
        Inner part above room temperature at the start. [C]

    Returns
    -------
    float
        Time; a million seconds where nothing cools it. [s]

    Examples
    --------
    >>> from witnessmark.calc.metals import metal
    >>> drum = Joint(metal("steel"), metal("AZ63A"), 250, 290, 0.3, 60, 235)
    >>> air = Heats(31000.0, 21000.0, 0.0, 31.0, 0.0)
    >>> round(seconds_open(drum, air, 60.0, 0.0) / (1000 * math.log(60 / (0.3 / (250 * 26e-6)))), 6)
    1.0

    References
    ----------
    lumped-cooling
    """
    if gap_after(joint, flows, outer_rise_c, inner_rise_c, 0.0) <= 0:
        return 0.0
    low, high = 0.0, 1.0
    while gap_after(joint, flows, outer_rise_c, inner_rise_c, high) > 0:
        low, high = high, 2 * high
        if high > MOST_S:
            return MOST_S
    for _ in range(60):
        middle = (low + high) / 2
        if gap_after(joint, flows, outer_rise_c, inner_rise_c, middle) > 0:
            low = middle
        else:
            high = middle
    return low


def _ring_j_mk(metal: Metal, outer_mm: float, inner_mm: float) -> float:
    return metal.density_kg_m3 * specific_heat(metal) * math.pi / 4 * (outer_mm**2 - inner_mm**2) * 1e-6


def _flows(joint: Joint, air: float, seat: float, apart: bool) -> Heats:
    """Heat flows with the parts apart, each in air on all sides, or the one in the other."""
    d, outside, bore = (mm / 1000 for mm in (joint.diameter_mm, joint.outer_diameter_mm, joint.bore_mm))
    return Heats(
        _ring_j_mk(joint.outer, joint.outer_diameter_mm, joint.diameter_mm),
        _ring_j_mk(joint.inner, joint.diameter_mm, joint.bore_mm),
        0.0 if apart else seat * math.pi * d,
        air * math.pi * (outside + (d if apart else 0.0)),
        air * math.pi * (bore + (d if apart else 0.0)),
    )


def _with_expansion(joint: Joint, outer: float, inner: float) -> Joint:
    return replace(joint, outer=replace(joint.outer, cte=outer), inner=replace(joint.inner, cte=inner))


def slide_home(joint: Joint, outer_c: float, inner_c: float, room_c: float = 20.0) -> SlideHome:
    """Return the seconds in which the inner part must be slid home.

    Parameters
    ----------
    joint : Joint
        Metals and sizes at room temperature. [mm]
    outer_c : float
        Outer part as it leaves the oven. [C]
    inner_c : float
        Inner part; under room temperature where it was chilled. [C]
    room_c : float
        Temperature of the air, at which the sizes were measured. [C]

    Returns
    -------
    SlideHome
        Least and most seconds, by the spread of the expansion figures and of how fast heat goes over.

    Raises
    ------
    ValueError
        A temperature that is no number, or an outer part that is not warmer than the inner one.
    OutsideTable
        A metal of which no specific heat is held.

    Notes
    -----
    Each part has one temperature. The shorter end takes the faces as touching all round (5000 W/(m2 K)), the longer one
    still air across the gap as it is at the start; the air of the shop takes 5 to 25 W/(m2 K). A thick part gives heat
    over more slowly than one of one temperature, so that the shorter end stays the cautious one. Ends and webs are left out.

    Examples
    --------
    >>> from witnessmark.calc.metals import metal
    >>> drum = Joint(metal("steel"), metal("AZ63A"), 250, 290, 0.3, 60, 235)
    >>> home = slide_home(drum, 85.0, 20.0)
    >>> 0 < home.least_s < home.most_s < home.in_air_least_s < home.in_air_most_s
    True

    References
    ----------
    lumped-cooling
    specific-heats
    linear-expansion
    """
    if not all(map(math.isfinite, (outer_c, inner_c, room_c))) or outer_c <= inner_c:
        raise ValueError("the outer part is warmer than the inner one, and every temperature is a number")
    hot, cold = outer_c - room_c, inner_c - room_c
    gap = gap_after(joint, _flows(joint, AIR_W_M2K[0], 0.0, True), hot, cold, 0.0)
    inside, in_air = [], []
    still = AIR_CONDUCTS_W_MK / (max(gap, 1e-3) / 2000)
    spreads = itertools.product(
        (joint.outer.cte_low, joint.outer.cte_high), (joint.inner.cte_low, joint.inner.cte_high), AIR_W_M2K
    )
    for outer, inner, air in spreads:
        spread = _with_expansion(joint, outer, inner)
        in_air.append(seconds_open(spread, _flows(joint, air, 0.0, True), hot, cold))
        for seat in (still, TOUCHING_W_M2K):
            inside.append(seconds_open(spread, _flows(joint, air, seat, False), hot, cold))
    outer_j, inner_j = (_flows(joint, 0.0, 0.0, True).outer_j_mk, _flows(joint, 0.0, 0.0, True).inner_j_mk)
    return SlideHome(
        working=working(
            "gap = d (ao To - ai Ti) - interference; Co To' = -G (To - Ti) - Ao To, Ci Ti' = G (To - Ti) - Ai Ti, from room",
            [
                ("outer part at the start", round(outer_c, 1), "°C", "given"),
                ("inner part at the start", round(inner_c, 1), "°C", "given"),
                ("room", room_c, "°C", "given"),
                ("gap at the start", round(gap, 4), "mm", "formula"),
                ("outer part holds", round(outer_j / 1000, 2), "kJ/(K m)", "density; specific heat from memory"),
                ("inner part holds", round(inner_j / 1000, 2), "kJ/(K m)", "density; specific heat from memory"),
                ("air of the shop takes", "5 to 25", "W/(m2 K)", "from memory"),
                (
                    "over the seat, still air",
                    round(still),
                    "W/(m2 K)",
                    "0.026 W/(m K) across half the gap, from memory",
                ),
                ("over the seat, touching", TOUCHING_W_M2K, "W/(m2 K)", "from memory"),
                ("inside, least", round(min(inside), 1), "s", "formula"),
                ("inside, most", round(max(inside), 1), "s", "formula"),
            ],
            ("lumped-cooling", "specific-heats", "linear-expansion"),
            (
                "Seconds, not minutes: the press or the stop stands ready, and it is tried cold first.",
                "How fast heat goes over a seat is from memory: the shorter figure is the one to work by.",
            ),
            "Each part of one temperature; ends, webs and spokes left out.",
        ),
        outer_c=outer_c,
        inner_c=inner_c,
        gap_mm=gap,
        least_s=min(inside),
        most_s=max(inside),
        in_air_least_s=min(in_air),
        in_air_most_s=max(in_air),
    )


def way_home(joint: Joint, clearance_mm: float, cap: HeatCap | None, room_c: float = 20.0) -> SlideHome | None:
    """Return the seconds of putting back: the outer part heated alone, the inner one chilled only where it must be.

    Parameters
    ----------
    joint : Joint
        Metals and sizes at room temperature. [mm]
    clearance_mm : float
        Gap on the diameter wanted at the moment of moving. [mm]
    cap : HeatCap or None
        What the outer part may see; None where nobody knows. [-]
    room_c : float
        Temperature at which the sizes were measured. [C]

    Returns
    -------
    SlideHome or None
        None where no heat under the cap and no cold opens it, or no cap is known.

    Raises
    ------
    ValueError
        Sizes that do not nest, or a negative clearance.

    Examples
    --------
    >>> from witnessmark.calc.metals import metal
    >>> from witnessmark.calc.surface.heat_caps import heat_cap
    >>> drum = Joint(metal("steel"), metal("AZ63A"), 250, 290, 0.3, 60, 235)
    >>> home = way_home(drum, 0.05, heat_cap("AZ63A casting"))
    >>> round(home.outer_c), home.inner_c
    (74, 20.0)

    References
    ----------
    lumped-cooling
    linear-expansion
    """
    heat = shrink_fit(joint, clearance_mm, cap, room_c=room_c)
    if heat.cap_c is None:
        return None
    if heat.allowed:
        return slide_home(joint, heat.most_c, room_c, room_c)
    chill = next((way for way in heat.instead if way.what == "chill"), None)
    return slide_home(joint, heat.cap_c, chill.figure, room_c) if chill is not None else None
