"""The plan as it is read: the next two weeks person by person, what is with vendors meanwhile, then month by month."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from witnessmark.records.lookups.plan import Plan, PlanLine
from witnessmark.records.models import Person

SOON_DAYS = 14


@dataclass(frozen=True)
class Bench:
    """What one person does in the next two weeks."""

    person: Person
    lines: tuple[PlanLine, ...]


@dataclass(frozen=True)
class Month:
    """What begins in one month, after the next two weeks."""

    first: date
    lines: tuple[PlanLine, ...]

    @property
    def key(self) -> str:
        """The month as an address writes it."""
        return f"{self.first:%Y-%m}"


@dataclass(frozen=True)
class Pages:
    """Every line of the plan, once. `marks`: moments at which nobody works."""

    until: date
    benches: tuple[Bench, ...]
    outside: tuple[PlanLine, ...]
    marks: tuple[PlanLine, ...]
    months: tuple[Month, ...]


def pages_of(plan: Plan, lines: Sequence[PlanLine], first: Person | None = None) -> Pages:
    """Lay the lines out; `first` is whose bench stands first, then the others as they are in the shop."""
    after = plan.shop.today + timedelta(days=SOON_DAYS)
    soon = [line for line in lines if line.starts_on < after]
    people = sorted(plan.people, key=lambda person: first is None or person.pk != first.pk)
    benches = [Bench(person, tuple(line for line in soon if line.person == person.name)) for person in people]
    months: dict[date, list[PlanLine]] = {}
    for line in lines:
        if line.starts_on >= after:
            months.setdefault(line.starts_on.replace(day=1), []).append(line)
    return Pages(
        after - timedelta(days=1),
        tuple(bench for bench in benches if bench.lines),
        tuple(line for line in soon if line.vendor),
        tuple(line for line in soon if not (line.vendor or line.person)),
        tuple(Month(month, tuple(those)) for month, those in sorted(months.items())),
    )
