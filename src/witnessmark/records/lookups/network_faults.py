"""What in the record cannot be planned as it stands: named in a sentence, with what is counted on meanwhile."""

import re
from collections.abc import Iterable, Sequence
from statistics import median

from witnessmark.calc.plan.calendars import Shop
from witnessmark.calc.plan.jobs import Network
from witnessmark.calc.plan.lead_times import Triple
from witnessmark.calc.plan.network import HandJob
from witnessmark.records.lookups.about import Gathering
from witnessmark.records.models import Act, ListIn, Vendor

# Common practice, no source: for a vendor without a time in a shop where no other vendor has one.
UNKNOWN_VENDOR = Triple(10, 20, 60)


def usual_days(vendors: Iterable[Vendor]) -> Triple:
    """The middle of what the other vendors take: it stands in for one that names no time."""
    timed = [vendor for vendor in vendors if vendor.most_days]
    if not timed:
        return UNKNOWN_VENDOR
    return Triple(
        median(v.least_days for v in timed), median(v.likely_days for v in timed), median(v.most_days for v in timed)
    )


def vendors_without_a_time(vendors: Iterable[Vendor], stand_in: Triple, write: str) -> list[str]:
    """Name each vendor that has no working days written down, what is counted on for it, and where to write them."""
    vendors = list(vendors)
    middle = (
        "the middle of the other vendors" if any(v.most_days for v in vendors) else "a guess, as no vendor names one"
    )
    return [
        f"{vendor.name} names no time. Until it does, {stand_in.least:g}, most often {stand_in.likely:g} and at most "
        f"{stand_in.most:g} working days are counted on: {middle}. Ask, and {write}."
        for vendor in sorted(vendors, key=lambda v: v.name)
        if not vendor.most_days
    ]


def where_times_are_written() -> str:
    """Where a vendor's days are written: in the file the record was loaded from, else on the screen that takes a list."""
    if Act.objects.filter(verb="load_lists").exists() and not ListIn.objects.exists():
        return "write it in vendors.csv"
    return "bring a list of vendors with their days at Old lists in"


def hand_faults(at: Gathering, jobs: Iterable[HandJob]) -> list[str]:
    """What was written by hand and does not fit the record: a day gone by, a name of nothing, work written twice."""
    said = []
    for job in jobs:
        what = job.what.rstrip(".")
        if job.done:
            continue
        if job.due is not None and job.due < at.now:
            late = (at.now - job.due).days
            days = "a day" if late == 1 else f"{late} days"
            said.append(
                f"{what}: it was due on {job.due:%-d %B %Y}, {days} ago. The next search for a plan puts it as "
                "early as it can; write a new day, or say that it is done."
            )
        twice = [] if job.stands_for else _own_jobs(at, job.what)
        if twice:
            said.append(
                f"{what}: {' and '.join(twice)} already {'has' if len(twice) == 1 else 'have'} such a job from the "
                "record, so it is counted twice. Write the row in the column stands_for."
            )
    return said


def _own_jobs(at: Gathering, what: str) -> list[str]:
    """Rows named in these words that have a job of the same kind by themselves."""
    words = what.casefold()
    kind = "look" if words.startswith("look at") else "fill" if words.startswith("rivet") else ""
    if not kind:
        return []
    named = set(re.findall(r"[\w-]+", what))
    return [
        f"row {name}"
        for name in sorted(at.names)
        if name in named and f"{at.names[name]}:{kind}" in at.about and at.names[name].startswith("seam:")
    ]


def shop_faults(shop: Shop, network: Network, cannot: Sequence[tuple[str, str]]) -> list[str]:
    """What nobody can do, and who is never here; in few sentences, however many jobs."""
    said = [
        f"{person.name} has no working day, so nothing is planned for {person.name}. "
        "Bring a list of people with their days and hours at Old lists in, or write them in people.csv."
        for person in shop.people
        if not person.ever_works
    ]
    by_reason: dict[str, list[str]] = {}
    for key, why in cannot:
        # What waits for something that cannot be planned needs no sentence of its own.
        if key in network.by_key and not why.startswith("It waits for"):
            by_reason.setdefault(why, []).append(network.by_key[key].what.rstrip("."))
    for why, what in sorted(by_reason.items()):
        more = f" and {len(what) - 1} more" if len(what) > 1 else ""
        said.append(f"{what[0]}{more}: {why[:1].lower()}{why[1:].rstrip('.')}. The rest is planned without.")
    return said
