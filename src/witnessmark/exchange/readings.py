"""Readings of loose pieces from a file: a CSV, or the JSON that a measured photograph gives."""

import csv
import io
import json
import re
from typing import Any

from witnessmark.calc.bags.features import FEATURES, MeasuredPiece, Reading, usual_sigma
from witnessmark.calc.bags.typed import typed_figure

_MOST = 20_000


class BadReadings(ValueError):
    """The file holds no readings, or a row that cannot be read: what was wrong and what to do."""


def read_readings(content: bytes, name: str) -> list[MeasuredPiece]:
    """Read measured pieces.

    A CSV has a column `item` and one a feature (`diameter_mm`, with `diameter_mm_u` for its uncertainty where it is
    known), or the columns item, what, value and uncertainty with one figure a row. JSON is a list of objects with `item`
    (or `id`) and `readings`: {feature: value, or {value, sigma}}; or that list under `pieces`.
    """
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadReadings(f"{name} is no text. Nothing was read. Save it as UTF-8.") from None
    if text.lstrip()[:1] in ("[", "{"):
        return _json(text, name)
    return _csv(text, name)


def _figure(what: str, typed: str, uncertainty: str, where: str) -> Reading:
    try:
        value, usual = typed_figure(what, typed), usual_sigma(what)
    except ValueError as why:
        raise BadReadings(f"{where}: {why} Nothing was read. Correct it and read the file again.") from None
    try:
        sigma = float(uncertainty.replace(",", ".")) if uncertainty.strip() else usual
    except ValueError:
        raise BadReadings(
            f"{where}: '{uncertainty.strip()[:20]}' is no uncertainty. Nothing was read. Write one like 0.02."
        ) from None
    if not 0 < sigma < 1e6:
        raise BadReadings(f"{where}: an uncertainty is above nought, not {uncertainty}. Nothing was read.")
    return Reading(value, sigma)


def _csv(text: str, name: str) -> list[MeasuredPiece]:
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    if not lines:
        raise BadReadings(f"{name} is empty. Nothing was read. It needs a column item and one a feature.")
    head = lines[0]
    mark = max(",;\t", key=head.count)
    rows = csv.DictReader(io.StringIO("\n".join(lines)), delimiter=mark)
    fields = [field.strip() for field in rows.fieldnames or ()]
    rows.fieldnames = fields
    long = {"what", "value"} <= set(fields)
    features = [field for field in fields if field in FEATURES]
    if "item" not in fields or not (long or features):
        raise BadReadings(
            f"{name} has the columns {', '.join(fields)[:120]}. Nothing was read. It needs item and features: "
            f"{', '.join(FEATURES)}."
        )
    found: dict[str, dict[str, Reading]] = {}
    for n, cells in enumerate(rows, start=2):
        row = {column: cell or "" for column, cell in cells.items() if isinstance(column, str)}
        item = row["item"].strip()
        if not item:
            raise BadReadings(f"{name}, row {n} has no item. Nothing was read. Number every piece.")
        figures = (
            [(row["what"], row["value"], row.get("uncertainty", ""))]
            if long
            else [(what, row[what], row.get(f"{what}_u", "")) for what in features]
        )
        for what, typed, uncertainty in figures:
            if not typed.strip():
                continue
            if what in found.setdefault(item, {}):
                raise BadReadings(f"{name}, row {n}: {what} of {item} stands there twice. Nothing was read.")
            found[item][what] = _figure(what.strip(), typed, uncertainty, f"{name}, row {n}, {what}")
        found.setdefault(item, {})
        if len(found) > _MOST:
            raise BadReadings(f"{name} has more than {_MOST} pieces. Nothing was read. Split it.")
    return [MeasuredPiece(item, figures) for item, figures in found.items()]


def _json(text: str, name: str) -> list[MeasuredPiece]:
    try:
        told: Any = json.loads(text)
    except json.JSONDecodeError as broken:
        raise BadReadings(
            f"{name} is no JSON: it breaks off in line {broken.lineno}, at character {broken.colno}. Nothing was read. "
            "Save it anew."
        ) from None
    except RecursionError:
        raise BadReadings(f"{name} is no JSON of readings: its brackets stand too deep. Nothing was read.") from None
    rows = told.get("pieces") if isinstance(told, dict) else told
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise BadReadings(f"{name} holds no list of pieces. Nothing was read.")
    made: dict[str, MeasuredPiece] = {}
    for n, row in enumerate(rows, start=1):
        item = re.sub(r"\s+", " ", str(row.get("item", row.get("id", n)))).strip()
        if item in made:
            raise BadReadings(f"{name}: piece {item} stands there twice. Nothing was read.")
        figures = row.get("readings")
        if not isinstance(figures, dict):
            raise BadReadings(f"{name}: piece {item} has no readings. Nothing was read.")
        read = {}
        for what, told_value in figures.items():
            value: Any = told_value
            if what not in FEATURES:
                continue  # a photograph tells more than is matched on
            sigma = ""
            if isinstance(value, dict):
                value, sigma = value.get("value"), str(value.get("sigma", ""))
            if isinstance(value, bool) or not isinstance(value, int | float):
                raise BadReadings(f"{name}: {what} of piece {item} is no number. Nothing was read.")
            read[what] = _figure(what, f"{value:.6f}", sigma, f"{name}, piece {item}, {what}")
        made[item] = MeasuredPiece(item, read, looks=str(row.get("looks", "")), basket=str(row.get("basket", "")))
    return list(made.values())
