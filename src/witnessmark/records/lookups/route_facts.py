"""What a proposed route hangs on: read from the record where it holds it, asked where it does not."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from witnessmark.calc.bags.leaving import traits_of
from witnessmark.calc.surface.decorative import decorative_chrome
from witnessmark.calc.surface.order_rules import RuleBreach, check_route
from witnessmark.calc.surface.processes import processes_of
from witnessmark.calc.surface.proposal import PartToRoute, Proposal, propose_route
from witnessmark.calc.surface.route_asks import FACTS, Fact, part_with, withheld_by_nature
from witnessmark.records.lookups.nature import leaving_of, natures
from witnessmark.records.lookups.pieces import opposite_of
from witnessmark.records.models import Piece, RouteFact, Step, TemplateStep

TRAITS = {"closed tube": "closed", "spring": "spring", "case-hardened": "case-hardened", "carries a load": "load"}


@dataclass(frozen=True)
class Proposed:
    """A route for this very piece: the proposal, what is done of it, and what its steps would be."""

    proposal: Proposal
    facts: tuple[Fact, ...]
    done: tuple[Step, ...]
    new: tuple[Step, ...]
    breaches: tuple[RuleBreach, ...]
    withheld: str

    @property
    def may_be_used(self) -> bool:
        return not self.withheld and bool(self.new) and not self.stopped

    @property
    def stopped(self) -> tuple[RuleBreach, ...]:
        """Hard rules that the new steps would break; what is done already is behind the piece."""
        return tuple(b for b in self.breaches if b.hard and max(b.steps) > len(self.done))


def facts_of(piece: Piece) -> tuple[Fact, ...]:
    """Read what a route hangs on: what was said goes before what words suggest."""
    return facts_of_many([piece])[piece.pk]


def facts_of_many(pieces: Sequence[Piece]) -> dict[int, tuple[Fact, ...]]:
    """The same of many pieces, in a number of queries that does not grow with them."""
    ids = [piece.pk for piece in pieces]
    said: dict[int, dict[str, bool | None]] = {}
    for pk, fact, holds in RouteFact.objects.filter(piece__in=ids).order_by("id").values_list("piece", "fact", "holds"):
        said.setdefault(pk, {})[fact] = holds
    nature = natures(ids)
    return {piece.pk: _facts(piece, said.get(piece.pk, {}), nature.get(piece.pk, {})) for piece in pieces}


def _facts(piece: Piece, said: Mapping[str, bool | None], nature: Mapping[str, bool]) -> tuple[Fact, ...]:
    by_words = {trait.name: trait.by_word for trait in traits_of(replace(leaving_of(piece), said=nature))}
    text = f"{piece.name} {piece.material} {piece.finish} {piece.as_found}".lower()
    found = []
    for name, (words, pattern, waits) in FACTS.items():
        trait, match = TRAITS.get(name, ""), re.search(pattern, text)
        holds: bool | None = None
        come_from = "not in the record"
        if said.get(name) is not None:
            holds, come_from = said[name], "said"
        elif trait in nature:
            holds, come_from = nature[trait], "said when it was packed"
        elif trait in by_words or match:
            word = by_words.get(trait) or (match[0] if match else "")
            holds, come_from = True, f"the record says '{word.strip()}'"
        elif name in said:
            come_from = "said to be unknown"
        found.append(Fact(name, words, holds, come_from, waits))
    return tuple(found)


def part_of(
    piece: Piece, facts: Sequence[Fact], finish: str, work: Sequence[str], thickness_mm: float | None
) -> PartToRoute:
    """The piece as a proposal asks for it; what nobody knows is left as not so, and asked elsewhere."""
    strength = piece.strength_mpa if piece.strength_mpa and piece.strength_mpa > 0 else None
    material = f"{piece.material} {piece.name}".strip() if piece.material else ""
    return part_with(material, strength, finish, work, thickness_mm, facts)


def proposed_for(piece: Piece, finish: str, work: Sequence[str], thickness_mm: float | None = None) -> Proposed:
    """Propose the route of a piece from the record; raises ValueError for a finish or work that is not held."""
    facts = facts_of(piece)
    part = part_of(piece, facts, finish, work, thickness_mm)
    strength, material = part.strength_mpa, part.material
    # The opposite is asked for only where it must look the same.
    proposal = propose_route(replace(part, pair=finish == "decorative chrome" and opposite_of(piece) is not None))
    before = list(Step.objects.filter(piece=piece).select_related("done_act").order_by("number"))
    done = [step for step in before if step.done_act_id is not None]
    undone = [step for step in before if step.done_act_id is None]
    names = _not_done(proposal.steps, done)
    # Its going home stays at the end of its route.
    names += [step.name for step in undone if "put back" in processes_of(step.name)]
    new = _as_steps(piece, names, undone)
    line = [step.name for step in done] + names
    return Proposed(
        proposal, facts, tuple(done), new, check_route(line, material, strength), proposal.withheld or withheld_by_nature(finish, facts)
    )  # fmt: skip


def _not_done(names: Sequence[str], done: Sequence[Step]) -> list[str]:
    """Drop what is done already, in the order in which it was done."""
    at, left = 0, []
    # Work has begun: what was not documented before it can only be told, not done.
    for name in names[1:] if done and names[:1] == ("document as found",) and not _documented(done) else names:
        wanted = processes_of(name) or (name,)
        hit = next((n for n in range(at, len(done)) if (processes_of(done[n].name) or (done[n].name,)) == wanted), None)
        if hit is None:
            left.append(name)
        else:
            at = hit + 1
    return left


def _documented(done: Sequence[Step]) -> bool:
    return any("document" in processes_of(step.name) for step in done)


def _as_steps(piece: Piece, names: Sequence[str], undone: Sequence[Step]) -> tuple[Step, ...]:
    """Who does each and how long it takes: as the piece's own route had it, else as a template of the shop has it."""
    known: dict[tuple[str, ...], Step | TemplateStep] = {}
    shop: list[Step | TemplateStep] = [*undone, *TemplateStep.objects.order_by("template__name", "number")]
    for row in shop:
        known.setdefault(processes_of(row.name) or (row.name.lower(),), row)
        for process in processes_of(row.name):
            known.setdefault((process,), row)
    made = []
    for name in names:
        like = known.get(processes_of(name) or (name.lower(),)) or next(
            (known[(process,)] for process in processes_of(name) if (process,) in known), None
        )
        step = Step(piece=piece, name=name, template="proposed", who=like.who if like else "", number=0)
        if like is not None and len(processes_of(like.name)) <= 1:
            step.hours_least, step.hours_likely, step.hours_most = like.hours_least, like.hours_likely, like.hours_most
            step.bench, step.cures_hours, step.needs = like.bench, like.cures_hours, list(like.needs)
            step.next_within_hours, step.caution = like.next_within_hours, like.caution
        if "decorative chrome" in processes_of(name):
            step.caution = decorative_chrome(False, False, False).sentence
        made.append(step)
    return tuple(made)
