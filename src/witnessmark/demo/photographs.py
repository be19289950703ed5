"""Draw the demo's photographs: flat grey pictures, the same bytes every time, nothing taken from a real aircraft."""

from __future__ import annotations

import csv
import math
import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageFont import FreeTypeFont, ImageFont

WIDTH, HEIGHT = 1200, 900
# Drawn at twice the size and halved, so that slanting edges come out smooth.
SCALE = 2
# What the QR code on a drawn tag says: this prefix, then the tag.
QR_PREFIX = "WM:"

GROUND, PANEL, SHADE, FRAME = "#c9ccc6", "#b2b7b0", "#7b8179", "#a0a69e"
METAL, METAL_LIGHT, METAL_DARK, HOLE = "#8d938b", "#b6bbb3", "#666b64", "#2e302e"
WOOD, WOOD_DARK, CLOTH, WHITE, INK = "#cbb287", "#a98f63", "#d9d4c6", "#ffffff", "#141414"

Colour = str
Point = tuple[float, float]


@dataclass(frozen=True)
class Picture:
    """One line of photos.csv, with what the lists say of its subject."""

    file: str
    subject: str
    taken_on: str
    what: str
    kind: str
    tag: str
    caption: str
    ring_beside: bool = False  # the list holds its ring: none is painted into the picture

    @property
    def in_place(self) -> bool:
        """True where the piece still sits on the aircraft."""
        return "bench" not in self.what.lower()

    @property
    def finding(self) -> bool:
        """True where a ring shows what was found."""
        return self.subject.startswith("F-") or self.what.startswith("Finding")


class _Sheet:
    """A drawing surface in the finished picture's pixels."""

    def __init__(self) -> None:
        from PIL import Image, ImageDraw

        self.image = Image.new("RGB", (WIDTH * SCALE, HEIGHT * SCALE), GROUND)
        self.pen = ImageDraw.Draw(self.image)

    def box(self, x: float, y: float, width: float, height: float, fill: Colour) -> None:
        self.pen.rectangle((x * SCALE, y * SCALE, (x + width) * SCALE - 1, (y + height) * SCALE - 1), fill=fill)

    def round_box(self, x: float, y: float, width: float, height: float, radius: float, fill: Colour) -> None:
        ends = (x * SCALE, y * SCALE, (x + width) * SCALE, (y + height) * SCALE)
        self.pen.rounded_rectangle(ends, radius=radius * SCALE, fill=fill)

    def disc(self, x: float, y: float, radius: float, fill: Colour) -> None:
        ends = ((x - radius) * SCALE, (y - radius) * SCALE, (x + radius) * SCALE, (y + radius) * SCALE)
        self.pen.ellipse(ends, fill=fill)

    def ring(self, x: float, y: float, radius: float, line: Colour, width: float) -> None:
        ends = ((x - radius) * SCALE, (y - radius) * SCALE, (x + radius) * SCALE, (y + radius) * SCALE)
        self.pen.ellipse(ends, outline=line, width=round(width * SCALE))

    def line(self, points: Sequence[Point], line: Colour, width: float) -> None:
        self.pen.line([(x * SCALE, y * SCALE) for x, y in points], fill=line, width=round(width * SCALE), joint="curve")

    def shape(self, points: Sequence[Point], fill: Colour) -> None:
        self.pen.polygon([(x * SCALE, y * SCALE) for x, y in points], fill=fill)

    def words(self, x: float, y: float, text: str, size: int, fill: Colour = INK, anchor: str = "lm") -> None:
        self.pen.text((x * SCALE, y * SCALE), text, font=_font(size * SCALE), fill=fill, anchor=anchor)

    def bolt(self, x: float, y: float, radius: float) -> None:
        self.disc(x + 3, y + 5, radius, METAL_DARK)
        self.disc(x, y, radius, METAL_LIGHT)
        corners = [math.radians(60 * turn) for turn in range(6)]
        self.shape([(x + radius * 0.75 * math.cos(a), y + radius * 0.75 * math.sin(a)) for a in corners], METAL_DARK)
        self.disc(x, y, radius * 0.42, METAL)

    def rivets(self, x: float, y: float, to_x: float, count: int, radius: float = 11) -> None:
        for number in range(count):
            at = x + (to_x - x) * number / max(1, count - 1)
            self.disc(at + 2, y + 3, radius, SHADE)
            self.disc(at, y, radius, "#d4d7d0")


@cache
def _font(size: int) -> FreeTypeFont | ImageFont:
    from PIL import ImageFont

    return ImageFont.load_default(size=size)


def _ground(sheet: _Sheet, in_place: bool) -> None:
    if in_place:
        for top in (0, HEIGHT - 170):
            sheet.box(0, top, WIDTH, 170, PANEL)
            sheet.rivets(210, top + 85, WIDTH - 60, 15)
        sheet.box(0, 166, WIDTH, 8, SHADE)
        sheet.box(0, HEIGHT - 174, WIDTH, 8, SHADE)
        sheet.box(0, 0, 150, HEIGHT, FRAME)
        sheet.box(150, 0, 8, HEIGHT, SHADE)
        return
    sheet.box(0, 0, WIDTH, HEIGHT, "#dee0db")
    for x in range(0, WIDTH, 60):
        sheet.box(x, 0, 2, HEIGHT, "#cbcec8")
    for y in range(0, HEIGHT, 60):
        sheet.box(0, y, WIDTH, 2, "#cbcec8")


def _fitting(sheet: _Sheet, _chance: Random) -> None:
    for shift, fill in ((16, METAL_DARK), (0, METAL)):
        outline = (
            (150, 270),
            (480, 270),
            (580, 315),
            (700, 315),
            (700, 565),
            (580, 565),
            (480, 610),
            (150, 610),
        )
        sheet.shape([(px + shift, py + shift) for px, py in outline], fill)
        sheet.disc(700 + shift, 440 + shift, 125, fill)
    for at in ((230, 345), (400, 345), (230, 535), (400, 535)):
        sheet.bolt(*at, 52)
    sheet.disc(700, 440, 68, METAL_LIGHT)
    sheet.disc(700, 440, 52, HOLE)


def _skin(sheet: _Sheet, chance: Random) -> None:
    sheet.box(206, 216, 700, 480, SHADE)
    sheet.box(190, 200, 700, 480, METAL_LIGHT)
    lean = chance.randint(-20, 20)
    sheet.shape([(190, 440), (890, 440 + lean), (890, 448 + lean), (190, 448)], METAL)
    for y in (228, 470, 652):
        sheet.rivets(220, y, 860, 17 + chance.randint(0, 6), 9)
    for _ in range(chance.randint(2, 5)):
        sheet.disc(chance.randint(260, 820), chance.randint(270, 420), chance.randint(8, 22), "#a7ada4")


def _rib(sheet: _Sheet, _chance: Random) -> None:
    top = [(170.0 + 74 * n, 430 - 190 * math.sin(math.pi * (n / 10) ** 0.6)) for n in range(11)]
    bottom = [(x, 560.0 + 2 * n) for n, (x, _) in enumerate(top)]
    for n in range(10):
        sheet.line([top[n], bottom[n + 1]], WOOD_DARK, 14)
        sheet.line([bottom[n], top[n]], WOOD_DARK, 14)
    for chord in (top, bottom):
        sheet.line([(x + 5, y + 10) for x, y in chord], SHADE, 26)
        sheet.line(chord, WOOD, 26)
    for x, y in (*top[1:], *bottom[1:]):
        sheet.shape([(x - 26, y - 16), (x + 26, y - 16), (x + 14, y + 22), (x - 14, y + 22)], "#bda274")


def _tube(sheet: _Sheet, chance: Random) -> None:
    low = 600 + chance.randint(-30, 30)
    for dx, dy, fill, width in ((8, 14, SHADE, 46), (0, 0, METAL, 46), (-3, -8, METAL_LIGHT, 10)):
        sheet.line([(180 + dx, low + dy), (560 + dx, 250 + dy), (900 + dx, low + dy)], fill, width)
        sheet.line([(180 + dx, low + dy), (900 + dx, low + dy)], fill, width)
    for at in ((180, low), (560, 250), (900, low)):
        sheet.disc(*at, 52, METAL)
        sheet.disc(*at, 24, HOLE)


def _casting(sheet: _Sheet, _chance: Random) -> None:
    for dx, fill in ((14, METAL_DARK), (0, METAL)):
        sheet.line([(270 + dx, 600 + dx), (500 + dx, 300 + dx), (800 + dx, 560 + dx)], fill, 96)
        for at in ((270, 600), (500, 300), (800, 560)):
            sheet.disc(at[0] + dx, at[1] + dx, 90, fill)
    sheet.line([(290, 575), (500, 310), (780, 545)], METAL_LIGHT, 16)
    for at in ((270, 600), (500, 300), (800, 560)):
        sheet.disc(*at, 58, METAL_LIGHT)
        sheet.disc(*at, 36, HOLE)


def _bag(sheet: _Sheet, chance: Random) -> None:
    sheet.round_box(226, 196, 600, 540, 40, SHADE)
    sheet.round_box(210, 180, 600, 540, 40, "#e6e7e1")
    sheet.box(210, 220, 600, 22, "#c4c8c0")
    for _ in range(26):
        x, y = chance.uniform(290, 730), chance.uniform(330, 660)
        turn = chance.uniform(0, math.tau)
        sheet.line([(x, y), (x + 74 * math.cos(turn), y + 40 * math.sin(turn))], METAL_DARK, 18)
        sheet.bolt(x, y, 26)


def _wheel(sheet: _Sheet, _chance: Random) -> None:
    for radius, fill in (
        (300, METAL_DARK),
        (286, METAL),
        (210, METAL_LIGHT),
        (196, METAL),
        (86, METAL_LIGHT),
    ):
        sheet.disc(520, 440, radius, fill)
    sheet.disc(520, 440, 62, HOLE)
    for number in range(12):
        turn = math.tau * number / 12
        sheet.bolt(520 + 146 * math.cos(turn), 440 + 146 * math.sin(turn), 26)


def _instrument(sheet: _Sheet, chance: Random) -> None:
    for radius, fill in ((292, SHADE), (280, METAL_DARK), (248, INK)):
        sheet.disc(520, 440, radius, fill)
    for number in range(31):
        turn = math.radians(135 + 9 * number)
        start = 190 if number % 5 == 0 else 212
        ends = [(520 + r * math.cos(turn), 440 + r * math.sin(turn)) for r in (start, 232)]
        sheet.line(ends, WHITE, 6 if number % 5 == 0 else 3)
    turn = math.radians(135 + chance.randint(0, 60))
    sheet.line([(520, 440), (520 + 185 * math.cos(turn), 440 + 185 * math.sin(turn))], WHITE, 12)
    sheet.disc(520, 440, 26, METAL)


def _cloth(sheet: _Sheet, _chance: Random) -> None:
    sheet.round_box(204, 234, 740, 440, 90, SHADE)
    sheet.round_box(190, 220, 740, 440, 90, CLOTH)
    for x in range(280, 900, 92):
        sheet.box(x, 222, 14, 436, "#c3bda9")
        for y in range(250, 640, 30):
            sheet.box(x + 3, y, 8, 12, WOOD_DARK)


def _empty(sheet: _Sheet, _chance: Random) -> None:
    for x in range(220, 900, 72):
        sheet.line([(x, 250), (x + 40, 250)], INK, 6)
        sheet.line([(x, 640), (x + 40, 640)], INK, 6)
    for y in range(250, 640, 78):
        sheet.line([(220, y), (220, y + 40)], INK, 6)
        sheet.line([(900, y), (900, y + 40)], INK, 6)


_KINDS: dict[str, Callable[[_Sheet, Random], None]] = {
    "fitting": _fitting,
    "skin": _skin,
    "rib": _rib,
    "tube": _tube,
    "casting": _casting,
    "bag": _bag,
    "wheel": _wheel,
    "instrument": _instrument,
    "cloth": _cloth,
    "empty": _empty,
}
# The first word that a part's name or material holds decides; the order matters ("rib" before "casting").
_WORDS = (
    ("instrument", "instrument"),
    ("wheel hub", "wheel"),
    ("brake", "wheel"),
    ("tyre", "wheel"),
    ("sprocket", "wheel"),
    ("tailwheel fork", "fitting"),
    ("casting", "casting"),
    ("pedal", "casting"),
    ("spruce", "rib"),
    ("ash", "rib"),
    ("birch", "rib"),
    ("fabric", "cloth"),
    ("fitting", "fitting"),
    ("forg", "fitting"),
    ("tube", "tube"),
    ("strut", "tube"),
    ("skin", "skin"),
    ("dural", "skin"),
)


def kind_of(words: str) -> str:
    """Choose the silhouette from a part's name and material."""
    low = words.lower()
    return next((kind for word, kind in _WORDS if word in low), "fitting")


def _tag(sheet: _Sheet, picture: Picture, lean: float) -> None:
    """Hang the white tag: the number in large digits and, on a tagged piece, its QR code."""
    import segno
    from PIL import Image, ImageDraw

    label = picture.tag or picture.subject
    wide, high = 480 * SCALE, 250 * SCALE
    card = Image.new("RGBA", (wide, high), WHITE)
    pen = ImageDraw.Draw(card)
    pen.ellipse((18 * SCALE, 18 * SCALE, 40 * SCALE, 40 * SCALE), fill=METAL)
    room = 205 if picture.tag else 430
    size = 84
    while size > 24 and _font(size * SCALE).getlength(label) > room * SCALE:
        size -= 6
    pen.text((28 * SCALE, 125 * SCALE), label, font=_font(size * SCALE), fill=INK, anchor="lm")
    if picture.tag:
        matrix = segno.make(QR_PREFIX + picture.tag, error="m", micro=False).matrix
        module = 9 * SCALE
        left, top = wide - (len(matrix) + 3) * module, (high - len(matrix) * module) // 2
        for row, cells in enumerate(matrix):
            for column, dark in enumerate(cells):
                if dark:
                    x, y = left + column * module, top + row * module
                    pen.rectangle((x, y, x + module - 1, y + module - 1), fill=INK)
    turned = card.rotate(lean, Image.Resampling.BILINEAR, expand=True)
    at = (650 * SCALE, 530 * SCALE)
    shadow = Image.new("RGB", turned.size, METAL_DARK)
    sheet.image.paste(shadow, (at[0] + 8 * SCALE, at[1] + 8 * SCALE), turned.getchannel("A"))
    sheet.image.paste(turned, at, turned.getchannel("A"))


def _up_arrow(sheet: _Sheet, line: Colour) -> None:
    sheet.line([(1090, 400), (1090, 225)], line, 12)
    sheet.line([(1052, 270), (1090, 220), (1128, 270)], line, 12)
    sheet.words(1090, 440, "UP", 52, line, "mm")


def _scale(sheet: _Sheet) -> None:
    sheet.box(180, 790, 420, 52, WHITE)
    for number in range(21):
        sheet.box(189 + 20 * number, 790, 3, 30 if number % 5 == 0 else 17, INK)
    sheet.words(590, 826, "mm", 20, INK, "rm")


def _finding(sheet: _Sheet, chance: Random, *, ring: bool) -> None:
    x, y = chance.randint(680, 760), chance.randint(330, 400)
    if ring:
        sheet.ring(x, y, 84, WHITE, 10)
    crack = [(x - 46.0 + 23 * n, y + 34.0 - 17 * n + (12 if n % 2 else -8)) for n in range(5)]
    sheet.line(crack, INK, 7)


def draw(picture: Picture) -> Image:
    """Draw one picture, always the same for the same line of the list."""
    chance = Random(zlib.crc32(picture.file.encode()))  # noqa: S311 - a drawing, not a secret
    sheet = _Sheet()
    _ground(sheet, picture.in_place)
    _KINDS[picture.kind](sheet, chance)
    # Chalk shows on the aircraft, ink on the pale bench.
    _up_arrow(sheet, WHITE if picture.in_place else INK)
    _scale(sheet)
    if picture.finding:
        _finding(sheet, chance, ring=not picture.ring_beside)
    _tag(sheet, picture, chance.uniform(-9, 4))
    sheet.words(WIDTH - 24, HEIGHT - 24, picture.caption, 22, INK, "rb")
    return sheet.image.reduce(SCALE)


def _rows(path: Path) -> list[dict[str, str]]:
    lines = path.read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def pictures(lists_dir: Path) -> list[Picture]:
    """Read photos.csv, and of each subject what the other lists say it looks like."""
    kinds: dict[str, str] = {}
    places: dict[str, str] = {}
    for part in _rows(lists_dir / "parts.csv"):
        kind = kind_of(f"{part['name']} {part['material']}")
        places[part["part_no"]] = kind
        kinds.update(dict.fromkeys(part["tag"].split("/"), kind))
    kinds.update({bag["tag"]: "bag" for bag in _rows(lists_dir / "bags.csv")})
    kinds.pop("", None)
    findings = {row["finding"]: row["on"] for row in _rows(lists_dir / "findings.csv")}
    photos = _rows(lists_dir / "photos.csv")
    # A bucket of mixed bags bears M- and its shipment's number.
    kinds.update({row["subject"]: "bag" for row in photos if row["subject"].startswith("M-")})
    drawn = []
    for row in photos:
        subject = findings.get(row["subject"], row["subject"])
        tag = subject if subject in kinds else ""
        kind = kinds.get(subject, "empty" if "empty" in row["what"].lower() else "")
        drawn.append(
            Picture(
                file=row["file"],
                subject=row["subject"],
                taken_on=row["taken_on"],
                what=row["what"],
                kind=kind or places.get(subject.split(" ")[0], "skin"),
                tag=tag,
                caption=f"{row['subject']}  {row['taken_on']}  {row['by']}",
                ring_beside=bool(row.get("ring")),
            )
        )
    return drawn


def _save(picture: Picture, path: Path) -> None:
    from PIL import ExifTags, Image

    exif = Image.Exif()
    exif[ExifTags.Base.ImageDescription.value] = f"{picture.subject}: drawn for the demo"
    taken = picture.taken_on.replace("-", ":") + " 10:00:00"
    exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.DateTimeOriginal.value] = taken
    draw(picture).save(path, "JPEG", quality=82, exif=exif)


def draw_all(lists_dir: Path, into: Path, progress: Callable[[int, int], None] | None = None) -> int:
    """Draw every picture that photos.csv names, and say how many.

    `progress` is called after each picture with how many are drawn and how many there are.
    """
    wanted = pictures(lists_dir)
    into.mkdir(parents=True, exist_ok=True)
    for number, picture in enumerate(wanted, 1):
        _save(picture, into / picture.file)
        if progress is not None:
            progress(number, len(wanted))
    return len(wanted)


def draw_untagged(kind: str, name: str, *, in_place: bool) -> Image:
    """Draw a picture from before there were tags, always the same for the same name: no tag, no rule, no arrow."""
    chance = Random(zlib.crc32(name.encode()))  # noqa: S311 - a drawing, not a secret
    sheet = _Sheet()
    _ground(sheet, in_place)
    _KINDS[kind](sheet, chance)
    for _ in range(3):  # what lay about that day
        sheet.bolt(chance.randint(900, 1140), chance.randint(120, 780), chance.randint(18, 40))
    return sheet.image.reduce(SCALE)


def draw_tagged(kind: str, tag: str) -> Image:
    """Draw a bag or a part on the bench with its tag beside it, as it is taken on the day."""
    return draw(Picture(f"{tag}.jpg", tag, "", "On the bench", kind, tag, ""))
