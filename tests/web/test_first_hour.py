"""The first hour: every screen opens on an empty record with a plain sentence; help and the way on from each."""

import re
import uuid
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import URLPattern, reverse

from tests.records.shop import make_shop
from tests.records.test_racks import picture
from tests.support.pages import words
from witnessmark.records.actions.people import begin
from witnessmark.records.actions.plan_by_hand import Written, write_job
from witnessmark.records.models import Aircraft, Person, Vendor
from witnessmark.web.first_hour import FOR_THE_LEAD, GROUPS, OFFERS
from witnessmark.web.help_words import BY_SCREEN, HELP
from witnessmark.web.urls import urlpatterns

pytestmark = pytest.mark.django_db
NO_SCREEN = {"sign_out", "service_worker", "authority"}
PLAIN = [
    each.name
    for each in urlpatterns
    if isinstance(each, URLPattern) and each.name and "<" not in str(each.pattern) and each.name not in NO_SCREEN
]


@pytest.fixture
def lead() -> Client:
    client = Client()
    client.force_login(begin(name="First"))
    return client


@pytest.mark.parametrize("name", PLAIN)
def test_every_screen_opens_on_an_empty_record(lead: Client, name: str) -> None:
    answer = lead.get(reverse(name))
    if answer.status_code == 302:
        answer = lead.get(answer["Location"])
    assert answer.status_code == 200, answer.content[:500]
    if answer["Content-Type"].startswith("text/html"):
        heading = re.search(r"<h1[^>]*>(.*?)</h1>", answer.content.decode(), re.DOTALL)
        assert heading
        assert heading[1].strip().endswith((".", "?", "!"))


@pytest.mark.parametrize(("name", "word", "why"), OFFERS)
def test_what_is_offered_on_the_first_morning_opens(lead: Client, name: str, word: str, why: str) -> None:
    page = lead.get("/")
    assert page.status_code == 200
    assert word in words(page)
    assert lead.get(reverse(name)).status_code == 200
    assert not Aircraft.objects.exists()


def test_one_rivet_is_reckoned_on_an_empty_record(lead: Client) -> None:
    assert "edge" in words(lead.get("/rivet/?l_stack=1.0+%2B+2.5&l_d=3.0&l_edge=5.4"))
    assert lead.get("/fastener/?hole_mm=3.3&form=flush").status_code == 200


def test_the_first_page_says_how_far_it_is(lead: Client, tmp_path: Path, settings: object) -> None:
    settings.DATA = tmp_path  # type: ignore[attr-defined]
    assert "The record is empty. Begin with one bag and one picture." in words(lead.get("/"))
    sent = SimpleUploadedFile("a.png", picture(["W-001"]))
    lead.post("/in/", {"act_id": str(uuid.uuid4()), "picture": sent})
    page = words(lead.get("/"))
    assert "1 piece is on record, with 1 picture." in page
    assert "The last one: W-001." in page
    assert "1 waits for name, count or place" in page


def test_with_an_aircraft_the_bench_speaks_and_the_guide_stays(lead: Client) -> None:
    make_shop()
    assert "From nothing to the first tagged part" not in words(lead.get("/"))
    assert "From nothing to the first tagged part" in words(lead.get("/first/"))


@pytest.mark.parametrize("each", HELP, ids=[each.drawing for each in HELP])
def test_help_has_words_and_a_drawing_of_its_own(lead: Client, each: object) -> None:
    screen = each.screens[0]  # type: ignore[attr-defined]
    page = lead.get(f"/help/?on={screen}").content.decode()
    assert each.title in page  # type: ignore[attr-defined]
    assert re.search(r'<svg viewBox="0 0 320 160" role="img" aria-label="[^"{]+">', page)


def test_no_two_helps_share_a_drawing_or_a_screen() -> None:
    assert len({each.drawing for each in HELP}) == len(HELP)
    assert len(BY_SCREEN) == sum(len(each.screens) for each in HELP)


def test_every_screen_that_can_be_opened_has_help_of_its_own_kind() -> None:
    listed = {name.partition(":")[0] for _, links in (*GROUPS, *FOR_THE_LEAD) for name, _ in links}
    assert listed <= set(BY_SCREEN)


@pytest.mark.parametrize("on", ["/seam/C2/L/", "/seams/"])
def test_help_speaks_of_the_screen_it_was_asked_on_and_leads_back(lead: Client, on: str) -> None:
    page = lead.get(f"/help/?on={on}").content.decode()
    assert "Seams and their rows of holes." in page
    assert f'href="{on}"' in page


@pytest.mark.parametrize(
    "on", ["//elsewhere.example/", "https://elsewhere.example/", "/no/such/", "javascript:x", "\u2028", ""]
)
def test_help_leads_back_to_our_own_screens_alone(lead: Client, on: str) -> None:
    answer = lead.get("/help/", {"on": on})
    assert answer.status_code == 200
    assert "Back to where you were" not in answer.content.decode()


def test_more_names_what_the_foot_does_not_and_each_opens(lead: Client) -> None:
    page = lead.get("/more/").content.decode()
    for link in re.findall(r'<a class="word" href="(/[^"?#]*)"', page):
        assert lead.get(link).status_code in (200, 302), link
    assert "Let someone in" in page
    shop = make_shop()
    other = Client()
    other.force_login(shop.mechanic)
    assert "Let someone in" not in other.get("/more/").content.decode()
    assert Client().get("/more/").status_code == 302


def test_after_rows_of_an_own_list_the_first_page_still_leads_on(lead: Client) -> None:
    shop = make_shop()
    Vendor.objects.filter(pk=shop.vendor.pk).update(least_days=0, likely_days=0, most_days=0)
    Aircraft.objects.update(maker="", type="", year=None)
    page = words(lead.get("/"))
    assert "Lay one beside the bag or the part." in page and "Write down a job" in page
    assert "Nobody of" not in page and "vendors.csv" not in page
    assert "names no time" in page and "bring a list of vendors with their days at Old lists in" in page
    seen = words(lead.get("/aircraft/"))
    assert "A place has nothing to go in" in seen and " . A place" not in seen and "None" not in seen


def test_a_bench_with_a_job_shows_no_first_steps(lead: Client) -> None:
    shop = make_shop()
    Person.objects.filter(pk=shop.mechanic.pk).update(craft="sheet metal", days="Mon-Sun")
    write_job(
        by=shop.lead,
        act_id=uuid.uuid4(),
        aircraft=shop.aircraft,
        job=Written(what="Clean the keel", craft="sheet metal", hours_least=1, hours_likely=2, hours_most=3),
    )
    page = words(lead.get("/"))
    assert "Clean the keel" in page and "Lay one beside the bag or the part" not in page
