"""What one piece of the shop's own work keeps from a vendor."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Exists, OuterRef

from witnessmark.records.lookups.outwork import HERE, undecided_findings
from witnessmark.records.lookups.where import Standing, standings
from witnessmark.records.models import Piece, Step, Vendor


@dataclass(frozen=True)
class NearlyReady:
    """A piece that is here, one step of the shop's own short of a vendor."""

    piece: Piece
    step: Step
    then: Step
    standing: Standing

    @property
    def vendor_code(self) -> str:
        return self.then.who


def one_step_short(vendor_codes: Sequence[str]) -> list[NearlyReady]:
    """Pieces whose next step is the shop's own and whose next but one is one of these vendors'."""
    outside = set(Vendor.objects.values_list("code", flat=True))
    earlier = Step.objects.filter(piece=OuterRef("piece"), done_act=None, number__lt=OuterRef("number"))
    firsts = list(
        Step.objects.filter(~Exists(earlier), done_act=None)
        .exclude(who__in=outside)
        .select_related("piece__size")
        .order_by("piece__tag", "piece_id")
    )
    later: dict[int, Step] = {}
    first_number = {step.piece_id: step.number for step in firsts}
    for step in Step.objects.filter(piece_id__in=list(first_number), done_act=None).order_by("piece_id", "number"):
        if step.number > first_number[step.piece_id]:
            later.setdefault(step.piece_id, step)
    wanted = set(vendor_codes)
    near = [step for step in firsts if step.piece_id in later and later[step.piece_id].who in wanted]
    where = standings([step.piece for step in near])
    undecided = undecided_findings([step.piece_id for step in near])
    found = []
    for step in near:
        at = where[step.piece_id]
        if len(at) == 1 and at[0].holder.kind in HERE and step.piece_id not in undecided:
            found.append(NearlyReady(step.piece, step, later[step.piece_id], at[0]))
    return found
