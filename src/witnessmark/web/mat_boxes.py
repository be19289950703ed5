"""Boxes for bags: choose the bags, print a mat with their tags in its boxes, say where each comes from, file what lies there."""

import uuid

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods, require_safe

from witnessmark.calc.mat.sheet import COLOURS, PAPERS, UnknownMat, sheet
from witnessmark.papers.mat import new_serial, pdf, with_boxes
from witnessmark.records.actions.mat import print_mat
from witnessmark.records.actions.mat_boxes import IntoBag, bind_boxes, box_names, file_boxes
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.lookups.mat_boxes import bags_for_boxes, bound_boxes, box_rows, with_tags
from witnessmark.records.models import Answer, PrintedMat
from witnessmark.web.asked import act_id, me, refusal, whole

BOXES = 12


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def boxes_screen(request: HttpRequest) -> HttpResponse:
    """Choose the bags whose boxes are printed; a post binds them and goes to the sheet."""
    if request.method == "POST":
        try:
            kind = sheet(request.POST.get("paper", ""), "boxes", request.POST.get("colour", ""))
            said, tags = act_id(request), request.POST.getlist("tag")
            new = whole(request, "new", "How many with new numbers")
            if not tags and not new:
                raise Refused("No bag was chosen and no new number. Nothing was changed. Choose one at least.")
            told = print_mat(by=me(request), act_id=said, serial=new_serial(said), kind=kind.name, tags=tags, new=new)
        except UnknownMat as why:
            return refusal(request, Refused(f"{why} Nothing was changed."), request.path)
        except Refused as why:
            return refusal(request, why, request.path)
        return redirect("mat_box_sheet", serial=told["serial"])
    words = request.GET.get("q", "").strip()[:80]
    sheets = PrintedMat.objects.filter(boxes__isnull=False).distinct().order_by("-act__recorded_at")[:8]
    return render(
        request,
        "mat_boxes.html",
        {
            "bags": bags_for_boxes(the_aircraft(), words), "q": words, "sheets": sheets, "act_id": uuid.uuid4(),
            "papers": PAPERS, "colours": COLOURS, "numbers": range(BOXES + 1),
        },
    )  # fmt: skip


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def sheet_screen(request: HttpRequest, serial: str) -> HttpResponse:
    """Show whose each box of a sheet is, to be printed; a post says where the pieces come from, or whose a box is."""
    mat = PrintedMat.objects.filter(pk=serial).first()
    names = box_names(mat) if mat is not None else []
    if mat is None or not names:
        raise Http404(f"There is no mat {serial} with boxes.")
    before = bound_boxes(mat)
    if request.method == "POST":
        try:
            bind_boxes(
                by=me(request), act_id=act_id(request), serial=serial,
                tags={b: request.POST[f"tag-{b}"] for b in names if f"tag-{b}" in request.POST},
                came_from={b: request.POST[f"from-{b}"] for b in names if f"from-{b}" in request.POST},
            )  # fmt: skip
        except Refused as why:
            return refusal(request, why, request.path)
        return redirect("mat_box_sheet", serial=serial)
    bags = with_tags(row.tag for row in before.values())
    rows = [{"box": b, "word": before.get(b), "bag": bags.get(before[b].tag) if b in before else None} for b in names]
    shown = {"mat": mat, "rows": rows, "bound": len(before), "of": len(names), "act_id": uuid.uuid4()}
    return render(request, "mat_box_sheet.html", shown)


@login_required
@require_safe
def sheet_pdf(request: HttpRequest, serial: str) -> HttpResponse:
    """Print a sheet with boxes; printing it again gives the same sheet, though its ruler lengths are those of one."""
    mat = PrintedMat.objects.filter(pk=serial).first()
    if mat is None or not box_names(mat):
        raise Http404(f"There is no mat {serial} with boxes.")
    response = HttpResponse(pdf(with_boxes(mat)), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="boxes-{serial}.pdf"'
    response["Cache-Control"] = "no-store"
    return response


def how_many(request: HttpRequest, name: str, what: str) -> int | None:
    """The count that was typed, nought too; nothing typed leaves it to the picture."""
    return whole(request, name, what) if request.POST.get(name, "").strip() else None


def file_chosen(request: HttpRequest, answer: Answer) -> None:
    """File the boxes that were ticked on the picture's page, each as its fields say."""
    if not me(request).may_write:
        raise NotAllowed(f"{me(request).name} may look, not change. Nothing was changed.")
    rows = {row.box: row for row in box_rows(answer)}
    chosen = []
    for box in dict.fromkeys(request.POST.getlist("box")):
        row = rows.get(box)
        if row is None:
            raise Refused(f"This picture has no box {box[:8]}. Nothing was changed. Open it again.")
        tag = request.POST.get(f"tag-{box}", "").strip() or row.tag
        count = how_many(request, f"count-{box}", f"How many in box {box}")
        chosen.append(
            IntoBag(
                box, tag, count, request.POST.get(f"name-{box}", ""), row.came_from if tag == row.tag else "",
                more=f"more-{box}" in request.POST, mixed=f"mixed-{box}" in request.POST,
            )
        )  # fmt: skip
    file_boxes(
        by=me(request), act_id=act_id(request), reading=answer, boxes=chosen, shelf=request.POST.get("shelf", "")
    )


urls: list[URLPattern] = [
    path("mat/boxes/", boxes_screen, name="mat_boxes"),
    path("mat/boxes/<str:serial>/", sheet_screen, name="mat_box_sheet"),
    path("mat/boxes/<str:serial>/pdf/", sheet_pdf, name="mat_box_pdf"),
]
