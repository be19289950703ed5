"""Printed tables: one CSV each, units in the column names, source and status at every row."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from witnessmark.calc.sources import STATUSES

_UNITS = {
    "mm": "mm", "in": "in", "in2": "in²", "mm2": "mm²", "um": "µm", "MPa": "MPa", "ksi": "ksi", "F": "°F",
    "C": "°C", "h": "h", "g": "g", "kg": "kg", "deg": "deg", "N": "N",
}  # fmt: skip


class OutsideTable(ValueError):
    """A value that the printed table does not hold: nothing is read beyond its edge."""


@dataclass(frozen=True)
class Table:
    """One table as printed."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[Mapping[str, str], ...]

    def heading(self, column: str) -> str:
        """Return a column's name with its unit, as printed above it.

        Parameters
        ----------
        column : str
            Column name of the file, such as `nominal_hole_mm`. [-]

        Returns
        -------
        str
            For example `nominal hole [mm]`.

        Raises
        ------
        OutsideTable
            The table has no such column.

        Examples
        --------
        >>> load_table("drills").heading("dia_mm")
        'dia [mm]'

        References
        ----------
        none: words only.
        """
        if column not in self.columns:
            raise OutsideTable(f"table {self.name} has no column {column!r}; it has {', '.join(self.columns)}")
        stem, _, last = column.rpartition("_")
        if stem and last in _UNITS:
            return f"{stem.replace('_', ' ')} [{_UNITS[last]}]"
        return column.replace("_", " ")

    def find(self, column: str, value: str) -> Mapping[str, str]:
        """Return the one row whose column holds the value, matched as text.

        Parameters
        ----------
        column : str
            Column to look in. [-]
        value : str
            Text to find. [-]

        Returns
        -------
        Mapping
            Column to cell.

        Raises
        ------
        OutsideTable
            No row, or no such column.

        Examples
        --------
        >>> load_table("drills").find("drill", "#30")["dia_in"]
        '0.1285'

        References
        ----------
        none: reads a printed table that names its own source.
        """
        self.heading(column)
        for row in self.rows:
            if row[column] == value:
                return row
        first, last = self.rows[0][column], self.rows[-1][column]
        raise OutsideTable(f"table {self.name} has no {self.heading(column)} {value!r}; it runs from {first} to {last}")


@cache
def load_table(name: str, sourced: bool = True) -> Table:
    """Read one table of `calc/data`.

    Parameters
    ----------
    name : str
        File name without `.csv`. [-]
    sourced : bool
        False for a list of words, which needs no source. [-]

    Returns
    -------
    Table
        Columns and rows.

    Raises
    ------
    OutsideTable
        No such table.
    ValueError
        A table without rows, or a row without source or a known status.

    Examples
    --------
    >>> load_table("rivet_holes").find("rivet", "5/32")["d_mm"]
    '3.969'

    References
    ----------
    none: each table names its own source at each row.
    """
    path = files("witnessmark.calc") / "data" / f"{name}.csv"
    if not path.is_file():
        raise OutsideTable(f"no table {name!r}")
    reader = csv.DictReader(path.read_text(encoding="utf-8").splitlines())
    columns = tuple(reader.fieldnames or ())
    rows = tuple(MappingProxyType({c: row[c] or "" for c in columns}) for row in reader)
    if not rows or (sourced and not {"source", "status"} <= set(columns)):
        raise ValueError(f"table {name} needs rows and the columns source and status")
    for number, row in enumerate(rows if sourced else (), start=1):
        if not row["source"] or row["status"] not in STATUSES:
            raise ValueError(f"table {name}, row {number}: source or status is missing")
    return Table(name, columns, rows)
