"""Which fastener it is, how sure that is, and what to measure next."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from witnessmark.calc.fasteners.alloys import Alloy, alloys_of
from witnessmark.calc.fasteners.catalogue import Shape, built_in
from witnessmark.calc.fasteners.hole_register import is_oval
from witnessmark.calc.fasteners.likelihood import Field, field, log_likelihood
from witnessmark.calc.fasteners.next_figure import NextMeasurement, best_next
from witnessmark.calc.fasteners.readings import SHAVED_OFF, WAYS, Measurements, Reading, read_measurements
from witnessmark.calc.working import Answer, working

SURE = 0.97  # a name is given from here on; below it the next measurement is asked for
NONE = "none of these"
_MISSEEN = 0.01  # a solid stem is taken for a hollow one so often, from memory


@dataclass(frozen=True)
class Candidate:
    """One thing it may be; two sizes that nothing measurable parts stand here as one, under all their names."""

    name: str
    names: tuple[str, ...]
    families: tuple[str, ...]
    figure: str
    probability: float
    source: str
    status: str
    shape: Shape | None


@dataclass(frozen=True)
class Identification(Answer):
    """One big word, one figure, and the table behind them; `names` are all names of what the word stands for.

    `oval_mm` is by how much the hole is out of round, where both its ways were measured; `blind` is said where a hollow stem
    was seen.
    """

    word: str
    names: tuple[str, ...]
    figure: str
    probability: float
    answered: bool
    sentence: str
    candidates: tuple[Candidate, ...]
    next_measurement: NextMeasurement | None
    alloys: tuple[Alloy, ...]
    oval_mm: float | None
    blind: bool

    @property
    def is_none(self) -> bool:
        """True where the likeliest is that it belongs to no family here."""
        return self.word == NONE


def identify(
    measurements: Measurements,
    families: Sequence[Shape] = (),
    prior: Mapping[str, float] | None = None,
    cannot: frozenset[str] = frozenset(),
    sure: float = SURE,
) -> Identification:
    """Say which fastener it is from whatever was measured, and what to measure next.

    Parameters
    ----------
    measurements : mapping
        Any of form, hole_mm, hole_wide_mm, shank_mm, driven_shank_mm, head_mm, head_deg, head_height_mm, pitch_mm,
        thread_deg, across_flats_mm, length_mm, magnet, core, head_mark, to a figure, a word or a `Reading`. [-]
    families : sequence of Shape
        Sizes that the user added from measurement, beside the built-in ones. [-]
    prior : mapping or None
        Family to how many times likelier than the others it is; equal where not named. [-]
    cannot : frozenset of str
        What cannot be measured here, such as the angle of a rivet that stays in. [-]
    sure : float
        Probability from which a name is given. [-]

    Returns
    -------
    Identification
        Word, figure, probability, candidates by rank, next measurement with its tool.

    Raises
    ------
    BadReading
        A figure that cannot be true.

    Notes
    -----
    The chances rest on how shanks, holes and heads of the trade usually depart from nominal, which is from memory.
    Families are equally likely beforehand unless `prior` says otherwise. Of an oval hole the narrow way tells, for wear only
    widens. Every family here is of solid shanks: a hollow stem is none of them.

    Examples
    --------
    >>> identify({"hole_mm": 3.3, "core": "hollow"}).word
    'none of these'
    >>> found = identify({"shank_mm": 7.92, "pitch_mm": 1.058})
    >>> found.word, found.answered
    ('5/16-24 UNF', True)

    References
    ----------
    bayes-rule
    fastener-habits
    oval-hole-practice
    blind-practice
    """
    return identify_many([measurements], families, prior, cannot, sure)[0]


def identify_many(
    many: Sequence[Measurements],
    families: Sequence[Shape] = (),
    prior: Mapping[str, float] | None = None,
    cannot: frozenset[str] = frozenset(),
    sure: float = SURE,
    ask_next: bool = True,
) -> list[Identification]:
    """Identify many fasteners at once.

    Parameters
    ----------
    many : sequence of mapping
        One set of figures a fastener, as `identify` takes. [-]
    families : sequence of Shape
        Sizes that the user added. [-]
    prior : mapping or None
        Family to how many times likelier it is. [-]
    cannot : frozenset of str
        What cannot be measured here. [-]
    sure : float
        Probability from which a name is given. [-]
    ask_next : bool
        False leaves the next measurement out: faster by a factor. [-]

    Returns
    -------
    list of Identification
        In the order given.

    Raises
    ------
    BadReading
        A figure that cannot be true.
    ValueError
        Nothing was measured, or `sure` is no chance between one half and one.

    Examples
    --------
    >>> [each.word for each in identify_many([{"shank_mm": 4.7, "pitch_mm": 0.81}], ask_next=False)]
    ['2 BA']

    References
    ----------
    bayes-rule
    """
    import numpy as np

    if not 0.5 <= sure < 1:
        raise ValueError(f"sure is a chance between one half and one, not {sure}")
    laid = field((*built_in(), *families), tuple(sorted((prior or {}).items())))
    found: list[Identification] = []
    for start in range(0, len(many), 200):
        read = [read_measurements(each) for each in many[start : start + 200]]
        if not all(read):
            raise ValueError("nothing was measured: give at least one figure")
        likely, steps = log_likelihood(laid, read)
        post = likely + laid.log_prior
        post = np.exp(post - post.max(axis=1, keepdims=True))
        post /= post.sum(axis=1, keepdims=True)
        by_group = np.zeros((len(read), laid.none + 1))
        np.add.at(by_group.T, laid.group_of, post.T)
        for i, readings in enumerate(read):
            hollow = "core" in readings and readings["core"].value == "hollow"
            chances = by_group[i]
            if hollow:
                chances = _MISSEEN * chances
                chances[laid.none] += 1 - chances.sum()
            ranked = _ranked(laid, chances, post[i])
            ask = None
            if ask_next and not hollow and ranked[0].probability < sure:
                shaved = "form" in readings and readings["form"].value == "shaved"
                gone = cannot.union(SHAVED_OFF) if shaved else cannot
                ask = best_next(laid, post[i], steps[i], readings, gone)
            found.append(_said(readings, ranked, ask, sure))
    return found


def _ranked(laid: Field, by_group: object, post: object) -> tuple[Candidate, ...]:
    import numpy as np

    chances, by_size = np.asarray(by_group), np.asarray(post)
    order = np.argsort(-chances)[:8]
    ranked: list[Candidate] = []
    for group in order:
        chance = float(chances[group])
        if ranked and chance < 0.0005:
            break
        if group == laid.none:
            ranked.append(Candidate(NONE, (NONE,), (), "no family here fits", chance, "", "", None))
            continue
        members = sorted(laid.groups[group], key=lambda i: -by_size[i])
        best = laid.shapes[members[0]]
        names = tuple(laid.shapes[i].code for i in members)
        families = tuple(dict.fromkeys(laid.shapes[i].family for i in members))
        ranked.append(Candidate(best.big_word, names, families, best.figure, chance, best.source, best.status, best))
    return tuple(ranked)


def _sentence(best: Candidate, ask: NextMeasurement | None, answered: bool, hollow: bool) -> str:
    if hollow:
        return "None of these: it may be a blind fastener (hollow stem seen)."
    if answered and best.name == NONE:
        return "None of the families here. Add its own family from these figures."
    if answered:
        also = [name for name in best.names if name != best.name]
        return f"It is {best.name}{', the same as ' + ' and '.join(also) if also else ''}."
    if ask is not None:
        return f"Not sure yet. {ask.order}."
    return (
        "Not sure, and nothing that can be measured here parts what is left. Knock one out whole and read it, or ask."
    )


def _said(
    readings: Mapping[str, Reading], ranked: tuple[Candidate, ...], ask: NextMeasurement | None, sure: float
) -> Identification:
    # "None of these" is said where it is likelier than not; before that the likeliest size is.
    best = ranked[1] if ranked[0].name == NONE and ranked[0].probability < 0.5 and len(ranked) > 1 else ranked[0]
    answered = best.probability >= sure
    rows: list[tuple[str, float | int | str, str, str]] = [
        (
            WAYS[what].label,
            reading.value,
            {"length": "mm", "angle": "degree"}.get(WAYS[what].kind, "-"),
            f"measured, ± {reading.uncertainty:g}" if reading.uncertainty else "seen",
        )
        for what, reading in readings.items()
    ]
    rows += [(each.name, round(each.probability, 4), "-", each.status or "computed") for each in ranked]
    hollow = "core" in readings and readings["core"].value == "hollow"
    oval_mm = None
    cautions = []
    if "hole_wide_mm" in readings:
        narrow, wide = (float(readings[way].value) for way in ("hole_mm", "hole_wide_mm"))
        oval_mm = round(wide - narrow, 6)
        if is_oval(oval_mm):
            cautions.append(
                f"The hole is oval, {narrow:g} by {wide:g} mm: wear only widens, so the name rests on the narrow way. The wide "
                f"way says nothing of the fastener; the next size must clean up {wide:g} mm, with its edge distance taken on the "
                "worst side."
            )
    if hollow:
        cautions.append(
            "A blind fastener carries other loads than a solid rivet, and a pin of steel may sit in it: try a magnet, and "
            "ask engineering before a solid rivet takes its hole."
        )
    if best.status == "memory":
        cautions.append(f"The figures of {best.name} are from memory: compare a piece you are sure of.")
    if any(reading.painted for reading in readings.values()):
        cautions.append("A head under paint cannot be measured: strip it, then measure it again.")
    if "form" in readings and readings["form"].value == "shaved":
        cautions.append(
            "A shaved head has lost its width and its mark: two heads for one shank, and the alloy, cannot be told from it. "
            "Keep one knocked out whole."
        )
    mark = readings.get("head_mark")
    return Identification(
        working=working(
            "chance of a size = chance beforehand × how likely each figure is for it, over the sum of all sizes",
            rows,
            (
                "bayes-rule",
                "fastener-habits",
                *(("oval-hole-practice",) if oval_mm is not None else ()),
                *(("blind-practice",) if hollow else ()),
            ),
            tuple(cautions),
            "Solid rivets, bolts and screws of 1 to 39 mm in the families listed; all else is 'none of these'.",
        ),
        word=best.name,
        names=best.names,
        figure=best.figure,
        probability=min(best.probability, 1.0) if math.isfinite(best.probability) else 0.0,
        answered=answered,
        sentence=_sentence(best, ask, answered, hollow),
        candidates=ranked,
        next_measurement=ask,
        alloys=alloys_of(str(mark.value) if mark else None, best.shape),
        oval_mm=oval_mm,
        blind=hollow,
    )
