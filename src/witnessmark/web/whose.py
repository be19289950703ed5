"""One piece of a bucket: a person says whose it is, with what he sees, before the readings."""

import uuid
from dataclasses import dataclass

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods

from witnessmark.calc.bags.next_reading import feature_words
from witnessmark.calc.bags.return_match import DOUBTFUL, STRANGER, PieceMatch
from witnessmark.records.actions.bucket import strike_piece
from witnessmark.records.actions.saying import Refused
from witnessmark.records.actions.whose import say_whose
from witnessmark.records.lookups.mixing import Sorting, sorting, standing, words_of
from witnessmark.records.lookups.pieces import by_key
from witnessmark.records.models import Piece, Shipment, WhoseWord
from witnessmark.web import asked
from witnessmark.web.measure import shipment_of, unit_of

SEEN = (
    "another head form",
    "a mark or paint on it",
    "worn or bent as only this one was",
    "tried in its hole",
)


@dataclass(frozen=True)
class Beside:
    """One figure of the piece beside what each group of its bags should read after the coat."""

    words: str
    unit: str
    own: float | None
    theirs: tuple[tuple[str, float], ...]


@login_required
@require_http_methods(["GET", "POST"])
def whose_screen(request: HttpRequest, number: str, item: str) -> HttpResponse:
    """Show what the readings say of one piece beside every bag; a post says otherwise, or takes that back."""
    shipment = shipment_of(number)
    if request.method == "POST":
        try:
            if request.POST.get("do") == "strike":
                strike_piece(by=asked.me(request), act_id=asked.act_id(request), shipment=shipment, item=item)
            else:
                _say(request, shipment, item)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("sort", number=number)
    seen = sorting(shipment, but=item)
    home = next((each for each in seen.told if each.item == item), None) if seen else None
    read = next((p for p in seen.match.pieces if p.piece == item), None) if seen and seen.match else None
    if seen is None or (read is None and home is None):
        raise Http404(f"No piece {item[:40]} of shipment {number} lies measured in the bucket.")
    words = [word for word in words_of(seen.mix) if word.item == item]
    said = standing(words).get(item)
    return render(
        request,
        "whose.html",
        {
            "shipment": shipment,
            "item": item,
            "home": home,
            "say": _sentence(item, read, said),
            "said": said,
            "words": words,
            "rows": _beside(seen, read) if read else [],
            "choices": _choices(seen, read) if read else [],
            "seen_words": SEEN,
            "act_id": uuid.uuid4(),
            "back_id": uuid.uuid4(),
            "strike_id": uuid.uuid4(),
        },
    )


def _sentence(item: str, read: PieceMatch | None, said: WhoseWord | None) -> str:
    if read is None:
        return f"Piece {item} is home."
    if said is not None:
        return f"Piece {item} is {'not ours' if said.foreign else f'of {said.says}'}, says {said.act.person.name}."
    doubt = ", in doubt" if read.state == DOUBTFUL else ""
    return f"Piece {item}: the readings say {read.bag or 'not ours'}{doubt}. Is it another's?"


def _choices(seen: Sorting, read: PieceMatch) -> list[tuple[str, str]]:
    """Each bag with how many are not home yet, and not ours; what the readings say comes last."""
    left: dict[str, int] = {}
    for group in seen.groups:
        left[group.bag] = left.get(group.bag, 0) + group.count
    told = [(bag, f"{bag}, {count} not home") for bag, count in sorted(left.items()) if count]
    told.append((STRANGER, "not ours"))
    return sorted(told, key=lambda each: each[0] == (read.bag or STRANGER))


def _beside(seen: Sorting, read: PieceMatch) -> list[Beside]:
    """The likeliest groups first, then the rest; six at the most, so that the table stays readable."""
    near = {name: n for n, (name, _) in enumerate(read.others)}
    groups = sorted(seen.groups, key=lambda g: (near.get(g.key, len(near)), g.key))[:6]
    own = seen.items.get(read.piece, {})
    names = sorted({name for g in groups for name in g.features} | own.keys())
    return [
        Beside(
            feature_words(name),
            unit_of(name),
            own[name].value if name in own else None,
            tuple((g.key, g.features[name].mean + seen.coat.growth(name)) for g in groups if name in g.features),
        )
        for name in names
    ]


def _say(request: HttpRequest, shipment: Shipment, item: str) -> None:
    chosen = request.POST.get("bag", "")
    bag: Piece | None = None
    if request.POST.get("do") == "back":
        chosen = ""
    elif not chosen:
        raise Refused("Nothing was chosen. Nothing was changed. Choose a bag, or not ours.")
    elif chosen != STRANGER:
        bag = by_key(chosen)
        if bag is None:
            raise Refused(f"There is no bag {chosen[:40]}. Nothing was changed. Choose one of the list.")
    why = "; ".join(filter(None, (*request.POST.getlist("seen"), request.POST.get("why", "").strip())))
    say_whose(
        by=asked.me(request),
        act_id=asked.act_id(request),
        shipment=shipment,
        item=item,
        bag=bag,
        foreign=chosen == STRANGER,
        why=why if chosen else "",
    )


urls: list[URLPattern] = [
    path("outwork/<str:number>/sort/<path:item>/", whose_screen, name="whose"),
]
