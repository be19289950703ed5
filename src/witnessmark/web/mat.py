"""The mat on a phone or a tablet: print, take or choose a picture, watch it being read, correct, file."""

import uuid
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path, reverse
from django.views.decorators.http import require_http_methods, require_safe

from witnessmark.calc.mat.sheet import COLOURS, LAYOUTS, PAPERS, UnknownMat, sheet
from witnessmark.papers.mat import Mat, new_serial, pdf
from witnessmark.papers.typesetting import stamp_for
from witnessmark.records import work
from witnessmark.records.actions import mat as acts
from witnessmark.records.actions.bucket import take_back_figures
from witnessmark.records.actions.mat_bags import filing_of, take_back_filing
from witnessmark.records.actions.mat_groups import regroup, take_back_regrouping
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.bucket import figures_from
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.lookups.mat_boxes import box_rows, filings, last_shelf
from witnessmark.records.lookups.mat_groups import groups_of, sentence_now, sentences
from witnessmark.records.models import Answer, Mix, Photo, PrintedMat
from witnessmark.web.asked import act_id, me, refusal
from witnessmark.web.mat_boxes import file_chosen, how_many

SHOWN = 30


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def mat_screen(request: HttpRequest) -> HttpResponse:
    """Say what to do first; take a picture in, a mat's ruler lengths, or print a mat."""
    if request.method == "POST":
        try:
            return _said(request)
        except Refused as why:
            return refusal(request, why, reverse("mat"))
    readings = list(Answer.objects.filter(kind=acts.READING).order_by("-pk")[:SHOWN])
    said = sentences(readings)
    mats = list(PrintedMat.objects.order_by("-act__recorded_at")[:SHOWN])
    asked_for = next((m for m in mats if m.serial == request.GET.get("mat")), None)
    return render(
        request,
        "mat.html",
        {
            "mats": mats, "unmeasured": asked_for or next((m for m in mats if not m.measured), None),
            "readings": [{"photo": r.subject, "said": said.get(r.pk) or r.result.get("refused")} for r in readings],
            "ids": {name: uuid.uuid4() for name in ("print", "measure", "read")},
            "bucket": request.GET.get("bucket", "")[:40],
            "papers": PAPERS, "layouts": LAYOUTS, "colours": COLOURS,
        },
    )  # fmt: skip


def _said(request: HttpRequest) -> HttpResponse:
    what = request.POST.get("do", "")
    if what == "print":
        return _printed(request)
    if what == "measure":
        acts.measure_mat(
            by=me(request), act_id=act_id(request), serial=request.POST.get("serial", "").strip().upper(),
            check_a_mm=_mm(request, "check_a", "Length A"), check_b_mm=_mm(request, "check_b", "Length B"),
        )  # fmt: skip
        return redirect("mat")
    sent = request.FILES.get("picture")
    if sent is None:
        raise Refused("No picture came along. Nothing was changed. Take one, or choose one.")
    told = acts.ask_for_reading(by=me(request), act_id=act_id(request), data=sent.read(), name=sent.name or "picture")
    bucket = request.POST.get("bucket", "").strip()[:40]
    there = reverse("mat_reading", args=[told["photo"]])
    return redirect(f"{there}?{urlencode({'bucket': bucket})}" if bucket else there)


def _mm(request: HttpRequest, name: str, what: str) -> float:
    text = request.POST.get(name, "").strip().replace(",", ".").removesuffix("mm").strip()
    try:
        return float(text)
    except ValueError:
        raise Refused(f"{what}: '{text[:20]}' is no length in mm. Nothing was changed. Measure it again.") from None


def _printed(request: HttpRequest) -> HttpResponse:
    try:
        kind = sheet(request.POST.get("paper", ""), request.POST.get("layout", ""), request.POST.get("colour", ""))
    except UnknownMat as why:
        raise Refused(f"{why} Nothing was changed.") from None
    said = act_id(request)
    # Sent twice is one mat: its number comes from the act's own.
    serial = new_serial(said)
    acts.print_mat(by=me(request), act_id=said, serial=serial, kind=kind.name)
    response = HttpResponse(pdf(Mat(stamp_for(the_aircraft()), kind, serial)), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="mat-{serial}.pdf"'
    response["Cache-Control"] = "no-store"
    return response


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def reading_screen(request: HttpRequest, sha256: str) -> HttpResponse:
    """Show how far the reading is, or the groups on the picture with their corrections."""
    photo = Photo.objects.filter(pk=sha256).first()
    if photo is None:
        raise Http404("There is no such picture.")
    here = reverse("mat_reading", args=[sha256])
    answer = acts.reading_of(sha256)
    if request.method == "POST":
        try:
            if not me(request).may_write:
                raise NotAllowed(f"{me(request).name} may look, not change. Nothing was changed.")
            _corrected(request, sha256, answer)
        except Refused as why:
            return refusal(request, why, here)
        return redirect(_next(request, here))
    under_way = acts.work_of(sha256)
    busy = under_way is not None and under_way.state in ("waiting", "leased")
    bucket = request.GET.get("bucket", "")[:40]
    if answer is None or busy:
        return render(request, "mat_waits.html", {"photo": photo, "work": under_way, "busy": busy})
    if "refused" in answer.result:
        return render(
            request, "mat_waits.html", {"photo": photo, "refused": answer.result["refused"], "work": under_way}
        )
    return render(request, "mat_reading.html", _shown(answer) | {"bucket": bucket, "shelf": last_shelf(me(request))})


def _next(request: HttpRequest, here: str) -> str:
    """Where a correction leads: figures that were given to a bucket lead to the sorting of what came back in it."""
    tag = request.POST.get("tag", "").strip()
    if request.POST.get("do") == "return":
        mix = Mix.objects.filter(piece__tag=tag).select_related("shipment").first()
        if mix is not None:
            return reverse("sort", args=[mix.shipment.number])
    return here


def _corrected(request: HttpRequest, sha256: str, answer: Answer | None) -> None:
    what = request.POST.get("do", "")
    if what == "cancel":
        found = acts.work_of(sha256)
        if found is not None:
            work.cancel(found)
        return
    if what == "again":
        acts.read_again(by=me(request), act_id=act_id(request), sha256=sha256)
        return
    if answer is None:
        raise Refused("This picture is not read yet. Nothing was changed. Wait a moment.")
    if what == "return":
        acts.give_to_return(
            by=me(request), act_id=act_id(request), reading=answer, tag=request.POST.get("tag", ""),
            anyway=request.POST.get("anyway", ""),
        )  # fmt: skip
        return
    if what == "figures":
        known = {str(act.pk): act for act, _tag, _n in figures_from(answer.pk)}
        act = known.get(request.POST.get("act", ""))
        if act is None:
            raise Refused("These figures were taken back already. Nothing was changed. Open the picture again.")
        take_back_figures(by=me(request), act_id=act_id(request), act=act)
        return
    if what == "boxes":
        file_chosen(request, answer)
        return
    chosen = [int(n) for n in request.POST.getlist("piece") if n.isascii() and n.isdigit()][:2000]
    if what in ("move", "rename"):
        to = request.POST.get("to" if what == "move" else "group", "")
        name = request.POST.get("name", "").strip()
        if what == "rename" and not name:
            raise Refused("A group needs words. Nothing was changed. Write what it is.")
        regroup(
            by=me(request), act_id=act_id(request), reading=answer, pieces=chosen, to=to,
            name=name if what == "rename" else "",
        )  # fmt: skip
        return
    if what == "undo":
        take_back_regrouping(by=me(request), act_id=act_id(request), reading=answer)
        return
    if what == "out":
        take_back_filing(by=me(request), act_id=act_id(request), act=filing_of(answer, request.POST.get("act", "")))
        return
    shelf, tag = request.POST.get("shelf", ""), request.POST.get("tag", "")
    acts.file_group(
        by=me(request), act_id=act_id(request), reading=answer, pieces=chosen, name=request.POST.get("name", ""),
        tag=tag, shelf=shelf, aircraft=the_aircraft(), evidence=request.POST.get("evidence", ""),
        count=how_many(request, "count", "How many"), mixed="mixed" in request.POST,
    )  # fmt: skip


def _shown(answer: Answer) -> dict[str, Any]:
    now = groups_of(answer)
    told = answer.result | {"sentence": sentence_now(answer.result, now)}
    pieces = {p["number"]: p for p in told["pieces"]}
    rows = box_rows(answer)
    bagged = acts.filed(answer)
    width, height = told["picture_px"]
    groups = []
    for n, group in enumerate(now):
        left = [number for number in group["pieces"] if number not in bagged]
        figures = [
            {"what": name.replace("_", " "), "value": f["value"], "uncertainty": f["uncertainty"]}
            for name, f in group["figures_mm"].items()
        ]
        groups.append(
            group
            | {
                "letter": _letter(n), "figures": figures, "left": [pieces[k] for k in left],
                "tags": sorted({bagged[k] for k in group["pieces"] if k in bagged}), "act_id": uuid.uuid4(),
                "doubts": sorted({d for k in group["pieces"] for d in pieces[k]["doubts"]}),
                "evidence": f"on the mat, box {group['box']}" if group["box"] else "on the mat",
            }
        )  # fmt: skip
    drawn = [
        {
            "number": p["number"], "letter": g["letter"], "points": " ".join(f"{x},{y}" for x, y in p["outline_px"]),
            "x": sum(x for x, _y in p["outline_px"]) / len(p["outline_px"]),
            "y": sum(y for _x, y in p["outline_px"]) / len(p["outline_px"]), "filed": p["number"] in bagged,
        }
        for g in groups for p in (pieces[k] for k in g["pieces"])
    ]  # fmt: skip
    return {
        "photo": answer.subject, "told": told, "groups": groups, "drawn": drawn, "width": width, "height": height,
        "letter_px": round(width / 45), "stroke_px": max(3, round(width / 700)), "answer": answer,
        "working": answer.working, "stale": not acts.same_inputs(answer), "again_id": uuid.uuid4(), "return_id": uuid.uuid4(),
        "regrouped": now != told["groups"], "undo_id": uuid.uuid4(),
        "open": sum(bool(g["left"]) for g in groups), "boxes": [row for row in rows if row.pieces],
        "empty_boxes": [row for row in rows if not row.pieces], "boxes_id": uuid.uuid4(),
        "given": [(act, tag, n, uuid.uuid4()) for act, tag, n in figures_from(answer.pk)],
        "filings": [(each, uuid.uuid4()) for each in filings(answer)],
        "ready": sum(row.ready for row in rows), "unsettled": sum(bool(r.pieces) and not r.in_bag for r in rows),
    }  # fmt: skip


def _letter(n: int) -> str:
    """Name groups A to Z, then AA, AB: spoken over a bench more easily than figures."""
    return (_letter(n // 26 - 1) if n >= 26 else "") + "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[n % 26]


@login_required
@require_safe
def progress(request: HttpRequest, sha256: str) -> HttpResponse:
    """Say in a few words how far a reading is, for the page that waits."""
    found = acts.work_of(sha256)
    if found is None:
        raise Http404("This picture is not being read.")
    done = found.state not in ("waiting", "leased")
    response = HttpResponse("done" if done else found.progress or "waiting for its turn", content_type="text/plain")
    response["Cache-Control"] = "no-store"
    return response


urls: list[URLPattern] = [
    path("mat/", mat_screen, name="mat"),
    path("mat/<str:sha256>/", reading_screen, name="mat_reading"),
    path("mat/<str:sha256>/progress/", progress, name="mat_progress"),
]
