"""Findings, hand-made jobs and those left open, shipments and orders."""

from witnessmark.calc.surface.finding_kinds import KINDS
from witnessmark.exchange import cells
from witnessmark.exchange.cells import Wrong
from witnessmark.exchange.listfile import Kept, ListFile, Writer, noon
from witnessmark.exchange.lists.finding_figures import MoreOfFindings
from witnessmark.exchange.lists.known import Known, subject
from witnessmark.exchange.lists.photographs import keep_picture
from witnessmark.exchange.lists.shop import OTHER_CRAFTS, known_bench
from witnessmark.records.actions.open_jobs import Leaving, write_left
from witnessmark.records.lookups.network import gather
from witnessmark.records.models import (
    Act,
    Bench,
    Finding,
    HandJob,
    JobLeft,
    LeftAfter,
    Order,
    Person,
    Piece,
    Row,
    Shipment,
    ShipmentLine,
    Vendor,
)
from witnessmark.records.words import search_words

FINDING_STATES = ("open", "decided", "closed")


def findings(f: ListFile) -> Writer:
    """Findings by number."""
    known, kept = Known(f.machine), Kept()
    have = {one.number: one for one in Finding.objects.filter(aircraft=f.machine)}
    more = MoreOfFindings(f)
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["finding"], what=f"Finding {c['finding']}")
            on = subject(known, c["on"])
            figures, asked = more.read(c)
            values = {
                "what": c["what"],
                "seen_on": f.day("seen_on"),
                "seen_by": c["by"],
                "measured": c["measured"],
                "limit_words": c["limit_words"],
                "state": cells.word(c["state"], "state", FINDING_STATES) if c["state"] else None,
                "note": c["note"],
                "kind": cells.word(c["kind"], "kind", tuple(KINDS)) if c["kind"] else "",
                "opened": {"yes": True, "no": False}[cells.word(c["opened"], "opened", ("yes", "no"))]
                if c["opened"]
                else None,
            }
            one = have.get(c["finding"])
            if one is None:
                one = f.new(Finding, aircraft=f.machine, number=c["finding"], **on, **values)
                one.words = _finding_words(one)
                kept.new.append(one)
                more.add(one, figures, asked)
                continue
            if any(getattr(one, f"{name}_id") != thing.pk for name, thing in on.items()):
                raise Wrong(f"Finding {c['finding']} is on something else in the record. Give this one its own number")
            if one.state != values["state"] and FINDING_STATES.index(one.state) > FINDING_STATES.index(
                values["state"] or "open"
            ):
                f.differs(
                    f"Finding {one.number}", values["state"] or "open", one.state, "What was decided stays decided."
                )
                del values["state"]
            if f.update(one, **values):
                one.words = _finding_words(one)
                kept.changed[one.pk] = one
            more.add(one, figures, asked)

    def write(act: Act) -> None:
        for one in kept.new:
            one.act = act
        fields = ("what", "seen_on", "seen_by", "measured", "limit_words", "state", "note", "words", "kind", "opened")
        kept.write(Finding, fields)
        more.write(act)

    return write


def _finding_words(one: Finding) -> str:
    return search_words(one.number, one.what, one.measured, one.seen_by, one.note)


def jobs(f: ListFile) -> Writer:
    """Hand-made jobs by key."""
    known, kept = Known(f.machine), Kept()
    have = {one.name: one for one in HandJob.objects.filter(aircraft=f.machine)}
    bench_names = {name.casefold(): name for name in Bench.objects.values_list("name", flat=True)}
    crafts = {craft.casefold() for craft in Person.objects.values_list("craft", flat=True)} | set(OTHER_CRAFTS)
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["job"], what=f"Job {c['job']}")
            least, likely, most = cells.three(c, "hours")
            after = cells.listed(c["after"])
            if c["job"] in after:
                raise Wrong(f"Job {c['job']} comes after itself. Correct after")
            if c["craft"].casefold() not in crafts and c["craft"].casefold() not in known.vendors:
                f.remark(f"Nobody in people.csv has the craft '{c['craft']}': this job waits")
            values = {
                "what": c["what"],
                "craft": c["craft"],
                "hours_least": least,
                "hours_likely": likely,
                "hours_most": most,
                "bench": known_bench(c, bench_names),
                "zone": known.zone(c["zone"]) if c["zone"] else None,
                "after": after or None,
                "not_before": f.day("not_before"),
                "needs": cells.listed(c["needs"]) or None,
                "due": f.day("due"),
                "stands_for": cells.listed(c["stands_for"]) or None,
                "priority": cells.whole(c["priority"], "priority", least=-999, most=999) if c["priority"] else None,
                "person": known.person(c["person"]) if c["person"] else None,
                "note": c["note"],
            }
            one = have.get(c["job"])
            if one is None:
                kept.new.append(f.new(HandJob, aircraft=f.machine, name=c["job"], **values))
            elif f.update(one, **values):
                kept.changed[one.pk] = one
    return lambda _act: kept.write(
        HandJob,
        (
            "what", "craft", "hours_least", "hours_likely", "hours_most", "bench", "zone", "after", "not_before",
            "needs", "due", "stands_for", "priority", "person", "note",
        ),
    )  # fmt: skip


def left_open(f: ListFile) -> Writer:
    """Jobs left open, by the job and the day."""
    known = Known(f.machine)
    have = {(left.key, left.left_at) for left in JobLeft.objects.filter(act__aircraft=f.machine)}
    gathered = gather(f.machine)
    made = []
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["job"], c["left_on"], what=f"'{c['job']}' left on {c['left_on']}")
            key = next((k for k in gathered.keys_of(c["job"]) if k in gathered.keys), "")
            if not key:
                raise Wrong(f"There is no open job '{c['job']}': it is done, or is called otherwise. Correct job")
            left_at, primed_at = noon(f.day("left_on")), noon(f.day("primed_on"))
            assert left_at is not None
            if primed_at is not None and primed_at < left_at.replace(hour=0):
                raise Wrong(f"primed_on {c['primed_on']} lies before left_on {c['left_on']}. Correct the days")
            if c["bare"] and primed_at is None and not c["bare_because"]:
                raise Wrong("Metal was left bare: write primed_on, or in bare_because why it was not primed")
            about = gathered.about_job(key)
            on = Row.objects.select_related("place").filter(pk=about.row_id).first()
            hole = cells.whole(c["next_hole"], "next_hole", most=100_000) if c["next_hole"] else None
            if hole is not None and (on is None or not 1 <= hole <= on.place.capacity):
                raise Wrong(f"next_hole is {hole}: this job has no such hole")
            by, pieces = known.person(c["by"]), [known.piece(tag) for tag in cells.listed(c["bags"])]
            photo = keep_picture(f, c["file"]) if c["file"] else None
            if (key, left_at) in have:
                continue
            f.news("JobLeft", key, c)
            said = Leaving(
                next_words=c["next"], next_hole=hole, bare_where=c["bare"], bare_because=c["bare_because"],
                borrowed=cells.listed(c["borrowed"]), lies_at=c["lies_at"], note=c["note"],
            )  # fmt: skip
            made.append((by, key, gathered.network.by_key[key].what, on, said, pieces, photo, left_at, primed_at))

    def write(act: Act) -> None:
        for by, key, what, on, said, pieces, photo, left_at, primed_at in made:
            left = write_left(
                act, by=by, key=key, what=what, row=on, leaving=said, pieces=pieces, photo=photo, at=left_at
            )
            if said.bare_where and primed_at is not None:
                LeftAfter.objects.create(left=left, what="primed", at=primed_at, act=act)

    return write


def shipments(f: ListFile) -> Writer:
    """Shipments by number. Where each piece is now, its own list says; what came back is counted by people."""
    known, kept, lines = Known(f.machine), Kept(), Kept()
    have = {one.number: one for one in Shipment.objects.prefetch_related("lines__piece")}
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["shipment"], what=f"Shipment {c['shipment']}")
            vendor = known.vendor(c["vendor"])
            tags = cells.listed(c["tags"])
            if len(set(tags)) != len(tags):
                raise Wrong("tags names one tag twice. Write each once")
            pieces = [known.piece(tag) for tag in tags]
            back = f.day("back_on")
            sent = f.day("sent_on")
            values = {
                "process": c["process"],
                "sent_on": sent,
                "promised_on": f.day("promised_on"),
                "note": c["note"],
            }
            if back and sent and back < sent:
                raise Wrong(f"back_on {back} lies before sent_on {sent}. Correct the days")
            one = have.get(c["shipment"])
            if one is None:
                made = f.new(Shipment, number=c["shipment"], vendor=vendor, back_on=back, **values)
                lines.new += _lines(known, made, vendor, pieces)
                kept.new.append(made)
                continue
            if one.vendor_id != vendor.pk:
                raise Wrong(
                    f"Shipment {one.number} went to {one.vendor.name} in the record. Give this one its own number"
                )
            if {line.piece_id for line in one.lines.all()} != {piece.pk for piece in pieces}:
                there = ", ".join(line.piece.tag or "untagged" for line in one.lines.all())
                f.differs(
                    f"What went in {one.number}", ", ".join(tags), there, "What was sent stays as it was counted."
                )
            if one.back_on != back:
                f.differs(f"back_on of {one.number}", back or "empty", one.back_on or "empty", "Receive it on the outwork page.")  # fmt: skip
            if f.update(one, **values):
                kept.changed[one.pk] = one

    def write(act: Act) -> None:
        for one in kept.new:
            one.act = act
        kept.write(Shipment, ("process", "sent_on", "promised_on", "note"))
        lines.write(ShipmentLine)

    return write


def _lines(known: Known, one: Shipment, vendor: Vendor, pieces: list[Piece]) -> list[ShipmentLine]:
    """Write what went; a historic shipment that is back came back whole as far as the list says."""
    made = []
    for piece in pieces:
        at = {holding.holder_id for holding in known.at.get(piece.pk, ())}
        there = vendor.holder_id in at
        if one.back_on is None and not there:
            where = ", ".join(h.holder.name for h in known.at.get(piece.pk, ())) or "nowhere"
            raise Wrong(f"{piece} is at {where}, not at {vendor.code}. Write back_on, or correct where in its own list")
        made.append(
            ShipmentLine(
                shipment=one,
                piece=piece,
                count_out=piece.count_off,
                mass_out_g=piece.mass_g,
                count_back=None if there else piece.count_off,
            )
        )
    return made


def orders(f: ListFile) -> Writer:
    """Orders by number and what is ordered."""
    known, kept = Known(f.machine), Kept()
    have = {(one.number, one.what): one for one in Order.objects.all()}
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["order"], c["what"], what=f"'{c['what']}' of order {c['order']}")
            values = {
                "vendor": known.vendor(c["vendor"]),
                "size": known.size(c["fastener"]),
                "ordered_on": f.day("ordered_on"),
                "promised_on": f.day("promised_on"),
                "came_on": f.day("came_on"),
                "note": c["note"],
            }
            count = cells.whole(c["count"], "count", most=1_000_000)
            one = have.get((c["order"], c["what"]))
            if one is None:
                kept.new.append(f.new(Order, number=c["order"], what=c["what"], count=count, **values))
                continue
            if one.count != count:
                f.differs(f"The count of order {one.number}", count, one.count, "Order the rest anew.")
            if f.update(one, **values):
                kept.changed[one.pk] = one

    def write(act: Act) -> None:
        for one in kept.new:
            one.act = act
        kept.write(Order, ("vendor", "size", "ordered_on", "promised_on", "came_on", "note"))

    return write
