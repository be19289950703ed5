"""The screens' addresses, one list a screen."""

from django.urls import URLPattern, URLResolver

from witnessmark.web import (
    aircraft,
    bench,
    calendar_link,
    certificates,
    families,
    fastener,
    find,
    foresight,
    hunts,
    mat,
    open_jobs,
    orders,
    other_work,
    outside,
    outwork,
    pack,
    papers,
    photographs,
    piece,
    plan,
    rivet,
    rivet_drawings,
    route,
    seam,
    sign_in,
    sorting,
    survey,
    trips,
)

urlpatterns: list[URLPattern | URLResolver] = [
    *bench.urls,
    *open_jobs.urls,
    *other_work.urls,
    *calendar_link.urls,
    *aircraft.urls,
    *piece.urls,
    *route.urls,
    *find.urls,
    *seam.urls,
    *sorting.urls,
    *outwork.urls,
    *pack.urls,
    *certificates.urls,
    *outside.urls,
    *hunts.urls,
    *trips.urls,
    *orders.urls,
    *rivet_drawings.urls,
    *plan.urls,
    *foresight.urls,
    *papers.urls,
    *mat.urls,
    *photographs.urls,
    *sign_in.urls,
    *families.urls,
    *fastener.urls,
    *survey.urls,
    *rivet.urls,
]
handler400 = "witnessmark.web.errors.bad_request"
handler403 = "witnessmark.web.errors.not_allowed"
handler404 = "witnessmark.web.errors.not_found"
handler500 = "witnessmark.web.errors.broken"
