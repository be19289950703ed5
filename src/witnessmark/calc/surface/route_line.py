"""A route as the rules see it: its processes in one line, what is known of the part, and the times of its steps."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from witnessmark.calc.surface.processes import FASTENER_LIMIT_MPA, PART_LIMIT_MPA, is_steel, processes_of

CRACK_TESTS = ("penetrant", "magnetic particle", "other test", "crack test")
STRIPS = ("strip paint", "strip plate")
COATS = ("plate", "conversion coat", "anodise", "prime", "paint")
_ALUMINIUM = re.compile(r"alumin|\bal\b|dural|light alloy|\b(?:2017|2024|5052|6061|7075)\b|\b(?:17|24)s")
_MAGNESIUM = re.compile(r"magnesium|\bmg\b|elektron|\baz\d\d")
_WOOD = re.compile(r"wood|spruce|\bply|birch|\bash\b|timber")
_THREADED = re.compile(r"\b(?:bolt|screw|stud|nut|threaded)s?\b")


@dataclass(frozen=True)
class RouteFacts:
    """What the record knows of a part beside the names of its steps; None where it knows nothing."""

    documented: bool | None = None
    identified: bool | None = None
    bushes_in: bool | None = None
    steel_fasteners_in: bool | None = None
    threads_or_blind_holes: bool | None = None
    worked_after_hardening: bool | None = None
    plate_rejected: bool = False
    dissimilar_joint: bool = False
    arid_store: bool = False
    high_stressed: bool = False
    control_surface: bool = False
    engineering_authorised: bool = False
    coat: str = ""
    coat_mm: float | None = None


@dataclass(frozen=True)
class StepTime:
    """When a step began and ended, in hours from any one moment; None where nobody wrote it down."""

    starts_h: float | None = None
    ends_h: float | None = None


@dataclass(frozen=True)
class Event:
    """One process of one step."""

    at: int
    step: int
    process: str


Found = tuple[str, bool, str, tuple[int, ...]]
UNTIMED = StepTime()


class RouteLine:
    """The processes of a route in one line, with the number of the step that names each."""

    def __init__(
        self,
        steps: Sequence[str],
        material: str,
        strength_mpa: float | None,
        facts: RouteFacts,
        times: Mapping[int, StepTime],
    ) -> None:
        flat = [(number, name) for number, step in enumerate(steps, start=1) for name in processes_of(step)]
        self.events = tuple(Event(at, number, name) for at, (number, name) in enumerate(flat))
        self.names = tuple(step.lower() for step in steps)
        self.text = " ".join(self.names)
        plain = material.lower()
        self.steel = is_steel(plain)
        self.aluminium = bool(_ALUMINIUM.search(plain))
        self.magnesium = bool(_MAGNESIUM.search(plain))
        self.wood = bool(_WOOD.search(plain))
        self.strength_mpa = strength_mpa
        limit = FASTENER_LIMIT_MPA if _THREADED.search(plain) else PART_LIMIT_MPA
        self.unknown = strength_mpa is None
        self.hardened = strength_mpa is not None and strength_mpa >= limit
        self.facts = facts
        self.times = times
        self._at: dict[str, tuple[Event, ...]] = {}
        for event in self.events:
            self._at[event.process] = (*self._at.get(event.process, ()), event)

    def all(self, *names: str) -> tuple[Event, ...]:
        """Every event of these processes, in order."""
        if len(names) == 1:
            return self._at.get(names[0], ())
        return tuple(sorted((e for name in names for e in self._at.get(name, ())), key=lambda e: e.at))

    def after(self, event: Event, *names: str) -> Event | None:
        """The first of these after the event."""
        return next((e for e in self.all(*names) if e.at > event.at), None)

    def before(self, event: Event, *names: str) -> Event | None:
        """The first of these, where it stands before the event."""
        return next((e for e in self.all(*names) if e.at < event.at), None)

    def last_before(self, event: Event, *names: str) -> Event | None:
        """The nearest of these before the event."""
        return next((e for e in reversed(self.all(*names)) if e.at < event.at), None)

    def between(self, first: Event, last: Event, *names: str) -> bool:
        """Whether one of these stands between two events."""
        return any(first.at < e.at < last.at for e in self.all(*names))

    def name(self, event: Event) -> str:
        """The words of the event's step."""
        return self.names[event.step - 1]

    def time(self, event: Event) -> StepTime:
        """When the event's step ran."""
        return self.times.get(event.step, UNTIMED)

    def gap_h(self, first: Event, last: Event, from_start: bool = False) -> float | None:
        """Hours from the end (or start) of one step to the start of another; None where a time is missing."""
        began = self.time(first).starts_h if from_start else self.time(first).ends_h
        ended = self.time(last).starts_h
        return None if began is None or ended is None else ended - began

    def lasted_h(self, event: Event) -> float | None:
        """How long a step took; None where a time is missing."""
        time = self.time(event)
        return None if time.starts_h is None or time.ends_h is None else time.ends_h - time.starts_h

    def magnetic(self) -> tuple[tuple[Event, bool], ...]:
        """Magnetic particle tests, and crack tests of steel that do not name their method."""
        sure = [(e, True) for e in self.all("magnetic particle")]
        return tuple(sure + [(e, False) for e in self._unnamed() if self.steel])

    def penetrant(self) -> tuple[tuple[Event, bool], ...]:
        """Penetrant tests, and crack tests of other metals that do not name their method."""
        sure = [(e, True) for e in self.all("penetrant")]
        return tuple(sure + [(e, False) for e in self._unnamed() if not self.steel])

    def _unnamed(self) -> tuple[Event, ...]:
        with_method = {e.step for e in self.all("penetrant", "magnetic particle", "other test")}
        return tuple(e for e in self.all("crack test") if e.step not in with_method)
