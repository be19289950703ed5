"""The order: every row's holes rolled up per size and stock length."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from witnessmark.calc.fasteners.families import size_key
from witnessmark.calc.fasteners.spares import ServiceLevel, ServiceSpares, service_spares
from witnessmark.calc.working import Answer, working


@dataclass(frozen=True)
class OrderRow:
    """One row of holes that waits for a size in a stock length."""

    row: str
    code: str
    stock_label: str
    stock_mm: float
    holes: int


@dataclass(frozen=True)
class SparesRule:
    """Spares beside the holes: a percentage, at least a number. Common practice, no source."""

    percent: float = 10.0
    least: int = 10

    def spares(self, holes: int) -> int:
        """Return the spares for a count of holes.

        Parameters
        ----------
        holes : int
            Holes to fill. [-]

        Returns
        -------
        int
            Percentage rounded up, at least the least; none for no holes.

        Raises
        ------
        ValueError
            A negative count or rule.

        Examples
        --------
        >>> SparesRule().spares(421)
        43

        References
        ----------
        spares-practice
        """
        if holes < 0 or self.percent < 0 or self.least < 0 or not math.isfinite(self.percent):
            raise ValueError("holes and spares are not negative")
        if holes == 0:
            return 0
        return max(math.ceil(round(holes * self.percent / 100, 6)), self.least)


@dataclass(frozen=True)
class OrderLine(Answer):
    """One size in one stock length: what the holes need and what to order."""

    code: str
    stock_label: str
    stock_mm: float
    holes: int
    spares: int
    wanted: int
    pack: int
    minimum_run: int
    count: int
    rows: tuple[str, ...]
    service: ServiceSpares | None = None


@dataclass
class _Group:
    code: str
    stock_label: str
    stock_mm: float
    parts: list[tuple[str, int]] = field(default_factory=list)


def roll_up(
    rows: Sequence[OrderRow],
    spares: SparesRule | ServiceLevel = SparesRule(),
    packs: Mapping[str, int] | None = None,
    minimum_runs: Mapping[str, int] | None = None,
    line_runs: Mapping[tuple[str, float], int] | None = None,
) -> tuple[OrderLine, ...]:
    """Add up rows of holes into order lines, one a size and stock length.

    Parameters
    ----------
    rows : sequence of OrderRow
        Rows with holes to fill. [-]
    spares : SparesRule or ServiceLevel
        Spares beside the holes: by thumb, or by the chance of running short. [-]
    packs : mapping or None
        Pieces a pack by code; 1 where a code is not named. [-]
    minimum_runs : mapping or None
        Least count a line by code; none where a code is not named. [-]
    line_runs : mapping or None
        Least count of one line by code and stock length in mm, where a seller's least mass asks for it. [-]

    Returns
    -------
    tuple of OrderLine
        By code, then by length. A line without holes is left out.

    Raises
    ------
    ValueError
        A negative count, a pack below 1, or one label with two lengths.
    UnknownSize
        A row without a code.

    Notes
    -----
    Sizes are matched by code and stock label, never by a figure in mm. The order of rounding: spares, then the least
    run, then whole packs.

    Examples
    --------
    >>> rows = [OrderRow("HB-1", "VN11-3.0", "7 mm", 7.0, 40), OrderRow("HB-2", "vn11-3.0", "7 mm", 7.0, 42)]
    >>> [(line.holes, line.spares, line.count) for line in roll_up(rows, packs={"VN11-3.0": 50})]
    [(82, 10, 100)]

    References
    ----------
    spares-practice
    """
    by_pack = {size_key(code): n for code, n in (packs or {}).items()}
    by_run = {size_key(code): n for code, n in (minimum_runs or {}).items()}
    by_line = {(size_key(code), length): n for (code, length), n in (line_runs or {}).items()}
    if any(n < 1 for n in by_pack.values()) or any(n < 0 for n in (*by_run.values(), *by_line.values())):
        raise ValueError("a pack holds at least 1 and a least run is not negative")
    groups: dict[tuple[str, str], _Group] = {}
    for row in rows:
        if row.holes < 0:
            raise ValueError(f"row {row.row} has {row.holes} holes")
        group = groups.setdefault(
            (size_key(row.code), row.stock_label), _Group(row.code, row.stock_label, row.stock_mm)
        )
        if group.stock_mm != row.stock_mm:
            raise ValueError(f"{row.code} {row.stock_label} stands for {group.stock_mm} mm and for {row.stock_mm} mm")
        group.parts.append((row.row, row.holes))
    lines = [
        _line(group, spares, by_pack.get(key, 1), max(by_run.get(key, 0), by_line.get((key, group.stock_mm), 0)))
        for (key, _), group in groups.items()
        if sum(holes for _, holes in group.parts)
    ]
    return tuple(sorted(lines, key=lambda line: (size_key(line.code), line.stock_mm, line.stock_label)))


def _line(group: _Group, rule: SparesRule | ServiceLevel, pack: int, minimum_run: int) -> OrderLine:
    holes = sum(count for _, count in group.parts)
    service = None
    if isinstance(rule, SparesRule):
        spare, said = rule.spares(holes), f"{rule.percent:g} %, at least {rule.least}"
    else:
        service = service_spares(holes, rule.used, rule.short_at_most, SparesRule().spares(holes), rule.lead)
        spare, said = service.spares, f"fewest with a chance of running short of at most {rule.short_at_most:g}"
    wanted = holes + spare
    count = math.ceil(max(wanted, minimum_run) / pack) * pack
    cautions: tuple[str, ...] = ()
    if count > wanted:
        why = "the least run" if minimum_run > wanted else "whole packs"
        cautions = (f"{count - wanted} more than wanted, because of {why}.",)
    figures: list[tuple[str, float | int | str, str, str]] = [
        (f"holes, {name}", number, "-", "row") for name, number in group.parts if number
    ]
    figures += [
        ("holes", holes, "-", "sum"),
        ("spares", spare, "-", said),
        ("wanted", wanted, "-", "holes + spares"),
        ("least run", minimum_run, "-", "vendor"),
        ("pack", pack, "-", "vendor"),
        ("order", count, "-", "rounded up to whole packs"),
    ]
    if service is not None:
        figures += [(name, value, unit, why) for name, value, unit, why in service.chances()]
        cautions += service.working.cautions
    return OrderLine(
        working=working(
            "order = (holes + spares, at least the least run) rounded up to whole packs",
            figures,
            ("spares-practice",) if service is None else ("beta-binomial", "spares-practice"),
            cautions,
            "Only rows that were looked at; a row not looked at is not in the count.",
        ),
        code=group.code,
        stock_label=group.stock_label,
        stock_mm=group.stock_mm,
        holes=holes,
        spares=spare,
        wanted=wanted,
        pack=pack,
        minimum_run=minimum_run,
        count=count,
        rows=tuple(name for name, number in group.parts if number),
        service=service,
    )
