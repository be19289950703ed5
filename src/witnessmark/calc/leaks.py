"""What in typed words is a name, a price, a register mark or a number that the record knows."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterable
from dataclasses import dataclass

# Letters that Unicode does not take apart into a plain one and a mark.
_PLAIN = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i"})
_INVISIBLE = re.compile(r"[\u00ad\u200b-\u200f\u2060\ufeff]")
_DASHES = re.compile(r"[\u2010-\u2015\u2212]")
# Currencies by sign, by the three letters of any of them, and as they are said.
_MONEY_SIGN = r"[€$£¥₤]|kr\b|eur(?:os?)?\b|usd\b|gbp\b|chf\b|sek\b|nok\b|dkk\b|isk\b|pln\b|czk\b|huf\b|cad\b|aud\b|nzd\b|jpy\b|dollars?\b|pounds? sterling\b|quid\b|francs?\b"
_AMOUNT = r"\d[\d.,' ]*(?:k\b)?"
_MONEY = re.compile(rf"(?:(?:{_MONEY_SIGN})\s*{_AMOUNT})|(?:{_AMOUNT}\s*(?:{_MONEY_SIGN}))")
_TELEPHONE = re.compile(r"\+\d[\d ()/-]{6,}\d")
_MAIL = re.compile(r"[\w.+-]+@[\w-]+\.[\w.-]+")
_POSITION = re.compile(r"-?\d{1,3}[.,]\d{3,}\s*°?\s*[ns]?\s*[,; ]\s*-?\d{1,3}[.,]\d{3,}|\d{1,3}\s*°\s*\d{1,2}\s*['′]")
_LEADS = r"(?:works?|werk|serial|construction|tag|part|s/n|w/n|c/n|p/n|msn)\s*(?:number|no\.?|nr\.?|#)?\s*[:#]?\s*"
_SHORT = 3  # letters below which a number is a number and not a mark, unless a word leads to it


@dataclass(frozen=True)
class Known:
    """A name or number of the record, and what it is: a kind of WITHHELD."""

    text: str
    kind: str


@dataclass(frozen=True)
class Leak:
    """What was found in typed words."""

    text: str
    kind: str


def folded(text: str) -> str:
    """Write words so that the same name reads the same however it was typed.

    Parameters
    ----------
    text : str
        Words. [-]

    Returns
    -------
    str
        Without accents, capitals and invisible letters.

    Raises
    ------
    none

    Notes
    -----
    Compatibility decomposition of Unicode, then case folding.

    Examples
    --------
    >>> folded("Jórun  SE\u2011ABC")
    'jorun se-abc'

    References
    ----------
    none: spelling only.
    """
    apart = unicodedata.normalize("NFKD", _INVISIBLE.sub("", text)).casefold().translate(_PLAIN)
    bare = "".join(letter for letter in apart if not unicodedata.combining(letter))
    return re.sub(r"\s+", " ", _DASHES.sub("-", bare)).strip()


def _forms(known: Known) -> list[str]:
    """Write a known name as expressions that find it: whole, and by the words of it that stand for it."""
    text = re.sub(r"\s*\(outside\)$", "", folded(known.text))
    words = re.findall(r"[^\s,;/]+", text)
    if not words:
        return []
    if known.kind in ("mark", "serial"):  # with or without the hyphen, or run together
        pieces = re.findall(r"\w+", text)
        whole = r"[\s\-_./]*".join(map(re.escape, pieces))
        if not pieces:
            return []
        return [whole] if len("".join(pieces)) >= _SHORT else [_LEADS + whole]
    whole = r"\s+".join(map(re.escape, words))
    if known.kind == "people":
        return [whole, *(re.escape(word) for word in words if len(word) >= _SHORT and len(words) > 1)]
    if known.kind == "shops" and len(words) > 1 and len(words[0]) > _SHORT:
        return [whole, re.escape(words[0])]
    return [whole]


@dataclass(frozen=True)
class Watch:
    """Known names and numbers, made ready to be looked for in many texts."""

    patterns: tuple[tuple[str, re.Pattern[str]], ...]


def watch(known: Iterable[Known]) -> Watch:
    """Make ready what is to be looked for.

    Parameters
    ----------
    known : Iterable[Known]
        Names and numbers of the record. [-]

    Returns
    -------
    Watch
        One expression a kind.

    Raises
    ------
    none

    Notes
    -----
    A person is found by each of his names of three letters or more, a shop by its whole name or its first word, a mark
    or number with or without its hyphens. A number of one or two characters is found only after a word that leads to it.

    Examples
    --------
    >>> len(watch([Known("Jorun", "people"), Known("Ilva", "people")]).patterns)
    1

    References
    ----------
    none: spelling only.
    """
    by_kind: dict[str, set[str]] = {}
    for one in known:
        by_kind.setdefault(one.kind, set()).update(_forms(one))
    return Watch(
        tuple(
            (
                kind,
                re.compile(r"(?<!\w)(?:" + "|".join(sorted(forms, key=lambda f: (-len(f), f))) + r")(?:['’]?s)?(?!\w)"),
            )
            for kind, forms in by_kind.items()
            if forms
        )
    )


def leaks(text: str, watching: Watch, shown: Collection[str]) -> list[Leak]:
    """Find in typed words what is withheld.

    Parameters
    ----------
    text : str
        What somebody typed. [-]
    watching : Watch
        Names and numbers of the record. [-]
    shown : Collection[str]
        Kinds that may be shown: not looked for. [-]

    Returns
    -------
    list of Leak
        What was found, each once.

    Raises
    ------
    none

    Notes
    -----
    It finds what the record knows, and what is written like money, a mail address, a telephone number or a position. A name that the record
    does not know is not found: a person reads the words before they go out.

    Examples
    --------
    >>> names = watch([Known("Jorun", "people"), Known("SE-ABC", "mark")])
    >>> [(leak.kind, leak.text) for leak in leaks("JORUN took SEABC apart for 400 EUR", names, ())]
    [('people', 'jorun'), ('mark', 'seabc'), ('money', '400 eur')]

    References
    ----------
    none: spelling only.
    """
    plain = folded(text)
    every = [*watching.patterns, ("money", _MONEY), ("people", _MAIL), ("people", _TELEPHONE), ("where", _POSITION)]
    found = [
        Leak(match[0].strip(), kind)
        for kind, pattern in every
        if kind not in shown
        for match in pattern.finditer(plain)
    ]
    return list(dict.fromkeys(found))
