"""What the owner alone is told: decisions wanted of him, hours booked, money spent and promised, and the days."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from django.db.models import Sum

from witnessmark.calc.since import Line, Part
from witnessmark.records.lookups.about import in_words, small
from witnessmark.records.lookups.findings import FindingSeen
from witnessmark.records.lookups.forecast import known_forecast
from witnessmark.records.lookups.leaves import and_list
from witnessmark.records.lookups.leaving import price_for, readings
from witnessmark.records.lookups.outwork import Out
from witnessmark.records.lookups.plan import make_plan
from witnessmark.records.lookups.since import MOST_FIRST, Days, Events, plural
from witnessmark.records.models import (
    Aircraft,
    ChoiceFigure,
    DecisionKind,
    HoursBooked,
    Hunt,
    HuntAsked,
    Order,
    VendorPrice,
)

Sums = dict[str, Decimal]


def _line(key: str, section: str, words: str, link: str = "", *, first: bool = True) -> Line:
    return Line(key, section, (Part(words),), owner_only=True, link=link, first=first)


def wanted(aircraft: Aircraft, findings: Iterable[FindingSeen]) -> list[Line]:
    """Findings without a decision, the worst first, with what each choice was reckoned at; and offers that wait for a yes."""
    waiting = [seen for seen in findings if seen.finding.state == "open"]
    waiting.sort(key=lambda seen: (-seen.lost_share, not seen.with_engineering, seen.finding.number))
    reckoned = _reckoned(aircraft)
    lines = []
    for number, seen in enumerate(waiting):
        piece = seen.finding.piece
        words = f"{seen.finding.number}, {small(seen.finding.what)}, on {in_words(piece) if piece else seen.on}"
        figures = reckoned.get(piece.pk, {}) if piece else {}
        if figures:
            told = "; ".join(f"{kind}: {', '.join(figures[kind])}" for kind in DecisionKind.values if kind in figures)
            words += f". Reckoned so far: {told}"
        elif piece:
            words += ". Nothing is reckoned yet"
        words += ". The engineer is asked." if seen.with_engineering else "."
        link = f"/decide/{piece.key}/" if piece else f"/finding/{seen.finding.number}/"
        lines.append(_line(f"wanted:{seen.finding.pk}", "wanted", words, link, first=number < MOST_FIRST))
    for offer in _offers(aircraft):
        words = (
            f"{offer.hunt.what} is offered by {offer.whom}: {offer.price:,.2f} {offer.currency}. Shall it be bought?"
        )
        lines.append(_line(f"offer:{offer.pk}", "wanted", words, f"/hunt/{offer.hunt.number}/"))
    if lines:
        count = f"{plural(len(lines), 'decision is', 'decisions are')} wanted{', the worst first' if len(lines) > 1 else ''}."
        lines.insert(0, _line("wanted", "wanted", count))
    return lines


def _reckoned(aircraft: Aircraft) -> dict[int, dict[str, list[str]]]:
    """By piece and choice, the hours and money that somebody reckoned last."""
    newest: dict[tuple[int, str, str], str] = {}
    rows = ChoiceFigure.objects.filter(piece__aircraft=aircraft, what__in=("hours", "money")).order_by("id")
    for row in rows:
        plain = row.typed.replace(".", "").isdigit()
        newest[row.piece_id, row.kind, row.what] = f"{row.typed} h" if row.what == "hours" and plain else row.typed
    found: dict[int, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    for (piece, kind, _), words in sorted(newest.items()):
        found[piece][kind].append(words)
    return found


def _offers(aircraft: Aircraft) -> list[HuntAsked]:
    """Of each open hunt for which nothing is bought, the newest offer with a price."""
    offers = HuntAsked.objects.filter(
        hunt__aircraft=aircraft, hunt__state="open", hunt__bought=None, price__isnull=False
    ).select_related("hunt")
    return list({offer.hunt_id: offer for offer in offers.order_by("asked_on", "id")}.values())


def hours(aircraft: Aircraft, days: Days) -> list[Line]:
    """Hours booked in these days, by craft, and since the aircraft came."""
    booked = HoursBooked.objects.filter(act__aircraft=aircraft, day__lte=days.until)
    every = booked.aggregate(sum=Sum("hours"))["sum"] or 0.0
    now = booked.filter(day__gte=days.since).values_list("person__craft").annotate(sum=Sum("hours")).order_by("-sum")
    by_craft = [f"{_short(total)} {craft or 'of no named craft'}" for craft, total in now]
    total = sum(hours for _, hours in now)
    if not total:
        tail = f" {_short(every)} h were booked before." if every else ""
        return [_line("hours", "money", f"No hours were booked since {days.say(days.since)}.{tail}")]
    split = f": {and_list(by_craft)}" if len(by_craft) > 1 else f", all {by_craft[0].split(' ', 1)[1]}"
    return [
        _line(
            "hours", "money", f"{_short(total)} h were booked{split}. {_short(every)} h are booked in all.", "/learned/"
        )
    ]


def _short(hours: float) -> str:
    return f"{hours:,.2f}".rstrip("0").rstrip(".")


def money(aircraft: Aircraft, days: Days, sent: Iterable[Out]) -> list[Line]:
    """What was spent since the day and what is promised now, by currency; and how much bears no price.

    A shipment's price is spent when it is back, a bought thing's when it came. What is out or on its way is promised.
    What was packed without a price is reckoned by the vendor's price list, and said apart.
    """
    spent: Sums = defaultdict(Decimal)
    promised: Sums = defaultdict(Decimal)
    reckoned: Sums = defaultdict(Decimal)
    silent = 0
    told = [out for out in sent if out.shipment.sent_on and (not out.is_back or days.hold(out.shipment.back_on))]
    listed = _by_list(told)
    for out in told:
        packing = getattr(out.shipment, "packing", None)
        if packing is not None and packing.price is not None and packing.currency:
            (spent if out.is_back else promised)[packing.currency] += packing.price
        elif out.shipment.pk in listed:
            price, currency = listed[out.shipment.pk]
            reckoned[currency] += price
        else:
            silent += 1
    bought = Hunt.objects.filter(aircraft=aircraft, bought_act__isnull=False).select_related("bought")
    acts = [hunt.bought_act_id for hunt in bought]
    came: dict[object, date | None] = dict(Order.objects.filter(act__in=acts).values_list("act_id", "came_on"))
    for hunt in bought:
        on = came.get(hunt.bought_act_id)
        if hunt.bought is None or (on is not None and not days.hold(on)):
            continue
        if hunt.bought.price is None:
            silent += 1
        else:
            (promised if on is None else spent)[hunt.bought.currency] += hunt.bought.price
    # An order of the very days and vendor of a shipment is for what left in it: it is told of once.
    same = {(out.shipment.vendor_id, out.shipment.sent_on) for out in told}
    others = Order.objects.filter(ordered_on__isnull=False, came_on=None).exclude(act__in=acts)
    silent += sum(row not in same for row in others.values_list("vendor_id", "ordered_on"))
    words = (
        f"Spent outside since {days.say(days.since)}, at agreed prices: {_sums(spent)}. Promised: {_sums(promised)}."
    )
    if reckoned:
        words += f" By the price lists, not agreed: {_sums(reckoned)}."
    if silent:
        words += f" {plural(silent, 'shipment or order bears', 'shipments and orders bear')} no price and {'is' if silent == 1 else 'are'} not in it."
    return [_line("money", "money", f"{words} The shop’s own hours are not priced.")]


def _by_list(sent: Iterable[Out]) -> dict[int, tuple[Decimal, str]]:
    """By shipment, what it comes to by its vendor's newest price list, where that can be reckoned."""
    sent = list(sent)
    lists: dict[tuple[int, str], VendorPrice] = {}
    for row in VendorPrice.objects.filter(vendor__in={out.shipment.vendor_id for out in sent}).order_by("id"):
        lists[row.vendor_id, row.process] = row
    read = readings([line.piece_id for out in sent for line in out.lines])
    found = {}
    for out in sent:
        vendor = out.shipment.vendor_id
        own = lists.get((vendor, out.shipment.process)) or lists.get((vendor, ""))
        price = price_for(own, [(line.piece, line.count_out) for line in out.lines], read) if own else None
        if own is not None and price is not None and price.price is not None:
            found[out.shipment.pk] = (Decimal(str(price.price)), own.currency)
    return found


def _sums(sums: Sums) -> str:
    return (
        and_list([f"{total:,.2f} {currency}" for currency, total in sorted(sums.items())])
        if sums
        else "nothing on record"
    )


def dates(aircraft: Aircraft, days: Days) -> list[Line]:
    """Half the chance by, four in five by, for the steps the owner knows and the end; and what the end hangs on."""
    plan = make_plan(aircraft)
    if not plan.proved:
        return [_line("dates", "dates", "The plan did not pass its own check, so no days are given.", "/plan/")]
    if not plan.schedule.entries:
        return []
    known = known_forecast(aircraft, plan)
    if known is None:
        return [_line("dates", "dates", "No forecast is worked out yet, so no days are given.", "/forecast/")]

    def by(half: date, four: date) -> str:
        return f"half the chance by {_long(half)}, four in five by {_long(four)}"

    lines = []
    for key, step in sorted(known.outlook.marks, key=lambda mark: (mark[1].half, mark[0])):
        job = plan.network.by_key.get(key)
        if job is not None and job.is_mark and key.startswith("hand:"):
            lines.append(_line(f"date:{key}", "dates", f"{job.what.rstrip('.')}: {by(step.half, step.four_in_five)}."))
    end = known.outlook.end
    lines.append(_line("date:end", "dates", f"All of it: {by(end.half, end.four_in_five)}."))
    held = [f"{small(one.what).rstrip('.')} ({_futures(one.share)})" for one in known.outlook.hangs_on[:3]]
    if held:
        lines.append(_line("held", "dates", f"What the end hangs on most: {and_list(held)}.", "/forecast/"))
    if not known.fresh:
        lines.append(_line("stale", "dates", "The record changed since these days were worked out.", "/forecast/"))
    return lines


def _futures(share: float) -> str:
    ten = round(10 * share)
    return f"in {ten} {'future' if ten == 1 else 'futures'} of ten" if ten else "in few futures"


def _long(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def owners_lines(happened: Events) -> list[Line]:
    """All that the owner is told and nobody else."""
    aircraft, days = happened.aircraft, happened.days
    return [
        *wanted(aircraft, happened.findings),
        *hours(aircraft, days),
        *money(aircraft, days, happened.sent),
        *dates(aircraft, days),
    ]
