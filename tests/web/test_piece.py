"""The piece's page: one thing to do now, where it goes and is, findings, decision, route."""

import uuid
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from tests.records.shop import Shop, make_bag, make_part, make_place, make_shop
from tests.support.rows import make_finding, make_steps
from witnessmark.records.actions.custody import send_out
from witnessmark.records.models import Decision, Finding, Person, Piece, Step

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def part(shop: Shop) -> Piece:
    seat = make_place(shop, "6-51-020", "L")
    part = make_part(shop, "0118", shop.shelf, "L", belongs=seat)
    make_steps(part, ("Strip", "sheet metal"), ("Prime", "sheet metal"))
    return part


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def read(person: Person, address: str = "/piece/0118/") -> str:
    page = signed_in(person).get(address)
    assert page.status_code == 200
    return page.content.decode()


def act(**said: str) -> dict[str, str]:
    return {"act_id": str(uuid.uuid4()), **said}


def test_it_speaks_first(shop: Shop, part: Piece) -> None:
    text = read(shop.mechanic)
    assert "<h1>Left fitting 0118 is at C2.</h1>" in text
    assert text.count('class="now"') == 1
    assert "Strip." in text
    assert "6-51-020" in text
    assert "not weighed" in text


def test_the_opposite_one_is_a_word_away(shop: Shop, part: Piece) -> None:
    make_part(shop, "0119", shop.box, "R", belongs=make_place(shop, "6-51-020", "R"))
    assert 'The opposite is <a href="/piece/0119/">0119</a>' in read(shop.mechanic)
    assert 'The opposite is <a href="/piece/0118/">0118</a>' in read(shop.mechanic, "/piece/0119/")


def test_an_open_finding_is_what_to_do_now(shop: Shop, part: Piece) -> None:
    make_finding(shop, "F-52", piece=part)
    text = read(shop.lead)
    assert "F-52" in text
    assert "Lap corrosion" in text
    assert text.count('class="now"') == 1
    assert "Decide what is done about F-52." in text


def test_nothing_to_do_shows_no_accent(shop: Shop) -> None:
    make_part(shop, "0400", shop.shelf)
    assert 'class="now"' not in read(shop.mechanic, "/piece/0400/")


def test_a_finding_then_its_decision_then_the_step(shop: Shop, part: Piece) -> None:
    mechanic, lead = signed_in(shop.mechanic), signed_in(shop.lead)
    mechanic.post("/piece/0118/", act(do="finding", what="Crack at the lug", measured="4 mm"))
    assert Finding.objects.get().measured == "4 mm"
    blocked = mechanic.post("/piece/0118/", act(do="step", number="1"))
    assert blocked.status_code == 422
    assert "has no decision" in blocked.content.decode()
    lead.post("/piece/0118/", act(do="decide", kind="repair", reason="blend and test"))
    assert "Decision: repair" in read(shop.mechanic)
    assert mechanic.post("/piece/0118/", act(do="step", number="1")).status_code == 302
    assert Step.objects.get(number=1).done_act is not None
    assert "1 of 2 steps done" in read(shop.mechanic)


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"do": "finding", "what": "  "}, "says in a few words what is wrong"),
        ({"do": "decide", "kind": "scrap", "reason": "cracked"}, "Scrapping is asked twice"),
        ({"do": "decide", "kind": "weld", "reason": "cracked"}, "is no decision"),
        ({"do": "decide", "kind": "reuse"}, "A decision has a reason"),
        ({"do": "step", "number": "2"}, "comes before"),
        ({"do": "step", "number": "9"}, "not on this piece"),
        ({"do": "step", "number": "-1"}, "no whole number"),
        ({"do": "photograph"}, "No picture came"),
    ],
)
def test_a_bad_form_changes_nothing_and_says_why(shop: Shop, part: Piece, said: dict[str, str], why: str) -> None:
    page = signed_in(shop.lead).post("/piece/0118/", act(**said))
    assert page.status_code == 422
    assert why in page.content.decode()
    assert not Finding.objects.exists()
    assert not Decision.objects.exists()
    assert not Step.objects.exclude(done_act=None).exists()


def test_only_the_lead_decides(shop: Shop, part: Piece) -> None:
    assert 'value="decide"' not in read(shop.mechanic)
    page = signed_in(shop.mechanic).post("/piece/0118/", act(do="decide", kind="reuse", reason="clear"))
    assert page.status_code == 403
    assert not Decision.objects.exists()


def test_a_decision_sent_twice_is_one(shop: Shop, part: Piece) -> None:
    client, once = signed_in(shop.lead), act(do="decide", kind="scrap", reason="cracked through", scrap_twice="yes")
    for _ in range(2):
        assert client.post("/piece/0118/", once).status_code == 302
    assert Decision.objects.count() == 1


def test_a_code_on_a_tag_opens_its_piece(shop: Shop, part: Piece) -> None:
    page = signed_in(shop.mechanic).get("/t/0118/")
    assert page["Location"] == "/piece/0118/"


def test_an_untagged_piece_is_opened_by_its_number(shop: Shop) -> None:
    part = make_part(shop, "x", shop.shelf)
    Piece.objects.filter(pk=part.pk).update(tag=None)
    assert "<h1>" in read(shop.mechanic, f"/piece/id-{part.pk}/")


def test_an_unknown_tag_names_its_neighbours(shop: Shop, part: Piece) -> None:
    page = signed_in(shop.mechanic).get("/piece/0117/")
    assert page.status_code == 404
    assert "0118" in page.content.decode()


def test_words_in_the_record_are_words_on_the_page(shop: Shop, part: Piece) -> None:
    Piece.objects.filter(pk=part.pk).update(name="<script>alert(1)</script>", note="<b>bold</b>")
    text = read(shop.mechanic)
    assert "<script>alert" not in text
    assert "<b>bold" not in text


def test_another_craftsman_sees_nothing_of_it(shop: Shop, part: Piece) -> None:
    outside = Person.objects.create(name="Outside", role="craftsman")
    page = signed_in(outside).get("/piece/0118/")
    assert page.status_code == 403
    # The address he typed himself stands in the link to the help on it.
    assert "0118" not in page.content.decode().replace("/help/?on=/piece/0118/", "")


def test_an_overdue_shipment_is_what_to_do_now(shop: Shop, part: Piece) -> None:
    day = timezone.localdate()
    send_out(
        by=shop.mechanic,
        act_id=uuid.uuid4(),
        vendor=shop.vendor,
        process="Crack test",
        pieces=[part],
        number="S-029",
        sent_on=day - timedelta(days=20),
        promised_on=day - timedelta(days=3),
    )
    text = read(shop.mechanic)
    assert "<h1>Left fitting 0118 is at Plater for crack test.</h1>" in text
    assert "Ring Plater: it is 3 days late." in text
    assert 'value="step"' not in text


def test_a_bag_says_how_many_are_where(shop: Shop) -> None:
    make_bag(shop, "L-015", shop.shelf, 8)
    assert "<h1>Bolts L-015: 8 at C2.</h1>" in read(shop.mechanic, "/piece/L-015/")
