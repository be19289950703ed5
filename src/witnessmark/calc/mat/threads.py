"""The flanks of a pin looked at again: how far the crests of a thread stand out, and its pitch."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from witnessmark.calc.mat.camera import Array
from witnessmark.calc.mat.finding import steps_across
from witnessmark.calc.mat.rectify import Flat
from witnessmark.calc.mat.shapes import Fit

PITCHES_MM = (0.35, 2.6)
# A picture's blur rounds a crest: what is lost of it, learned from drawn pictures with other seeds than the measured ones.
CREST_ROUNDED_MM = 0.024


@dataclass(frozen=True)
class Flank:
    """What the flanks show; a pitch of nought where no thread can be seen."""

    crest_mm: float
    pitch_mm: float
    pitch_uncertainty_mm: float
    strength: float


def flank(flat: Flat, signal: Array, noise: float, pin: Fit) -> Flank | None:
    """Look along both flanks of a fitted pin.

    Parameters
    ----------
    flat : Flat
        The flat picture. [-]
    signal : array
        Hue against the mat's. [-], shape (rows, columns)
    noise : float
        Noise of the signal. [-]
    pin : Fit
        A fitted pin, headed or plain. [mm]

    Returns
    -------
    Flank or None
        None where the shank is too short to look at.

    Notes
    -----
    Pitches from 0.35 to 2.6 mm, no finer than four pixels; at least four turns must be seen.

    Examples
    --------
    >>> flank.__name__
    'flank'

    References
    ----------
    mat-geometry
    """
    import numpy as np

    v = pin.values
    rim = v[5] if len(v) > 5 else v[3]
    tilt = np.arctan2(rim - v[3], max(v[4], 1e-3))
    u = np.array([np.cos(v[2]) * np.cos(tilt), np.sin(v[2]) * np.cos(tilt), -np.sin(tilt)])
    side = np.array([-np.sin(v[2]), np.cos(v[2]), 0.0])
    above = np.cross(u, side)
    eye, start = np.array(flat.camera.centre_mm), np.array([v[0], v[1], rim * np.cos(tilt)])
    along, across, up = (eye - start) @ np.array([u, side, above]).T
    # The plane through the camera that holds a flank touches it here, a little above or below the axis.
    turns = np.arctan2(up, across) - np.array([1.0, -1.0]) * np.arccos(v[3] / np.hypot(across, up))
    begin = v[6] if pin.family == "countersunk" else 0.0
    first, last = max(begin, *(_hidden(v[3], turn, rim, along, across, up) for turn in turns)) + 0.6, v[4] - 0.5
    if last - first < 3.0:
        return None
    step = 0.06
    q = np.arange(first, last, step)
    axis = start + q[:, None] * u
    rows = []
    for turn in turns:
        touch = np.cos(turn) * side + np.sin(turn) * above
        edge = axis + v[3] * touch
        on_mat = eye[:2] + (edge[:, :2] - eye[:2]) * (eye[2] / (eye[2] - edge[:, 2]))[:, None]
        level = float(np.hypot(touch[0], touch[1]))
        away, seen = steps_across(flat, signal, on_mat, np.tile(touch[:2] / level, (len(q), 1)), noise)
        rows.append(np.where(seen, away, np.nan) * level * (eye[2] - axis[:, 2]) / eye[2])
    seen = _read(np.array(rows), step, 1.0 / flat.px_per_mm)
    # No thread is coarser than a third of its diameter: such a wave is a fault of the edge.
    return seen if seen.pitch_mm < 0.33 * 2 * v[3] else Flank(0.0, 0.0, 0.0, seen.strength)


def _hidden(radius: float, turn: float, rim: float, along: float, across: float, up: float) -> float:
    """Give how much of a flank the head hides from a camera that stands on the head's side."""
    import numpy as np

    if along >= 0:
        return 0.0
    q = np.arange(0.0, 3 * rim, 0.1)
    share = q / (q - along)
    x, y = radius * np.cos(turn), radius * np.sin(turn)
    passes = np.hypot(x + share * (across - x), y + share * (up - y))
    return float(q[passes < 1.08 * rim].max(initial=0.0))  # a hexagon's corners reach farther than its flats


def _read(rows: Array, step: float, pixel_mm: float) -> Flank:
    import numpy as np

    flat_rows = []
    for row in rows:
        good = np.isfinite(row)
        if good.mean() < 0.7:
            return Flank(0.0, 0.0, 0.0, 0.0)
        at = np.arange(len(row))
        flat_rows.append(np.interp(at, at[good], row[good]))
    rows = np.array(flat_rows)
    pitch, strength, spread, where = _pitch(rows, step, max(PITCHES_MM[0], 4 * pixel_mm))
    if not pitch:
        return Flank(0.0, 0.0, 0.0, strength)
    # An axis fitted a little askew leaves a slope on both flanks, which must not pass for crests.
    threaded = rows[:, where]
    slope = np.array([np.polyfit(np.nonzero(where)[0], row, 1)[0] for row in threaded])
    askew = slope[:, None] * (np.nonzero(where)[0] - np.nonzero(where)[0].mean())
    crest = float(np.quantile(threaded - askew, 0.95, axis=1).mean()) + CREST_ROUNDED_MM
    return Flank(crest, pitch, spread, strength)


def _pitch(rows: Array, step: float, finest: float) -> tuple[float, float, float, Any]:
    """Find the one period that both flanks share, over the part of the shank that bears a thread."""
    import numpy as np

    smooth = np.array([row - np.convolve(np.pad(row, 25, "edge"), np.ones(51) / 51, "valid") for row in rows])
    power = np.convolve(np.pad((smooth**2).mean(0), 12, "edge"), np.ones(25) / 25, "valid")
    where = power > 0.3 * np.quantile(power, 0.9)
    if where.sum() * step < 3.0:
        return 0.0, 0.0, 0.0, where
    at = np.nonzero(where)[0]
    part = smooth[:, at[0] : at[-1] + 1]
    length = part.shape[1] * step
    bell = np.hanning(part.shape[1])
    tried = 1 / np.arange(1 / min(PITCHES_MM[1], length / 4), 1 / finest, 0.1 / length)
    if len(tried) < 8:
        return 0.0, 0.0, 0.0, where
    u = np.arange(part.shape[1]) * step
    wave = np.exp(-2j * np.pi * u[None] / tried[:, None]) * bell
    strength = (np.abs(wave @ part.T) ** 2).sum(1)
    best = int(strength.argmax())
    amplitude = float(np.sqrt(strength[best] / 2)) * 2 / bell.sum()
    clear = float(strength[best] / (np.median(strength) + 1e-12))
    if amplitude < 0.022 or clear < 14 or best in (0, len(tried) - 1):
        return 0.0, clear, 0.0, where
    f = 1 / tried[best - 1 : best + 2]
    a, b, c = strength[best - 1 : best + 2]
    bend = a - 2 * b + c
    frequency = f[1] + (0.5 * (a - c) / bend if bend else 0.0) * (f[1] - f[0])
    pitch = 1 / frequency
    return float(pitch), clear, float(2 * pitch**2 / length * 0.06 + 0.003 * pitch), where
