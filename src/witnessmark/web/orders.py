"""Orders: the rivets still wanted by size and length, what holds them, and what is on its way."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import URLPattern, path
from django.views.decorators.http import require_safe

from witnessmark.records.lookups.day import the_aircraft, today
from witnessmark.records.lookups.orders import RivetOrder, rivet_order
from witnessmark.records.lookups.plan import here_by


@login_required
@require_safe
def orders_screen(request: HttpRequest) -> HttpResponse:
    """Show the order as it would leave today."""
    aircraft = the_aircraft()
    order = rivet_order(aircraft) if aircraft else None
    now = today(aircraft)
    groups = (
        [
            {
                "vendor": group.vendor,
                "count": group.count,
                "here": here_by(group.vendor, now) if group.vendor else None,
                "lines": [(each, each.line.working.to_dict()) for each in group.lines],
            }
            for group in order.vendors
        ]
        if order
        else []
    )
    waiting = [o for o in order.placed if o.ordered_on and not o.came_on] if order else []
    return render(
        request,
        "orders.html",
        {
            "order": order,
            "say": _sentence(order),
            "groups": groups,
            "waiting": [(o, (now - o.promised_on).days if o.promised_on else 0) for o in waiting],
            "came": [o for o in order.placed if o.came_on] if order else [],
        },
    )


def _sentence(order: RivetOrder | None) -> str:
    if order is None or (not order.vendors and not order.not_looked_at):
        return "No hole waits for a rivet that has to be ordered."
    lines = sum(len(group.lines) for group in order.vendors)
    what = f"{order.count:,} rivets to order, in {'one line' if lines == 1 else f'{lines} lines'}, for {order.holes:,} holes."
    if order.held:
        rows = len(order.not_looked_at)
        return f"{what} Hold it: {'one row is' if rows == 1 else f'{rows} rows are'} not looked at."
    return what


urls: list[URLPattern] = [path("orders/", orders_screen, name="orders")]
