"""Order rules of corrosion work, blasting, coats, wood and fitting."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.calc.surface.route_line import COATS, STRIPS, Event, Found, RouteLine

_REWORK = (*STRIPS, "blend", "blast", "etch")
_HEATS = ("bake", "heat", "stress relief")


def finishing_breaches(route: RouteLine) -> Iterator[Found]:
    """Find what breaks R01, R03, R17, R18, R23 to R26, R28 to R30, R34 to R36 and R38.

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
    >>> line = RouteLine(["conversion coat", "bake"], "dural", None, RouteFacts(), {})
    >>> [found[0] for found in finishing_breaches(line)]
    ['R23']

    References
    ----------
    order-rules
    ac43.13-1b-6-28
    route-practice
    """
    yield from _as_found(route)
    yield from _made_before_coats(route)
    yield from _blasting(route)
    yield from _light_alloy(route)
    yield from _blending(route)
    if route.wood:
        yield from _wood(route)
    yield from _fitting(route)


def _as_found(route: RouteLine) -> Iterator[Found]:
    work = next(iter(route.all(*_REWORK)), None)
    written = route.all("document")
    if work is None or route.before(work, "document"):
        return
    if written or route.facts.documented is False:
        yield "R01", True, f"It is not documented as found before {work.process}.", (work.step,)


def _made_before_coats(route: RouteLine) -> Iterator[Found]:
    for coat in route.all("conversion coat", "anodise", "prime", "paint")[:1]:
        drilled = {e.step for e in route.all("drill", "drill off")}
        for made in route.all("machine", "form", "weld"):
            if made.at > coat.at and made.step not in drilled:
                sentence = f"{made.process.capitalize()} comes after {coat.process}: make it first."
                yield "R03", True, sentence, (coat.step, made.step)
        for late in route.all("drill", "trial fit"):
            if late.at > coat.at and route.before(late, "conversion coat", "prime"):
                what = "Drilling, dimpling or deburring" if late.process == "drill" else "The trial fit"
                yield "R35", False, f"{what} comes after the first coat.", (coat.step, late.step)


def _blasting(route: RouteLine) -> Iterator[Found]:
    for blast in route.all("blast"):
        if not route.before(blast, "mask"):
            # A part without threads and holes needs no plugs.
            hard = bool(route.facts.threads_or_blind_holes)
            yield "R17", hard, "No masking before the blast: plug threaded and blind holes.", (blast.step,)
        if not route.before(blast, "clean", "strip paint"):
            yield "R18", False, "It is not cleaned before the blast.", (blast.step,)


def _light_alloy(route: RouteLine) -> Iterator[Found]:
    if not route.aluminium:
        return
    for coat in route.all("conversion coat"):
        hot = route.after(coat, *_HEATS)
        if hot and not route.between(coat, hot, "prime", "paint"):
            sentence = (
                f"{hot.process.capitalize()} comes after an unpainted conversion coat, which 140 F begins to spoil."
            )
            yield "R23", True, sentence, (coat.step, hot.step)
    for film in route.all("anodise"):
        pressed = route.after(film, "press fit")
        # Type III is thick enough to be ground or lapped to the fit.
        if pressed and not any(word in route.name(film) for word in ("hard anodi", "type iii")):
            yield "R24", True, "No press fit onto a thin anodic film: it spalls.", (film.step, pressed.step)


def _blending(route: RouteLine) -> Iterator[Found]:
    facts = route.facts
    blends = route.all("blend")
    for blend in blends[:1]:
        known = route.before(blend, "identify", "other test")
        late = route.after(blend, "identify")
        if route.steel and not known and (late or facts.identified is False):
            sentence = "Metal and heat treatment are not identified before corrosion is removed."
            yield "R25", True, sentence, (blend.step,)
        out = route.all("remove fasteners")
        if route.aluminium and not route.before(blend, "remove fasteners") and (out or facts.steel_fasteners_in):
            yield "R26", True, "Steel nutplates and fasteners are still in when corrosion is blended.", (blend.step,)
    for tool in route.all("power tool"):
        if route.steel and (facts.high_stressed or route.hardened):
            yield "R28", True, "No power tools on high-stressed steel.", (tool.step,)
    for blend in blends:
        finish = route.after(blend, *COATS)
        if finish is None:
            continue
        same_step = any(e.step == blend.step for e in route.all("measure"))
        if not same_step and not route.between(blend, finish, "measure"):
            sentence = f"No step measures the blended depth before {finish.process}."
            yield "R34", True, sentence, (blend.step, finish.step)


def _wood(route: RouteLine) -> Iterator[Found]:
    for glue in route.all("glue"):
        cut = route.last_before(glue, "surface wood")
        if cut is None:
            late = route.after(glue, "surface wood")
            yield "R29", late is not None, "The faces are not cut fresh just before gluing.", (glue.step,)
        elif route.between(cut, glue, "prime", "paint"):
            yield "R29", True, "The fresh faces are coated before gluing.", (cut.step, glue.step)
        if route.facts.arid_store:
            yield from _conditioned(route, glue)


def _conditioned(route: RouteLine, glue: Event) -> Iterator[Found]:
    stored = route.last_before(glue, "condition wood")
    if stored is None:
        yield "R30", True, "Repair wood is not stored beside the part for two weeks.", (glue.step,)
        return
    lay = route.gap_h(stored, glue, from_start=True)
    if lay is not None and lay < 14 * 24:
        yield (
            "R30",
            True,
            f"Repair wood lay {lay / 24:.3g} days beside the part; 14 is the least.",
            (stored.step, glue.step),
        )


def _fitting(route: RouteLine) -> Iterator[Found]:
    for reamed in route.all("ream bush"):
        late = route.after(reamed, "plate", "bake")
        if late:
            yield "R36", False, f"Bushes are reamed before {late.process}: ream them after.", (reamed.step, late.step)
    for balanced in route.all("balance"):
        late = route.after(balanced, "paint")
        if late:
            yield "R38", False, "It is balanced before it is painted.", (balanced.step, late.step)
    painted = route.all("paint")
    if route.facts.control_surface and painted and not route.all("balance"):
        yield "R38", False, "A control surface is painted and not balanced after.", (painted[-1].step,)
