"""What must not leave with a shipment, what leaves only on terms, and which papers it must bring back."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache

from witnessmark.calc.bags.solids import families_of
from witnessmark.calc.sources import Status, source
from witnessmark.calc.surface.processes import FASTENER_LIMIT_MPA, PART_LIMIT_MPA, is_steel, processes_of
from witnessmark.calc.tables import load_table

_WET = frozenset({"plate", "etch", "strip plate", "anodise"})
_OVEN = frozenset({"bake", "heat treat", "stress relief"})
_COAT = frozenset({"plate", "etch", "blast", "conversion coat", "anodise", "prime", "paint"})
_BAKE_ASKED = frozenset({"spring", "case-hardened"})
_TESTS = frozenset({"crack test", "penetrant", "magnetic particle"})
_THREADED = re.compile(r"\b(?:bolt|screw|stud|nut)s?\b")
# Works on what is not in processes.csv: words of a vendor's own trade.
_TRADE = {"overhaul": ("overhaul", "overhauled"), "reline": ("reline", "relined", "relining")}


@dataclass(frozen=True)
class Leaving:
    """One piece that is to leave; `said` holds what a person said of its nature, over what its words suggest.

    `gives_way` is the decision by which another part takes the place of this one. `bake_missing` says why the bake called out
    bars it; `bake_open` which question about its bake nobody has answered; `bake_follows` that a bake is done there, by its
    route or by what was called out.
    """

    tag: str
    words: str
    material: str
    strength_mpa: float | None = None
    matched: bool = False
    waits_for_test: str = ""
    differs: str = ""
    opposite_stays: bool = False
    gives_way: str = ""
    bake_missing: str = ""
    bake_open: str = ""
    bake_follows: bool = False
    said: Mapping[str, bool] = field(default_factory=dict)


@dataclass(frozen=True)
class Trait:
    """Something in a piece's nature that a bath or an oven asks about; `by_word` is the word it was read from."""

    name: str
    say: str
    by_word: str
    source: str
    status: Status


@dataclass(frozen=True)
class Bar:
    """Why one piece must not go, or on which term it goes."""

    tag: str
    rule: str
    must_not: bool
    why: str
    term: str
    read_from: str
    source: str
    status: Status


@dataclass(frozen=True)
class Paper:
    """A certificate that a shipment must bring back, and what must stand in it."""

    kind: str
    why: str
    source: str
    status: Status


@cache
def _traits() -> tuple[tuple[str, re.Pattern[str], re.Pattern[str] | None, str, str], ...]:
    def pattern(words: str) -> re.Pattern[str]:
        longest = sorted(words.split(";"), key=len, reverse=True)
        return re.compile(rf"(?<![\w-])(?:{'|'.join(map(re.escape, longest))})(?![\w-])", re.IGNORECASE)

    return tuple(
        (
            row["trait"],
            pattern(row["words"]),
            pattern(row["but_not"]) if row["but_not"] else None,
            row["say"],
            row["source"],
        )
        for row in load_table("shipment_traits").rows
    )


def trait_names() -> dict[str, str]:
    """Return the traits that are asked about, each with its words.

    Returns
    -------
    dict of str to str
        Trait to how it is said.

    Examples
    --------
    >>> trait_names()["spring"]
    'a spring'

    References
    ----------
    none: words only.
    """
    return {name: say for name, _, _, say, _ in _traits()}


def traits_of(piece: Leaving) -> tuple[Trait, ...]:
    """Read a piece's traits from its words; what a person said of it goes before.

    Parameters
    ----------
    piece : Leaving
        The piece. [-]

    Returns
    -------
    tuple of Trait
        In the order of the table; `by_word` is empty where a person said it.

    Examples
    --------
    >>> [t.name for t in traits_of(Leaving("1", "Tailwheel spring, leaf", "spring steel"))]
    ['spring']
    >>> traits_of(Leaving("1", "Tailwheel spring bolts", "steel"))
    ()

    References
    ----------
    shipment-practice
    """
    text = f"{piece.words} {piece.material}"
    found = []
    for name, pattern, but_not, say, key in _traits():
        said = piece.said.get(name)
        if said is None and name == "matched" and piece.matched:
            said = True
        match = pattern.search(but_not.sub(" ", text) if but_not else text)
        if said or (said is None and match):
            found.append(Trait(name, say, "" if said or match is None else match[0].lower(), key, source(key).status))
    return tuple(found)


def _kinds(process: str, pieces: Sequence[Leaving]) -> set[str]:
    named = set(processes_of(process))
    kinds = {"any"}
    if named & _WET:
        kinds.add("wet")
        steel = any("steel" in families_of(piece.material) for piece in pieces)
        if "plate" in named and (steel or re.search(r"\b(?:cadmium|zinc)\b", process.lower())):
            kinds.add("steel bath")
    if named & _OVEN:
        kinds.add("oven")
    if "bake" in named:
        kinds.add("bake")
    if "blast" in named:
        kinds.add("blast")
    if named & _COAT:
        kinds.add("coat")
    if "decorative chrome" in named:
        kinds.add("decorative")
    return kinds


def bars_of(process: str, pieces: Sequence[Leaving]) -> tuple[Bar, ...]:
    """Say what of these pieces must not go through a process together, and what goes only on terms.

    Parameters
    ----------
    process : str
        What the vendor is asked to do. [-]
    pieces : sequence of Leaving
        What is to leave together. [-]

    Returns
    -------
    tuple of Bar
        By piece, in the order of `shipment_rules.csv`; a piece without a bar is named by no rule.

    Raises
    ------
    ValueError
        A tag twice.

    Notes
    -----
    What is read from words can miss what no word says: no bar is no word that it may go. A bath counts as one for steel
    where cadmium or zinc is named or a steel piece goes in.

    Examples
    --------
    >>> pair = [Leaving("1", "bolts", "steel", 900.0), Leaving("2", "cover", "dural")]
    >>> [(b.tag, b.rule, b.must_not) for b in bars_of("Plate", pair)]
    [('2', 'steel bath: aluminium', True)]

    References
    ----------
    shipment-practice
    ams2759-9d-1
    order-rules
    shop-hazards
    decorative-practice
    """
    tags = [piece.tag for piece in pieces]
    if len(set(tags)) != len(tags):
        raise ValueError("a tag stands twice in the shipment")
    kinds = _kinds(process, pieces)
    found = []
    for piece in pieces:
        families = set(families_of(piece.material))
        traits = {trait.name: trait for trait in traits_of(piece)}
        for row in load_table("shipment_rules").rows:
            if not kinds & set(row["processes"].split(";")):
                continue
            wanted = set(row["is"].split(";"))
            read_from, trait = "", next((traits[name] for name in wanted if name in traits), None)
            if row["on"] == "trait":
                if trait is None:
                    continue
                read_from = trait.by_word
            elif not _holds(row["on"], wanted, piece, families):
                continue
            if row["rule"] == "bake not called out" and _BAKE_ASKED & traits.keys() and "wet" in kinds:
                continue  # the term of a spring or a case-hardened part asks its bake already
            why = row["reason"]
            if row["on"] == "test":
                why = f"{why} '{piece.waits_for_test}' is not done."
            elif row["on"] == "check":
                why = f"{why} {piece.differs}"
            elif row["on"] == "bake":
                why = f"{why} {piece.bake_missing if row['is'] == 'missing' else piece.bake_open}"
            elif row["on"] == "decision":
                why = f"It is decided: {piece.gives_way}. {why}"
            held = source(row["source"])
            must_not = row["bar"] == "must not"
            found.append(Bar(piece.tag, row["rule"], must_not, why, row["term"], read_from, held.key, held.status))
    return tuple(found)


def _holds(on: str, wanted: set[str], piece: Leaving, families: set[str]) -> bool:
    if on == "family":
        return bool(wanted & families)
    if on == "strength":
        return is_steel(piece.material) and "stainless" not in families and piece.strength_mpa is None
    if on == "material":
        return not piece.material.strip()
    if on == "decision":
        return bool(piece.gives_way)
    if on == "bake":
        return bool(piece.bake_missing if "missing" in wanted else piece.bake_open)
    if on == "test":
        return bool(piece.waits_for_test)
    if on == "opposite":
        return piece.opposite_stays
    return bool(piece.differs)


def is_test(step: str) -> bool:
    """Say whether a step is a crack test: it is done when its result is read, not when the piece is back.

    Parameters
    ----------
    step : str
        The step's name. [-]

    Returns
    -------
    bool
        True for a crack test by any method.

    Raises
    ------
    none

    Examples
    --------
    >>> is_test("Crack test"), is_test("Plate")
    (True, False)

    References
    ----------
    order-rules
    """
    return bool(_TESTS & set(processes_of(step)))


def open_test(steps: Sequence[tuple[str, bool]], at: int) -> str:
    """Find a crack test that a route asks for before one of its steps and that is not done.

    Parameters
    ----------
    steps : sequence of (str, bool)
        Each step's name and whether it is done, in order. [-]
    at : int
        Position of the step that is to be done, from 0. [-]

    Returns
    -------
    str
        The test's name, empty where none waits.

    Raises
    ------
    ValueError
        A position outside the route.

    Examples
    --------
    >>> open_test([("Clean", True), ("Crack test", False), ("Plate", False)], 2)
    'Crack test'
    >>> open_test([("Clean", True), ("Crack test", True), ("Plate", False)], 2)
    ''

    References
    ----------
    order-rules
    """
    if not 0 <= at < len(steps):
        raise ValueError(f"the route has {len(steps)} steps, none at {at}")
    for name, done in steps[:at]:
        if not done and is_test(name):
            return name
    return ""


def papers_of(process: str, pieces: Sequence[Leaving]) -> tuple[Paper, ...]:
    """Say which certificates a shipment must bring back.

    Parameters
    ----------
    process : str
        What the vendor is asked to do. [-]
    pieces : sequence of Leaving
        What leaves together. [-]

    Returns
    -------
    tuple of Paper
        Each kind once.

    Examples
    --------
    >>> [p.kind for p in papers_of("cadmium plate", [Leaving("1", "bolts", "steel", 1300.0)])]
    ['conformity', 'bake']
    >>> [p.kind for p in papers_of("plate", [Leaving("1", "clip", "steel", 1100.0, bake_follows=True)])]
    ['conformity', 'bake']
    >>> [p.kind for p in papers_of("MPI", [Leaving("1", "bolts", "steel", 1300.0)])]
    ['test report']

    References
    ----------
    certificate-practice
    mil-std-870c-5.2
    """
    text = process.lower()
    named = set(processes_of(process))
    named |= {trade for trade, words in _TRADE.items() if any(re.search(rf"\b{word}\b", text) for word in words)}
    hard = any(_hard(piece) for piece in pieces)
    if any(piece.bake_follows for piece in pieces):
        named.add("bake")
    found: dict[str, Paper] = {}
    for row in load_table("certificates").rows:
        if row["process"] in named and (row["when"] == "any" or hard):
            held = source(row["source"])
            found.setdefault(row["certificate"], Paper(row["certificate"], row["why"], held.key, held.status))
    return tuple(found.values())


def _hard(piece: Leaving) -> bool:
    """Steel at the strength where hydrogen embrittles it, or of which nobody knows the strength."""
    if not is_steel(piece.material) or "stainless" in families_of(piece.material):
        return False
    if piece.strength_mpa is None:
        return True
    limit = FASTENER_LIMIT_MPA if _THREADED.search(f"{piece.words} {piece.material}".lower()) else PART_LIMIT_MPA
    return piece.strength_mpa >= limit
