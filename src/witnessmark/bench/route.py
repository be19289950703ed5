"""Routes and fits: every rule with both kinds of route, random routes against brute force, speed, accuracy."""

import random
from typing import Any

from witnessmark.bench.figures import SEED, figure, least_cpu_s
from witnessmark.bench.route_brute import broken
from witnessmark.bench.route_examples import EXAMPLES, Route
from witnessmark.calc.fits import Joint, press_fit
from witnessmark.calc.metals import metal
from witnessmark.calc.surface.order_rules import check_route
from witnessmark.calc.surface.proposal import FINISHES, WORK, PartToRoute, propose_route
from witnessmark.calc.surface.route_line import RouteFacts, StepTime

# Token of the brute checker: how a mechanic may write the step.
WRITTEN = {
    "document": ("document as found",), "clean": ("clean", "degrease"), "identify": ("identify metal",),
    "strip paint": ("strip paint", "depaint"), "strip plate": ("strip plate", "remove plating"),
    "penetrant": ("penetrant", "dye check"), "magnetic particle": ("magnetic-particle", "MPI"),
    "hardness check": ("hardness check",), "demagnetise": ("demagnetise",), "etch": ("etch", "pickle"),
    "temper etch": ("temper etch", "nital etch"), "machine": ("machine", "turn"), "drill": ("drill", "deburr"),
    "grind": ("grind",), "form": ("form", "bend"), "straighten": ("straighten",), "weld": ("weld", "braze"),
    "peen": ("shot peen",), "blast": ("blast", "grit blast"), "mask": ("mask", "plug"),
    "stress relief": ("stress relief",), "heat treat": ("heat treat", "quench"), "blend": ("blend", "remove corrosion"),
    "measure": ("measure",), "cadmium plate": ("cadmium plate",), "hard chrome": ("hard chrome",),
    "bake": ("bake", "de-embrittle"), "conversion coat": ("conversion coat", "phosphate"), "anodise": ("anodise",),
    "prime": ("epoxy primer", "prime with epoxy"), "paint": ("topcoat", "paint"), "scuff": ("scuff",),
    "wipe": ("solvent wipe",), "mix primer": ("mix primer",), "press fit": ("press fit",), "put back": ("put back",),
    "remove fasteners": ("remove nutplates",), "power tool": ("angle grinder",),
}  # fmt: skip
MATERIALS = {"steel": "4340 steel", "aluminium": "2024-T3 sheet", "magnesium": "Mg casting"}


def _random_route(chance: random.Random) -> tuple[Route, set[str]]:
    tokens = [chance.choice(tuple(WRITTEN)) for _ in range(chance.randint(1, 14))]
    now, timed = 0.0, []
    for token in tokens:
        now += chance.choice((0, 0.25, 0.5, 1, 3, 4, 5, 6, 8, 9, 24, 30, 50))
        lasts = chance.choice((0.1, 0.25, 0.5, 2))
        timed.append((token, now, now + lasts))
        now += lasts
    kind = chance.choice(tuple(MATERIALS))
    flags = ("undocumented", "unidentified", "nutplates", "threads", "worked", "rejected", "unlike", "authorised",
             "thick_paint")  # fmt: skip
    part: dict[str, Any] = {flag: chance.random() < 0.3 for flag in flags}
    part |= {"metal": kind, "strength": chance.choice((None, 500.0, 1240.0, 1241.0, 1400.0))}
    facts = RouteFacts(
        documented=False if part["undocumented"] else None,
        identified=False if part["unidentified"] else None,
        steel_fasteners_in=part["nutplates"] or None,
        threads_or_blind_holes=part["threads"] or None,
        worked_after_hardening=part["worked"] or None,
        plate_rejected=part["rejected"],
        dissimilar_joint=part["unlike"],
        engineering_authorised=part["authorised"],
        coat="paint" if part["thick_paint"] else "",
        coat_mm=0.1 if part["thick_paint"] else None,
    )
    times = {number: StepTime(start, end) for number, (_, start, end) in enumerate(timed, start=1)}
    steps = tuple(chance.choice(WRITTEN[token]) for token in tokens)
    return Route(steps, MATERIALS[kind], part["strength"], facts, times), broken(timed, part)


def _hard(route: Route) -> set[str]:
    found = check_route(route.steps, route.material, route.strength_mpa, route.facts, route.times)
    return {breach.rule for breach in found if breach.hard}


def disagreements(count: int, seed: int = SEED) -> tuple[int, int, set[str], int]:
    """Return false accepts, false blocks, the rules that random routes broke, and how many routes broke none."""
    chance = random.Random(seed)  # noqa: S311  a sample, no secret
    accepts = blocks = clean = 0
    seen: set[str] = set()
    for _ in range(count):
        route, wanted = _random_route(chance)
        found = _hard(route)
        accepts += len(wanted - found)
        blocks += len(found - wanted)
        seen |= wanted
        clean += not wanted
    return accepts, blocks, seen, clean


@figure("route.rules_with_a_breaking_and_a_keeping_route", unit="rules", goal=34, sense=">=", baseline=12)
def rules_with_both(full: bool) -> tuple[float, str]:
    """Order rules that a route breaks and another keeps, the rule named in the first and not in the second."""
    good = []
    for rule, (breaking, keeping) in EXAMPLES.items():
        named = [
            {b.rule for b in check_route(r.steps, r.material, r.strength_mpa, r.facts, r.times)}
            for r in (breaking, keeping)
        ]
        if rule in named[0] and rule not in named[1]:
            good.append(rule)
    return len(good), f"of {len(EXAMPLES)}; four of them from memory and soft"


@figure("route.false_accepts", unit="rules", goal=0)
def false_accepts(full: bool) -> tuple[float, str]:
    """Hard rules that brute force finds broken and the product does not, over 10,000 random routes."""
    accepts, _, seen, clean = disagreements(100_000 if full else 10_000)
    return accepts, f"{len(seen)} different hard rules broken in the sample, {clean} routes broke none; seed {SEED}"


@figure("route.false_blocks", unit="rules", goal=0)
def false_blocks(full: bool) -> tuple[float, str]:
    """Hard rules that the product finds broken and brute force does not, over 10,000 random routes."""
    _, blocks, seen, clean = disagreements(100_000 if full else 10_000)
    return blocks, f"{len(seen)} different hard rules broken in the sample, {clean} routes broke none; seed {SEED}"


@figure("route.plan_3000_parts_cpu_s", unit="s", goal=2)
def plan_3000_parts(full: bool) -> tuple[float, str]:
    """CPU time to propose and check the routes of 3,000 parts of mixed material, strength, finish and work."""
    chance = random.Random(SEED)  # noqa: S311  a sample, no secret
    parts = [
        PartToRoute(
            chance.choice(("4340 steel", "forged steel", "clad dural 0.8", "2024-T3", "Mg casting", "brass")),
            chance.choice((None, 500.0, 900.0, 1100.0, 1400.0)),
            chance.choice(FINISHES),
            tuple(work for work in WORK if chance.random() < 0.3),
            thickness_mm=chance.choice((None, 0.8, 2.0, 6.0)),
            bushes=chance.random() < 0.2,
            threads=chance.random() < 0.5,
            control_surface=chance.random() < 0.1,
        )
        for _ in range(3000)
    ]
    released = sum(propose_route(part).released for part in parts)
    return least_cpu_s(lambda: [propose_route(part) for part in parts]), f"{released} of 3000 released, least of five"


def pressure_by_differences(joint: Joint, nodes: int = 2001) -> float:
    """Solve both rings by finite differences of the equation of equilibrium and return the pressure at the seat.

    r^2 u'' + r u' - u = 0 in each ring, plane stress; at unit pressure the two displacements give the compliance.
    """
    import numpy as np
    from scipy.linalg import solve_banded

    def moved(
        inner_r: float, outer_r: float, e_mpa: float, nu: float, inside: float, outside: float
    ) -> tuple[float, float]:
        # A solid core: a bore far too small to matter, free of stress, spoils it; there u = 0 at the axis.
        r = np.linspace(inner_r, outer_r, nodes)
        h = r[1] - r[0]
        lower, main, upper = np.zeros(nodes), np.zeros(nodes), np.zeros(nodes)
        right = np.zeros(nodes)
        k = slice(1, nodes - 1)
        lower[k], upper[k] = r[k] ** 2 / h**2 - r[k] / (2 * h), r[k] ** 2 / h**2 + r[k] / (2 * h)
        main[k] = -2 * r[k] ** 2 / h**2 - 1
        factor = e_mpa / (1 - nu**2)
        # Ghost nodes carry the stress at the ends: u' = s (1 - nu^2) / E - nu u / r.
        for at, stress, side in ((0, -inside, -1), (nodes - 1, -outside, 1)):
            if at == 0 and inner_r == 0:
                main[0] = 1.0
                continue
            a, b = r[at] ** 2 / h**2 - r[at] / (2 * h), r[at] ** 2 / h**2 + r[at] / (2 * h)
            mid, slope, give = -2 * r[at] ** 2 / h**2 - 1, stress / factor, nu / r[at]
            if side < 0:
                upper[at], main[at], right[at] = a + b, mid + a * 2 * h * give, a * 2 * h * slope
            else:
                lower[at], main[at], right[at] = a + b, mid - b * 2 * h * give, -b * 2 * h * slope
        banded = np.zeros((3, nodes))
        banded[0, 1:], banded[1], banded[2, :-1] = upper[:-1], main, lower[1:]
        u = solve_banded((1, 1), banded, right)
        return float(u[0]), float(u[-1])

    seat = joint.diameter_mm / 2
    outer = moved(seat, joint.outer_diameter_mm / 2, joint.outer.e_gpa * 1000, joint.outer.poisson, 1.0, 0.0)[0]
    inner = moved(joint.bore_mm / 2, seat, joint.inner.e_gpa * 1000, joint.inner.poisson, 0.0, 1.0)[1]
    return joint.interference_mm / 2 / (outer - inner)


@figure("route.fit_max_error", unit="share", goal=0.001)
def fit_max_error(full: bool) -> tuple[float, str]:
    """Largest relative difference between Lame's pressure and finite differences over random fits."""
    chance = random.Random(SEED)  # noqa: S311  a sample, no secret
    names = ("steel", "magnesium", "2024", "356", "brass", "iron")
    worst, count = 0.0, 400 if full else 100
    for _ in range(count):
        d = chance.uniform(10, 300)
        bore = chance.choice((0.0, chance.uniform(0.2, 0.9) * d))
        joint = Joint(
            metal(chance.choice(names)),
            metal(chance.choice(names)),
            d,
            d * chance.uniform(1.1, 3),
            d * chance.uniform(2e-4, 2e-3),
            30.0,
            bore,
        )
        reference = pressure_by_differences(joint)
        worst = max(worst, abs(press_fit(joint).pressure_mpa - reference) / reference)
    return worst, f"{count} fits of six metals, solid and hollow; 2001 nodes a ring"
