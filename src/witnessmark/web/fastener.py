"""What is this fastener: two figures in, a name and the next figure out. Nothing has to be on record."""

from dataclasses import dataclass
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import URLPattern, path
from django.views.decorators.http import require_safe

from witnessmark.calc.fasteners.identify import Identification
from witnessmark.calc.fasteners.readings import WAYS, BadReading, Way, parse_readings
from witnessmark.records.actions.saying import Refused
from witnessmark.records.actions.survey import read_typed
from witnessmark.records.lookups.catalogue import what_is_it

FIRST = ("form", "hole_mm", "head_mm", "shank_mm", "pitch_mm")
UNITS = {"length": "mm", "angle": "°", "choice": ""}
CHOICE_WORDS = {
    "flush": "flush",
    "domed": "domed flush",
    "round": "round",
    "universal": "flat-topped (universal)",
    "thread": "it has a thread",
    "shaved": "shaved or milled flush after driving",
    "hollow": "hollow, with or without a pin",
}


@dataclass(frozen=True)
class Field:
    """One figure to type: its way, what stands in it, and whether it is the one asked for now."""

    way: Way
    typed: str
    asked: bool

    @property
    def unit(self) -> str:
        return UNITS[self.way.kind]

    @property
    def choices(self) -> list[tuple[str, str]]:
        return [(word, CHOICE_WORDS.get(word, word)) for word in self.way.choices]


@login_required
@require_safe
def fastener_screen(request: HttpRequest) -> HttpResponse:
    """Name a fastener from the figures in the address; a figure that cannot be true is refused, the others are kept."""
    typed = {what: request.GET.get(what, "").strip()[:40] for what in WAYS}
    given = {what: text for what, text in typed.items() if text}
    cannot = frozenset(what for what in request.GET.getlist("cannot") if what in WAYS)
    found, why = None, ""
    if given:
        try:
            found = what_is_it(read_typed(given, painted="painted" in request.GET), cannot - set(given))
        except Refused as refused:
            why = str(refused)
    ask = found.next_measurement.what if found is not None and found.next_measurement is not None else ""
    order = sorted(WAYS, key=lambda what: (what != ask, what not in given, what not in FIRST))
    fields = [Field(WAYS[what], typed[what], what == ask) for what in order]
    shown = sum(field.asked or bool(field.typed) or field.way.what in FIRST for field in fields)
    return render(
        request,
        "fastener.html",
        {
            "found": found,
            "why": why,
            "chance": chance_words(found),
            "asked": fields[0] if ask else None,
            "fields": fields[:shown],
            "more": fields[shown:],
            "cannot": sorted(cannot),
            "painted": "painted" in request.GET,
            "working": found.working.to_dict() if found else None,
            "to_tray": to_tray(given, found),
        },
        status=422 if why else 200,
    )


def to_tray(given: dict[str, str], found: Identification | None) -> str:
    """The query that fills the don't-know tray's form from what was typed here, and from the name where there is one."""
    across = next((given[what] for what in ("shank_mm", "driven_shank_mm") if what in given), _narrow(given))
    head = next((given[what] for what in ("head_mm", "across_flats_mm") if what in given), "")
    filled = [("diameter", across), ("width", head), ("length", given.get("length_mm", ""))]
    if found is not None and found.answered and not found.is_none:
        filled += [("name", found.word), *(("size", name) for name in found.names)]
    return urlencode([(name, text) for name, text in filled if text])


def _narrow(given: dict[str, str]) -> str:
    """The hole as it was typed; of an oval one its narrow way, which tells the fastener."""
    text = given.get("hole_mm", "")
    try:
        ways = [float(each.value) for each in parse_readings({"hole_mm": text}).values()]
    except BadReading:
        return ""
    return text if len(ways) < 2 else f"{min(ways):g} mm"


def chance_words(found: Identification | None) -> str:
    """Say how sure it is, as one would aloud."""
    if found is None:
        return ""
    if found.probability >= 0.995:
        return "as good as certain"
    return f"{100 * found.probability:.0f} chances in a hundred"


urls: list[URLPattern] = [path("fastener/", fastener_screen, name="fastener")]
