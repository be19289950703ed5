"""Blank tags: numbers that are on nothing yet, with two codes each, on sheets or a roll, and a list for the metal stamps."""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from witnessmark.calc.tags import face
from witnessmark.calc.tags.code import check_letter, code_text
from witnessmark.papers.typesetting import Stamp, stamp_for, typeset
from witnessmark.records.actions.blank_tags import MEDIA
from witnessmark.records.models import Aircraft


@dataclass(frozen=True)
class BlankTags:
    """The numbers of one print, and what they are printed on: label, sheet, laminated or stamping."""

    stamp: Stamp
    numbers: tuple[str, ...]
    medium: str


def gather(aircraft: Aircraft | None, numbers: Sequence[str], medium: str = "sheet") -> BlankTags:
    """Take the numbers that were given out. Raises ValueError for a kind of tag that is none, or a number too long."""
    if medium not in MEDIA:
        raise ValueError(f"'{medium}' is no kind of tag. There are: {', '.join(MEDIA)}.")
    for number in numbers:
        code_text(number)
    return BlankTags(stamp_for(aircraft), tuple(numbers), medium)


def _code_svg(number: str) -> str:
    """Draw the compact code without white round it: the face keeps the white."""
    import segno

    drawn = BytesIO()
    code = segno.make_qr(code_text(number), error="h", version=1, boost_error=False)
    code.save(drawn, kind="svg", border=0, light="#fff", xmldecl=False, svgclass=None)
    return drawn.getvalue().decode()


def _data(data: BlankTags) -> dict[str, Any]:
    return {
        "medium": data.medium,
        "width": face.WIDTH_MM,
        "height": face.HEIGHT_MM,
        "code": face.CODE_MM,
        "top": face.CODE_TOP_MM,
        "lefts": face.CODE_LEFT_MM,
        "number": face.NUMBER_MM,
        "foot": face.NUMBER_FOOT_MM,
        "tags": [
            {
                "number": number,
                "letter": check_letter(number),
                "svg": _code_svg(number) if data.medium != "stamping" else "",
            }
            for number in data.numbers
        ],
        "empty": "No number is asked for.",
    }


def pdf(data: BlankTags) -> bytes:
    """Lay the blank tags out at full size."""
    return typeset("blank_tags.typ", _data(data), data.stamp)
