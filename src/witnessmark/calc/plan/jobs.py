"""A job, a link between two jobs, the network of them, and the circle that a network must not have."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from heapq import heapify, heappop, heappush

from witnessmark.calc.plan.lead_times import NOTHING, Triple, Wait, days_by


@dataclass(frozen=True)
class Job:
    """One piece of work. Outside jobs have a vendor and working days instead of a craft and hours."""

    key: str
    what: str
    craft: str = ""
    hours: Triple = NOTHING
    vendor: str = ""
    days: Triple = NOTHING
    bench: str = ""
    zone: str = ""
    place: str = ""
    piece: str = ""
    priority: int = 0
    person: str = ""
    started: bool = False
    away: bool = False
    release: date | None = None
    caution: str = ""
    due: date | None = None
    # The day that somebody fixed for its start; it then goes before what nobody fixed.
    on: date | None = None
    # What the vendor's deliveries taught of how long it takes; `days` is then read from it.
    wait: Wait | None = None

    def days_by(self, chance: float) -> int:
        """Whole working days by which an outside job is back with this chance."""
        return self.wait.whole_days(chance) if self.wait else days_by(self.days, chance)

    @property
    def is_outside(self) -> bool:
        """True where it needs no people of the shop."""
        return bool(self.vendor)

    @property
    def is_mark(self) -> bool:
        """True where nobody works: a moment that others wait for, such as the start of a cure."""
        return not (self.vendor or self.craft or self.person or self.hours.most)


@dataclass(frozen=True)
class Link:
    """The one must end, and its cure run out, before the other starts; with a greatest lag, no later than that."""

    before: str
    after: str
    min_lag_hours: float = 0.0
    max_lag_hours: float | None = None
    # Somebody said so of these two; the record does not ask for it.
    by_hand: bool = False


class Circle(ValueError):
    """Jobs that wait for one another in a ring."""

    def __init__(self, keys: tuple[str, ...], names: tuple[str, ...]) -> None:
        self.keys = keys
        self.sentence = " waits for ".join((*names, names[0])) + "."
        super().__init__(self.sentence)


@dataclass(frozen=True)
class Network:
    """All jobs that are not done, and what each waits for. `unknown_after`: hand-written keys that no job has."""

    jobs: tuple[Job, ...]
    links: tuple[Link, ...]
    unknown_after: tuple[tuple[str, str], ...] = ()

    @cached_property
    def by_key(self) -> dict[str, Job]:
        """Jobs by key."""
        return {job.key: job for job in self.jobs}

    @cached_property
    def links_in(self) -> dict[str, list[Link]]:
        """Links by the job that waits."""
        found: dict[str, list[Link]] = defaultdict(list)
        for link in self.links:
            found[link.after].append(link)
        return dict(found)

    @cached_property
    def links_out(self) -> dict[str, list[Link]]:
        """Links by the job that is waited for."""
        found: dict[str, list[Link]] = defaultdict(list)
        for link in self.links:
            found[link.before].append(link)
        return dict(found)

    @cached_property
    def in_order(self) -> tuple[str, ...]:
        """Keys, each after all that it waits for.

        Raises
        ------
        Circle
            Some jobs wait for one another.
        """
        left = {job.key: len(self.links_in.get(job.key, ())) for job in self.jobs}
        ready = [key for key, count in left.items() if count == 0]
        heapify(ready)
        order: list[str] = []
        while ready:
            key = heappop(ready)
            order.append(key)
            for link in self.links_out.get(key, ()):
                left[link.after] -= 1
                if left[link.after] == 0:
                    heappush(ready, link.after)
        if len(order) < len(left):
            raise self._circle(set(left) - set(order))
        return tuple(order)

    @cached_property
    def for_fixed_days(self) -> frozenset[str]:
        """Keys of the jobs that have a fixed day, and of all that they wait for."""
        front = [job.key for job in self.jobs if job.on is not None]
        found = set(front)
        while front:
            new = [link.before for link in self.links_in.get(front.pop(), ()) if link.before not in found]
            found.update(new)
            front += new
        return frozenset(found)

    def _circle(self, stuck: set[str]) -> Circle:
        # Every stuck job waits for another stuck one, so going back must meet a job again.
        walk: list[str] = []
        key = min(stuck)
        while key not in walk:
            walk.append(key)
            key = min(link.before for link in self.links_in[key] if link.before in stuck)
        ring = tuple(walk[walk.index(key) :])
        return Circle(ring, tuple(self.by_key[k].what.rstrip(".") for k in ring))

    def freed_by(self, key: str) -> frozenset[str]:
        """Keys of all jobs that wait for this one, directly or through others."""
        found: set[str] = set()
        front = [key]
        while front:
            for link in self.links_out.get(front.pop(), ()):
                if link.after not in found:
                    found.add(link.after)
                    front.append(link.after)
        return frozenset(found)


# Which link of a ring gives way first: what somebody wrote, then what a closing bay asks for, then the record's own order.
def _loosest(link: Link) -> tuple[bool, int, str, str]:
    after = link.after.split(":", 1)[0]
    return (not link.by_hand, {"hand": 0, "seam": 1, "order": 2}.get(after, 3), link.before, link.after)


def without_circles(network: Network) -> tuple[Network, tuple[str, ...]]:
    """Return the network with each ring of jobs opened at one link, and a sentence for each.

    Parameters
    ----------
    network : Network
        Jobs and links; rings allowed. [-]

    Returns
    -------
    tuple of Network and tuple of str
        The network in which nothing waits for itself, and what was found: "A waits for B waits for A."

    Raises
    ------
    KeyError
        A link names a job that is not there.

    Notes
    -----
    One link of each ring is left out, none outside a ring. What somebody tied by hand gives way first, then a link into
    a job written by hand, then one into a row, then any other; of several alike the first by its keys.

    Examples
    --------
    >>> a, b, c = Job("hand:a:do", "Fit A."), Job("hand:b:do", "Fit B."), Job("hand:c:do", "Fit C.")
    >>> ring = Network((a, b, c), (Link(a.key, b.key), Link(b.key, a.key), Link(b.key, c.key)))
    >>> opened, said = without_circles(ring)
    >>> said, len(opened.links)
    (('Fit A waits for Fit B waits for Fit A.',), 2)

    References
    ----------
    none: counting only.
    """
    said: list[str] = []
    while True:
        try:
            _ = network.in_order
        except Circle as ring:
            said.append(ring.sentence)
            # The ring reads: each job waits for the next one.
            around = {(after, before) for before, after in zip(ring.keys, (*ring.keys[1:], ring.keys[0]), strict=True)}
            given = min((link for link in network.links if (link.before, link.after) in around), key=_loosest)
            kept = tuple(link for link in network.links if link is not given)
            network = Network(network.jobs, kept, network.unknown_after)
        else:
            return network, tuple(said)
