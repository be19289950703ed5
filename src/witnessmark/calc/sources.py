"""The register of documents that the figures and rules come from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal, cast

Status = Literal["read", "quoted", "derived", "memory"]
STATUSES: tuple[Status, ...] = ("read", "quoted", "derived", "memory")


class UnknownSource(KeyError):
    """A source key that is not in the register."""


@dataclass(frozen=True)
class Source:
    """One document, or the mark that there is none."""

    key: str
    title: str
    edition: str
    page: str
    status: Status

    @property
    def from_memory(self) -> bool:
        """True where the figure must carry a warning on screen and paper."""
        return self.status == "memory"

    def printed(self) -> str:
        """Return the source as one line for a screen or a paper.

        Returns
        -------
        str
            Title, edition, page and status.

        Examples
        --------
        >>> source("navedtra-14018-length").printed()
        'NAVEDTRA 14018, Steelworker, ch. 13, fig. 13-43 (read)'

        References
        ----------
        none: words only.
        """
        parts = [self.title]
        if self.page not in ("none", ""):
            parts.append(self.page)
        mark = "from memory: verify" if self.from_memory else self.status
        return f"{', '.join(parts)} ({mark})"


@cache
def all_sources() -> dict[str, Source]:
    """Return the whole register by key.

    Returns
    -------
    dict
        Key to `Source`.

    Raises
    ------
    ValueError
        A row without title, edition, page or a known status.

    Examples
    --------
    >>> "ac43.13-1b-4-57" in all_sources()
    True

    References
    ----------
    none: reads the register itself.
    """
    import tomllib

    raw = tomllib.loads((files("witnessmark.calc") / "data" / "sources.toml").read_text(encoding="utf-8"))
    register: dict[str, Source] = {}
    for key, row in raw.items():
        missing = {"title", "edition", "page", "status"} - row.keys()
        if missing:
            raise ValueError(f"source {key!r} lacks {', '.join(sorted(missing))}")
        if row["status"] not in STATUSES:
            raise ValueError(f"source {key!r} has the status {row['status']!r}; one of {', '.join(STATUSES)}")
        register[key] = Source(key, row["title"], row["edition"], row["page"], cast("Status", row["status"]))
    return register


def source(key: str) -> Source:
    """Return one source of the register.

    Parameters
    ----------
    key : str
        Key in `data/sources.toml`. [-]

    Returns
    -------
    Source
        The document with its status.

    Raises
    ------
    UnknownSource
        No such key.

    Examples
    --------
    >>> source("metric-length-step").from_memory
    True

    References
    ----------
    none: reads the register itself.
    """
    try:
        return all_sources()[key]
    except KeyError:
        raise UnknownSource(f"no source {key!r} in sources.toml") from None
