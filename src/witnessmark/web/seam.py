"""Seams: every row with its holes by state, and one row drawn to scale."""

import uuid
from collections.abc import Sequence
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods, require_safe

from witnessmark.records.actions.rows import fill_holes, last_filling, look_at_row, take_back_filling
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.lookups.receiving import boxes_for
from witnessmark.records.lookups.seams import RowSeen, SeamDrawn, is_flush, is_rivet, rows_seen, seam_drawn
from witnessmark.records.models import HoleState
from witnessmark.web import asked
from witnessmark.web.seam_drawing import edge_drawing, legend, row_lines, section
from witnessmark.web.seam_register import hole_register
from witnessmark.web.seam_rivet import joint_part, length_part
from witnessmark.web.templatetags.figures import small


@login_required
@require_safe
def seams_screen(request: HttpRequest) -> HttpResponse:
    """List every row by seam."""
    aircraft = the_aircraft()
    rows = rows_seen(aircraft) if aircraft else []
    not_looked = [row for row in rows if not row.looked_at]
    zones: dict[str, list[RowSeen]] = {}
    for row in rows:
        zones.setdefault(row.place.zone.name, []).append(row)
    return render(
        request,
        "seams.html",
        {
            "say": _seams_sentence(rows),
            "not_looked": not_looked,
            "zones": list(zones.items()),
            "below": [row for row in rows if row.edge is not None and row.edge.below],
        },
    )


def _seams_sentence(rows: Sequence[RowSeen]) -> str:
    if not rows:
        return "No row is written down yet."
    to_fill = sum(row.to_fill for row in rows)
    blind = sum(1 for row in rows if not row.looked_at)
    first = f"{to_fill:,} holes to go, in {sum(1 for row in rows if row.to_fill)} of {len(rows)} rows."
    if blind:
        return f"{first} {'One row is' if blind == 1 else f'{blind} rows are'} not looked at."
    return first


@login_required
@require_http_methods(["GET", "POST"])
def seam_screen(request: HttpRequest, mark: str, side: str) -> HttpResponse:
    """Draw one row; a post says what stands in its holes, or that it was looked at."""
    aircraft = the_aircraft()
    drawn = seam_drawn(aircraft, mark, side) if aircraft else None
    if drawn is None:
        raise Http404(f"There is no row {mark} on that side.")
    if request.method == "POST":
        try:
            _say(request, drawn)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("seam", mark=mark, side=side)
    seen = drawn.seen
    register = hole_register(drawn) if seen.looked_at else None
    next_hole = drawn.next_hole if seen.looked_at else None
    return render(
        request,
        "seam.html",
        {
            "drawn": drawn,
            "seen": seen,
            "say": _row_sentence(drawn),
            "next": next_hole,
            "lines": row_lines(drawn),
            "marks": legend(drawn),
            "section": section(seen),
            "length_working": seen.length.working.to_dict() if seen.length else None,
            "edges": _edges(drawn),
            "lh": length_part(drawn, request.GET),
            "joint": joint_part(drawn, request.GET),
            "flush_row": seen.size is not None and is_rivet(seen.size) and is_flush(seen.size),
            "register": register,
            "oversize": [hole for hole in drawn.holes if hole.readings],
            "boxes": boxes_for(aircraft, seen.name) if aircraft else (),
            "last": last_filling(seen.row),
            "act_id_back": uuid.uuid4(),
            "states": HoleState.choices,
            "act_id": uuid.uuid4(),
            "act_id_more": uuid.uuid4(),
        },
    )


def _row_sentence(drawn: SeamDrawn) -> str:
    seen = drawn.seen
    if not seen.looked_at:
        return f"Row {seen.name} is {seen.row.get_looked_at_display()}. No claim is made of it."
    go = seen.counts[HoleState.EMPTY] + seen.counts[HoleState.TEMPORARY]
    waits = [hole for hole in drawn.holes if hole.state == HoleState.OPEN]
    first = f"{'One hole' if go == 1 else f'{go} holes'} to go." if go else "No hole to go on with."
    if not go and not waits:
        return (
            f"All {seen.done} holes are riveted."
            if seen.done == seen.holes
            else f"{seen.done} of {seen.holes} riveted."
        )
    if len(waits) == 1:
        why = small(waits[0].reason.rstrip("."))
        return f"{first} Leave {waits[0].number} open{f': {why}' if why else ''}."
    if waits:
        return f"{first} Leave {len(waits)} open."
    return first


def _edges(drawn: SeamDrawn) -> list[dict[str, Any]]:
    """Holes nearer the edge than the guidance, as they are or with the next rivet up; each with its working."""
    found = []
    for hole in drawn.holes:
        tight = hole.edge if hole.edge is not None and hole.edge.below else None
        bigger = hole.edge_next if tight is None and hole.state == HoleState.OPEN else None
        edge = tight or bigger
        if edge is None or hole.edge_mm is None or drawn.seen.size is None:
            continue
        size = drawn.next_size if bigger and drawn.next_size else drawn.seen.size
        found.append(
            {
                "title": f"Hole {hole.number}",
                "say": f"With the next rivet up, {size.code}: {small(edge.sentence)}" if bigger else edge.sentence,
                "reason": small(hole.reason.rstrip(".")),
                "working": edge.working.to_dict(),
                "findings": [f for f in drawn.findings if f.hole is not None and f.hole.number == hole.number],
                "drawing": edge_drawing(
                    hole.number, hole.edge_mm, drawn.seen.size.nominal_mm, size.nominal_mm, edge.minimum
                ),
            }
        )
    if drawn.seen.edge is not None:
        found.append(
            {
                "title": "The row's edge distance",
                "say": drawn.seen.edge.sentence,
                "reason": "",
                "working": drawn.seen.edge.working.to_dict(),
                "findings": [],
                "drawing": "",
            }
        )
    return found


def _say(request: HttpRequest, drawn: SeamDrawn) -> None:
    by, act_id, row = asked.me(request), asked.act_id(request), drawn.seen.row
    what = request.POST.get("what", "")
    if what == "look":
        look_at_row(by=by, act_id=act_id, row=row, looked_at=request.POST.get("looked_at", "yes"))
    elif what == "fill":
        fill_holes(
            by=by,
            act_id=act_id,
            row=row,
            holes=request.POST.get("holes", ""),
            state=request.POST.get("state", ""),
            reason=request.POST.get("reason", "")[:300],
        )
    elif what == "take back":
        filling = last_filling(row)
        if filling is None or str(filling.pk) != request.POST.get("filling"):
            raise Refused(
                "The last word about this row is another one now. Nothing was changed. Look at the row again."
            )
        take_back_filling(by=by, act_id=act_id, row=row, filling=filling)
    else:
        raise Refused("The form does not say what happened. Nothing was changed. Open the page again.")


urls: list[URLPattern] = [
    path("seams/", seams_screen, name="seams"),
    path("seam/<str:mark>/<str:side>/", seam_screen, name="seam"),
]
