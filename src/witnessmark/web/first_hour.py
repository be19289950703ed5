"""The first hour: an empty record is a working page; help on every screen; everything that can be opened, in groups."""

import uuid
from typing import Any
from urllib.parse import urlsplit

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import Resolver404, URLPattern, path, resolve, reverse
from django.views.decorators.http import require_safe

from witnessmark.records.lookups.first_hour import standing
from witnessmark.records.models import Role
from witnessmark.web import asked
from witnessmark.web.help_words import HELP, help_for

# The foot of every page holds the few words of every day; all the rest stands here, by what it is for.
GROUPS = (
    (
        "Today",
        (
            ("bench", "On the bench"),
            ("open_jobs", "Jobs left open"),
            ("other_work", "What else to open"),
            ("learned", "What the hours say"),
        ),
    ),
    (
        "Pictures and pieces",
        (
            ("pictures_in", "Pictures in"),
            ("said", "Say what they are"),
            ("back", "Put something back"),
            ("tray", "Don’t-know tray"),
            ("unsorted", "Old pictures"),
            ("twins", "The same picture twice"),
            ("lists_in", "Old lists in"),
            ("waiting", "What waits on this phone"),
            ("aircraft", "Aircraft"),
            ("findings", "Findings"),
            ("rack", "A whole rack"),
            ("mat", "Mat"),
            ("mat_boxes", "Boxes for bags"),
        ),
    ),
    (
        "Seams and fasteners",
        (
            ("seams", "Seams"),
            ("survey", "Survey"),
            ("fastener", "What is this fastener?"),
            ("families", "Families of fasteners"),
            ("orders", "Orders"),
            ("tooling", "Tools"),
        ),
    ),
    (
        "Outside",
        (
            ("outwork", "Outwork"),
            ("pack", "Pack a shipment"),
            ("who_has_what", "Who has what"),
            ("outside", "Craftsmen outside"),
            ("certificates", "Certificates"),
            ("trips", "Trips"),
            ("hunts", "The hunt"),
        ),
    ),
    (
        "Reckon",
        (
            ("rivet", "One rivet, reckoned"),
            ("work_out:fit", "Fits"),
            ("work_out:bake", "Bakes"),
            ("growth", "Plating growth"),
            ("decorative", "Decorative chrome"),
            ("processes", "Process table"),
            ("work_out:substitution", "Substitute a material"),
        ),
    ),
    (
        "Plan and papers",
        (
            ("plan", "Plan"),
            ("forecast", "When it will fly"),
            ("timeline", "Timeline"),
            ("write_job", "Write down a job"),
            ("without_gaps", "Work without gaps"),
            ("what_if", "What if"),
            ("order_or_send", "Order or send now"),
            ("promises", "Promises"),
            ("calendar_links", "Calendar"),
            ("papers", "Papers"),
            ("since", "Since the last time"),
        ),
    ),
)
FOR_THE_LEAD = (("People", (("people", "Let someone in"), ("certificate", "The shop’s certificate"))),)
# What helps on the first morning, each on an empty record.
OFFERS = (
    ("fastener", "What is this fastener?", "Two figures in, a name and the next figure out."),
    ("blank_tags", "Print tags", "On paper, to laminate, or as a list to stamp."),
    ("pictures_in", "Take pictures", "A tag beside it, one picture, nothing typed."),
    ("lists_in", "Old lists in", "A spreadsheet or CSV with your own headings; each column is given a meaning by tap."),
    ("who_has_what", "Who has what", "What is out, with whom, since when, and promised for when."),
    (
        "rivet",
        "Rivet length and edge distance for one seam",
        "The sheets as they lie, the diameter, and it is reckoned with its working.",
    ),
    (
        "outwork",
        "The plater’s sheet",
        "What leaves together, what must not touch acid, and which bags could not be told apart afterwards.",
    ),
)


def _address(name: str) -> str:
    name, _, word = name.partition(":")
    return reverse(name, args=[word] if word else [])


def first_steps() -> dict[str, Any]:
    """How far the first tagged part is, for the steps that lead to it."""
    return {"stand": standing(), "tags": reverse("blank_tags")}


def first_page(request: HttpRequest) -> HttpResponse:
    """Draw what an empty record can do, and how far the first tagged part is."""
    shown = {
        **first_steps(),
        "act_id": uuid.uuid4(),
        "offers": [(_address(name), words, why) for name, words, why in OFFERS],
    }
    return render(request, "first_hour.html", shown)


def nothing_yet(request: HttpRequest, said: str) -> HttpResponse:
    """Say plainly that a screen has nothing to show yet, and where a new record begins."""
    return render(request, "nothing_yet.html", {"said": said})


@login_required
@require_safe
def first_hour(request: HttpRequest) -> HttpResponse:
    """Lead a new shop from nothing to its first tagged part."""
    return first_page(request)


@login_required
@require_safe
def more(request: HttpRequest) -> HttpResponse:
    """Name everything that can be opened."""
    groups = [*GROUPS, *(FOR_THE_LEAD if asked.me(request).role == Role.LEAD else ())]
    shown: list[tuple[str, list[tuple[str, str]]]] = [
        (head, [(_address(name), words) for name, words in links]) for head, links in groups
    ]
    return render(request, "more.html", {"groups": shown})


@require_safe
def help_screen(request: HttpRequest) -> HttpResponse:
    """Help for the screen the person came from, named by its address or by its name."""
    on = request.GET.get("on", "")
    back, screen = "", on
    if on.startswith("/") and not on.startswith("//"):
        try:
            screen, back = resolve(urlsplit(on).path).url_name or "", on
        except (Resolver404, ValueError):
            screen = ""
    found = help_for(screen)
    shown: dict[str, Any] = {
        "help": found,
        "all": HELP,
        "drawing": f"drawings/{found.drawing}.svg",
        "back": back,
        "shell": True,
    }
    return render(request, "help.html", shown)


urls: list[URLPattern] = [
    path("first/", first_hour, name="first_hour"),
    path("more/", more, name="more"),
    path("help/", help_screen, name="help"),
]
