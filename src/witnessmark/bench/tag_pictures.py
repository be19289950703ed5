"""Photographs of tags lying beside parts, drawn with known truth; nothing here is shared with the reader.

A pinhole camera over a bench: tags tilted and turned, uneven light, a glare, dirt, a corner under a finger, blur, noise, JPEG.
Millimetres on the bench, the camera above it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
import segno

Array = Any
_PX = 20  # pixels to a millimetre of a drawn face
# The printed face, as it is measured on the paper: oblong, the two codes and their side.
FACE_MM, CODE_MM, CODE_AT_MM = (62.0, 29.0), 18.0, ((3.5, 2.5), (40.5, 2.5))


def drawn_face(codes: Sequence[str], number: str) -> Array:
    """Draw a white face with its two codes and the number between them, 0 to 255."""
    face = np.full((int(FACE_MM[1] * _PX), int(FACE_MM[0] * _PX)), 245, np.uint8)
    for text, (x, y) in zip(codes, CODE_AT_MM, strict=True):
        cells = np.array([[bool(cell) for cell in row] for row in segno.make_qr(text, error="h").matrix])
        side = int(CODE_MM * _PX)
        code = cv2.resize(np.where(cells, 22, 245).astype(np.uint8), (side, side), interpolation=cv2.INTER_NEAREST)
        face[int(y * _PX) : int(y * _PX) + side, int(x * _PX) : int(x * _PX) + side] = code
    left = (FACE_MM[0] - 4.6 * len(number)) / 2
    cv2.putText(face, number, (int(left * _PX), int(27.5 * _PX)), cv2.FONT_HERSHEY_DUPLEX, 5.0, 25, 11, cv2.LINE_AA)
    return face


def torn(face: Array, chance: np.random.Generator) -> Array:
    """Tear both codes through their middles, so that neither can be read: dark jagged strips."""
    face = face.copy()
    for x, y in CODE_AT_MM:
        points = [((x + CODE_MM * k / 6) * _PX, (y + CODE_MM * chance.uniform(0.35, 0.65)) * _PX) for k in range(7)]
        cv2.polylines(face, [np.array(points, np.int32)], False, 60, int(9.5 * _PX))
    return face


def photographed(
    faces: Sequence[Array],
    chance: np.random.Generator,
    *,
    megapixels: float,
    tilt_degrees: float,
    field_mm: float = 0.0,
) -> bytes:
    """Give a JPEG of the faces lying on a bench among parts."""
    width = round((megapixels * 1e6 * 4 / 3) ** 0.5)
    height = round(width * 3 / 4)
    field = field_mm or float(chance.uniform(220, 340)) * max(1.0, len(faces) ** 0.5)
    bench = _bench(chance, width, height)
    # Camera: looks at the middle of the bench from a distance at which the field fills the picture.
    focal, away = 1.15 * width, 1.15 * field
    tilt, way = np.radians(tilt_degrees), chance.uniform(0, 2 * np.pi)
    axis = np.array([np.cos(way), np.sin(way), 0.0])
    turn, _ = cv2.Rodrigues(axis * tilt)

    def seen(points_mm: Array) -> Array:
        at = np.column_stack([points_mm, np.zeros(len(points_mm))]) @ turn.T + np.array([0, 0, away])
        return at[:, :2] / at[:, 2:] * focal + np.array([width / 2, height / 2])

    spots = _spots(len(faces), field)
    for face, middle in zip(faces, spots, strict=True):
        turned = chance.uniform(0, 2 * np.pi) if len(faces) == 1 else chance.uniform(-0.3, 0.3)
        rotation = np.array([[np.cos(turned), -np.sin(turned)], [np.sin(turned), np.cos(turned)]])
        half = np.array(FACE_MM) / 2
        corners = np.array([[-half[0], -half[1]], [half[0], -half[1]], half, [-half[0], half[1]]]) @ rotation.T + middle
        flat = np.array([[0, 0], [face.shape[1], 0], [face.shape[1], face.shape[0]], [0, face.shape[0]]], np.float32)
        _lay(bench, _soiled(face, chance), flat, seen(corners).astype(np.float32))
    return _exposed(bench, chance, width, height)


def _spots(count: int, field: float) -> Array:
    if count <= 1:
        return np.zeros((count, 2))
    across = int(np.ceil(count**0.5 * 0.8))
    down = -(-count // across)
    grid = [((i + 0.5) / across - 0.5, (j + 0.5) / down - 0.5) for j in range(down) for i in range(across)]
    return np.array(grid[:count]) * np.array([field * 0.78, field * 0.56])


def _bench(chance: np.random.Generator, width: int, height: int) -> Array:
    """Draw a worn bench with round and angular parts on it."""
    coarse = chance.uniform(60, 150) + chance.normal(0, 22, (12, 16))
    bench = cv2.resize(coarse.astype(np.float32), (width, height), interpolation=cv2.INTER_CUBIC)
    for _ in range(int(chance.integers(6, 18))):
        at = (int(chance.uniform(0, width)), int(chance.uniform(0, height)))
        shade = float(chance.uniform(30, 215))
        if chance.random() < 0.5:
            cv2.circle(bench, at, int(chance.uniform(0.01, 0.07) * width), shade, -1, cv2.LINE_AA)
        else:
            size = tuple(float(v) for v in chance.uniform(0.02, 0.2, 2) * width)
            box = cv2.boxPoints((at, size, float(chance.uniform(0, 90))))
            cv2.fillPoly(bench, [box.astype(np.int32)], shade, cv2.LINE_AA)
    return bench


def _soiled(face: Array, chance: np.random.Generator) -> Array:
    """Dirt everywhere a little; often a glare or a finger over a part of one code, never of both."""
    face = face.astype(np.float32)
    h, w = face.shape
    stains = cv2.resize(chance.uniform(0, 1, (8, 16)).astype(np.float32), (w, h), interpolation=cv2.INTER_CUBIC)
    face *= 1 - 0.25 * np.clip(stains - 0.4, 0, 1)
    for _ in range(int(chance.integers(0, 25))):
        at = (int(chance.uniform(0, w)), int(chance.uniform(0, h)))
        cv2.circle(face, at, int(chance.uniform(0.1, 0.7) * _PX), float(chance.uniform(40, 140)), -1, cv2.LINE_AA)
    which = CODE_AT_MM[int(chance.integers(2))]
    if chance.random() < 0.35:
        spot = np.zeros_like(face)
        at = (int((which[0] + chance.uniform(2, 16)) * _PX), int((which[1] + chance.uniform(2, 16)) * _PX))
        size = (int(chance.uniform(3, 10) * _PX), int(chance.uniform(2, 5) * _PX))
        cv2.ellipse(spot, at, size, float(chance.uniform(0, 180)), 0, 360, 1.0, -1)
        spot = cv2.GaussianBlur(spot, (0, 0), 1.2 * _PX)
        face += (255 - face) * np.clip(1.3 * spot, 0, 1)
    if chance.random() < 0.3:
        edge = which[0] < 20
        at = (0 if edge else w, int(chance.uniform(0, h)))
        size = (int(chance.uniform(5, 13) * _PX), int(chance.uniform(6, 9) * _PX))
        cv2.ellipse(face, at, size, 0, 0, 360, float(chance.uniform(90, 175)), -1, cv2.LINE_AA)
    return face


def _lay(bench: Array, face: Array, flat: Array, corners: Array) -> None:
    height, width = bench.shape
    # Reduced first as far as it will be small, so that the sampling takes all of it in.
    shrink = min(1.0, 2.5 * float(np.linalg.norm(corners[1] - corners[0])) / face.shape[1])
    small = cv2.resize(face, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    onto = cv2.getPerspectiveTransform((flat * shrink).astype(np.float32), corners)
    laid = cv2.warpPerspective(small, onto, (width, height), flags=cv2.INTER_AREA)
    there = cv2.warpPerspective(np.ones_like(small), onto, (width, height), flags=cv2.INTER_LINEAR)
    shadow = cv2.GaussianBlur(there, (0, 0), width / 250)
    shadow = np.roll(shadow, (width // 200, width // 260), (0, 1))
    bench *= 1 - 0.35 * shadow * (1 - there)
    bench[:] = bench * (1 - there) + laid * there


def _exposed(bench: Array, chance: np.random.Generator, width: int, height: int) -> bytes:
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    way = chance.uniform(0, 2 * np.pi)
    light = 1 + chance.uniform(0, 0.35) * ((x / width - 0.5) * np.cos(way) + (y / height - 0.5) * np.sin(way))
    picture = bench * light * chance.uniform(0.7, 1.1)
    # Focus and hand: a share of the picture's width, as a phone's picture has it whatever its pixels.
    picture = cv2.GaussianBlur(picture, (0, 0), 0.55 + width * float(chance.uniform(0, 0.00035)))
    moved = width * float(chance.uniform(0, 0.0012))
    if moved > 1.5:
        kernel: Array = np.zeros((int(moved) | 1,) * 2, np.float32)
        kernel[kernel.shape[0] // 2] = 1 / kernel.shape[1]
        middle = (kernel.shape[0] / 2 - 0.5,) * 2
        turned = cv2.getRotationMatrix2D(middle, float(chance.uniform(0, 180)), 1)
        kernel = cv2.warpAffine(kernel, turned, kernel.shape)
        picture = cv2.filter2D(picture, -1, kernel / max(kernel.sum(), 1e-6))
    picture += chance.normal(0, chance.uniform(1.5, 6), picture.shape).astype(np.float32)
    done, data = cv2.imencode(
        ".jpg", np.clip(picture, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, int(chance.integers(70, 93))]
    )
    assert done
    return bytes(data)
