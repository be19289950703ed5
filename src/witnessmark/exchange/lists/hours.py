"""Hours kept on paper: who worked on which job on which day."""

from witnessmark.exchange import cells
from witnessmark.exchange.cells import Wrong
from witnessmark.exchange.listfile import Kept, ListFile, Writer
from witnessmark.exchange.lists.known import Known
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.network import gather
from witnessmark.records.models import Act, HoursBooked, Step

MOST_A_DAY = 24


def hours(f: ListFile) -> Writer:
    """Hours by job, person and day. A step that is done may be named, too: that is what estimates are learned from."""
    known, kept = Known(f.machine), Kept()
    gathered = gather(f.machine)
    steps = {(pk, n): key for pk, n, key in _steps(f)}
    have: dict[tuple[str, int, object], float] = {}
    that_day: dict[tuple[int, object], float] = {}
    # What was taken back by tap is known all the same: a list that is loaded again does not book it anew.
    for key, who, on, n in HoursBooked.with_taken_back.values_list("key", "person_id", "day", "hours"):
        have[key, who, on] = have.get((key, who, on), 0.0) + n
        that_day[who, on] = that_day.get((who, on), 0.0) + n
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["job"], c["person"].casefold(), c["day"], what=f"{c['person']} on '{c['job']}' on {c['day']}")
            tag, _, number = c["job"].partition(":")
            key = next((k for k in gathered.keys_of(c["job"]) if k in gathered.keys), "")
            if not key and number.isdigit():
                key = steps.get((known.piece(tag).pk, int(number)), "")
            if not key:
                raise Wrong(f"There is no job '{c['job']}'. Write tag:step, a row of seams.csv or a key of jobs.csv")
            person, day, worked = known.person(c["person"]), f.day("day"), cells.number(c["hours"], "hours", most=24)
            if day is None or day > today(f.machine):
                raise Wrong(f"day is '{c['day']}'. Hours are booked for a day on which they were worked")
            if worked <= 0:
                raise Wrong("hours is nought. Delete the row, or write what was worked")
            before = have.get((key, person.pk, day))
            if before is not None:
                if abs(before - worked) > 1e-9:
                    f.differs(
                        f"{person.name}, {c['job']}, {day}",
                        f"{worked:g} h",
                        f"{before:g} h",
                        "Book what is more by tap.",
                    )
                continue
            total = that_day.get((person.pk, day), 0.0) + worked
            if total > MOST_A_DAY:
                raise Wrong(f"That makes {total:g} hours of {person.name} on {day}. Correct hours")
            that_day[person.pk, day] = total
            kept.new.append(f.new(HoursBooked, key=key, person=person, day=day, hours=worked))

    def write(act: Act) -> None:
        for one in kept.new:
            one.act = act
        kept.write(HoursBooked)

    return write


def _steps(f: ListFile) -> list[tuple[int, int, str]]:
    """Every step of the aircraft, done or not, with the key of its job."""
    found = Step.objects.filter(piece__aircraft=f.machine).values_list("piece_id", "number")
    return [(pk, number, f"piece:{pk}:{number}") for pk, number in found]
