"""By what a step of a part is done: specification, type, class, bake; with what the vendor is told."""

import uuid

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods

from witnessmark.calc.surface import bake, plating
from witnessmark.calc.surface.instruction import CalledOutBy
from witnessmark.calc.tables import load_table
from witnessmark.calc.units import parse_length, parse_temperature
from witnessmark.records.actions.called_out import call_out
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.instructions import called_for, told_of
from witnessmark.records.models import CalledOut, Step
from witnessmark.web import asked
from witnessmark.web.route_steps import piece_or_404

FIELDS = ("spec", "kind", "code", "bake_spec", "section", "temper")


def _typed(request: HttpRequest) -> CalledOutBy:
    texts = {name: " ".join(request.POST.get(name, "").split())[:60] for name in FIELDS}
    try:
        section = parse_length(texts["section"]).mm if texts["section"] else None
        temper = parse_temperature(texts["temper"]).celsius if texts["temper"] else None
    except ValueError as why:
        raise Refused(f"{str(why).rstrip('.')}. Nothing was changed; what was typed stands below.") from None
    return CalledOutBy(
        texts["spec"], texts["kind"][:20], texts["code"][:20], texts["bake_spec"], section, temper
    )  # fmt: skip


def _drawn(request: HttpRequest, step: Step) -> HttpResponse:
    held = called_for([step.piece_id]).get((step.piece_id, step.number, step.name))
    typed = {name: request.POST.get(name, "")[:60] for name in FIELDS}
    if request.method == "GET" and held is not None:
        typed = {
            "spec": held.spec, "kind": held.kind, "code": held.code, "bake_spec": held.bake_spec,
            "section": f"{held.section_mm:g} mm" if held.section_mm else "",
            "temper": f"{held.temper_c:g} C" if held.temper_c else "",
        }  # fmt: skip
    rows = load_table("plating_specs").rows
    types = [(row["spec"], row["code"], row["value"]) for row in rows if row["kind"] == "type"]
    classes = [coat for spec in plating.specifications() for coat in plating.coats_of(spec)]
    earlier = CalledOut.objects.filter(piece=step.piece, step_number=step.number).select_related("act__person")
    return render(
        request,
        "called_out.html",
        {
            "piece": step.piece,
            "step": step,
            "called": held,
            "told": told_of(step.piece, [step], held),
            "typed": typed,
            "specs": plating.specifications(),
            "bakes": bake.specifications(),
            "types": types,
            "classes": classes,
            "earlier": earlier.order_by("-id")[1:10],
            "act_id": uuid.uuid4(),
        },
    )


@login_required
@require_http_methods(["GET", "POST"])
def called_out_screen(request: HttpRequest, key: str, number: int) -> HttpResponse:
    """Show by what a step is done and what the vendor is told; a post calls it out."""
    piece = piece_or_404(key)
    step = Step.objects.filter(piece=piece, number=number).select_related("piece__aircraft", "piece__size").first()
    if step is None:
        raise Http404(f"The route of {key} has no step {number}.")
    if request.method == "POST":
        try:
            call_out(by=asked.me(request), act_id=asked.act_id(request), step=step, called=_typed(request))
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("called_out", piece.key, number)
    return _drawn(request, step)


urls: list[URLPattern] = [
    path("piece/<str:key>/route/step/<int:number>/", called_out_screen, name="called_out"),
]
