"""A finding is seen, with its picture and a ring; measured when the part is clean; and goes to engineering and back."""

import math
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from witnessmark.calc.surface.finding_kinds import (
    FIGURES,
    KINDS,
    BadFigure,
    Read,
    check_together,
    figures_of,
    read_figure,
)
from witnessmark.records.actions.condition import next_finding_number
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.models import (
    Act,
    EngineeringWord,
    Finding,
    FindingFigure,
    FindingRing,
    Person,
    Photo,
    PhotoUse,
    Piece,
    Place,
    Zone,
)
from witnessmark.records.words import search_words


@dataclass(frozen=True)
class Ring:
    """A ring on an upright picture: centre and half sizes as shares of its width and height."""

    across: float
    down: float
    half_wide: float
    half_high: float

    def __post_init__(self) -> None:
        values = (self.across, self.down, self.half_wide, self.half_high)
        if not all(math.isfinite(v) for v in values) or not (0 <= self.across <= 1 and 0 <= self.down <= 1):
            raise Refused("The ring does not lie on the picture. Nothing was changed. Draw it again.")
        if not (0.005 <= self.half_wide <= 0.5 and 0.005 <= self.half_high <= 0.5):
            raise Refused(
                "The ring is too small to see, or larger than the picture. Nothing was changed. Draw it again."
            )

    def said(self) -> dict[str, float]:
        """Give it with the digits that a picture can show."""
        return {name: round(value, 4) for name, value in vars(self).items()}


def see_finding(
    *,
    by: Person,
    act_id: uuid.UUID,
    seen_on: date,
    kind: str = "",
    what: str = "",
    piece: Piece | None = None,
    place: Place | None = None,
    zone: Zone | None = None,
    photo: Photo | None = None,
    ring: Ring | None = None,
    where_words: str = "",
    opened: bool | None = None,
    happened_at: datetime | None = None,
) -> Result:
    """Record what was seen: a picture that is kept already, a ring on it, a kind, a few words; figures come later."""
    if kind and kind not in KINDS:
        raise Refused(f"'{kind[:20]}' is no kind of finding. Nothing was changed. It is one of {', '.join(KINDS)}.")
    words = what.strip() or (KINDS[kind].words.capitalize() if kind and kind != "other" else "")
    if not words:
        raise Refused("A finding says in a few words what is wrong. Nothing was changed.")
    on = next((thing for thing in (piece, place, zone) if thing is not None), None)
    aircraft = on.aircraft if on is not None else None
    if aircraft is None:
        raise Refused("A finding is on a piece, a place or a zone of an aircraft. Nothing was changed.")
    if (ring is not None or where_words.strip()) and photo is None:
        raise Refused("A ring needs a picture to lie on. Nothing was changed. Take the picture, or leave the ring out.")

    def do(act: Act) -> Result:
        number = next_finding_number(aircraft)
        finding = Finding.objects.create(
            aircraft=aircraft,
            number=number,
            piece=piece,
            place=place,
            zone=zone,
            kind=kind,
            what=words,
            opened=opened,
            seen_on=seen_on,
            seen_by=by.name,
            words=search_words(number, words, KINDS[kind].words if kind else "", where_words),
            act=act,
        )
        if photo is not None:
            use = PhotoUse.objects.create(photo=photo, finding=finding, what=words[:300], act=act)
            _ring(act, use, ring, where_words)
        return {"finding": number, "photo": photo.pk if photo else None}

    said = {
        "piece": piece.pk if piece else None,
        "place": place.pk if place else None,
        "zone": zone.pk if zone else None,
        "kind": kind,
        "what": words,
        "photo": photo.pk if photo else None,
        "ring": ring.said() if ring else None,
        "where_words": where_words.strip(),
        "opened": opened,
        "seen_on": seen_on,
    }
    return say("see_finding", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, happened_at=happened_at)


def _ring(act: Act, use: PhotoUse, ring: Ring | None, where_words: str) -> None:
    if ring is not None or where_words.strip():
        FindingRing.objects.create(
            use=use, where_words=where_words.strip()[:200], act=act, **(ring.said() if ring else {})
        )


def draw_ring(
    *, by: Person, act_id: uuid.UUID, finding: Finding, photo: Photo, ring: Ring | None, where_words: str = ""
) -> Result:
    """Draw a ring on a picture of a finding, or draw it anew; the old one stays in the record."""
    if ring is None and not where_words.strip():
        raise Refused("Neither a ring nor words came. Nothing was changed. Draw it, or say where it is.")
    use = PhotoUse.objects.filter(finding=finding, photo=photo).first()
    if use is None:
        raise Refused(f"That picture is none of {finding.number}. Nothing was changed.")

    def do(act: Act) -> Result:
        _ring(act, use, ring, where_words)
        return {"finding": finding.number}

    said = {"use": use.pk, "ring": ring.said() if ring else None, "where_words": where_words.strip()}
    return say("draw_ring", by=by, act_id=act_id, said=said, do=do, aircraft=finding.aircraft)


def newest_figures(finding: Finding) -> dict[str, Read]:
    """Give the newest figure of each kind."""
    return {f.what: Read(f.value, f.plus_minus, f.typed) for f in finding.figures.all()}


def read_typed(kind: str, typed: Mapping[str, str], before: Mapping[str, Read]) -> dict[str, Read]:
    """Read what was typed into the fields of a kind; what cannot be is refused by name, and nothing is kept."""
    asked = {figure.name: figure for figure in figures_of(kind)}
    unknown = next((name for name, text in typed.items() if text.strip() and name not in FIGURES), None)
    if unknown is not None:
        raise Refused(f"'{unknown[:40]}' is no figure of a finding. Nothing was changed.")
    try:
        read = {name: read_figure(name, text) for name, text in typed.items() if text.strip()}
        if not read:
            raise Refused("Nothing was typed. Nothing was changed. Type what was measured.")
        together = {**before, **read}
        missing = [f.words for name, f in asked.items() if f.needed and name not in together]
        if missing and set(read) != {"work_hours"}:
            raise Refused(f"{missing[0]} is missing. Nothing was changed. It is what a finding of this kind stands on.")
        check_together(kind, together)
    except BadFigure as why:
        raise Refused(f"{why} Nothing was changed.") from None
    return read


def measure_finding(
    *,
    by: Person,
    act_id: uuid.UUID,
    finding: Finding,
    typed: Mapping[str, str],
    kind: str = "",
    happened_at: datetime | None = None,
) -> Result:
    """Write down what was measured on a finding after cleaning; a figure measured again stands beside the old one."""
    if kind and kind not in KINDS:
        raise Refused(f"'{kind[:20]}' is no kind of finding. Nothing was changed. It is one of {', '.join(KINDS)}.")
    if finding.state == "closed":
        raise Refused(f"{finding.number} is closed. Nothing was changed. Write down a new finding.")
    of_kind = kind or finding.kind
    if not of_kind:
        raise Refused("Nobody said what kind of finding this is. Nothing was changed. Choose the kind first.")
    read = read_typed(of_kind, typed, newest_figures(finding))

    def do(act: Act) -> Result:
        fresh = Finding.objects.select_for_update().get(pk=finding.pk)
        FindingFigure.objects.bulk_create(
            FindingFigure(finding=fresh, what=name, value=r.value, plus_minus=r.plus_minus, typed=r.typed, act=act)
            for name, r in read.items()
        )
        fresh.kind = of_kind
        told = " ".join(f"{FIGURES[name].words} {r.typed}" for name, r in read.items())
        fresh.words = search_words(
            fresh.number, fresh.what, KINDS[of_kind].words, fresh.measured, fresh.seen_by, fresh.note, told
        )
        fresh.save(update_fields=["kind", "words"])
        return {"finding": fresh.number, "figures": {name: r.value for name, r in read.items()}}

    said = {"finding": finding.pk, "kind": of_kind, "typed": {name: r.typed for name, r in read.items()}}
    return say(
        "measure_finding", by=by, act_id=act_id, said=said, do=do, aircraft=finding.aircraft, happened_at=happened_at
    )


def ask_engineering(*, by: Person, act_id: uuid.UUID, finding: Finding, question: str, whom: str = "") -> Result:
    """Send a finding to engineering: until the answer is written down, it is listed as waiting there."""
    return _engineering("ask_engineering", "asked", by, act_id, finding, question, whom)


def engineering_answers(*, by: Person, act_id: uuid.UUID, finding: Finding, answer: str, from_whom: str) -> Result:
    """Write down what engineering answered, and who it was."""
    if not from_whom.strip():
        raise Refused("An answer has a name under it. Nothing was changed. Write who answered.")
    return _engineering("engineering_answers", "answered", by, act_id, finding, answer, from_whom)


def _engineering(
    verb: str, kind: str, by: Person, act_id: uuid.UUID, finding: Finding, words: str, whom: str
) -> Result:
    if not words.strip():
        raise Refused("There are no words in it. Nothing was changed. Write what is asked, or what was answered.")

    def do(act: Act) -> Result:
        Finding.objects.select_for_update().get(pk=finding.pk)
        last = EngineeringWord.objects.filter(finding=finding).last()
        if kind == "answered" and (last is None or last.kind == "answered"):
            raise Refused(f"{finding.number} is not with engineering. Nothing was changed. Ask first.")
        if kind == "asked" and last is not None and last.kind == "asked":
            raise Refused(f"{finding.number} is with engineering already. Nothing was changed.")
        EngineeringWord.objects.create(
            finding=finding, kind=kind, said=words.strip(), from_whom=whom.strip()[:120], act=act
        )
        return {"finding": finding.number}

    said = {"finding": finding.pk, "words": words.strip(), "whom": whom.strip()}
    return say(verb, by=by, act_id=act_id, said=said, do=do, aircraft=finding.aircraft)
