"""Blank numbered tags: a number is given out once for ever, whether its tag was printed, stamped, lost or never used."""

import uuid

from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.models import Act, Person, Piece, Tagging, TagPrinted

FIRST, LAST = 1001, 99_999
MOST_A_BATCH = 2000
MEDIA = {
    "label": "labels from a roll, 62 × 29 mm",
    "sheet": "a sheet of A4, to cut",
    "laminated": "a sheet of A4, to laminate and cut",
    "stamping": "a list to stamp into metal",
}
IN_A_BOX = "box"  # printed into a box of a mat: never printed again by themselves


def print_tags(*, by: Person, act_id: uuid.UUID, count: int, medium: str = "sheet", start: int | None = None) -> Result:
    """Give out the next numbers and remember them as one batch; those in use or given out before are passed over."""
    if not 1 <= count <= MOST_A_BATCH:
        raise Refused(f"A batch has 1 to {MOST_A_BATCH:,} tags, not {count}. Nothing was given out.")
    if medium not in MEDIA:
        raise Refused(f"'{medium}' is no kind of tag. Nothing was given out. There are: {', '.join(MEDIA)}.")
    if start is not None and not 1 <= start <= LAST:
        raise Refused(f"Numbers run from 1 to {LAST:,}, not {start}. Nothing was given out.")

    def do(act: Act) -> Result:
        batch, tags = give_out(act, count, medium, start)
        return {"batch": batch, "medium": medium, "count": count, "first": tags[0], "last": tags[-1], "tags": tags}

    said = {"count": count, "medium": medium, "start": start}
    return say("print_tags", by=by, act_id=act_id, said=said, do=do)


def give_out(act: Act, count: int, medium: str, start: int | None = None) -> tuple[int, list[str]]:
    """Give the next free numbers out as one batch, inside an act."""
    given = {int(tag) for tag in TagPrinted.objects.values_list("tag", flat=True)}
    begin = start if start is not None else max(given, default=FIRST - 1) + 1
    taken = given | _in_use()
    numbers = [n for n in range(begin, LAST + 1) if n not in taken][:count]
    if len(numbers) < count:
        raise Refused(f"From {begin} on only {len(numbers)} numbers are free. Nothing was given out.")
    last = TagPrinted.objects.order_by("-batch").values_list("batch", flat=True).first() or 0
    tags = [f"{number:04}" for number in numbers]
    TagPrinted.objects.bulk_create(TagPrinted(tag=tag, batch=last + 1, medium=medium, act=act) for tag in tags)
    return last + 1, tags


def _in_use() -> set[int]:
    """Numbers on pieces now or ever: a tag that came off for a bath goes on again."""
    words = [
        *Piece.objects.exclude(tag=None).values_list("tag", flat=True),
        *Tagging.objects.values_list("tag", flat=True),
    ]
    return {int(tag) for tag in words if tag and tag.isascii() and tag.isdigit() and len(tag) <= 9}
