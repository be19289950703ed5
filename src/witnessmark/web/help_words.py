"""What help says on each kind of screen: what it is for, what to do on it, what it never does; each with its drawing."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Help:
    """Help for one kind of screen; `drawing` names the file among templates/drawings, `shows` what it draws."""

    title: str
    says: tuple[str, ...]
    drawing: str
    shows: str
    screens: tuple[str, ...]


HELP = (
    Help(
        "On the bench: what to do today.",
        (
            "The first sentence is the one to act on. Under it each mechanic has his jobs, the nearest first, with what each waits for.",
            "Press Started or Finished as you go; press Stuck, because, and say why: the plan moves at once.",
            "On an empty record this page leads to the first tag and the first picture instead.",
        ),
        "bench",
        "A list whose first line is marked, a part and its tag beside it.",
        ("bench", "job", "open_jobs", "other_work", "learned", "calendar_links", "help", "more", "first_hour"),
    ),
    Help(
        "Pictures in: the picture is the entry.",
        (
            "Lay a numbered tag beside the bag or the part, so that the code lies flat, and take one picture. Nothing is typed.",
            "Every tag that can be read gets the picture. A number that hangs on nothing yet begins a piece; a picture without a tag is kept, unsorted.",
            "Without a signal it waits on the phone, also with the browser closed, and goes once. Each screen says how many wait.",
        ),
        "picture",
        "A tag with its code beside a bag, inside the frame of a phone.",
        ("pictures_in", "waiting", "spoken", "sound", "photo"),
    ),
    Help(
        "Say later what came in by its picture.",
        (
            "A few pieces at a time with their picture: give name, count and place, and leave empty what nobody knows yet.",
            "Place not yet known is an ordinary state. It is counted, and it stops nothing.",
            "To put back, take the tag's picture: where it sat, which way up and against what comes out.",
        ),
        "say",
        "A picture of a bag with three lines beside it, two of them filled in.",
        ("said", "back", "tray", "tray_find"),
    ),
    Help(
        "Old pictures: given to what they show, a few at a time.",
        (
            "Choose what they show above: a zone, a place, a piece by its tag. Swipe a picture to the right and it goes there; to the left, not now. The words under it do the same.",
            "What was taken within minutes is offered together: untick what is something else. The last word can be taken back.",
            "The day is the camera's, else the one in the name, else the file's. Two pictures that may be the same stand side by side; nothing is deleted.",
        ),
        "sort",
        "A stack of pictures, the front one slid to the right towards a wing.",
        ("unsorted", "twins", "old_in"),
    ),
    Help(
        "A piece: where it goes, where it is, where it has been.",
        (
            "Photographs first. Take it off before it moves, with a picture that shows its tag and its mates.",
            "A finding needs a decision by a named person before the piece goes on; other pieces go on meanwhile.",
            "A mistake is taken back by a new act. Both stay to be read.",
        ),
        "piece",
        "A fitting with its tag, an arrow from its place to a shelf.",
        (
            "piece",
            "tag",
            "route",
            "take_off",
            "decision",
            "finding",
            "findings",
            "see_finding",
            "patterns",
            "find",
            "rack",
        ),
    ),
    Help(
        "Plating, bakes and shrink fits of a part.",
        (
            "A route is proposed from what the record holds, and asks what it does not hold. Nothing is plated whose strength nobody knows.",
            "Call out at a step by what it is done: specification, type, class, bake. It stands on the sheet, the instruction and the job card.",
            "For a shrink fit measure the outside diameter after plating: the heat, the seconds to slide it home, or the refusal come out.",
        ),
        "shrink",
        "A ring above the bore of a wheel, with the gap between them marked.",
        ("propose_route", "called_out", "shrink", "processes", "growth", "decorative"),
    ),
    Help(
        "The aircraft by zones and places.",
        (
            "A place is where a piece goes on the aircraft. Each is filled, empty for a known reason, or missing.",
            "Left and right are part of a place: the piece of the other side is refused.",
            "Zones and places come in by lists. Without them pieces are recorded all the same.",
        ),
        "zones",
        "An outline from above with one zone hatched.",
        ("aircraft", "zone", "place"),
    ),
    Help(
        "Seams and their rows of holes.",
        (
            "Each hole holds one fastener: the right one, a named temporary one, or none for a known reason.",
            "The row is drawn to scale. Ring: empty. Ring with a cross: temporary. Broken ring: not looked at.",
            "A row that nobody looked at is never counted in an order.",
        ),
        "seam",
        "A row of holes: filled, temporary, empty and not looked at.",
        ("seams", "seam", "seam_rivet", "row", "register"),
    ),
    Help(
        "Survey: which rows to look at before the order leaves.",
        (
            "Measure a few holes of a row with a calliper: it may type the figures by itself.",
            "The page says which row to look at next, and how likely a size is that nobody has seen.",
            "What is left open is accepted by a named person, with his reason.",
        ),
        "survey",
        "A calliper across the head of a rivet.",
        ("survey", "row_survey", "measure"),
    ),
    Help(
        "What is this fastener?",
        (
            "Put in two figures, such as the hole and the head. A name comes out, how sure it is, and which figure to measure next.",
            "It needs no record. Sizes read as you write them: 5/32, No. 30, 3.5 mm, 0.032 in.",
            "A family that nobody has described can be added from measurement.",
        ),
        "fastener",
        "A rivet from the side with its two figures: head and shank.",
        ("fastener", "families"),
    ),
    Help(
        "One rivet, reckoned.",
        (
            "Write the sheets of one seam, head side first, like 1.2 + 2.0, and the diameter: its length comes out, by both usual ways.",
            "Write the distance from the hole to the edge and it stands beside the guidance, in diameters.",
            "The working is one press away, with its source. The engineer and the person who signs decide.",
        ),
        "rivet",
        "Two sheets with a rivet through them; grip, length and edge distance are marked.",
        ("rivet", "work_out", "working", "rivet_drawing", "joint_drawing"),
    ),
    Help(
        "Outwork: what is away, with whom, since when.",
        (
            "Pack what leaves together and see beforehand which bags could not be told apart if they came back mixed.",
            "The plater's sheet is printed from the shipment, with counts, mass and what must not touch acid.",
            "When it comes back: count, weigh, and measure what lies mixed. What is short has a name.",
        ),
        "outwork",
        "Bags in a box, an arrow to a bath and one back.",
        (
            "outwork",
            "shipment",
            "pack",
            "certificates",
            "outside",
            "craftsman",
            "sort",
            "whose",
            "promises",
            "apart",
            "confirm",
            "outside_link",
        ),
    ),
    Help(
        "Old lists come in under your own headings.",
        (
            "Choose a file: CSV, XLSX or ODS. Each column is proposed a meaning, by its heading or by what stands in it; change it by tap.",
            "Try it first: every row says how it would come out, and nothing is written. Then take it in. A refused row changes nothing else.",
            "Refused rows come back as a CSV with the reason in a last column. What the headings meant is remembered; the file is kept.",
        ),
        "lists",
        "A sheet with four columns, an arrow from each heading to a word.",
        ("lists_in", "list_in"),
    ),
    Help(
        "Who has what: what is out, and whom to ring today.",
        (
            "One line a thing, in your words: what, with whom, since when, promised for when. Days as you say them: Friday, in 8 weeks, 12 May.",
            "Whom to ring stands first, with the reason. Ring, then press what they say: the new day is kept, the old one stays in the history.",
            "A mistake is taken back with one press. Which piece a thing is may be said later, by its tag.",
        ),
        "who",
        "A list of four lines, an arrow from the third to a telephone.",
        ("who_has_what",),
    ),
    Help(
        "Trips and the hunt.",
        (
            "A trip puts the stops in order and says what goes into the van first. At the counter each sheet works without a signal.",
            "The hunt keeps what is missing or wrong for the type: whom you asked, what they said, when to ask again.",
            "A purchase is held back while a find on the tray could be the missing thing.",
        ),
        "trip",
        "A road with three stops and a van.",
        ("trips", "trip", "stop", "hunts", "hunt", "wrong"),
    ),
    Help(
        "Orders: what to buy, and by when it must leave.",
        (
            "Sizes and lengths come from the rows that were looked at, with spares by the chance of running short.",
            "What holds the order is named first: rows not looked at, layers not measured.",
            "Nothing is ordered by itself. You say that it left, and what came.",
        ),
        "order",
        "Rivets of three lengths in boxes with their counts.",
        ("orders", "tooling", "receive"),
    ),
    Help(
        "The plan: what comes when, and what it hangs on.",
        (
            "Dates are chances: half the chance by one day, four in five by a later one.",
            "Press why, and it names what a job waits for, and what would shorten it.",
            "What if changes nothing: it shows the end before and after.",
            "Press who does a job to give it to somebody, to a day, or to let it wait for another; what cannot be kept is named.",
        ),
        "plan",
        "Bars along a line of days, the span between two dates hatched.",
        ("plan", "forecast", "timeline", "why", "what_if", "order_or_send", "by_hand", "write_job", "without_gaps"),
    ),
    Help(
        "Papers: black on white, at full size.",
        (
            "Print at full size, not fitted to the page: tags and labels are measured by it.",
            "Each paper says the day it was printed. An older one is not to be trusted.",
            "Choose what a tag is made of by what the piece goes through: paper burns and acid eats it.",
        ),
        "paper",
        "A sheet of tags with one cut out.",
        ("papers", "paper", "tags", "blank_tags", "tags_paper"),
    ),
    Help(
        "Since the last time: a copy for the owner, a copy for the public.",
        (
            "It tells what happened since a day, in the order you would say it. Tick what goes in, look at it, then send it.",
            "The owner’s copy has hours, money and decisions wanted. For the public no picture and no typed word goes in unless you tick it.",
            "The lead mechanic sends a link that runs out. What was sent stays as it was, and the link can be ended.",
        ),
        "since",
        "The same fitting before and after, side by side, and a page that leaves by a link.",
        ("since", "kept_copy", "copy"),
    ),
    Help(
        "The mat: one photograph counts and measures.",
        (
            "Print the mat, lay the hardware on it without touching, and take one picture from above.",
            "Each piece is measured and grouped by size; you say which group goes into which bag.",
            "Boxes for bags: a sheet with each bag's tag printed in its box, so that one picture holds twelve bags and none is mixed up.",
            "What cannot be told is named. Measure those by hand.",
        ),
        "mat",
        "A mat with marks at its corners and small hardware on it, ringed by size.",
        ("mat", "mat_reading", "mat_boxes", "mat_box_sheet", "mat_waits", "mat_print", "mat_picture"),
    ),
    Help(
        "People: who can come in.",
        (
            "The lead mechanic makes a link; its code is read by the other phone's camera. It opens once, within a day.",
            "There are no passwords. Every act says who did it and when.",
            "On the shop's network phones take the shop's certificate once.",
        ),
        "people",
        "One phone reads a code off another.",
        ("people", "begin", "sign_in", "signed_in", "certificate"),
    ),
)
BY_SCREEN = {screen: each for each in HELP for screen in each.screens}


def help_for(screen: str | None) -> Help:
    """Give the help of a screen by the name of its address; the bench's for one that has none of its own."""
    return BY_SCREEN.get(screen or "", HELP[0])
