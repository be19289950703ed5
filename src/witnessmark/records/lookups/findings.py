"""Findings: one with its pictures, figures and what they say; all of them by zone; those that wait for engineering."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet

from witnessmark.calc.surface.assessment import Assessment, assess
from witnessmark.calc.surface.finding_kinds import FIGURES, KINDS, Figure, Read
from witnessmark.records.models import (
    Aircraft,
    Decision,
    EngineeringWord,
    Finding,
    FindingFigure,
    FindingRing,
    PhotoUse,
    Zone,
)


@dataclass(frozen=True)
class Ringed:
    """A picture of a finding with the ring that was drawn on it last."""

    use: PhotoUse
    ring: FindingRing | None

    @property
    def drawn(self) -> bool:
        return self.ring is not None and self.ring.across is not None

    @property
    def ellipse(self) -> dict[str, str]:
        """The ring in hundredths of the picture, as an SVG ellipse takes it."""
        if self.ring is None or self.ring.across is None:
            return {}
        names = {"cx": "across", "cy": "down", "rx": "half_wide", "ry": "half_high"}
        return {svg: f"{100 * getattr(self.ring, name):.2f}" for svg, name in names.items()}


@dataclass(frozen=True)
class FigureSeen:
    """One measured figure: the newest, who measured it, and what it was before."""

    figure: Figure
    row: FindingFigure
    before: tuple[FindingFigure, ...]


@dataclass(frozen=True)
class FindingSeen:
    """One finding with all that is said of it."""

    finding: Finding
    pictures: tuple[Ringed, ...]
    figures: tuple[FigureSeen, ...]
    engineering: tuple[EngineeringWord, ...]
    decision: Decision | None

    @property
    def kind_words(self) -> str:
        return KINDS[self.finding.kind].words if self.finding.kind in KINDS else ""

    @property
    def measured(self) -> bool:
        return any(f.figure.name != "work_hours" for f in self.figures)

    @property
    def stage(self) -> str:
        """Say how far it is: seen, or measured."""
        return "measured" if self.measured or self.finding.measured else "seen"

    @property
    def with_engineering(self) -> bool:
        return bool(self.engineering) and self.engineering[-1].kind == "asked"

    @property
    def read(self) -> dict[str, Read]:
        return {f.figure.name: Read(f.row.value, f.row.plus_minus, f.row.typed) for f in self.figures}

    @property
    def hours(self) -> float | None:
        """Hours it adds, where somebody reckoned them; None is unknown, not nought."""
        return self.read["work_hours"].value if "work_hours" in self.read else None

    @property
    def where(self) -> str:
        """Zone and place in words."""
        finding = self.finding
        zones = finding_zones(finding)
        place = finding.place.name or finding.place.mark if finding.place else ""
        return ", ".join(filter(None, (place, *(zone.name for zone in zones))))

    @property
    def on(self) -> str:
        """What it is on, in a word or two."""
        finding = self.finding
        if finding.piece is not None:
            return str(finding.piece)
        if finding.place is not None:
            hole = f", hole {finding.hole.number}" if finding.hole else ""
            return f"{finding.place}{hole}"
        return finding.zone.name if finding.zone else ""

    @property
    def assessment(self) -> Assessment:
        return assess(self.finding.kind, self.read, self.where, self.finding.limit_words)

    @property
    def lost_share(self) -> float:
        """Share of the thickness that is gone; nought where nothing says so."""
        return self.assessment.lost_share or 0.0 if self.measured else 0.0

    @property
    def state_words(self) -> str:
        """Its state as it is said: with engineering is a way of being open."""
        return (
            "open, with engineering" if self.finding.state == "open" and self.with_engineering else self.finding.state
        )


def finding_zones(finding: Finding) -> tuple[Zone, ...]:
    """The zones a finding lies in: its place's, its own, or those of its piece."""
    if finding.place is not None:
        return (finding.place.zone,)
    if finding.zone is not None:
        return (finding.zone,)
    return tuple(finding.piece.zones.all()) if finding.piece is not None else ()


def _whole(findings: QuerySet[Finding]) -> QuerySet[Finding]:
    return findings.select_related("piece", "place__zone", "zone", "hole", "aircraft").prefetch_related(
        "piece__zones",
        Prefetch("piece__decisions", Decision.objects.select_related("by", "act")),
        Prefetch("photo_uses", PhotoUse.objects.select_related("photo", "act__person").prefetch_related("rings")),
        Prefetch("figures", FindingFigure.objects.select_related("act__person")),
        Prefetch("engineering", EngineeringWord.objects.select_related("act__person")),
    )


def _seen(finding: Finding) -> FindingSeen:
    by_name: dict[str, list[FindingFigure]] = defaultdict(list)
    for row in finding.figures.all():
        by_name[row.what].append(row)
    decisions = list(finding.piece.decisions.all()) if finding.piece is not None else []
    return FindingSeen(
        finding=finding,
        pictures=tuple(ringed(finding.photo_uses.all())),
        figures=tuple(
            FigureSeen(FIGURES[name], by_name[name][-1], tuple(by_name[name][:-1]))
            for name in FIGURES
            if name in by_name
        ),
        engineering=tuple(finding.engineering.all()),
        decision=decisions[-1] if decisions else None,
    )


def ringed(uses: Iterable[PhotoUse]) -> list[Ringed]:
    """Give each picture its newest ring; the rings are fetched with the pictures."""
    return [Ringed(use, use.ring) for use in uses]


def finding_called(aircraft: Aircraft | None, number: str) -> FindingSeen | None:
    """See one finding by its number."""
    found = _whole(Finding.objects.filter(aircraft=aircraft, number__iexact=number.replace("\0", ""))).first()
    return _seen(found) if found is not None else None


def findings_of(findings: QuerySet[Finding]) -> list[FindingSeen]:
    """See these findings, in a number of queries that does not grow."""
    return [_seen(finding) for finding in _whole(findings)]


@dataclass(frozen=True)
class ZoneFindings:
    """The findings of one zone, and the worst of those that are open."""

    zone: Zone | None
    findings: tuple[FindingSeen, ...]

    def _count(self, state: str) -> int:
        return sum(f.finding.state == state for f in self.findings)

    @property
    def open(self) -> int:
        return self._count("open")

    @property
    def decided(self) -> int:
        return self._count("decided")

    @property
    def closed(self) -> int:
        return self._count("closed")

    @property
    def unmeasured(self) -> int:
        return sum(f.finding.state == "open" and f.stage == "seen" for f in self.findings)

    @property
    def worst(self) -> FindingSeen | None:
        """The open one that lost the largest share of its metal; else one that waits for engineering, a crack, the oldest."""
        opened = [f for f in self.findings if f.finding.state == "open"]
        return max(
            opened,
            key=lambda f: (
                f.lost_share,
                f.with_engineering,
                f.finding.kind == "crack",
                -(f.finding.seen_on.toordinal() if f.finding.seen_on else 0),
            ),
            default=None,
        )


@dataclass(frozen=True)
class FindingsSeen:
    """Every finding of the aircraft, by zone."""

    zones: tuple[ZoneFindings, ...]
    engineering: tuple[FindingSeen, ...]
    to_send: tuple[FindingSeen, ...]
    every: tuple[FindingSeen, ...]
    total: int
    open: int

    @property
    def sentence(self) -> str:
        """Say how it stands, aloud."""
        if not self.total:
            return "Nothing was found yet."
        waits = len(self.engineering)
        tail = f", {waits} of them with engineering" if waits else ""
        return f"{self.total} findings: {self.open or 'none'} without a decision{tail}."


def findings_seen(aircraft: Aircraft | None) -> FindingsSeen:
    """Roll every finding up by zone; one of several zones is counted in each."""
    every = findings_of(Finding.objects.filter(aircraft=aircraft))
    by_zone: dict[int, list[FindingSeen]] = defaultdict(list)
    nowhere = []
    for seen in every:
        zones = finding_zones(seen.finding)
        for zone in zones:
            by_zone[zone.pk].append(seen)
        if not zones:
            nowhere.append(seen)
    rows = [ZoneFindings(zone, tuple(by_zone[zone.pk])) for zone in Zone.objects.filter(aircraft=aircraft)]
    if nowhere:
        rows.append(ZoneFindings(None, tuple(nowhere)))
    return FindingsSeen(
        zones=tuple(rows),
        engineering=tuple(f for f in every if f.with_engineering and f.finding.state == "open"),
        to_send=tuple(
            f for f in every if f.finding.state == "open" and not f.engineering and f.assessment.to_engineering
        ),
        every=tuple(every),
        total=len(every),
        open=sum(f.finding.state == "open" for f in every),
    )
