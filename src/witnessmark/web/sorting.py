"""Mixed bags on the bench: lay out, measure, next; whose is this; what is promised and what came; claims."""

import re
import uuid
from collections import Counter
from datetime import date

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path, reverse
from django.views.decorators.http import require_http_methods

from witnessmark.calc.bags.balance import count_words
from witnessmark.calc.bags.next_reading import feature_words
from witnessmark.calc.bags.return_match import DOUBTFUL, SAID, STRANGER, TOLD, PieceMatch
from witnessmark.exchange.readings import BadReadings, read_readings
from witnessmark.records.actions.bucket import take_back_figures
from witnessmark.records.actions.bucket_stop import count_again, sort_anyway
from witnessmark.records.actions.claims import make_claim, settle_claim
from witnessmark.records.actions.mixing import Told, receive_mixed, tell_apart
from witnessmark.records.actions.readings import read_pieces
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.aircraft import shelves
from witnessmark.records.lookups.bucket import gone_on, stop_of, taken_in_together
from witnessmark.records.lookups.day import the_aircraft, today
from witnessmark.records.lookups.mixing import Sorting, sorting, words_of
from witnessmark.records.lookups.outwork import came_from
from witnessmark.records.lookups.promises import Promise, claims, promises
from witnessmark.records.lookups.vendor_times import vendor_times
from witnessmark.records.models import Claim, ClaimKind, Mix, Shipment
from witnessmark.records.photo_store import NotAPicture
from witnessmark.web import asked
from witnessmark.web.measure import features_of, shipment_of


@login_required
@require_http_methods(["GET", "POST"])
def sort_screen(request: HttpRequest, number: str) -> HttpResponse:
    """Show whose the pieces are; a post receives the bucket, takes a file of readings in, or confirms."""
    shipment = shipment_of(number)
    if request.method == "POST":
        do = DO.get(request.POST.get("do", ""))
        try:
            if do is None:
                raise Refused("The form says nothing that can be done. Nothing was changed.")
            do(request, shipment)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("sort", number=number)
    seen = sorting(shipment)
    match = seen.match if seen else None
    bags = sorted(seen.bags) if seen else []
    return render(
        request,
        "sort.html",
        {
            "shipment": shipment,
            "seen": seen,
            "match": match,
            "say": _sentence(shipment, seen),
            "look": [(p, _state_word(p), bags) for p in match.pieces if p.state in (DOUBTFUL, STRANGER)]
            if match
            else [],
            "said": [(p, seen.words[p.piece]) for p in match.said] if seen and match else [],
            "words": words_of(seen.mix) if seen else [],
            "sure": match.told if match else (),
            "sure_by_bag": sorted(Counter(p.bag for p in match.told).items()) if match else [],
            "came_from": came_from(shipment),
            "shelves": shelves(),
            "tally": _tally(seen) if seen else [],
            "next_words": feature_words(match.next.feature) if match and match.next else "",
            "features": [(name, feature_words(name)) for name in features_of(seen)],
            "stop": stop_of(seen) if seen else "",
            "went_on": gone_on(seen) if seen else None,
            "working": match.working.to_dict() if match else None,
            "together": [(act, n, uuid.uuid4()) for act, n in taken_in_together(seen.mix.piece)] if seen else [],
            "ids": {
                "receive": uuid.uuid4(),
                "file": uuid.uuid4(),
                "confirm": uuid.uuid4(),
                "again": uuid.uuid4(),
                "anyway": uuid.uuid4(),
            },
        },
    )


def _sentence(shipment: Shipment, seen: Sorting | None) -> str:
    if seen is None:
        return f"Did the bags of {shipment.number} come back in one bucket?"
    if seen.match is None:
        return f"Every piece of {shipment.number} is told apart."
    if seen.told:
        rest, strange = seen.match.balance, sum(p.group is None for p in seen.match.pieces)
        plain, others = (count_words(rest.count_out, rest.count_back, strange, other) for other in (False, True))
        said = seen.match.sentence.replace(plain, others, 1)
        return f"{len(seen.told)} {'is' if len(seen.told) == 1 else 'are'} home. {said}"
    return seen.match.sentence


def _state_word(piece: PieceMatch) -> str:
    return {TOLD: "told", DOUBTFUL: "doubtful", STRANGER: "foreign"}[piece.state]


def _tally(seen: Sorting) -> list[tuple[str, int, int, int]]:
    """By bag: told before, told now, doubtful."""
    before = Counter(each.piece.tag or each.piece.key for each in seen.told if not each.foreign)
    rows = []
    for bag in sorted(seen.bags):
        own = [p for p in seen.match.pieces if p.bag == bag] if seen.match else []
        told = sum(p.state in (TOLD, SAID) for p in own)
        rows.append((bag, before[bag], told, len(own) - told))
    return rows


def _receive(request: HttpRequest, shipment: Shipment) -> None:
    receive_mixed(
        by=asked.me(request),
        act_id=asked.act_id(request),
        shipment=shipment,
        count=asked.whole(request, "count", "Counted"),
        foreign=asked.whole(request, "foreign", "Not ours"),
        mass_g=_number(request, "mass_g", "The mass"),
        coat_um=_number(request, "coat_um", "The coat") or 0.0,
        to=asked.shelf(request, "What came back lies"),
        back_on=_now(),
    )


def _number(request: HttpRequest, name: str, what: str) -> float | None:
    text = request.POST.get(name, "").strip().replace(",", ".")
    if not text:
        return None
    if not re.fullmatch(r"[0-9]{1,7}(\.[0-9]{1,4})?", text):
        raise Refused(f"{what}: '{text[:20]}' is no number. Nothing was changed. Write it like 1786.")
    return float(text)


def _file(request: HttpRequest, shipment: Shipment) -> None:
    upload = request.FILES.get("readings")
    if upload is None or upload.size is None or upload.size > 4_000_000:
        raise Refused("Choose a CSV or JSON file of readings, 4 MB at the most. Nothing was changed.")
    try:
        pieces = read_readings(upload.read(), upload.name or "the file")
    except BadReadings as why:
        raise Refused(str(why)) from None
    seen = sorting(shipment)
    if seen is None:
        raise Refused("Nothing of this shipment lies mixed here. Nothing was changed. Receive the bucket first.")
    sigmas: dict[str, float] = {}
    for piece in pieces:
        for what, reading in piece.readings.items():
            sigmas[what] = max(sigmas.get(what, 0.0), reading.sigma)
    read_pieces(
        by=asked.me(request),
        act_id=asked.act_id(request),
        piece=seen.mix.piece,
        readings={p.key: {what: f"{r.value:.4f}" for what, r in p.readings.items()} for p in pieces if p.readings},
        uncertainty=sigmas,
    )


def _take_back(request: HttpRequest, shipment: Shipment) -> None:
    mix = Mix.objects.filter(shipment=shipment).select_related("piece").first()
    known = {str(act.pk): act for act, _ in taken_in_together(mix.piece)} if mix else {}
    act = known.get(request.POST.get("act", ""))
    if act is None:
        raise Refused("These figures were taken back already. Nothing was changed. Open the page again.")
    take_back_figures(by=asked.me(request), act_id=asked.act_id(request), act=act)


def _confirm(request: HttpRequest, shipment: Shipment) -> None:
    seen = sorting(shipment)
    if seen is None or seen.match is None:
        raise Refused("Nothing of this shipment waits to be told apart. Nothing was changed.")
    if request.POST.get("word", "0") != str(seen.newest_word):
        raise Refused("Somebody said whose a piece is since this page was drawn. Nothing was changed. Look again.")
    by_item = {p.piece: p for p in seen.match.pieces}
    told = []
    by_hand = {p.piece for p in seen.match.pieces if request.POST.get(f"bag-{p.piece}")}
    for item in dict.fromkeys([*request.POST.getlist("item"), *sorted(by_hand)]):
        piece = by_item.get(item)
        if piece is None:
            raise Refused(
                f"Piece {item[:20]} is told apart already or not measured. Nothing was changed. Open it again."
            )
        chosen = request.POST.get(f"bag-{item}") or piece.bag or STRANGER
        if chosen != STRANGER and chosen not in seen.bags:
            raise Refused(f"Bag {chosen[:20]} did not leave with this shipment. Nothing was changed.")
        bag = seen.bags.get(chosen)
        place = seen.places.get(piece.place) if chosen == piece.bag and piece.place_known else None
        by_readings = piece.state != SAID and chosen == (piece.bag or STRANGER)
        told.append(Told(item, bag, place, round(piece.sure, 4) if by_readings else None))
    tell_apart(
        by=asked.me(request),
        act_id=asked.act_id(request),
        shipment=shipment,
        told=told,
        to=asked.shelf(request, "The bags lie"),
        back_on=_now(),
        answer=seen.answer(),
    )


def _again(request: HttpRequest, shipment: Shipment) -> None:
    count_again(
        by=asked.me(request),
        act_id=asked.act_id(request),
        shipment=shipment,
        count=asked.whole(request, "count", "In the bucket now"),
        mass_g=_number(request, "mass_g", "The mass"),
    )


def _anyway(request: HttpRequest, shipment: Shipment) -> None:
    sort_anyway(by=asked.me(request), act_id=asked.act_id(request), shipment=shipment, why=request.POST.get("why", ""))


DO = {
    "receive": _receive, "file": _file, "confirm": _confirm, "figures": _take_back, "again": _again, "anyway": _anyway,
}  # fmt: skip


@login_required
@require_http_methods(["GET", "POST"])
def promises_screen(request: HttpRequest) -> HttpResponse:
    """Show what was promised, what may be expected and what came; a post makes or settles a claim."""
    now = _now()
    if request.method == "POST":
        try:
            if request.POST.get("do") == "settle":
                _settle(request, now)
            else:
                _claim(request, now)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect(f"{reverse('promises')}#claims")
    times = vendor_times(now)
    rows = promises(now, times)
    made = claims()
    late = [row for row in rows if row.late_days and not row.came_on]
    return render(
        request,
        "promises.html",
        {
            "say": _promised_sentence(rows, late),
            "open": [row for row in rows if not row.came_on],
            "came": [row for row in rows if row.came_on],
            "vendors": [each for each in times.values() if each.delivered or each.out],
            "claims": [(claim, uuid.uuid4()) for claim in made],
            "kinds": ClaimKind.choices,
            "shipments": Shipment.objects.select_related("vendor").order_by("-sent_on", "-number")[:200],
            "act_id": uuid.uuid4(),
        },
    )


def _promised_sentence(rows: list[Promise], late: list[Promise]) -> str:
    if not rows:
        return "Nothing was sent or ordered yet."
    if not late:
        return "Nobody is late with what he promised."
    return "One is late." if len(late) == 1 else f"{len(late)} are late."


def _claim(request: HttpRequest, now: date) -> None:
    shipment = Shipment.objects.filter(number=request.POST.get("shipment", "")).first()
    if shipment is None:
        raise Refused("That shipment is not in the record. Nothing was changed. Choose one of the list.")
    tag = request.POST.get("tag", "").strip()
    line = shipment.lines.filter(piece__tag=tag).select_related("piece__aircraft").first() if tag else None
    if tag and line is None:
        raise Refused(f"{tag[:40]} did not leave with shipment {shipment.number}. Nothing was changed.")
    upload = request.FILES.get("picture")
    try:
        make_claim(
            by=asked.me(request),
            act_id=asked.act_id(request),
            kind=request.POST.get("kind", ""),
            what=request.POST.get("what", ""),
            made_on=now,
            shipment=shipment,
            piece=line.piece if line else None,
            count=asked.whole(request, "count", "How many") or 1,
            picture=upload.read() if upload else None,
            picture_name=(upload.name or "") if upload else "",
        )
    except NotAPicture as why:
        raise Refused(f"{why} Nothing was changed.") from None


def _settle(request: HttpRequest, now: date) -> None:
    text = request.POST.get("claim", "")
    claim = Claim.objects.filter(pk=int(text)).first() if text.isascii() and text.isdigit() else None
    if claim is None:
        raise Refused("That claim is not in the record. Nothing was changed. Open the page again.")
    settle_claim(
        by=asked.me(request),
        act_id=asked.act_id(request),
        claim=claim,
        answer=request.POST.get("answer", ""),
        settled_on=now,
    )


def _now() -> date:
    return today(the_aircraft())


urls: list[URLPattern] = [
    path("promises/", promises_screen, name="promises"),
    path("outwork/<str:number>/sort/", sort_screen, name="sort"),
]
