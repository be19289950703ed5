"""What was read on small pieces so far: repeated readings count together, a slip is replaced by its correction."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet

from witnessmark.calc.bags.features import Reading, pooled
from witnessmark.records.models import PieceReading, Place


@dataclass(frozen=True)
class ReadSoFar:
    """One feature of one piece: what its readings say together, and the newest as it was typed."""

    item: str
    what: str
    value: float
    uncertainty: float
    times: int
    typed: str
    place: Place | None

    @property
    def place_id(self) -> int | None:
        return self.place.pk if self.place else None


def standing_readings(pieces: Iterable[int]) -> QuerySet[PieceReading]:
    """The readings of these pieces that nobody struck out, in their order."""
    return PieceReading.objects.filter(piece_id__in=list(pieces), struck=None).order_by("id")


def read_so_far(pieces: Iterable[int]) -> dict[int, dict[str, dict[str, ReadSoFar]]]:
    """What was read, by piece, item and feature; one query."""
    rows: dict[tuple[int, str, str], list[PieceReading]] = {}
    for row in standing_readings(pieces).select_related("place"):
        rows.setdefault((row.piece_id, row.item, row.what), []).append(row)
    found: dict[int, dict[str, dict[str, ReadSoFar]]] = {}
    for (piece, item, what), each in rows.items():
        told = pooled([Reading(row.value, row.uncertainty) for row in each])
        newest = each[-1]
        place = next((row.place for row in reversed(each) if row.place_id), None)
        found.setdefault(piece, {}).setdefault(item, {})[what] = ReadSoFar(
            item, what, told.value, told.sigma, told.times, newest.typed, place
        )
    return found
