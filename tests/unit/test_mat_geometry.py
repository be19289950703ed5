"""The geometry of one picture against OpenCV's own calibration and projection; the sheet against itself."""

import numpy as np
import pytest

from witnessmark.calc.mat.camera import focal_px, solve
from witnessmark.calc.mat.shapes import SHAPES, View, fit
from witnessmark.calc.mat.sheet import UnknownMat, all_sheets, read_code, sheet, sheet_of_marker

cv2 = pytest.importorskip("cv2")


def test_no_two_mats_share_a_marker() -> None:
    numbers = [n for one in all_sheets() for n in one.markers()]
    assert len(numbers) == len(set(numbers)) == sum(len(one.markers()) for one in all_sheets())
    assert max(numbers) < 1000  # the dictionary holds a thousand
    assert all(sheet_of_marker(n) == one for one in all_sheets() for n in one.markers())
    assert sheet_of_marker(999) is None


@pytest.mark.parametrize("one", all_sheets(), ids=lambda one: one.name)
def test_every_mat_fits_its_paper_and_its_check_lengths_too(one: object) -> None:
    from witnessmark.calc.mat.sheet import Sheet

    assert isinstance(one, Sheet)
    left, top = one.margin_mm
    assert left >= 5 and top >= 12  # most printers leave 5 mm white; the words above the ring need 12
    assert one.check_mm[0] < one.ring_mm[0] and one.check_mm[1] < one.ring_mm[1]
    assert len(one.boxes()) == (12 if one.layout == "boxes" else 0)
    assert read_code(one.code("AB12")) == (one, "AB12")


def test_an_unknown_paper_is_refused_with_what_there_is() -> None:
    with pytest.raises(UnknownMat, match=r"A4, Letter, A3"):
        sheet("A5")


def _board() -> np.ndarray:
    return np.array(sheet("A4").corners())


@pytest.mark.parametrize("tilt", [0.0, 8.0, 25.0])
@pytest.mark.parametrize("k1", [-0.05, 0.0, 0.04])
def test_the_camera_is_found_as_opencv_projects_it(tilt: float, k1: float) -> None:
    """OpenCV's projectPoints draws the points (its lens model is the same polynomial); `solve` must find the camera."""
    focal, size = 3050.0, (4000, 3000)
    board = _board()
    solid = np.column_stack([board, np.zeros(len(board))])
    turn = np.array([np.radians(tilt) * 0.8, np.radians(tilt) * 0.6, 0.02])
    matrix = cv2.Rodrigues(turn)[0]
    shift = np.array([0, 0, 285.0]) - matrix @ np.array([132.0, 90.0, 0.0])
    inner = np.array([[focal, 0, 1999.5], [0, focal, 1499.5], [0, 0, 1]])
    seen, _ = cv2.projectPoints(solid, turn, shift, inner, np.array([k1, 0.0, 0, 0, 0]))
    found = solve(board, seen.reshape(-1, 2), 3005.0, size)
    centre = -matrix.T @ shift
    assert found.rms_px < 0.05
    if tilt == 25.0:  # only tilt tells focal length from distance
        assert found.centre_mm == pytest.approx((centre[0], centre[1], -centre[2]), abs=2.5)
    assert found.centre_mm[2] == pytest.approx(-centre[2], rel=0.03)
    heights = np.array([0.0, 4.0, 9.0])
    there = np.column_stack([[60.0, 120.0, 200.0], [40.0, 90.0, 150.0], -heights])
    by_opencv, _ = cv2.projectPoints(there, turn, shift, inner, np.array([k1, 0.0, 0, 0, 0]))
    u, v = found.see(there[:, 0], there[:, 1], heights)
    # A pixel is 0.09 mm here: a height of 9 mm must not be misplaced by more than 0.05 mm.
    assert np.abs(np.stack([u, v], 1) - by_opencv.reshape(-1, 2)).max() < 0.6


def test_calibration_by_opencv_finds_the_same_camera() -> None:
    """OpenCV's calibrateCamera on the same oblique view: focal length fixed at the truth, the rest free."""
    rng = np.random.default_rng(3)
    board = _board()
    solid = np.column_stack([board, np.zeros(len(board))]).astype(np.float32)
    turn = np.array([0.25, -0.2, 0.01])
    matrix = cv2.Rodrigues(turn)[0]
    shift = np.array([0, 0, 300.0]) - matrix @ np.array([132.0, 90.0, 0.0])
    inner = np.array([[3005.0, 0, 1999.5], [0, 3005.0, 1499.5], [0, 0, 1]])
    seen = cv2.projectPoints(solid, turn, shift, inner, np.array([0.03, -0.01, 0, 0, 0]))[0].reshape(-1, 2)
    seen = (seen + rng.normal(0, 0.1, seen.shape)).astype(np.float32)
    flags = (
        cv2.CALIB_USE_INTRINSIC_GUESS | cv2.CALIB_FIX_PRINCIPAL_POINT | cv2.CALIB_FIX_FOCAL_LENGTH
        | cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K3
    )  # fmt: skip
    _, _, _, turns, shifts = cv2.calibrateCamera([solid], [seen], (4000, 3000), inner.copy(), np.zeros(5), flags=flags)
    reference = -cv2.Rodrigues(turns[0])[0].T @ shifts[0].ravel()
    found = solve(board, seen.astype(float), 3005.0, (4000, 3000))
    assert found.centre_mm == pytest.approx((reference[0], reference[1], -reference[2]), abs=1.5)


def test_focal_length_is_told_by_the_diagonal() -> None:
    """Film of 36 x 24 mm has a diagonal of 43.27 mm: a lens of that focal length sees one diagonal at that distance."""
    assert focal_px(np.hypot(36, 24), 4000, 3000) == pytest.approx(5000, rel=1e-4)


def _silhouette(points: np.ndarray, camera: tuple[float, float, float]) -> tuple[np.ndarray, np.ndarray]:
    """See solid points (x, y, height) from the camera and give the outline: points along the hull, and normals."""
    grow = camera[2] / (camera[2] - points[:, 2:])
    on_mat = np.array(camera[:2]) + (points[:, :2] - camera[:2]) * grow
    hull = cv2.convexHull(on_mat.astype(np.float32)).reshape(-1, 2).astype(float)
    spots, normals = [], []
    for a, b in zip(hull, np.roll(hull, -1, 0), strict=True):
        for share in np.arange(0, 1, 0.3 / max(np.hypot(*(b - a)), 0.3)):
            spots.append(a + (b - a) * share)
            normals.append(np.array([(b - a)[1], -(b - a)[0]]) / (np.hypot(*(b - a)) + 1e-12))
    made = np.array(normals)
    if np.sum(made * (np.array(spots) - np.mean(spots, 0))) < 0:
        made = -made
    return np.array(spots), made


@pytest.mark.parametrize("place", [(0.0, 0.0), (80.0, -40.0)])
def test_height_does_not_fool_the_fit_of_a_ring(place: tuple[float, float]) -> None:
    """A disc of 20 mm, 2 mm thick, as points on its two rims seen from 250 mm up: the fit gives 20, a plain reading more."""
    t = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    rims = [np.stack([place[0] + 10 * np.cos(t), place[1] + 10 * np.sin(t), np.full_like(t, z)], 1) for z in (0.0, 2.0)]
    camera = (0.0, 0.0, 250.0)
    spots, normals = _silhouette(np.concatenate(rims), camera)
    inf = np.inf
    found = fit(
        "ring", np.array([*spots.mean(0), 9.0, 1.5, 0.0]), np.array([-200.0, -200, 1, 0.1, 0]), np.full(5, 200.0),
        View(spots, normals, camera, None), (np.array([0, 0, 0, 2.0, 0]), np.array([inf, inf, inf, 0.01, inf])),
    )  # fmt: skip
    assert 2 * found.values[2] == pytest.approx(20.0, abs=0.02)
    assert np.ptp(spots[:, 0]) > 20.1 or place == (0.0, 0.0)


def test_a_hexagon_bolt_on_its_side_is_fitted_from_solid_points() -> None:
    """A bolt built from its own corner and rim points, lying on head and tail, tilted, far from the camera's foot."""
    r, length, half, head = 4.0, 30.0, 6.5, 5.3
    tilt = np.arctan2(half - r, length)
    t = np.linspace(0, 2 * np.pi, 360, endpoint=False)
    corners = half / np.cos(np.pi / 6) * np.stack([np.cos(t[::60]), np.sin(t[::60])], 1)
    local = [np.column_stack([np.full(6, u), corners]) for u in (-head, 0.0)]
    local += [np.column_stack([np.full(360, u), r * np.cos(t), r * np.sin(t)]) for u in (0.0, length)]

    def lie(p: np.ndarray) -> np.ndarray:
        u, side, up = p.T
        x, z = u * np.cos(tilt) + up * np.sin(tilt), half * np.cos(tilt) - u * np.sin(tilt) + up * np.cos(tilt)
        a = 0.7
        return np.stack([90 + x * np.cos(a) - side * np.sin(a), 60 + x * np.sin(a) + side * np.cos(a), z], 1)

    camera = (30.0, 20.0, 270.0)
    parts = [_silhouette(lie(np.concatenate(local[:2])), camera), _silhouette(lie(np.concatenate(local[2:])), camera)]
    grow = camera[2] / (camera[2] - half)
    neck = np.array(camera[:2]) + (np.array([90, 60]) - camera[:2]) * grow
    along = np.array([np.cos(0.7), np.sin(0.7)])
    keep = [(p - neck) @ along < 0.0 for p, _n in parts[:1]] + [(p - neck) @ along > 1.0 for p, _n in parts[1:]]
    spots = np.concatenate([p[k] for (p, _n), k in zip(parts, keep, strict=True)])
    normals = np.concatenate([n[k] for (_p, n), k in zip(parts, keep, strict=True)])
    start = np.array([89.0, 61.0, 0.68, 3.8, 29.0, 6.0, 5.0, 0.1])
    low, high = start - np.array([6, 6, 0.3, 2, 8, 3, 3, 0.1]), start + np.array([6, 6, 0.3, 2, 8, 3, 3, 1])
    free = (start, np.full(8, np.inf))
    found = fit("hexagon", start, low, high, View(spots, normals, camera, None), free)
    assert 2 * found.values[3] == pytest.approx(8.0, abs=0.05)
    assert found.values[4] == pytest.approx(30.0, abs=0.12)
    assert 2 * found.values[5] == pytest.approx(13.0, abs=0.05)
    assert found.values[6] == pytest.approx(5.3, abs=0.12)


def test_every_shape_gives_one_miss_a_point() -> None:
    t = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    n = np.stack([np.cos(t), np.sin(t)], 1)
    seen = View(50 + 5 * n, n, (0.0, 0.0, 250.0), 50 + 2 * n)
    sizes = {"plain pin": 6, "hexagon": 8, "round": 8, "countersunk": 9, "ring": 5, "nut": 6}
    assert set(sizes) == set(SHAPES)
    for family, count in sizes.items():
        misses = SHAPES[family](np.array([50.0, 50, 0.1, 2, 8, 4, 2, 0.2, 0.1][:count]), seen)
        assert np.isfinite(misses).all()
        assert len(misses) == (80 if family in ("ring", "nut") else 40)
