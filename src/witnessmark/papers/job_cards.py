"""Job cards: one page a part, with its code, its steps to sign, its clocks, rules and cautions."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from witnessmark.calc.surface.instruction import Instruction
from witnessmark.calc.surface.processes import cautions_for
from witnessmark.papers.typesetting import Stamp, address_of, code_svg, short_day, stamp_for, typeset
from witnessmark.records.lookups.instructions import told_of_routes
from witnessmark.records.lookups.routes import UNTIMED, RouteSeen, route_seen
from witnessmark.records.models import Aircraft, RouteReason, Step

# A card for every part of an aircraft would be a book: without tags only what is at work is printed.
MOST_CARDS = 60


@dataclass(frozen=True)
class JobCards:
    """The cards of one file."""

    stamp: Stamp
    cards: tuple[RouteSeen, ...]
    left_out: int
    reasons: Mapping[int, Sequence[RouteReason]] = field(default_factory=dict)
    told: Mapping[int, Mapping[int, Instruction]] = field(default_factory=dict)


def gather(aircraft: Aircraft | None, tags: Sequence[str] = ()) -> JobCards:
    """The cards of these tags, or of the parts whose route has begun and is not ended."""
    steps = Step.objects.filter(piece__aircraft=aircraft).exclude(piece__tag=None)
    if tags:
        steps = steps.filter(piece__tag__in=tags)
    rows = steps.select_related("piece__aircraft", "done_act__person").order_by("piece__tag", "number")
    seen = []
    for _, group in groupby(rows, key=lambda step: step.piece_id):
        mine = list(group)
        done = sum(step.done_act_id is not None for step in mine)
        if tags or 0 < done < len(mine):
            seen.append(route_seen(mine[0].piece, mine))
    reasons: dict[int, list[RouteReason]] = {}
    printed = [each.piece.pk for each in seen[:MOST_CARDS]]
    for row in RouteReason.objects.filter(piece__in=printed).select_related("by", "act").order_by("id"):
        reasons.setdefault(row.piece_id, []).append(row)
    told = told_of_routes({each.piece.pk: (each.piece, each.steps) for each in seen[:MOST_CARDS]})
    return JobCards(stamp_for(aircraft), tuple(seen[:MOST_CARDS]), max(0, len(seen) - MOST_CARDS), reasons, told)


def _signed(step: Step) -> str:
    act = step.done_act
    if act is None:
        return ""
    return "done, says the list" if act.verb == UNTIMED else f"{act.person.name}, {short_day(act.happened_at.date())}"


def _told(told: Instruction | None) -> list[str]:
    """By what a step is done: called out, bake, masked, oven; first why it is not released."""
    return [] if told is None else [*filter(None, [told.withheld]), *told.lines]


def _printed(seen: RouteSeen, reasons: Sequence[RouteReason], told: Mapping[int, Instruction]) -> dict[str, object]:
    piece = seen.piece
    names = {place: step.name for place, step in enumerate(seen.steps, start=1)}
    material = f"{piece.material} {piece.name}"
    said = [
        f"Made of {piece.material or 'what nobody wrote down'}; "
        f"{f'{piece.strength_mpa:,.0f} MPa' if piece.strength_mpa else 'strength not recorded'}.",
        f"Tag: {seen.medium}, from memory; off for {', '.join(seen.tag_off)}."
        if seen.tag_off
        else f"Tag: {seen.medium}.",
        *(f"{names[c.from_step]}, then {names[c.to_step]}: {c.sentence} ({c.source}, {c.status})" for c in seen.clocks),
    ]
    strength = piece.strength_mpa if piece.strength_mpa and piece.strength_mpa > 0 else None
    return {
        "tag": piece.tag or "",
        "name": f"{piece.name}{'' if piece.side == 'C' else ', ' + piece.get_side_display()}.",
        "code": code_svg(address_of(piece.tag or "")),
        "said": said,
        "steps": [
            {
                "number": str(step.number),
                "name": step.name,
                "who": step.who,
                "signed": _signed(step),
                "told": [] if step.done_act_id else _told(told.get(step.number)),
                "cautions": [
                    f"{c.text} Hand over to: {c.hand_over}."
                    for c in ([] if step.done_act_id else cautions_for(step.name, material, piece.finish, strength))
                ],
            }
            for step in seen.steps
        ],
        "reasons": [
            f"Signed by {row.by.name}, {short_day(row.act.happened_at.date())}, for {row.rule} at {row.step_name}: {row.reason}"
            for row in reasons
        ],
        "rules": [
            f"{'Stops the route' if b.hard else 'Asks a signed reason'}: {b.sentence} ({b.source}, {b.status})"
            for b in seen.breaches
        ],
    }


def pdf(data: JobCards) -> bytes:
    """Set the cards, each on a page of its own."""
    empty = "No part of this choice has a route that is under way."
    note = f"{data.left_out} more are under way: ask for them by tag." if data.left_out else ""
    cards = [
        _printed(seen, data.reasons.get(seen.piece.pk, ()), data.told.get(seen.piece.pk, {})) for seen in data.cards
    ]
    return typeset("job_cards.typ", {"cards": cards, "empty": empty, "note": note}, data.stamp, [])
