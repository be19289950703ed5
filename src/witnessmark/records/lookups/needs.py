"""What a job needs and where it lies: parts, tools, rivets, papers; and what keeps it from starting when it is not there."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from witnessmark.calc.fasteners.length import stock_words
from witnessmark.calc.plan.jobs import Link, Network
from witnessmark.records.lookups.about import Gathering, in_words, piece_link, small
from witnessmark.records.models import (
    Finding,
    HandJob,
    HolderKind,
    Holding,
    LeftAfter,
    LeftThing,
    Piece,
    ShipmentLine,
    Step,
)

if TYPE_CHECKING:
    from witnessmark.records.lookups.network import Gathered

_GONE = {HolderKind.NOT_FOUND: "cannot be found", HolderKind.SCRAP: "is scrap"}
_TAG = re.compile(r"[A-Za-z0-9]+(?:-[A-Za-z0-9]+)*")


@dataclass(frozen=True)
class Need:
    """One thing that has to lie there before a job begins."""

    kind: str
    what: str
    where: str
    link: str = ""
    here: bool = True


@dataclass(frozen=True)
class MustBeThere:
    """Links to what brings a thing back, and the jobs whose thing is nowhere, with a sentence each."""

    links: tuple[Link, ...]
    missing: Mapping[str, str]
    written: Mapping[str, list[str]]


def _written(network: Network, at: Gathering, is_now: Mapping[str, tuple[str, ...]]) -> dict[str, list[str]]:
    """What was written down as needed, by job: on the hand-made job or on the step of the route."""
    wanted: dict[str, list[str]] = {}
    for name, needs in HandJob.objects.filter(aircraft=at.aircraft).exclude(needs=[]).values_list("name", "needs"):
        for key in is_now.get(name) or (f"hand:{name}:do",):
            wanted.setdefault(key, []).extend(needs)
    steps = Step.objects.filter(piece__aircraft=at.aircraft, done_act=None).exclude(needs=[])
    for piece, number, needs in steps.values_list("piece_id", "number", "needs"):
        wanted.setdefault(f"piece:{piece}:{number}", []).extend(needs)
    return {key: needs for key, needs in wanted.items() if key in network.by_key}


def must_be_there(network: Network, at: Gathering, is_now: Mapping[str, tuple[str, ...]]) -> MustBeThere:
    """Let a job wait for the order or the shipment that brings what it needs; name what is nowhere."""
    wanted = _written(network, at, is_now)
    last_of = {key.rsplit(":", 1)[0]: key for key in network.by_key}
    tagged = dict(
        Piece.objects.filter(tag__in={need for needs in wanted.values() for need in needs}).values_list("tag", "pk")
    )
    own = {job.key: int(job.piece) for job in network.jobs if job.piece.isdigit() and not job.is_outside}
    holders = Holding.objects.filter(count__gt=0, holder__kind__in=_GONE, piece__aircraft=at.aircraft)
    gone = {pk: _GONE[HolderKind(kind)] for pk, kind in holders.values_list("piece_id", "holder__kind")}
    lines = ShipmentLine.objects.filter(shipment__back_on=None, piece__in=tagged.values())
    away = {pk: f"shipment:{number}:back" for pk, number in lines.values_list("piece_id", "shipment__number")}
    links: list[Link] = []
    missing = {
        key: f"it needs itself first: the piece {gone[pk]}"
        for key, pk in own.items()
        if pk in gone and _is_first(network, key)
    }
    for key, needs in wanted.items():
        for need in needs:
            pk = tagged.get(need)
            brings = away.get(pk or 0, "") if pk else last_of.get(at.names.get(need, ""), "")
            if pk in gone:
                missing[key] = f"it needs {need}, which {gone[pk]}"
            elif brings in network.by_key and brings.startswith(("order:", "shipment:")):
                links.append(Link(brings, key))
    return MustBeThere(tuple(links), missing, wanted)


def _is_first(network: Network, key: str) -> bool:
    return not network.links_in.get(key)


def with_links(network: Network, more: Iterable[Link]) -> Network:
    """The network with further links, each pair once."""
    have = {(link.before, link.after) for link in network.links}
    new = {(link.before, link.after): link for link in more if (link.before, link.after) not in have}
    links = sorted((*network.links, *new.values()), key=lambda link: (link.before, link.after))
    return Network(network.jobs, tuple(links), network.unknown_after)


def needs_of(gathered: "Gathered", keys: Sequence[str]) -> dict[str, tuple[Need, ...]]:
    """What each of these jobs needs, in a fixed number of queries."""
    words = _words(gathered, keys)
    tokens = {token for text in words.values() for token in _TAG.findall(text)}
    about = {key: gathered.about_job(key) for key in keys}
    own = {a.piece_id for a in about.values() if a.piece_id}
    pieces = {p.pk: p for p in Piece.objects.filter(pk__in=own)} | {
        p.pk: p for p in Piece.objects.filter(tag__in=tokens)
    }
    by_tag = {p.tag: p for p in pieces.values() if p.tag}
    where: dict[int, tuple[str, str]] = {}
    for pk, kind, name in Holding.objects.filter(piece__in=pieces, count__gt=0).values_list(
        "piece_id", "holder__kind", "holder__name"
    ):
        where[pk] = (kind, name)
    rows = {row.place.pk: row for row in gathered.rows}
    findings = Finding.objects.filter(piece__in=own) | Finding.objects.filter(
        place__in={a.row_id for a in about.values() if a.row_id}
    )
    papers: dict[tuple[str, int], list[Finding]] = {}
    for finding in findings.exclude(state="closed").order_by("number"):
        on = ("piece", finding.piece_id) if finding.piece_id else ("row", finding.place_id or 0)
        papers.setdefault((on[0], int(on[1] or 0)), []).append(finding)
    found: dict[str, tuple[Need, ...]] = {}
    for key in keys:
        needs: list[Need] = []
        named = dict.fromkeys(token for token in _TAG.findall(words.get(key, "")) if token in by_tag)
        for own_pk in dict.fromkeys(
            [*([about[key].piece_id] if about[key].piece_id else []), *(by_tag[t].pk for t in named)]
        ):
            if own_pk in pieces:
                needs.append(_piece(pieces[own_pk], where.get(own_pk)))
        needs += [_words_need(text) for text in gathered.written_needs.get(key, ()) if text not in by_tag]
        row = rows.get(about[key].row_id or 0)
        if row is not None and row.size is not None and about[key].source == "fill":
            needs += _rivets(
                gathered, row.size.pk, row.size.code, row.length.stock_mm if row.length else None, about[key].count
            )
        for finding in papers.get(("piece", about[key].piece_id or 0), []) + papers.get(
            ("row", about[key].row_id or 0), []
        ):
            link = f"/piece/{pieces[finding.piece_id].key}/" if finding.piece_id in pieces else about[key].link
            needs.append(
                Need("Paper", f"{finding.number}, {small(finding.what).rstrip('.')}", f"{finding.state}.", link)
            )
        found[key] = tuple(needs)
    return _lent(gathered, found)


def _lent(gathered: "Gathered", found: dict[str, tuple[Need, ...]]) -> dict[str, tuple[Need, ...]]:
    """What was borrowed from a job left open is not where it was written down, for that job or any other."""
    after = LeftAfter.objects.filter(what="taken_up").values("left")
    words = LeftThing.objects.filter(kind="borrowed", left__act__aircraft=gathered.aircraft_id).exclude(left__in=after)
    lent = list(words.values_list("words", flat=True))

    def where(need: Need) -> Need:
        said = next((each for each in lent if each.casefold().startswith(need.what.casefold())), "")
        gone_to = said[len(need.what) :].strip(" ,:.") if said else ""
        return replace(need, where=f"borrowed, {gone_to}." if gone_to else "borrowed.", here=False) if said else need

    if not lent:
        return found
    return {key: tuple(where(n) if n.kind == "Tool" else n for n in needs) for key, needs in found.items()}


def _words(gathered: "Gathered", keys: Sequence[str]) -> dict[str, str]:
    """The words in which a job may name tags: its own, its note, and what was written down as needed."""
    name_of = {key: key.split(":", 1)[1].rsplit(":", 1)[0] for key in keys if key.startswith("hand:")}
    name_of |= {key: name for name, same in gathered.is_now.items() for key in same if key in keys}
    notes = dict(HandJob.objects.filter(name__in=name_of.values()).values_list("name", "note"))
    words = {}
    for key in keys:
        job = gathered.network.by_key.get(key)
        own = (job.what if job else "", notes.get(name_of[key], "")) if key in name_of else ()
        words[key] = " ".join((*own, *gathered.written_needs.get(key, ())))
    return words


def _piece(piece: Piece, at: tuple[str, str] | None) -> Need:
    kind = "Part" if piece.kind == "part" else "Bag"
    what = f"{piece.tag}, {in_words(piece).removeprefix('the ')}" if piece.tag else in_words(piece)
    if at is None:
        return Need(kind, what, "nowhere in the record.", piece_link(piece), here=False)
    holder, name = at
    gone = holder in (HolderKind.VENDOR, *_GONE)
    says = {HolderKind.PLACE: "in its place.", HolderKind.NOT_FOUND: "cannot be found.", HolderKind.SCRAP: "scrap."}
    return Need(kind, what, says.get(HolderKind(holder), f"{name}."), piece_link(piece), here=not gone)


def _words_need(text: str) -> Need:
    what, _, where = text.partition("@")
    return Need("Tool", what.strip(), f"{where.strip()}." if where.strip() else "no place written down.")


def _rivets(gathered: "Gathered", size: int, code: str, length_mm: float | None, count: int) -> list[Need]:
    said = f"{code}{f' x {stock_words(length_mm)}' if length_mm else ''}, {count}"
    bags = [
        bag
        for bag in gathered.order.shelf
        if bag.size_id == size and (length_mm is None or bag.length_mm is None or abs(bag.length_mm - length_mm) < 0.01)
    ]
    if not bags:
        return [Need("Rivets", said, "none on the shelf.", "/orders/", here=False)]
    return [
        Need("Rivets", said, f"{bag.count} in {bag.tag}, {bag.lies_at}.", f"/t/{bag.tag}/", here=bag.count >= count)
        for bag in bags
    ]
