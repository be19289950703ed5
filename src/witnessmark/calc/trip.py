"""A day's drive: in which order to stop, what waits till the next one and what that costs, what goes into the van first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations

from witnessmark.calc.working import Answer, working

MOST_STOPS = 8


@dataclass(frozen=True)
class Stop:
    """One stop in the order in which it was said; `while_waiting` names tests that are done there while one waits."""

    key: str
    name: str
    while_waiting: bool = False


@dataclass(frozen=True)
class Barred:
    """A piece that stop `wants` may not have before stop `first` has done its test."""

    piece: str
    what: str
    wants: str
    first: str


@dataclass(frozen=True)
class Waits:
    """A piece that comes off a stop's sheet, where it is left instead, and what the wait costs."""

    piece: str
    what: str
    off: str
    left_at: str
    till: int | None
    costs_days: int | None
    sentence: str


@dataclass(frozen=True)
class Conditional:
    """A piece that is tested at one stop while one waits, and goes on to the next only if the test is clear."""

    piece: str
    what: str
    tested_at: str
    goes_to: str


@dataclass(frozen=True)
class DayOrder(Answer):
    """The order of the stops, what moved and why, what waits."""

    order: tuple[str, ...]
    moved: tuple[str, ...]
    waits: tuple[Waits, ...]
    conditional: tuple[Conditional, ...]
    sentence: str


@dataclass(frozen=True)
class Nearly:
    """A piece that one piece of work in the shop keeps from a stop."""

    piece: str
    what: str
    stop: str
    step: str
    craft: str
    hours: float
    cures_hours: float = 0.0


@dataclass(frozen=True)
class Tonight:
    """Who could finish it before the van leaves, or why nobody can."""

    piece: str
    stop: str
    step: str
    who: str
    hours: float
    can: bool
    sentence: str


def order_of_day(
    stops: Sequence[Stop],
    barred: Sequence[Barred],
    back_in_days: Mapping[str, float],
    next_trips: Mapping[str, Sequence[int]],
) -> DayOrder:
    """Choose the order of a day's stops so that a test comes before what waits for it.

    Parameters
    ----------
    stops : sequence of Stop
        In the order in which they were said. [-]
    barred : sequence of Barred
        What a stop may not have before another has tested it. [-]
    back_in_days : mapping of str to float
        Most likely working days that each stop's vendor keeps a piece. [days]
    next_trips : mapping of str to sequence of int
        Further planned trips that stop at a vendor, in working days from this one. [days]

    Returns
    -------
    DayOrder
        The order; what may go on the same day if its test is clear; what waits, till when, and its cost in days.

    Raises
    ------
    ValueError
        More than eight stops, a stop twice, or a bar that names a stop which is not on this trip.

    Notes
    -----
    Every order is tried. The stop that tests comes first where a piece is barred: tested while one waits, the piece goes
    on the same day; else it is at least not driven past. Among equals the order that turns the fewest pairs round wins.
    A wait ends with the first planned trip on which the tested piece can be back and the vendor is a stop; none planned
    means that its cost is the test's own days, and a drive of its own.

    Examples
    --------
    >>> day = [Stop("QB", "the plater"), Stop("ON", "the test house"), Stop("TR", "the trimmer")]
    >>> bolts = [Barred("L-063", "2 wheel bolts", "QB", "ON")]
    >>> plan = order_of_day(day, bolts, {"ON": 8}, {"QB": [5, 10]})
    >>> plan.order, plan.waits[0].costs_days
    (('ON', 'QB', 'TR'), 10)

    References
    ----------
    none: tries every order and counts.
    """
    keys = [stop.key for stop in stops]
    by_key = {stop.key: stop for stop in stops}
    if len(stops) > MOST_STOPS:
        raise ValueError(f"a day holds no more than {MOST_STOPS} stops, not {len(stops)}")
    if len(by_key) != len(keys):
        raise ValueError("a stop stands twice on this trip")
    for each in barred:
        if each.wants not in by_key or each.first not in by_key:
            raise ValueError(f"{each.piece} names a stop that is not on this trip")
    said = {key: at for at, key in enumerate(keys)}

    def cost(order: tuple[str, ...]) -> tuple[int, int]:
        at = {key: n for n, key in enumerate(order)}
        late = sum(at[each.first] > at[each.wants] for each in barred)
        turned = sum(said[a] > said[b] for n, a in enumerate(order) for b in order[n + 1 :])
        return late, turned

    order = min(permutations(keys), key=cost) if keys else ()
    at = {key: n for n, key in enumerate(order)}
    waits, conditional = [], []
    for each in barred:
        first, wants = by_key[each.first], by_key[each.wants]
        if first.while_waiting and at[each.first] < at[each.wants]:
            conditional.append(Conditional(each.piece, each.what, first.key, wants.key))
        else:
            waits.append(_wait(each, first, wants, back_in_days.get(each.first), next_trips.get(each.wants, ())))
    moved = tuple(
        _moved(by_key[key], [b for b in barred if b.first == key], by_key)
        for key in order
        if any(b.first == key and said[key] > said[b.wants] and at[key] < at[b.wants] for b in barred)
    )
    return DayOrder(
        working=working(
            "every order of the stops; first the fewest barred pieces driven past, then the fewest pairs turned round",
            [(by_key[key].name, n + 1, "stop", f"said as stop {said[key] + 1}") for n, key in enumerate(order)],
            valid_range=f"at most {MOST_STOPS} stops; roads and opening hours are not looked at",
        ),
        order=order,
        moved=moved,
        waits=tuple(waits),
        conditional=tuple(conditional),
        sentence=" ".join([*moved, *(w.sentence for w in waits)]) or "The stops stay in the order that was said.",
    )


def _moved(stop: Stop, barred: Sequence[Barred], by_key: Mapping[str, Stop]) -> str:
    whom = " and ".join(dict.fromkeys(by_key[b.wants].name for b in barred))
    what = ", ".join(dict.fromkeys(b.what for b in barred))
    name = f"{stop.name[:1].upper()}{stop.name[1:]}"
    return f"{name} comes before {whom}: {what} must be tested first."


def _wait(each: Barred, first: Stop, wants: Stop, back: float | None, trips: Sequence[int]) -> Waits:
    till = None if back is None else next((day for day in sorted(trips) if day >= back), None)
    off = f"{each.what[:1].upper()}{each.what[1:]} come off the sheet of {wants.name} and are left at {first.name}"
    if each.what.startswith(("1 ", "one ", "the ")):
        off = off.replace(" come off", " comes off").replace(" and are left", " and is left")
    cost: int | None
    if till is not None:
        cost, sentence = till, f"{off}; the trip {till} working days later takes what is clear: that costs {till} days."
    elif back is not None:
        days = max(1, round(back))
        cost = days
        sentence = f"{off}; no later trip to {wants.name} is planned, so that costs {days} days and a drive of its own."
    else:
        cost = None
        sentence = f"{off}; nobody has said how long {first.name} takes, so what it costs is not known."
    return Waits(each.piece, each.what, wants.key, first.key, till, cost, sentence)


def tonight(
    nearly: Sequence[Nearly], people: Mapping[str, Sequence[tuple[str, float]]], hours_till_leaving: float
) -> tuple[Tonight, ...]:
    """Say who could finish what is one step short before the van leaves.

    Parameters
    ----------
    nearly : sequence of Nearly
        Pieces whose next step is the shop's own and whose next but one is a stop's. [-]
    people : mapping of str to sequence of (str, float)
        Craft to the people who have it and the hours each could give tonight. [h]
    hours_till_leaving : float
        From now until the van leaves. [h]

    Returns
    -------
    tuple of Tonight
        Shortest first; each person's hours are given out once.

    Raises
    ------
    ValueError
        Hours below nought.

    Examples
    --------
    >>> work = [Nearly("L-063", "two bolts", "ON", "Clean", "sheet metal", 1.0)]
    >>> tonight(work, {"sheet metal": [("Jorun", 2.0)]}, 14.0)[0].sentence
    'L-063 is one step short: clean. Jorun could do it tonight, about 1 hour.'

    References
    ----------
    none: adds up hours.
    """
    if hours_till_leaving < 0 or any(work.hours < 0 or work.cures_hours < 0 for work in nearly):
        raise ValueError("hours are not below nought")
    left = {who: hours for craft in people.values() for who, hours in craft}
    found = []
    for work in sorted(nearly, key=lambda n: (n.hours + n.cures_hours, n.piece)):
        step = work.step[:1].lower() + work.step[1:]
        hours = "about 1 hour" if work.hours == 1 else f"about {work.hours:g} hours"
        head = f"{work.piece} is one step short: {step}."
        who = next((name for name, _ in people.get(work.craft, ()) if left[name] >= work.hours), "")
        if work.hours + work.cures_hours > hours_till_leaving:
            cure = f" and {work.cures_hours:g} to cure" if work.cures_hours else ""
            found.append(_not(work, f"{head} It takes {hours}{cure}: not before the van leaves."))
        elif not people.get(work.craft):
            found.append(_not(work, f"{head} Nobody here has that craft ({work.craft})."))
        elif not who:
            found.append(
                _not(work, f"{head} It takes {hours}; nobody with that craft ({work.craft}) has them tonight.")
            )
        else:
            left[who] -= work.hours
            found.append(
                Tonight(
                    work.piece,
                    work.stop,
                    work.step,
                    who,
                    work.hours,
                    True,
                    f"{head} {who} could do it tonight, {hours}.",
                )
            )
    return tuple(found)


def _not(work: Nearly, sentence: str) -> Tonight:
    return Tonight(work.piece, work.stop, work.step, "", work.hours, False, sentence)


def loading_order(order: Sequence[str], boxes: Mapping[str, Sequence[str]]) -> tuple[tuple[str, str], ...]:
    """Say what goes into the van first: what comes out last.

    Parameters
    ----------
    order : sequence of str
        Stops in the order of the day. [-]
    boxes : mapping of str to sequence of str
        Boxes to be left at each stop. [-]

    Returns
    -------
    tuple of (str, str)
        Box and stop, in the order of loading.

    Raises
    ------
    ValueError
        Boxes for a stop that is not on the trip, or one box for two stops.

    Examples
    --------
    >>> loading_order(["ON", "QB"], {"QB": ["box 2"], "ON": ["box 1"]})
    (('box 2', 'QB'), ('box 1', 'ON'))

    References
    ----------
    none: the last to come out goes in first.
    """
    strange = sorted(set(boxes) - set(order))
    if strange:
        raise ValueError(f"boxes for stops that are not on the trip: {', '.join(strange)}")
    every = [box for key in order for box in boxes.get(key, ())]
    if len(set(every)) != len(every):
        raise ValueError("one box cannot be left at two stops: pack them apart")
    return tuple((box, key) for key in reversed(order) for box in reversed(boxes.get(key, ())))
