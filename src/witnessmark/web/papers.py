"""Papers: what can be printed, and each as PDF."""

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import URLPattern, path
from django.views.decorators.http import require_safe

from witnessmark.papers import PAPERS, NoSuchPaper, make
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.models import Person, Piece, PieceKind, Zone

MOST_TAGS = 500


@login_required
@require_safe
def papers_screen(request: HttpRequest) -> HttpResponse:
    """List the papers, with their choices."""
    from witnessmark.papers import carried, platers_sheet, returned

    aircraft = the_aircraft()
    tagged = Piece.objects.filter(aircraft=aircraft).exclude(tag=None)
    return render(
        request,
        "papers.html",
        {
            "tags": tagged.filter(kind=PieceKind.PART).count(),
            "bags": tagged.exclude(kind=PieceKind.PART).count(),
            "zones": Zone.objects.filter(aircraft=aircraft),
            "people": Person.objects.filter(is_active=True, role__in=("lead", "mechanic", "inspector")),
            "sheets": platers_sheet.names(aircraft),
            "travels": [
                (name, PAPERS[name], which)
                for name, every in {**carried.all_names(aircraft), **returned.all_names()}.items()
                for which in every
            ],
        },
    )


@login_required
@require_safe
def paper(request: HttpRequest, name: str) -> HttpResponse:
    """Give one paper: ?zone=, ?tag= (several), ?which= (shipment or vendor), ?person= choose what is on it."""
    try:
        made = make(
            name,
            zone=request.GET.get("zone", ""),
            tags=request.GET.getlist("tag")[:MOST_TAGS],
            which=request.GET.get("which", ""),
            person=request.GET.get("person", ""),
        )
    except NoSuchPaper as error:
        raise Http404(str(error)) from None
    response = HttpResponse(made, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    response["Cache-Control"] = "no-store"
    return response


urls: list[URLPattern] = [
    path("papers/", papers_screen, name="papers"),
    path("papers/<str:name>.pdf", paper, name="paper"),
]
