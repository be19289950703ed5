"""Processes read from step names, and the cautions that go with them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache

from witnessmark.calc.sources import Status, source
from witnessmark.calc.tables import load_table

# 150 ksi for threaded fasteners, 180 ksi for other parts: where the embrittlement specification begins.
FASTENER_LIMIT_MPA = 1034.0
PART_LIMIT_MPA = 1241.0

_METALS = r"(?:the |old |off |all |cadmium |zinc |chrome |nickel |hard )*"
_STRIP_PLATE = re.compile(rf"\b(?:strip|remove) {_METALS}(?:plate|plating|chrome|cadmium|zinc|nickel)\b")
_NOUN_PLATE = re.compile(
    r"\b(?:step|gusset|doubler|data|name|back|butt|splice|pressure|cover|end|face|tie|surface|mounting) plates?\b"
    r"|\bplate nuts?\b"
)
_STEEL = re.compile(r"\b(?:steel|4130|4140|4340|chrome-moly|cr-mo|iron)\b")
_THREADED = re.compile(r"\b(?:bolt|screw|stud|nut|threaded)s?\b")


@dataclass(frozen=True)
class Caution:
    """A hazard to show at a step, and who takes over."""

    hazard: str
    text: str
    hand_over: str
    source: str
    status: Status


def _plain(words: str) -> str:
    # "Magnetic-particle" and "magnetic  particle" must not slip past a rule.
    return re.sub(r"[\s-]+", " ", words.lower())


@cache
def _phrases() -> tuple[tuple[re.Pattern[str], tuple[str, ...]], ...]:
    owners: dict[str, list[str]] = {}
    for row in load_table("processes", sourced=False).rows:
        for phrase in row["words"].split(";"):
            owners.setdefault(_plain(phrase), []).append(row["process"])
    # The longest phrase first: "strip plate" must not be read as "strip" and "plate".
    ordered = sorted(owners, key=lambda phrase: (-len(phrase), phrase))
    return tuple((re.compile(rf"\b{re.escape(phrase)}\b"), tuple(owners[phrase])) for phrase in ordered)


@lru_cache(maxsize=20_000)
def processes_of(step_name: str) -> tuple[str, ...]:
    """Read the processes that a step names, in the order in which it names them.

    Parameters
    ----------
    step_name : str
        Name of a route's step. [-]

    Returns
    -------
    tuple of str
        Process names of `processes.csv`; empty where the words say none.

    Examples
    --------
    >>> processes_of("Strip cadmium plate, crack test, plate and bake")
    ('strip plate', 'crack test', 'plate', 'bake')
    >>> processes_of("Fit step plate")
    ()

    References
    ----------
    none: words only.
    """
    text = _plain(step_name)
    found: list[tuple[int, str]] = []

    def take(pattern: re.Pattern[str], names: tuple[str, ...]) -> None:
        nonlocal text
        for match in pattern.finditer(text):
            found.extend((match.start(), name) for name in names)
        # Blanked, so that a shorter phrase is not read inside a longer one and positions stay.
        text = pattern.sub(lambda m: "\n" * len(m[0]), text)

    take(_NOUN_PLATE, ())
    take(_STRIP_PLATE, ("strip plate",))
    for pattern, names in _phrases():
        take(pattern, names)
    ordered: list[str] = []
    for _, name in sorted(found):
        if name not in ordered:
            ordered.append(name)
    return tuple(ordered)


def process_names() -> tuple[str, ...]:
    """Return the names of the processes that are read.

    Returns
    -------
    tuple of str
        Names in the order of the table.

    Examples
    --------
    >>> "crack test" in process_names()
    True

    References
    ----------
    none: words only.
    """
    return tuple(row["process"] for row in load_table("processes", sourced=False).rows)


def is_steel(material: str) -> bool:
    """Say whether a material's words name a steel.

    Parameters
    ----------
    material : str
        Material as written in the list. [-]

    Returns
    -------
    bool
        True for steel, 4130, 4340 and the like.

    Examples
    --------
    >>> is_steel("4130 tube"), is_steel("clad dural 1.2")
    (True, False)

    References
    ----------
    none: words only.
    """
    return bool(_STEEL.search(material.lower()))


@lru_cache(maxsize=20_000)
def cautions_for(process: str, material: str, finish: str, strength_mpa: float | None = None) -> tuple[Caution, ...]:
    """Return the cautions to show where a process meets a material and a finish.

    Parameters
    ----------
    process : str
        Step name or process name. [-]
    material : str
        Material as written; the part's name may stand with it. [-]
    finish : str
        Finish as found. [-]
    strength_mpa : float or None
        Tensile strength; None where it is not known. [MPa]

    Returns
    -------
    tuple of Caution
        In the order of the hazard table, each hazard's text once.

    Raises
    ------
    ValueError
        A strength that is not above zero.

    Notes
    -----
    Matched by whole words. No caution means that no word was recognised, not that there is no hazard.

    Examples
    --------
    >>> [c.hand_over for c in cautions_for("drill", "elektron casting", "")]
    ['fire officer']
    >>> [c.hazard for c in cautions_for("plate", "steel bolt", "")]
    ['hardened steel']

    References
    ----------
    shop-hazards
    ams2759-9d-1
    """
    if strength_mpa is not None and not strength_mpa > 0:
        raise ValueError(f"a strength must be above zero, not {strength_mpa}")
    named = set(processes_of(process))
    things = f"{process} {material} {finish}".lower()
    found: list[Caution] = []
    for row in load_table("hazards").rows:
        wanted = set(filter(None, row["process_words"].split(";")))
        if wanted and not wanted & named:
            continue
        words = list(filter(None, row["thing_words"].split(";")))
        if words and not any(re.search(rf"(?<![\w-]){re.escape(word)}s?(?![\w-])", things) for word in words):
            continue
        held = source(row["source"])
        found.append(Caution(row["hazard"], row["caution"], row["hand_over"], held.key, held.status))
    steel = _steel_caution(named, material, process, strength_mpa)
    if steel is not None:
        found.append(steel)
    return tuple(dict.fromkeys(found))


_UNKNOWN = "no acid and no plating until its strength is known"


def still_cautions(caution: str, strength_mpa: float | None) -> str:
    """Return a step's own caution without what no longer holds.

    Parameters
    ----------
    caution : str
        As it stands with the step of the route. [-]
    strength_mpa : float or None
        Tensile strength; None where nobody knows it. [MPa]

    Returns
    -------
    str
        Without the sentence about an unknown strength where the strength is known.

    Examples
    --------
    >>> still_cautions("No acid and no plating until its strength is known. Do not cut the wire.", 1100.0)
    'Do not cut the wire.'
    >>> still_cautions("No acid and no plating until its strength is known.", None)
    'No acid and no plating until its strength is known.'

    References
    ----------
    none: words only.
    """
    if strength_mpa is None or not strength_mpa > 0:
        return caution
    sentences = re.split(r"(?<=[.!?])\s+", caution)
    return " ".join(said for said in sentences if said.rstrip(".! ").casefold() != _UNKNOWN)


def _steel_caution(named: set[str], material: str, process: str, strength_mpa: float | None) -> Caution | None:
    if not is_steel(material) or not named & {"plate", "etch", "strip plate"}:
        return None
    if strength_mpa is None:
        text = "Steel of unknown strength: no acid and no plating until its strength is known."
    else:
        limit = FASTENER_LIMIT_MPA if _THREADED.search(f"{material} {process}".lower()) else PART_LIMIT_MPA
        if strength_mpa < limit:
            return None
        text = (
            f"Steel of {strength_mpa:g} MPa, at or above {limit:g} MPa: plating only to a specification with bake and "
            "certificate. Decorative chrome counts as plating."
        )
    held = source("ams2759-9d-1")
    return Caution("hardened steel", text, "design engineer", held.key, held.status)
