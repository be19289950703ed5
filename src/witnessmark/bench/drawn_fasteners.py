"""Fasteners as they come out of an old aircraft, drawn from the published tables alone.

This shares no code and no constants with what identifies them: it reads the printed figures of the tables and makes each
piece in its own way (how it was made, drilled, driven, worn, painted), then measures it with the noise of the tools.
"""

import csv
import math
import random
from dataclasses import dataclass, field
from importlib.resources import files

INCH = 25.4
NOISE = {"calliper": 0.03, "hole": 0.05, "angle": 2.0}
BA = {0: (6.0, 1.0), 1: (5.3, 0.9), 2: (4.7, 0.81), 3: (4.1, 0.73), 4: (3.6, 0.66), 5: (3.2, 0.59), 6: (2.8, 0.53), 7: (2.5, 0.48), 8: (2.2, 0.43), 9: (1.9, 0.39), 10: (1.7, 0.35)}  # fmt: skip


@dataclass(frozen=True)
class Printed:
    """One row of a printed table."""

    code: str
    family: str
    head: str
    shank: float
    over: float | None = None
    degrees: float | None = None
    high: float | None = None
    drilled: float | None = None
    least: float | None = None
    pitch: float | None = None
    flanks: float | None = None
    flats: float | None = None
    inch: bool = False


@dataclass
class Piece:
    """One piece: what it truly is, and what each tool would read on it (None where it has no such thing)."""

    truth: str | None
    true: dict[str, float | str]
    first: tuple[str, str]
    painted: bool
    chance: random.Random = field(repr=False)

    def measure(self, what: str) -> float | str | None:
        """Read a figure with the noise of its tool."""
        true = self.true.get(what)
        if true is None or isinstance(true, str):
            return true
        if what == "pitch_mm":
            return (10 * true + self.chance.gauss(0, NOISE["calliper"])) / 10
        tool = "hole" if what == "hole_mm" else "angle" if what.endswith("_deg") else "calliper"
        paint = self.chance.uniform(0.02, 0.25) if what == "head_mm" and self.painted else 0.0
        return true + paint + self.chance.gauss(0, NOISE[tool])


def _rows(name: str) -> list[dict[str, str]]:
    text = (files("witnessmark.calc") / "data" / f"{name}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def _number(text: str) -> float | None:
    return float(text) if text else None


def printed_sizes() -> list[Printed]:
    """Read every printed size of every family."""
    made: list[Printed] = []
    for row in _rows("rivets_metric"):
        norm = row["standard"].split(" / ")[0]
        head = {"countersunk": "flush", "universal": "universal"}.get(row["head"], "round")
        d, over = float(row["d_mm"]), float(row["head_dia_mm"])
        deg, high, least = (_number(row[c]) for c in ("csk_angle_deg", "head_height_k_mm", "shank_min_mm"))
        made.append(Printed(f"{norm} {d:g}", norm, head, d, over, deg, high, None, least))
    holes = {row["d_in"][:6]: float(row["nominal_hole_in"]) * INCH for row in _rows("rivet_holes")}
    for row in _rows("rivets_us_inch"):
        d_in, dash = float(row["d_in"]), int(row["dash"])
        top, bottom = (dash, 32)
        while top % 2 == 0:
            top, bottom = top // 2, bottom // 2
        for head, column, name in (("flush", "csk100", "flush 100"), ("universal", "universal", "universal")):
            over = float(row[f"{column}_head_dia_in"]) * INCH
            high = float(row[f"{column}_head_height_in"]) * INCH
            deg = 100.0 if head == "flush" else None
            drilled = holes.get(row["d_in"][:6])
            code = f"{top}/{bottom} {name}"
            made.append(Printed(code, f"inch {name}", head, d_in * INCH, over, deg, high, drilled, inch=True))
    for row in _rows("rivets_by_rule"):
        for size in row["sizes"].split():
            parts = [float(p) for p in size.split("/")]
            inch = row["unit"] == "in"
            d = (parts[0] / parts[1] if len(parts) == 2 else parts[0]) * (INCH if inch else 1)
            dome = float(row["dome_over_d"]) * d
            deg, over = float(row["csk_angle_deg"]), float(row["head_over_d"]) * d
            high = (over - d) / 2 / math.tan(deg * math.pi / 360) + dome
            made.append(Printed(f"{row['code']} {size}", row["family"], row["head"], d, over, deg, high, inch=inch))
    flats = {(row["system"], row["size"]): float(row["across_flats_mm"]) for row in _rows("hexagons")}
    for row in _rows("threads_metric"):
        hexagon = flats.get(("metric", row["size"].partition("x")[0]))
        series = "metric coarse" if "coarse" in row["series"] else "metric fine"
        made.append(
            Printed(
                row["size"], series, "thread", float(row["d_mm"]), pitch=float(row["P_mm"]), flanks=60, flats=hexagon
            )
        )
    for row in _rows("threads_unf"):
        d, pitch, hexagon = float(row["major_in"]) * INCH, INCH / float(row["tpi"]), flats.get(("UNF", row["size"]))
        code = f"{row['size']}-{row['tpi']} UNF"
        made.append(Printed(code, "UNF", "thread", d, pitch=pitch, flanks=60, flats=hexagon, inch=True))
    for row in _rows("threads_memory"):
        d, pitch = float(row["major_in"]) * INCH, INCH / float(row["tpi"])
        hexagon = float(row["across_flats_in"]) * INCH if row["across_flats_in"] else None
        code, flanks = f"{row['size']}-{row['tpi']} {row['system']}", 60.0 if row["system"] == "UNC" else 55.0
        made.append(Printed(code, row["system"], "thread", d, pitch=pitch, flanks=flanks, flats=hexagon, inch=True))
    for number, (d, pitch) in BA.items():
        hexagon = flats.get(("BA", str(number)))
        made.append(Printed(f"{number} BA", "BA", "thread", d, pitch=pitch, flanks=47.5, flats=hexagon, inch=True))
    return made


def draw(count: int, seed: int, strangers: float = 0.03) -> list[Piece]:
    """Draw pieces: a family at random, a size of it at random, then what became of it; a few are of no family."""
    chance = random.Random(seed)  # noqa: S311 - a simulation that must come out the same each time
    sizes = printed_sizes()
    by_family: dict[str, list[Printed]] = {}
    for size in sizes:
        by_family.setdefault(size.family, []).append(size)
    families = sorted(by_family)
    pieces: list[Piece] = []
    while len(pieces) < count:
        if chance.random() < strangers:
            odd = _stranger(chance, sizes)
            pieces.append(_piece(odd, None, chance))
        else:
            size = chance.choice(by_family[chance.choice(families)])
            pieces.append(_piece(size, size.code, chance))
    return pieces


def _stranger(chance: random.Random, sizes: list[Printed]) -> Printed:
    """A rivet of an unknown norm: it differs from every printed size in something that can be measured."""
    while True:
        d, deg = chance.uniform(2.0, 7.0), chance.uniform(58, 125)
        over = d * chance.uniform(1.5, 2.3)
        near = any(
            size.over is not None
            and abs(size.shank - d) < 0.2
            and abs(size.over - over) < 0.4
            and (size.degrees is None or abs(size.degrees - deg) < 8)
            for size in sizes
        )
        if not near:
            high = (over - d) / 2 / math.tan(deg * math.pi / 360)
            return Printed("odd", "odd", "flush", d, over, deg, high)


def _piece(size: Printed, truth: str | None, chance: random.Random) -> Piece:
    true: dict[str, float | str] = {"form": size.head, "head_mark": "plain"}
    if chance.random() < 0.03 and size.head in ("flush", "domed"):
        true["form"] = "domed" if size.head == "flush" else "flush"  # worn flat, or dished by the set
    if size.pitch is not None and size.flanks is not None:
        true["shank_mm"] = size.shank - size.pitch * chance.uniform(0.03, 0.15)
        true["pitch_mm"] = size.pitch * (1 + chance.gauss(0, 0.0008))
        true["thread_deg"] = size.flanks + chance.uniform(-0.5, 0.5)
        true["magnet"] = "yes" if chance.random() < 0.85 else "no"
        if size.flats is not None and chance.random() < 0.8:
            true["across_flats_mm"] = size.flats - chance.uniform(0, 0.22)
        second = "across_flats_mm" if "across_flats_mm" in true else "pitch_mm"
        return Piece(truth, true, ("shank_mm", second), False, chance)
    assert size.over is not None
    if size.inch:
        bare = size.shank + chance.uniform(-0.001, 0.003) * INCH
    elif size.least is not None:
        bare = chance.uniform(size.least, size.shank)
    else:
        bare = size.shank - chance.uniform(0, 0.03) * size.shank * 0.8
    usual = size.drilled if size.drilled is not None else size.shank * 1.015 + 0.05
    hole = max(usual + chance.uniform(-0.01, 0.05) + abs(chance.gauss(0, 0.05)), bare)
    grown = size.over * chance.uniform(0.985, 1.015) + chance.uniform(-0.03, 0.03)
    true["head_mm"] = grown
    lift = (grown - size.over) / 2
    if size.degrees is not None:
        deg = size.degrees + chance.uniform(-2, 2)
        true["head_deg"] = deg
        lift /= math.tan(deg * math.pi / 360)
    if size.high is not None:
        true["head_height_mm"] = max(0.1, size.high + lift + chance.uniform(-0.03, 0.04))
    true["magnet"] = "yes" if chance.random() < 0.06 else "no"
    if chance.random() < 0.15:
        true["shank_mm"] = bare
        thick = "shank_mm"
    else:
        true["hole_mm"], true["driven_shank_mm"] = hole, hole - chance.uniform(0, 0.03)
        thick = chance.choice(("hole_mm", "driven_shank_mm"))
    return Piece(truth, true, (thick, "head_mm"), chance.random() < 0.08, chance)
