"""The last plan carried on: its order, what stays on its days, and who keeps the jobs of the next days."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from witnessmark.calc.plan.calendars import DAY, OPENING, Shop
from witnessmark.calc.plan.jobs import Network
from witnessmark.calc.plan.solve import Schedule, solve


@dataclass(frozen=True)
class Wishes:
    """What a plan is held to beside an early end. Weights are hours of the end that one of them is worth.

    `yesterday`: starts of the last plan, whose jobs of the next `steady_days` should stay where they are, with the same people.
    `order`: how that plan was laid; without it the jobs by their starts. `continuous`: people and vendors who should
    have no gaps between their first and their last job.
    """

    yesterday: Mapping[str, int] | None = None
    yesterday_people: Mapping[str, str] | None = None
    steady_days: int = 7
    moved_hours: float = 100.0
    late_hours: float = 24.0
    continuous: frozenset[str] = frozenset()
    gap_hours: float = 0.25
    order: tuple[str, ...] = ()


@dataclass(frozen=True)
class Course:
    """How a plan is laid: the order of the jobs, times before which some stay, and who keeps which job.

    The same course laid on the same jobs and people gives the same plan.
    """

    order: tuple[str, ...] = ()
    held: tuple[tuple[str, int], ...] = ()
    given: tuple[tuple[str, str], ...] = ()

    def lay(self, network: Network, shop: Shop) -> Schedule:
        """The plan: each job in its turn takes the earliest time that is free."""
        return solve(given_to(network, dict(self.given), shop), shop, self.order, dict(self.held))


def carried_on(network: Network, shop: Shop, wishes: Wishes) -> Course:
    """Return how yesterday's plan goes on with the jobs and people of today.

    Parameters
    ----------
    network : Network
        Jobs and links of today. [-]
    shop : Shop
        Today, people, benches. [-]
    wishes : Wishes
        Yesterday's plan. [-]

    Returns
    -------
    Course
        Without a plan of yesterday one that holds nothing, in the order of urgency.

    Raises
    ------
    Circle
        Jobs wait for one another.

    Notes
    -----
    What has its turn in the next days stays on its day and with whom it was given to, where he is still here.

    Examples
    --------
    >>> from datetime import date
    >>> from witnessmark.calc.plan.jobs import Job
    >>> network = Network((Job("a", "A."), Job("b", "B.")), ())
    >>> carried_on(network, Shop(date(2026, 5, 12), ()), Wishes({"b": 32, "a": 900})).held
    (('b', 32),)

    References
    ----------
    none: counting only.
    """
    old = wishes.yesterday or {}
    if not old:
        return Course()
    held = kept_back(network, wishes, shop)
    people = wishes.yesterday_people or {}
    order = merged(network, wishes.order or sorted(old, key=lambda key: (old[key], key)))
    return Course(tuple(order), tuple(held.items()), tuple((key, people[key]) for key in held if people.get(key)))


def given_to(network: Network, people: Mapping[str, str], shop: Shop) -> Network:
    """Return the network with jobs given to people, where they are still here and can do them.

    Parameters
    ----------
    network : Network
        Jobs and links. [-]
    people : mapping
        Name by key of a job. [-]
    shop : Shop
        Who is here. [-]

    Returns
    -------
    Network
        What is named already stays with whom it names.

    Raises
    ------
    none

    Notes
    -----
    Outside jobs are given to nobody.

    Examples
    --------
    >>> from datetime import date
    >>> given_to(Network((), ()), {}, Shop(date(2026, 5, 12), ())).jobs
    ()

    References
    ----------
    none: counting only.
    """
    if not people:
        return network
    can = {p.name: {craft.casefold() for craft in p.crafts} for p in shop.people if p.ever_works}
    jobs = []
    for job in network.jobs:
        name = people.get(job.key, "") if not (job.person or job.is_outside or job.is_mark) else ""
        able = name in can and (not job.craft or job.craft.casefold() in can[name])
        jobs.append(replace(job, person=name) if able else job)
    return Network(tuple(jobs), network.links, network.unknown_after)


def started_first(network: Network, order: Sequence[str]) -> list[str]:
    """Return the order with what is in work already before all else, then what is fixed to a day and what that waits for.

    Parameters
    ----------
    network : Network
        Jobs. [-]
    order : sequence of str
        Keys. [-]

    Returns
    -------
    list of str
        The same keys.

    Raises
    ------
    KeyError
        A key that the network does not have.

    Notes
    -----
    Work begun is not put aside for a better order; and a day that somebody fixed is only kept where its job has its turn
    before what could go on another day.

    Examples
    --------
    >>> from witnessmark.calc.plan.jobs import Job
    >>> started_first(Network((Job("a", "A."), Job("b", "B.", started=True)), ()), ["a", "b"])
    ['b', 'a']

    References
    ----------
    none: counting only.
    """
    fixed = network.for_fixed_days
    return sorted(order, key=lambda key: (not network.by_key[key].started, key not in fixed))


def kept_back(network: Network, wishes: Wishes, shop: Shop) -> dict[str, int]:
    """Return yesterday's starts of the next days: nothing is drawn forward there, for that moves other people's work.

    Parameters
    ----------
    network : Network
        Jobs and links. [-]
    wishes : Wishes
        Yesterday's plan. [-]
    shop : Shop
        Today. [-]

    Returns
    -------
    dict
        Key to time. [quarter-hours since midnight before today]

    Raises
    ------
    ValueError
        Jobs wait for one another.

    Notes
    -----
    Started jobs are left out, and those whose day somebody fixed, with what they wait for.

    Examples
    --------
    >>> from datetime import date
    >>> kept_back(Network((), ()), Wishes(), Shop(date(2026, 5, 12), ()))
    {}

    References
    ----------
    none: counting only.
    """
    old = wishes.yesterday or {}
    return {
        key: start
        for key, start in old.items()
        if key in network.by_key
        and OPENING <= start < wishes.steady_days * DAY
        and not (network.by_key[key].started or key in network.for_fixed_days)
    }


def merged(network: Network, old: Sequence[str]) -> list[str]:
    """Return yesterday's order with each new job before the first that waits for it, or at its urgency.

    Parameters
    ----------
    network : Network
        Jobs and links. [-]
    old : sequence of str
        Keys in yesterday's order. [-]

    Returns
    -------
    list of str
        Keys of the network.

    Raises
    ------
    ValueError
        Jobs wait for one another.

    Notes
    -----
    What is started comes first; a new job that nothing waits for comes last.

    Examples
    --------
    >>> from witnessmark.calc.plan.jobs import Job
    >>> merged(Network((Job("a", "A."), Job("b", "B.")), ()), ["b"])
    ['b', 'a']

    References
    ----------
    none: counting only.
    """
    known = {key: at for at, key in enumerate(old)}
    place = {key: float(known[key]) for key in known if key in network.by_key}
    for key in reversed(network.in_order):
        if key not in place:
            behind = [place[link.after] for link in network.links_out.get(key, ()) if link.after in place]
            place[key] = min(behind, default=float(len(old))) - 0.5
    return started_first(network, sorted(network.by_key, key=lambda key: (place[key], key)))
