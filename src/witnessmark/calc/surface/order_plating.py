"""Order rules of plating: shaping before it, stress relief, the bake after it, acid on hard steel."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.calc.surface.route_line import Event, Found, RouteLine

_SHAPING = frozenset({"machine", "grind", "form", "weld", "peen"})


def plating_breaches(route: RouteLine) -> Iterator[Found]:
    """Find what breaks R02, R04 to R09 and R27.

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
    >>> line = RouteLine(["temper etch", "plate"], "4340 steel", 1400, RouteFacts(), {})
    >>> [found[0] for found in plating_breaches(line)]
    ['R07', 'R06']

    References
    ----------
    order-rules
    """
    for plate in route.all("plate"):
        yield from _shaped_after(route, plate)
        yield from _replated(route, plate)
        yield from _passivated(route, plate)
        if route.steel and (route.hardened or route.unknown):
            yield from _hard_steel(route, plate)
    yield from _temper_etched(route)
    yield from _acid(route)


def _shaped_after(route: RouteLine, plate: Event) -> Iterator[Found]:
    for event in route.events:
        if event.at < plate.at:
            continue
        pair = (plate.step, event.step)
        if route.steel and event.process in _SHAPING:
            # Hard chrome is ground to size after plating; the rule is written for cadmium.
            if event.process == "grind" and "chrome" in route.text:
                continue
            yield "R02", True, f"{event.process.capitalize()} comes after plating: do it before.", pair
        elif event.process == "heat treat" or event.process in _SHAPING:
            yield "R04", True, f"{event.process.capitalize()} comes after plating: do it before.", pair


def _hard_steel(route: RouteLine, plate: Event) -> Iterator[Found]:
    shaped = route.before(plate, "machine", "grind", "form")
    if shaped and not route.between(shaped, plate, "stress relief"):
        which = "its strength is not known" if route.unknown else "it is above 40 HRC"
        sentence = f"No stress relief stands between {shaped.process} and plating, and {which}."
        # Names do not say whether it was shaped after hardening.
        yield "R05", bool(route.facts.worked_after_hardening) and route.hardened, sentence, (shaped.step, plate.step)
    bake = route.after(plate, "bake")
    if bake is None:
        if route.unknown:
            yield "R07", False, "No bake follows plating, and the strength is not known.", (plate.step,)
        else:
            sentence = "No embrittlement bake follows plating: bake within the hours called out."
            yield "R07", True, sentence, (plate.step,)
        return
    waited = route.gap_h(plate, bake)
    if waited is not None and waited > 4:
        sentence = f"{waited:.3g} h between bath and oven, 4 h is the limit. A later bake does not put it right."
        yield "R07", route.hardened, sentence, (plate.step, bake.step)


def _passivated(route: RouteLine, plate: Event) -> Iterator[Found]:
    bake = route.after(plate, "bake")
    coat = route.after(plate, "conversion coat")
    if bake and coat and coat.at < bake.at:
        # The rule is written for cadmium; other plates leave a doubt.
        sentence = "The conversion coat comes before the embrittlement bake: bake first."
        yield "R08", "cad" in route.text, sentence, (coat.step, bake.step)


def _replated(route: RouteLine, plate: Event) -> Iterator[Found]:
    if not route.facts.plate_rejected:
        return
    strip = route.last_before(plate, "strip plate")
    if strip is None:
        yield "R09", True, "The rejected plate is not stripped before plating again.", (plate.step,)
    elif not route.between(strip, plate, "clean"):
        sentence = "Between stripping the rejected plate and plating again the steps before plating are not repeated."
        yield "R09", True, sentence, (strip.step, plate.step)


def _temper_etched(route: RouteLine) -> Iterator[Found]:
    for etch in route.all("temper etch"):
        # Etches of Table IV need no bake.
        if not route.steel or "table iv" in route.name(etch):
            continue
        bake = route.after(etch, "bake")
        plate = route.after(etch, "plate")
        if bake is None or (plate and plate.at < bake.at):
            yield "R06", True, "No bake stands between the temper etch and plating.", (etch.step,)
            continue
        waited = route.gap_h(etch, bake, from_start=True)
        if waited is not None and waited > 8:
            sentence = f"{waited:.3g} h from the start of the etch to the bake, 8 h is the limit."
            yield "R06", True, sentence, (etch.step, bake.step)


def _acid(route: RouteLine) -> Iterator[Found]:
    if not route.steel or route.facts.engineering_authorised or not (route.hardened or route.unknown):
        return
    for event in route.all("etch", "conversion coat"):
        if event.process == "conversion coat" and route.before(event, "plate"):
            continue
        which = "of unknown strength" if route.unknown else "of high strength"
        yield "R27", route.hardened, f"No acid or conversion coat on steel {which} without engineering.", (event.step,)
