"""The hunt: what is missing, wrong or wanted better; stores first, then who was asked; and one picture that starts it all."""

import uuid
from collections.abc import Callable

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods

from witnessmark.calc.units import UnknownSize, parse_mass
from witnessmark.records.actions import hunting
from witnessmark.records.actions.custody import holder
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.aircraft import holder_called, shelves
from witnessmark.records.lookups.day import the_aircraft, today
from witnessmark.records.lookups.hunts import Hunted, at_home, hunts, weight_known
from witnessmark.records.lookups.said_later import side_called
from witnessmark.records.models import Aircraft, Holder, HolderKind, HuntAsked, HuntWhy, Piece, Place
from witnessmark.records.photo_store import NotAPicture
from witnessmark.web import asked
from witnessmark.web.pack import money


def _place(text: str, what: str) -> Place | None:
    """A place by its mark, with its side where there are two: `6-91-015`, `6-51-020 L`, `6-91-015 centre`."""
    words = text.strip().rsplit(" ", 1)
    if not words[0]:
        return None
    found = Place.objects.filter(aircraft=the_aircraft(), mark__iexact=text.strip())
    if not found and len(words) == 2:
        found = Place.objects.filter(aircraft=the_aircraft(), mark__iexact=words[0].strip(), side=side_called(words[1]))
    places = list(found.select_related("holder", "aircraft")[:2])
    if not places:
        raise Refused(
            f"{what}: no place has the mark '{text.strip()[:40]}'. Nothing was changed. Leave it out if it is not known yet."
        )
    if len(places) > 1:
        raise Refused(f"{what}: {text.strip()} is on both sides. Nothing was changed. Write L or R behind it.")
    return places[0]


def _shelf(request: HttpRequest) -> Holder:
    if not asked.me(request).may_write:
        raise NotAllowed(f"{asked.me(request).name} may read this, not change it. Nothing was changed.")
    name = " ".join(request.POST.get("shelf", "").split())[:200]
    if not name:
        raise Refused("Say where it is laid. Nothing was changed. Write the name of a shelf or a box.")
    return holder_called(name) or holder(HolderKind.SHELF, name)


def _picture(request: HttpRequest) -> tuple[bytes, str] | None:
    picture = request.FILES.get("picture")
    return (picture.read(), picture.name or "picture") if picture is not None else None


@login_required
@require_http_methods(["GET", "POST"])
def hunts_screen(request: HttpRequest) -> HttpResponse:
    """Show what is hunted; a post begins a hunt."""
    aircraft = the_aircraft()
    now = today(aircraft)
    if request.method == "POST":
        try:
            number = _start(request, aircraft)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("hunt", number=number)
    seen = hunts(aircraft, now)
    return render(
        request,
        "hunts.html",
        {"open": [h for h in seen if h.hunt.state == "open"], "over": [h for h in seen if h.hunt.state != "open"],
         "say": _sentence(seen), "do_now": _do_now(seen), "whys": HuntWhy.choices, "act_id": uuid.uuid4()},
    )  # fmt: skip


def _sentence(seen: list[Hunted]) -> str:
    going = [h for h in seen if h.hunt.state == "open"]
    if not going:
        return "Nothing is hunted."
    many = "One thing is" if len(going) == 1 else f"{len(going)} things are"
    late = [h for h in going if h.days_left is not None and h.days_left < 0]
    if late:
        return f"{many} hunted, and {late[0].hunt.what} may wait no longer."
    return f"{many} hunted."


def _do_now(seen: list[Hunted]) -> dict[str, str] | None:
    """The stores first, then who is to be asked again, then nobody asked yet."""
    going = [h for h in seen if h.hunt.state == "open"]
    unsearched = [h for h in going if h.hunt.stores_act_id is None]
    due = [h for h in going if h.ask_again is not None]
    for each in [*unsearched, *due, *(h for h in going if not h.asked)][:1]:
        return {"say": each.sentence, "link": f"/hunt/{each.hunt.number}/"}
    return None


def _start(request: HttpRequest, aircraft: Aircraft | None) -> str:
    tag = request.POST.get("tag", "").strip()
    piece = Piece.objects.filter(tag=tag).first() if tag else None
    if tag and piece is None:
        raise Refused(f"No piece has the tag {tag[:40]}. Nothing was changed.")
    picture = _picture(request)
    try:
        told = hunting.start_hunt(
            by=asked.me(request),
            act_id=asked.act_id(request),
            aircraft=aircraft,
            what=request.POST.get("what", ""),
            why=request.POST.get("why", ""),
            piece=piece,
            place=_place(request.POST.get("place", ""), "Its place"),
            measurements=request.POST.get("measurements", ""),
            also_do=request.POST.get("also_do", ""),
            may_wait_until=asked.day(request, "until", "It may wait until"),
            picture=picture[0] if picture else None,
            picture_name=picture[1] if picture else "",
        )
    except NotAPicture as why:
        raise Refused(str(why)) from None
    return str(told["hunt"])


@login_required
@require_http_methods(["GET", "POST"])
def wrong_screen(request: HttpRequest) -> HttpResponse:
    """One picture of what is wrong for the type makes the finding, the hunt, the empty place and what waits."""
    if request.method == "POST":
        try:
            number = _wrong(request)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("hunt", number=number)
    place = None
    if request.GET.get("place"):
        try:
            place = _place(request.GET["place"], "Its place")
        except Refused:
            place = None
    return render(request, "wrong.html", {"act_id": uuid.uuid4(), "shelves": shelves(), "place": place})


def _wrong(request: HttpRequest) -> str:
    place = _place(request.POST.get("place", ""), "Its place")
    if place is None:
        raise Refused("Say in which place it sits. Nothing was changed.")
    picture = _picture(request)
    if picture is None:
        raise Refused("No picture came with it. Nothing was changed. Photograph it where it sits.")
    cut = _place(request.POST.get("cut", ""), "What is cut off")
    waits = request.POST.get("waits", "").strip() or "what the right one needs"
    try:
        told = hunting.wrong_for_type(
            by=asked.me(request),
            act_id=asked.act_id(request),
            place=place,
            wrong=request.POST.get("wrong", ""),
            wanted=request.POST.get("wanted", ""),
            picture=picture[0],
            picture_name=picture[1],
            laid_on=_shelf(request),
            seen_on=today(place.aircraft),
            tag=request.POST.get("tag", ""),
            cut_off=[hunting.CutOff(cut, waits)] if cut is not None else [],
            measurements=request.POST.get("measurements", ""),
            also_do=request.POST.get("also_do", ""),
            may_wait_until=asked.day(request, "until", "It may wait until"),
        )
    except NotAPicture as why:
        raise Refused(str(why)) from None
    return str(told["hunt"])


@login_required
@require_http_methods(["GET", "POST"])
def hunt_screen(request: HttpRequest, number: str) -> HttpResponse:
    """Show one hunt; a post says what came of it."""
    aircraft = the_aircraft()
    found = hunts(aircraft, today(aircraft), number)
    if not found:
        raise Http404(f"There is no hunt {number}.")
    (seen,) = found
    if request.method == "POST":
        say = SAY.get(request.POST.get("do", ""))
        try:
            if say is None:
                raise Refused("The form says nothing that can be done. Nothing was changed.")
            say(request, seen)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("hunt", number=number)
    weight = (
        weight_known(aircraft) if aircraft is not None and seen.hunt.place_id and seen.hunt.state != "found" else None
    )
    return render(
        request,
        "hunt.html",
        {
            "seen": seen,
            "hunt": seen.hunt,
            "at_home": at_home(seen.hunt) if seen.hunt.state == "open" else None,
            "arm": next((each for each in weight.open if each.name == seen.hunt.what), None) if weight else None,
            "known": weight,
            "shelves": shelves(),
            "ids": {form: uuid.uuid4() for form in ("ask", "stores", "arrives", "give_up")},
            "offers": [(row, uuid.uuid4()) for row in seen.asked],
            "may_buy": asked.me(request).role == "lead",
        },
    )


def _ask(request: HttpRequest, seen: Hunted) -> None:
    price = request.POST.get("price", "").strip()
    hunting.ask_after(
        by=asked.me(request),
        act_id=asked.act_id(request),
        hunt=seen.hunt,
        whom=request.POST.get("whom", ""),
        asked_on=asked.day(request, "asked_on", "Asked on") or seen.today,
        answer=request.POST.get("answer", ""),
        price=money(request, "price", "The price") if price else None,
        currency=request.POST.get("currency", "").strip(),
        papers=request.POST.get("papers", ""),
        ask_again_on=asked.day(request, "again", "Ask again on"),
    )


def _stores(request: HttpRequest, seen: Hunted) -> None:
    chosen = request.POST.get("found", "")
    found = Piece.objects.filter(pk=int(chosen)).first() if chosen.isascii() and chosen.isdigit() else None
    if chosen and found is None:
        raise Refused("That piece is not in the record. Nothing was changed. Open the page again.")
    hunting.search_stores(
        by=asked.me(request),
        act_id=asked.act_id(request),
        hunt=seen.hunt,
        answer=request.POST.get("answer", ""),
        found=found,
    )


def _agree(request: HttpRequest, seen: Hunted) -> None:
    chosen = request.POST.get("offer", "")
    offer = HuntAsked.objects.filter(pk=int(chosen)).first() if chosen.isascii() and chosen.isdigit() else None
    if offer is None:
        raise Refused("There is no such offer. Nothing was bought.")
    hunting.agree_purchase(
        by=asked.me(request),
        act_id=asked.act_id(request),
        hunt=seen.hunt,
        offer=offer,
        ordered_on=seen.today,
        promised_on=asked.day(request, "promised", "Promised for"),
        count=asked.whole(request, "count", "The count") if request.POST.get("count", "").strip() else 1,
    )


def _arrives(request: HttpRequest, seen: Hunted) -> None:
    mass = request.POST.get("mass", "").strip()
    picture = _picture(request)
    try:
        hunting.found_arrives(
            by=asked.me(request),
            act_id=asked.act_id(request),
            hunt=seen.hunt,
            tag=request.POST.get("tag", ""),
            name=request.POST.get("name", "") or seen.hunt.what,
            to=_shelf(request),
            came_on=seen.today,
            count=asked.whole(request, "count", "The count") if request.POST.get("count", "").strip() else 1,
            mass_g=parse_mass(mass).g if mass else None,
            picture=picture[0] if picture else None,
            picture_name=picture[1] if picture else "",
        )
    except UnknownSize as why:
        raise Refused(f"{why} Nothing was changed.") from None
    except NotAPicture as why:
        raise Refused(str(why)) from None


def _give_up(request: HttpRequest, seen: Hunted) -> None:
    hunting.give_up_hunt(
        by=asked.me(request), act_id=asked.act_id(request), hunt=seen.hunt, why=request.POST.get("why", "")
    )


SAY: dict[str, Callable[[HttpRequest, Hunted], None]] = {
    "ask": _ask,
    "stores": _stores,
    "agree": _agree,
    "arrives": _arrives,
    "give_up": _give_up,
}

urls: list[URLPattern] = [
    path("hunt/", hunts_screen, name="hunts"),
    path("hunt/wrong-for-the-type/", wrong_screen, name="wrong"),
    path("hunt/<str:number>/", hunt_screen, name="hunt"),
]
