"""Packing a shipment: what goes, what must not, on which terms, what it weighs and costs, and who packed it."""

import uuid
from collections.abc import Callable
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import cast
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import URLPattern, path, reverse
from django.views.decorators.http import require_http_methods

from witnessmark.calc.bags.leaving import trait_names
from witnessmark.calc.bags.solids import SHAPES, Magnet
from witnessmark.calc.units import UnknownSize, parse_length, parse_mass
from witnessmark.records.actions import leaving
from witnessmark.records.actions.custody import send_out
from witnessmark.records.actions.saying import Refused
from witnessmark.records.actions.who_has_what import name_vendor
from witnessmark.records.lookups.day import the_aircraft, today
from witnessmark.records.lookups.leaving import instruction_for
from witnessmark.records.lookups.mixing import apart
from witnessmark.records.lookups.packing import Packing, pack
from witnessmark.records.models import Person, Piece, Role, Shipment, Vendor
from witnessmark.web import asked
from witnessmark.web.orders import next_number

MOST_PIECES = 200


def _vendor(data: QueryDict) -> Vendor | None:
    return Vendor.objects.filter(code=data.get("vendor", "")).select_related("holder").first()


def _chosen(data: QueryDict) -> tuple[list[int], list[str]]:
    """The pieces that were named by their number in the record, and what is no number."""
    texts = [text.strip() for text in data.getlist("piece") if text.strip()]
    numbers = [int(text) for text in texts if text.isascii() and text.isdigit() and len(text) < 19]
    return numbers, [text for text in texts if not (text.isascii() and text.isdigit() and len(text) < 19)]


def _to_send(data: QueryDict) -> list[int]:
    """The pieces that are to leave; one that is none, or too many at once, is refused by name."""
    numbers, strange = _chosen(data)
    if strange:
        raise Refused(f"'{strange[0][:20]}' is no piece of the record. Nothing was sent. Lay it out by its tag.")
    if len(numbers) > MOST_PIECES:
        raise Refused(
            f"{len(numbers)} pieces are more than the {MOST_PIECES} of one shipment. Nothing was sent. Make two."
        )
    known = set(Piece.objects.filter(pk__in=numbers).values_list("pk", flat=True))
    if missing := [pk for pk in numbers if pk not in known]:
        raise Refused(f"Piece {missing[0]} is not in the record. Nothing was sent. Lay it out by its tag.")
    return numbers


@login_required
@require_http_methods(["GET", "POST"])
def pack_screen(request: HttpRequest) -> HttpResponse:
    """Show what would leave and what bars it; a post says something of a piece, or sends."""
    if request.method == "POST":
        back = f"{request.path}?{_address(request.POST)}"
        say = SAY.get(request.POST.get("do", ""))
        try:
            if say is None:
                raise Refused("The form says nothing that can be done. Nothing was changed.")
            to = say(request)
        except Refused as why:
            return asked.refusal(request, why, back)
        return redirect(to or back)
    vendor = _vendor(request.GET)
    process = " ".join(request.GET.get("process", "").split())[:120]
    if vendor is None or not process:
        chosen_only = {"vendors": Vendor.objects.all(), "vendor": vendor, "process": process, "act_id": uuid.uuid4()}
        return render(request, "pack_choose.html", chosen_only)
    added = [tag.strip() for text in request.GET.getlist("add") for tag in text.split(",") if tag.strip()][:20]
    chosen, strange = _chosen(request.GET)
    asked_for = chosen[:MOST_PIECES] if "piece" in request.GET or "asked" in request.GET else None
    seen = pack(vendor, process, asked_for, added)
    known = {line.piece.pk for line in seen.lines}
    unknown = [*strange, *(str(pk) for pk in chosen[:MOST_PIECES] if pk not in known)]
    return render(
        request,
        "pack.html",
        {
            "seen": seen,
            "apart": apart(
                [(line.piece, line.count) for line in seen.lines if not line.cannot and not line.must_not],
                vendor,
                process,
            ),
            "vendor": vendor,
            "process": process,
            "say": _sentence(seen),
            "no_piece": [text[:20] for text in unknown],
            "too_many": max(0, len(chosen) - MOST_PIECES),
            "add": ", ".join(tag for tag, _ in seen.not_found),
            "instruction": instruction_for(vendor, process, seen.judged) if seen.lines else "",
            "next_number": next_number("S-", list(Shipment.objects.values_list("number", flat=True))),
            "people": Person.objects.filter(is_active=True, role__in=(Role.LEAD, Role.MECHANIC, Role.INSPECTOR)),
            "ids": {form: uuid.uuid4() for form in ("send", "price")},
            "rows": [(line, uuid.uuid4(), uuid.uuid4()) for line in seen.lines],
            "traits": trait_names(),
            "shapes": SHAPES,
        },
    )


def _sentence(seen: Packing) -> str:
    if not seen.lines:
        return f"Nothing is chosen for {seen.vendor.name} yet."
    stays = [line for line in seen.lines if line.must_not or line.cannot]
    if stays:
        names = ", ".join(line.piece.tag or line.piece.name for line in stays[:4])
        return f"{len(stays)} must not go: {names}." if len(stays) > 1 else f"One must not go: {names}."
    terms = sum(len(line.terms) for line in seen.lines)
    if terms:
        return f"It may leave, on {'one term' if terms == 1 else f'{terms} terms'} that a named person ticks."
    return "Nothing that is known here keeps it from leaving."


def _address(data: QueryDict) -> str:
    """The page with the same pieces laid out, those too that the form to send carries unticked."""
    parts = [("vendor", data.get("vendor", "")), ("process", data.get("process", "")), ("asked", "1")]
    laid = list(dict.fromkeys([*data.getlist("laid"), *data.getlist("piece")]))
    return urlencode(parts + [("piece", text) for text in laid[: MOST_PIECES + 1]])


def _piece(request: HttpRequest) -> Piece:
    chosen = request.POST.get("of", "")
    piece = Piece.objects.filter(pk=int(chosen)).first() if chosen.isascii() and chosen.isdigit() else None
    if piece is None:
        raise Refused("That piece is not in the record. Nothing was changed. Open the page again.")
    return piece


def _whom(request: HttpRequest) -> str:
    """Somebody in words: who is new becomes a vendor; then the page with what he is to do."""
    process = " ".join(request.POST.get("process", "").replace("\0", "").split())[:120]
    if not process:
        raise Refused("It does not say what he is to do. Nothing was changed. Write it in your words.")
    told = name_vendor(by=asked.me(request), act_id=asked.act_id(request), name=request.POST.get("whom", ""))
    return f"{reverse('pack')}?{urlencode({'vendor': told['vendor'], 'process': process})}"


def _nature(request: HttpRequest) -> str:
    leaving.say_nature(
        by=asked.me(request),
        act_id=asked.act_id(request),
        piece=_piece(request),
        trait=request.POST.get("trait", ""),
        holds=request.POST.get("holds") == "yes",
    )
    return ""


def _read(request: HttpRequest) -> str:
    shape = request.POST.get("shape", "")
    typed = [request.POST.get(f"d{n}", "").strip() for n in range(1, 5)]
    try:
        dimensions = [parse_length(text).mm for text in typed if text]
        mass = request.POST.get("mass", "").strip()
        mass_g = parse_mass(mass).g if mass else None
    except UnknownSize as why:
        raise Refused(f"{why} Nothing was changed.") from None
    magnet = request.POST.get("magnet", "not tried")
    leaving.read_material(
        by=asked.me(request),
        act_id=asked.act_id(request),
        piece=_piece(request),
        magnet=cast("Magnet", magnet),
        shape=shape,
        dimensions_mm=dimensions if shape else [],
        mass_one_g=mass_g,
    )
    return ""


def money(request: HttpRequest, name: str, what: str) -> Decimal:
    """An amount that was typed; nothing typed is nought."""
    text = request.POST.get(name, "").strip().replace(",", ".")
    if not text:
        return Decimal(0)
    try:
        amount = Decimal(text)
    except InvalidOperation:
        raise Refused(f"{what}: '{text[:20]}' is no amount. Nothing was changed. Write it like 12.50.") from None
    if not amount.is_finite() or amount < 0 or amount >= 10**8:
        raise Refused(f"{what}: '{text[:20]}' is no amount. Nothing was changed.")
    return amount.quantize(Decimal("0.01"))


def _price(request: HttpRequest) -> str:
    vendor = _vendor(request.POST)
    if vendor is None:
        raise Refused("No such vendor. Nothing was changed. Choose one of the list.")
    leaving.say_price(
        by=asked.me(request),
        act_id=asked.act_id(request),
        vendor=vendor,
        process=" ".join(request.POST.get("process", "").split())[:120],
        currency=request.POST.get("currency", "").strip(),
        said_on=today(the_aircraft()),
        least_charge=money(request, "least", "The least charge"),
        per_kg=money(request, "per_kg", "By the kilogram"),
        per_piece=money(request, "per_piece", "By the piece"),
        per_dm2=money(request, "per_dm2", "By the square decimetre"),
    )
    return ""


def _send(request: HttpRequest) -> str:
    vendor = _vendor(request.POST)
    if vendor is None:
        raise Refused("No such vendor. Nothing was sent. Choose one of the list.")
    pieces = asked.pieces(_to_send(request.POST))
    number = asked.shipment_number(request)
    send_out(
        by=asked.me(request),
        act_id=asked.act_id(request),
        vendor=vendor,
        process=" ".join(request.POST.get("process", "").split())[:120],
        pieces=pieces,
        number=number,
        sent_on=_now(),
        promised_on=asked.day(request, "promised_on", "Promised for"),
        packed=packed_of(request),
    )
    return reverse("shipment", args=[number])


def packed_of(request: HttpRequest) -> leaving.Packed:
    """Who packed, what the vendor is told, and the terms that were ticked: `term` holds piece:rule, answered by `answers`."""
    people = {str(p.pk): p for p in Person.objects.filter(is_active=True)}
    packer = people.get(request.POST.get("packed_by", ""), asked.me(request))
    answers = people.get(request.POST.get("answers", ""))
    terms = []
    for text in request.POST.getlist("term"):
        piece, _, rule = text.partition(":")
        if not (piece.isascii() and piece.isdigit()):
            raise Refused("A term names no piece. Nothing was sent. Open the page again.")
        if answers is None:
            raise Refused(
                "A term is ticked and nobody answers for it. Nothing was sent. Say who answers for the terms."
            )
        terms.append((int(piece), rule, answers))
    return leaving.Packed(packer, request.POST.get("instruction", "").strip()[:4000], tuple(terms))


def _now() -> date:
    return today(the_aircraft())


SAY: dict[str, Callable[[HttpRequest], str]] = {
    "nature": _nature,
    "read": _read,
    "price": _price,
    "send": _send,
    "whom": _whom,
}

urls: list[URLPattern] = [path("pack/", pack_screen, name="pack")]
