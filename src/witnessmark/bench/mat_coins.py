"""Real photographs: coins of legal diameter on white paper, their outlines found by the mat's own reader.

The pictures show no mat. The paper's four edges take the perspective out; the scale comes from the largest coin of each,
so that the size of the paper is nowhere believed. What lies there was read off the coins by eye, before they were measured.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from witnessmark.bench.figures import NotMeasured, figure
from witnessmark.bench.mat_shapes import Array
from witnessmark.bench.plan_files import folder

if TYPE_CHECKING:
    from witnessmark.calc.mat.rectify import Flat

# Council Regulation (EC) 975/98, annex I: diameters in mm.
LEGAL_MM = {"5 ct": 21.25, "10 ct": 19.75, "20 ct": 22.25, "1 EUR": 23.25, "2 EUR": 25.75}
# What lies alone in each picture, from the top down, and how many touch one another.
LAID: dict[str, tuple[tuple[str, ...], int]] = {
    "recta.jpeg": (("5 ct", "2 EUR", "1 EUR", "20 ct", "10 ct"), 0),
    "juntas.jpeg": (("10 ct", "5 ct"), 3),
}
GOOD_MM = 0.5  # a coin's outline at four to six pixels a millimetre misses its circle by less
SHADOW, NOISE = 0.3, 0.04


def _paper(path: Path) -> Flat:
    """See the sheet of paper from straight above, about as many pixels a millimetre as the picture has."""
    import cv2

    from witnessmark.calc.mat.camera import Camera
    from witnessmark.calc.mat.rectify import Flat
    from witnessmark.calc.mat.sheet import sheet

    picture = cv2.imread(str(path))
    if picture is None:
        raise NotMeasured(f"{path} cannot be read")
    hue = cv2.cvtColor(picture, cv2.COLOR_BGR2HSV)
    white = ((hue[..., 1] < 60) & (hue[..., 2] > 90)).astype(np.uint8)
    sheet_of = cv2.morphologyEx(white, cv2.MORPH_CLOSE, np.ones((25, 25), np.uint8))
    outlines, _ = cv2.findContours(sheet_of, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    hull = cv2.convexHull(max(outlines, key=cv2.contourArea))
    for share in np.linspace(0.005, 0.1, 40):
        corners = cv2.approxPolyDP(hull, share * cv2.arcLength(hull, True), True).reshape(-1, 2)
        if len(corners) <= 4:
            break
    if len(corners) != 4:
        raise NotMeasured(f"no sheet of paper in {path}")
    corners = corners[np.argsort(corners.sum(1))].astype(np.float32)  # top left first, bottom right last
    if corners[1, 1] > corners[2, 1]:
        corners[[1, 2]] = corners[[2, 1]]
    per_mm = float(np.linalg.norm(corners[1] - corners[0]) / 210.0)
    wide, high = int(210 * per_mm), int(297 * per_mm)
    onto = np.array([[0, 0], [wide, 0], [0, high], [wide, high]], np.float32)
    flat = cv2.warpPerspective(picture, cv2.getPerspectiveTransform(corners, onto), (wide, high), flags=cv2.INTER_CUBIC)
    inset = int(4 * per_mm)
    linear = (flat[inset:-inset, inset:-inset, ::-1].astype(np.float32) / 255) ** 2.2
    light = (linear * 65535).astype(np.uint16)
    nowhere = Camera(np.eye(3), np.zeros(3), 1.0, (0.0, 0.0), 0.0, 0.0, 0.0, 0.0)  # finding asks for no camera
    return Flat(sheet("A4"), "", nowhere, light, per_mm, (0.0, 0.0), (1.0, 1.0), False, 0, picture.shape[:2])


def _off_white(flat: Flat) -> Array:
    """How much darker than the paper each pixel is, a shadow on the paper counting as nothing.

    The paper's own light is a bent surface of second order through what is not much darker than it.
    """
    grey = np.log(flat.light.astype(np.float32).mean(2) / 65535 + 0.01)
    y, x = np.mgrid[0 : grey.shape[0], 0 : grey.shape[1]]
    x, y = x / grey.shape[1] - 0.5, y / grey.shape[0] - 0.5
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], -1)
    few, seen = terms[::7, ::7].reshape(-1, 6), grey[::7, ::7].reshape(-1)
    paper = np.ones(len(seen), bool)
    for _ in range(6):
        bend = np.linalg.lstsq(few[paper], seen[paper], rcond=None)[0]
        paper = np.abs(seen - few @ bend) < 0.12
    return np.maximum(1 - np.exp(grey - terms @ bend) - SHADOW, 0).astype(np.float32)


def circle(points: Array) -> tuple[Array, float, float]:
    """Fit a circle to most of the points: its middle, its diameter, and the median of what all points miss it by."""
    kept = np.ones(len(points), bool)
    for _ in range(8):
        design = np.column_stack([2 * points[kept], np.ones(np.count_nonzero(kept))])
        x, y, c = np.linalg.lstsq(design, (points[kept] ** 2).sum(1), rcond=None)[0]
        radius = float(np.sqrt(c + x * x + y * y))
        miss = np.abs(np.linalg.norm(points - [x, y], axis=1) - radius)
        kept = miss <= max(2 * float(np.median(miss)), 0.1)
    return np.array([x, y]), 2 * radius, float(np.median(miss))


@cache
def measured() -> dict[str, list[tuple[float, float, float]]]:
    """What the reader finds in each picture, from the top down: how far down, the circle's diameter, and its miss in mm."""
    from witnessmark.calc.mat.finding import Difference, find

    home = folder() / "photos_coins"
    if not all((home / name).is_file() for name in LAID):
        raise NotMeasured(f"no files in {home}")
    told = {}
    for name in LAID:
        flat = _paper(home / name)
        # Coins are found by how dark they are, which the signal holds already: no thing counts as a dark one among bright.
        even = replace(flat, light=np.full_like(flat.light, 30000))
        things = find(even, Difference(_off_white(flat), NOISE, (1 / 3, 1 / 3, 1 / 3)))
        circles = [circle(one.outline.points[~one.outline.concave]) for one in things]
        told[name] = sorted((float(middle[1]), diameter, miss) for middle, diameter, miss in circles)
    return told


def _alone(name: str) -> list[float]:
    """Diameters of the things that are one coin, from the top down."""
    return [diameter for _, diameter, miss in measured()[name] if miss <= GOOD_MM]


@figure("mat.coins_miscounted", unit="coins", goal=0)
def miscounted(full: bool) -> tuple[float, str]:
    """Coins in photographs of real ones that are counted wrongly; three that touch are rightly one heap for the person."""
    wrong, said = 0, []
    for name, (laid, touching) in LAID.items():
        things, alone = len(measured()[name]), len(_alone(name))
        wrong += abs(alone - (len(laid))) + abs(things - alone - (1 if touching else 0))
        said.append(f"{name}: {alone} of {len(laid)} that lie alone, {things - alone} heap")
    return wrong, "; ".join(said)


@figure("mat.coins_mean_error_mm", unit="mm", goal=0.19)
def mean_error(full: bool) -> tuple[float, str]:
    """Mean error of the diameters of real coins, the largest that lies alone giving the scale of its picture.

    The goal is what a trial with its own reader reached on other photographs of coins. How dark a shadow may be was chosen on
    these very pictures, there being no others: the figure shows that the reader's outline holds on real metal, not how well.
    """
    errors, said = [], []
    for name, (laid, _touching) in LAID.items():
        found = _alone(name)
        if len(found) != len(laid):
            raise NotMeasured(f"{name}: {len(found)} found where {len(laid)} lie alone, so none can be named")
        largest = max(laid, key=LEGAL_MM.__getitem__)
        scale = LEGAL_MM[largest] / found[laid.index(largest)]
        for what, diameter in zip(laid, found, strict=True):
            if what != largest:
                errors.append(diameter * scale - LEGAL_MM[what])
                said.append(f"{what} {errors[-1]:+.2f}")
        said.append(f"{name}: scale by the {largest} {scale:.3f} of that by A4")
    return float(np.mean(np.abs(errors))), "; ".join(said)
