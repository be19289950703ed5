"""The mat as it is printed: a ring of coded squares round a plain work area, its check lengths, patches and boxes.

Millimetres on the sheet as drawn: x to the right and y down from the upper left corner of the ring of squares.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

# Paper, its width and height lying on its long side, the side of a square, squares across and down.
PAPERS = {
    "A4": (297.0, 210.0, 12.0, 22, 15),
    "Letter": (279.4, 215.9, 12.0, 21, 15),
    "A3": (420.0, 297.0, 15.0, 26, 17),
}
LAYOUTS = ("plain", "boxes")
# The work area as it is printed (sRGB), and the darker shade of the same hue that lines and words on it are drawn in:
# the reader looks for a change of hue, so that they vanish as a shadow does.
COLOURS = {"blue": ((62, 116, 186), (38, 77, 126)), "green": (((60, 148, 84)), (36, 99, 54))}
MARKER_SHARE = 0.75
BOXES_ACROSS, BOXES_DOWN = 4, 3
# The code of a bag's tag in its box: its side, and how far it stands from the box's upper right lines.
BOX_CODE_MM, BOX_CODE_IN_MM = 13.0, 3.0
# Known greys and colours above the ring, by name (sRGB).
PATCHES = (
    ("white", (255, 255, 255)),
    ("light grey", (190, 190, 190)),
    ("grey", (118, 118, 118)),
    ("black", (0, 0, 0)),
    ("red", (178, 50, 46)),
    ("yellow", (226, 196, 52)),
    ("green", (70, 140, 76)),
    ("blue", (52, 80, 160)),
)
PATCH_MM = 8.0
_CODE = re.compile(r"WMAT:(A4|Letter|A3)-(plain|boxes)-(blue|green):([A-Z0-9]{2,12})")


class UnknownMat(ValueError):
    """No mat of that paper, layout or colour is printed."""


@dataclass(frozen=True)
class Box:
    """One box of the second layout; `name` is what is printed in it."""

    name: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float

    @property
    def code_mm(self) -> tuple[float, float, float]:
        """Left, top and side of the code of a bag's tag, where one is printed in."""
        return self.x_mm + self.width_mm - BOX_CODE_IN_MM - BOX_CODE_MM, self.y_mm + BOX_CODE_IN_MM, BOX_CODE_MM


@dataclass(frozen=True)
class Sheet:
    """One kind of mat; lengths as drawn, before a printer stretches them."""

    paper: str
    layout: str
    colour: str
    width_mm: float
    height_mm: float
    square_mm: float
    across: int
    down: int
    first_id: int

    @property
    def name(self) -> str:
        """The kind in one word: A4-plain-blue."""
        return f"{self.paper}-{self.layout}-{self.colour}"

    @property
    def ring_mm(self) -> tuple[float, float]:
        """Width and height of the ring of squares."""
        return self.across * self.square_mm, self.down * self.square_mm

    @property
    def margin_mm(self) -> tuple[float, float]:
        """Paper left of the ring and above it."""
        across, down = self.ring_mm
        return (self.width_mm - across) / 2, (self.height_mm - down) / 2

    @property
    def work_mm(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom of the work area."""
        s = self.square_mm
        return 2 * s, 2 * s, (self.across - 2) * s, (self.down - 2) * s

    @property
    def check_mm(self) -> tuple[float, float]:
        """The two lengths to measure with a ruler: the one below the ring, the one at its right."""
        return (240.0, 150.0) if self.paper != "A3" else (360.0, 220.0)

    def ring_squares(self) -> list[tuple[int, int]]:
        """Give column and row of every square of the ring, in reading order."""
        return [
            (i, j)
            for j in range(self.down)
            for i in range(self.across)
            if i < 2 or j < 2 or i >= self.across - 2 or j >= self.down - 2
        ]

    def markers(self) -> dict[int, tuple[float, float]]:
        """Give the upper left corner of every printed marker by its number."""
        white = [(i, j) for i, j in self.ring_squares() if (i + j) % 2]
        inset = self.square_mm * (1 - MARKER_SHARE) / 2
        return {
            self.first_id + n: (i * self.square_mm + inset, j * self.square_mm + inset)
            for n, (i, j) in enumerate(white)
        }

    @property
    def marker_mm(self) -> float:
        """Side of a marker."""
        return self.square_mm * MARKER_SHARE

    def corners(self) -> list[tuple[float, float]]:
        """Give the points where four squares of the ring meet."""
        s = self.square_mm
        return [
            (i * s, j * s)
            for j in range(1, self.down)
            for i in range(1, self.across)
            if i in (1, self.across - 1) or j in (1, self.down - 1)
        ]

    def patches(self) -> list[tuple[str, tuple[int, int, int], float, float]]:
        """Give name, colour and upper left corner of each colour patch."""
        left, y = 4 * self.square_mm, -PATCH_MM - 3.0
        return [(name, rgb, left + n * PATCH_MM, y) for n, (name, rgb) in enumerate(PATCHES)]

    def boxes(self) -> list[Box]:
        """Give the boxes of the second layout; none in the plain one."""
        if self.layout != "boxes":
            return []
        left, top, right, bottom = self.work_mm
        w, h = (right - left) / BOXES_ACROSS, (bottom - top) / BOXES_DOWN
        return [
            Box(str(row * BOXES_ACROSS + column + 1), left + column * w, top + row * h, w, h)
            for row in range(BOXES_DOWN)
            for column in range(BOXES_ACROSS)
        ]

    def code(self, serial: str) -> str:
        """Write what the printed code holds: the kind and the number of this one sheet of paper."""
        return f"WMAT:{self.name}:{serial}"


@cache
def all_sheets() -> tuple[Sheet, ...]:
    """Give every kind of mat; no two share a marker.

    Returns
    -------
    tuple of Sheet
        Three papers, two layouts, two colours.

    Examples
    --------
    >>> len(all_sheets())
    12

    References
    ----------
    none: the program's own layout.
    """
    sheets: list[Sheet] = []
    first = 0
    for colour in COLOURS:
        for layout in LAYOUTS:
            for paper, (width, height, square, across, down) in PAPERS.items():
                sheet = Sheet(paper, layout, colour, width, height, square, across, down, first)
                first += len(sheet.markers())
                sheets.append(sheet)
    return tuple(sheets)


def sheet(paper: str = "A4", layout: str = "plain", colour: str = "blue") -> Sheet:
    """Give one kind of mat.

    Parameters
    ----------
    paper : str
        A4, Letter or A3. [-]
    layout : str
        plain, or boxes for twelve bags. [-]
    colour : str
        blue, or green for pieces painted blue. [-]

    Returns
    -------
    Sheet
        Its geometry.

    Raises
    ------
    UnknownMat
        None such is printed.

    Examples
    --------
    >>> sheet("A4").ring_mm
    (264.0, 180.0)

    References
    ----------
    none: the program's own layout.
    """
    for one in all_sheets():
        if (one.paper, one.layout, one.colour) == (paper, layout, colour):
            return one
    raise UnknownMat(
        f"There is no mat {paper} {layout} {colour}. "
        f"Paper: {', '.join(PAPERS)}; layout: {', '.join(LAYOUTS)}; colour: {', '.join(COLOURS)}."
    )


def sheet_of_marker(number: int) -> Sheet | None:
    """Give the mat that a marker is printed on.

    Parameters
    ----------
    number : int
        Number of the marker. [-]

    Returns
    -------
    Sheet or None
        None where no mat bears it.

    Examples
    --------
    >>> sheet_of_marker(0).name
    'A4-plain-blue'

    References
    ----------
    none: the program's own layout.
    """
    return next((one for one in all_sheets() if 0 <= number - one.first_id < len(one.markers())), None)


def read_code(text: str) -> tuple[Sheet, str] | None:
    """Read the printed code of a mat.

    Parameters
    ----------
    text : str
        What the code holds. [-]

    Returns
    -------
    tuple of Sheet and str, or None
        Kind and number; None where the code is something else's.

    Examples
    --------
    >>> read_code("WMAT:A3-boxes-green:K7Q2")[1]
    'K7Q2'
    >>> read_code("https://example.org") is None
    True

    References
    ----------
    none: the program's own code.
    """
    found = _CODE.fullmatch(text.strip())
    return (sheet(found[1], found[2], found[3]), found[4]) if found else None
