"""Days that are written down: which a plan does not keep, and which no plan can keep together."""

from __future__ import annotations

from dataclasses import replace

from witnessmark.calc.plan.calendars import Shop
from witnessmark.calc.plan.jobs import Network
from witnessmark.calc.plan.project import ALWAYS, Project
from witnessmark.calc.plan.solve import Schedule

# Beyond so many jobs the exact solver proves nothing within its time.
MOST_JOBS = 150


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


def not_on_their_days(network: Network, schedule: Schedule) -> tuple[str, ...]:
    """Return the jobs that somebody fixed to a day and that do not begin on it.

    Parameters
    ----------
    network : Network
        Jobs with their days. [-]
    schedule : Schedule
        The plan. [-]

    Returns
    -------
    tuple of str
        Keys, the earliest day first; also of what could not be placed at all.

    Raises
    ------
    none

    Notes
    -----
    A job in work already began when it began.

    Examples
    --------
    >>> from datetime import date
    >>> not_on_their_days(Network((), ()), Schedule(date(2026, 5, 12), ()))
    ()

    References
    ----------
    none: counting only.
    """
    at = schedule.by_key
    fixed = [(job.on, job.key) for job in network.jobs if job.on is not None and not job.started]
    return tuple(key for day, key in sorted(fixed) if key not in at or at[key].start_date != day)


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
    Only what comes before those jobs is looked at, up to 150 of them, and who can be replaced by another is taken to be there always: what
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
    if not late_jobs(network, schedule):
        return ()
    placed = schedule.by_key
    asked = [job.key for job in network.jobs if job.due is not None and job.key in placed]
    core = sorted(asked)
    if not _impossible(network, shop, schedule, core, seconds):
        return ()
    for key in list(core):
        fewer = [other for other in core if other != key]
        if fewer and _impossible(network, shop, schedule, fewer, seconds):
            core = fewer
    return tuple(core)


def _impossible(network: Network, shop: Shop, schedule: Schedule, dated: list[str], seconds: float) -> bool:
    """Whether it is proved that these jobs cannot all be done by their days."""
    from witnessmark.calc.plan.polish import polished
    from witnessmark.calc.plan.shop_project import in_arrays

    placed = schedule.by_key
    before, front = set(dated), list(dated)
    while front:
        for link in network.links_in.get(front.pop(), ()):
            if link.before in placed and link.before not in before:
                before.add(link.before)
                front.append(link.before)
    if len(before) > MOST_JOBS:
        return False
    # Days of other jobs are left out: what is asked is whether these can be kept.
    jobs = tuple(job if job.key in dated else replace(job, due=None) for job in network.jobs if job.key in before)
    some = Network(jobs, tuple(link for link in network.links if {link.before, link.after} <= before))
    arrays = in_arrays(some, shop, replace(schedule, entries=tuple(e for e in schedule.entries if e.key in before)))
    last = max(due for due, key in zip(arrays.project.due, arrays.keys, strict=True) if key in dated)
    return polished(_nobody_chosen(arrays.project), None, seconds, end=last).impossible


def _nobody_chosen(project: Project) -> Project:
    """The project without a choice of people: who alone can do a job is needed for it, others are always there."""
    needs, calendar = list(project.needs), list(project.calendar)
    for job, choice in enumerate(project.choices):
        if len(choice) == 1:
            person, hours = choice[0]
            needs[job] = (*needs[job], (person, 1))
            calendar[job] = hours
        elif choice:
            calendar[job] = ALWAYS
    return replace(project, needs=tuple(needs), calendar=tuple(calendar), choices=())
