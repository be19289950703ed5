"""The working that every computed answer carries: formula, rows, sources, cautions, range."""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass
from typing import Any

from witnessmark import __version__
from witnessmark.calc.sources import source

CAUTION_LINE = (
    "An aid to the mechanic, not approved data. The person who signs decides. "
    "Check the current issue of every rule cited."
)


@dataclass(frozen=True)
class WorkingRow:
    """One figure of a working: what it is, its value, its unit and where it came from."""

    what: str
    value: float | int | str
    unit: str
    come_from: str


@dataclass(frozen=True)
class Working:
    """How an answer was found, so that another can find it by hand."""

    formula: str
    rows: tuple[WorkingRow, ...]
    sources: tuple[str, ...]
    cautions: tuple[str, ...]
    valid_range: str
    code_version: str

    def to_dict(self) -> dict[str, Any]:
        """Return the working as plain values for JSON.

        Returns
        -------
        dict
            Keys formula, rows, sources (written out), cautions, valid_range, code_version.

        Examples
        --------
        >>> working("a = b", []).to_dict()["formula"]
        'a = b'

        References
        ----------
        none: words only.
        """
        return {
            "formula": self.formula,
            "rows": [{"what": r.what, "value": r.value, "unit": r.unit, "from": r.come_from} for r in self.rows],
            "sources": [
                {"key": key, "printed": source(key).printed(), "status": source(key).status} for key in self.sources
            ],
            "cautions": list(self.cautions),
            "valid_range": self.valid_range,
            "code_version": self.code_version,
        }


@dataclass(frozen=True)
class Answer:
    """Base of every computed answer. Build subclasses by keyword."""

    working: Working

    @property
    def sources(self) -> tuple[str, ...]:
        """Keys of the sources that the answer rests on."""
        return self.working.sources

    @property
    def cautions(self) -> tuple[str, ...]:
        """Cautions to show beside the answer."""
        return self.working.cautions

    def to_dict(self) -> dict[str, Any]:
        """Return the answer and its working as plain values for JSON.

        Returns
        -------
        dict
            One key a field; the key `working` holds the working.

        Examples
        --------
        >>> sorted(Answer(working=working("a = b", [])).to_dict())
        ['working']

        References
        ----------
        none: words only.
        """
        return {f.name: _plain(getattr(self, f.name)) for f in fields(self)}


def _plain(value: Any) -> Any:
    if isinstance(value, Working | Answer):
        return value.to_dict()
    if isinstance(value, tuple | list):
        return [_plain(v) for v in value]
    if isinstance(value, dict):
        return {str(k): _plain(v) for k, v in value.items()}
    if is_dataclass(value):
        return {f.name: _plain(getattr(value, f.name)) for f in fields(value)}
    return value


def working(
    formula: str,
    rows: list[tuple[str, float | int | str, str, str]],
    sources: tuple[str, ...] = (),
    cautions: tuple[str, ...] = (),
    valid_range: str = "",
) -> Working:
    """Build a working; a source from memory adds its own caution.

    Parameters
    ----------
    formula : str
        The formula as a mechanic would write it. [-]
    rows : list of tuple
        What, value, unit, where it came from. [-]
    sources : tuple of str
        Keys of `sources.toml`. [-]
    cautions : tuple of str
        Sentences to show. [-]
    valid_range : str
        Where the formula holds, in words. [-]

    Returns
    -------
    Working
        Frozen, with the version of the code.

    Raises
    ------
    UnknownSource
        A key that is not in the register.

    Examples
    --------
    >>> working("spares", [], sources=("spares-practice",)).cautions[0][:12]
    'From memory,'

    References
    ----------
    none: words only.
    """
    remembered = tuple(f"From memory, verify: {source(k).title}." for k in sources if source(k).from_memory)
    made = tuple(WorkingRow(*row) for row in rows)
    return Working(formula, made, sources, cautions + remembered, valid_range, __version__)
