"""How likely a set of figures is for every size at once: tolerances, wear, driven shanks, paint, misreadings."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from witnessmark.calc.fasteners.catalogue import Shape, alike
from witnessmark.calc.fasteners.readings import LOOKS, MARKS, Reading

# How far holes of old aircraft lie above the size they were drilled for, with the share of each; from memory.
OPENED_MM = (-0.03, 0.0, 0.03, 0.06, 0.10, 0.15, 0.22)
_SHARE = (0.10, 0.22, 0.22, 0.18, 0.14, 0.09, 0.05)
_NODE_MM = 0.02
_SLIP = 1e-3  # the share of figures that are misread or of another fastener
_RANGE = {
    "hole_mm": 12.0,
    "shank_mm": 12.0,
    "driven_shank_mm": 12.0,
    "head_mm": 20.0,
    "head_deg": 80.0,
    "head_height_mm": 6.0,
    "pitch_mm": 3.0,
    "thread_deg": 20.0,
    "across_flats_mm": 30.0,
    "length_mm": 60.0,
}
HOLE_LIKE = ("hole_mm", "driven_shank_mm")
PLAIN = (
    "shank_mm",
    "head_mm",
    "head_deg",
    "head_height_mm",
    "pitch_mm",
    "thread_deg",
    "across_flats_mm",
)
CHOICES = ("form", "magnet", "head_mark")
_FORM_WHOLE = {
    "flush": (0.945, 0.05, 0.002, 0.002, 0.001),
    "domed": (0.05, 0.93, 0.015, 0.004, 0.001),
    "round": (0.002, 0.015, 0.91, 0.072, 0.001),
    "universal": (0.002, 0.004, 0.072, 0.921, 0.001),
    "thread": (0.001, 0.001, 0.001, 0.001, 0.996),
}
# A head shaved after driving was flush; the share of them is from memory, alike for flat and domed heads.
_SHAVED = {"flush": 0.015, "domed": 0.015, "round": 1e-4, "universal": 1e-4, "thread": 1e-5}
_FORM_SEEN = {
    form: (*((1 - _SHAVED[form]) * seen for seen in whole), _SHAVED[form]) for form, whole in _FORM_WHOLE.items()
}
_MARKS_ON: dict[str, tuple[float, ...]] = {
    "marked": (0.12, 0.50, 0.12, 0.10, 0.08, 0.04, 0.01, 0.03),
    "rivet": (0.84, 0.05, 0.03, 0.01, 0.01, 0.02, 0.01, 0.03),
    "thread": (0.60, 0.01, 0.01, 0.02, 0.12, 0.02, 0.16, 0.06),
}
# A family nobody knows may mark its heads or not.
_MARKS_ON["stranger"] = tuple((a + b) / 2 for a, b in zip(_MARKS_ON["marked"], _MARKS_ON["rivet"], strict=True))
# Limits of size are met or the piece is of another: past so many of its spreads a head is misread or not of that size.
_PAST = 3.3
_STRANGERS = 0.02  # chance beforehand that a fastener is of no family here


@dataclass(frozen=True)
class Field:
    """The catalogue as arrays: one column a size, and after them a grid of strangers that stand for 'none of these'."""

    shapes: tuple[Shape, ...]
    groups: tuple[tuple[int, ...], ...]
    group_of: Any
    log_prior: Any
    mean: Mapping[str, Any]
    spread: Mapping[str, Any]
    choice: Mapping[str, Any]
    step_mm: Any

    @property
    def none(self) -> int:
        """The group that stands for no family here."""
        return len(self.groups)


def _joined(shapes: Sequence[Shape]) -> tuple[tuple[int, ...], ...]:
    head = list(range(len(shapes)))

    def top(i: int) -> int:
        while head[i] != i:
            i = head[i]
        return i

    for i, one in enumerate(shapes):
        for j in range(i):
            if alike(one, shapes[j]):
                head[top(i)] = top(j)
    found: dict[int, list[int]] = {}
    for i in range(len(shapes)):
        found.setdefault(top(i), []).append(i)
    return tuple(tuple(members) for members in found.values())


def _own(shape: Shape) -> dict[str, tuple[float, float]]:
    """Mean and spread of each figure of one size; what it does not have is left out."""
    own = {
        "hole_mm": (shape.hole_mm, _NODE_MM if shape.pitch_mm is None else 0.15),
        "shank_mm": (
            shape.shank_mm + (shape.shank_plus_mm - shape.shank_minus_mm) / 2,
            math.hypot((shape.shank_plus_mm + shape.shank_minus_mm) / math.sqrt(12), 0.012),
        ),
    }
    if shape.pitch_mm is None:
        own["driven_shank_mm"] = (shape.hole_mm - 0.01, _NODE_MM)
    if shape.head_mm is not None:
        own["head_mm"] = (shape.head_mm, math.hypot(shape.head_tol_mm / 2.0, 0.02))
    if shape.head_deg is not None:
        own["head_deg"] = (shape.head_deg, 1.3)
    if shape.head_height_mm is not None:
        lean = shape.head_tol_mm / 2.0
        if shape.head_deg:
            lean /= 2 * math.tan(math.radians(shape.head_deg / 2))
        own["head_height_mm"] = (shape.head_height_mm, math.hypot(lean, 0.03 + 0.04 * shape.head_height_mm))
    if shape.pitch_mm is not None and shape.thread_deg is not None:
        own["pitch_mm"] = (shape.pitch_mm, 0.001 + 0.002 * shape.pitch_mm)
        own["thread_deg"] = (shape.thread_deg, 0.7)
    if shape.across_flats_mm is not None:
        own["across_flats_mm"] = (shape.across_flats_mm - 0.08, 0.1)
    return own


def _strangers() -> list[tuple[str, dict[str, tuple[float, float]]]]:
    made = []
    size = 1.0
    while size < 26:
        rivet = {
            "hole_mm": (1.02 * size + 0.03, 0.02 * size),
            "shank_mm": (size, 0.014 * size),
            "driven_shank_mm": (1.02 * size + 0.02, 0.02 * size),
            "head_mm": (1.85 * size, 0.2 * size),
        }
        flush = {**rivet, "head_deg": (92.0, 20.0), "head_height_mm": (0.44 * size, 0.13 * size)}
        proud = {**rivet, "head_height_mm": (0.52 * size, 0.12 * size)}
        thread = {
            "hole_mm": (size + 0.1, 0.02 * size + 0.1),
            "shank_mm": (size, 0.014 * size),
            "pitch_mm": (0.16 * size + 0.08, 0.05 * size),
            "thread_deg": (57.0, 6.0),
            "across_flats_mm": (1.65 * size, 0.2 * size),
        }
        made += [("flush", flush), ("domed", flush), ("round", proud), ("universal", proud), ("thread", thread)]
        size *= 1.04
    return made


@lru_cache(maxsize=16)
def field(shapes: tuple[Shape, ...], prior: tuple[tuple[str, float], ...] = ()) -> Field:
    """Lay the catalogue out as arrays.

    Parameters
    ----------
    shapes : tuple of Shape
        Every size that may be meant. [-]
    prior : tuple of (str, float)
        Family and how many times likelier than the others it is, where something is known. [-]

    Returns
    -------
    Field
        Means, spreads and chances by size; families equally likely, and within one its sizes.

    Raises
    ------
    ValueError
        An empty catalogue, or a weight that is not above zero.

    Examples
    --------
    >>> from witnessmark.calc.fasteners.catalogue import built_in
    >>> len(field(built_in()).groups) < len(built_in())
    True

    References
    ----------
    fastener-habits
    """
    import numpy as np

    weights = dict(prior)
    if not shapes or any(not math.isfinite(w) or w <= 0 for w in weights.values()):
        raise ValueError("a catalogue holds at least one size, and a weight is above zero")
    groups = _joined(shapes)
    strangers = _strangers()
    figures = [_own(shape) for shape in shapes] + [figures for _, figures in strangers]
    forms = [shape.form for shape in shapes] + [form for form, _ in strangers]
    count: dict[str, int] = {}
    for shape in shapes:
        count[shape.family] = count.get(shape.family, 0) + 1
    raw = np.array([weights.get(shape.family, 1.0) / count[shape.family] for shape in shapes])
    known = raw / raw.sum() * (1 - _STRANGERS)
    prior_of = np.concatenate([known, np.full(len(strangers), _STRANGERS / len(strangers))])
    names = (*HOLE_LIKE, *PLAIN)
    mean = {what: np.array([own[what][0] if what in own else np.nan for own in figures]) for what in names}
    spread = {what: np.array([own[what][1] if what in own else np.nan for own in figures]) for what in names}
    stranger_mark = ["thread" if form == "thread" else "stranger" for form, _ in strangers]
    mark_kind = [_mark_kind(shape) for shape in shapes] + stranger_mark
    magnetic = np.array([shape.magnetic for shape in shapes] + [0.5] * len(strangers))
    group_of = np.full(len(figures), len(groups))
    for number, members in enumerate(groups):
        group_of[list(members)] = number
    return Field(
        shapes=shapes,
        groups=groups,
        group_of=group_of,
        log_prior=np.log(prior_of),
        mean=mean,
        spread=spread,
        choice={
            "form": np.array([_FORM_SEEN[form] for form in forms]),
            "magnet": np.stack([magnetic, 1 - magnetic], axis=1),
            "head_mark": np.array([_MARKS_ON[kind] for kind in mark_kind]),
        },
        step_mm=np.array([shape.length_step_mm for shape in shapes] + [np.nan] * len(strangers)),
    )


def _mark_kind(shape: Shape) -> str:
    return "thread" if shape.form == "thread" else "marked" if shape.marked else "rivet"


def _normal(at: Any, mean: Any, spread: Any) -> Any:
    import numpy as np

    return np.exp(-0.5 * ((at - mean) / spread) ** 2) / (spread * math.sqrt(2 * math.pi))


def opened(laid: Field, what: str, columns: Any, noise: Any) -> tuple[Any, Any]:
    """Return means and spreads of a hole-like figure at each step that a hole may be opened by.

    Parameters
    ----------
    laid : Field
        The catalogue as arrays. [-]
    what : str
        `hole_mm` or `driven_shank_mm`. [-]
    columns : array
        Sizes to return. [-]
    noise : array or float
        Standard deviation of the reading, shape that broadcasts with the sizes. [mm]

    Returns
    -------
    tuple of array
        Means, shape (n_sizes, n_steps), and spreads, shape (n_sizes,) or broadcast.

    Examples
    --------
    >>> from witnessmark.calc.fasteners.catalogue import built_in
    >>> opened(field(built_in()), "hole_mm", [0], 0.05)[0].shape
    (1, 7)

    References
    ----------
    fastener-habits
    """
    import numpy as np

    steps = np.array(OPENED_MM)
    return laid.mean[what][columns][:, None] + steps, np.hypot(laid.spread[what][columns], noise)


def step_shares() -> Any:
    """Return the share of holes at each step that a hole may be opened by.

    Returns
    -------
    array
        Adds up to one.

    Examples
    --------
    >>> round(float(step_shares().sum()), 9)
    1.0

    References
    ----------
    fastener-habits
    """
    import numpy as np

    return np.array(_SHARE)


def figure_likelihood(laid: Field, what: str, value: Any, noise: Any, painted: Any, columns: Any) -> Any:
    """Return the density of a plain figure for sizes.

    Parameters
    ----------
    laid : Field
        The catalogue as arrays. [-]
    what : str
        Which figure. [-]
    value : array
        As read, shape that broadcasts against the sizes. [mm or degree]
    noise : array
        Standard deviation of the reading, likewise. [mm or degree]
    painted : array
        True where paint lay over it, likewise. [-]
    columns : array or slice
        Sizes to return. [-]

    Returns
    -------
    array
        Density; a size that has no such figure keeps the share of misreadings.

    Examples
    --------
    >>> from witnessmark.calc.fasteners.catalogue import built_in
    >>> bool(figure_likelihood(field(built_in()), "head_deg", 100.0, 2.0, False, slice(0, 1))[0] > 0.01)
    True

    References
    ----------
    fastener-habits
    """
    import numpy as np

    mean, spread = laid.mean[what][columns], laid.spread[what][columns]
    if what in ("head_mm", "head_height_mm"):  # a coat of old paint adds a tenth or so, nobody knows how much
        mean, spread = mean + np.where(painted, 0.12, 0.0), np.hypot(spread, np.where(painted, 0.12, 0.0))
    wide = np.hypot(spread, noise)
    dense = (1 - _SLIP) * _normal(value, mean, wide) + _SLIP / _RANGE[what]
    if what == "head_mm":
        dense = np.where(np.abs(value - mean) > _PAST * wide, _SLIP / _RANGE[what], dense)
    return np.where(np.isnan(mean), 0.3 * _SLIP / _RANGE[what], dense)


def log_likelihood(laid: Field, many: Sequence[Mapping[str, Reading]]) -> tuple[Any, Any]:
    """Return how likely each set of figures is for each size.

    Parameters
    ----------
    laid : Field
        The catalogue as arrays. [-]
    many : sequence of mapping
        One set of readings a fastener. [-]

    Returns
    -------
    tuple of array
        Log-likelihood, shape (n_sets, n_sizes), and the weight of each step a hole may be opened by, shape
        (n_sets, n_sizes, n_steps).

    Examples
    --------
    >>> from witnessmark.calc.fasteners.catalogue import built_in
    >>> log_likelihood(field(built_in()), [{"hole_mm": Reading(3.1, 0.05)}])[0].shape[0]
    1

    References
    ----------
    bayes-rule
    fastener-habits
    """
    import numpy as np

    count, sizes = len(many), len(laid.log_prior)
    steps = np.broadcast_to(step_shares(), (count, sizes, len(OPENED_MM))).copy()
    total = np.zeros((count, sizes))
    for what in HOLE_LIKE:
        rows = [i for i, read in enumerate(many) if what in read]
        if rows:
            value, noise = _columns(many, what, rows)
            means, spread = opened(laid, what, slice(None), noise)
            dense = (1 - _SLIP) * _normal(value[:, :, None], means, spread[:, :, None]) + _SLIP / _RANGE[what]
            missing = np.isnan(laid.mean[what])
            dense[:, missing, :] = 0.3 * _SLIP / _RANGE[what]
            steps[rows] *= dense
    weight = steps.sum(axis=2)
    total += np.log(weight)
    steps /= weight[:, :, None]
    for what in PLAIN:
        rows = [i for i, read in enumerate(many) if what in read]
        if rows:
            value, noise = _columns(many, what, rows)
            painted = np.array([[many[i][what].painted] for i in rows])
            total[rows] += np.log(figure_likelihood(laid, what, value, noise, painted, slice(None)))
    for what, words in (("form", LOOKS), ("magnet", ("yes", "no")), ("head_mark", MARKS)):
        rows = [i for i, read in enumerate(many) if what in read]
        if rows:
            picked = [words.index(str(many[i][what].value)) for i in rows]
            total[rows] += np.log(laid.choice[what][:, picked].T)
    rows = [i for i, read in enumerate(many) if "length_mm" in read]
    if rows:
        value, noise = _columns(many, "length_mm", rows)
        total[rows] += np.log(_on_step(laid, value, noise))
    return total, steps


def _on_step(laid: Field, value: Any, noise: Any) -> Any:
    import numpy as np

    # Stock lengths go in steps; two in five are cut, bent or of another step and say nothing.
    step = np.where(np.isnan(laid.step_mm), 1.0, laid.step_mm)
    off = (value + step / 2) % step - step / 2
    spread = np.hypot(0.12, noise)
    peak = sum(_normal(off + k * step, 0.0, spread) for k in (-1, 0, 1)) * step
    return np.where(np.isnan(laid.step_mm), 1.0, 0.4 + 0.6 * peak)


def _columns(many: Sequence[Mapping[str, Reading]], what: str, rows: list[int]) -> tuple[Any, Any]:
    import numpy as np

    value = np.array([[float(many[i][what].value)] for i in rows])
    noise = np.array([[many[i][what].uncertainty or 0.0] for i in rows])
    return value, noise
