"""Which papers are still to come, which came, and what waits in quarantine for them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from witnessmark.calc.bags.leaving import Paper, papers_of
from witnessmark.records.lookups.instructions import instructed_many
from witnessmark.records.lookups.nature import leaving_of
from witnessmark.records.models import Certificate, CertificateKind, Piece, Quarantine, Shipment, ShipmentLine, Untraced


@dataclass(frozen=True)
class Papers:
    """One shipment's papers."""

    shipment: Shipment
    papers: tuple[Certificate, ...]
    held: tuple[Quarantine, ...]

    @property
    def when(self) -> str:
        """Say whether the pieces are back, or for when they are promised."""
        s = self.shipment
        if s.back_on:
            return f"Back since {s.back_on:%-d %B}."
        if any(line.count_back for line in s.lines.all()):
            return "Part of it is back."
        return (
            f"Still out, promised for {s.promised_on:%-d %B}." if s.promised_on else "Still out, nobody promised a day."
        )

    @property
    def missing(self) -> tuple[Certificate, ...]:
        return tuple(paper for paper in self.papers if paper.came_on is None)

    @property
    def sentence(self) -> str:
        """Say what is missing and what waits for it."""
        if not self.missing and self.held:
            return "All its papers are here, and its bake certificate is not as called out: the engineer says what follows."
        if not self.missing:
            return "All its papers are here."
        kinds = " and the ".join(paper.get_kind_display() for paper in self.missing)
        waits = len(self.held)
        tail = "" if not waits else f" {waits} {'waits' if waits == 1 else 'wait'} in quarantine for it."
        verb = "has" if len(self.missing) == 1 else "have"
        return f"The {kinds} {verb} not come.{tail}"


@dataclass(frozen=True)
class NotAsked:
    """A shipment that is out and of which no paper is asked, though its process usually brings some."""

    shipment: Shipment
    papers: tuple[Paper, ...]

    @property
    def sentence(self) -> str:
        """Say what is usual and not asked for."""
        kinds = " and a ".join(CertificateKind(paper.kind).label for paper in self.papers)
        return f"{self.shipment.process[:1].upper()}{self.shipment.process[1:]} usually brings a {kinds}. None is asked for."


@dataclass(frozen=True)
class AllPapers:
    """Every shipment's papers, and pieces of which nothing shows where they come from."""

    open: tuple[Papers, ...]
    whole: tuple[Papers, ...]
    other_held: tuple[Quarantine, ...]
    untraced: tuple[Untraced, ...]
    not_asked: tuple[NotAsked, ...] = ()

    @property
    def quarantined(self) -> int:
        return sum(len(each.held) for each in (*self.open, *self.whole)) + len(self.other_held)

    @property
    def sentence(self) -> str:
        """Say how many papers are missing and how much waits in quarantine."""
        missing = sum(len(each.missing) for each in self.open)
        held = self.quarantined
        waits = "one piece waits" if held == 1 else f"{held} pieces wait"
        if not missing:
            head = "No paper is missing" if self.whole else "No shipment has been asked for a paper yet"
            return f"{head}, but {waits} in quarantine." if held else f"{head}."
        many = "One paper is missing" if missing == 1 else f"{missing} papers are missing"
        return f"{many}, and {waits} in quarantine." if held else f"{many}; nothing waits for it here."


def papers(number: str | None = None) -> AllPapers:
    """Answer for the certificates page, in a number of queries that does not grow."""
    asked = (
        Certificate.objects.select_related("shipment__vendor", "photo", "came_act__person")
        .prefetch_related("shipment__lines")
        .order_by("shipment__number", "id")
    )
    if number is not None:
        asked = asked.filter(shipment__number=number)
    by_shipment: dict[int, list[Certificate]] = {}
    for paper in asked:
        by_shipment.setdefault(paper.shipment_id, []).append(paper)
    held: dict[int | None, list[Quarantine]] = {}
    for row in Quarantine.objects.filter(lifted_act=None).select_related("piece").order_by("piece__tag", "id"):
        held.setdefault(row.shipment_id, []).append(row)
    made = [Papers(rows[0].shipment, tuple(rows), tuple(held.pop(pk, ()))) for pk, rows in by_shipment.items()]
    return AllPapers(
        open=tuple(each for each in made if each.missing or each.held),
        whole=tuple(each for each in made if not each.missing and not each.held),
        other_held=tuple(row for rows in held.values() for row in rows) if number is None else (),
        untraced=tuple(Untraced.objects.filter(shown_act=None).select_related("piece").order_by("piece__tag")),
        not_asked=_not_asked() if number is None else (),
    )


def usual_papers(shipment: Shipment) -> tuple[Paper, ...]:
    """The papers that this process usually brings back for these pieces."""
    return _usual({shipment: [line.piece for line in shipment.lines.select_related("piece__size")]})[shipment]


def _usual(pieces: Mapping[Shipment, Sequence[Piece]]) -> dict[Shipment, tuple[Paper, ...]]:
    """By the same lookup as packing: a bake in the route there, or one that the call-out asks, brings its certificate."""
    asked = [(piece, s.vendor.code, s.process) for s, own in pieces.items() for piece in own]
    told = iter(instructed_many(asked))
    return {
        s: papers_of(s.process, [replace(leaving_of(p), bake_follows=next(told).baked_there) for p in own])
        for s, own in pieces.items()
    }


def _not_asked() -> tuple[NotAsked, ...]:
    """Shipments that are out, of which nobody asked for a paper."""
    lines = ShipmentLine.objects.filter(shipment__back_on=None, shipment__certificates=None)
    pieces: dict[Shipment, list[Piece]] = {}
    for line in lines.select_related("shipment__vendor", "piece__size").order_by("shipment__number", "id"):
        if (line.count_back or 0) < line.count_out:
            pieces.setdefault(line.shipment, []).append(line.piece)
    return tuple(NotAsked(s, papers) for s, papers in _usual(pieces).items() if papers)
