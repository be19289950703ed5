"""Names of pieces and places as the screens write them in lists."""

import re

from django import template

from witnessmark.records.models import Piece, Place

register = template.Library()


@register.filter
def named(thing: Piece | Place) -> str:
    """The name with its side behind it, once, however the lists wrote it."""
    name = thing.name or (thing.part_no if isinstance(thing, Piece) else "")
    if thing.side == "C":
        return name
    side = thing.get_side_display()
    bare = re.sub(rf"(?<=\w),? {thing.side}\b", "", name)
    return bare if side in bare.lower() else f"{bare}, {side}" if bare else side
