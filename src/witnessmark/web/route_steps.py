"""A piece's route as a strip with its clocks; reasons are signed here, and a proposed route is written."""

import uuid
from collections.abc import Sequence

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods

from witnessmark.calc.surface.corrosion import crack_test, may_blast
from witnessmark.calc.surface.decorative import Decorative, decorative_chrome
from witnessmark.calc.surface.instruction import CALLED
from witnessmark.calc.surface.oven_caps import caps_of_steps
from witnessmark.calc.surface.processes import cautions_for, processes_of
from witnessmark.calc.surface.proposal import FINISHES, WORK
from witnessmark.calc.surface.route_asks import FACTS
from witnessmark.calc.units import parse_length
from witnessmark.records.actions.route_reasons import moment_typed, say_when, sign_reason
from witnessmark.records.actions.route_written import say_route_facts, write_route
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.instructions import told_of_steps
from witnessmark.records.lookups.pieces import by_key
from witnessmark.records.lookups.route_facts import facts_of, proposed_for
from witnessmark.records.lookups.route_gate import standing_of
from witnessmark.records.lookups.routes import RouteSeen, as_found, oven_now, route_seen
from witnessmark.records.models import Piece, RouteReason, Step
from witnessmark.web import asked

ANSWERS = {"yes": True, "no": False, "unknown": None}


def piece_or_404(key: str) -> Piece:
    """The piece of this tag, else a page that says there is none."""
    piece = by_key(key)
    if piece is None:
        raise Http404(f"No piece has the tag {key}.")
    return piece


def _drawn(request: HttpRequest, piece: Piece) -> HttpResponse:
    seen = route_seen(piece)
    names = {place: step.name for place, step in enumerate(seen.steps, start=1)}
    standing = standing_of(seen)
    signed = list(RouteReason.objects.filter(piece=piece).select_related("by", "act").order_by("id"))
    return render(
        request,
        "route.html",
        {
            "seen": seen,
            "piece": piece,
            "strip": _strip(seen),
            "timed": [
                (
                    clock,
                    names[clock.from_step],
                    names[clock.to_step],
                    seen.steps[clock.from_step - 1].number,
                    uuid.uuid4(),
                )
                for clock in seen.clocks
            ],
            "hard": [(each, uuid.uuid4()) for each in standing if each.breach.hard and each.reason is None],
            "soft": [(each, uuid.uuid4()) for each in standing if not each.breach.hard and each.reason is None],
            "signed": signed,
            "known": _known(piece, seen.steps),
        },
    )


def _strip(seen: RouteSeen) -> list[dict[str, object]]:
    """Each step with its clock, its cautions while it is to come, what the tag does, and its oven's cap."""
    ovens = caps_of_steps(seen.piece.material, as_found(seen.piece), [step.name for step in seen.steps])
    clocks = {clock.to_step: clock for clock in seen.clocks}
    told = told_of_steps(seen.piece, seen.steps)
    material = f"{seen.piece.material} {seen.piece.name}"
    strength = seen.piece.strength_mpa if seen.piece.strength_mpa and seen.piece.strength_mpa > 0 else None
    return [
        {
            "step": step,
            "here": seen.here is not None and step.pk == seen.here.pk,
            "clock": clocks.get(place),
            "tag_off": step.name in seen.tag_off,
            "told": None if step.done_act_id else told[step.number],
            "may_call": bool(CALLED & set(processes_of(step.name))),
            "oven": None if step.done_act_id or CALLED & set(processes_of(step.name)) else ovens.get(place),
            "cautions": () if step.done_act_id else cautions_for(step.name, material, seen.piece.finish, strength),
        }
        for place, step in enumerate(seen.steps, start=1)
    ]


def _known(piece: Piece, steps: Sequence[Step]) -> dict[str, object]:
    """What the metal allows: the crack test, blasting, and the heat."""
    holds = {fact.name: bool(fact.holds) for fact in facts_of(piece)}
    return {
        "test": crack_test(piece.material) if piece.material else None,
        "blast": may_blast(piece.material, holds["clad"], None) if piece.material else None,
        "oven": oven_now(piece, steps),
    }


def _reason(request: HttpRequest, piece: Piece) -> None:
    sign_reason(
        by=asked.me(request),
        act_id=asked.act_id(request),
        piece=piece,
        rule=request.POST.get("rule", ""),
        step_number=asked.whole(request, "number", "The step"),
        reason=request.POST.get("reason", ""),
    )


def _when(request: HttpRequest, piece: Piece) -> None:
    number = asked.whole(request, "number", "The step")
    step = Step.objects.filter(piece=piece, number=number).select_related("piece__aircraft").first()
    if step is None:
        raise Refused(f"The route has no step {number}. Nothing was changed. Open it again.")
    ended = moment_typed(request.POST.get("ended", ""))
    say_when(by=asked.me(request), act_id=asked.act_id(request), step=step, ended=ended)


@login_required
@require_http_methods(["GET", "POST"])
def route_screen(request: HttpRequest, key: str) -> HttpResponse:
    """Show a piece's route as a strip, with its clocks and the rules it breaks; a post signs a reason."""
    piece = piece_or_404(key)
    if request.method == "POST":
        try:
            if request.POST.get("do") == "when":
                _when(request, piece)
            else:
                _reason(request, piece)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("route", piece.key)
    return _drawn(request, piece)


def _looks(piece: Piece) -> Decorative:
    holds = {fact.name: bool(fact.holds) for fact in facts_of(piece)}
    return decorative_chrome(holds["carries a load"], False, holds["slots"])


def _proposal(request: HttpRequest, piece: Piece) -> HttpResponse:
    given: dict[str, object] = {"proposed": None, "wrong": ""}
    finish, work = request.GET.get("finish", ""), request.GET.getlist("work")
    thick = request.GET.get("thickness", "").strip()[:40]
    if finish:
        try:
            thickness = parse_length(thick).mm if thick else None
            given["proposed"] = proposed_for(piece, finish, work, thickness)
        except ValueError as why:
            given["wrong"] = f"{str(why)[:1].upper()}{str(why)[1:]}"
    context = {
        "piece": piece, "facts": facts_of(piece), "finishes": FINISHES, "works": WORK, "finish": finish, "work": work,
        "thickness": thick, "facts_id": uuid.uuid4(), "act_id": uuid.uuid4(), "strength": piece.strength_mpa,
        "looks": _looks(piece) if finish == "decorative chrome" else None, **given,
    }  # fmt: skip
    return render(request, "route_proposed.html", context, status=422 if given["wrong"] else 200)


def _say_facts(request: HttpRequest, piece: Piece) -> None:
    answers = {name: request.POST.get(f"fact-{name}", "") for name in FACTS}
    before = {fact.name: fact for fact in facts_of(piece)}
    changed = {
        name: ANSWERS[word]
        for name, word in answers.items()
        if word in ANSWERS
        and (before[name].holds is not ANSWERS[word] or before[name].come_from == "not in the record")
    }
    if not changed:
        raise Refused("No answer is new. Nothing was changed.")
    say_route_facts(by=asked.me(request), act_id=asked.act_id(request), piece=piece, facts=changed)


def _use(request: HttpRequest, piece: Piece) -> None:
    thick = request.POST.get("thickness", "").strip()
    try:
        thickness = parse_length(thick).mm if thick else None
    except ValueError as why:
        raise Refused(f"{why} Nothing was changed.") from None
    write_route(
        by=asked.me(request),
        act_id=asked.act_id(request),
        piece=piece,
        finish=request.POST.get("finish", ""),
        work=request.POST.getlist("work"),
        steps=request.POST.getlist("step"),
        thickness_mm=thickness,
    )


@login_required
@require_http_methods(["GET", "POST"])
def propose_screen(request: HttpRequest, key: str) -> HttpResponse:
    """Propose a route for a piece from the record; a post says what the record does not hold, or uses the route."""
    piece = piece_or_404(key)
    if request.method == "POST":
        back = request.get_full_path()
        try:
            if request.POST.get("do") == "use":
                _use(request, piece)
                return redirect("route", piece.key)
            _say_facts(request, piece)
        except Refused as why:
            return asked.refusal(request, why, back)
        return redirect(back)
    return _proposal(request, piece)


urls: list[URLPattern] = [
    path("piece/<str:key>/route/", route_screen, name="route"),
    path("piece/<str:key>/route/propose/", propose_screen, name="propose_route"),
]
