"""Who has what, said line by line: what is out already, with whom, since when; whom somebody rang; which piece it is.

A line makes a shipment like any other, of one thing, so that the plan, the promises and the receiving know it. Nothing is
judged here as when something leaves: it has left.
"""

import re
import unicodedata
import uuid
from collections.abc import Sequence
from datetime import date, timedelta

from django.db.models import ProtectedError, Q

from witnessmark.records.actions.custody import single
from witnessmark.records.actions.saying import Refused, Result, move, say
from witnessmark.records.lookups.day import now, the_aircraft
from witnessmark.records.models import (
    Act,
    Aircraft,
    Holder,
    HolderKind,
    Holding,
    Move,
    Person,
    PhotoUse,
    Piece,
    PieceKind,
    SaidOut,
    Shipment,
    ShipmentLine,
    Vendor,
    VendorSaid,
)
from witnessmark.records.photo_store import NotAPicture, keep_bytes
from witnessmark.records.words import search_words

FARTHEST = timedelta(days=3 * 365)
# `2 x magneto`, `12 pcs rib clips`, `2 magnetos`: so many. `12 V generator` and `3 mm sheet` are one thing.
_SO_MANY = re.compile(
    r"([1-9][0-9]{0,3})\s*(?:x|×|pcs\.?|off|of|pieces(?: of)?)\s+\D.*|([1-9][0-9]{0,3})\s+(\w+)(.*)", re.IGNORECASE
)
_NO_PLURALS = {"volts", "inches", "amps", "ohms", "litres", "series", "glass", "brass", "press", "ins", "lbs", "hours"}
# What may be out by a later word: it lies here, or nobody knew where.
_MAY_BE_OUT = (HolderKind.SHELF, HolderKind.CONTAINER, HolderKind.ASSEMBLY, HolderKind.PERSON, HolderKind.NOT_SAID, HolderKind.NOT_FOUND)  # fmt: skip


def say_out(
    *,
    by: Person,
    act_id: uuid.UUID,
    what: str,
    whom: str,
    since: date,
    promised: date | None,
    today: date,
    typed: dict[str, str] | None = None,
    picture: tuple[bytes, str] | None = None,
) -> Result:
    """Say that something is out, with whom and since when; a vendor that is new is made, a tag that is known is that piece.

    A picture that cannot be kept does not lose the line: the result says so.
    """
    what, whom = _plain(what)[:200], _plain(whom)[:120]
    if not what:
        raise Refused("It does not say what is out. Nothing was changed. Write it in your words.")
    if not any(c.isalnum() for c in whom):
        raise Refused("It does not say who has it. Nothing was changed. Write whom, in your words.")
    if since > today:
        raise Refused(f"Since {_day(since)}: that is still to come. Nothing was changed. Write since when it is there.")
    _possible(promised, since, today)
    photo, no_photo = None, ""
    if picture is not None and by.may_write:
        try:
            photo = keep_bytes(*picture)
        except NotAPicture as why:
            no_photo = f"The line is taken, the picture is not: {why}"

    def do(act: Act) -> Result:
        vendor, remarks = _vendor(whom)
        known = Piece.objects.filter(tag__iexact=what).first() if len(what) <= 40 else None
        lines = ShipmentLine.objects.filter(
            shipment__vendor=vendor, shipment__back_on=None, shipment__sent_on__isnull=False
        )
        again = next((x for x in lines.filter(piece__name__iexact=what).select_related("shipment")), None)
        if again is not None and again.shipment.sent_on is not None:
            remarks.append(
                f"{vendor.name} has {what} since {_day(again.shipment.sent_on)} already. Is this another one? Else take it back."
            )
        shipment = Shipment.objects.create(
            number=_next_number(), vendor=vendor, process=what[:120], sent_on=since, promised_on=promised, act=act
        )
        piece = known or _stand_in(act, what, vendor)
        count = _send(act, known, vendor) if known else piece.count_off
        ShipmentLine.objects.create(shipment=shipment, piece=piece, count_out=count, mass_out_g=piece.mass_g)
        SaidOut.objects.create(shipment=shipment, typed=typed or {}, stood_in=None if known else piece, act=act)
        if photo is not None:
            PhotoUse.objects.get_or_create(photo=photo, piece=piece, defaults={"act": act})
        return {
            "shipment": shipment.number,
            "piece": piece.pk,
            "vendor": vendor.name,
            "line": _line(what, vendor, count, since, promised, known),
            "remarks": [*remarks, *([no_photo] if no_photo else [])],
        }

    said = {"what": what, "whom": whom, "since": since, "promised": promised, "photo": photo.sha256 if photo else None}
    return say("say_out", by=by, act_id=act_id, said=said, do=do, happened_at=now(the_aircraft()))


def say_it_is(*, by: Person, act_id: uuid.UUID, shipment: Shipment, tag: str) -> Result:
    """Say which piece on record a typed line is: that piece is out, and what stood in for it goes."""

    def do(act: Act) -> Result:
        line = _typed_line(shipment)
        piece = Piece.objects.filter(tag__iexact=_plain(tag)).first()
        if piece is None:
            raise Refused(f"No piece has the tag {_plain(tag)[:40]}. Nothing was changed. Read it again.")
        there = shipment.said_out.stood_in
        if there is None:
            raise Refused(f"{shipment.number} is {line.piece} already. Nothing was changed. Take that back first.")
        gone = Move(from_piece=there, from_holder=shipment.vendor.holder, to_piece=there, to_holder=single("origin"), count=line.count_out)  # fmt: skip
        line.count_out = _send(act, piece, shipment.vendor, also=[gone])
        line.piece, line.mass_out_g = piece, piece.mass_g
        line.save(update_fields=["piece", "count_out", "mass_out_g"])
        # The pictures taken of the thing show the piece from now on, too.
        for use in PhotoUse.objects.filter(piece=there).select_related("photo"):
            PhotoUse.objects.get_or_create(photo=use.photo, piece=piece, defaults={"act": act})
        Piece.objects.filter(pk=there.pk).update(words="")
        SaidOut.objects.filter(pk=shipment.pk).update(stood_in=None, bound_act=act)
        return {
            "shipment": shipment.number,
            "piece": piece.pk,
            "stood_in": there.pk,
            "line": f"{shipment.number} is {piece}.",
        }

    return say(
        "say_it_is",
        by=by,
        act_id=act_id,
        said={"shipment": shipment.pk, "tag": _plain(tag)},
        do=do,
        happened_at=now(the_aircraft()),
    )


def rang(
    *, by: Person, act_id: uuid.UUID, shipment: Shipment, today: date, promised: date | None, note: str = ""
) -> Result:
    """Say that somebody rang about a shipment: the day they say now, or that there is no new one."""
    if promised is not None:
        _possible(promised, today, today)
    note = _plain(note)[:300]

    def do(act: Act) -> Result:
        fresh = Shipment.objects.select_for_update().get(pk=shipment.pk)
        if fresh.back_on is not None or fresh.sent_on is None:
            raise Refused(f"Shipment {fresh.number} is not out. Nothing was changed.")
        was = fresh.promised_on
        what = "rang" if promised is None else "promised"
        VendorSaid.objects.create(shipment=fresh, what=what, day=promised or today, note=note, act=act)
        if promised is not None:
            fresh.promised_on = promised
            fresh.save(update_fields=["promised_on"])
        told = f"{fresh.vendor.name} says {_day(promised)}" if promised else f"{fresh.vendor.name} was rung; no new day"
        return {"shipment": fresh.number, "was": str(was) if was else None, "line": f"{told}: {fresh.process}."}

    said = {"shipment": shipment.pk, "promised": promised, "note": note}
    return say("rang", by=by, act_id=act_id, said=said, do=do, happened_at=now(the_aircraft()))


def name_vendor(*, by: Person, act_id: uuid.UUID, name: str) -> Result:
    """Name a vendor in words: who is on record by that name or code is that one, who is new is made."""
    name = _plain(name)[:120]
    if not any(c.isalnum() for c in name):
        raise Refused("It does not say who gets it. Nothing was changed. Write whom, in your words.")

    def do(act: Act) -> Result:
        vendor, remarks = _vendor(name)
        return {"vendor": vendor.code, "name": vendor.name, "remarks": remarks}

    return say("name_vendor", by=by, act_id=act_id, said={"name": name}, do=do, happened_at=now(the_aircraft()))


def say_phone(*, by: Person, act_id: uuid.UUID, vendor: Vendor, phone: str) -> Result:
    """Write down the number under which a vendor is rung."""
    phone = _plain(phone)
    if not re.fullmatch(r"\+?[0-9][0-9 ()/.-]{2,38}", phone):
        raise Refused(f"'{phone[:40]}' is no number to ring. Nothing was changed. Write digits, with + for abroad.")

    def do(act: Act) -> Result:
        Vendor.objects.filter(pk=vendor.pk).update(phone=phone)
        return {"vendor": vendor.code, "line": f"{vendor.name} is rung under {phone}."}

    return say(
        "say_phone",
        by=by,
        act_id=act_id,
        said={"vendor": vendor.pk, "phone": phone},
        do=do,
        happened_at=now(the_aircraft()),
    )


def take_word_back(*, by: Person, act_id: uuid.UUID, act: Act) -> Result:
    """Take back a line, a call, or which piece it is; the first act stays in the history."""
    undo = {"say_out": _line_back, "rang": _call_back, "say_it_is": _piece_back}.get(act.verb)
    if undo is None:
        raise Refused("This is no line of who has what. Nothing was changed.")
    if Act.objects.filter(undoes=act).exclude(pk=act_id).exists():
        raise Refused("This was taken back already. Nothing was changed.")

    def do(new: Act) -> Result:
        told = dict(act.actresult.result)
        shipment = Shipment.objects.select_for_update().filter(number=told["shipment"]).first()
        if shipment is None:
            raise Refused(f"{told['shipment']} was taken back already. Nothing was changed.")
        undo(new, act, shipment, told)
        return {"undone": str(act.pk), "line": f"Taken back: {told['line']}"}

    return say("undo", by=by, act_id=act_id, said={"act": act.pk}, do=do, happened_at=now(the_aircraft()), undoes=act)


def _line_back(new: Act, act: Act, shipment: Shipment, told: Result) -> None:
    line = _typed_line(shipment)
    if shipment.said_out.bound_act_id is not None:
        raise Refused(f"It was said since which piece {shipment.number} is. Nothing was changed. Take that back first.")
    _reverse(new, act)
    stood_in = shipment.said_out.stood_in
    shipment.said_out.delete()
    line.delete()
    try:
        shipment.delete()
    except ProtectedError:
        raise Refused(
            f"Somebody rang about {shipment.number} since, or papers hang on it. Nothing was changed. If it is here, say that it came back."
        ) from None
    if stood_in is not None:  # nothing is left of it but its name in the history
        Piece.objects.filter(pk=stood_in.pk).update(words="", aircraft=None, note="a line that was taken back")


def _call_back(new: Act, act: Act, shipment: Shipment, told: Result) -> None:
    last = (
        VendorSaid.objects.filter(shipment=shipment).filter(Q(act__undone_by=None) | Q(act=act)).order_by("-pk").first()
    )
    if last is None or last.act_id != act.pk or shipment.back_on is not None:
        raise Refused(f"More was said of {shipment.number} since. Nothing was changed. Say what is true now.")
    shipment.promised_on = date.fromisoformat(told["was"]) if told["was"] else None
    shipment.save(update_fields=["promised_on"])


def _piece_back(new: Act, act: Act, shipment: Shipment, told: Result) -> None:
    line = _typed_line(shipment)
    there = Piece.objects.get(pk=told["stood_in"])
    _reverse(new, act)
    line.piece, line.count_out, line.mass_out_g = there, there.count_off, there.mass_g
    line.save(update_fields=["piece", "count_out", "mass_out_g"])
    Piece.objects.filter(pk=there.pk).update(words=search_words(there.name))
    SaidOut.objects.filter(pk=shipment.pk).update(stood_in=there, bound_act=None)


def _reverse(new: Act, act: Act) -> None:
    """Let every move of an act go the other way."""
    back = [
        Move(
            from_piece_id=m.to_piece_id,
            from_holder_id=m.to_holder_id,
            to_piece_id=m.from_piece_id,
            to_holder_id=m.from_holder_id,
            count=m.count,
        )
        for m in act.moves.all()
    ]
    move(new, back)


def _typed_line(shipment: Shipment) -> ShipmentLine:
    """The one line of a shipment that was typed, none of which came back."""
    if not SaidOut.objects.filter(pk=shipment.pk).exists():
        raise Refused(f"{shipment.number} was sent, not typed. Nothing was changed.")
    line = shipment.lines.select_related("piece").get()
    if shipment.back_on is not None or line.count_back:
        raise Refused(f"{shipment.number} came back. Nothing was changed.")
    return line


def _send(act: Act, piece: Piece, vendor: Vendor, also: Sequence[Move] = ()) -> int:
    """Let a piece on record be with the vendor, from wherever it was thought to lie; give how many of it."""
    held = list(Holding.objects.filter(piece=piece, count__gt=0).select_related("holder"))
    if len(held) != 1:
        where = ", ".join(f"{h.count} at {h.holder.name}" for h in held) or "nowhere"
        raise Refused(f"{piece} is {where}. Nothing was changed. Bring it together first, on its own page.")
    if held[0].holder.kind not in _MAY_BE_OUT:
        raise Refused(f"{piece} is at {held[0].holder.name} on record. Nothing was changed. Say on its page how it came away.")  # fmt: skip
    going = Move(from_piece=piece, from_holder=held[0].holder, to_piece=piece, to_holder=vendor.holder, count=held[0].count)  # fmt: skip
    move(act, [*also, going])
    return held[0].count


def _stand_in(act: Act, what: str, vendor: Vendor) -> Piece:
    """Begin the thing under its words: with no tag yet, at the vendor's."""
    count = how_many(what)
    piece = Piece.objects.create(
        aircraft=_only_aircraft(),
        kind=PieceKind.BAG if count > 1 else PieceKind.PART,
        name=what,
        count_off=count,
        words=search_words(what),
    )
    origin = single(HolderKind.ORIGIN)
    move(act, [Move(from_piece=piece, from_holder=origin, to_piece=piece, to_holder=vendor.holder, count=count)])
    return piece


def how_many(what: str) -> int:
    """How many things these words name: `2 magnetos` are two, a `12 V generator` is one."""
    found = _SO_MANY.fullmatch(what)
    if found is None:
        return 1
    if found[1]:
        return int(found[1])
    noun = re.split(r"[,;:(]| for | with | from | of ", f"{found[3]}{found[4]}", maxsplit=1)[0].split()[-1:]
    unit = found[3].casefold() in _NO_PLURALS or len(found[3]) < 3
    plural = bool(noun) and noun[0].casefold().endswith("s") and noun[0].casefold() not in _NO_PLURALS
    return int(found[2]) if plural and not unit and len(noun[0]) > 3 else 1


def _only_aircraft() -> Aircraft | None:
    two = list(Aircraft.objects.order_by("pk")[:2])
    return two[0] if len(two) == 1 else None


def _vendor(whom: str) -> tuple[Vendor, list[str]]:
    """The vendor of this name or code, or a new one that names no time yet; and what to ask where two are alike."""
    wanted = search_words(whom)
    vendors = list(Vendor.objects.select_related("holder"))
    for each in vendors:
        if wanted in (search_words(each.name), search_words(each.code)):
            return each, []
    alike = [each.name for each in vendors if set(wanted.split()) & set(search_words(each.name).split()) - _COMMON]
    held, made = Holder.objects.get_or_create(kind=HolderKind.VENDOR, name=whom)
    if not made:  # a holder that no vendor has: it is his
        alike = []
    code = _code(whom, {each.code.casefold() for each in vendors})
    vendor = Vendor.objects.create(code=code, name=whom, least_days=0, likely_days=0, most_days=0, holder=held)
    if alike:
        return vendor, [f"{whom} is new here. {' and '.join(alike[:2])} is another? If not, take the line back."]
    return vendor, []


_COMMON = {"the", "and", "of", "&", "co", "ltd", "works", "shop", "services", "sons", "brothers", "bros"}


def _code(name: str, taken: set[str]) -> str:
    """A short code that nobody has: the first letters of the words, or of the one word."""
    words = re.findall(r"[a-z0-9]+", "".join(c for c in unicodedata.normalize("NFKD", name.casefold()) if c.isascii()))
    stem = ("".join(word[0] for word in words[:4]) if len(words) > 1 else "".join(words)[:3]).upper() or "V"
    return next(code for code in (stem, *(f"{stem}{n}" for n in range(2, 100_000))) if code.casefold() not in taken)


def _next_number() -> str:
    """The shipment's number after the last that was given, written alike."""
    given = [n for n in Shipment.objects.values_list("number", flat=True) if re.fullmatch(r"S-[0-9]{1,9}", n)]
    last = max(given, key=lambda n: int(n[2:]), default="S-000")
    return f"S-{int(last[2:]) + 1:0{len(last) - 2}d}"


def _possible(promised: date | None, since: date, today: date) -> None:
    if promised is None:
        return
    if promised < since:
        raise Refused(f"Promised for {_day(promised)}, before {_day(since)}. Nothing was changed. Look at both days.")
    if promised > today + FARTHEST:
        raise Refused(f"{_day(promised)} lies more than three years ahead. Nothing was changed. Look at the year.")


def _line(what: str, vendor: Vendor, count: int, since: date, promised: date | None, known: Piece | None) -> str:
    thing = str(known) if known else what
    many = f", counted as {count}" if count > 1 else ""
    word = f"promised for {_day(promised)}" if promised else "no day promised"
    return f"{thing}{many}: with {vendor.name} since {_day(since)}, {word}."


def _day(day: date) -> str:
    return f"{day:%A} {day.day} {day:%B} {day.year}"


def _plain(text: str) -> str:
    return " ".join(text.replace("\0", "").split())
