"""Pictures of a printed mat with pieces on it, drawn by a ray through a lens, whose truth is known.

A pinhole with a lens that bends, tilt, soft shadows, light boxes and the mat mirrored in the metal, blur, noise and
JPEG. It takes the printed sheet as a picture, and shares no code with what reads it.
"""

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from witnessmark.bench.mat_shapes import Array, Mesh, Truth

METALS = {
    "steel": ((0.56, 0.55, 0.53), 0.35, 0.30),
    "silvery plate": ((0.70, 0.70, 0.68), 0.45, 0.35),
    "dural": ((0.78, 0.79, 0.80), 0.40, 0.25),
    "yellow plate": ((0.66, 0.53, 0.26), 0.45, 0.30),
    "black": ((0.085, 0.085, 0.09), 0.60, 0.35),
}
SUPER = 3


@dataclass(frozen=True)
class Lens:
    """Where the camera stands over the middle of the sheet, and how it sees."""

    width: int = 4000
    height: int = 3000
    focal_px: float = 3005.0
    tilt_deg: float = 0.0
    towards_deg: float = 90.0
    turned_deg: float = 0.0
    fill: float = 0.93
    k1: float = 0.0
    k2: float = 0.0


@dataclass(frozen=True)
class Scene:
    """A printed sheet with pieces on it. `ground` is the sheet as a picture, `ground_mm` its paper size."""

    ground: Array
    ground_mm: tuple[float, float]
    ring_at_mm: tuple[float, float]
    pieces: Sequence[tuple[Truth, Mesh]]
    lens: Lens
    seed: int = 1
    noise: float = 1.0
    blur_px: float = 0.8
    quality: int = 92
    brightness: float = 1.0
    curl_mm: float = 0.0
    fold_mm: float = 0.0


@cache
def _rasteriser() -> Callable[..., None]:
    import numba

    @numba.njit(cache=True)
    def draw(xy: Array, depth: Array, rgb: Array, tri: Array, out: Array, nearest: Array, covered: Array) -> None:
        rows, columns = nearest.shape
        for n in range(tri.shape[0]):
            i, j, k = tri[n, 0], tri[n, 1], tri[n, 2]
            x0, y0, x1, y1, x2, y2 = xy[i, 0], xy[i, 1], xy[j, 0], xy[j, 1], xy[k, 0], xy[k, 1]
            area = (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)
            if abs(area) < 1e-9:
                continue
            low_x, high_x = max(0, int(min(x0, x1, x2))), min(columns - 1, int(max(x0, x1, x2)) + 1)
            low_y, high_y = max(0, int(min(y0, y1, y2))), min(rows - 1, int(max(y0, y1, y2)) + 1)
            for y in range(low_y, high_y + 1):
                for x in range(low_x, high_x + 1):
                    b = ((x - x0) * (y2 - y0) - (x2 - x0) * (y - y0)) / area
                    c = ((x1 - x0) * (y - y0) - (x - x0) * (y1 - y0)) / area
                    a = 1 - b - c
                    if a < -1e-6 or b < -1e-6 or c < -1e-6:
                        continue
                    z = a * depth[i] + b * depth[j] + c * depth[k]
                    if z < nearest[y, x]:
                        nearest[y, x] = z
                        covered[y, x] = 1.0
                        for ch in range(3):
                            out[y, x, ch] = a * rgb[i, ch] + b * rgb[j, ch] + c * rgb[k, ch]

    found: Callable[..., None] = draw
    return found


@dataclass(frozen=True)
class _Camera:
    lens: Lens
    centre: Array
    turn: Array

    def see(self, points: Array) -> tuple[Array, Array]:
        """Give pixels and depth of points (x right, y up, z up; mm)."""
        local = (points - self.centre) @ self.turn.T
        x, y = local[:, 0] / local[:, 2], local[:, 1] / local[:, 2]
        bend = 1 + self.lens.k1 * (x * x + y * y) + self.lens.k2 * (x * x + y * y) ** 2
        f = self.lens.focal_px
        middle = np.array([(self.lens.width - 1) / 2, (self.lens.height - 1) / 2])
        return np.stack([x * bend, y * bend], 1) * f + middle, local[:, 2]

    def rays(self, u: Array, v: Array) -> Array:
        """Give the direction of each pixel; the bend is taken back by trying again and again."""
        f = self.lens.focal_px
        xd, yd = (u - (self.lens.width - 1) / 2) / f, (v - (self.lens.height - 1) / 2) / f
        x, y = xd.copy(), yd.copy()
        for _ in range(12):
            bend = 1 + self.lens.k1 * (x * x + y * y) + self.lens.k2 * (x * x + y * y) ** 2
            x, y = xd / bend, yd / bend
        return np.stack([x, y, np.ones_like(x)], -1) @ self.turn


def _camera(lens: Lens, paper: tuple[float, float]) -> _Camera:
    t, a, w = np.radians([lens.tilt_deg, lens.towards_deg, lens.turned_deg])
    back = np.array([np.sin(t) * np.cos(a), np.sin(t) * np.sin(a), np.cos(t)])
    target = np.array([paper[0] / 2, -paper[1] / 2, 0.0])
    forward = -back
    up = np.array([-np.sin(w), np.cos(w), 0.0])
    right = np.cross(forward, up)
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    turn = np.stack([right, down, forward])
    corners = np.array([[x, -y, 0.0] for x in (0, paper[0]) for y in (0, paper[1])])
    near, far = 50.0, 3000.0
    for _ in range(40):
        middle = (near + far) / 2
        at, _depth = _Camera(lens, target + back * middle, turn).see(corners)
        spread = np.abs(at - [(lens.width - 1) / 2, (lens.height - 1) / 2]).max(0)
        inside = bool((spread <= lens.fill * np.array([lens.width, lens.height]) / 2).all())
        near, far = (near, middle) if inside else (middle, far)
    return _Camera(lens, target + back * far, turn)


def camera_place(lens: Lens, paper: tuple[float, float]) -> Array:
    """Give where the camera stands (x right, y up, z up; mm from the upper left corner of the paper)."""
    return _camera(lens, paper).centre


@dataclass(frozen=True)
class _Light:
    boxes: Array
    strength: Array
    sky: float
    tint: Array


def _shade(mesh: Mesh, eye: Array, metal: str, mat_rgb: Array, light: _Light) -> Array:
    """Light each corner: a matt part, and a mirrored part that shows light boxes, sky or the mat."""
    colour, matt, rough = METALS[metal]
    n = mesh.normals
    v = eye - mesh.points
    v /= np.linalg.norm(v, axis=1, keepdims=True)
    n = n * np.where(np.sum(n * v, 1, keepdims=True) < 0, 0.999, 1.0)
    seen = np.sum(n * v, 1, keepdims=True)
    r = 2 * seen * n - v
    height = mesh.points[:, 2:3]
    tall = float(mesh.points[:, 2].max()) + 1e-6
    occluded = 0.30 + 0.65 * np.clip(height / tall, 0, 1)
    over = np.clip((r[:, 2:3] + rough * 0.6) / (1.2 * rough), 0, 1)
    over = over * over * (3 - 2 * over)
    sky = light.sky * (0.55 + 0.45 * np.clip(r[:, 2:3], 0, 1)) * np.ones(3)
    lit = light.sky * 0.5 * (1 + n[:, 2:3]) * np.ones(3)
    for box, strength in zip(light.boxes, light.strength, strict=True):
        near = np.clip(np.sum(r * box, 1, keepdims=True), 0, 1)
        sky = sky + strength * 1.6 * np.exp((near - 1) / (0.02 + 0.25 * rough**2))
        lit = lit + strength * np.clip(np.sum(n * box, 1, keepdims=True), 0, 1)
    mirrored = over * sky + (1 - over) * occluded * mat_rgb * (light.sky + light.strength.sum() * 0.7)
    bounce = 0.5 * (1 - n[:, 2:3]) * occluded * mat_rgb * (light.sky + light.strength.sum() * 0.7)
    return np.asarray(np.array(colour) * (matt * (lit + bounce) + (1 - matt) * mirrored) * light.tint)


def _shadow(scene: Scene, light: _Light, per_mm: float) -> Array:
    """Give how much light reaches each spot of the paper: the boxes' soft shadows, and the dark line of contact."""
    import cv2

    w, h = (int(v * per_mm) for v in scene.ground_mm)
    direct = np.zeros((h, w), np.float32)
    rng = np.random.default_rng(scene.seed + 5)
    total = light.strength.sum()
    for box, strength in zip(light.boxes, light.strength, strict=True):
        for _ in range(5):
            lamp = box + rng.normal(0, 0.09, 3)
            lamp = lamp / lamp[2]
            part = np.ones((h, w), np.float32)
            for _truth, mesh in scene.pieces:
                on = mesh.points[:, :2] - mesh.points[:, 2:3] * lamp[:2]
                cv2.fillConvexPoly(part, _hull(on, per_mm), 0.0, cv2.LINE_AA, 4)
            direct += part * (strength / total / 5)
    foot = np.zeros((h, w), np.float32)
    for _truth, mesh in scene.pieces:
        cv2.fillConvexPoly(foot, _hull(mesh.points, per_mm), 1.0, cv2.LINE_AA, 4)
    near = cv2.GaussianBlur(foot, (0, 0), 1.6 * per_mm)
    return np.asarray(
        (0.45 * (1 - 0.55 * near) + 0.55 * cv2.GaussianBlur(direct, (0, 0), 0.35 * per_mm)).astype(np.float32)
    )


def _hull(points: Array, per_mm: float) -> Array:
    import cv2

    some = points[:: max(1, len(points) // 1500), :2] * [per_mm, -per_mm] * 16
    return cv2.convexHull(np.ascontiguousarray(some.astype(np.int32)))


def _linear(srgb: Array) -> Array:
    s = np.asarray(srgb, np.float32) / 255
    return np.where(s <= 0.04045, s / 12.92, ((s + 0.055) / 1.055) ** 2.4)


def picture(scene: Scene) -> Array:
    """Take the picture: an array of RGB bytes, upright, as the camera's file holds it."""
    import cv2

    cv2.setNumThreads(1)
    rng = np.random.default_rng(scene.seed)
    lens = scene.lens
    camera = _camera(lens, scene.ground_mm)
    boxes = np.stack([_direction(rng) for _ in range(2)])
    light = _Light(boxes, rng.uniform(0.25, 0.5, 2), rng.uniform(0.45, 0.65), rng.uniform(0.93, 1.07, 3))
    table = _linear(np.arange(256)).astype(np.float32)
    step = 8
    gu, gv = np.meshgrid(
        np.linspace(0, lens.width - 1, lens.width // step), np.linspace(0, lens.height - 1, lens.height // step)
    )
    rays = camera.rays(gu, gv)
    reach = camera.centre[2] / -rays[..., 2]
    x, y = camera.centre[0] + rays[..., 0] * reach, -(camera.centre[1] + rays[..., 1] * reach)
    if scene.curl_mm or scene.fold_mm:
        lift = scene.curl_mm * np.clip(1 - x / 60, 0, 1) ** 2
        # A sheet that was folded in the middle and not pressed flat stands up there like a roof.
        lift = lift + scene.fold_mm * np.clip(1 - np.abs(2 * x / scene.ground_mm[0] - 1), 0, 1)
        x, y = x + lift * rays[..., 0] / -rays[..., 2] * -1, y + lift * rays[..., 1] / -rays[..., 2]
    dots_x, dots_y = scene.ground.shape[1] / scene.ground_mm[0], scene.ground.shape[0] / scene.ground_mm[1]
    size = (lens.width, lens.height)
    # Grid points stand on pixel centres at both ends, so that a resized map is exact there.
    grow = [_stretch(part.astype(np.float32), size) for part in (x, y)]
    shadow_scale = 4.0
    shadow = _shadow(scene, light, shadow_scale)
    ground = cv2.remap(
        scene.ground, grow[0] * dots_x - 0.5, grow[1] * dots_y - 0.5, cv2.INTER_LINEAR, borderValue=(96, 84, 70)
    )
    lit = cv2.remap(
        shadow, grow[0] * shadow_scale - 0.5, grow[1] * shadow_scale - 0.5, cv2.INTER_LINEAR, borderValue=1.0
    )
    del grow
    full = light.sky + light.strength.sum() * 0.7
    image = table[ground]
    image *= (lit * full)[..., None]
    image *= light.tint.astype(np.float32)
    mat_rgb = table[scene.ground[scene.ground.shape[0] // 2, scene.ground.shape[1] // 2]]
    for truth, mesh in scene.pieces:
        _draw(image, camera, mesh, _shade(mesh, camera.centre, truth.metal, mat_rgb, light))
    return _develop(image, scene, rng)


def _stretch(coarse: Array, size: tuple[int, int]) -> Array:
    import cv2

    rows, columns = coarse.shape
    u = np.linspace(0, columns - 1, size[0], dtype=np.float32)
    v = np.linspace(0, rows - 1, size[1], dtype=np.float32)
    return cv2.remap(coarse, np.tile(u, (size[1], 1)), np.tile(v[:, None], (1, size[0])), cv2.INTER_LINEAR)


def _direction(rng: np.random.Generator) -> Array:
    height, around = np.radians(rng.uniform(35, 75)), rng.uniform(0, 2 * np.pi)
    return np.array([np.cos(height) * np.cos(around), np.cos(height) * np.sin(around), np.sin(height)])


def _draw(image: Array, camera: _Camera, mesh: Mesh, rgb: Array) -> None:
    """Draw one piece over the picture, each pixel as nine."""
    at, depth = camera.see(mesh.points)
    low = np.maximum(np.floor(at.min(0)).astype(int) - 2, 0)
    high = np.minimum(np.ceil(at.max(0)).astype(int) + 3, [camera.lens.width, camera.lens.height])
    if (high - low <= 0).any():
        return
    w, h = high - low
    out = np.zeros((h * SUPER, w * SUPER, 3), np.float32)
    nearest = np.full((h * SUPER, w * SUPER), 1e9, np.float32)
    covered = np.zeros((h * SUPER, w * SUPER), np.float32)
    fine = (at - low + 0.5) * SUPER - 0.5
    _rasteriser()(
        fine.astype(np.float32), depth.astype(np.float32), rgb.astype(np.float32), mesh.triangles.astype(np.int64),
        out, nearest, covered,
    )  # fmt: skip
    share = covered.reshape(h, SUPER, w, SUPER).mean((1, 3))[..., None]
    colour = out.reshape(h, SUPER, w, SUPER, 3).mean((1, 3))
    part = image[low[1] : high[1], low[0] : high[0]]
    part *= 1 - share
    part += colour


def _develop(image: Array, scene: Scene, rng: np.random.Generator) -> Array:
    """Expose, blur, add noise, and press into eight bits as a camera does."""
    import cv2

    image = cv2.GaussianBlur(image, (0, 0), scene.blur_px)
    image *= 0.80 * scene.brightness / max(1e-6, float(np.quantile(image[::8, ::8].max(2), 0.97)))
    draws = rng.standard_normal((1 << 20,), np.float32)
    start = rng.integers(0, 1 << 19, image.shape[0])
    for row in range(image.shape[0]):
        noise = draws[start[row] : start[row] + image.shape[1] * 3].reshape(-1, 3)
        line = image[row]
        line += noise * scene.noise * 0.006 * np.sqrt(np.clip(line, 0, 1) + 0.01)
    np.clip(image, 0, 1, out=image)
    curve = np.linspace(0, 1, 4096)
    bent = np.where(curve <= 0.0031308, curve * 12.92, 1.055 * curve ** (1 / 2.4) - 0.055)
    return (bent * 255 + 0.5).astype(np.uint8)[(image * 4095).astype(np.uint16)]


def jpeg(rgb: Array, *, focal_35mm: int | None = 26, quality: int = 92, turned: int = 1) -> bytes:
    """Write the picture as a phone does, with its focal length and how it was held."""
    from PIL import Image

    image = Image.fromarray(rgb)
    exif = image.getexif()
    exif[0x0112] = turned
    if focal_35mm:
        exif.get_ifd(0x8769)[0xA405] = focal_35mm
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality, subsampling=2, exif=exif)
    return out.getvalue()
