"""Order rules of crack tests: what comes before them, between them, and after them."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.calc.surface.route_line import COATS, CRACK_TESTS, STRIPS, Event, Found, RouteLine

_METHOD_NOT_NAMED = "The step does not name its method."
_COAT_LIMITS_MM = {"paint": 0.003 * 25.4, "chrome": 0.003 * 25.4, "nickel": 0.001 * 25.4}


def testing_breaches(route: RouteLine) -> Iterator[Found]:
    """Find what breaks R10 to R16, R31, R32 and R37.

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
    >>> from witnessmark.calc.surface.route_line import RouteFacts
    >>> line = RouteLine(["mask", "blast"], "magnesium", None, RouteFacts(), {})
    >>> [found[0] for found in testing_breaches(line)]
    ['R32']

    References
    ----------
    order-rules
    ac43.13-1b-5-45
    ac43.13-1b-5-51
    to-33b-1-1-2.3.6.2
    """
    for test, named in route.penetrant():
        yield from _penetrant(route, test, named, "" if named else f" {_METHOD_NOT_NAMED}")
    for test, named in route.magnetic():
        yield from _magnetic(route, test, named, "" if named else f" {_METHOD_NOT_NAMED}")
    for blast in route.all("blast") if route.magnesium else ():
        if not route.after(blast, "inspect", *CRACK_TESTS):
            yield "R32", True, "Magnesium is not inspected again after blasting.", (blast.step,)
    for worked in route.all("grind", "straighten") if route.steel else ():
        if not route.after(worked, *CRACK_TESTS):
            sentence = f"No crack test follows the {'grinding' if worked.process == 'grind' else 'straightening'}."
            yield "R37", False, sentence, (worked.step,)


def _penetrant(route: RouteLine, test: Event, named: bool, doubt: str) -> Iterator[Found]:
    rough = route.before(test, "machine", "grind", "peen", "blast")
    earlier = rough and any(p.at < rough.at for p, _ in route.penetrant())
    if rough and not earlier and not route.between(rough, test, "etch"):
        sentence = f"{rough.process.capitalize()} comes before the penetrant test and may close cracks.{doubt}"
        yield "R10", named, sentence, (rough.step, test.step)
    smeared = route.last_before(test, "fine sand")
    if smeared and not route.between(smeared, test, "etch"):
        sentence = f"The surface is lightly smeared before the penetrant test: an etch may be necessary.{doubt}"
        yield "R11", False, sentence, (smeared.step, test.step)
    plate = route.last_before(test, "plate")
    if plate and "chrome" in route.name(plate):
        dwelt = route.lasted_h(test)
        if dwelt is not None and dwelt < 20 / 60 - 1e-9:
            sentence = f"The penetrant stood {dwelt * 60:.0f} min on chrome; 20 min is the least.{doubt}"
            yield "R31", named, sentence, (test.step,)


def _magnetic(route: RouteLine, test: Event, named: bool, doubt: str) -> Iterator[Found]:
    facts = route.facts
    stripped = route.before(test, *STRIPS)
    late = route.after(test, *STRIPS)
    if late and not stripped:
        sentence = f"Paint or plate comes off after the magnetic particle test: strip first.{doubt}"
        yield "R12", named, sentence, (test.step, late.step)
    elif not stripped and _coat_too_thick(route):
        sentence = (
            f"{facts.coat.capitalize()} of {facts.coat_mm:g} mm is too thick to test through: strip first.{doubt}"
        )
        yield "R12", named, sentence, (test.step,)
    dye = route.after(test, "penetrant")
    if dye and not route.between(test, dye, "clean"):
        yield "R13", named, f"No cleaning between magnetic particle and penetrant.{doubt}", (test.step, dye.step)
    fitted = route.after(test, "put back")
    demagnetised = route.after(test, "demagnetise")
    if demagnetised is None:
        sentence = f"No step demagnetises after the magnetic particle test: see that the certificate says so.{doubt}"
        yield "R14", False, sentence, (test.step,)
    elif fitted and fitted.at < demagnetised.at:
        yield "R14", named, f"It is put back before it is demagnetised.{doubt}", (fitted.step, demagnetised.step)
    if fitted and stripped and not route.between(test, fitted, *COATS):
        sentence = f"No finish goes on between the magnetic particle test and putting back.{doubt}"
        yield "R15", named, sentence, (test.step, fitted.step)
    out = route.all("remove bushes")
    if (facts.bushes_in or out) and not route.before(test, "remove bushes"):
        sentence = f"Bushes, bearings or inserts are still in at the magnetic particle test.{doubt}"
        yield "R16", False, sentence, (test.step, *(e.step for e in out[:1]))


def _coat_too_thick(route: RouteLine) -> bool:
    limit = _COAT_LIMITS_MM.get(route.facts.coat)
    return limit is not None and route.facts.coat_mm is not None and route.facts.coat_mm > limit + 1e-9
