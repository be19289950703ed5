"""The whole way from a picture's bytes to measured, counted, grouped pieces, with its working."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from witnessmark.calc.mat.boxes import BoxRead, TagOf, codes_in, read_boxes, told_of, without_tags
from witnessmark.calc.mat.groups import Group, for_return, group
from witnessmark.calc.mat.pieces import Piece, measure
from witnessmark.calc.mat.rectify import open_picture, rectify
from witnessmark.calc.tags.code import tag_of
from witnessmark.calc.working import Answer, working

CANNOT_TELL = (
    "One picture cannot tell M8x1 from 5/16-24 by diameter: they differ by 0.06 mm. Count the pitch over ten threads.",
    "A hexagon head and a cylindrical head of the same outline look alike from the side. Look at the head.",
)
Told = Callable[[str], None]


@dataclass(frozen=True)
class MatReading(Answer):
    """What one picture of the mat gives; `returned` holds each piece's figures as the matching of a return takes them.

    `boxes` are those of the second layout, `tags` all tags whose codes the picture shows.
    """

    mat: str
    serial: str
    scale_measured: bool
    scale: tuple[float, float]
    picture_px: tuple[int, int]
    tilt_deg: float
    height_mm: float
    markers: int
    count: int
    for_person: int
    pieces: tuple[Piece, ...]
    groups: tuple[Group, ...]
    returned: dict[str, dict[str, tuple[float, float]]]
    boxes: tuple[BoxRead, ...]
    tags: tuple[str, ...]
    sentence: str


def read_mat(
    data: bytes,
    checks: dict[str, tuple[float, float]] | None = None,
    told: Told | None = None,
    bound: dict[str, dict[str, str]] | None = None,
    tag_of: TagOf = tag_of,
) -> MatReading:
    """Measure, count and group what lies on a printed mat.

    Parameters
    ----------
    data : bytes
        The picture's file. [-]
    checks : dict or None
        For each mat's number its two check lengths as measured with a ruler. [mm]
    told : callable or None
        Told in a few words how far it is; may raise to stop. [-]
    bound : dict or None
        For each mat's number the tags bound to its boxes before the picture: box to tag. [-]
    tag_of : callable
        Gives the tag that a code's text names, or None where it names none. [-]

    Returns
    -------
    MatReading
        With its working.

    Raises
    ------
    NotReadable
        The picture cannot be measured; says why and how to take it again.

    Notes
    -----
    Tilt up to 38 degrees, 5 pixels a millimetre or more, pieces that lie apart.

    Examples
    --------
    >>> read_mat(b"")
    Traceback (most recent call last):
    ...
    witnessmark.calc.mat.rectify.NotReadable: This is no picture that can be read. Give a JPEG, HEIC, PNG, WebP or TIFF file.

    References
    ----------
    mat-geometry
    """
    say = told or (lambda words: None)
    say("looking for the mat")
    opened = open_picture(data)
    flat = rectify(opened, checks)
    del opened
    codes = codes_in(flat, tag_of)
    pieces = without_tags(measure(flat, lambda n, of: say(f"piece {n} of {of}")), codes)
    say("putting like with like")
    groups = group(pieces)
    boxes = read_boxes(flat, pieces, codes, (bound or {}).get(flat.serial, {}))
    piles = sum(p.for_person for p in pieces)
    camera = flat.camera
    rows: list[tuple[str, float | int | str, str, str]] = [
        ("number of the mat", flat.serial or "not read", "", f"printed code; a mat {flat.sheet.name} by its markers"),
        ("markers read", flat.markers, f"of {len(flat.sheet.markers())}", "the picture"),
        ("camera above the mat", round(camera.centre_mm[2]), "mm", "solved from the ring"),
        ("tilt", round(camera.tilt_deg, 1), "degrees", "solved from the ring"),
        ("ring's points miss a plane by", round(camera.rms_px, 2), "pixels", "root mean square"),
        ("scale", f"{flat.scale[0]:.4f}, {flat.scale[1]:.4f}", "", "two lengths measured with a ruler" if flat.scale_measured else "assumed: the printer was not measured"),
    ]  # fmt: skip
    cautions = list(CANNOT_TELL)
    if not flat.scale_measured:
        cautions.insert(0, "This mat's check lengths were not measured: every figure may be off by 0.4 % more.")
    return MatReading(
        working=working(
            "a point at height Z is seen on the mat at C + (P - C) H / (H - Z); the shape that fits the outline best, seen so, gives the figures",
            rows, ("mat-geometry", "mat-edges"), tuple(cautions),
            "tilt up to 38 degrees, at least 5 pixels a millimetre, pieces that lie apart",
        ),
        mat=flat.sheet.name, serial=flat.serial, scale_measured=flat.scale_measured, scale=flat.scale,
        picture_px=flat.picture_px, tilt_deg=round(camera.tilt_deg, 1), height_mm=round(camera.centre_mm[2], 1),
        markers=flat.markers, count=len(pieces) - piles, for_person=piles, pieces=pieces, groups=groups,
        returned={str(p.number): for_return(p) for p in pieces if not p.for_person},
        boxes=boxes, tags=tuple(sorted({code.tag for code in codes if code.tag})),
        sentence=in_words(len(pieces) - piles, len(groups) - piles, piles) + _of_boxes(boxes),
    )  # fmt: skip


def in_words(count: int, groups: int, piles: int) -> str:
    """Say how many pieces lie there, in how many groups.

    Parameters
    ----------
    count : int
        Pieces that were measured. [-]
    groups : int
        Groups of like pieces. [-]
    piles : int
        Spots that a person counts. [-]

    Returns
    -------
    str
        One or two sentences.

    Examples
    --------
    >>> in_words(20, 1, 0)
    '20 pieces in 1 group.'

    References
    ----------
    none: words only.
    """
    if not count and not piles:
        return "The mat is empty."
    told = f"{count} piece{'' if count == 1 else 's'} in {groups} group{'' if groups == 1 else 's'}."
    if piles:
        told += f" {piles} spot{'' if piles == 1 else 's'} for you to count: pieces that touch, or of another kind."
    return told


def _of_boxes(boxes: tuple[BoxRead, ...]) -> str:
    if not boxes:
        return ""
    told = told_of(boxes)
    full, empty = len(told["with_pieces"]), told["empty"]
    said = f" {full} box{'' if full == 1 else 'es'} with pieces"
    return said + (f", {len(empty)} empty: {', '.join(empty)}." if empty else ".")
