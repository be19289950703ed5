"""Blank numbered tags: give the next numbers out as a batch, and print a batch as often as it is wanted."""

import uuid

from django.contrib.auth.decorators import login_required
from django.db.models import Count, Max, Min
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path, reverse
from django.views.decorators.http import require_http_methods, require_safe

from witnessmark.papers.blank_tags import gather, pdf
from witnessmark.records.actions.blank_tags import IN_A_BOX, MEDIA, print_tags
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.models import TagPrinted
from witnessmark.web import asked

SHOWN = 12


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def blank_tags_screen(request: HttpRequest) -> HttpResponse:
    """Show the batches; a post gives the next numbers out."""
    if request.method == "POST":
        try:
            print_tags(
                by=asked.me(request),
                act_id=asked.act_id(request),
                count=asked.whole(request, "count", "How many"),
                medium=request.POST.get("medium", ""),
                start=asked.whole(request, "start", "The first number") or None,
            )
        except Refused as why:
            return asked.refusal(request, why, reverse("blank_tags"))
        return redirect("blank_tags")
    batches = (
        TagPrinted.objects.exclude(medium=IN_A_BOX)
        .order_by()
        .values("batch", "medium", "act__person__name", "act__happened_at")
        .annotate(first=Min("tag"), last=Max("tag"), n=Count("tag"))
        .order_by("-batch")[:SHOWN]
    )
    shown = {"batches": batches, "media": MEDIA, "act_id": uuid.uuid4()}
    return render(request, "blank_tags.html", shown)


@login_required
@require_safe
def batch_pdf(request: HttpRequest, batch: int) -> HttpResponse:
    """Print a batch; printing it again gives the same tags, not new numbers."""
    rows = list(
        TagPrinted.objects.filter(batch=batch).exclude(medium=IN_A_BOX).order_by("tag").values_list("tag", "medium")
    )
    if not rows:
        raise Http404(f"There is no batch {batch}.")
    made = pdf(gather(the_aircraft(), [tag for tag, _ in rows], rows[0][1]))
    response = HttpResponse(made, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="tags-{rows[0][0]}-{rows[-1][0]}.pdf"'
    return response


urls: list[URLPattern] = [
    path("in/tags/", blank_tags_screen, name="blank_tags"),
    path("in/tags/<int:batch>/pdf/", batch_pdf, name="blank_tags_pdf"),
]
