"""By what a step is done is called out: specification, type, class and bake, refused where the bake does not hold."""

import uuid
from dataclasses import asdict
from datetime import datetime

from witnessmark.calc.surface.instruction import CALLED, CalledOutBy, refuse_call
from witnessmark.calc.surface.processes import processes_of
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.lookups.instructions import told_of
from witnessmark.records.models import Act, CalledOut, Person, Step


def why_not_called(step: Step, called: CalledOutBy) -> str:
    """Say why this cannot be called out for this step; empty where it can."""
    if not CALLED & set(processes_of(step.name)):
        return f"'{step.name}' is no plating, film or bake: nothing is called out for it."
    if not called.spec and not called.bake_spec:
        return "Nothing is called out. Write the specification of the plating or of the bake."
    wrong = refuse_call(called)
    if wrong:
        return wrong
    told = told_of(step.piece, [step], called)
    # A specification without a bake of its own is written down: the sheet goes on asking for the bake.
    if told.withheld and (called.bake_spec or not told.withheld.startswith("No bake is called out")):
        return f"{told.withheld} No bath is released."
    return ""


def call_out(
    *, by: Person, act_id: uuid.UUID, step: Step, called: CalledOutBy, happened_at: datetime | None = None
) -> Result:
    """Write down by what a step of a part is done; the newest counts, the earlier ones stay to be read.

    A bake that does not hold for this part is refused: unknown strength, a spring, case-hardened or cold-straightened, or
    hotter than the part may see.
    """
    wrong = why_not_called(step, called)
    if wrong:
        raise Refused(f"{wrong} Nothing was changed; what was typed stands below.")

    def do(act: Act) -> Result:
        row = CalledOut.objects.create(
            piece=step.piece, step_number=step.number, step_name=step.name, act=act, **asdict(called)
        )
        return {"piece": step.piece_id, "step": step.number, "called_out": row.pk}

    said = {"piece": step.piece_id, "step": step.number, **asdict(called)}
    return say(
        "call_out", by=by, act_id=act_id, said=said, do=do, aircraft=step.piece.aircraft, happened_at=happened_at
    )
