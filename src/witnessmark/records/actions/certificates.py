"""Papers that shipments must bring back, and the quarantine in which pieces wait for them."""

import math
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime

from witnessmark.calc.bags.leaving import Paper
from witnessmark.records.actions.saying import NotAllowed, Refused, Result, say
from witnessmark.records.lookups.certificate_times import held_by_times
from witnessmark.records.models import (
    Act,
    Certificate,
    CertificateKind,
    CertificateTimes,
    Person,
    PhotoUse,
    Piece,
    Quarantine,
    Role,
    Shipment,
    Untraced,
)
from witnessmark.records.photo_store import keep_bytes


@dataclass(frozen=True)
class BakeTimes:
    """The times of a bake as the certificate gives them; None where it is silent, which is read as a fault."""

    spec: str = ""
    out_of_bath: datetime | None = None
    into_oven: datetime | None = None
    hours: float | None = None
    oven_c: float | None = None
    section_mm: float | None = None


def refuse_quarantined(pieces: Sequence[Piece], cannot: str) -> None:
    """Refuse an act with a piece that waits for its papers."""
    held = Quarantine.objects.filter(piece__in=pieces, lifted_act=None).select_related("piece").first()
    if held is not None:
        raise Refused(
            f"{held.piece} is in quarantine and {cannot}: {held.why}. Nothing was changed. "
            "Bring the paper, or let an inspector lift it with a reason."
        )


def refuse_untraced(piece: Piece) -> None:
    """Refuse to fit what nothing is known of."""
    if Untraced.objects.filter(piece=piece, shown_act=None).exists():
        raise Refused(
            f"{piece} is untraced: nothing shows where it comes from. It was not fitted, nothing was changed. "
            "Show its papers, or what an inspector knew it by."
        )


def expect(act: Act, shipment: Shipment, papers: Iterable[Paper]) -> None:
    """Note what this shipment must bring back."""
    Certificate.objects.bulk_create(
        [Certificate(shipment=shipment, kind=paper.kind, why=paper.why[:300], act=act) for paper in papers]
    )


def _missing(shipment: Shipment) -> list[Certificate]:
    return list(Certificate.objects.filter(shipment=shipment, came_on=None).order_by("id"))


def hold_back(act: Act, shipment: Shipment, pieces: Iterable[int]) -> list[int]:
    """Put what came back into quarantine while a paper of its shipment is missing; give what was put there."""
    missing, back = _missing(shipment), list(dict.fromkeys(pieces))
    why = f"shipment {shipment.number} has not brought its {' and its '.join(c.get_kind_display() for c in missing)}"
    whys = dict.fromkeys(back, why) if missing else held_by_times(shipment, back)
    held = set(Quarantine.objects.filter(shipment=shipment, lifted_act=None).values_list("piece_id", flat=True))
    new = [pk for pk in back if pk in whys and pk not in held]
    Quarantine.objects.bulk_create(
        [Quarantine(piece_id=pk, shipment=shipment, why=_short(whys[pk]), act=act) for pk in new]
    )
    return new


def _short(why: str) -> str:
    return why if len(why) <= 300 else f"{why[:299]}…"


def expect_certificate(*, by: Person, act_id: uuid.UUID, shipment: Shipment, kind: str, why: str = "") -> Result:
    """Ask for one paper more than the process asks for; what is back already goes into quarantine for it."""
    if kind not in CertificateKind.values:
        raise Refused(f"'{kind}' is no paper that is asked here. Nothing was changed.")

    def do(act: Act) -> Result:
        Shipment.objects.select_for_update().get(pk=shipment.pk)
        if Certificate.objects.filter(shipment=shipment, kind=kind).exists():
            raise Refused(f"Shipment {shipment.number} must bring that already. Nothing was changed.")
        Certificate.objects.create(shipment=shipment, kind=kind, why=why.strip()[:300], act=act)
        back = shipment.lines.filter(count_back__gt=0).values_list("piece_id", flat=True)
        return {"shipment": shipment.number, "kind": kind, "quarantined": len(hold_back(act, shipment, back))}

    said = {"shipment": shipment.pk, "kind": kind, "why": why.strip()}
    return say("expect_certificate", by=by, act_id=act_id, said=said, do=do)


def certificate_came(
    *,
    by: Person,
    act_id: uuid.UUID,
    certificate: Certificate,
    came_on: date,
    number: str = "",
    picture: bytes | None = None,
    picture_name: str = "",
    times: BakeTimes | None = None,
) -> Result:
    """File a paper, with its picture. With the last one of its shipment the quarantine ends by itself.

    A bake certificate brings its times: what is over its limit, or missing, stays in quarantine and goes to the
    engineer. The program files it; the person who signs reads it.
    """
    if not by.may_write:
        raise NotAllowed(f"{by.name} may look, not add. Nothing was changed.")
    if picture is None and not number.strip():
        raise Refused("A paper has a number or a picture. Nothing was changed. Photograph it, or write its number.")
    read = times or BakeTimes()
    if certificate.kind == CertificateKind.BAKE:
        _refuse_no_times(read)
    elif times is not None:
        raise Refused(f"A {certificate.get_kind_display()} has no times of a bake. Nothing was changed.")
    photo = keep_bytes(picture, picture_name) if picture is not None else None

    def do(act: Act) -> Result:
        Shipment.objects.select_for_update().get(pk=certificate.shipment_id)
        paper = Certificate.objects.select_related("shipment").get(pk=certificate.pk)
        if paper.came_on is not None:
            raise Refused(f"The {paper.get_kind_display()} is here already. Nothing was changed.")
        paper.came_on, paper.number, paper.came_act = came_on, number.strip()[:60], act
        paper.photo = photo
        paper.save(update_fields=["came_on", "number", "came_act", "photo"])
        if photo is not None:
            for line in paper.shipment.lines.all():
                what = f"{paper.get_kind_display()} of shipment {paper.shipment.number}"
                if not PhotoUse.objects.filter(photo=photo, piece_id=line.piece_id).exists():
                    PhotoUse.objects.create(photo=photo, piece_id=line.piece_id, what=what, act=act)
        if paper.kind == CertificateKind.BAKE:
            CertificateTimes.objects.create(certificate=paper, act=act, **asdict(read))
        lifted, held = 0, dict[int, str]()
        if not _missing(paper.shipment):
            back = list(paper.shipment.lines.filter(count_back__gt=0).values_list("piece_id", flat=True))
            held = held_by_times(paper.shipment, back)
            waiting = Quarantine.objects.filter(shipment=paper.shipment, lifted_act=None)
            kept = list(waiting.filter(piece_id__in=held).values_list("piece_id", flat=True))
            lifted = waiting.update(lifted_act=act, lifted_why="its papers are here") - len(kept)
            hold_back(act, paper.shipment, back)
        return {"shipment": paper.shipment.number, "kind": paper.kind, "lifted": lifted, "held": len(held)}

    said: dict[str, object] = {
        "certificate": certificate.pk,
        "came_on": came_on,
        "number": number.strip(),
        "photo": photo.sha256 if photo else None,
    }
    if times is not None:
        said["times"] = asdict(times)
    return say("certificate_came", by=by, act_id=act_id, said=said, do=do)


def _refuse_no_times(read: BakeTimes) -> None:
    for value, what in ((read.hours, "Hours in the oven"), (read.oven_c, "The oven"), (read.section_mm, "A section")):
        if value is not None and not (math.isfinite(value) and 0 < value < 5000):
            raise Refused(f"{what}: {value:g} cannot be. Nothing was changed. Read the certificate again.")
    if read.out_of_bath and read.into_oven and read.into_oven < read.out_of_bath:
        raise Refused("It goes into the oven after it left the bath. Nothing was changed. Read the times again.")


def lift_quarantine(*, by: Person, act_id: uuid.UUID, quarantine: Quarantine, why: str) -> Result:
    """Let a piece out of quarantine without its paper: an inspector's or the lead's word, with the reason kept."""
    if not why.strip():
        raise Refused("Quarantine ends with a reason. Nothing was changed. Write why.")

    def do(act: Act) -> Result:
        done = Quarantine.objects.filter(pk=quarantine.pk, lifted_act=None).update(
            lifted_act=act, lifted_why=why.strip()[:300]
        )
        if not done:
            raise Refused("It is out of quarantine already. Nothing was changed.")
        return {"piece": quarantine.piece_id}

    said = {"quarantine": quarantine.pk, "why": why.strip()}
    return say(
        "lift_quarantine",
        by=by,
        act_id=act_id,
        said=said,
        do=do,
        aircraft=quarantine.piece.aircraft,
        roles=(Role.INSPECTOR, Role.LEAD),
    )


def show_trace(*, by: Person, act_id: uuid.UUID, piece: Piece, papers: str) -> Result:
    """Say by which papers or marks an untraced piece is known after all."""
    if not papers.strip():
        raise Refused("Say by which papers or marks it is known. Nothing was changed.")

    def do(act: Act) -> Result:
        done = Untraced.objects.filter(piece=piece, shown_act=None).update(shown_act=act, papers=papers.strip()[:300])
        if not done:
            raise Refused(f"{piece} is not untraced. Nothing was changed.")
        return {"piece": piece.pk}

    said = {"piece": piece.pk, "papers": papers.strip()}
    return say(
        "show_trace",
        by=by,
        act_id=act_id,
        said=said,
        do=do,
        aircraft=piece.aircraft,
        roles=(Role.INSPECTOR, Role.LEAD),
    )
