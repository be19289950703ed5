"""The plan that the worker found, as it is stored: whether the record is still the one it was made for, how it goes on."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from witnessmark.calc.plan.calendars import DAY, Shop
from witnessmark.calc.plan.jobs import Network
from witnessmark.calc.plan.yesterday import Course, Wishes, carried_on
from witnessmark.records.models import Aircraft, Answer

KIND = "plan order"


def inputs_of(network: Network, shop: Shop) -> dict[str, Any]:
    """What a plan rests on: the day, and the jobs, links, learned times, people and benches as one hash."""
    # A set has another order in every process; the worker and the screens must come to the same hash.
    said = json.dumps(asdict(shop), default=lambda one: sorted(one) if isinstance(one, frozenset) else str(one))
    whole = repr((network.jobs, network.links, said)).encode()
    return {
        "today": shop.today.isoformat(),
        "jobs": len(network.jobs),
        "sha256": hashlib.sha256(whole).hexdigest(),
    }


def newest_for(kind: str, aircraft: Aircraft, **inputs: str) -> Answer | None:
    """The answer to the record as it is now, by the first of these inputs that any was made from; else the newest."""
    stored = Answer.objects.filter(kind=kind, subject=str(aircraft.pk)).order_by("-id")
    newest = stored.first()
    for name, value in inputs.items():
        if newest is None or newest.inputs.get(name) == value:
            return newest
        if fits := stored.filter(**{f"inputs__{name}": value}).first():
            return fits
    return newest


@dataclass(frozen=True)
class Stored:
    """The last plan that was found. `least`: the end that no plan can come before, in quarter-hours from its day."""

    made_on: date
    fresh: bool
    course: Course
    starts: Mapping[str, int]
    people: Mapping[str, str]
    least: int
    # Jobs whose days no plan can keep together.
    cannot_be_kept: tuple[str, ...] = ()

    def wishes(self, shop: Shop) -> Wishes:
        """What the next plan is held to: few changes from this one, and continuous work for who wants it."""
        gone = (shop.today - self.made_on).days * DAY
        return Wishes(
            {key: start - gone for key, start in self.starts.items()},
            self.people,
            continuous=continuous(shop),
            order=self.course.order,
        )

    def go_on(self, network: Network, shop: Shop) -> Course:
        """How the plan is laid now: as it was found, or carried on where the record has changed since."""
        return self.course if self.fresh else carried_on(network, shop, self.wishes(shop))


def continuous(shop: Shop) -> frozenset[str]:
    """Who is kept in work without gaps between his first job and his last, here or outside."""
    return shop.continuous_vendors | {person.name for person in shop.people if person.continuous}


def stored_plan(aircraft: Aircraft, network: Network, shop: Shop) -> Stored | None:
    """The plan found for the record as it is, or the last one before; None where none was found yet."""
    sha256 = inputs_of(network, shop)["sha256"]
    answer = newest_for(KIND, aircraft, sha256=sha256)
    if answer is None or "starts" not in answer.result:
        return None
    told = answer.result
    return Stored(
        date.fromisoformat(answer.inputs["today"]),
        answer.inputs.get("sha256") == sha256,
        Course(tuple(told["order"]), tuple(map(_pair, told["held"])), tuple(map(_pair, told["given"]))),
        told["starts"],
        told["people"],
        told["least"],
        tuple(told.get("cannot_be_kept", ())),
    )


def _pair(row: list[Any]) -> tuple[str, Any]:
    return row[0], row[1]
