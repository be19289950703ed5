"""The groups of a reading as people corrected them: pieces moved, groups joined, parted and called otherwise."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from witnessmark.records.models import Act, Answer

OWN = "own"
Described = Callable[[Mapping[str, Any], list[int], Mapping[int, Mapping[str, Any]]], dict[str, Any]]


def groups_of(reading: Answer, but: Act | None = None) -> list[dict[str, Any]]:
    """The groups with every correction in them but that of one act under way, in order; the reading stays as it was."""
    groups = [dict(group) for group in reading.result.get("groups", [])]
    known = {p["number"]: p for p in reading.result.get("pieces", [])}
    for act in Act.objects.filter(verb="regroup_mat", said__reading=reading.pk, undone_by=None).order_by("recorded_at"):
        if act != but:
            groups = corrected(groups, known, act.said)
    return groups


def sentences(readings: Sequence[Answer]) -> dict[int, str]:
    """How many pieces in how many groups each picture shows, with every correction in it; one query."""
    told = {r.pk: r.result for r in readings if r.result.get("sentence")}
    groups = {pk: list(result.get("groups", [])) for pk, result in told.items()}
    acts = Act.objects.filter(verb="regroup_mat", said__reading__in=list(told), undone_by=None).order_by("recorded_at")
    for act in acts:
        pk = act.said["reading"]
        groups[pk] = corrected(groups[pk], {}, act.said, lambda group, inside, _: dict(group) | {"pieces": inside})
    return {pk: sentence_now(result, groups[pk]) for pk, result in told.items()}


def sentence_now(result: Mapping[str, Any], groups: Sequence[Mapping[str, Any]]) -> str:
    """What the picture shows in a sentence, by the groups as they are now."""
    from witnessmark.calc.mat.reading import in_words

    def said(rows: Sequence[Mapping[str, Any]]) -> str:
        alike = [g for g in rows if not g["for_person"]]
        return in_words(sum(len(g["pieces"]) for g in alike), len(alike), len(rows) - len(alike))

    was, sentence = result.get("groups", []), str(result["sentence"])
    return sentence.replace(said(was), said(groups), 1) if len(was) != len(groups) else sentence


def corrected(
    groups: Sequence[Mapping[str, Any]],
    known: Mapping[int, Mapping[str, Any]],
    said: Mapping[str, Any],
    described: Described | None = None,
) -> list[dict[str, Any]]:
    """Apply one correction. Groups that gain or lose a piece are described anew from what was measured on their pieces."""
    anew = described or _described
    if said["name"]:
        return [dict(g) | ({"name": said["name"]} if g["number"] == said["to"] else {}) for g in groups]
    moved = set(said["pieces"])
    told: list[dict[str, Any]] = []
    for group in groups:
        inside = [n for n in group["pieces"] if n not in moved]
        if group["number"] == said["to"]:
            inside = sorted({*inside, *moved})
        if inside == list(group["pieces"]):
            told.append(dict(group))
        elif inside:
            told.append(anew(group, inside, known))
    if said["to"] == OWN:
        number = max((g["number"] for g in groups), default=0) + 1
        first = next(g for g in groups if moved & set(g["pieces"]))
        told.append(anew(dict(first) | {"number": number}, sorted(moved), known))
    return told


def _described(group: Mapping[str, Any], inside: list[int], known: Mapping[int, Mapping[str, Any]]) -> dict[str, Any]:
    from witnessmark.calc.mat.groups import describe
    from witnessmark.calc.mat.pieces import Figure, Piece

    def figure(told: Mapping[str, float] | None) -> Figure | None:
        return Figure(**told) if told else None

    members = [
        Piece(
            **dict(known[n])
            | {
                "figures_mm": {name: Figure(**f) for name, f in known[n]["figures_mm"].items()},
                "head_angle_deg": figure(known[n]["head_angle_deg"]), "pitch_mm": figure(known[n]["pitch_mm"]),
            }
        )
        for n in inside
    ]  # fmt: skip
    made = asdict(describe(int(group["number"]), members))
    return made | {"pieces": list(made["pieces"])}
