"""The next figure that parts the candidates best: what it is expected to tell, and with which tool."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from witnessmark.calc.fasteners.likelihood import (
    CHOICES,
    HOLE_LIKE,
    PLAIN,
    Field,
    figure_likelihood,
    opened,
)
from witnessmark.calc.fasteners.readings import WAYS, Reading

_AT = (-1.4, -0.67, 0.0, 0.67, 1.4)  # where in its spread a coming figure is tried, each a fifth of the chance
_KEEP = 14
_BITS_A_MINUTE = 0.04  # so that a look goes before a rivet is knocked out, where both tell as much


@dataclass(frozen=True)
class NextMeasurement:
    """What to measure next, with what, how, and what it is expected to tell."""

    what: str
    label: str
    tool: str
    order: str
    how: str
    expected_bits: float
    open_bits: float


def best_next(
    laid: Field, post: Any, steps: Any, readings: Mapping[str, Reading], cannot: frozenset[str] = frozenset()
) -> NextMeasurement | None:
    """Return the figure with the largest expected information about what it is.

    Parameters
    ----------
    laid : Field
        The catalogue as arrays. [-]
    post : array
        Probability of each size, shape (n_sizes,). [-]
    steps : array
        Weight of each step its hole may be opened by, shape (n_sizes, n_steps). [-]
    readings : mapping
        What was measured already. [-]
    cannot : frozenset of str
        What cannot be measured here. [-]

    Returns
    -------
    NextMeasurement or None
        None where no figure left would tell anything.

    Notes
    -----
    The likeliest 14 sizes are weighed. A figure that a size does not have tells as much as looking does.

    Examples
    --------
    >>> from witnessmark.calc.fasteners.catalogue import built_in
    >>> import numpy as np
    >>> from witnessmark.calc.fasteners.likelihood import field, step_shares
    >>> laid = field(built_in())
    >>> even = np.full(len(laid.log_prior), 1 / len(laid.log_prior))
    >>> best_next(laid, even, np.tile(step_shares(), (len(even), 1)), {}).expected_bits > 0
    True

    References
    ----------
    bayes-rule
    """
    import numpy as np

    keep = np.argsort(-post)[:_KEEP]
    keep = keep[post[keep] > 1e-4]
    chance = post[keep] / post[keep].sum()
    groups, inverse = np.unique(laid.group_of[keep], return_inverse=True)
    to_group = np.zeros((len(keep), len(groups)))
    to_group[np.arange(len(keep)), inverse] = 1.0
    open_bits = _bits(chance @ to_group)
    threaded = float(chance[~np.isnan(laid.mean["pitch_mm"][keep])].sum())
    best: tuple[float, float, str] | None = None
    for what in (*CHOICES, *HOLE_LIKE, *PLAIN):
        again = what in readings and not readings[what].painted
        if again or what in cannot or not _offered(what, readings, threaded):
            continue
        if what in CHOICES:
            told = _choice_bits(laid.choice[what][keep], chance, to_group)
        else:
            told = _figure_bits(laid, what, keep, chance, to_group, steps[keep])
        gain = open_bits - told
        score = gain - _BITS_A_MINUTE * WAYS[what].bother
        if gain > 0.004 and (best is None or score > best[0]):
            best = (score, gain, what)
    if best is None:
        return None
    way = WAYS[best[2]]
    return NextMeasurement(way.what, way.label, way.tool, way.order, way.how, round(best[1], 4), round(open_bits, 4))


def _offered(what: str, readings: Mapping[str, Reading], threaded: float) -> bool:
    rivet = threaded < 0.5
    if what == "shank_mm":  # a rivet in the aircraft is driven: its shank has filled the hole
        return not rivet
    if what == "driven_shank_mm":
        return rivet and "shank_mm" not in readings
    if what == "hole_mm":
        return rivet and "shank_mm" not in readings
    if what in ("head_mm", "head_deg", "head_height_mm"):
        return rivet
    if what in ("pitch_mm", "thread_deg", "across_flats_mm"):
        return not rivet
    return True


def _bits(chance: Any) -> float:
    import numpy as np

    some = chance[chance > 0]
    return float(-(some * np.log2(some)).sum())


def _expected(joint: Any, to_group: Any) -> float:
    """Return the expected bits left; `joint` holds the chance of each outcome and size together."""
    import numpy as np

    grouped = joint @ to_group
    weight = grouped.sum(axis=1, keepdims=True)
    share = grouped / np.maximum(weight, 1e-300)
    return float(-(grouped * np.log2(np.maximum(share, 1e-300))).sum())


def _choice_bits(table: Any, chance: Any, to_group: Any) -> float:
    return _expected((table * chance[:, None]).T, to_group)


def _figure_bits(laid: Field, what: str, keep: Any, chance: Any, to_group: Any, steps: Any) -> float:
    import numpy as np

    noise, at = WAYS[what].usual, np.array(_AT)
    has = ~np.isnan(laid.mean[what][keep])
    left = 0.0
    if not has.all():
        left += _expected((chance * ~has)[None, :], to_group)
    if not has.any():
        return left
    picked, some = keep[has], chance[has]
    if what in HOLE_LIKE:
        means, spread = opened(laid, what, picked, noise)
        tried = (means[:, :, None] + spread[:, None, None] * at).reshape(-1)
        share = ((some[:, None] * steps[has])[:, :, None] * np.full(len(at), 1 / len(at))).reshape(-1)
        off = (tried[:, None, None] - means[None]) / spread[None, :, None]
        dense = ((np.exp(-0.5 * off**2) / spread[None, :, None]) * steps[has][None]).sum(axis=2)
    else:
        mean, spread = laid.mean[what][picked], np.hypot(laid.spread[what][picked], noise)
        tried = (mean[:, None] + spread[:, None] * at).reshape(-1)
        share = (some[:, None] * np.full(len(at), 1 / len(at))).reshape(-1)
        dense = figure_likelihood(laid, what, tried[:, None], noise, False, picked)
    after = dense * some
    after /= np.maximum(after.sum(axis=1, keepdims=True), 1e-300)
    grouped = after @ to_group[has]
    entropy = -(grouped * np.log2(np.maximum(grouped, 1e-300))).sum(axis=1)
    return left + float((share * entropy).sum())
