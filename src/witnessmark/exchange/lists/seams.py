"""Rows of rivet holes: the rows, their stacks, and what stands in each hole."""

from witnessmark.exchange import cells
from witnessmark.exchange.cells import Wrong
from witnessmark.exchange.listfile import Kept, ListFile, Writer
from witnessmark.exchange.lists.intake import Intake, seat
from witnessmark.exchange.lists.known import Known
from witnessmark.records.actions.rows import parse_holes
from witnessmark.records.actions.saying import Refused
from witnessmark.records.models import (
    Act,
    Hole,
    HoleFilled,
    HoleReading,
    HoleState,
    Layer,
    LookedAt,
    Piece,
    Row,
)
from witnessmark.records.models import (
    Known as KnownHow,
)

MOST_HOLES = 10_000


def seams(f: ListFile) -> Writer:
    """Rows by their mark: each is one place with so many holes."""
    known, total, kept, holes = Known(f.machine), Intake(), Kept(), Kept()
    have = {r.place.mark: r for r in Row.objects.filter(place__aircraft=f.machine).select_related("place__wants_size")}
    settled = set(Act.objects.filter(verb="settle_row_size", aircraft=f.machine).values_list("said__row", flat=True))
    for row in f.rows:
        with f.row(row) as c:
            take = Intake()
            mark, side = c["row"], cells.one_side(c["side"])
            f.once(mark, what=f"Row {mark}")
            count = cells.whole(c["holes"], "holes", most=MOST_HOLES)
            zone, size = known.zones_of(c["zone"])[0], known.size(c["fastener"])
            values = {
                "seam": c["seam"],
                "from_station": c["from_station"],
                "to_station": c["to_station"],
                "pitch_mm": cells.length(c["pitch"], "pitch").mm if c["pitch"] else None,
                "edge_mm": cells.length(c["edge"], "edge").mm if c["edge"] else None,
                "looked_at": cells.word(c["looked_at"], "looked_at", tuple(LookedAt.values))
                if c["looked_at"]
                else None,
                "note": c["note"],
            }
            one = have.get(mark)
            if one is None and any((mark, other) in known.places for other in "LRC"):
                raise Wrong(f"{mark} is the mark of a place that is no row. Give the row another mark")
            if one is not None and one.place.side != side:
                raise Wrong(f"Row {mark} is on the {one.place.get_side_display()} in the record. Correct the side")
            capacity: int | None = count
            if one is not None and one.place.capacity != count:
                f.differs(f"The holes of row {mark}", count, one.place.capacity, "Count again.")
                capacity = None
            wants: dict[str, object] = {"wants": c["fastener"], "wants_size": size}
            if (
                one is not None
                and one.pk in settled
                and one.place.wants_size is not None
                and size != one.place.wants_size
            ):
                holds = one.place.wants_size.code
                f.differs(f"The size of row {mark}", c["fastener"], holds, "Say so on the row's survey page.")
                wants = {}
            place = seat(f, known, mark, side, zone, capacity, take, name=f"{c['seam']}, row {mark}",
                         station=c["from_station"], **wants)  # fmt: skip
            if one is None:
                made = f.new(Row, place=place, **values)
                kept.new.append(made)
                holes.new += [Hole(place=place, number=number) for number in range(1, count + 1)]
            else:
                known_as = {LookedAt.YES: "looked at", LookedAt.DISPUTED: "disputed"}.get(LookedAt(one.looked_at))
                if known_as and values["looked_at"] not in (None, one.looked_at):
                    f.differs(f"Row {mark}", values["looked_at"], known_as, "Say so on the row's page.")
                    del values["looked_at"]
                if f.update(one, **values):
                    kept.changed[one.pk] = one
            total.add(take)

    def write(act: Act) -> None:
        total.write(act, known.origin)
        kept.write(Row, ("seam", "from_station", "to_station", "pitch_mm", "edge_mm", "looked_at", "note"))
        holes.write(Hole)

    return write


def _rows(f: ListFile) -> dict[str, Row]:
    return {r.place.mark: r for r in Row.objects.filter(place__aircraft=f.machine).select_related("place")}


def _row(rows: dict[str, Row], mark: str) -> Row:
    if mark not in rows:
        raise Wrong(f"There is no row '{mark}'. Add it to seams.csv, or correct the mark")
    return rows[mark]


def stacks(f: ListFile) -> Writer:
    """The sheets of each row, by row and layer."""
    rows, kept = _rows(f), Kept()
    have = {(s.row_id, s.number): s for s in Layer.objects.filter(row__place__aircraft=f.machine)}
    for row in f.rows:
        with f.row(row) as c:
            of, layer = _row(rows, c["row"]), cells.whole(c["layer"], "layer", most=20)
            f.once(c["row"], str(layer), what=f"Layer {layer} of row {c['row']}")
            thickness = cells.length(c["thickness"], "thickness")
            if thickness.mm > 100:
                raise Wrong(f"thickness is {c['thickness']}, more than 100 mm. Check it")
            values = {
                "name": c["name"],
                "part_no": c["part_no"],
                "material": c["material"],
                "thickness_mm": thickness.mm,
                "thickness_typed": c["thickness"],
                "known": cells.word(c["known"], "known", tuple(KnownHow.values)) if c["known"] else None,
            }
            one = have.get((of.pk, layer))
            if one is None:
                kept.new.append(f.new(Layer, row=of, number=layer, **values))
            elif f.update(one, **values):
                kept.changed[one.pk] = one
    return lambda _act: kept.write(Layer, ("name", "part_no", "material", "thickness_mm", "thickness_typed", "known"))


class _Holes:
    """Reads holes.csv row by row."""

    def __init__(self, f: ListFile) -> None:
        self.f, self.rows = f, _rows(f)
        mine = Hole.objects.filter(place__aircraft=f.machine)
        self.holes = {(hole.place_id, hole.number): hole for hole in mine}
        newest = HoleFilled.objects.filter(hole__in=mine).order_by("id").values_list("hole_id", "state")
        self.stands: dict[int, str] = dict(newest)
        read = HoleReading.objects.filter(hole__in=mine)
        self.read_before = set(read.values_list("hole_id", "what", "typed", "layer_name"))
        self.fillings: list[tuple[Hole, str, str]] = []
        self.readings: list[tuple[Hole, str, float, str, str, Piece | None]] = []
        self.layers = {(s.row_id, s.name): s.part_no for s in Layer.objects.filter(row__place__aircraft=f.machine)}
        self.sheets: dict[tuple[str, str], list[Piece]] = {}
        for piece in Piece.objects.filter(aircraft=f.machine).exclude(part_no=""):
            self.sheets.setdefault((piece.part_no, piece.side), []).append(piece)

    def sheet(self, of: Row, layer: str) -> Piece | None:
        """Find the piece that is this layer, where exactly one can be."""
        part_no = self.layers.get((of.pk, layer), "")
        found = [p for side in {of.place.side, "C"} for p in self.sheets.get((part_no, side), ())] if part_no else []
        return found[0] if len(found) == 1 else None

    def read(self, c: dict[str, str]) -> None:
        f, of = self.f, _row(self.rows, c["row"])
        state = cells.word(c["state"], "state", tuple(HoleState.values))
        if state == HoleState.OPEN and not c["note"]:
            raise Wrong("A hole that is open waits for something. Say in note for what")
        try:
            numbers = parse_holes(c["holes"], of.place.capacity)
        except Refused as refused:
            raise Wrong(str(refused).replace(" Nothing was changed.", "").rstrip(".")) from None
        figures = [(what, column, cells.length(c[column], column)) for what, column in (("hole", "measured"), ("head_mm", "head"), ("edge", "edge")) if c[column]]  # fmt: skip
        for number in numbers:
            f.once(c["row"], str(number), what=f"Hole {number} of row {c['row']}", mend="Say once what stands in it")
        f.fit(HoleFilled, {"reason": c["note"]})
        f.fit(HoleReading, {"layer_name": c["layer"], "typed": c["measured"]})
        layer_piece = self.sheet(of, c["layer"]) if c["layer"] else None
        fillings, readings, otherwise = [], [], {}
        for number in numbers:
            hole = self.holes.get((of.pk, number))
            if hole is None:
                raise Wrong(f"Row {c['row']} has no hole {number} in the record. Correct the number")
            before = self.stands.get(hole.pk)
            if before is None:
                fillings.append((hole, state, c["note"]))
            elif before != state:
                otherwise[number] = before
            readings += [
                (hole, what, size.mm, c[column], c["layer"], layer_piece)
                for what, column, size in figures
                if (hole.pk, what, c[column], c["layer"]) not in self.read_before
            ]
        for before in sorted(set(otherwise.values())):
            these = ", ".join(str(n) for n, was in otherwise.items() if was == before)
            f.differs(f"Row {c['row']}, hole {these}", state, before, "Say on the row's page what stands there now.")
        if fillings or readings:
            f.news(of.pk, state, c["note"], [hole.pk for hole, _, _ in fillings], [one[:5] for one in readings])
        self.fillings += fillings
        self.readings += readings

    def write(self, act: Act) -> None:
        HoleFilled.objects.bulk_create(
            [HoleFilled(hole=hole, state=state, reason=why, act=act) for hole, state, why in self.fillings],
            batch_size=1000,
        )
        HoleReading.objects.bulk_create(
            [
                HoleReading(hole=h, what=what, value_mm=mm, typed=typed, layer_name=layer, layer_piece=piece, act=act)
                for h, what, mm, typed, layer, piece in self.readings
            ],
            batch_size=1000,
        )


def holes(f: ListFile) -> Writer:
    """What stands in the holes, and what was read there."""
    reader = _Holes(f)
    for row in f.rows:
        with f.row(row) as c:
            reader.read(c)
    return reader.write
