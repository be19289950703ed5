"""What a list says of a finding beyond words: its figures, what engineering was asked, the ring on its picture."""

import re
from collections.abc import Mapping

from witnessmark.calc.surface.finding_kinds import BadFigure, Read, check_together, read_figure
from witnessmark.exchange.cells import Wrong, listed
from witnessmark.exchange.listfile import ListFile
from witnessmark.records.actions.findings import Ring
from witnessmark.records.actions.saying import Refused
from witnessmark.records.models import Act, EngineeringWord, Finding, FindingFigure, FindingRing, PhotoUse


class MoreOfFindings:
    """Figures and questions of findings.csv; what is in the record already is not written again."""

    def __init__(self, f: ListFile) -> None:
        self.f = f
        figures = FindingFigure.objects.filter(finding__aircraft=f.machine).order_by("id")
        self.have = {(row.finding_id, row.what): row.typed for row in figures}
        self.asked = set(
            EngineeringWord.objects.filter(finding__aircraft=f.machine).values_list("finding_id", flat=True)
        )
        self.figures: list[FindingFigure] = []
        self.words: list[EngineeringWord] = []

    def read(self, c: Mapping[str, str]) -> tuple[dict[str, Read], tuple[str, str] | None]:
        """Read the two cells; what cannot be is refused with its row."""
        found: dict[str, Read] = {}
        for part in listed(c["figures"]):
            name, equals, text = part.partition("=")
            if not equals:
                raise Wrong(f"figures: '{part[:40]}' says no figure. Write it like pit_depth_mm=0.3 mm")
            try:
                found[name.strip()] = read_figure(name.strip(), text)
            except BadFigure as why:
                raise Wrong(str(why).rstrip(".")) from None
        try:
            check_together(c["kind"], found)
        except BadFigure as why:
            raise Wrong(str(why).rstrip(".")) from None
        whom, colon, said = c["engineering"].partition(": ")
        return found, ((whom.strip(), said.strip()) if colon else ("", whom.strip())) if c["engineering"] else None

    def add(self, finding: Finding, figures: Mapping[str, Read], asked: tuple[str, str] | None) -> None:
        """Keep what the record does not have yet."""
        for what, read in figures.items():
            if self.have.get((finding.pk, what)) != read.typed:
                self.f.news("figure", finding.number, what, read.typed)
                self.figures.append(
                    FindingFigure(
                        finding=finding, what=what, value=read.value, plus_minus=read.plus_minus, typed=read.typed
                    )
                )
        if asked is not None and finding.pk not in self.asked:
            self.f.news("engineering", finding.number, *asked)
            self.words.append(EngineeringWord(finding=finding, kind="asked", from_whom=asked[0][:120], said=asked[1]))

    def write(self, act: Act) -> None:
        """Write them, once the findings stand."""
        for figure in self.figures:
            figure.act = act
        for word in self.words:
            word.act = act
        FindingFigure.objects.bulk_create(self.figures, batch_size=500)
        EngineeringWord.objects.bulk_create(self.words, batch_size=500)


def ring_of(text: str) -> Ring | None:
    """Read a ring: four figures in hundredths of the picture."""
    if not text.strip():
        return None
    parts = [part.strip().replace(",", ".") for part in text.split(";")]
    if len(parts) != 4 or not all(re.fullmatch(r"\d{1,3}(\.\d+)?", part) for part in parts):
        raise Wrong(f"ring: '{text[:40]}' is no ring. Write it like 61; 44; 8; 12")
    try:
        return Ring(*(float(part) / 100 for part in parts))
    except Refused as why:
        raise Wrong(f"ring: {str(why).split('. Nothing')[0]}") from None


def not_ringed(use: PhotoUse | None) -> bool:
    """Whether the record has no ring on this picture yet; one drawn since stays."""
    return use is None or not use.rings.all()


def write_rings(act: Act, rings: list[tuple[PhotoUse, Ring]]) -> None:
    """Write rings, once their pictures stand."""
    FindingRing.objects.bulk_create([FindingRing(use=use, act=act, **ring.said()) for use, ring in rings])
