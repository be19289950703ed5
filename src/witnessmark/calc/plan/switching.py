"""What else to open when the main job is stuck: people kept in work, benches filled, few assemblies open at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

# Common practice, no source: hours lost to laying out, finding one's way in and clearing away an assembly anew.
OPENING_HOURS = 3.0
MOST_NEW = 2
MOST_LOOKED_AT = 12


@dataclass(frozen=True)
class Ready:
    """A job that can begin now. `assembly`: what it opens; `frees`: jobs that wait for it; `names`: who can do it."""

    key: str
    what: str
    assembly: str
    hours: float
    names: frozenset[str]
    bench: str = ""
    frees: int = 0
    slack_days: int = 0


@dataclass(frozen=True)
class Choice:
    """Assemblies to open, the hours of work they give whom, and what opening them costs."""

    opens: tuple[str, ...]
    filled_hours: float
    opening_hours: float
    jobs: tuple[str, ...]
    hours_of: Mapping[str, float]

    @property
    def worth_hours(self) -> float:
        """Hours of work gained less the hours that opening costs."""
        return self.filled_hours - self.opening_hours


def filled(
    jobs: Iterable[Ready], free_hours: Mapping[str, float], bench_hours: Mapping[str, float]
) -> dict[str, dict[str, float]]:
    """Return who works how long at which job, so that as many free hours as can be are filled.

    Parameters
    ----------
    jobs : iterable of Ready
        What can begin. [-]
    free_hours : mapping of str to float
        Hours to fill, by person. [hours]
    bench_hours : mapping of str to float
        Hours that each bench can take; a bench not named here takes any. [hours]

    Returns
    -------
    dict
        Hours by job and person. [hours]

    Raises
    ------
    ValueError
        Less than no hours.

    Notes
    -----
    A greatest flow from the people through the jobs to the benches, in quarter hours. Which of several equal fillings
    it is, is not said.

    Examples
    --------
    >>> jobs = [Ready("a", "Turn.", "lathe work", 3, frozenset({"Askel"}), "lathe"), Ready("b", "Drill.", "hull", 2, frozenset({"Askel"}))]
    >>> sum(filled(jobs, {"Askel": 4}, {"lathe": 1})["a"].values())
    1.0

    References
    ----------
    none: a greatest flow, checked against another library.
    """
    import numpy as np
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import maximum_flow

    work = list(jobs)
    people = sorted(free_hours)
    benches = sorted({job.bench for job in work})
    if any(each < 0 for each in (*free_hours.values(), *bench_hours.values(), *(job.hours for job in work))):
        raise ValueError("less than no hours")
    of_person = {name: 1 + n for n, name in enumerate(people)}
    of_job = {job.key: 1 + len(people) + n for n, job in enumerate(work)}
    # A job's own hours are the capacity of the arc from it to its twin.
    twin = len(work)
    of_bench = {bench: 1 + len(people) + 2 * len(work) + n for n, bench in enumerate(benches)}
    sink = 1 + len(people) + 2 * len(work) + len(benches)
    capacity = np.zeros((sink + 1, sink + 1), dtype=np.int32)
    for name in people:
        capacity[0, of_person[name]] = int(free_hours[name] * 4)
    for job in work:
        node = of_job[job.key]
        for name in job.names & set(people):
            capacity[of_person[name], node] = int(free_hours[name] * 4)
        capacity[node, node + twin] = int(job.hours * 4)
        capacity[node + twin, of_bench[job.bench]] = int(job.hours * 4)
    for bench in benches:
        most = sum(int(job.hours * 4) for job in work if job.bench == bench)
        capacity[of_bench[bench], sink] = min(most, int(bench_hours[bench] * 4)) if bench in bench_hours else most
    flow = maximum_flow(csr_array(capacity), 0, sink).flow.toarray()
    return {
        job.key: {
            name: float(flow[of_person[name], of_job[job.key]]) / 4
            for name in people
            if flow[of_person[name], of_job[job.key]] > 0
        }
        for job in work
    }


def other_work(
    ready: Sequence[Ready],
    open_already: Iterable[str],
    free_hours: Mapping[str, float],
    bench_hours: Mapping[str, float],
    opening_hours: float = OPENING_HOURS,
) -> list[Choice]:
    """Return what could be opened while the main job is stuck, the best first.

    Parameters
    ----------
    ready : sequence of Ready
        Jobs that can begin now, without the stuck one. [-]
    open_already : iterable of str
        Assemblies that stand open. [-]
    free_hours : mapping of str to float
        Hours to fill until the stuck job goes on, by person. [hours]
    bench_hours : mapping of str to float
        Hours that each bench can take in that time. [hours]
    opening_hours : float
        Hours that opening one more assembly costs. [hours]

    Returns
    -------
    list of Choice
        At most one for each set of up to two further assemblies, by worth; none is worth less than opening nothing.

    Raises
    ------
    ValueError
        Less than no hours.

    Notes
    -----
    All sets of up to two of the twelve assemblies that hold most ready work are tried.

    Examples
    --------
    >>> jobs = [Ready("a", "Strip.", "tail", 6, frozenset({"Ilva"})), Ready("b", "Dress.", "float", 2, frozenset({"Ilva"}))]
    >>> [(c.opens, c.worth_hours) for c in other_work(jobs, [], {"Ilva": 8}, {})][:2]
    [(('tail',), 3.0), (('float', 'tail'), 2.0)]

    References
    ----------
    none: every set is counted.
    """
    if opening_hours < 0:
        raise ValueError("less than no hours to open an assembly")
    standing = set(open_already)
    held: dict[str, float] = {}
    for job in ready:
        if job.assembly not in standing and job.names & set(free_hours):
            held[job.assembly] = held.get(job.assembly, 0.0) + job.hours
    candidates = sorted(held, key=lambda name: (-held[name], name))[:MOST_LOOKED_AT]
    choices = []
    for many in range(min(MOST_NEW, len(candidates)) + 1):
        for opens in combinations(candidates, many):
            at = standing | set(opens)
            shares = filled([job for job in ready if job.assembly in at], free_hours, bench_hours)
            hours_of: dict[str, float] = {}
            for share in shares.values():
                for name, hours in share.items():
                    hours_of[name] = hours_of.get(name, 0.0) + hours
            done = tuple(
                job.key for job in sorted(ready, key=lambda j: (j.slack_days, -j.frees, j.key)) if shares.get(job.key)
            )
            choices.append(Choice(tuple(sorted(opens)), sum(hours_of.values()), many * opening_hours, done, hours_of))
    nothing = next((c.worth_hours for c in choices if not c.opens), 0.0)
    kept = [choice for choice in choices if choice.worth_hours >= nothing]
    return sorted(kept, key=lambda c: (-c.worth_hours, len(c.opens), c.opens))
