"""The drawing of a rivet that has to be made, to take away as DXF."""

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from witnessmark.exchange.rivet_dxf import rivet_dxf
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.lookups.rivet_drawings import drawings_of


@login_required
@require_safe
def dxf(request: HttpRequest, code: str) -> HttpResponse:
    """Give every length of one size on the order."""
    aircraft = the_aircraft()
    if aircraft is None:
        raise Http404("The record is empty.")
    try:
        drawings, notes = drawings_of(aircraft, code)
    except ValueError as error:
        raise Http404(f"{str(error).rstrip('.')}.") from None
    response = HttpResponse(rivet_dxf(drawings, notes), content_type="image/vnd.dxf")
    name = f"{code.replace('/', '-')}.dxf"
    response["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=name) or ""
    response["Cache-Control"] = "no-store"
    return response


urls: list[URLPattern] = [path("orders/drawing/<path:code>.dxf", dxf, name="rivet_dxf")]
