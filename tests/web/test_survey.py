"""What is this fastener, families, the survey and one row measured: what they show, then every refusal."""

import re
import uuid
from io import BytesIO

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from tests.records.shop import Shop, make_shop
from tests.records.test_sorting import mixed
from tests.support.pages import client, words
from tests.support.rows import make_row, make_size
from witnessmark.papers import make
from witnessmark.records.models import Aircraft, HoleReading, MeasuredSize, Person, Role, Row

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    make_row(shop, "C2", make_size(shop))
    make_row(shop, "C3", None, looked_at="no")
    return shop


def head(**said: str) -> dict[str, str]:
    return {"act_id": str(uuid.uuid4()), "what": "head", "hole": "1", **said}


def test_two_figures_name_a_fastener_in_an_empty_record_with_two_queries() -> None:
    browser = client(Person.objects.create(name="First", role=Role.LEAD))
    assert not Aircraft.objects.exists()
    with CaptureQueriesContext(connection) as signed_in:
        browser.get("/fastener/")
    with CaptureQueriesContext(connection) as asked:
        page = browser.get("/fastener/", {"shank_mm": "7.92", "pitch_mm": "10.58 over 10"})
    text = words(page)
    assert "It is 5/16-24 UNF." in text and "pitch 1.058 mm" in text
    own = [q for q in asked.captured_queries if "session" not in q["sql"] and "records_person" not in q["sql"]]
    assert len(own) <= 2
    assert len(asked) <= len(signed_in) + 1


def test_the_next_figure_is_asked_for_with_its_tool(shop: Shop) -> None:
    page = client(shop.owner).get("/fastener/", {"hole_mm": "3.3", "form": "flush"})
    assert page.content.decode().count('class="now"') == 1
    text = words(page)
    assert "Measure the head angle, with: angle gauge" in text and "Not sure yet" in text
    without = client(shop.owner).get("/fastener/", {"hole_mm": "3.3", "form": "flush", "cannot": "head_deg"})
    assert "Measure the head angle, with" not in words(without)


@pytest.mark.parametrize(
    ("figures", "why"),
    [
        ({"hole_mm": "3.2 in", "head_mm": "6.3"}, "was it read in mm"),
        ({"hole_mm": "0", "head_mm": "6.3"}, "above zero"),
        ({"head_deg": "190", "head_mm": "6.3"}, "between 40 and 180"),
        ({"hole_mm": "6.4", "head_mm": "6.3"}, "not larger than"),
        ({"form": "square", "head_mm": "6.3"}, "none of flush"),
    ],
)
def test_a_figure_that_cannot_be_is_said_and_the_others_are_kept(shop: Shop, figures: dict[str, str], why: str) -> None:
    page = client(shop.mechanic).get("/fastener/", figures)
    assert page.status_code == 422
    assert why in words(page) and 'value="6.3"' in page.content.decode()


def test_a_family_is_added_and_found(shop: Shop) -> None:
    browser = client(shop.mechanic)
    said = {
        "act_id": str(uuid.uuid4()),
        "code": "YARD-3.35",
        "family": "the yard's own",
        "form": "flush",
        "shank_mm": "3.35",
        "head_mm": "5.4",
        "head_deg": "110",
    }
    for _ in range(2):
        assert browser.post("/fastener/families/", said).status_code == 302
    assert MeasuredSize.objects.count() == 1
    assert "YARD-3.35" in words(browser.get("/fastener/families/"))
    figures = {"hole_mm": "3.45", "head_mm": "5.4", "head_deg": "110", "form": "flush"}
    assert "It is YARD-3.35." in words(browser.get("/fastener/", figures))
    bad = browser.post("/fastener/families/", {**said, "act_id": str(uuid.uuid4()), "code": "Y-2", "head_mm": "3"})
    assert bad.status_code == 422 and "not larger than" in words(bad) and 'value="Y-2"' in bad.content.decode()
    assert browser.post("/fastener/families/", {**said, "act_id": "7"}).status_code == 422
    assert (
        client(shop.owner).post("/fastener/families/", {**said, "act_id": str(uuid.uuid4()), "code": "Y-3"}).status_code
        == 403
    )
    assert MeasuredSize.objects.count() == 1


def test_a_row_is_measured_hole_by_hole_and_keeps_its_place_after_a_slip(shop: Shop) -> None:
    browser = client(shop.mechanic)
    address = "/survey/C2/L/"
    assert "measure three heads" in words(browser.get(address))
    figures = {"driven_shank_mm": "3.11", "head_mm": "5.2", "form": "round", "head_height_mm": "1.8"}
    first = head(**figures)
    for _ in range(2):
        assert browser.post(address, first).status_code == 302
    page = browser.get(address).content.decode()
    assert 'name="hole" value="84"' in page and '<option value="round" selected>' in page
    slip = browser.post(address, head(hole="84", head_mm="2.9", driven_shank_mm="3.1"))
    assert slip.status_code == 422
    text = slip.content.decode()
    assert "not larger than" in text and 'name="hole" value="84"' in text and 'value="2.9"' in text
    assert HoleReading.objects.count() == 4
    for hole in ("84", "42"):
        browser.post(address, head(**{**figures, "hole": hole}))
    done = browser.get(address)
    assert "That is enough." in words(done) and "is looked at" in words(done)
    look = {"act_id": str(uuid.uuid4()), "what": "look", "looked_at": "yes"}
    assert browser.post(address, look).headers["Location"] == "/survey/"


@pytest.mark.parametrize(
    ("said", "why"),
    [
        (head(hole="99", head_mm="5.2"), "holes 1 to 84"),
        (head(hole="one", head_mm="5.2"), "is no hole"),
        (head(), "Nothing was measured"),
        ({**head(), "act_id": "7"}, "no number of its own"),
        ({**head(), "what": "dance"}, "does not say what to do"),
        ({**head(), "what": "size", "size": "XX"}, "no size"),
        ({**head(), "what": "structure", "structure": "roof"}, "none of"),
        ({**head(), "what": "look", "looked_at": "perhaps"}, "says nothing"),
    ],
)
def test_a_bad_form_stores_nothing(shop: Shop, said: dict[str, str], why: str) -> None:
    page = client(shop.mechanic).post("/survey/C2/L/", said)
    assert page.status_code == 422 and why in words(page)
    assert not HoleReading.objects.exists()


def test_the_survey_says_what_is_open_and_the_lead_accepts_it(shop: Shop) -> None:
    browser = client(shop.lead)
    page = browser.get("/survey/")
    assert "No claim for the spar" in words(page)
    assert page.content.decode().count('class="now"') == 1
    said = {"act_id": str(uuid.uuid4()), "what": "accept", "reason": "C3 is bought later"}
    assert client(shop.mechanic).post("/survey/", said).status_code == 403
    assert "or the inspector may accept" in words(client(shop.mechanic).get("/survey/"))
    for _ in range(2):
        assert browser.post("/survey/", said).status_code == 302
    assert "Lead accepted what is open." in words(browser.get("/survey/"))
    text = words(browser.get("/orders/"))
    assert "Lead accepted this" in text and "It may leave: Lead accepted that one row is not looked at." in text
    assert "Hold it" not in text and "before the order leaves" not in text
    paper = " ".join(PdfReader(BytesIO(make("rivet-order"))).pages[0].extract_text().split())
    assert "that was accepted. Lead: C3 is bought later" in paper and "Hold" not in paper and "Accepted:" in paper


def test_the_order_and_the_survey_name_the_same_row_to_look_at_next(shop: Shop) -> None:
    make_row(shop, "C1", None, looked_at="under paint")  # first by its mark; it can be looked at only when stripped
    browser = client(shop.lead)
    pages = [browser.get(address).content.decode() for address in ("/orders/", "/survey/")]
    for page in pages:
        now = page[page.index('class="now"') :]
        assert now.index("/survey/C3/L/") < now.index("</a>")
    Row.objects.filter(place__mark="C3").update(looked_at="yes")
    assert "Strip a stripe along row C1 left and look at it" in words(browser.get("/orders/"))


def test_the_limit_is_typed_in_a_hundred(shop: Shop) -> None:
    browser = client(shop.lead)
    browser.post("/survey/", {"act_id": str(uuid.uuid4()), "what": "limit", "limit": "5 %"})
    assert Aircraft.objects.get().unseen_limit == pytest.approx(0.05)
    for bad in ("", "many", "90", "nan"):
        page = browser.post("/survey/", {"act_id": str(uuid.uuid4()), "what": "limit", "limit": bad})
        assert page.status_code == 422
    assert Aircraft.objects.get().unseen_limit == pytest.approx(0.05)


def test_the_order_shows_the_risk_in_words(shop: Shop) -> None:
    text = words(client(shop.lead).get("/orders/"))
    assert "What nobody has seen yet" in text and "No claim for the spar" in text
    assert "Only if the heads had been picked at random" in text


def test_a_row_can_be_said_to_hold_another_size(shop: Shop) -> None:
    make_size(shop, "VN12-3.5", 3.5)
    browser = client(shop.mechanic)
    browser.post("/survey/C2/L/", {"act_id": str(uuid.uuid4()), "what": "size", "size": "VN12-3.5"})
    assert Row.objects.get(place__mark="C2").place.wants_size.code == "VN12-3.5"  # type: ignore[union-attr]


def test_the_structure_starts_on_what_the_record_knows(shop: Shop) -> None:
    Row.objects.update(seam="Side skin bay 2-4 left to stringer 2")
    assert "<option selected>stringer</option>" in client(shop.mechanic).get("/survey/C2/L/").content.decode()
    Row.objects.update(structure="keel")
    assert "<option selected>keel</option>" in client(shop.mechanic).get("/survey/C2/L/").content.decode()


def test_one_keypad_for_the_survey_and_the_pieces_that_came_back(shop: Shop) -> None:
    mixed(shop)
    page = client(shop.mechanic)
    received = {"act_id": str(uuid.uuid4()), "do": "receive", "count": "6", "mass_g": "180", "to": "Q"}
    page.post("/outwork/S-1/sort/", received)
    pads = [
        re.findall(r'data-key="([0-9.←])"', page.get(address).content.decode())
        for address in ("/survey/C2/L/", "/outwork/S-1/measure/")
    ]
    assert pads[0] == pads[1] == [*"123456789.0←"]


def test_signed_out_and_no_such_row(shop: Shop) -> None:
    for address in ("/fastener/", "/fastener/families/", "/survey/", "/survey/C2/L/"):
        assert Client().get(address).status_code == 302
    assert client(shop.lead).get("/survey/ZZ/L/").status_code == 404


def test_queries_do_not_grow_with_the_heads(shop: Shop) -> None:
    browser = client(shop.mechanic)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert browser.get("/survey/C2/L/").status_code == 200
        return len(seen)

    browser.post("/survey/C2/L/", head(driven_shank_mm="3.11", head_mm="5.2"))
    few = queries()
    for hole in range(2, 12):
        browser.post("/survey/C2/L/", head(hole=str(hole), driven_shank_mm="3.11", head_mm="5.2"))
    assert queries() == few
