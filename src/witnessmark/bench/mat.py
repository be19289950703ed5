"""The mat: pictures drawn with known truth, read, and the plain way of reading them beside it.

One sample serves all figures: A4 at 12 megapixels, tilts from 0 to 25 degrees, pieces of known shapes and continuous
sizes that lie apart as the camera sees them; every piece counts, in doubt or not.
"""

import dataclasses
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, cast

import numpy as np

from witnessmark.bench.figures import SEED, figure
from witnessmark.bench.mat_pictures import jpeg
from witnessmark.bench.mat_scenes import drawn, random_scene, twin_scene
from witnessmark.bench.mat_shapes import Array, Truth

NAMES = {"washer": "ring"}
COMPARED = (
    "length", "shank_diameter", "head_diameter", "across_flats", "outside_diameter", "inside_diameter",
)  # fmt: skip
CHECKS = {"BENCH": (240.0, 150.0)}
# Pieces asked for and tilt; crowded mats hold as many as find room.
SAMPLE = ((20, 0), (35, 8), (50, 15), (60, 20), (30, 25), (80, 4))


@dataclass(frozen=True)
class Compared:
    """One picture read: what was laid, what was found, each figure's error and stated uncertainty."""

    laid: int
    found: int
    right_family: int
    errors: tuple[float, ...]
    covered: tuple[bool, ...]
    plain_errors: tuple[float, ...]
    cpu_s: float
    refused: str


def _match(truths: Sequence[Truth], pieces: Sequence[Any], ring_mm: tuple[float, float]) -> list[tuple[Truth, Any]]:
    """Pair each laid piece with the nearest found one that is free."""
    left = list(pieces)
    pairs = []
    for truth in truths:
        away = [np.hypot(p.x_mm - truth.x_mm + ring_mm[0], p.y_mm - truth.y_mm + ring_mm[1]) for p in left]
        if away and min(away) < 8:
            pairs.append((truth, left.pop(int(np.argmin(away)))))
    return pairs


def _errors(pairs: Sequence[tuple[Truth, Any]]) -> tuple[list[float], list[bool]]:
    """Compare every figure that the truth has; one that was not given counts as wholly wrong."""
    errors, covered = [], []
    for truth, piece in pairs:
        for name in COMPARED:
            if name not in truth.figures:
                continue
            told = piece.figures_mm.get(name)
            off = abs(told.value - truth.figures[name]) if told else truth.figures[name]
            errors.append(float(off))
            covered.append(bool(told and off <= told.uncertainty))
    return errors, covered


@cache
def _picture(count: int, tilt: float, seed: int) -> tuple[tuple[Truth, ...], tuple[float, float], bytes]:
    scene = random_scene(seed, count, tilt)
    return tuple(truth for truth, _mesh in scene.pieces), scene.ring_at_mm, jpeg(drawn(scene))


@cache
def _compiled() -> float:
    """Read once, uncounted: what the fit is compiled to is kept on disk from the first picture ever read."""
    from witnessmark.calc.mat.reading import read_mat

    began = time.process_time()
    read_mat(_picture(*SAMPLE[0], SEED)[2], CHECKS)
    return time.process_time() - began


@cache
def _read(count: int, tilt: float, seed: int) -> Compared:
    import cv2

    from witnessmark.calc.mat.reading import read_mat
    from witnessmark.calc.mat.rectify import NotReadable

    cv2.setNumThreads(1)
    truths, ring, data = _picture(count, tilt, seed)
    _compiled()
    began = time.process_time()
    try:
        found = read_mat(data, CHECKS)
    except NotReadable as why:
        return Compared(len(truths), 0, 0, (), (), (), time.process_time() - began, str(why))
    cpu_s = time.process_time() - began
    pairs = _match(truths, found.pieces, ring)
    errors, covered = _errors(pairs)
    right = sum(NAMES.get(t.family, t.family) == p.family for t, p in pairs)
    plain, _ = _errors(_match(truths, _plain(data), ring))
    return Compared(len(truths), len(found.pieces), right, tuple(errors), tuple(covered), tuple(plain), cpu_s, "")


@dataclass(frozen=True)
class _Straight:
    """A camera that knows neither lens nor height: a plain homography."""

    matrix: Array
    centre_mm: tuple[float, float, float] = (0.0, 0.0, 1e7)

    def see(self, x_mm: Array, y_mm: Array, height_mm: float = 0.0) -> tuple[Array, Array]:
        """Give the pixel of each point of the plane."""
        m = self.matrix
        depth = m[2, 0] * x_mm + m[2, 1] * y_mm + m[2, 2]
        return (m[0, 0] * x_mm + m[0, 1] * y_mm + m[0, 2]) / depth, (m[1, 0] * x_mm + m[1, 1] * y_mm + m[1, 2]) / depth


def _plain(data: bytes) -> Sequence[Any]:
    """Read the same picture the plain way: one homography, every piece as if it were printed on the mat."""
    import cv2

    from witnessmark.calc.mat.camera import Camera
    from witnessmark.calc.mat.pieces import measure
    from witnessmark.calc.mat.rectify import find_mat, open_picture, rectify, resample

    opened = open_picture(data)
    _sheet, mm, px, _count = find_mat(opened)
    flat = rectify(opened, CHECKS)
    straight = cast("Camera", _Straight(cv2.findHomography(mm, px)[0]))
    size = flat.light.shape[1] / flat.px_per_mm, flat.light.shape[0] / flat.px_per_mm
    light = resample(opened.rgb, straight, flat.origin_mm, size, flat.px_per_mm)
    return measure(dataclasses.replace(flat, camera=straight, light=light))


def _sample(full: bool) -> list[Compared]:
    rounds = 5 if full else 1
    return [_read(n, tilt, SEED + 100 * r + k) for r in range(rounds) for k, (n, tilt) in enumerate(SAMPLE)]


def _all(full: bool) -> tuple[Array, Array, Array, str]:
    sample = _sample(full)
    errors = np.array([e for one in sample for e in one.errors])
    plain = np.array([e for one in sample for e in one.plain_errors])
    covered = np.array([c for one in sample for c in one.covered])
    note = f"{len(sample)} pictures, {sum(one.laid for one in sample)} pieces, {len(errors)} figures, seed {SEED}"
    return errors, plain, covered, note


@figure("mat.counts_exact", unit="share", goal=0.98, sense=">=")
def counts_exact(full: bool) -> tuple[float, str]:
    """Share of the pictures whose pieces were counted exactly."""
    sample = _sample(full)
    right, laid = sum(one.right_family for one in sample), sum(one.laid for one in sample)
    return sum(one.found == one.laid for one in sample) / len(sample), (
        f"{sum(one.found for one in sample)} found of {laid} laid in {len(sample)} pictures; right shape {right / laid:.1%}"
    )


@figure("mat.mean_error_mm", unit="mm", goal=0.10)
def mean_error(full: bool) -> tuple[float, str]:
    """Mean error of all figures of all pieces."""
    errors, plain, _covered, note = _all(full)
    return float(errors.mean()), f"{note}; a plain homography: {plain.mean():.2f} mm"


@figure("mat.p95_error_mm", unit="mm", goal=0.25)
def p95_error(full: bool) -> tuple[float, str]:
    """Error that 95 of 100 figures stay below."""
    errors, plain, _covered, note = _all(full)
    return float(np.quantile(errors, 0.95)), f"{note}; a plain homography: {np.quantile(plain, 0.95):.2f} mm"


@figure("mat.uncertainty_covers_95", unit="distance from 0.90 to 0.99", goal=0.0)
def uncertainty_covers(full: bool) -> tuple[float, str]:
    """How far the share of figures within their stated uncertainty lies outside 0.90 to 0.99."""
    _off, _of_plain, covered, note = _all(full)
    share = float(covered.mean())
    return max(0.0, 0.90 - share, share - 0.99), f"{share:.3f} of {note}"


@figure("mat.groups_separated_at_0_3_mm", unit="share of pairs", goal=0.99, sense=">=")
def groups_separated(full: bool) -> tuple[float, str]:
    """Share of the pairs of one shape that are put together or apart as they were laid, sizes 0.3 mm apart."""
    from witnessmark.calc.mat.reading import read_mat

    right = pairs = 0
    for n in range(6 if full else 2):
        scene = twin_scene(SEED + 7 * n, tilt_deg=6.0 + 9 * n % 20)
        found = read_mat(jpeg(drawn(scene)), CHECKS)
        group_of = {number: group.number for group in found.groups for number in group.pieces}
        matched = _match([truth for truth, _mesh in scene.pieces], found.pieces, scene.ring_at_mm)
        for i, (a, piece_a) in enumerate(matched):
            for b, piece_b in matched[:i]:
                if a.family == b.family:
                    pairs += 1
                    right += (a.kind == b.kind) == (group_of[piece_a.number] == group_of[piece_b.number])
    return right / pairs, f"{pairs} pairs; two sizes of each shape, 0.3 mm apart in one diameter, six pieces each"


@figure("mat.in_range_refused", unit="pictures", goal=0)
def in_range_refused(full: bool) -> tuple[float, str]:
    """Pictures within the stated range that were refused."""
    sample = _sample(full)
    return sum(
        bool(one.refused) for one in sample
    ), f"of {len(sample)}; {'; '.join(one.refused for one in sample)}".rstrip("; ")


@figure("mat.cpu_s_per_picture", unit="s", goal=4)
def cpu_per_picture(full: bool) -> tuple[float, str]:
    """CPU time to read one picture, decoding included: the mean of the sample."""
    sample = _sample(full)
    times = [one.cpu_s for one in sample]
    return float(np.mean(times)), (
        f"most {max(times):.1f} s, of {len(times)} pictures with up to {max(one.laid for one in sample)} pieces; the "
        f"very first took {_compiled():.1f} s, compiling included where nothing was kept on disk yet"
    )


# The kernel's own mark of this process; what the parent took before the start does not count.
_READ_ONE = """
import pathlib, re, resource, sys
from witnessmark.calc.mat.reading import read_mat
read_mat(open(sys.argv[1], "rb").read())
status = pathlib.Path("/proc/self/status")
if status.exists():
    print(int(re.search(r"VmHWM:\\s+(\\d+)", status.read_text())[1]) * 1024)
else:
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


@figure("mat.peak_gb", unit="GB", goal=1)
def peak(full: bool) -> tuple[float, str]:
    """Most memory that a process of its own takes to read one picture."""
    count, tilt = SAMPLE[-1]
    _truths, _ring, data = _picture(count, tilt, SEED + len(SAMPLE) - 1)
    with tempfile.TemporaryDirectory(prefix="witnessmark-bench-") as folder:
        file = Path(folder) / "mat.jpg"
        file.write_bytes(data)
        done = subprocess.run(
            [sys.executable, "-c", _READ_ONE, str(file)],
            env=dict(os.environ),
            capture_output=True,
            text=True,
            check=True,
        )
    return int(done.stdout) / 1e9, "12 megapixels, the most crowded mat of the sample"
