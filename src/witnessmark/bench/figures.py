"""What a figure is, how it is registered, found and run."""

import importlib
import pkgutil
import sys
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any, Literal

Sense = Literal["<=", ">="]
Measure = Callable[[bool], "float | tuple[float, str]"]
SEED = 20260512


class NotMeasured(Exception):
    """What the figure is measured on is not here; the message says what and where it is looked for."""


@dataclass(frozen=True)
class Figure:
    """One measured figure beside its goal. A missed goal is said, not raised; without its files it has no value."""

    name: str
    value: float | None
    unit: str
    goal: float
    sense: Sense
    baseline: float | None
    note: str

    @property
    def met(self) -> bool:
        """Whether the goal is reached."""
        if self.value is None:
            return False
        return self.value <= self.goal if self.sense == "<=" else self.value >= self.goal

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON."""
        return {**asdict(self), "met": self.met}


@dataclass(frozen=True)
class Registered:
    """A figure that can be measured."""

    name: str
    unit: str
    goal: float
    sense: Sense
    baseline: float | None
    measure: Measure


_registered: dict[str, Registered] = {}


def figure(
    name: str, *, unit: str, goal: float, sense: Sense = "<=", baseline: float | None = None
) -> Callable[[Measure], Measure]:
    """Register a function as the figure `part.what`.

    The function takes `full` (True: everything, False: the fixed sample) and returns the value, or the value and a note.
    The baseline is what the first version of the code, or the plain way of doing it, measured.
    """
    if "." not in name:
        raise ValueError(f"a figure is named part.what, not {name!r}")

    def register(measure: Measure) -> Measure:
        if name in _registered and _registered[name].measure.__qualname__ != measure.__qualname__:
            raise ValueError(f"figure {name} is registered twice")
        _registered[name] = Registered(name, unit, goal, sense, baseline, measure)
        return measure

    return register


def discover() -> dict[str, Registered]:
    """Import every module beside this one and return all figures by name."""
    package = importlib.import_module("witnessmark.bench")
    for module in pkgutil.iter_modules(package.__path__):
        importlib.import_module(f"witnessmark.bench.{module.name}")
    return dict(sorted(_registered.items()))


def chosen(name: str | None) -> list[Registered]:
    """Return all figures, those of one part (`road`), or one (`road.second_start_s`)."""
    return [f for f in discover().values() if name is None or f.name == name or f.name.startswith(f"{name}.")]


def measure(registered: Registered, *, full: bool) -> Figure:
    """Run one figure; progress goes to stderr, for stdout may be JSON."""
    print(f"measuring {registered.name} ...", file=sys.stderr, flush=True)
    r = registered
    try:
        told = registered.measure(full)
    except NotMeasured as missing:
        return Figure(r.name, None, r.unit, r.goal, r.sense, r.baseline, f"not measured: {missing}")
    value, note = told if isinstance(told, tuple) else (told, "")
    return Figure(r.name, round(value, 4), r.unit, r.goal, r.sense, r.baseline, note)


def least_cpu_s(work: Callable[[], object], *, times: int = 5) -> float:
    """Return the least CPU time of several runs: what the work costs when nothing disturbs it."""
    least = float("inf")
    for _ in range(times):
        before = time.process_time()
        work()
        least = min(least, time.process_time() - before)
    return least
