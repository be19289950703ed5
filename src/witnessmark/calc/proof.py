"""The one runner for handbook checks: worked examples and table facts out of named documents."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from importlib import import_module
from importlib.resources import files
from typing import Any, Literal, cast

from witnessmark.calc.sources import source

Kind = Literal["printed", "hand-worked", "derived"]
KINDS: tuple[Kind, ...] = ("printed", "hand-worked", "derived")
_HAIR = 1e-9


class BadCheck(ValueError):
    """A check that is written wrongly or claims a source that it does not have."""


@dataclass(frozen=True)
class Check:
    """One case: what is given, what the document prints, how close the answer must come."""

    id: str
    subject: str
    function: str
    given: Mapping[str, Any]
    expect: Mapping[str, Any]
    scale: float
    tolerance: float | None
    source: str
    page: str
    kind: Kind
    status: str
    note: str


@dataclass(frozen=True)
class CheckResult:
    """How one case went."""

    check: Check
    passed: bool
    got: Mapping[str, Any]
    message: str

    def printed(self) -> str:
        """Return the result as one line.

        Returns
        -------
        str
            Pass or FAIL, id, subject, what was got, source and status.

        Examples
        --------
        >>> run_checks()[0].printed()[:4]
        'pass'

        References
        ----------
        none: words only.
        """
        verdict = "pass" if self.passed else "FAIL"
        where = f"{source(self.check.source).title}, {self.check.page}; {self.check.kind}; {self.check.status}"
        return f"{verdict}  {self.check.id}  {self.check.subject}: {self.message} [{where}]"


_NEEDED = {"id", "subject", "function", "given", "expect", "source", "page", "kind", "status"}
_ALLOWED = _NEEDED | {"scale", "tolerance", "note"}
# A weaker source cannot back a stronger claim.
_STRENGTH = {"read": 0, "quoted": 1, "derived": 1}


def read_check(row: Mapping[str, Any]) -> Check:
    """Read one case and refuse a claim that its source does not carry.

    Parameters
    ----------
    row : mapping
        One `[[check]]` of a TOML file. [-]

    Returns
    -------
    Check
        The case.

    Raises
    ------
    BadCheck
        A missing or unknown key, an unknown kind or source, a source or status from memory.

    Examples
    --------
    >>> read_check({"id": "X"})
    Traceback (most recent call last):
    ...
    witnessmark.calc.proof.BadCheck: check 'X' lacks expect, function, given, kind, page, source, status, subject

    References
    ----------
    none: each case names its own source.
    """
    name = row.get("id", "without id")
    if missing := _NEEDED - row.keys():
        raise BadCheck(f"check {name!r} lacks {', '.join(sorted(missing))}")
    if unknown := row.keys() - _ALLOWED:
        raise BadCheck(f"check {name!r} has the unknown keys {', '.join(sorted(unknown))}")
    if row["kind"] not in KINDS:
        raise BadCheck(f"check {name!r} has the kind {row['kind']!r}; one of {', '.join(KINDS)}")
    try:
        held = source(row["source"])
    except KeyError as error:
        raise BadCheck(f"check {name!r}: {error.args[0]}") from None
    if held.from_memory or row["status"] not in _STRENGTH:
        raise BadCheck(f"check {name!r} rests on memory, so it is no handbook check")
    if _STRENGTH[row["status"]] < _STRENGTH[held.status]:
        raise BadCheck(f"check {name!r} says {row['status']}, its source only {held.status}")
    if not row["expect"]:
        raise BadCheck(f"check {name!r} expects nothing")
    return Check(
        **{key: row[key] for key in _NEEDED - {"kind"}},
        kind=cast("Kind", row["kind"]),
        scale=float(row.get("scale", 1.0)),
        tolerance=row.get("tolerance"),
        note=row.get("note", ""),
    )


def load_checks() -> tuple[Check, ...]:
    """Read all cases of `calc/data/checks`.

    Returns
    -------
    tuple of Check
        By file, then in the order of the file.

    Raises
    ------
    BadCheck
        A case written wrongly, or one id twice.

    Examples
    --------
    >>> len(load_checks()) > 20
    True

    References
    ----------
    none: each case names its own source.
    """
    import tomllib

    folder = files("witnessmark.calc") / "data" / "checks"
    found = sorted((f for f in folder.iterdir() if f.name.endswith(".toml")), key=lambda f: f.name)
    checks = [
        read_check(row) for file in found for row in tomllib.loads(file.read_text(encoding="utf-8")).get("check", [])
    ]
    ids = [check.id for check in checks]
    if twice := sorted({name for name in ids if ids.count(name) > 1}):
        raise BadCheck(f"checks with the same id: {', '.join(twice)}")
    return tuple(checks)


def run_checks(checks: Sequence[Check] | None = None) -> list[CheckResult]:
    """Run handbook checks.

    Parameters
    ----------
    checks : sequence of Check or None
        Cases to run; all of them when None. [-]

    Returns
    -------
    list of CheckResult
        One a case, in order. An error in the function is a failed case.

    Raises
    ------
    BadCheck
        A case written wrongly.

    Notes
    -----
    A number expected as text keeps its printed digits; the tolerance is half the last of them, unless the case gives
    its own and says why in its note. `scale` turns the printed unit into the function's.

    Examples
    --------
    >>> all(result.passed for result in run_checks())
    True

    References
    ----------
    none: each case names its own source.
    """
    return [_run(check) for check in (load_checks() if checks is None else checks)]


def _function(name: str) -> Callable[..., Any]:
    module, _, attribute = name.rpartition(".")
    if not module.startswith("witnessmark.calc."):
        raise BadCheck(f"{name} is no calculation")
    return cast("Callable[..., Any]", getattr(import_module(module), attribute))


def _given(key: str, value: Any) -> Any:
    if key.endswith("_mm") and isinstance(value, str):
        from witnessmark.calc.units import parse_length

        return parse_length(value).mm
    return value


def _run(check: Check) -> CheckResult:
    try:
        answer = _function(check.function)(**{key: _given(key, value) for key, value in check.given.items()})
        got = {name: _pick(answer, name) for name in check.expect}
    except Exception as error:  # A broken function must show as a failed case, not end the run.
        return CheckResult(check, False, {}, f"{type(error).__name__}: {error}")
    misses = [name for name, wanted in check.expect.items() if not _near(check, got[name], wanted)]
    words = ", ".join(f"{name} {_short(got[name])} for {check.expect[name]}" for name in check.expect)
    scaled = f" (times {check.scale:g})" if check.scale != 1 else ""
    return CheckResult(check, not misses, got, words + scaled)


def _pick(answer: Any, name: str) -> Any:
    if name == "value":
        return answer
    if isinstance(answer, tuple):
        return [getattr(item, name) for item in answer]
    return getattr(answer, name)


def _short(value: Any) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _near(check: Check, got: Any, wanted: Any) -> bool:
    if isinstance(got, bool) or not isinstance(got, int | float):
        return bool(got == wanted)
    if not math.isfinite(got):
        return False
    printed = str(wanted)
    decimals = len(printed.partition(".")[2])
    tolerance = check.tolerance if check.tolerance is not None else 0.5 * 10.0**-decimals
    return abs(got - float(printed) * check.scale) <= tolerance * check.scale * (1 + _HAIR) + _HAIR
