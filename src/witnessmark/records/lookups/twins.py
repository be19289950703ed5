"""Two pictures that may be the same one, the larger first: those nobody has spoken on, and what was said last."""

from collections.abc import Iterable
from dataclasses import dataclass

from witnessmark.records.models import Photo, Twins

AT_A_TIME = 6


@dataclass(frozen=True)
class TwinsSeen:
    """A pair, the larger in front."""

    twins: Twins
    larger: Photo
    smaller: Photo

    @property
    def how(self) -> str:
        """Say how alike they are, in words."""
        turned = {0: "", 1: ", turned by a quarter", 2: ", upside down", 3: ", turned by a quarter"}
        near = "as good as alike" if self.twins.signs <= 2 else "nearly alike"
        return f"{near}{turned[self.twins.quarters]}"


def _seen(rows: Iterable[Twins]) -> list[TwinsSeen]:
    found = []
    for row in rows:
        photos = sorted((row.photo, row.other), key=lambda p: (-p.width * p.height, -p.bytes, p.sha256))
        found.append(TwinsSeen(row, photos[0], photos[1]))
    return found


def twins_to_tell(most: int = AT_A_TIME) -> list[TwinsSeen]:
    """The nearest pairs that nobody has spoken on."""
    rows = Twins.objects.filter(same=None).select_related("photo", "other").order_by("signs", "pk")
    return _seen(rows[:most])


def told_twins(most: int = AT_A_TIME) -> list[TwinsSeen]:
    """The last ones that somebody has spoken on, the newest first."""
    rows = Twins.objects.exclude(same=None).select_related("photo", "other", "act__person")
    return _seen(rows.order_by("-act__recorded_at")[:most])
