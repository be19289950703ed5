"""A rivet reckoned with by typed figures alone: length and edge distance, a flush head; dimples, a joint, a splice."""

from typing import Any, Literal

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import URLPattern, path
from django.views.decorators.http import require_safe

from witnessmark.calc.fasteners.driven import length_choice
from witnessmark.calc.fasteners.flush import PROUD_MM, seating, shaved
from witnessmark.calc.fasteners.holes import edge_distance
from witnessmark.calc.fasteners.length import StackLayer, grip
from witnessmark.calc.fasteners.tooling import drill_for
from witnessmark.web.rivet_joint import SYSTEMS, joint_part
from witnessmark.web.rivet_sheets import bolt_part, dimples_part, splice_part
from witnessmark.web.rivet_typed import Typed, need, refused, typed_stack

HEADS = [("protruding", "protruding"), ("flush", "flush")]
STEPS = [("half", "half steps can be had"), ("whole", "whole steps alone")]


def _length(data: QueryDict) -> dict[str, Any]:
    typed = Typed(data)
    stack = typed.words("l_stack", "Sheets, head side first, like 1.2 + 2.0", "mm")
    diameter = typed.length("l_d", "Diameter of the rivet")
    hole = typed.length("l_hole", "Hole; else by its drill")
    edge = typed.length("l_edge", "Hole’s centre to the edge")
    given = typed.given
    head = typed.choice("l_head", "Head", HEADS)
    height = typed.length("l_k", "Height of a flush head")
    system = typed.choice("l_system", "System", SYSTEMS)
    steps = typed.choice("l_steps", "Lengths in stock", STEPS)
    found: dict[str, Any] = {"asks": typed.asks}
    if not given:
        return found
    try:
        d = need(diameter(), "The diameter")
        layers = [StackLayer(f"layer {n}", t, "measured") for n, t in enumerate(typed_stack(stack), 1)]
        if len(layers) == 1:
            raise ValueError("the stack holds one sheet alone: the layer under it is missing")
        way: Literal["flush", "protruding"] = "flush" if head == "flush" else "protruding"
        tall = need(height(), "The height of the flush head") if way == "flush" else 0.0
        inch = system == "inch"
        choice, whole = (
            length_choice(
                grip(layers).grip_mm,
                d,
                hole() or drill_for(d, inch)[1],
                way,
                tall,
                "inch" if inch else "metric",
                half,
            )
            for half in (steps == "half" and not inch, False)
        )
        at = edge()
        checked = edge_distance(at, d, way == "flush") if at is not None else None
        found |= {
            "choice": choice,
            "whole_mm": whole.best_stock_mm,
            "working": choice.working.to_dict(),
            "edge": checked,
            "edge_working": checked.working.to_dict() if checked else None,
        }
    except ValueError as error:
        found["why"] = refused(error)
    return found


def _flush(data: QueryDict) -> dict[str, Any]:
    typed = Typed(data)
    head, angle = typed.length("f_head", "Diameter of the head"), typed.number("f_deg", "Angle of the head", "°")
    shank = typed.length("f_shank", "Shank")
    mouth = typed.length("f_mouth", "Mouth of the seat, or the head its die or cutter was made for")
    seat = typed.number("f_seat", "Angle of the seat, die or cutter", "°")
    hole, dome = typed.length("f_hole", "Hole under it"), typed.length("f_dome", "Height of a dome; none if flat")
    found: dict[str, Any] = {"asks": typed.asks}
    if not typed.given:
        return found
    try:
        found["seat"] = made = seating(
            need(head(), "The head"),
            need(angle(), "The angle of the head"),
            need(mouth(), "The mouth of the seat"),
            need(seat(), "The angle of the seat"),
            need(hole(), "The hole"),
            need(shank(), "The shank"),
            dome() or 0.0,
        )
        found["working"] = made.working.to_dict()
        if made.top_mm > PROUD_MM:
            found["shaved"] = shaved(need(head(), "The head"), need(angle(), "The angle"), need(shank(), "The shank"), made.rim_mm, dome() or 0.0)  # fmt: skip
    except ValueError as error:
        found["why"] = refused(error)
    return found


@login_required
@require_safe
def rivet_screen(request: HttpRequest) -> HttpResponse:
    """Answer what one rivet is asked from the figures in the address; no record is needed."""
    parts = {
        "length": _length(request.GET),
        "flush": _flush(request.GET),
        "dimples": dimples_part(request.GET),
        "joint": joint_part(request.GET),
        "splice": splice_part(request.GET),
        "bolt": bolt_part(request.GET),
    }
    wrong = any("why" in part for part in parts.values())
    return render(request, "rivet.html", parts, status=422 if wrong else 200)


urls: list[URLPattern] = [path("rivet/", rivet_screen, name="rivet")]
