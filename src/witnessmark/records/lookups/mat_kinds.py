"""What a bag holds by all that was filed into it, called and read on it, held against what a picture shows."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from django.db.models import Sum

from witnessmark.calc.bags.next_reading import feature_words
from witnessmark.calc.mat.kinds import Figures, kinds_called, kinds_of, many, size_apart
from witnessmark.records.lookups.piece_readings import standing_readings
from witnessmark.records.models import Act, Answer, HolderKind, Holding, Mix, Piece, PieceKind, ToldApart

FILING = ("file_from_mat", "file_boxes")


@dataclass(frozen=True)
class Things:
    """What lies together: the shapes of a picture, what it is called, what was read; `mixed` where a person said so."""

    shapes: frozenset[str] = frozenset()
    words: str = ""
    figures: Figures = field(default_factory=dict)
    count: int = 0
    mixed: bool = False

    @property
    def kinds(self) -> frozenset[str]:
        return kinds_of(self.shapes, self.words)

    @property
    def called(self) -> str:
        """In the plural, as it is said over a bench."""
        return many(self.kinds, self.shapes)


def shown_things(reading: Answer, pieces: Sequence[int], words: str = "") -> Things:
    """What the picture shows of these pieces; `words` is what a person calls them."""
    chosen = set(pieces)
    shapes = {p["number"]: p["family"] for p in reading.result.get("pieces", []) if p.get("family")}
    for group in reading.result.get("groups", []):
        shapes |= {n: group["family"] for n in group["pieces"] if n not in shapes and group.get("family")}
    told: Mapping[str, Mapping[str, Sequence[float]]] = reading.result.get("returned", {})
    figures: dict[str, list[tuple[float, float]]] = {}
    for number in chosen:
        for what, (value, sigma) in told.get(str(number), {}).items():
            figures.setdefault(what, []).append((value, sigma))
    seen = frozenset(shapes[n] for n in chosen if n in shapes and shapes[n] != "unknown")
    return Things(seen, words, figures, len(chosen))


def held_things(bags: Iterable[Piece]) -> dict[int, Things]:
    """What each of these bags holds, by every filing that stands; the number of queries does not grow with the bags."""
    known = {bag.pk: bag for bag in bags}
    rows = Holding.objects.filter(piece__in=known, count__gt=0).values_list("piece").annotate(n=Sum("count")).order_by()
    counts = Counter(dict(rows))
    acts = list(Act.objects.filter(verb__in=FILING, undone_by=None, moves__to_piece__in=known).distinct())
    readings = Answer.objects.in_bulk([act.said["reading"] for act in acts])
    tags = {bag.tag: pk for pk, bag in known.items() if bag.tag}
    shapes: dict[int, set[str]] = {}
    mixed: set[int] = set()
    for act in acts:
        for said in act.said["boxes"] if act.verb == "file_boxes" else [act.said]:
            pk = tags.get(said["tag"])
            if pk is None:
                continue
            shapes.setdefault(pk, set()).update(shown_things(readings[act.said["reading"]], said["pieces"]).shapes)
            if said.get("mixed"):
                mixed.add(pk)
    figures: dict[int, dict[str, list[tuple[float, float]]]] = {}
    for row in standing_readings(known):
        figures.setdefault(row.piece_id, {}).setdefault(row.what, []).append((row.value, row.uncertainty))
    return {
        pk: Things(
            frozenset(shapes.get(pk, ())), _words(bag), figures.get(pk, {}), counts[pk], pk in mixed
        )
        for pk, bag in known.items()
    }  # fmt: skip


def _words(bag: Piece) -> str:
    return f"{bag.name} {bag.size.kind if bag.size else ''}"


def another_thing(tag: str, held: Things, shown: Things) -> str:
    """Say what parts the pieces shown from those that the bag holds; nothing where they may be of one kind and size."""
    if held.mixed:
        return ""
    holds = f"{tag} {f'holds {held.count}' if held.count else 'is for'} {held.called}"
    odd = [shape for shape in sorted(shown.shapes) if held.kinds and not held.kinds & kinds_of([shape], "")]
    if odd:
        return f"{holds}; {'these' if len(odd) == len(shown.shapes) else 'among these'} are {many((), odd)}"
    called = kinds_called(shown.words)
    if held.kinds and called and not held.kinds & called:
        return f"{holds}; these are {many(called)}"
    apart = size_apart(held.figures, shown.figures)
    if apart is None:
        return ""
    what, near, mean = apart
    return f"{holds} with {feature_words(what)} {near:.2f} mm; these have {mean:.2f} mm"


def not_what_lies_there(bag: Piece, shown: Things, items: Sequence[str]) -> str:
    """Say in what pieces of a picture, by these numbers, disagree with the bag or bucket they are said to be of."""
    if bag.kind == PieceKind.MIXED:
        return _not_in_bucket(bag, shown, items)
    held = held_things([bag])[bag.pk]
    other = another_thing(bag.tag or bag.key, held, shown)
    if other:
        return f"{other}."
    return f"{bag.tag} holds {held.count}, and the picture shows {len(items)}." if len(items) > held.count else ""


def _not_in_bucket(bucket: Piece, shown: Things, items: Sequence[str]) -> str:
    mix = Mix.objects.filter(piece=bucket).select_related("shipment").first()
    if mix is None:
        return ""
    lies = Holding.objects.filter(piece=bucket, count__gt=0).exclude(holder__kind=HolderKind.VENDOR)
    there = sum(lies.values_list("count", flat=True))
    home = set(ToldApart.objects.filter(mix=mix).values_list("item", flat=True))
    before = {row.item for row in standing_readings([bucket.pk])} - home - set(items)
    told = len(before) + len(set(items) - home)
    if told > there:
        also = f" and {len(before)} are measured already" if before else ""
        return f"{there} lie in {bucket.tag}; the picture shows {len(items)}{also}."
    bags = [line.piece for line in mix.shipment.lines.select_related("piece__size") if line.piece.kind == PieceKind.BAG]
    of = held_things(bags)
    kinds = [of[bag.pk].kinds for bag in bags]
    if all(kinds) and not any(of[bag.pk].mixed for bag in bags):
        known = frozenset().union(*kinds)
        odd = [shape for shape in sorted(shown.shapes) if not known & kinds_of([shape], "")]
        if odd:
            return f"The picture shows {many((), odd)}, and no bag in {bucket.tag} holds such."
    return ""
