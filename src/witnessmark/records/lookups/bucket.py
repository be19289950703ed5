"""Which numbers the pieces of a bucket have or may take, and which readings of it came in together."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import Count

from witnessmark.records.lookups.mixing import Sorting
from witnessmark.records.models import Act, Piece, PieceReading


@dataclass(frozen=True)
class Numbers:
    """`read` have a reading and are not home; of `free`, the places on the bench, as many more may be taken as `room` says."""

    read: tuple[str, ...]
    free: tuple[str, ...]
    room: int

    @property
    def to_measure(self) -> tuple[str, ...]:
        """Those that lie there, in the order in which they were laid out."""
        return tuple(sorted((*self.read, *self.free[: self.room]), key=lambda item: (len(item), item)))

    def why_not(self, item: str) -> str:
        """Say why no piece can have this number; nothing for one that may."""
        if item in self.read or (self.room > 0 and item in self.free):
            return ""
        if not self.read and not self.free:
            return "Nothing of this bucket was counted yet. Nothing was changed. Receive it first, then measure."
        if self.room <= 0:
            return (
                f"All {len(self.read)} that were counted have a reading, and none of them is number {item[:20]}. "
                "Nothing was changed. Take a number that has a reading, or strike out one that no piece has."
            )
        return (
            f"No piece in the bucket can be number {item[:20]}: they are laid out as {self.free[0]} to {self.free[-1]}. "
            "Nothing was changed. Type the number of the place it lies at."
        )


def numbers(seen: Sorting) -> Numbers:
    """The numbers of a bucket: its pieces are laid out as 1, 2, 3 to what was counted; a picture or a file gives its own."""
    home = {each.item for each in seen.told}
    counted = seen.mix.count_back or 0
    read = tuple(seen.items)
    free = tuple(str(n) for n in range(1, counted + 1) if str(n) not in home and str(n) not in seen.items)
    return Numbers(read, free, counted - len(home) - len(read))


def stop_of(seen: Sorting) -> str:
    """Why nothing may be sorted by what was counted, weighed and read; nothing where it may."""
    if seen.match is None:
        return ""
    if seen.match.balance.disagree:
        return "Count and mass disagree: count and weigh again before anything is sorted."
    if seen.mix.count_back is None:
        return ""
    counted, read = seen.mix.count_back - len(seen.told), len(seen.match.pieces)
    if read <= counted:
        return ""
    return (
        f"{read} numbers have a reading and {counted} were counted: a number was typed wrong, or the bucket was counted "
        "wrong. All readings are kept. Count again, or look for a number that no piece has."
    )


def gone_on(seen: Sorting) -> Act | None:
    """Who said that it is sorted all the same, and why; only while the reason to stop is the one that he saw."""
    acts = Act.objects.filter(verb="sort_anyway", said__shipment=seen.mix.shipment_id, undone_by=None)
    last = acts.select_related("person").order_by("-recorded_at").first()
    now = [stop_of(seen), seen.mix.count_back, seen.mix.mass_back_g]
    return last if last is not None and now == [last.said["stop"], last.said["count"], last.said["mass_g"]] else None


def taken_in_together(bucket: Piece) -> list[tuple[Act, int]]:
    """The acts that wrote figures of several pieces of this bucket down at once, and of how many; the newest first."""
    standing = PieceReading.objects.filter(piece=bucket, struck=None).values("act")
    rows = standing.annotate(n=Count("item", distinct=True)).filter(n__gt=1).values_list("act", "n").order_by()
    count = dict(rows)
    acts = Act.objects.filter(pk__in=count, verb="read_piece", undone_by=None).select_related("person")
    return [(act, count[act.pk]) for act in acts.order_by("-recorded_at")]


def figures_from(reading: int) -> list[tuple[Act, str, int]]:
    """What was written down from one picture and not taken back: the act, onto which bag or bucket, of how many pieces."""
    acts = Act.objects.filter(verb="read_piece", said__mat=reading, undone_by=None).select_related("person")
    found = list(acts.order_by("-recorded_at"))
    tags: Mapping[int, str] = {
        piece.pk: piece.key for piece in Piece.objects.filter(pk__in=[act.said["piece"] for act in found])
    }
    return [(act, tags[act.said["piece"]], len(act.said["readings"])) for act in found]
