"""What a vendor, or a mechanic, is told of the steps of a part: called out, bake, masking, oven; from the record."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from witnessmark.calc.surface.instruction import BATHS, BakeHeld, CalledOutBy, Instruction, bake_held, instruct
from witnessmark.calc.surface.oven_caps import PLATED, coats_on, oven_cap
from witnessmark.calc.surface.processes import is_steel, processes_of
from witnessmark.calc.surface.proposal import PLATES, masking_list
from witnessmark.calc.surface.route_asks import Fact, kind_of
from witnessmark.records.lookups.route_facts import facts_of_many, part_of
from witnessmark.records.lookups.routes import as_found
from witnessmark.records.models import CalledOut, Piece, Step


@dataclass(frozen=True)
class Instructed:
    """One piece's next steps at one vendor, with what they are done by."""

    piece: Piece
    steps: tuple[Step, ...]
    told: Instruction
    route: tuple[Step, ...]
    process: str

    @property
    def names(self) -> str:
        return ", then ".join(step.name for step in self.steps)

    @property
    def held(self) -> BakeHeld:
        """What its bake says before it leaves; one that the shipment's words name, or a later step, counts as one that follows."""
        last = self.steps[-1].number
        later = [step.name for step in self.route if step.number > last]
        return bake_held(self.told, [step.name for step in self.steps], [*later, self.process])

    @property
    def baked_there(self) -> bool:
        """Whether a bake is done there: it stands in his steps, or what was called out asks one."""
        return bool(self.told.asked) or any("bake" in processes_of(step.name) for step in self.steps)


def made_of(piece: Piece) -> str:
    """What it is made of: as written, else the alloy of its size; empty where nobody wrote it down."""
    return piece.material or (piece.size.alloy if piece.size else "")


def strength_words(piece: Piece) -> str:
    """Its strength; where the record has no figure of its own, that is not said as if its material named none."""
    if piece.strength_mpa:
        return f"{piece.strength_mpa:,.0f} MPa"
    return "its own strength not measured" if re.search(r"\d\s*(MPa|ksi)", made_of(piece)) else "strength not known"


def called_for(pieces: Iterable[int]) -> dict[tuple[int, int, str], CalledOutBy]:
    """The newest word on each step of these pieces, by piece, number and name of the step."""
    return {
        (row.piece_id, row.step_number, row.step_name): CalledOutBy(
            row.spec, row.kind, row.code, row.bake_spec, row.section_mm, row.temper_c
        )
        for row in CalledOut.objects.filter(piece__in=list(pieces)).order_by("id")
    }


def told_of(piece: Piece, steps: Sequence[Step], called: CalledOutBy | None) -> Instruction:
    """What is told of these steps of one piece when this is called out."""
    route = list(Step.objects.filter(piece=piece).order_by("number"))
    return _told(piece, steps, called, facts_of_many([piece])[piece.pk], route)


def _told(
    piece: Piece, steps: Sequence[Step], called: CalledOutBy | None, facts: Sequence[Fact], route: Sequence[Step]
) -> Instruction:
    names = [step.name for step in steps]
    named = {process for name in names for process in processes_of(name)}
    finish = next((plate for plate in PLATES if any(plate in name.lower() for name in names)), "none")
    material = f"{made_of(piece)} {piece.name}"
    strength = piece.strength_mpa if piece.strength_mpa and piece.strength_mpa > 0 else None
    kind, earlier = kind_of(facts), [step.name for step in route if steps and step.number < steps[0].number]
    straightened = any("straighten" in processes_of(name) for name in earlier)
    if not kind and straightened and is_steel(material):
        kind = "cold-straightened"
    # What is on it in the oven. A plate's own bake is its specification's to say, and another's figure does not count.
    row = [*earlier, *names[:-1], *(names[-1:] if len(names) == 1 else ())]
    coats = [coat for coat in coats_on(as_found(piece), row) if coat not in PLATED]
    holds = {fact.name: bool(fact.holds) for fact in facts}
    told = instruct(
        names, material, strength, called, kind if named & {"plate", "bake"} else "",
        masking_list(part_of(piece, facts, finish, (), None)), oven_cap(made_of(piece), coats),
        holds["worked after hardening"],
    )  # fmt: skip
    if named & BATHS and not made_of(piece):
        unknown = "Its material is not recorded: no bath until somebody knows it."
        return replace(told, withheld=unknown, asked=(), bake_open=False, bake_harms=False)
    return told


def instructed(pieces: Sequence[Piece], vendor_code: str, process: str) -> dict[int, Instructed]:
    """The next steps that each piece has at a vendor, in one row, with what he is told of them.

    A piece whose route names no step of his goes by the words of the shipment's process.
    """
    told = instructed_many([(piece, vendor_code, process) for piece in pieces])
    return {each.piece.pk: each for each in told}


def instructed_many(asked: Sequence[tuple[Piece, str, str]]) -> list[Instructed]:
    """The same of pieces of many shipments: each with its vendor's code and process, in a number of queries that stays."""
    pieces = list({piece.pk: piece for piece, _, _ in asked}.values())
    ids = [piece.pk for piece in pieces]
    routes: dict[int, list[Step]] = {}
    for step in Step.objects.filter(piece__in=ids).order_by("piece_id", "number"):
        routes.setdefault(step.piece_id, []).append(step)
    facts, called = facts_of_many(pieces), called_for(ids)
    found = []
    for piece, vendor_code, process in asked:
        route = routes.get(piece.pk, [])
        steps = _row(route, vendor_code) or [Step(piece=piece, number=len(route) + 1, name=process, who=vendor_code)]
        told = _told(piece, steps, _called(piece, steps, called), facts[piece.pk], route)
        found.append(Instructed(piece, tuple(steps), told, tuple(route), process))
    return found


def _row(route: Sequence[Step], vendor_code: str) -> list[Step]:
    """His first step that is not done, and those right after it that are his too."""
    first = next((n for n, s in enumerate(route) if s.done_act_id is None and s.who == vendor_code), None)
    if first is None:
        return []
    last = next((n for n in range(first, len(route)) if route[n].who != vendor_code), len(route))
    return list(route[first:last])


def _called(
    piece: Piece, steps: Sequence[Step], called: Mapping[tuple[int, int, str], CalledOutBy]
) -> CalledOutBy | None:
    """What was called out of a row of steps: of its first plating, with the bake named at either."""
    words = [called[key] for step in steps if (key := (piece.pk, step.number, step.name)) in called]
    if not words:
        return None
    first = words[0]
    bake = next((word for word in words if word.bake_spec), first)
    return CalledOutBy(
        first.spec, first.kind, first.code, bake.bake_spec, bake.section_mm or first.section_mm,
        bake.temper_c or first.temper_c,
    )  # fmt: skip


def told_of_steps(piece: Piece, steps: Sequence[Step]) -> dict[int, Instruction]:
    """What is told of each step of one piece by itself, by its number: for the card that goes with the part."""
    facts, called = facts_of_many([piece])[piece.pk], called_for([piece.pk])
    return _by_number(piece, steps, facts, called)


def told_of_routes(routes: Mapping[int, tuple[Piece, Sequence[Step]]]) -> dict[int, dict[int, Instruction]]:
    """The same of many pieces, in a number of queries that does not grow with them."""
    facts, called = facts_of_many([piece for piece, _ in routes.values()]), called_for(routes)
    return {pk: _by_number(piece, steps, facts[pk], called) for pk, (piece, steps) in routes.items()}


def _by_number(
    piece: Piece,
    steps: Sequence[Step],
    facts: Sequence[Fact],
    called: Mapping[tuple[int, int, str], CalledOutBy],
) -> dict[int, Instruction]:
    found = {}
    for place, step in enumerate(steps):
        row = [s for s in (step, *steps[place + 1 : place + 2], *steps[max(0, place - 1) : place]) if s.who == step.who]
        found[step.number] = _told(piece, [step], _called(piece, row, called), facts, steps)
    return found
