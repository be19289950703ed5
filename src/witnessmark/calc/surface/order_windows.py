"""Order rules that are windows in hours: bare steel, conversion coat, primer, topcoat, mixed primer, extra coats."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from witnessmark.calc.surface.route_line import Event, Found, RouteLine


def window_breaches(route: RouteLine) -> Iterator[Found]:
    """Find what breaks R19 to R22 and R33.

    Parameters
    ----------
    route : RouteLine
        The route with its facts and times. [-]

    Returns
    -------
    iterator of Found
        Rule, hard or soft, sentence, step numbers.

    Examples
    --------
    >>> from witnessmark.calc.surface.route_line import RouteFacts, StepTime
    >>> times = {1: StepTime(8, 8), 2: StepTime(12, 13)}
    >>> line = RouteLine(["prime with epoxy primer", "topcoat"], "dural", None, RouteFacts(), times)
    >>> [found[:2] for found in window_breaches(line)]
    [('R21', True)]

    References
    ----------
    order-rules
    finish-manual-5-6-2e
    """
    for prime in route.all("prime"):
        yield from _bare_steel(route, prime)
        yield from _mixed(route, prime)
    for base in route.all("conversion coat", "scuff"):
        over = route.after(base, "prime", "paint")
        waited = route.gap_h(base, over) if over else None
        if over and waited is not None and waited > 48:
            sentence = f"{waited:.3g} h between {base.process} and the next coat, 48 h is the limit."
            yield "R20", True, sentence, (base.step, over.step)
    for paint in route.all("paint"):
        yield from _topcoat(route, paint)
    yield from _extra_coats(route)


def _bare_steel(route: RouteLine, prime: Event) -> Iterator[Found]:
    sanded = route.last_before(prime, "blend") if route.steel else None
    waited = route.gap_h(sanded, prime) if sanded else None
    if sanded and waited is not None and waited > 1:
        sentence = f"Bare steel stood {waited:.3g} h before its primer, 1 h is the limit: sand it again."
        yield "R19", True, sentence, (sanded.step, prime.step)


def _mixed(route: RouteLine, prime: Event) -> Iterator[Found]:
    mixed = route.last_before(prime, "mix primer")
    stood = route.gap_h(mixed, prime) if mixed else None
    if mixed is None or stood is None:
        return
    if stood < 0.5 - 1e-9:
        yield "R22", True, f"The mixed primer stood {stood * 60:.0f} min; 30 is the least.", (mixed.step, prime.step)
    elif stood > 4:
        yield "R22", True, f"The mixed primer is {stood:.3g} h old; 4 h is the limit.", (mixed.step, prime.step)


def _topcoat(route: RouteLine, paint: Event) -> Iterator[Found]:
    prime = route.last_before(paint, "prime")
    if prime is None or route.between(prime, paint, "paint"):
        return
    waited = route.gap_h(prime, paint)
    if waited is None:
        return
    # The window is that of one epoxy primer: another primer has its own, which its maker's sheet gives.
    hard = "epoxy" in route.name(prime)
    pair = (prime.step, paint.step)
    if waited < 5:
        yield "R21", hard, f"Topcoat {waited:.3g} h after the primer; 5 h is the least.", pair
    elif waited > 24 and not route.between(prime, paint, "scuff"):
        yield "R21", hard, f"The primer is {waited:.3g} h old: after 24 h it must be scuffed.", pair
    elif waited > 8 and not route.between(prime, paint, "scuff", "wipe"):
        yield "R21", hard, f"The primer is {waited:.3g} h old: after 8 h wipe it with solvent or scuff it.", pair


def _extra_coats(route: RouteLine) -> Iterator[Found]:
    if not route.facts.dissimilar_joint or route.magnesium:
        return
    coats = route.all("prime")
    if 0 < len(coats) < 3:
        sentence = "A joint of unlike metals takes at least two coats of primer beyond the normal one."
        yield "R33", True, sentence, tuple(coat.step for coat in coats)
    for first, second in pairwise(coats):
        waited = route.gap_h(first, second)
        if waited is not None and waited < 6:
            sentence = f"{waited:.3g} h between two coats of primer; 6 h is the least."
            yield "R33", True, sentence, (first.step, second.step)
