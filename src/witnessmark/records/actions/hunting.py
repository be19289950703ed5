"""The hunt: what is looked for, who was asked, that the stores were searched first, and what was found."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Q

from witnessmark.records.actions.condition import next_finding_number
from witnessmark.records.actions.custody import holder
from witnessmark.records.actions.saying import NotAllowed, Refused, Result, move, say
from witnessmark.records.actions.tray import refuse_unlooked
from witnessmark.records.actions.untraced import take_in_untraced
from witnessmark.records.lookups.day import today
from witnessmark.records.models import (
    Act,
    Aircraft,
    Belongs,
    Finding,
    Holder,
    HolderKind,
    Holding,
    Hunt,
    HuntAsked,
    HuntWaiting,
    HuntWhy,
    Move,
    Order,
    Person,
    PhotoUse,
    Piece,
    PieceKind,
    Place,
    Role,
    Vendor,
)
from witnessmark.records.photo_store import keep_bytes
from witnessmark.records.words import search_words

LAID_ON = (HolderKind.SHELF, HolderKind.CONTAINER, HolderKind.ASSEMBLY, HolderKind.PERSON)


def next_hunt_number(aircraft: Aircraft | None) -> str:
    """Give the number after the highest that reads H-N, of the aircraft and of what was begun before there was one."""
    mine = Hunt.objects.filter(Q(aircraft=aircraft) | Q(aircraft=None), number__regex=r"^H-[0-9]+$")
    return f"H-{max((int(number[2:]) for number in mine.values_list('number', flat=True)), default=0) + 1}"


def start_hunt(
    *,
    by: Person,
    act_id: uuid.UUID,
    aircraft: Aircraft | None,
    what: str,
    why: str,
    piece: Piece | None = None,
    place: Place | None = None,
    measurements: str = "",
    also_do: str = "",
    may_wait_until: date | None = None,
    picture: bytes | None = None,
    picture_name: str = "",
) -> Result:
    """Begin to look for something that is missing, wrong for the type, or wanted better.

    Words are enough: its place may not be known yet, nor any aircraft. A picture shows what is hunted.
    """
    if not by.may_write:
        raise NotAllowed(f"{by.name} may look, not add. Nothing was changed.")
    _refuse_past(may_wait_until, today(aircraft))
    if not what.strip():
        raise Refused("A hunt says what is looked for. Nothing was changed.")
    if why not in HuntWhy.values:
        raise Refused(f"'{why}' is no reason for a hunt. Nothing was changed. It is missing, wrong or better.")
    photo = keep_bytes(picture, picture_name) if picture is not None else None

    def do(act: Act) -> Result:
        hunt = Hunt.objects.create(
            aircraft=aircraft,
            number=next_hunt_number(aircraft),
            what=what.strip()[:200],
            why=why,
            piece=piece,
            place=place,
            measurements=measurements.strip()[:300],
            also_do=also_do.strip()[:300],
            may_wait_until=may_wait_until,
            photo=photo,
            act=act,
        )
        return {"hunt": hunt.number}

    said = {
        "what": what.strip(),
        "why": why,
        "piece": piece.pk if piece else None,
        "place": place.pk if place else None,
        "measurements": measurements.strip(),
        "also_do": also_do.strip(),
        "may_wait_until": may_wait_until,
        **({"photo": photo.sha256} if photo else {}),
    }
    return say("start_hunt", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft)


@dataclass(frozen=True)
class CutOff:
    """What was cut off behind the wrong thing: the place of a cable or pipe, and what it now waits to be told."""

    place: Place
    for_what: str


def wrong_for_type(
    *,
    by: Person,
    act_id: uuid.UUID,
    place: Place,
    wrong: str,
    wanted: str,
    picture: bytes,
    picture_name: str,
    laid_on: Holder,
    seen_on: date,
    tag: str = "",
    cut_off: Sequence[CutOff] = (),
    measurements: str = "",
    also_do: str = "",
    may_wait_until: date | None = None,
) -> Result:
    """Say from one picture that what sits in a place is of the wrong type.

    It makes a finding on the piece and the place, lays the piece on a shelf so that the place is empty, begins a hunt for
    the right one, and notes what was cut off behind it. A piece that the record did not know is taken in, untraced.
    """
    if not by.may_write:
        raise NotAllowed(f"{by.name} may look, not add. Nothing was changed.")
    if not wrong.strip() or not wanted.strip():
        raise Refused("Say what is there and what belongs there. Nothing was changed.")
    if laid_on.kind not in LAID_ON:
        raise Refused(f"What comes off is laid on a shelf or in a box, not at {laid_on.name}. Nothing was changed.")
    photo = keep_bytes(picture, picture_name)

    _refuse_past(may_wait_until, seen_on)

    def do(act: Act) -> Result:
        _refuse_empty(place)
        piece = _out_of(act, place, laid_on, wrong.strip(), tag.strip())
        number = next_finding_number(place.aircraft)
        what = f"{wrong.strip()} where {wanted.strip()} belongs: wrong for the type"
        finding = _finding(act, number, what, seen_on, piece=piece, place=place)
        hunt = Hunt.objects.create(
            aircraft=place.aircraft,
            number=next_hunt_number(place.aircraft),
            what=wanted.strip()[:200],
            why=HuntWhy.WRONG,
            piece=piece,
            place=place,
            finding=finding,
            measurements=measurements.strip()[:300],
            also_do=also_do.strip()[:300],
            may_wait_until=may_wait_until,
            act=act,
        )
        shown: list[dict[str, Piece | Place | Finding]] = [{"piece": piece}, {"place": place}, {"finding": finding}]
        for each in cut_off:
            cut = _finding(
                act,
                next_finding_number(place.aircraft),
                f"{each.place.name or each.place.mark} is cut off behind {wrong.strip()}",
                seen_on,
                place=each.place,
            )
            HuntWaiting.objects.create(hunt=hunt, place=each.place, for_what=each.for_what.strip()[:200], act=act)
            shown += [{"place": each.place}, {"finding": cut}]
        for on in shown:
            PhotoUse(photo=photo, what=what[:300], act=act, **on).save()
        return {
            "finding": number,
            "hunt": hunt.number,
            "piece": piece.pk,
            "place": place.pk,
            "waits": [each.place.pk for each in cut_off],
        }

    said = {
        "place": place.pk,
        "wrong": wrong.strip(),
        "wanted": wanted.strip(),
        "photo": photo.sha256,
        "laid_on": laid_on.pk,
        "tag": tag.strip(),
        "cut_off": [[each.place.pk, each.for_what.strip()] for each in cut_off],
        "seen_on": seen_on,
        "measurements": measurements.strip(),
        "also_do": also_do.strip(),
        "may_wait_until": may_wait_until,
    }
    return say("wrong_for_type", by=by, act_id=act_id, said=said, do=do, aircraft=place.aircraft)


def _finding(act: Act, number: str, what: str, seen_on: date, place: Place, piece: Piece | None = None) -> Finding:
    return Finding.objects.create(
        aircraft=place.aircraft,
        number=number,
        piece=piece,
        place=place,
        what=what,
        seen_on=seen_on,
        seen_by=act.person.name,
        words=search_words(number, what),
        act=act,
    )


def _refuse_past(may_wait_until: date | None, now: date) -> None:
    if may_wait_until is not None and may_wait_until < now:
        raise Refused(
            f"It may wait until {may_wait_until:%-d %B %Y}, and today is {now:%-d %B %Y}: that day is gone. "
            "Nothing was changed. Choose a day that is to come, or none."
        )


def _refuse_empty(place: Place) -> None:
    """Refuse a second wrong one out of a place from which one came off and into which nothing was put since."""
    Place.objects.select_for_update().get(pk=place.pk)
    if Holding.objects.filter(holder=place.holder, count__gt=0).exists():
        return
    begun = Hunt.objects.filter(place=place).filter(Q(state="open") | Q(why=HuntWhy.WRONG)).order_by("-pk").first()
    if begun is not None:
        how = "is open for it" if begun.state == "open" else f"was begun for it ({begun.state})"
        raise Refused(
            f"{place} is empty already: {begun.number}, {begun.what}, {how}. Nothing came off, nothing was changed. "
            f"Say what is new at hunt {begun.number}, or write down first what was put in since."
        )


def _out_of(act: Act, place: Place, to: Holder, wrong: str, tag: str) -> Piece:
    """Take what sits in the place and lay it down; a thing the record did not know is taken in there and then."""
    held = list(Holding.objects.filter(holder=place.holder, count__gt=0).select_related("piece"))
    if len(held) > 1 or any(row.count > 1 for row in held):
        raise Refused(
            f"{place} holds more than one piece. Nothing was changed. Take the wrong one off by itself first."
        )
    if held:
        piece = held[0].piece
        Belongs.objects.filter(piece=piece, place=place).delete()
        move(act, [Move(from_piece=piece, from_holder=place.holder, to_piece=piece, to_holder=to, count=1)])
        return piece
    return take_in_untraced(act, place.aircraft, tag, wrong, to, PieceKind.PART, 1)


def _open(hunt: Hunt) -> Hunt:
    fresh = Hunt.objects.select_for_update().get(pk=hunt.pk)
    if fresh.state != "open":
        raise Refused(f"Hunt {fresh.number} is over: {fresh.state}. Nothing was changed. Begin another one.")
    return fresh


def ask_after(
    *,
    by: Person,
    act_id: uuid.UUID,
    hunt: Hunt,
    whom: str,
    asked_on: date,
    answer: str = "",
    price: Decimal | None = None,
    currency: str = "",
    papers: str = "",
    ask_again_on: date | None = None,
) -> Result:
    """Record who was asked, what he said, what it would cost, which papers are with it, and when to ask again."""
    if not whom.strip():
        raise Refused("Say who was asked. Nothing was changed.")
    if asked_on > (now := today(hunt.aircraft)):
        raise Refused(
            f"{asked_on} is to come and today is {now}: nobody was asked then. Nothing was changed. Write the day on which "
            "he was asked; a day to ask again has a field of its own."
        )
    if price is not None and (not price.is_finite() or price < 0 or price >= 10**8):
        raise Refused(f"{price} is no price. Nothing was changed.")
    if price is not None and not (len(currency) == 3 and currency.isascii() and currency.isalpha()):
        raise Refused("A price has a currency of three letters, such as EUR. Nothing was changed.")
    if ask_again_on is not None and ask_again_on <= asked_on:
        raise Refused(f"{ask_again_on} is not after {asked_on}. Nothing was changed. Choose a later day to ask again.")

    def do(act: Act) -> Result:
        HuntAsked.objects.create(
            hunt=_open(hunt),
            whom=whom.strip()[:120],
            asked_on=asked_on,
            said=answer.strip()[:300],
            price=price,
            currency=currency.upper() if price is not None else "",
            papers=papers.strip()[:200],
            ask_again_on=ask_again_on,
            act=act,
        )
        return {"hunt": hunt.number, "whom": whom.strip()}

    said = {
        "hunt": hunt.pk,
        "whom": whom.strip(),
        "asked_on": asked_on,
        "answer": answer.strip(),
        "price": price,
        "currency": currency.upper(),
        "papers": papers.strip(),
        "ask_again_on": ask_again_on,
    }
    return say("ask_after", by=by, act_id=act_id, said=said, do=do, aircraft=hunt.aircraft)


def search_stores(*, by: Person, act_id: uuid.UUID, hunt: Hunt, answer: str, found: Piece | None = None) -> Result:
    """Say what a search of the stores and the don't-know tray gave: the piece itself, or in words that it is not there."""
    if found is None and not answer.strip():
        raise Refused("Say what was looked through, or which piece it is. Nothing was changed.")

    def do(act: Act) -> Result:
        fresh = _open(hunt)
        fresh.stores_act, fresh.stores_said = act, answer.strip()[:300]
        if found is not None:
            if found.pk == fresh.piece_id:
                raise Refused(f"{found} is the piece that is to be replaced. Nothing was changed.")
            fresh.found_piece, fresh.state = found, "found"
        fresh.save(update_fields=["stores_act", "stores_said", "found_piece", "state"])
        return {"hunt": fresh.number, "found": found.pk if found else None}

    said = {"hunt": hunt.pk, "answer": answer.strip(), "found": found.pk if found else None}
    return say("search_stores", by=by, act_id=act_id, said=said, do=do, aircraft=hunt.aircraft)


def _seller(whom: str, hunt: Hunt) -> Vendor:
    """The vendor of this name or code; whoever is bought from for the first time becomes one that names no time yet."""
    known = Vendor.objects.filter(name__iexact=whom).first() or Vendor.objects.filter(code__iexact=whom).first()
    if known is not None:
        return known
    taken = set(Vendor.objects.filter(code__startswith="H-").values_list("code", flat=True))
    code = next(c for c in (hunt.number, *(f"{hunt.number}-{n}" for n in range(2, 1000))) if c not in taken)
    return Vendor.objects.create(
        code=code,
        name=whom,
        does="bought from on a hunt",
        least_days=0,
        likely_days=0,
        most_days=0,
        holder=holder(HolderKind.VENDOR, whom),
    )


def _order(act: Act, hunt: Hunt, offer: HuntAsked, count: int, ordered_on: date, promised_on: date | None) -> Order:
    """Put the purchase among the orders: it is promised, waited for and planned with like any other."""
    taken = set(Order.objects.filter(number__startswith=hunt.number).values_list("number", flat=True))
    number = next(n for n in (hunt.number, *(f"{hunt.number}-{k}" for k in range(2, 1000))) if n not in taken)
    price = f"{offer.price} {offer.currency}" if offer.price is not None else ""
    papers = f"papers: {offer.papers}" if offer.papers else ""
    return Order.objects.create(
        number=number,
        vendor=_seller(offer.whom, hunt),
        what=hunt.what,
        count=count,
        ordered_on=ordered_on,
        promised_on=promised_on,
        note="; ".join(part for part in (f"Hunt {hunt.number}", price, papers) if part) + ".",
        act=act,
    )


def agree_purchase(
    *,
    by: Person,
    act_id: uuid.UUID,
    hunt: Hunt,
    offer: HuntAsked,
    ordered_on: date,
    promised_on: date | None = None,
    count: int = 1,
) -> Result:
    """Agree to buy what somebody offered; it becomes an order. Without a search of the stores it is refused."""
    if count < 1:
        raise Refused("A count starts at 1. Nothing was bought.")
    if promised_on is not None and promised_on < ordered_on:
        raise Refused(
            f"{promised_on} is promised and {ordered_on} is ordered: it cannot come before. Nothing was bought."
        )

    def do(act: Act) -> Result:
        fresh = _open(hunt)
        if fresh.stores_act_id is None:
            raise Refused(
                f"The stores and the don't-know tray have not been searched for {fresh.what}. Nothing was bought. "
                "Look there first and say what was found."
            )
        refuse_unlooked(fresh)
        if offer.hunt_id != fresh.pk:
            raise Refused("That offer is for something else. Nothing was bought.")
        if fresh.bought_id is not None:
            raise Refused(f"{fresh.what} is bought already. Nothing was changed.")
        fresh.bought, fresh.bought_act = offer, act
        fresh.save(update_fields=["bought", "bought_act"])
        order = _order(act, fresh, offer, count, ordered_on, promised_on)
        return {"hunt": fresh.number, "from": offer.whom, "order": order.number}

    said = {
        "hunt": hunt.pk,
        "offer": offer.pk,
        "ordered_on": ordered_on,
        "promised_on": promised_on,
        "count": count,
    }
    return say("agree_purchase", by=by, act_id=act_id, said=said, do=do, aircraft=hunt.aircraft, roles=(Role.LEAD,))


def found_arrives(
    *,
    by: Person,
    act_id: uuid.UUID,
    hunt: Hunt,
    tag: str,
    name: str,
    to: Holder,
    came_on: date,
    count: int = 1,
    mass_g: float | None = None,
    picture: bytes | None = None,
    picture_name: str = "",
) -> Result:
    """Receive what a hunt brought: a new piece on a shelf, untraced until somebody shows where it comes from.

    What was bought comes in with it: its order counts as here from `came_on`.
    """
    if not by.may_write:
        raise NotAllowed(f"{by.name} may look, not add. Nothing was changed.")
    if to.kind not in LAID_ON:
        raise Refused(f"What arrives is laid on a shelf or in a box, not at {to.name}. Nothing was changed.")
    if count < 1 or (mass_g is not None and not mass_g > 0):
        raise Refused("A count starts at 1 and a mass is above nought. Nothing was changed.")
    photo = keep_bytes(picture, picture_name) if picture is not None else None

    def do(act: Act) -> Result:
        fresh = _open(hunt)
        kind = PieceKind.PART if count == 1 else PieceKind.BAG
        piece = take_in_untraced(act, fresh.aircraft, tag.strip(), name.strip(), to, kind, count, mass_g)
        if photo is not None:
            PhotoUse.objects.create(photo=photo, piece=piece, what=f"As it came, hunt {fresh.number}", act=act)
        fresh.found_piece, fresh.state = piece, "found"
        fresh.save(update_fields=["found_piece", "state"])
        if fresh.bought_act_id is not None:
            Order.objects.filter(act_id=fresh.bought_act_id, came_on=None).update(came_on=came_on)
        return {"hunt": fresh.number, "piece": piece.pk, "untraced": True}

    said = {
        "hunt": hunt.pk,
        "tag": tag.strip(),
        "name": name.strip(),
        "to": to.pk,
        "came_on": came_on,
        "count": count,
        "mass_g": mass_g,
        "photo": photo.sha256 if photo else None,
    }
    return say("found_arrives", by=by, act_id=act_id, said=said, do=do, aircraft=hunt.aircraft)


def give_up_hunt(*, by: Person, act_id: uuid.UUID, hunt: Hunt, why: str) -> Result:
    """End a hunt without a find; the reason stays."""
    if not why.strip():
        raise Refused("A hunt is given up with a reason. Nothing was changed.")

    def do(act: Act) -> Result:
        fresh = _open(hunt)
        fresh.state, fresh.note = "given up", why.strip()
        fresh.save(update_fields=["state", "note"])
        return {"hunt": fresh.number}

    said = {"hunt": hunt.pk, "why": why.strip()}
    return say("give_up_hunt", by=by, act_id=act_id, said=said, do=do, aircraft=hunt.aircraft, roles=(Role.LEAD,))
