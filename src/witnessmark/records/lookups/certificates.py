"""Which papers are still to come, which came, and what waits in quarantine for them."""

from dataclasses import dataclass

from witnessmark.records.models import Certificate, Quarantine, Shipment, Untraced


@dataclass(frozen=True)
class Papers:
    """One shipment's papers."""

    shipment: Shipment
    papers: tuple[Certificate, ...]
    held: tuple[Quarantine, ...]

    @property
    def missing(self) -> tuple[Certificate, ...]:
        return tuple(paper for paper in self.papers if paper.came_on is None)

    @property
    def sentence(self) -> str:
        """Say what is missing and what waits for it."""
        if not self.missing:
            return "All its papers are here."
        kinds = " and the ".join(paper.get_kind_display() for paper in self.missing)
        waits = len(self.held)
        tail = "" if not waits else f" {waits} {'waits' if waits == 1 else 'wait'} in quarantine for it."
        verb = "has" if len(self.missing) == 1 else "have"
        return f"The {kinds} {verb} not come.{tail}"


@dataclass(frozen=True)
class AllPapers:
    """Every shipment's papers, and pieces of which nothing shows where they come from."""

    open: tuple[Papers, ...]
    whole: tuple[Papers, ...]
    other_held: tuple[Quarantine, ...]
    untraced: tuple[Untraced, ...]

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
    asked = Certificate.objects.select_related("shipment__vendor", "photo", "came_act__person").order_by(
        "shipment__number", "id"
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
        open=tuple(each for each in made if each.missing),
        whole=tuple(each for each in made if not each.missing),
        other_held=tuple(row for rows in held.values() for row in rows) if number is None else (),
        untraced=tuple(Untraced.objects.filter(shown_act=None).select_related("piece").order_by("piece__tag")),
    )
