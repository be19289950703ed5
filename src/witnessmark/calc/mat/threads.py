"""The flanks of a pin looked at again: how far the crests of a thread stand out, and its pitch."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from witnessmark.calc.mat.camera import Array
from witnessmark.calc.mat.finding import steps_across
from witnessmark.calc.mat.rectify import Flat
from witnessmark.calc.mat.shapes import Fit

PITCHES_MM = (0.35, 2.6)
MOST_CREST = 0.18  # of a pitch: more is noise of the edge, for the fit runs through the thread's middle


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
    cx, cy, camera = flat.camera.centre_mm
    rim = v[5] if len(v) > 5 else v[3]
    tilt = np.arctan2(rim - v[3], max(v[4], 1e-3))
    begin = v[6] if pin.family == "countersunk" else 0.0
    first, last = begin + 0.6, v[4] - 0.5
    if last - first < 3.0:
        return None
    step = 0.06
    q = np.arange(first, last, step)
    axis = np.array([np.cos(v[2]) * np.cos(tilt), np.sin(v[2]) * np.cos(tilt)])
    height = rim * np.cos(tilt) - q * np.sin(tilt)
    side = np.array([-np.sin(v[2]), np.cos(v[2])])
    rows = []
    for sign in (1.0, -1.0):
        edge = np.array([v[0], v[1]]) + q[:, None] * axis + sign * side * v[3]
        grow = (camera / (camera - height))[:, None]
        on_mat = np.array([cx, cy]) + (edge - [cx, cy]) * grow
        # Seen at a slant, the touching line lies a little above or below the axis; the rest is in the offset's mean.
        away, seen = steps_across(flat, signal, on_mat, np.tile(sign * side, (len(q), 1)), noise)
        rows.append(np.where(seen, away, np.nan) / grow[:, 0])
    seen = _read(np.array(rows), step, 1.0 / flat.px_per_mm)
    # No thread is coarser than a third of its diameter: such a wave is a fault of the edge.
    return seen if seen.pitch_mm < 0.33 * 2 * v[3] else Flank(0.0, 0.0, 0.0, seen.strength)


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
    # The fit went through the mean of crests and flanks: the crests stand outside it.
    threaded = rows[:, where]
    crest = float(np.quantile(threaded, 0.85, axis=1).mean())
    return Flank(min(crest, MOST_CREST * pitch), pitch, spread, strength)


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
