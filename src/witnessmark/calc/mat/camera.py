"""Where the camera stood and how its lens bends, from the points of the mat that were found in one picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

Array = Any
# How far a focal length from the file, or assumed, may be off; how much a phone's lens still bends.
FOCAL_SPREAD, K1_SPREAD, K2_SPREAD = 0.04, 0.08, 0.06
ASSUMED_FOCAL_35MM = 26.0
_DIAGONAL_35MM = 43.267


@dataclass(frozen=True)
class Camera:
    """A pinhole with two terms of bending; `turn` and `shift` bring mat points (x right, y down, z into it) before it."""

    turn: Array
    shift: Array
    focal_px: float
    middle_px: tuple[float, float]
    k1: float
    k2: float
    rms_px: float
    worst_px: float

    @property
    def centre_mm(self) -> tuple[float, float, float]:
        """Where the camera stood: x, y, and height above the mat."""
        c = -self.turn.T @ self.shift
        return float(c[0]), float(c[1]), float(-c[2])

    @property
    def tilt_deg(self) -> float:
        """Angle between the line of sight and straight down."""
        import math

        return math.degrees(math.acos(min(1.0, abs(float(self.turn[2, 2])))))

    def see(self, x_mm: Array, y_mm: Array, height_mm: Array | float = 0.0) -> tuple[Array, Array]:
        """Give the pixel of each point; the centre of the first pixel is 0."""
        t, s = self.turn, self.shift
        a = t[0, 0] * x_mm + t[0, 1] * y_mm - t[0, 2] * height_mm + s[0]
        b = t[1, 0] * x_mm + t[1, 1] * y_mm - t[1, 2] * height_mm + s[1]
        c = t[2, 0] * x_mm + t[2, 1] * y_mm - t[2, 2] * height_mm + s[2]
        x, y = a / c, b / c
        r2 = x * x + y * y
        bend = (1 + r2 * (self.k1 + r2 * self.k2)) * self.focal_px
        return x * bend + self.middle_px[0], y * bend + self.middle_px[1]


def focal_px(focal_35mm: float | None, width: int, height: int) -> float:
    """Turn the focal length that the file tells into pixels.

    Parameters
    ----------
    focal_35mm : float or None
        Focal length as on 35 mm film; None where the file does not tell. [mm]
    width : int
        Picture. [px]
    height : int
        Picture. [px]

    Returns
    -------
    float
        Focal length in pixels, by the diagonal of the film.

    Examples
    --------
    >>> round(focal_px(26.0, 4000, 3000))
    3005

    References
    ----------
    mat-geometry
    """
    import math

    return (focal_35mm or ASSUMED_FOCAL_35MM) * math.hypot(width, height) / _DIAGONAL_35MM


def solve(points_mm: Array, points_px: Array, focal_guess_px: float, size_px: tuple[int, int]) -> Camera:
    """Find camera and lens from flat points and their pixels.

    Parameters
    ----------
    points_mm : array
        Points on the mat. [mm], shape (n, 2)
    points_px : array
        Their pixels. [px], shape (n, 2)
    focal_guess_px : float
        Focal length to start from; it is held to within a few per cent of this unless the tilt shows better. [px]
    size_px : tuple of int
        Width and height of the picture; its middle is taken as the lens's axis. [px]

    Returns
    -------
    Camera
        With the root mean square and the worst miss.

    Notes
    -----
    Least squares over turn, shift, focal length and two terms of bending; the last three are held by what phones are
    known to spread, so that a picture from straight above, which cannot tell focal length from distance, still solves.

    Examples
    --------
    >>> import numpy as np
    >>> flat = np.array([[x, y] for x in (0.0, 50.0, 100.0) for y in (0.0, 40.0, 80.0)])
    >>> seen = flat * 10 + 100
    >>> round(solve(flat, seen, 3000.0, (1200, 1000)).centre_mm[2])
    300

    References
    ----------
    mat-geometry
    """
    import cv2
    import numpy as np
    from scipy.optimize import least_squares

    middle = ((size_px[0] - 1) / 2, (size_px[1] - 1) / 2)
    solid = np.column_stack([points_mm, np.zeros(len(points_mm))])
    matrix = np.array([[focal_guess_px, 0, middle[0]], [0, focal_guess_px, middle[1]], [0, 0, 1.0]])
    _, turn0, shift0 = cv2.solvePnP(solid, points_px.astype(float), matrix, None, flags=cv2.SOLVEPNP_IPPE)
    if not (np.isfinite(turn0).all() and np.isfinite(shift0).all()):  # it gives none from exactly straight above
        _, turn0, shift0 = cv2.solvePnP(solid, points_px.astype(float), matrix, None, flags=cv2.SOLVEPNP_ITERATIVE)

    def made(p: Array) -> Camera:
        return Camera(cv2.Rodrigues(p[:3])[0], p[3:6], focal_guess_px * p[6], middle, p[7], p[8], 0.0, 0.0)

    def misses(p: Array) -> Array:
        u, v = made(p).see(points_mm[:, 0], points_mm[:, 1])
        held = [(p[6] - 1) / FOCAL_SPREAD, p[7] / K1_SPREAD, p[8] / K2_SPREAD]
        return np.concatenate([(u - points_px[:, 0]) / 0.3, (v - points_px[:, 1]) / 0.3, held])

    start = np.concatenate([turn0.ravel(), shift0.ravel(), [1.0, 0.0, 0.0]])
    scales = np.array([0.1, 0.1, 0.1, 10, 10, 10, 0.02, 0.05, 0.05])
    found = least_squares(misses, start, x_scale=scales, loss="soft_l1", f_scale=3.0, max_nfev=60).x
    camera = made(found)
    u, v = camera.see(points_mm[:, 0], points_mm[:, 1])
    away = np.hypot(u - points_px[:, 0], v - points_px[:, 1])
    return Camera(
        camera.turn, camera.shift, camera.focal_px, middle, camera.k1, camera.k2,
        float(np.sqrt(np.mean(away**2))), float(np.quantile(away, 0.97)),
    )  # fmt: skip
