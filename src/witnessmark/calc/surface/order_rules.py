"""The order of processes: rules that can be decided from the names of a route's steps."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from witnessmark.calc.sources import Status
from witnessmark.calc.surface.processes import PART_LIMIT_MPA, is_steel, processes_of
from witnessmark.calc.tables import load_table

CHECKED = ("R02", "R04", "R05", "R07", "R08", "R10", "R12", "R13", "R14", "R15", "R17", "R34")
_SHAPING = frozenset({"machine", "grind", "form", "weld", "peen"})
_FINISHES = frozenset({"plate", "conversion coat", "anodise", "prime", "paint"})
_METHOD_NOT_NAMED = "The step does not name its method."


@dataclass(frozen=True)
class RuleBreach:
    """A rule that the order of a route breaks: a hard one stops it, a soft one needs a signed reason."""

    rule: str
    hard: bool
    sentence: str
    steps: tuple[int, ...]
    source: str
    status: Status


@dataclass(frozen=True)
class _Event:
    at: int
    step: int
    process: str


class _Route:
    """The processes of a route in one line, with the number of the step that names each."""

    def __init__(self, steps: Sequence[str], material: str, strength_mpa: float | None) -> None:
        flat = [(number, name) for number, step in enumerate(steps, start=1) for name in processes_of(step)]
        self.events = tuple(_Event(at, number, name) for at, (number, name) in enumerate(flat))
        self.text = " ".join(steps).lower()
        self.steel = is_steel(material)
        self.strength_mpa = strength_mpa

    def all(self, *names: str) -> tuple[_Event, ...]:
        return tuple(event for event in self.events if event.process in names)

    def after(self, event: _Event, *names: str) -> _Event | None:
        return next((e for e in self.all(*names) if e.at > event.at), None)

    def before(self, event: _Event, *names: str) -> _Event | None:
        return next((e for e in self.all(*names) if e.at < event.at), None)

    def between(self, first: _Event, last: _Event, *names: str) -> bool:
        return any(first.at < e.at < last.at for e in self.all(*names))

    def magnetic(self) -> tuple[tuple[_Event, bool], ...]:
        sure = [(e, True) for e in self.all("magnetic particle")]
        return tuple(sure + [(e, False) for e in self._unnamed() if self.steel])

    def penetrant(self) -> tuple[tuple[_Event, bool], ...]:
        sure = [(e, True) for e in self.all("penetrant")]
        return tuple(sure + [(e, False) for e in self._unnamed() if not self.steel])

    def _unnamed(self) -> tuple[_Event, ...]:
        methods = ("penetrant", "magnetic particle", "other test")
        with_method = {e.step for e in self.all(*methods)}
        return tuple(e for e in self.all("crack test") if e.step not in with_method)


_Found = tuple[str, bool, str, tuple[int, ...]]


def check_route(steps: Sequence[str], material: str, strength_mpa: float | None = None) -> tuple[RuleBreach, ...]:
    """Check the order of a route's steps by the rules that step names can decide.

    Parameters
    ----------
    steps : sequence of str
        Step names in order. [-]
    material : str
        Material as written. [-]
    strength_mpa : float or None
        Tensile strength; None where it is not known. [MPa]

    Returns
    -------
    tuple of RuleBreach
        By rule number, then by step; steps are counted from 1.

    Raises
    ------
    ValueError
        A strength that is not above zero.

    Notes
    -----
    Rules R02, R04, R05, R07, R08, R10, R12 to R15, R17 and R34 of `order_rules.csv`. Intervals in hours are not
    checked here. A rule is soft where the names leave a doubt. No breach means none of these rules was seen broken.

    Examples
    --------
    >>> [b.rule for b in check_route(["crack test (magnetic particle)", "demagnetise", "plate"], "steel", 1300)]
    ['R07']

    References
    ----------
    order-rules
    mil-std-870c-5.2
    mil-std-1501f-5.2.6
    to-33b-1-1-2.3.6.2
    ac43.13-1b-5-45
    ac43.13-1b-5-51
    ac43.13-1b-6-28
    """
    if strength_mpa is not None and not strength_mpa > 0:
        raise ValueError(f"a strength must be above zero, not {strength_mpa}")
    route = _Route(steps, material, strength_mpa)
    table = load_table("order_rules")
    breaches = []
    for rule, hard, sentence, numbers in dict.fromkeys((*_plating(route), *_testing(route), *_finishing(route))):
        row = table.find("rule_id", rule)
        status: Status = "quoted" if row["status"] == "quoted" else "read"
        printed = row["source"] + (f" ({row['interval']})" if row["interval"] and rule == "R07" else "")
        breaches.append(RuleBreach(rule, hard, sentence, numbers, printed, status))
    return tuple(sorted(breaches, key=lambda b: (b.rule, b.steps)))


def _plating(route: _Route) -> Iterator[_Found]:
    hardened = route.strength_mpa is not None and route.strength_mpa >= PART_LIMIT_MPA
    unknown = route.strength_mpa is None
    for plate in route.all("plate"):
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
        if not route.steel or not (hardened or unknown):
            continue
        shaped = route.before(plate, "machine", "grind", "form")
        if shaped and not route.between(shaped, plate, "stress relief"):
            which = "its strength is not known" if unknown else "it is above 40 HRC"
            sentence = f"No stress relief stands between {shaped.process} and plating, and {which}."
            yield "R05", False, sentence, (shaped.step, plate.step)
        bake = route.after(plate, "bake")
        if bake is None:
            if unknown:
                yield "R07", False, "No bake follows plating, and the strength is not known.", (plate.step,)
            else:
                yield (
                    "R07",
                    True,
                    "No embrittlement bake follows plating: bake within the hours called out.",
                    (plate.step,),
                )
        coat = route.after(plate, "conversion coat")
        if bake and coat and coat.at < bake.at:
            sentence = "The conversion coat comes before the embrittlement bake: bake first."
            # The rule is written for cadmium; other plates leave a doubt.
            yield "R08", "cad" in route.text, sentence, (coat.step, bake.step)


def _testing(route: _Route) -> Iterator[_Found]:
    for test, named in route.penetrant():
        doubt = "" if named else f" {_METHOD_NOT_NAMED}"
        rough = route.before(test, "machine", "grind", "peen", "blast")
        earlier = rough and any(p.at < rough.at for p, _ in route.penetrant())
        if rough and not earlier and not route.between(rough, test, "etch"):
            sentence = f"{rough.process.capitalize()} comes before the penetrant test and may close cracks.{doubt}"
            yield "R10", named, sentence, (rough.step, test.step)
    for test, named in route.magnetic():
        doubt = "" if named else f" {_METHOD_NOT_NAMED}"
        strips = ("strip paint", "strip plate")
        late = route.after(test, *strips)
        if late and not route.before(test, *strips):
            sentence = f"Paint or plate comes off after the magnetic particle test: strip first.{doubt}"
            yield "R12", named, sentence, (test.step, late.step)
        dye = route.after(test, "penetrant")
        if dye and not route.between(test, dye, "clean"):
            yield "R13", named, f"No cleaning between magnetic particle and penetrant.{doubt}", (test.step, dye.step)
        if route.after(test, "demagnetise") is None:
            sentence = (
                f"No step demagnetises after the magnetic particle test: see that the certificate says so.{doubt}"
            )
            yield "R14", False, sentence, (test.step,)
        fitted = route.after(test, "put back")
        if fitted and route.before(test, *strips) and not route.between(test, fitted, *_FINISHES):
            sentence = f"No finish goes on between the magnetic particle test and putting back.{doubt}"
            yield "R15", named, sentence, (test.step, fitted.step)


def _finishing(route: _Route) -> Iterator[_Found]:
    for blast in route.all("blast"):
        if not route.before(blast, "mask"):
            yield "R17", False, "No masking before the blast: plug threaded and blind holes.", (blast.step,)
    for blend in route.all("blend"):
        finish = route.after(blend, *_FINISHES)
        if finish is None:
            continue
        same_step = any(e.step == blend.step for e in route.all("measure"))
        if not same_step and not route.between(blend, finish, "measure"):
            sentence = f"No step measures the blended depth before {finish.process}."
            yield "R34", True, sentence, (blend.step, finish.step)
