"""What each mechanic can do now and why, what waits and for what, what to order or send."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from witnessmark.calc.plan.calendars import Person as Planned
from witnessmark.calc.plan.reasons import CanStart, ToLeave, why_it_waits
from witnessmark.calc.plan.working_days import said_day
from witnessmark.records.lookups.fixed import fixed_words
from witnessmark.records.lookups.forecast import criticality
from witnessmark.records.lookups.hunts import asks_due
from witnessmark.records.lookups.latest import Latest, latest_now
from witnessmark.records.lookups.leaves import ToSend, and_list, costs_of, to_send
from witnessmark.records.lookups.needs import Need, needs_of
from witnessmark.records.lookups.plan import (
    CAN_START_SHOWN,
    Plan,
    busy_quarters,
    make_plan,
    runs_dry,
    solved_without,
    spoken,
    works_on,
)
from witnessmark.records.models import Aircraft, HuntAsked, Person, Role

_NUMBERS = ("Nobody", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten", "Eleven", "Twelve")


@dataclass(frozen=True)
class BenchJob:
    """One job somebody can do now, and why it is the best one."""

    key: str
    what: str
    why: str
    caution: str
    status: str
    note: str
    hours_likely: float
    hours_words: str
    bench: str
    lies_at: str
    tag: str
    link: str
    starts_on: date
    slack_days: int
    frees: int
    source: str
    row_id: int | None
    needs: tuple[Need, ...] = ()
    fixed: str = ""


@dataclass(frozen=True)
class Mechanic:
    """One person's bench today; `none` says why there is no job."""

    person: Person
    here_today: bool
    jobs: tuple[BenchJob, ...]
    none: str
    all_day: bool
    dry_on: date | None
    dry: str


@dataclass(frozen=True)
class Chain:
    """Why something waits: one sentence, a step for each because, and what to do about it."""

    key: str
    head: str
    because: tuple[str, ...]
    so: str
    link: str


@dataclass(frozen=True)
class Stuck:
    """A job that somebody said is stuck, and because of what."""

    key: str
    what: str
    because: str
    by: str
    costs: str = ""


@dataclass(frozen=True)
class DoNow:
    """The most valuable single thing."""

    say: str
    why: tuple[str, ...]
    link: str
    whose: Person | None = None


@dataclass(frozen=True)
class BenchToday:
    """The whole bench of one day."""

    plan: Plan
    sentence: str
    do_now: DoNow | None
    mechanics: tuple[Mechanic, ...]
    chain: Chain | None
    waits: tuple[Chain, ...]
    stuck: tuple[Stuck, ...]
    to_send: tuple[ToSend, ...]
    asks: tuple[HuntAsked, ...] = ()

    def asks_of(self, person: Person) -> tuple[HuntAsked, ...]:
        """Whom this person, who asked before, is to ask again."""
        return tuple(row for row in self.asks if row.act.person_id == person.pk)


def bench_today(aircraft: Aircraft) -> BenchToday:
    """Answer for the bench list; a plan that did not pass its check is not shown, its breaches are."""
    plan = make_plan(aircraft)
    if not plan.proved:
        said = "The plan did not pass its own check, so nobody is given work from it."
        return BenchToday(plan, said, None, (), None, (), _stuck(plan), ())
    shares = criticality(aircraft, plan)
    latest = latest_now(aircraft, plan)
    mine = {name: _best_first(plan, can, shares) for name, can in plan.solved.can_start.items()}
    needs = needs_of(plan.gathered, [each.key for can in mine.values() for each in can])
    planned = {person.name: person for person in plan.shop.people}
    mechanics = tuple(
        _mechanic(plan, person, planned[person.name], mine.get(person.name, ()), shares, needs)
        for person in plan.people
    )
    leaving = plan.solved.to_leave
    chains = _chains(plan)
    return BenchToday(
        plan=plan,
        sentence=_sentence(plan, mechanics),
        do_now=_do_now(plan, mechanics, leaving, latest),
        mechanics=mechanics,
        chain=chains[0] if chains else None,
        waits=tuple(chains[1:5]),
        stuck=_stuck(plan),
        to_send=to_send(plan, leaving, latest),
        asks=tuple(asks_due(aircraft, plan.shop.today)),
    )


def _hours_words(hours: float) -> str:
    if hours <= 0.5:
        return "Half an hour."
    if hours < 1.5:
        return "An hour."
    if 5 <= hours < 9:
        return "Most of the day."
    if hours >= 9:
        return f"About {hours / 8:.0f} days of work." if hours >= 12 else "A day and a bit."
    return f"About {hours:.0f} hours."


def _best_first(plan: Plan, can: Sequence[CanStart], shares: dict[str, float]) -> tuple[CanStart, ...]:
    """What is begun first; then what the finish hangs on in most futures; without a forecast, what has least room."""

    def rank(each: CanStart) -> tuple[bool, bool, float, int, int]:
        word = plan.said.get(each.key)
        begun = word is not None and word.status == "started"
        later = each.start_date > plan.shop.today
        return (not begun, later, -shares.get(each.key, 0.0), each.slack_days, -plan.network.by_key[each.key].priority)

    return tuple(sorted(can, key=rank)[:CAN_START_SHOWN])


def _futures(share: float) -> str:
    """The share of futures as it is said."""
    tenths = round(share * 10)
    if tenths == 0:
        return ""
    if tenths == 10:
        return " In nearly every future the finish waits for it."
    number = _NUMBERS[tenths].lower()
    return f" In {number} {'future' if tenths == 1 else 'futures'} of ten the finish waits for it."


def _why(plan: Plan, can: CanStart, status: str, name: str, share: float) -> str:
    """Why this one: what it opens the way to, and what a late day costs."""
    begun = "It is begun. " if status == "started" else ""
    if not can.frees:
        return f"{begun}Nothing waits for it. There is no better work for {name} today."
    after = min((link.after for link in plan.network.links_out[can.key]), key=lambda key: (_starts(plan, key), key))
    opens = f"It opens the way to: {_lower(plan.network.by_key[after].what).rstrip('.')}"
    more = (
        ""
        if can.frees == 1
        else ", and one job after that"
        if can.frees == 2
        else f", and {can.frees - 1} jobs after that"
    )
    if said := _futures(share):
        return f"{begun}{opens}{more}.{said}"
    if can.slack_days == 0:
        return f"{begun}{opens}{more}. A day late moves the finish by a day."
    days = "a working day" if can.slack_days == 1 else f"{can.slack_days} working days"
    return f"{begun}{opens}{more}. It can wait {days} without moving the finish."


def _starts(plan: Plan, key: str) -> int:
    entry = plan.schedule.by_key.get(key)
    return entry.start if entry else 1 << 60


def _lower(text: str) -> str:
    return text[0].lower() + text[1:] if text[:1].isupper() and not text[:2].isupper() else text


def _mechanic(
    plan: Plan,
    person: Person,
    planned: Planned,
    can: tuple[CanStart, ...],
    shares: dict[str, float],
    needs: dict[str, tuple[Need, ...]],
) -> Mechanic:
    shop, entries = plan.shop, plan.of_person.get(person.name, [])
    here = works_on(planned, shop.today, shop)
    busy = busy_quarters(entries, planned, shop, shop.today)
    dry = runs_dry(entries, planned, shop) if planned.ever_works else None
    none = ""
    if not can and entries:
        first = entries[0]
        what = plan.network.by_key[first.key].what.rstrip(".")
        cause = why_it_waits(plan.schedule, plan.network, first.key)[0].sentence
        none = f"Nothing can be started now. Next is, {spoken(first.start_date, shop.today)}: {_lower(what)}. {cause}"
    elif not can:
        none = f"No open job asks for {person.craft or 'this craft'}."
    return Mechanic(
        person=person,
        here_today=here,
        jobs=tuple(_job(plan, each, person.name, shares.get(each.key, 0.0), needs[each.key]) for each in can),
        none=none,
        all_day=here and busy > planned.quarters_per_day - 4,
        dry_on=dry,
        dry=spoken(dry, shop.today) if dry else "",
    )


def _job(plan: Plan, can: CanStart, name: str, share: float, needs: tuple[Need, ...]) -> BenchJob:
    job, about, word = plan.network.by_key[can.key], plan.about(can.key), plan.said.get(can.key)
    status = word.status if word is not None and word.status in ("started", "stuck") else "open"
    return BenchJob(
        key=can.key,
        what=can.what,
        why=_why(plan, can, status, name, share),
        caution=can.caution,
        status=status,
        note=word.note if word is not None and status != "open" else "",
        hours_likely=job.hours.likely,
        hours_words=_hours_words(job.hours.likely),
        bench=job.bench,
        lies_at=about.lies_at,
        tag=about.tag,
        link=about.link,
        starts_on=can.start_date,
        slack_days=can.slack_days,
        frees=can.frees,
        source=about.source,
        row_id=about.row_id,
        needs=needs,
        fixed=fixed_words(plan.fixed.get(can.key)),
    )


def _sentence(plan: Plan, mechanics: tuple[Mechanic, ...]) -> str:
    if not plan.network.jobs:
        return "No job is open."
    shop = tuple(each for each in mechanics if each.person.role in (Role.LEAD, Role.MECHANIC, Role.INSPECTOR))
    can = sum(1 for each in shop if each.here_today and each.jobs)
    full = sum(1 for each in shop if each.all_day)
    who = _number(can) if not can or len(shop) == 1 else f"{_number(can)} of {_number(len(shop)).lower()}"
    said = [f"{who} can work today{_all_day(can, full)}."]
    mechanics = tuple(each for each in mechanics if each.person.role == Role.MECHANIC)
    idle = [each.person.name for each in mechanics if each.here_today and each.dry_on == plan.shop.today]
    if idle:
        said.append(f"There is nothing for {and_list(idle)} today.")
    drying = [each for each in mechanics if each.dry_on is not None and each.dry_on > plan.shop.today]
    if drying:
        first = min(drying, key=lambda each: each.dry_on or date.max)
        said.append(f"{first.person.name} runs dry {first.dry}.")
    return " ".join(said)


def _number(n: int) -> str:
    return _NUMBERS[n] if n < len(_NUMBERS) else str(n)


def _all_day(can: int, full: int) -> str:
    """How many of those have work for the whole day."""
    if not can:
        return ""
    if full == can:
        return ", all day" if can == 1 else ", all of them all day"
    return f", {_number(full).lower() if full else 'none'} of them all day"


def _do_now(
    plan: Plan, mechanics: tuple[Mechanic, ...], leaving: Sequence[ToLeave], latest: Mapping[str, Latest]
) -> DoNow | None:
    """Of all that can begin now, what spares the finish least and frees most."""
    now = plan.shop.today
    best: tuple[tuple[int, int, bool, int], DoNow] | None = None
    for mechanic in mechanics:
        for job in mechanic.jobs if mechanic.here_today else ():
            if job.status == "stuck" or job.starts_on != now:
                continue
            why = (job.why, f"{job.hours_words} {mechanic.person.name} is here today.")
            rank = (job.slack_days, -plan.network.by_key[job.key].priority, not _holds_order(plan, job.key), -job.frees)
            if best is None or rank < best[0]:
                best = rank, DoNow(job.what, why, f"#{_anchor(mechanic.person)}", mechanic.person)
                if job.source == "look":
                    best = rank, _look_now(plan, leaving, latest, mechanic.person)
    for leave in leaving:
        if leave.held_by or leave.leaves_on > now:
            continue
        last = latest[leave.key]
        rank = (
            last.room_days,
            -plan.network.by_key[leave.key].priority,
            False,
            -len(plan.network.freed_by(leave.key)),
        )
        if best is None or rank < best[0]:
            best = (
                rank,
                DoNow(leave.what, (costs_of(leave, last),), plan.about(leave.key).link or "#leave"),
            )
    return best[1] if best else None


def _holds_order(plan: Plan, key: str) -> bool:
    """Whether something that has to leave the shop waits for this job."""
    jobs = plan.network.by_key
    return any(jobs[link.after].is_outside for link in plan.network.links_out.get(key, ()))


def _look_now(plan: Plan, leaving: Sequence[ToLeave], latest: Mapping[str, Latest], by: Person) -> DoNow:
    rows = [row.name for row in plan.gathered.order.holding]
    held = [leave for leave in leaving if plan.about(leave.key).held_by]
    named = f"row {rows[0]}" if len(rows) == 1 else f"rows {and_list(rows)}" if len(rows) <= 4 else f"{len(rows)} rows"
    last = min((latest[x.key].by for x in held), default=None)
    before = f" before the rivet order leaves, {spoken(last, plan.shop.today)} at the latest" if last else ""
    blind = "One row is" if len(rows) == 1 else f"{len(rows)} rows are"
    return DoNow(
        f"Look at {named}{before}.",
        (
            f"{blind} not looked at. A size nobody has seen may be there, and nothing is claimed of what was not looked at.",
            f"Three heads a row, half an hour each. {by.name} is free.",
        ),
        f"#{_anchor(by)}",
        by,
    )


def _anchor(person: Person) -> str:
    return f"person-{person.pk}"


def _chains(plan: Plan) -> list[Chain]:
    """Why each zone cannot be closed: what hangs on somebody outside first, then what ends last."""
    closing = [
        key for key, about in plan.gathered.about.items() if about.source == "close" and key in plan.network.by_key
    ]
    found = []
    for key in closing:
        road = _road(plan, key)
        outside = any(plan.network.by_key[each].is_outside for each in road)
        found.append((not outside, -_ready(plan, road[0]) if road else 0, key, _chain(plan, key, road)))
    return [chain for *_, chain in sorted(found, key=lambda x: x[:3]) if chain.because]


def _ready(plan: Plan, key: str) -> int:
    """When a job is done, or beyond all time where it cannot be planned."""
    entry = plan.schedule.by_key.get(key)
    return entry.finish if entry else 1 << 60


def _road(plan: Plan, key: str) -> list[str]:
    """Back along what is done last of all that a job waits for, to what waits for nothing."""
    road: list[str] = []
    while links := plan.network.links_in.get(key):
        key = max(links, key=lambda link: (_ready(plan, link.before) + link.min_lag_hours * 4, link.before)).before
        road.append(key)
    return road


def _told(plan: Plan, road: list[str]) -> list[str]:
    """Of several steps of one piece in a row only the last and what is done outside are worth telling."""
    told: list[str] = []
    piece: int | None = None
    for each in road:
        about = plan.about(each)
        if about.piece_id is None or about.piece_id != piece or about.source == "vendor step":
            told.append(each)
        piece = about.piece_id
    return told


def _chain(plan: Plan, key: str, road: list[str]) -> Chain:
    """The road in words: at most four becauses, then what to do."""
    head = plan.about(key).waits_as
    head = head[:1].upper() + head[1:]
    cannot = dict(plan.schedule.cannot)
    if not road:
        why = cannot.get(key, "")
        return Chain(key, head, (_lower(why).rstrip("."),) if why else (), "", "")
    said = [
        plan.about(each).waits_as or _lower(plan.network.by_key[each].what).rstrip(".") for each in _told(plan, road)
    ]
    root = plan.network.by_key[road[-1]]
    entry = plan.schedule.by_key.get(root.key)
    if entry is None:
        so = ""
        said.append(_lower(cannot.get(root.key, "it cannot be planned")).rstrip("."))
    elif root.away:
        ends = entry.finish_date
        so = f"ring {root.vendor}: it is counted on for {ends:%A} {said_day(ends, plan.shop.today)}."
    else:
        so = _lower(root.what)
        when = spoken(entry.start_date, plan.shop.today)
        so = so if when == "today" else f"{so.rstrip('.')}: planned {when}."
    if len(said) > 4:
        said = [*said[:3], said[-1]]
    return Chain(key, head, tuple(said), so, plan.about(root.key).link)


def _stuck(plan: Plan) -> tuple[Stuck, ...]:
    stuck = {k: word for k, word in plan.said.items() if word.status == "stuck" and k in plan.network.by_key}
    if not stuck:
        return ()
    costs = _costs(plan, set(stuck))
    said = [
        Stuck(key, plan.network.by_key[key].what, word.note, word.person.name if word.person else "", costs)
        for key, word in sorted(stuck.items())
    ]
    return tuple(said)


def _costs(plan: Plan, stuck: set[str]) -> str:
    """What it does to the rest of the plan: the same plan as if nothing were stuck stands beside it."""
    free = solved_without(plan, stuck)
    if free is None or not plan.proved:
        return "The plan counts on it from tomorrow."
    ends, would = plan.schedule.finish_date, free.finish_date
    moved = (ends - would).days
    if moved > 0:
        days = "a day" if moved == 1 else f"{moved} days"
        return f"The plan counts on it from tomorrow; so far that moves the finish by {days}."
    return "The plan counts on it from tomorrow: the finish stays, but other jobs may have less room than before."
