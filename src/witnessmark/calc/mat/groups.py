"""Like with like, without being told how many; and what each group is proposed to be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.mat.pieces import Figure, Piece

# Two groups are one while their mean figures differ by less than this (mm); pieces of one size differ by less, and
# what repeats in a picture (light, blur, scale) is the same for both.
SAME_MM = {
    "length": 0.40,
    "shank_diameter": 0.16,
    "head_diameter": 0.40,
    "across_flats": 0.20,
    "outside_diameter": 0.16,
    "inside_diameter": 0.20,
}
# Where both show their thread the pitch tells sizes apart, to hundredths; the outside of a thread is read less well.
SAME_PITCH_MM = 0.02
SAME_THREADED_MM = 0.50
LOOSER = ("length", "head_diameter", "across_flats")
GOOD_FIT_MM = 0.04
# How a shape may look to the one who names it; a flat cap from a domed one is seldom told by the outline.
LOOK = {"hexagon": ("thread",), "round": ("round",), "countersunk": ("flush", "domed")}
_TO_IDENTIFY = {"shank_diameter": "shank_mm", "head_diameter": "head_mm", "across_flats": "across_flats_mm"}
TO_RETURN = {
    "shank_diameter": "shank_diameter_mm",
    "length": "length_mm",
    "head_diameter": "head_diameter_mm",
    "across_flats": "head_width_mm",
    "outside_diameter": "outer_diameter_mm",
    "inside_diameter": "hole_mm",
}


@dataclass(frozen=True)
class Proposal:
    """One thing that a group may be, with its chance."""

    name: str
    figure: str
    probability: float


@dataclass(frozen=True)
class Group:
    """Pieces that the picture cannot tell apart: what they are alike in, and what they may be."""

    number: int
    name: str
    family: str
    pieces: tuple[int, ...]
    figures_mm: dict[str, Figure]
    head_angle_deg: Figure | None
    pitch_mm: Figure | None
    colours: tuple[str, ...]
    box: str
    proposals: tuple[Proposal, ...]
    ask: str
    for_person: bool

    @property
    def count(self) -> int:
        """How many pieces; a pile for the person counts as one."""
        return len(self.pieces)


def group(pieces: Sequence[Piece]) -> tuple[Group, ...]:
    """Put like with like.

    Parameters
    ----------
    pieces : sequence of Piece
        As measured. [-]

    Returns
    -------
    tuple of Group
        The largest first; each pile for the person is its own.

    Notes
    -----
    Pieces of one shape (and one box) begin as groups of one; the two whose mean figures lie nearest are joined, until
    no two lie within the figures of SAME_MM. Sizes whose diameters are 0.3 mm apart stay apart; threaded ones by their
    pitch, where it shows.

    Examples
    --------
    >>> group([])
    ()

    References
    ----------
    mat-geometry
    """
    kinds: dict[tuple[str, str, tuple[str, ...]], list[Piece]] = {}
    alone: list[list[Piece]] = []
    for piece in pieces:
        if piece.for_person:
            alone.append([piece])
        else:
            shared = tuple(sorted(name for name in piece.figures_mm if name in SAME_MM))
            kinds.setdefault((piece.family, piece.box, shared), []).append(piece)
    made = [joined for kind in kinds.values() for joined in _join(kind)] + alone
    made.sort(key=lambda g: (-len(g), g[0].number))
    return tuple(describe(n + 1, members) for n, members in enumerate(made))


def _join(kind: list[Piece]) -> list[list[Piece]]:
    import numpy as np

    names = [name for name in kind[0].figures_mm if name in SAME_MM]
    limit = np.array([SAME_MM[name] for name in names])
    means = np.array([[p.figures_mm[name].value for name in names] for p in kind]).reshape(len(kind), len(names))
    pitch = np.array([p.pitch_mm.value if p.pitch_mm else np.nan for p in kind])
    # An outline that fits badly (a thread, a shine on a rim) gives its lengths and heads less well than its diameters.
    loose = np.array([min(max(p.miss_mm / GOOD_FIT_MM, 1.0), 2.0) for p in kind])
    wide = np.array([name in LOOSER for name in names])
    groups = [[p] for p in kind]
    while len(groups) > 1 and names:
        shares = np.abs(means[:, None] - means[None]) / limit
        shares = np.where(wide, shares / np.maximum(loose[:, None], loose[None])[..., None], shares)
        turns = np.abs(pitch[:, None] - pitch[None])
        both = np.isfinite(turns)
        if "shank_diameter" in names:
            k = names.index("shank_diameter")
            shares[..., k] = np.where(
                both, shares[..., k] * SAME_MM["shank_diameter"] / SAME_THREADED_MM, shares[..., k]
            )
        apart = np.maximum(shares.max(2), np.where(both, turns, 0.0) / SAME_PITCH_MM)
        np.fill_diagonal(apart, np.inf)
        i, j = (int(n) for n in np.unravel_index(int(apart.argmin()), apart.shape))
        if apart[i, j] >= 1:
            break
        weights = len(groups[i]), len(groups[j])
        means[i] = (means[i] * weights[0] + means[j] * weights[1]) / sum(weights)
        pitch[i] = (
            pitch[i] if not np.isfinite(pitch[j]) else pitch[j] if not np.isfinite(pitch[i]) else np.mean(pitch[[i, j]])
        )
        groups[i] += groups.pop(j)
        loose[i] = (loose[i] * weights[0] + loose[j] * weights[1]) / sum(weights)
        means, pitch, loose = np.delete(means, j, 0), np.delete(pitch, j), np.delete(loose, j)
    return groups


def describe(number: int, members: Sequence[Piece]) -> Group:
    """Say what a group is alike in, and what it may be.

    Parameters
    ----------
    number : int
        Its number in the reading. [-]
    members : sequence of Piece
        At least one. [-]

    Returns
    -------
    Group
        Mean figures; the uncertainty of a mean keeps what repeats in the picture.

    Examples
    --------
    >>> describe.__name__
    'describe'

    References
    ----------
    mat-geometry
    bayes-rule
    """
    first = members[0]
    names = [name for name in first.figures_mm if all(name in p.figures_mm for p in members)]
    figures = {name: _mean([p.figures_mm[name] for p in members]) for name in names}
    angles = [p.head_angle_deg for p in members if p.head_angle_deg is not None]
    pitches = [p.pitch_mm for p in members if p.pitch_mm is not None]
    angle = _mean(angles) if angles else None
    pitch = _mean(pitches) if 2 * len(pitches) > len(members) else None
    proposals, ask = _proposals(first.family, figures, angle, pitch)
    return Group(
        number, _name(first.family, figures, pitch), first.family, tuple(p.number for p in members), figures, angle,
        pitch, tuple(sorted({p.colour for p in members})), first.box, proposals, ask, first.for_person,
    )  # fmt: skip


def _mean(figures: Sequence[Figure]) -> Figure:
    import math

    value = sum(f.value for f in figures) / len(figures)
    least = min(f.uncertainty for f in figures)
    # Three quarters of an uncertainty repeats from piece to piece and no mean takes it away.
    return Figure(round(value, 3), round(least * math.sqrt(0.56 + 0.44 / len(figures)), 3))


def _name(family: str, figures: dict[str, Figure], pitch: Figure | None) -> str:
    def mm(name: str) -> str:
        return f"{figures[name].value:.1f}" if name in figures else "?"

    if family == "unknown":
        return "for you to tell: touching pieces, or of another kind"
    if family == "ring":
        return f"ring {mm('inside_diameter')} x {mm('outside_diameter')} mm"
    if family == "disc":
        return f"disc {mm('outside_diameter')} mm"
    if family == "nut":
        return f"nut, {mm('across_flats')} mm across flats"
    turn = f", pitch {pitch.value:.2f}" if pitch else ""
    word = {"hexagon": "hexagon bolt", "round": "round head", "countersunk": "flush head", "plain pin": "pin"}[family]
    return f"{word} {mm('shank_diameter')} x {mm('length')} mm{turn}"


def _proposals(
    family: str, figures: dict[str, Figure], angle: Figure | None, pitch: Figure | None
) -> tuple[tuple[Proposal, ...], str]:
    from witnessmark.calc.fasteners.identify import identify
    from witnessmark.calc.fasteners.readings import BadReading, Measurements, Reading

    if family not in LOOK:
        return (), ""
    told: dict[str, Reading] = {}
    for name, what in _TO_IDENTIFY.items():
        if name in figures:
            told[what] = Reading(figures[name].value, figures[name].uncertainty / 2)
    if angle is not None:
        told["head_deg"] = Reading(angle.value, angle.uncertainty / 2)
    if pitch is not None:
        told["pitch_mm"] = Reading(pitch.value, max(pitch.uncertainty / 2, 0.002))
    looks = ("thread",) if pitch else LOOK[family]
    many: list[Measurements] = [{"form": Reading(look), **told} for look in looks]
    try:
        found = [identify(measured) for measured in many]
    except BadReading:
        return (), ""
    chances: dict[tuple[str, str], float] = {}
    for one in found:
        for each in one.candidates:
            chances[each.name, each.figure] = chances.get((each.name, each.figure), 0.0) + each.probability / len(found)
    likely = sorted(((chance, *who) for who, chance in chances.items() if chance > 0.02), reverse=True)[:3]
    proposals = tuple(Proposal(name, figure, round(chance, 3)) for chance, name, figure in likely)
    ask = next((one.sentence for one in found if not one.answered and one.next_measurement is not None), "")
    if not ask and len({one.word for one in found}) > 1:
        ask = "Look at the head: flat or domed?"
    return proposals, ask


def for_return(piece: Piece) -> dict[str, tuple[float, float]]:
    """Give a piece's figures as the matching of a return takes them: feature to value and standard uncertainty.

    Parameters
    ----------
    piece : Piece
        As measured. [-]

    Returns
    -------
    dict
        In mm and degrees; empty for a pile.

    Examples
    --------
    >>> for_return.__name__
    'for_return'

    References
    ----------
    mat-geometry
    """
    told = {
        TO_RETURN[name]: (figure.value, figure.uncertainty / 2)
        for name, figure in piece.figures_mm.items()
        if name in TO_RETURN
    }
    if piece.head_angle_deg is not None:
        told["head_angle_deg"] = (piece.head_angle_deg.value, piece.head_angle_deg.uncertainty / 2)
    if piece.pitch_mm is not None:
        told["thread_pitch_mm"] = (piece.pitch_mm.value, piece.pitch_mm.uncertainty / 2)
    return told
