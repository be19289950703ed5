"""Dimples that lie in each other, how many rivets a splice wants, and bolts, by typed figures alone."""

from typing import Any

from django.http import QueryDict

from witnessmark.calc.fasteners.bolts import AN_BOLTS, GRADES, BoltChoice, BoltLoad, an_bolt_for, bolt_load
from witnessmark.calc.fasteners.dimples import nested_dimples
from witnessmark.calc.fasteners.splices import splice
from witnessmark.web.rivet_typed import Typed, need, refused, typed_stack

RIVETS = [(size, f"{size} in") for size in ("3/32", "1/8", "5/32", "3/16", "1/4")]
PARTS = [
    ("joint", "a joint, the whole rate"),
    ("stringer", "a stringer of the upper wing or the fuselage, 80 %"),
    ("lap", "sheets in a single lap, 75 %"),
    ("frame", "an intermediate frame, 60 %"),
]


BOLTS = [(bolt, bolt) for bolt in AN_BOLTS]
MARKS = [(grade, grade) for grade in GRADES]


def bolt_part(data: QueryDict) -> dict[str, Any]:
    """The AN bolt for a stack and what a metric bolt holds, each where it was asked for."""
    typed = Typed(data)
    stack = typed.words("b_stack", "Stack for an AN bolt, like 3.2 + 6.0", "mm")
    thread = typed.words("b_thread", "Metric bolt, like M8", "")
    given = typed.given
    bolt = typed.choice("b_an", "Which AN bolt", BOLTS, "AN4")
    grade = typed.choice("b_grade", "Grade marked on the metric head", MARKS, "8.8")
    found: dict[str, Any] = {"asks": typed.asks}
    if not given:
        return found
    try:
        answers: list[tuple[str, BoltChoice | BoltLoad]] = []
        if stack:
            answers.append(("The working of the AN bolt", an_bolt_for(bolt, sum(typed_stack(stack)))))
        if thread:
            answers.append(("The working of the load", bolt_load(thread, grade)))
        found["answers"] = [(label, each, each.working.to_dict()) for label, each in answers]
    except ValueError as error:
        found["why"] = refused(error)
    return found


def dimples_part(data: QueryDict) -> dict[str, Any]:
    """Every sheet's dimple, or what is missing."""
    typed = Typed(data)
    stack = typed.words("d_stack", "Dimpled sheets, outermost first, like 0.8 + 1.0", "mm")
    head, angle = typed.length("d_head", "Diameter of the head"), typed.number("d_deg", "Angle of the head", "°")
    shank = typed.length("d_shank", "Shank")
    found: dict[str, Any] = {"asks": typed.asks}
    if not typed.given:
        return found
    try:
        found["nested"] = made = nested_dimples(
            need(head(), "The head"),
            need(angle(), "The angle of the head"),
            need(shank(), "The shank"),
            typed_stack(stack),
        )
        found["working"] = made.working.to_dict()
    except ValueError as error:
        found["why"] = refused(error)
    return found


def splice_part(data: QueryDict) -> dict[str, Any]:
    """Rivets an inch and a side of a cut by each table, or what is missing."""
    typed = Typed(data)
    sheet, width = typed.length("s_sheet", "Thickness of the sheet"), typed.length("s_width", "Width across the cut")
    given = typed.given
    rivet = typed.choice("s_rivet", "Rivet, 2117, in inches", RIVETS, "1/8")
    part = typed.choice("s_part", "What is spliced", PARTS)
    found: dict[str, Any] = {"asks": typed.asks}
    if not given:
        return found
    try:
        found["count"] = made = splice(
            rivet, need(sheet(), "The thickness of the sheet"), need(width(), "The width"), part
        )
        found["working"] = made.working.to_dict()
    except ValueError as error:
        found["why"] = refused(error)
    return found
