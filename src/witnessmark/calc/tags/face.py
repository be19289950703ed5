"""The face of a blank tag: two codes with the number between and below them, so that a finger may cover one.

Millimetres on the face: x to the right, y down from its upper left corner.
"""

from __future__ import annotations

WIDTH_MM, HEIGHT_MM = 62.0, 29.0
# Modules of the smallest code, its side without the white round it, and its left edges.
MODULES = 21
CODE_MM = 18.0
CODE_TOP_MM = 2.5
CODE_LEFT_MM = (3.5, WIDTH_MM - 3.5 - CODE_MM)
MODULE_MM = CODE_MM / MODULES
# The number stands in the middle below the codes: the height of its digits and their foot.
NUMBER_MM, NUMBER_FOOT_MM = 6.0, 27.5
