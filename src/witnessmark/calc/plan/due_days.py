"""Days that are written down and cannot all be kept: which are late in a plan, and which no plan can keep together."""

from __future__ import annotations

from dataclasses import replace

from witnessmark.calc.plan.calendars import DAY, Shop
from witnessmark.calc.plan.jobs import Network
from witnessmark.calc.plan.project import ALWAYS, Project
from witnessmark.calc.plan.solve import Schedule


def late_jobs(network: Network, schedule: Schedule) -> tuple[str, ...]:
    """Return the jobs that end after the day they are due.

    Parameters
    ----------
    network : Network
        Jobs with their days. [-]
    schedule : Schedule
        The plan. [-]

    Returns
    -------
    tuple of str
        Keys, the earliest day first.

    Raises
    ------
    KeyError
        The schedule holds a job that the network does not have.

    Notes
    -----
    A job is in time on its day.

    Examples
    --------
    >>> from datetime import date
    >>> late_jobs(Network((), ()), Schedule(date(2026, 5, 12), ()))
    ()

    References
    ----------
    none: counting only.
    """
    due = {entry.key: network.by_key[entry.key].due for entry in schedule.entries}
    late = [(day, entry.key) for entry in schedule.entries if (day := due[entry.key]) and entry.finish_date > day]
    return tuple(key for _, key in sorted(late))


def cannot_be_kept(network: Network, shop: Shop, schedule: Schedule, seconds: float = 4.0) -> tuple[str, ...]:
    """Return jobs whose days no plan can keep together, as few as were found.

    Parameters
    ----------
    network : Network
        Jobs and links. [-]
    shop : Shop
        Today, people, benches. [-]
    schedule : Schedule
        A plan of them. [-]
    seconds : float
        CPU time of one thread for each question. [s]

    Returns
    -------
    tuple of str
        Keys; none where all days can be kept, or where nothing was proved in time.

    Raises
    ------
    ValueError
        Jobs wait for one another.

    Notes
    -----
    Only what comes before those jobs is looked at, and who can be replaced by another is taken to be there always: what
    is impossible so is impossible. Each job is then left out in turn; what stays is needed for the proof.

    Examples
    --------
    >>> from datetime import date
    >>> cannot_be_kept(Network((), ()), Shop(date(2026, 5, 12), ()), Schedule(date(2026, 5, 12), ()))
    ()

    References
    ----------
    or-tools-cp-sat
    """
    placed = schedule.by_key
    dated = {job.key: job.due for job in network.jobs if job.due is not None and job.key in placed}
    if not late_jobs(network, schedule):
        return ()
    from witnessmark.calc.plan.polish import Condition, asked_too_much
    from witnessmark.calc.plan.shop_project import in_arrays

    before = set(dated)
    front = list(dated)
    while front:
        for link in network.links_in.get(front.pop(), ()):
            if link.before in placed and link.before not in before:
                before.add(link.before)
                front.append(link.before)
    some = Network(
        tuple(job for job in network.jobs if job.key in before),
        tuple(link for link in network.links if {link.before, link.after} <= before),
    )
    arrays = in_arrays(some, shop, replace(schedule, entries=tuple(e for e in schedule.entries if e.key in before)))
    project = _nobody_chosen(arrays.project)
    number = {key: at for at, key in enumerate(arrays.keys)}
    asked = tuple(
        Condition(key, number[key], max(0, (day - shop.today).days + 1) * DAY) for key, day in sorted(dated.items())
    )
    core = asked_too_much(project, asked, seconds)
    for key in core:
        fewer = tuple(each for each in asked if each.said in core and each.said != key)
        found = asked_too_much(project, fewer, seconds) if fewer else ()
        core = found or core
    return core


def _nobody_chosen(project: Project) -> Project:
    """The same project without a choice of people and without its own days: who alone can do a job is needed for it, others are always there."""
    needs, calendar = list(project.needs), list(project.calendar)
    for job, choice in enumerate(project.choices):
        if len(choice) == 1:
            person, hours = choice[0]
            needs[job] = (*needs[job], (person, 1))
            calendar[job] = hours
        elif choice:
            calendar[job] = ALWAYS
    return replace(project, needs=tuple(needs), calendar=tuple(calendar), choices=(), due=())
