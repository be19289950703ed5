"""The lists: their columns, which must be filled, and what each means; and empty ones to fill in."""

import csv
import io
from dataclasses import dataclass
from pathlib import Path

from witnessmark.calc.surface.finding_kinds import KINDS


@dataclass(frozen=True)
class Column:
    """One column: its name, what it means, an invented example, and whether every row needs it."""

    name: str
    what: str
    example: str
    needed: bool = False


@dataclass(frozen=True)
class Form:
    """One list: its file is `name`.csv."""

    name: str
    title: str
    columns: tuple[Column, ...]

    @property
    def file(self) -> str:
        return f"{self.name}.csv"


def _form(name: str, title: str, *columns: str) -> Form:
    """Read columns written as `name! | what it means | example`; ! marks what every row needs."""
    made = []
    for text in columns:
        column, what, example = (part.strip() for part in text.split("|"))
        made.append(Column(column.rstrip("!"), what, example, column.endswith("!")))
    return Form(name, title, tuple(made))


SIDE = "L, R, C (centre) or LR (one on each side)"
SIZE = "as you write it: 5/32, No. 30, 3.5 mm, 0.032 in; a bare number is mm"
DAY = "a day: 2026-05-12, 12.05.2026, 12/05/2026 or 12 May 2026"

# In the order of filling in.
FORMS = (
    _form(
        "aircraft",
        "The aircraft: one row.",
        "aircraft! | its name in the shop | Grey Teal 3",
        "maker | who built it | Harbour Works",
        "type | its type | HW-2",
        "works_number | the works number | 3",
        "year | the year it was built | 1937",
        f"arrived_on | {DAY} | 2026-01-12",
        "today | only for a demonstration that plays on a fixed day | ",
        "shop | your shop's name, as printed on papers | Slip End Works",
        "shop_hour | what an hour of the shop costs, with its currency; the decision sheet prices hours by it | 62 EUR",
        f"shop_hour_since | {DAY}, from which that holds | 2026-01-01",
    ),
    _form(
        "zones",
        "Zones: what is opened, inspected and closed as one.",
        "zone! | its number | 100",
        "name! | what it is called | hull bottom",
    ),
    _form(
        "people",
        "People. The lead loads these lists.",
        "name! | how they are called | Ada",
        "role! | lead, mechanic, inspector, owner or craftsman | lead",
        "craft | sheet metal, wood, machining, fitting, inspection ... | sheet metal",
        "hours_per_day | hours at the bench in a day | 8",
        "days | Mon-Fri, or Tue,Thu, or none | Mon-Fri",
        "continuous | yes: once begun he wants work without gaps | no",
        "note | anything | ",
    ),
    _form(
        "vendors",
        "Vendors: shops outside. Days are working days from door to door.",
        "code! | a short code, used in the other lists | PW",
        "name! | the shop's name | Pewter Lane Platers",
        "does | what they do | zinc plating, bake",
        "least_days! | when all goes well | 5",
        "likely_days! | most often | 10",
        "most_days! | when it goes badly | 30",
        "min_order | the least they take; rivets also `2 kg per size` | 5 kg",
        "baskets | separate baskets they run of one shipment | 2",
        "note | anything | ",
        "price_least | the least they charge for a shipment | 60",
        "price_per_kg | what they charge a kilogram | 12.50",
        "price_per_piece | what they charge a piece | ",
        "price_per_dm2 | what they charge a square decimetre | ",
        "currency | three letters; with a price | EUR",
        "price_said_on | the day they said it; with a price | 2026-01-15",
        "phone | the number to ring | +44 1632 960014",
    ),
    _form(
        "benches",
        "Benches, booths, fixtures, ovens: what a job needs and how many jobs it holds at once.",
        "bench! | its name | bench 1",
        "what | what it is for | sheet metal",
        "capacity | jobs at once, a whole number | 1",
    ),
    _form(
        "fasteners",
        "Fasteners: every size you use, by a code of your own.",
        "code! | your code | R120-3.0",
        "kind! | what it is | flush rivet",
        "head_deg | the angle of a flush head in degrees | 120",
        f"diameter! | the shank, {SIZE} | 3.0 mm",
        f"pitch | of a thread, {SIZE} | ",
        "family | what it belongs to | house metric",
        "alloy | what it is made of | dural",
        "confusable_with | what it is easily taken for | 1/8 in",
        "pack | how many are sold together | 1000",
        "vendor | a code of vendors.csv | ",
        "source | where you know it from | norm sheet 4",
        "status | measured, drawn, ... | measured",
    ),
    _form(
        "measured_sizes",
        "Sizes of a norm that stands in no table, as you measured them: found from then on like any other.",
        "code! | your name for it | YARD-3.0",
        "family! | the norm it is of | the yard's own",
        "form! | flush, domed, round, universal or thread | flush",
        f"shank! | the shank, or the outside of the thread, {SIZE} | 3.0 mm",
        f"head | diameter of a rivet's head, {SIZE} | 5.7",
        "head_deg | angle of a flush head in degrees | 120",
        f"head_height | {SIZE} | ",
        "pitch | of a thread: 1.06, 10.6 over 10, 24 tpi | ",
        f"across_flats | width of the hexagon, {SIZE} | ",
        "measured_on | on what | twelve from the keel box",
    ),
    _form(
        "routes",
        "Routes: the steps that parts of one kind go through. One step a row.",
        "route! | the route's name | steel fitting",
        "step! | its number: 1, 2, 3 | 1",
        "name! | what is done | Cadmium plate",
        "who! | a craft, a vendor's code, or inspection | sheet metal",
        "hours_least! | when all goes well; working days for a vendor | 0.5",
        "hours_likely! | most often | 1",
        "hours_most! | when it goes badly | 3",
        "bench | a name of benches.csv | bench 1",
        "cures_hours | how long it must stand afterwards | ",
        "needs | tags, orders or words (what @ where) that must be there, separated by ; | die 3.0 @ drawer 4",
        "next_within_hours | the next step begins at most so long afterwards: prime within 4 hours of etch | ",
        "caution | what can hurt | Gloves.",
        "tag_medium | what the tag must be made of for this step | metal tag",
    ),
    _form(
        "places",
        "Places that are not a part's own seat: bolt holes, pipes, wires, equipment.",
        "mark! | its mark | 1-20-101",
        f"side! | {SIDE} | LR",
        "zone! | a zone of zones.csv | 100",
        "name | what it is | Keel bolts",
        "station | where it is | 420",
        "capacity | how many go there, a whole number | 4",
        "wants | a code of fasteners.csv, or words | R120-3.0",
        "parent | the mark of the place it is part of | ",
        "known | measured, drawn, inferred or mirrored | measured",
    ),
    _form(
        "parts",
        "Parts. Each row is a place on the aircraft and the part that belongs there.",
        "part_no! | the part's number, which is the mark of its place | 1-20-001",
        "name! | what it is | Keel bracket",
        "zone! | a zone of zones.csv; several with / | 100",
        "station | where it is | 420",
        "material | what it is made of | steel 1.5",
        "strength_mpa | its strength, if known: 1100, 160 ksi | 1100",
        "qty | how many on each side; more than 1 makes a counted bag | 1",
        f"side! | {SIDE}; LR makes two places and two parts | LR",
        "tag | the tag on it; two with / when side is LR | 0001/0002",
        "mass_g | the mass of one side's, in g unless you write the unit | 240",
        "finish | paint, plate | silvery plate",
        "as_found | its condition | pitted",
        "decision | reuse, repair, remake, substitute or scrap, then a note after a comma | reuse",
        "route | a name of routes.csv | steel fitting",
        "step_done | how many steps are done | 1",
        "where! | in place, a shelf or box, a vendor's code, a person, or missing | shelf A1",
        "set | parts that stay together | ",
        "note | anything | ",
    ),
    _form(
        "bags",
        "Bags of counted hardware that came off.",
        "tag! | the tag on the bag | B-001",
        "what! | what is in it | keel bolts",
        "count! | how many came off, a whole number | 8",
        "fastener | a code of fasteners.csv | R120-3.0",
        "mass_g | the mass of all of them, in g unless you write the unit | 40",
        "zone! | a zone of zones.csv; several with / | 100",
        "goes_to | mark side:count, separated by ; | 1-20-101 L:4; 1-20-101 R:4",
        "where! | in place, a shelf or box, a vendor's code, or a person | PW",
        "state | counted, cleaned ... | counted",
        "note | anything | ",
    ),
    _form(
        "seams",
        "Rows of rivet holes, one row a line.",
        "seam! | the seam it belongs to | Bottom skin to keel",
        "row! | the row's own mark | S-01",
        "side! | L, R or C | L",
        "zone! | a zone of zones.csv | 100",
        "from_station | where it begins | 420",
        "to_station | where it ends | 1260",
        "holes! | how many holes, a whole number | 64",
        f"pitch | hole to hole, {SIZE} | 20 mm",
        f"edge | to the sheet's edge, {SIZE} | 9.5",
        "fastener | a code of fasteners.csv | R120-3.0",
        "looked_at | yes, no, under paint or cannot reach | yes",
        "note | anything | ",
    ),
    _form(
        "stacks",
        "The sheets of each row. Layer 1 lies under the manufactured head.",
        "row! | a row of seams.csv | S-01",
        "layer! | 1, 2, 3 | 1",
        "name! | what the sheet is | Bottom skin",
        "part_no | its part number | ",
        "material | what it is made of | clad dural",
        f"thickness! | {SIZE} | 1.2",
        "known | measured, drawn, inferred or mirrored | measured",
    ),
    _form(
        "holes",
        "What stands in the holes of a row and what was read there.",
        "row! | a row of seams.csv | S-01",
        "holes! | numbers: 1-42, 45 | 1-42, 45",
        "state! | riveted, oversize, temporary, empty or open (open waits: the note says for what) | riveted",
        f"measured | the hole, {SIZE} | ",
        f"head | width of the head that sat there, {SIZE} | ",
        f"edge | to the sheet's edge, {SIZE} | ",
        "layer | the sheet it was read in | ",
        "note | anything | ",
    ),
    _form(
        "findings",
        "Findings: what is wrong.",
        "finding! | its number | F-1",
        "on! | a tag, mark side, row:hole, or zone 100 | B-001",
        "what! | what was seen | Two bolts bent",
        f"seen_on | {DAY} | 2026-02-03",
        "by | who saw it | Ada",
        "measured | what was measured | 0.4 mm",
        "limit_words | the limit, in words | ",
        "state | open, decided or closed | open",
        "note | anything | ",
        f"kind | one of {', '.join(KINDS)} | bent",
        "opened | yes: it showed only when something was opened; no: seen before | no",
        "figures | figure=what was measured, separated by ; | bend_mm=2 ± 0.5 mm; work_hours=3",
        "engineering | whom: what is asked; until an answer is written down it is listed as waiting | ",
    ),
    _form(
        "choices",
        "What is reckoned of reuse, repair, remake or substitute for a piece; the newest stands.",
        "piece! | its tag | 0001",
        "choice! | reuse, repair, remake or substitute | remake",
        "what! | hours, money, mass_g, strength, stiffness; of a substitute material, thickness_mm, touches ... | hours",
        "typed! | what is reckoned: 14, 2300 EUR, 2024-T3, 0.8 mm | 14",
    ),
    _form(
        "jobs",
        "Jobs that no part, row or finding says by itself.",
        "job! | a short key | look-s-01",
        "what! | what is to be done | Look at row S-01",
        "craft! | whose work it is | sheet metal",
        "hours_least! | when all goes well | 0.5",
        "hours_likely! | most often | 1",
        "hours_most! | when it goes badly | 2",
        "bench | a name of benches.csv | bench 1",
        "zone | a zone of zones.csv | 100",
        "after | job keys that come before, separated by ; | ",
        f"not_before | {DAY} | ",
        "needs | tags, orders or words (what @ where) that must be there, separated by ; | R-08; clecos @ rack B3",
        f"due | {DAY} by which it should be done | ",
        "stands_for | whose own jobs this is, separated by ;: a row, tag:step, a finding | ",
        "priority | a whole number; 1 goes first | 2",
        "person | who must do it, a name of people.csv | ",
        "note | anything | ",
    ),
    _form(
        "left_open",
        "Jobs left open: where somebody laid one down, so that another can go on.",
        "job! | a key of jobs.csv, a row of seams.csv, or tag:step | look-s-01",
        f"left_on! | {DAY} | 2026-03-04",
        "by! | who left it, a name of people.csv | Ada",
        "next! | what comes next, in a few words | Measure the third head",
        "next_hole | the next hole of a row, a whole number | ",
        "bare | where metal was left bare | edge at hole 43",
        f"primed_on | when that was primed, {DAY} | 2026-03-04",
        "bare_because | why it was not primed | ",
        "bags | tags of the loose bags, separated by ; | B-001",
        "borrowed | what is borrowed from it or by it, separated by ; | ten clecos, to the right wing",
        "lies_at | where it all lies | fixture",
        "file | a picture of the bench, a file in the folder photos | keel-1.jpg",
        "note | anything | ",
    ),
    _form(
        "hours",
        "Hours worked, where they were kept on paper: estimates are corrected by them. By tap they are booked on the job.",
        "job! | tag:step, done or not; a row of seams.csv; a key of jobs.csv | look-s-01",
        "person! | who worked, a name of people.csv | Ada",
        f"day! | {DAY} | 2026-03-03",
        "hours! | hours of that day on this job | 0.5",
    ),
    _form(
        "shipments",
        "What went to vendors. No back_on: still there.",
        "shipment! | its number | S-001",
        "vendor! | a code of vendors.csv | PW",
        "process! | what is done to it | zinc plate, bake",
        f"sent_on! | {DAY} | 2026-03-02",
        f"promised_on | {DAY} | 2026-03-20",
        f"back_on | {DAY} | 2026-03-18",
        "tags! | what went, separated by ; | B-001; 0001",
        "note | anything | ",
    ),
    _form(
        "orders",
        "What was or will be ordered. No ordered_on: not ordered yet.",
        "order! | its number | O-001",
        "vendor! | a code of vendors.csv | PW",
        "what! | what is ordered | Rivets 3.0 x 8",
        "fastener | a code of fasteners.csv | R120-3.0",
        "count! | how many, a whole number | 500",
        f"ordered_on | {DAY} | 2026-02-10",
        f"promised_on | {DAY} | 2026-03-10",
        f"came_on | {DAY} | ",
        "note | anything | ",
    ),
    _form(
        "certificates",
        "What each shipment must bring back. No came_on: not here; what is back waits in quarantine.",
        "shipment! | a shipment of shipments.csv | S-001",
        "kind! | bake, test report, conformity or material | conformity",
        "why | what must stand in it | what was put on",
        "number | its number | C-17",
        f"came_on | {DAY} | 2026-03-19",
    ),
    _form(
        "buckets",
        "Bags of one shipment that were mixed in one bucket. No count_back: it is at the vendor's.",
        "shipment! | a shipment of shipments.csv | S-001",
        "tags | the bags that were mixed, separated by ;, all of the shipment's if empty; their where is the vendor's code | B-001",
        "count_back | how many came back in it, a whole number | 7",
        "mass_back | what they weigh together | 35 g",
        "coat_um | the coat, where the certificate says it, in micrometres | 8",
        "where | the shelf or box where the bucket lies | shelf B1",
    ),
    _form(
        "hunts",
        "What is looked for: missing, wrong for the type, or wanted better.",
        "hunt! | its number | H-1",
        "what! | what is looked for | Tail lamp",
        "why! | missing, wrong or better | missing",
        "on | the tag of what is there, or the mark and side of its place | 1-20-001 L",
        "measurements | what was measured | 38 mm between its screws",
        "also_do | what would also do | any of 24 V",
        f"until | how long it may wait, {DAY} | 2026-09-01",
        "waits | the mark and side of what cannot go on without it | 1-20-001 R",
        "waits_for | what that waits to be told | its load in A",
        "stores | what the search of the stores gave; empty: not searched | shelves A to C, not there",
        "asked | who was asked | Old Boathouse",
        f"asked_on | {DAY} | 2026-04-02",
        "said | what he said | will look",
        f"again | when to ask again, {DAY} | 2026-05-02",
    ),
    _form(
        "trips",
        "Planned trips: a stop a row, in the order driven.",
        "trip! | its number | T-1",
        f"day! | {DAY} | 2026-05-13",
        "driver! | a name of people.csv | Ada",
        "leaves_at | the time of day | 07:00",
        "stop! | a code of vendors.csv | PW",
        "while_waiting | yes where they test while one waits | no",
        "leave | tags to be left there, separated by ; | 0001",
        "process | what is to be done with them | zinc plating",
        "box | in which box they travel | box 1",
        "fetch | tags to be fetched there, separated by ; | ",
    ),
    _form(
        "readings",
        "Readings of small pieces: ten of each bag before it leaves tell its bolts apart when they come back mixed.",
        "tag! | the tag of the bag or piece; of a bucket M- and its shipment's number | B-001",
        "item | its number within the bag | 1",
        "place | mark side, where it sat, if that is known | ",
        "what! | diameter_mm, length_mm, head_width_mm, ten_pitches_mm, head_angle_deg, mass_g ... | diameter_mm",
        "value! | what was read | 7.98",
        "uncertainty | of one reading, in the same unit; empty: the usual one | 0.03",
    ),
    _form(
        "seats",
        "Seats of shrink fits: the inner part by its tag, and what it is shrunk into.",
        "tag! | the tag of the inner part | 0001",
        "inner | its metal, if not as in parts.csv | steel",
        "outer! | alloy and temper of the outer part, with its coats | AZ63A casting",
        "seat! | bore of the outer part | 250 mm",
        "outside! | outside of the outer part round the seat | 290 mm",
        "length! | length of the seat | 60 mm",
        "bore | bore of the inner part; empty where it is solid | 235 mm",
    ),
    _form(
        "called_out",
        "By what a plating, film or bake is done, as the design engineer called it out.",
        "tag! | the tag of the part | 0001",
        "step! | the number of the step in its route | 1",
        "spec | specification of the plating or film | QQ-P-416F",
        "type | as that specification numbers its types | II",
        "class | as that specification numbers its classes | 2",
        "bake | specification of the bake; empty: the plating's own, or none | ASTM B850-98(2009)",
        "section | thickest section, if the bake asks it | 12 mm",
        "temper | what heat it may see without losing its temper | 450 F",
    ),
    _form(
        "photos",
        "Photographs: the files lie in the folder photos beside these lists.",
        "file! | the file's name | keel-1.jpg",
        "subject! | a tag, mark side, a finding's number, or zone 100 | 0001",
        f"taken_on | {DAY} | 2026-01-14",
        "by | who took it | Ada",
        "what | what it shows | Before it was taken off",
        "ring | of a finding's picture: from the left; from the top; half its width; half its height, in % | ",
    ),
)
FORM = {form.name: form for form in FORMS}


def template(form: Form) -> str:
    """Write the empty list that explains itself: lines that start with # are comments and are never read."""
    out = io.StringIO()
    lines = csv.writer(out, lineterminator="\n")
    out.write(f"# {form.title}\n# Lines that start with # are not read. Every row needs the columns marked *.\n")
    for column in form.columns:
        out.write(f"# {column.name}{' *' if column.needed else ''}: {column.what}\n")
    example = io.StringIO()
    csv.writer(example, lineterminator="").writerow([column.example for column in form.columns])
    out.write(f"# For example (invented): {example.getvalue()}\n")
    lines.writerow([column.name for column in form.columns])
    return out.getvalue()


def write_templates(folder: Path) -> tuple[list[str], list[str]]:
    """Write the empty lists; give the names written and the names that were there already and stay as they are."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "photos").mkdir(exist_ok=True)
    written, kept = [], []
    for form in FORMS:
        try:
            with (folder / form.file).open("x", encoding="utf-8", newline="") as out:
                out.write(template(form))
        except FileExistsError:
            kept.append(form.file)
        else:
            written.append(form.file)
    return written, kept
