"""What the code on a tag says: the tag and a letter that shows a misreading."""

from __future__ import annotations

import re

SIGNS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"
# A code of the smallest size with the strongest correction holds ten signs: WM:, the tag, a colon and the letter.
MOST_SIGNS = 5
_COMPACT = re.compile(r"WM:([0-9A-Z]+):([0-9A-Z*])")
_PLAIN = re.compile(r"WM:([^/?#:]+)")


def check_letter(tag: str) -> str:
    """Reckon the letter that goes with a tag: one wrong sign, or two that changed places, give another.

    Parameters
    ----------
    tag : str
        Digits and capital letters. [-]

    Returns
    -------
    str
        One sign of `SIGNS`. [-]

    Raises
    ------
    ValueError
        The tag is empty or holds another sign.

    Notes
    -----
    The pure system MOD 37-2: the sum of the signs' values, each times a power of two by its place, is 1 modulo 37.

    Examples
    --------
    >>> check_letter("G123498654321")
    'H'

    References
    ----------
    iso-7064
    """
    if not tag or any(sign not in SIGNS[:-1] for sign in tag):
        raise ValueError(f"a check letter needs digits and capital letters, not {tag!r}")
    total = 0
    for sign in tag:
        total = (2 * total + SIGNS.index(sign)) % 37
    return SIGNS[(1 - 2 * total) % 37]


def code_text(tag: str) -> str:
    """Write what the compact code of a tag holds.

    Parameters
    ----------
    tag : str
        Up to five digits and capital letters. [-]

    Returns
    -------
    str
        `WM:`, the tag, a colon, its check letter. [-]

    Raises
    ------
    ValueError
        The tag is empty, too long for the compact code, or holds another sign.

    Examples
    --------
    >>> code_text("0231")
    'WM:0231:8'

    References
    ----------
    iso-18004, iso-7064
    """
    if len(tag) > MOST_SIGNS:
        raise ValueError(f"the compact code holds {MOST_SIGNS} signs, {tag!r} has {len(tag)}")
    return f"WM:{tag}:{check_letter(tag)}"


def tag_of(text: str) -> str | None:
    """Give the tag that a code names by itself, or None.

    Parameters
    ----------
    text : str
        What the code holds: `WM:<tag>:<letter>`, or `WM:<tag>` as tags were printed before there was a letter. [-]

    Returns
    -------
    str or None
        The tag; None for anything else, and for a check letter that does not fit. [-]

    Examples
    --------
    >>> tag_of("WM:0231:8"), tag_of("WM:0232:8")
    ('0231', None)

    References
    ----------
    iso-7064
    """
    text = text.strip()
    if found := _COMPACT.fullmatch(text):
        return found[1] if check_letter(found[1]) == found[2] else None
    found = _PLAIN.fullmatch(text)
    return found[1] if found else None
