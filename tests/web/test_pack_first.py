"""The first shipment of a record that knows nobody yet: a vendor in words, and pieces that wear no tag."""

import re
import uuid

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from tests.records.shop import Shop, make_shop
from tests.support.pages import client, words
from witnessmark.records.actions.custody import single
from witnessmark.records.actions.people import begin
from witnessmark.records.actions.saying import move, say
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import Act, Holder, HolderKind, Holding, Move, Person, Piece, Shipment, Vendor

pytestmark = pytest.mark.django_db


def whom(name: str, process: str = "Zinc plate", **more: str) -> dict[str, str]:
    return {"act_id": str(uuid.uuid4()), "do": "whom", "whom": name, "process": process, **more}


def untagged(by: Person, name: str, at: Holder, aircraft: object = None) -> Piece:
    """A piece that came in without a tag and lies there."""
    piece = Piece.objects.create(name=name, aircraft=aircraft)
    origin = single(HolderKind.ORIGIN)

    def do(act: Act) -> dict[str, object]:
        move(act, [Move(from_piece=piece, from_holder=origin, to_piece=piece, to_holder=at, count=1)])
        return {}

    say("load_lists", by=by, act_id=uuid.uuid4(), said={"piece": piece.pk}, do=do)
    return piece


@pytest.fixture
def lead() -> Person:
    """An empty record: the lead, and nothing else."""
    return begin(name="Wilja Sand")


def test_on_an_empty_record_the_page_asks_whom_in_words_and_says_where_to_go_first(lead: Person) -> None:
    browser = client(lead)
    page = browser.get("/pack/")
    assert "Name the first in your words" in words(page) and 'name="whom"' in page.content.decode()
    answer = browser.post("/pack/", whom("Uncle’s plating shed"))
    assert answer.status_code == 302
    vendor = Vendor.objects.get()
    assert (vendor.name, vendor.holder.kind) == ("Uncle’s plating shed", HolderKind.VENDOR)
    laid = browser.get(answer["Location"])
    assert "Nothing is chosen for Uncle’s plating shed yet." in words(laid)
    assert "comes in with its picture" in words(laid) and 'href="/in/"' in laid.content.decode()
    assert 'href="/who-has-what/#say"' in laid.content.decode()


def test_a_piece_without_a_tag_whose_place_nobody_said_leaves_with_the_first_shipment(lead: Person) -> None:
    browser = client(lead)
    found = untagged(lead, "hinge bracket", single(HolderKind.NOT_SAID))
    address = browser.post("/pack/", whom("Uncle"))["Location"]
    page = browser.get(address)
    assert "hinge bracket, a place not said yet" in words(page)
    laid = browser.get(f"{address}&asked=1&piece={found.pk}")
    assert "Lies at a place not said yet" in words(laid) and "Stays here" not in words(laid)
    sent: dict[str, object] = {
        "act_id": str(uuid.uuid4()), "do": "send", "vendor": Vendor.objects.get().code, "process": "Zinc plate",
        "number": "S-001", "piece": str(found.pk), "laid": str(found.pk), "promised_on": "",
    }  # fmt: skip
    refused = browser.post("/pack/", sent)
    assert refused.status_code == 422 and "Nobody wrote down what it is made of" in words(refused)
    sent |= {
        "act_id": str(uuid.uuid4()), "answers": str(lead.pk),
        "term": re.findall(r'name="term" value="([^"]+)"', laid.content.decode()),
    }  # fmt: skip
    answer = browser.post("/pack/", sent)
    assert answer.status_code == 302, words(answer)
    assert answer["Location"] == "/outwork/S-001/"
    line = Shipment.objects.get().lines.get()
    assert line.piece == found and line.count_out == 1
    assert Holding.objects.get(piece=found, count__gt=0).holder == Vendor.objects.get().holder
    assert check_ledger().faults == ()
    assert "hinge bracket" in words(browser.get("/outwork/S-001/"))


def test_what_a_piece_without_a_tag_is_called_lays_it_out_too() -> None:
    shop = make_shop()
    found = untagged(shop.lead, "Hinge bracket", shop.shelf, shop.aircraft)
    browser = client(shop.mechanic)
    page = browser.get("/pack/?vendor=PL&process=Zinc&asked=1&add=hinge+bracket,spat")
    assert f'id="p{found.pk}"' in page.content.decode()
    assert "No piece has the tag spat. Nothing here without a tag is called that either." in words(page)
    assert "No piece has the tag hinge" not in words(page)


def test_of_many_without_a_tag_the_last_are_shown_and_the_rest_counted() -> None:
    shop = make_shop()
    for n in range(15):
        untagged(shop.lead, f"clip {n}", shop.shelf, shop.aircraft)
    text = words(client(shop.mechanic).get("/pack/?vendor=PL&process=Zinc"))
    assert "clip 14" in text and "clip 3," in text and "clip 2," not in text
    assert "And 3 more without a tag" in text


def test_who_is_known_already_is_not_made_twice() -> None:
    shop = make_shop()
    browser, before = client(shop.mechanic), Vendor.objects.count()
    for said in ("plater", "PL", " Plater "):
        assert browser.post("/pack/", whom(said))["Location"].startswith("/pack/?vendor=PL&")
    assert Vendor.objects.count() == before
    twice = whom("Friend")
    assert [browser.post("/pack/", twice).status_code for _ in "12"] == [302, 302]
    assert Vendor.objects.count() == before + 1 and Vendor.objects.get(name="Friend").code == "FRI"


@pytest.mark.parametrize(
    ("name", "process", "why"),
    [("", "Zinc", "does not say who gets it"), (" .. ", "Zinc", "does not say who gets it"), ("Friend", " ", "does not say what he is to do")],
)  # fmt: skip
def test_what_is_missing_is_said_and_the_rest_stays(shop_made: Shop, name: str, process: str, why: str) -> None:
    before = Vendor.objects.count()
    answer = client(shop_made.mechanic).post("/pack/", whom(name, process))
    assert answer.status_code == 422 and why in words(answer) and Vendor.objects.count() == before
    for typed in (name, process):
        assert not typed or f'value="{typed}"' in answer.content.decode()


@pytest.fixture
def shop_made() -> Shop:
    return make_shop()


def test_the_owner_reads_and_names_nobody(shop_made: Shop) -> None:
    owner = client(shop_made.owner)
    assert 'name="whom"' not in owner.get("/pack/").content.decode()
    answer = owner.post("/pack/", whom("Friend"))
    assert answer.status_code == 403 and "The form said: Friend; Zinc plate." in words(answer)


def test_the_day_they_promised_is_picked_from_a_calendar(shop_made: Shop) -> None:
    found = untagged(shop_made.lead, "bracket", shop_made.shelf, shop_made.aircraft)
    page = client(shop_made.mechanic).get(f"/pack/?vendor=PL&process=Zinc&asked=1&piece={found.pk}")
    assert '<input type="date" id="promised_on" name="promised_on">' in page.content.decode()


class AnyBytes(TestCase):
    """Whatever is typed or sent: no fault of the program, and nothing half stored."""

    def setUp(self) -> None:
        """Make a shop once an example."""
        self.shop = make_shop()
        self.browser = client(self.shop.mechanic)

    @settings(max_examples=60)
    @given(
        st.sampled_from(["whom", "send", "read", "nature", "price", "", "\0"]),
        st.dictionaries(
            st.sampled_from(["whom", "process", "vendor", "piece", "laid", "of", "number", "promised_on", "term", "mass", "d1", "least", "packed_by", "answers"]),
            st.text(max_size=30) | st.binary(max_size=12).map(lambda raw: raw.decode("latin-1")),
        ),
    )  # fmt: skip
    def test_any(self, do: str, typed: dict[str, str]) -> None:
        before = (Shipment.objects.count(), Vendor.objects.count())
        answer = self.browser.post("/pack/", {"act_id": str(uuid.uuid4()), "do": do, **typed})
        assert answer.status_code in (302, 422)
        if answer.status_code == 422:
            assert before == (Shipment.objects.count(), Vendor.objects.count())
            assert 'role="alert"' in answer.content.decode()
