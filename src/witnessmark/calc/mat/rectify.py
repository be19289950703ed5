"""From the bytes of a picture to the mat seen from straight above, in linear light, or the reason why not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from witnessmark.calc.mat.camera import Array, Camera, focal_px, solve
from witnessmark.calc.mat.sheet import Sheet, read_code, sheet_of_marker

MOST_PIXELS = 60_000_000
LEAST_MARKERS = 10
MOST_TILT_DEG = 38.0
LEAST_PX_PER_MM = 5.0
MOST_PX_PER_MM = 12.0
MOST_EDGE_PX = 7.5
LEAST_STEP = 50  # grey levels from dark to light that make an edge worth measuring
_FOCAL_35MM, _EXIF = 0xA405, 0x8769


class NotReadable(ValueError):
    """The picture cannot be measured; the message says why and how to take it again."""


@dataclass(frozen=True)
class Opened:
    """A picture upright, as bytes of red, green and blue."""

    rgb: Array
    focal_35mm: float | None


@dataclass(frozen=True)
class Flat:
    """The work area seen from straight above: linear light, so many pixels a millimetre, `origin_mm` at the first."""

    sheet: Sheet
    serial: str
    camera: Camera
    light: Array
    px_per_mm: float
    origin_mm: tuple[float, float]
    scale: tuple[float, float]
    scale_measured: bool
    markers: int
    picture_px: tuple[int, int]


def open_picture(data: bytes) -> Opened:
    """Decode a picture and turn it upright.

    Parameters
    ----------
    data : bytes
        A file: JPEG, HEIC, PNG, WebP or TIFF. [-]

    Returns
    -------
    Opened
        Upright, with the focal length that the file tells.

    Raises
    ------
    NotReadable
        No picture, cut off, or too many pixels (it is not decoded then).

    Examples
    --------
    >>> open_picture(b"not a picture")
    Traceback (most recent call last):
    ...
    witnessmark.calc.mat.rectify.NotReadable: This is no picture that can be read. Give a JPEG, HEIC, PNG, WebP or TIFF file.

    References
    ----------
    none: decodes a file.
    """
    import io

    import numpy as np
    import pi_heif
    from PIL import Image, ImageOps, UnidentifiedImageError

    pi_heif.register_heif_opener()
    many = NotReadable(f"The picture has more than {MOST_PIXELS / 1e6:.0f} million pixels. Take it smaller.")
    try:
        with Image.open(io.BytesIO(data), formats=["JPEG", "PNG", "WEBP", "HEIF", "TIFF"]) as image:
            if image.width * image.height > MOST_PIXELS:
                raise many
            told = image.getexif().get_ifd(_EXIF).get(_FOCAL_35MM)
            focal = float(told) if isinstance(told, int | float) and 12 <= told <= 120 else None
            upright = ImageOps.exif_transpose(image).convert("RGB")
            return Opened(np.asarray(upright), focal)
    except NotReadable:
        raise
    except Image.DecompressionBombError as error:
        raise many from error
    except UnidentifiedImageError as error:
        raise NotReadable("This is no picture that can be read. Give a JPEG, HEIC, PNG, WebP or TIFF file.") from error
    except Exception as error:  # decoders raise many kinds on broken bytes: all mean the same to the person
        raise NotReadable(
            "The picture is cut off or broken: it cannot be read to its end. Copy it again from the phone, or take it again."
        ) from error


def find_mat(opened: Opened) -> tuple[Sheet, Array, Array, int]:
    """Find which mat lies in the picture, and the points of its ring.

    Parameters
    ----------
    opened : Opened
        The picture. [-]

    Returns
    -------
    tuple
        The sheet, points as drawn (n, 2), their pixels (n, 2), and how many markers were read.

    Raises
    ------
    NotReadable
        Black, no mat, two mats, or too few markers.

    Notes
    -----
    Markers are read at a reduced size; the points where four squares meet are then found to a part of a pixel in the
    whole picture, because they do not move when print or exposure makes black grow.

    Examples
    --------
    >>> import numpy as np
    >>> find_mat(Opened(np.zeros((80, 100, 3), np.uint8), None))
    Traceback (most recent call last):
    ...
    witnessmark.calc.mat.rectify.NotReadable: The picture is black. Take it again with more light.

    References
    ----------
    mat-geometry
    """
    import cv2
    import numpy as np

    if np.quantile(opened.rgb[::16, ::16], 0.98) < 24:
        raise NotReadable("The picture is black. Take it again with more light.")
    grey = cv2.cvtColor(opened.rgb, cv2.COLOR_RGB2GRAY)
    found: dict[Sheet, dict[int, Array]] = {}
    twice: set[int] = set()
    for longest in (1700, 4200):
        found, twice = _read_markers(grey, longest)
        if found and max(map(len, found.values())) >= LEAST_MARKERS:
            break
    if not found or max(map(len, found.values())) < LEAST_MARKERS:
        _refuse_blur(grey)
    if not found:
        raise NotReadable(
            "No mat is in the picture. Lay the pieces on a printed mat and take it from above, the whole ring in it."
        )
    if len(twice) > 3 or sum(len(markers) >= 4 for markers in found.values()) > 1:
        raise NotReadable("Two mats are in the picture. Take one picture of each.")
    sheet, markers = max(found.items(), key=lambda item: len(item[1]))
    if len(markers) < LEAST_MARKERS:
        raise NotReadable(
            f"Only {len(markers)} of {len(sheet.markers())} markers of the ring can be read; {LEAST_MARKERS} are needed. "
            "Uncover the ring, hold the phone still, keep glare off it, and take the whole ring in."
        )
    points_mm, points_px = _corners(grey, sheet, markers)
    return sheet, points_mm, points_px, len(markers)


def _read_markers(grey: Array, longest: int) -> tuple[dict[Sheet, dict[int, Array]], set[int]]:
    import cv2
    import numpy as np

    scale = min(1.0, longest / max(grey.shape))
    small = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA) if scale < 1 else grey
    settings = cv2.aruco.DetectorParameters()
    settings.minMarkerPerimeterRate = 0.015
    settings.adaptiveThreshWinSizeMin, settings.adaptiveThreshWinSizeMax = 11, 43
    settings.adaptiveThreshWinSizeStep = 16
    settings.errorCorrectionRate = 0.4
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    corners, numbers, _ = cv2.aruco.ArucoDetector(dictionary, settings).detectMarkers(small)
    found: dict[Sheet, dict[int, Array]] = {}
    twice: set[int] = set()
    for quad, read in zip(corners, () if numbers is None else numbers.ravel(), strict=True):
        number = int(read)
        sheet = sheet_of_marker(number)
        if sheet is None:
            continue
        seen = found.setdefault(sheet, {})
        if number in seen:
            twice.add(number)
        # A reduced pixel covers several: its centre lies half a pixel in from their edge.
        seen[number] = (quad.reshape(4, 2).astype(np.float64) + 0.5) / scale - 0.5
    return found, twice


def _corners(grey: Array, sheet: Sheet, markers: dict[int, Array]) -> tuple[Array, Array]:
    """Predict each meeting point from the markers next to it, and find it to a part of a pixel."""
    import cv2
    import numpy as np

    at = sheet.markers()
    side = sheet.marker_mm
    centres = {n: np.array(at[n]) + side / 2 for n in markers}
    quad_mm = np.array([[0, 0], [side, 0], [side, side], [0, side]])
    names = list(markers)
    spots = np.array([centres[n] for n in names])
    guessed, kept = [], []
    for corner in np.array(sheet.corners()):
        away = np.hypot(*(spots - corner).T)
        near = [names[k] for k in np.argsort(away)[:4] if away[k] < 3.1 * sheet.square_mm]
        if not near or away.min() > 0.9 * sheet.square_mm:
            continue
        mm = np.concatenate([quad_mm + at[n] for n in near])
        px = np.concatenate([markers[n] for n in near])
        bend: Any = cv2.findHomography(mm, px)[0]
        if bend is None:
            continue
        p = bend @ [*corner, 1.0]
        guessed.append(p[:2] / p[2])
        kept.append(corner)
    if len(kept) < 8:
        raise NotReadable(
            "Too little of the ring can be read: its markers are not next to each other. "
            "Uncover the ring, keep glare off it, and take the picture again."
        )
    mm, px = np.array(kept), np.array(guessed, np.float32)
    square_px = float(np.median([np.hypot(*(markers[n][1] - markers[n][0])) for n in names])) / 0.75
    half = int(np.clip(square_px * 0.075, 3, 12))
    fine = cv2.cornerSubPix(
        grey,
        px.reshape(-1, 1, 2).copy(),
        (half, half),
        (-1, -1),
        (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 30, 0.005),
    ).reshape(-1, 2)
    stayed = np.hypot(*(fine - px).T) < 0.12 * square_px
    return mm[stayed], fine[stayed].astype(np.float64)


def rectify(opened: Opened, checks: dict[str, tuple[float, float]] | None = None) -> Flat:
    """Lay the work area flat, as seen from straight above.

    Parameters
    ----------
    opened : Opened
        The picture. [-]
    checks : dict or None
        For each mat's number its two check lengths as measured with a ruler; `*` stands for any mat. [mm]

    Returns
    -------
    Flat
        Linear light, the camera and the scale.

    Raises
    ------
    NotReadable
        The mat cannot be measured; says why and how to take the picture again.

    Notes
    -----
    Between straight above and 38 degrees of tilt; at least 5 pixels a millimetre.

    Examples
    --------
    >>> import numpy as np
    >>> rectify(Opened(np.full((80, 100, 3), 200, np.uint8), None))
    Traceback (most recent call last):
    ...
    witnessmark.calc.mat.rectify.NotReadable: No mat is in the picture. Lay the pieces on a printed mat and take it from above, the whole ring in it.

    References
    ----------
    mat-geometry
    """
    import numpy as np

    sheet, mm, px, markers = find_mat(opened)
    height, width = opened.rgb.shape[:2]
    serial = _serial(opened, sheet, mm, px)
    known = checks or {}
    measured = known.get(serial) or known.get("*")
    scale = tuple(m / d for m, d in zip(measured, sheet.check_mm, strict=True)) if measured else (1.0, 1.0)
    sx, sy = scale
    points = mm * np.array([sx, sy])
    camera = solve(points, px, focal_px(opened.focal_35mm, width, height), (width, height))
    _refuse(sheet, camera, mm, points, px)
    left, top, right, bottom = sheet.work_mm
    middle = camera.see(
        np.array([(left + right) / 2 * sx, (left + right) / 2 * sx + 1]), np.array([bottom / 2 * sy] * 2)
    )
    native = float(np.hypot(np.diff(middle[0])[0], np.diff(middle[1])[0]))
    if native < LEAST_PX_PER_MM:
        raise NotReadable(
            f"The mat is small in the picture: {native:.1f} pixels a millimetre, {LEAST_PX_PER_MM:.0f} are needed. "
            "Go closer, or use the camera's full resolution."
        )
    per_mm = min(MOST_PX_PER_MM, native)
    origin = (left * sx, top * sy)
    light = resample(opened.rgb, camera, origin, ((right - left) * sx, (bottom - top) * sy), per_mm)
    _refuse_light(light, opened.rgb, camera, points)
    return Flat(sheet, serial, camera, light, per_mm, origin, (sx, sy), measured is not None, markers, (width, height))


def _refuse(sheet: Sheet, camera: Camera, mm: Array, points: Array, px: Array) -> None:
    import numpy as np

    across, down = sheet.ring_mm
    sides = [mm[:, 0] < across * 0.1, mm[:, 0] > across * 0.9, mm[:, 1] < down * 0.1, mm[:, 1] > down * 0.9]
    if sum(bool(np.count_nonzero(side) >= 2) for side in sides) < 3:
        raise NotReadable(
            "The ring can be read on fewer than three sides. Take the whole ring in and uncover it, then take it again."
        )
    if camera.tilt_deg > MOST_TILT_DEG:
        raise NotReadable(
            f"The picture was taken too obliquely: {camera.tilt_deg:.0f} degrees from straight above, "
            f"{MOST_TILT_DEG:.0f} at most. Hold the phone flat over the mat."
        )
    pixel_mm = float(np.ptp(points[:, 0]) / max(1.0, np.hypot(np.ptp(px[:, 0]), np.ptp(px[:, 1]))))
    if camera.rms_px * pixel_mm > 0.12 or camera.worst_px * pixel_mm > 0.35:
        raise NotReadable(
            f"The ring does not lie flat: its points miss a plane by up to {camera.worst_px * pixel_mm:.2f} mm. "
            "The mat is folded or curled: press it flat, weigh its corners down, take it again. "
            "Or its printer stretches: measure lengths A and B with a ruler and write them down."
        )


def _refuse_light(light: Array, rgb: Array, camera: Camera, points: Array) -> None:
    import numpy as np

    some = light[::4, ::4].reshape(-1, 3)
    glare = float(np.mean(some.min(1) > 62000))
    if glare > 0.2:
        raise NotReadable(
            f"Glare covers {glare:.0%} of the work area. Turn the flash off, turn away from the lamp, take it again."
        )
    if float(np.quantile(some.max(1), 0.9)) < 1300:
        raise NotReadable("The work area is too dark to measure. Take it again with more light.")
    spread = _edge_px(rgb, camera, points)
    if spread > MOST_EDGE_PX:
        raise NotReadable(
            f"The picture is blurred: edges of the ring are {spread:.0f} pixels wide. "
            "Hold the phone still, tap on the mat to focus, take it again."
        )
    brightest = some.max(1)
    _values, counts = np.unique(brightest.astype(np.int64), return_counts=True)
    if counts.max() > 0.5 * len(brightest):
        raise NotReadable(
            "This is a drawing or a screenshot of a mat, not a photograph: its ground is perfectly even. "
            "Print the mat, lay the pieces on it and take a picture."
        )


def _refuse_blur(grey: Array) -> None:
    """Say blur where blur is the cause: nothing in a picture that shows no mat has an edge as sharp as a ring needs."""
    import cv2
    import numpy as np

    side = 48
    rows, columns = (n // side for n in grey.shape)
    if not rows or not columns:
        return
    calm = cv2.GaussianBlur(grey, (0, 0), 1.0).astype(np.float32)[: rows * side, : columns * side]
    steep = np.hypot(cv2.Sobel(calm, -1, 1, 0) / 8, cv2.Sobel(calm, -1, 0, 1) / 8)

    def blocks(values: Array) -> Array:
        return values.reshape(rows, side, columns, side).swapaxes(1, 2).reshape(rows * columns, -1)

    height, climb = np.ptp(blocks(calm), axis=1), blocks(steep).max(axis=1)
    # A block that an edge crosses from dark to light; a wide blur reaches beyond it, so that its width is a least one.
    crossed = height > LEAST_STEP
    if crossed.sum() < 12:
        return
    spread = 0.8 * float(np.quantile(height[crossed] / np.maximum(climb[crossed], 0.1), 0.05))
    if spread > MOST_EDGE_PX:
        raise NotReadable(
            f"The picture is blurred: its sharpest edges are {spread:.0f} pixels wide or more, and no mat can be read in it. "
            "Hold the phone still, tap on the mat to focus, take it again."
        )


def _edge_px(rgb: Array, camera: Camera, points: Array) -> float:
    """Measure how many pixels the ring's edges need from black to white (10 to 90 %), at the sharpest half of them."""
    import cv2
    import numpy as np

    u, v = camera.see(points[:, 0], points[:, 1])
    widths = []
    for x, y in zip(u, v, strict=True):
        px, py = round(float(x)), round(float(y))
        patch = rgb[max(0, py - 22) : py + 23, max(0, px - 22) : px + 23]
        if patch.shape[:2] != (45, 45):
            continue
        grey = cv2.cvtColor(patch, cv2.COLOR_RGB2GRAY).astype(np.float32)
        steep = max(float(np.abs(np.diff(grey, axis=k)).max()) for k in (0, 1))
        widths.append(0.8 * float(np.quantile(grey, 0.95) - np.quantile(grey, 0.05)) / max(steep, 1.0))
    return float(np.median(widths)) if widths else 0.0


def _serial(opened: Opened, sheet: Sheet, mm: Array, px: Array) -> str:
    """Read the number of this sheet from its printed code; empty where the code cannot be read."""
    import cv2
    import numpy as np
    import zxingcpp

    bend, _ = cv2.findHomography(mm, px)
    across = sheet.ring_mm[0]
    box = np.array([[across - 17, -17, 1], [across + 3, -17, 1], [across + 3, 2, 1], [across - 17, 2, 1]])
    seen: Any = box @ bend.T
    corners = seen[:, :2] / seen[:, 2:]
    low = np.maximum(corners.min(0).astype(int), 0)
    high = np.minimum(corners.max(0).astype(int) + 1, [opened.rgb.shape[1], opened.rgb.shape[0]])
    if (high - low < 20).any():
        return ""
    crop = np.ascontiguousarray(opened.rgb[low[1] : high[1], low[0] : high[0]])
    for code in zxingcpp.read_barcodes(crop):
        told = read_code(code.text)
        if told is not None and told[0] == sheet:
            return told[1]
    return ""


def resample(
    rgb: Array, camera: Camera, origin: tuple[float, float], size_mm: tuple[float, float], per_mm: float
) -> Any:
    """Draw a part of the mat as seen from straight above, in linear light.

    Parameters
    ----------
    rgb : array
        The picture. [-], shape (rows, columns, 3)
    camera : Camera
        How mat points are seen; anything with a `see` serves. [-]
    origin : tuple of float
        Upper left corner on the mat. [mm]
    size_mm : tuple of float
        Width and height on the mat. [mm]
    per_mm : float
        Pixels a millimetre. [1/mm]

    Returns
    -------
    array
        16 bits of linear light, shape (rows, columns, 3).

    Examples
    --------
    >>> resample.__name__
    'resample'

    References
    ----------
    mat-geometry
    """
    import cv2
    import numpy as np

    columns, rows = (int(side * per_mm) for side in size_mm)
    # The centre of the first pixel lies half a pixel inside: millimetres = (u + 0.5) / scale.
    # The map bends slowly: it is worked out at every 16th pixel and drawn straight between (a thousandth of a pixel).
    x = origin[0] + (np.arange(0, columns + 16, 16) + 0.5) / per_mm
    y = origin[1] + (np.arange(0, rows + 16, 16) + 0.5) / per_mm
    coarse = camera.see(x[None, :], y[:, None])
    across = np.tile(np.arange(columns, dtype=np.float32) / 16, (rows, 1))
    down = np.tile(np.arange(rows, dtype=np.float32)[:, None] / 16, (1, columns))
    u, v = (cv2.remap(part.astype(np.float32), across, down, cv2.INTER_LINEAR) for part in coarse)
    low = (max(0, int(v.min()) - 2), max(0, int(u.min()) - 2))
    part = rgb[low[0] : int(v.max()) + 3, low[1] : int(u.max()) + 3]
    s = np.arange(256) / 255.0
    curve = np.where(s <= 0.04045, s / 12.92, ((s + 0.055) / 1.055) ** 2.4) * 65535
    linear = cv2.LUT(part, curve.astype(np.uint16))
    return cv2.remap(
        linear, (u - low[1]).astype(np.float32), (v - low[0]).astype(np.float32), cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
