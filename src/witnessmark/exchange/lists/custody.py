"""Places, parts and bags: what there must be, what there is, and where it lies now.

A count or a whereabouts that differs from the ledger is reported, never written: pieces move by what people do.
"""

import re
from collections.abc import Mapping

from witnessmark.exchange import cells
from witnessmark.exchange.cells import Wrong
from witnessmark.exchange.listfile import ListFile, Writer
from witnessmark.exchange.lists.intake import Intake, mine, piece_words, seat, where_words
from witnessmark.exchange.lists.known import Known
from witnessmark.records.models import (
    Decision,
    Holder,
    Piece,
    PieceKind,
    Place,
    RouteTemplate,
    Step,
    TemplateStep,
    Zone,
)
from witnessmark.records.models import (
    Known as KnownHow,
)

KNOWN_HOW = tuple(KnownHow.values)
MOST_CAPACITY = 10_000
_KINDS = r"(reuse|repair|remake|substitute|scrap)"
_DECISION = re.compile(rf"{_KINDS}(?:\s*[,;:(–-]\s*|\s+|$)(.*)", re.IGNORECASE | re.DOTALL)
_KIND = re.compile(rf"(?<![\w+]){_KINDS}(?![\w+])", re.IGNORECASE)
# "Do not scrap", "repair or remake", "reuse?" decide nothing.
_OPEN = re.compile(rf"\b(?:not|never|no|or)\s+{_KINDS}\b|\b{_KINDS}\s*(?:\?|or\b)", re.IGNORECASE)
_GOES_TO = re.compile(r"(.+?)\s*:\s*(\S+)")
_MOVE_MEND = "Say on the piece's page where it went."


def places(f: ListFile) -> Writer:
    """Places by mark and side; LR makes two."""
    known, total = Known(f.machine), Intake()
    # A place may be part of one that comes further down.
    marks = dict(known.places)
    parents: list[tuple[int, Place, str]] = []
    for row in f.rows:
        with f.row(row) as c:
            take = Intake()
            zone = known.zones_of(c["zone"])[0]
            capacity = cells.whole(c["capacity"], "capacity", most=MOST_CAPACITY) if c["capacity"] else None
            for side in cells.sides(c["side"]):
                f.once(c["mark"], side, what=f"Place {c['mark']} {side}")
                one = seat(
                    f,
                    known,
                    c["mark"],
                    side,
                    zone,
                    capacity,
                    take,
                    name=c["name"],
                    station=c["station"],
                    wants=c["wants"],
                    wants_size=known.sizes.get(c["wants"]),
                    known=cells.word(c["known"], "known", KNOWN_HOW) if c["known"] else None,
                )
                marks[c["mark"], side] = one
                if c["parent"]:
                    parents.append((row.line, one, c["parent"]))
            total.add(take)
    lines = {row.line: row for row in f.rows}
    written = {id(place) for place in total.places}
    for line, place, parent in parents:
        if f.states[line] == "refused":
            continue
        with f.row(lines[line]):
            upper = _parent(marks, parent, place)
            if upper is None:
                f.remark(f"There is no place '{parent}' to be part of; the place is taken without it")
            elif id(place) in written:
                place.parent_place = upper
            elif f.update(place, parent_place=upper) and place not in total.changed_places:
                total.changed_places.append(place)
    # A parent is written before what is part of it.
    total.places.sort(key=_depth)
    return lambda act: total.write(act, known.origin)


def _parent(marks: dict[tuple[str, str], Place], parent: str, place: Place) -> Place | None:
    mark, _, last = parent.rpartition(" ")
    if mark and last.lower() in cells.SIDES:
        return marks.get((mark, cells.one_side(last)))
    found = [marks[parent, side] for side in (place.side, "C", "L", "R") if (parent, side) in marks]
    return next((one for one in found if one is not place), None)


def _depth(place: Place) -> int:
    depth, seen = 0, {id(place)}
    while place.parent_place is not None and id(place.parent_place) not in seen:
        place = place.parent_place
        seen.add(id(place))
        depth += 1
    return depth


def _held_by(f: ListFile, known: Known, where: str) -> Holder:
    if known.is_guess(where):
        f.remark(f"No vendor and nobody in people.csv is called '{where}': it is taken for a shelf")
    return known.holder(where)


def decision(text: str) -> tuple[str, str]:
    """Read a decision and its note; other words are a note without a decision."""
    plain = text.strip()
    found = None if _OPEN.search(plain) else _KIND.search(plain)
    if found is None:
        return "", plain
    match = _DECISION.fullmatch(plain)
    if match is None:
        return found[1].lower(), plain
    note = match[2].strip()
    return match[1].lower(), note.removesuffix(")") if note.count(")") > note.count("(") else note


class _Parts:
    """Reads parts.csv row by row."""

    def __init__(self, f: ListFile) -> None:
        self.f, self.known, self.total = f, Known(f.machine), Intake()
        self.templates = {t.name: t for t in RouteTemplate.objects.all()}
        self.steps: dict[str, list[TemplateStep]] = {name: [] for name in self.templates}
        for step in TemplateStep.objects.select_related("template").order_by("number"):
            self.steps[step.template.name].append(step)
        here = Piece.objects.filter(aircraft=f.machine)
        self.decided = {d.piece_id: d.kind for d in Decision.objects.filter(piece__in=here).order_by("id")}
        self.on_route: dict[int, tuple[str, int]] = {}
        for piece, template, done in Step.objects.filter(piece__in=here).values_list("piece", "template", "done_act"):
            self.on_route[piece] = (template, self.on_route.get(piece, ("", 0))[1] + (done is not None))

    def read(self, c: dict[str, str]) -> None:
        f, known = self.f, self.known
        take = Intake()
        sides = cells.sides(c["side"])
        missing = c["where"].casefold() == "missing"
        tags = cells.listed(c["tag"], "/")
        if len(tags) not in (0, len(sides)) and not missing:
            raise Wrong(
                f"side {c['side']} makes {len(sides)} pieces and tag names {len(tags)}. Write one tag for each, with / between"
            )
        zones = known.zones_of(c["zone"])
        qty = cells.whole(c["qty"], "qty", most=MOST_CAPACITY) if c["qty"] else 1
        kind, why = decision(c["decision"])
        if c["route"] and c["route"] not in self.templates:
            raise Wrong(f"There is no route '{c['route']}'. Add it to routes.csv, or correct the name")
        done = cells.whole(c["step_done"], "step_done", least=0) if c["step_done"] else 0
        if done > len(self.steps.get(c["route"], ())):
            raise Wrong(
                f"step_done is {done}; the route '{c['route']}' has {len(self.steps.get(c['route'], ()))} steps"
            )
        in_place = c["where"].casefold() == "in place"
        to = None if missing or in_place else _held_by(f, known, c["where"])
        values = {
            "name": c["name"],
            "part_no": c["part_no"],
            "material": c["material"],
            "strength_mpa": cells.strength_mpa(c["strength_mpa"]) if c["strength_mpa"] else None,
            "finish": c["finish"],
            "mass_g": cells.mass_g(c["mass_g"]) if c["mass_g"] else None,
            "as_found": c["as_found"],
            "matched_set": c["set"],
            "note": "; ".join(part for part in (c["note"], f"To decide: {why}" if why and not kind else "") if part),
        }
        for at, side in enumerate(sides):
            f.once("place", c["part_no"], side, what=f"Place {c['part_no']} {side}")
            tag = tags[at] if tags and not missing else ""
            if tag:
                f.once("tag", tag, what=f"Tag {tag}", mend="A tag hangs on one piece in one place: correct one of them")
            wants = c["decision"] if missing else ""
            place = seat(
                f, known, c["part_no"], side, zones[0], qty, take, name=c["name"], station=c["station"], wants=wants
            )
            piece = self.find(tag, place)
            if missing:
                if piece is not None:
                    f.differs(f"{piece}", "missing", where_words(known, piece), _MOVE_MEND)
            elif piece is None:
                self.make(take, tag, side, qty, place, to or place.holder, zones, values)
                self.say(take, take.pieces[-1], kind, why, c["route"], done)
            else:
                self.compare(take, piece, tag, qty, to or place.holder, zones, values)
                self.say(take, piece, kind, why, c["route"], done)
        self.total.add(take)

    def find(self, tag: str, place: Place) -> Piece | None:
        """Find the piece by its tag, else by the place it belongs to."""
        known = self.known
        owners = [b.piece for b in known.belonging.get(place.pk or 0, ()) if b.piece.part_no == place.mark]
        if tag and tag in known.pieces:
            piece = mine(self.f, known.pieces[tag])
            if piece.pk not in {owner.pk for owner in owners}:
                raise Wrong(
                    f"Tag {tag} hangs on {piece.name or 'a piece'} {piece.part_no} in the record, not on {place}. "
                    "A piece has one place: correct the tag or the mark"
                )
            return piece
        if not owners:
            return None
        if tag and owners[0].tag:
            raise Wrong(f"{place} has the piece with tag {owners[0].tag} in the record, not {tag}. Correct the tag")
        return owners[0]

    def make(
        self,
        take: Intake,
        tag: str,
        side: str,
        qty: int,
        place: Place,
        to: Holder,
        zones: list[Zone],
        values: Mapping[str, object],
    ) -> None:
        f = self.f
        filled = self.known.filled.get(place.pk or 0, 0)
        if to is place.holder and filled + qty > place.capacity:
            raise Wrong(f"{place} holds {filled} already and has room for {place.capacity}. Say where this one is")
        kind = PieceKind.PART if qty == 1 else PieceKind.BAG
        piece = f.new(Piece, tag=tag or None, aircraft=f.machine, kind=kind, side=side, count_off=qty, **values)
        piece.words = piece_words(piece, zones)
        f.news("where", to.kind, to.name)
        take.pieces.append(piece)
        take.zones += [(piece, zone) for zone in zones]
        take.belongs.append((piece, place, qty, "said by the list"))
        take.moves.append((piece, to, qty))
        if tag:
            take.tags.append(piece)

    def compare(
        self,
        take: Intake,
        piece: Piece,
        tag: str,
        qty: int,
        to: Holder,
        zones: list[Zone],
        values: Mapping[str, object],
    ) -> None:
        f, known = self.f, self.known
        if piece.count_off != qty:
            f.differs(
                f"The count of {piece}", qty, piece.count_off, "Count again; the ledger changes by what people do."
            )
        here = {holding.holder_id for holding in known.at.get(piece.pk, ())}
        if here != {to.pk}:
            f.differs(f"{piece}", f"at {to.name}", where_words(known, piece), _MOVE_MEND)
        tagged = bool(tag) and piece.tag is None
        if f.update(piece, tag=tag or None, **values):
            piece.words = piece_words(piece, zones)
            take.changed_pieces.append(piece)
            if tagged:
                take.tags.append(piece)

    def say(self, take: Intake, piece: Piece, kind: str, why: str, route: str, done: int) -> None:
        """Decide and route a piece, where the record does not say yet."""
        f = self.f
        before = self.decided.get(piece.pk) if piece.pk else None
        if kind and before is None:
            f.news("decided", kind, why)
            take.decisions.append((piece, kind, why))
        elif kind and kind != before:
            f.differs(f"The decision on {piece}", kind, before, "Decide anew on the piece's page.")
        was, steps_done = self.on_route.get(piece.pk, ("", 0)) if piece.pk else ("", 0)
        if route and not was:
            f.news("route", route, done)
            take.steps.append((piece, self.templates[route], self.steps[route], done))
        elif route and was != route:
            f.differs(f"The route of {piece}", route, was, "Change it on the piece's page.")
        elif route and steps_done != done:
            f.differs(f"The number of done steps of {piece}", done, steps_done, "Say on the piece's page what is done.")


def parts(f: ListFile) -> Writer:
    """Parts, each with the place it belongs to."""
    reader = _Parts(f)
    for row in f.rows:
        with f.row(row) as c:
            reader.read(c)
    return lambda act: reader.total.write(act, reader.known.origin)


def goes_to(known: Known, text: str) -> list[tuple[Place, int]]:
    """Read `mark side:count; mark side:count`."""
    found: dict[int, tuple[Place, int]] = {}
    for part in cells.listed(text):
        match = _GOES_TO.fullmatch(part)
        if match is None:
            raise Wrong(f"goes_to has '{part}'. Write mark side:count, for example 1-20-101 L:4")
        place = known.mark_and_side(match[1])
        if place.pk in found:
            raise Wrong(f"goes_to names {place} twice. Write it once, with the whole count")
        found[place.pk] = (place, cells.whole(match[2], f"The count for {place}"))
    return list(found.values())


def bags(f: ListFile) -> Writer:
    """Bags of counted hardware by tag."""
    known, total = Known(f.machine), Intake()
    wanted: dict[int, int] = {pk: sum(b.count for b in rows) for pk, rows in known.belonging.items()}
    for row in f.rows:
        with f.row(row) as c:
            take = Intake()
            f.once(c["tag"], what=f"Tag {c['tag']}", mend="A tag hangs on one bag: correct one of them")
            _bag(f, known, c, take, wanted)
            for _, place, count, _ in take.belongs:
                wanted[place.pk] = wanted.get(place.pk, 0) + count
            total.add(take)
    return lambda act: total.write(act, known.origin)


def _bag(f: ListFile, known: Known, c: dict[str, str], take: Intake, wanted: dict[int, int]) -> None:
    count = cells.whole(c["count"], "count")
    size, zones, goals = known.size(c["fastener"]), known.zones_of(c["zone"]), goes_to(known, c["goes_to"])
    if sum(number for _, number in goals) > count:
        raise Wrong(f"goes_to asks for {sum(number for _, number in goals)} and the bag has {count}. Count again")
    to = None if c["where"].casefold() == "in place" else _held_by(f, known, c["where"])
    if to is None and sum(number for _, number in goals) != count:
        raise Wrong("The bag is in place, but goes_to does not say where all of it is. Complete goes_to")
    values = {
        "name": c["what"],
        "size": size,
        "mass_g": cells.mass_g(c["mass_g"]) if c["mass_g"] else None,
        "as_found": c["state"],
        "note": c["note"],
    }
    piece = known.pieces.get(c["tag"])
    if piece is None:
        piece = f.new(Piece, tag=c["tag"], aircraft=f.machine, kind=PieceKind.BAG, side="C", count_off=count, **values)
        piece.words = piece_words(piece, zones)
        for place, number in goals:
            if wanted.get(place.pk, 0) + number > place.capacity:
                raise Wrong(f"{place} takes {place.capacity}, and {wanted.get(place.pk, 0)} are said to go there already. Correct goes_to")  # fmt: skip
        f.news("goes to", *[f"{place.pk}:{number}" for place, number in goals], c["where"])
        take.pieces.append(piece)
        take.tags.append(piece)
        take.zones += [(piece, zone) for zone in zones]
        take.belongs += [(piece, place, number, "said by the list") for place, number in goals]
        if to is not None:
            take.moves.append((piece, to, count))
            return
        for place, number in goals:
            if known.filled.get(place.pk, 0) + number > place.capacity:
                raise Wrong(f"{place} is full. Say where these are")
            take.moves.append((piece, place.holder, number))
        return
    if mine(f, piece).kind == PieceKind.PART:
        raise Wrong(f"Tag {piece.tag} hangs on the part {piece.name} in the record. Give the bag a tag of its own")
    if piece.count_off != count:
        f.differs(f"The count of {piece}", count, piece.count_off, "Count again; the ledger changes by what people do.")
    here = {holding.holder_id for holding in known.at.get(piece.pk, ())}
    there = {to.pk} if to is not None else {place.holder_id for place, _ in goals}
    if here != there and piece.pk not in known.in_buckets:
        f.differs(f"{piece}", to.name if to else "in place", where_words(known, piece), _MOVE_MEND)
    _goals_again(f, known, piece, goals, take, wanted)
    if f.update(piece, **values):
        piece.words = piece_words(piece, zones)
        take.changed_pieces.append(piece)


def _goals_again(
    f: ListFile, known: Known, piece: Piece, goals: list[tuple[Place, int]], take: Intake, wanted: dict[int, int]
) -> None:
    for place, number in goals:
        before = [b.count for b in known.belonging.get(place.pk, ()) if b.piece_id == piece.pk]
        if before and before[0] != number:
            f.differs(f"What goes from {piece} to {place}", number, before[0], "Count again.")
        elif not before:
            if wanted.get(place.pk, 0) + number > place.capacity:
                raise Wrong(f"{place} takes {place.capacity}, and {wanted.get(place.pk, 0)} are said to go there already. Correct goes_to")  # fmt: skip
            f.news("goes to", place.pk, number)
            take.belongs.append((piece, place, number, "said by the list"))
