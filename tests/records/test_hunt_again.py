"""A wrong one comes off a place once; what could be it agrees in kind or size; days and counts that cannot be are refused.

Outside: nothing printed says how a shop judges likeness: the names, figures and ratings here are what a mechanic would hold
beside each other (common practice, from memory). The two names that were offered for a pitot head are as they stood.
"""

import uuid
from datetime import date, timedelta

import pytest

from tests.records.shop import Shop, make_part, make_place, make_shop
from tests.records.test_photo_store import picture as a_picture
from tests.support.pages import client, words
from witnessmark.calc.hunted import Looked, likeness
from witnessmark.records.actions import hunting
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.hunts import at_home
from witnessmark.records.models import Act, Finding, Holding, Hunt, HuntAsked, Piece, Place
from witnessmark.records.words import search_words

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(settings, tmp_path) -> Shop:  # type: ignore[no-untyped-def]
    settings.DATA = tmp_path
    return make_shop()


def wrong(shop: Shop, place: Place, **more: object) -> dict[str, object]:
    said = {
        "by": shop.mechanic, "act_id": uuid.uuid4(), "place": place, "wrong": "Tractor generator, 12 V",
        "wanted": "Generator, 24 V", "picture": a_picture(), "picture_name": "g.jpg", "laid_on": shop.shelf,
        "seen_on": today(shop.aircraft),
    }  # fmt: skip
    return hunting.wrong_for_type(**{**said, **more})  # type: ignore[arg-type]


def named(shop: Shop, tag: str, name: str, **more: object) -> Piece:
    piece = make_part(shop, tag, shop.shelf)
    Piece.objects.filter(pk=piece.pk).update(name=name, words=search_words(tag, name), **more)
    return Piece.objects.get(pk=piece.pk)


def test_a_second_wrong_one_out_of_the_empty_place_is_refused(shop: Shop) -> None:
    place = make_place(shop, "6-91-015")
    wrong(shop, place)
    acts = Act.objects.count()
    with pytest.raises(Refused, match=r"is empty already: H-1, Generator, 24 V, is open for it"):
        wrong(shop, place)
    assert (Hunt.objects.count(), Finding.objects.count(), Piece.objects.count()) == (1, 1, 1)
    assert Act.objects.count() == acts
    hunting.give_up_hunt(by=shop.lead, act_id=uuid.uuid4(), hunt=Hunt.objects.get(), why="Made new")
    with pytest.raises(Refused, match=r"is empty already: H-1, Generator, 24 V, was begun for it \(given up\)"):
        wrong(shop, place)
    make_part(shop, "0500", place.holder)  # another one was put in: that can be wrong again
    wrong(shop, place)
    assert Hunt.objects.count() == 2
    assert not Holding.objects.filter(holder=place.holder, count__gt=0).exists()


def test_the_same_form_sent_twice_is_done_once(shop: Shop) -> None:
    place, act_id = make_place(shop, "6-91-015"), uuid.uuid4()
    assert wrong(shop, place, act_id=act_id) == wrong(shop, place, act_id=act_id)
    assert Hunt.objects.count() == 1


def test_a_day_that_is_gone_is_refused(shop: Shop) -> None:
    yesterday = today(shop.aircraft) - timedelta(days=1)
    with pytest.raises(Refused, match="that day is gone"):
        wrong(shop, make_place(shop, "6-91-015"), may_wait_until=yesterday)
    said = {"by": shop.lead, "aircraft": shop.aircraft, "what": "Compass bracket", "why": "missing"}
    with pytest.raises(Refused, match="that day is gone"):
        hunting.start_hunt(act_id=uuid.uuid4(), may_wait_until=yesterday, **said)  # type: ignore[arg-type]
    assert not Hunt.objects.exists()
    hunting.start_hunt(act_id=uuid.uuid4(), may_wait_until=today(shop.aircraft), **said)  # type: ignore[arg-type]
    with pytest.raises(Refused, match="nobody was asked then"):
        hunting.ask_after(
            by=shop.lead, act_id=uuid.uuid4(), hunt=Hunt.objects.get(), whom="X", asked_on=date(2099, 1, 1)
        )
    assert not HuntAsked.objects.exists()


def test_none_that_came_is_no_find(shop: Shop) -> None:
    browser = client(shop.lead)
    browser.post("/hunt/", {"act_id": str(uuid.uuid4()), "what": "Bracket", "why": "missing"})
    said = {"act_id": str(uuid.uuid4()), "do": "arrives", "shelf": "shelf C2", "name": "Bracket", "count": "0"}
    page = browser.post("/hunt/H-1/", said)
    assert page.status_code == 422 and "A count starts at 1" in words(page)
    assert not Piece.objects.exists()


def test_what_was_found_wrong_there_is_not_offered_for_it(shop: Shop) -> None:
    place = make_place(shop, "6-91-015")
    wrong(shop, place, wrong="Tractor generator", tag="0400")
    spare = named(shop, "0401", "Generator from the wreck")
    named(shop, "0402", "Generator, 12 V")
    one = Hunt.objects.get()
    assert [each.piece for each in at_home(one).could_be] == [spare]
    hunting.give_up_hunt(by=shop.lead, act_id=uuid.uuid4(), hunt=one, why="Look later")
    hunting.start_hunt(
        by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, what="Generator, 24 V", why="missing", place=place
    )
    assert [each.piece for each in at_home(Hunt.objects.get(state="open")).could_be] == [spare]


def test_a_pitot_head_is_no_screw_and_no_strut(shop: Shop) -> None:
    named(shop, "B-1", "Battery hatch screws, the yard's, from 1939")
    named(shop, "0210", "Float strut, tube", note="12 mm bolts")
    bent = named(shop, "0211", "Pitot head, bent", note="tube 12 mm")
    hunting.start_hunt(
        by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, what="Pitot head, the yard's own", why="missing",
        measurements="tube 12 mm, flange of four screws on 38 mm", also_do="any head of the same tube from before 1942",
    )  # fmt: skip
    seen = at_home(Hunt.objects.get())
    assert [(each.piece, each.why) for each in seen.could_be] == [
        (bent, "its name says pitot, head; 12 mm beside 12 mm")
    ]
    assert [(row.what, row.value) for row in seen.working.rows] == [("0211 Pitot head, bent", 3)]
    page = words(client(shop.lead).get("/hunt/H-1/"))
    assert "How these were chosen" in page and "its name says pitot, head" in page and "Battery hatch" not in page


@pytest.mark.parametrize(
    ("hunted", "thing", "points"),
    [
        (Looked("Compass bracket"), Looked("Compass bracket"), 2),
        (Looked("Compass bracket"), Looked("Battery bracket"), 0),  # a bracket like a hundred others
        (Looked("Sprocket, full teeth"), Looked("Sprockets"), 2),
        (Looked("Bolt", size_code="AN4-7"), Looked("Bolts, odd", size_code="AN4-7"), 4),
        (Looked("Bolt, hinge", size_code="AN4-7"), Looked("Hinge bolt", size_code="AN5-7"), 0),
        (Looked("Clip", figures="40 mm, 18 mm"), Looked("Thing", figures="40.2 mm wide, 18 mm"), 2),
        (Looked("Clip", figures="40 mm"), Looked("Thing", figures="40 mm"), 0),  # one figure of another kind
        (Looked("Generator, 24 V"), Looked("Generator 24 volt"), 2),
        (Looked("Generator, 24 V"), Looked("12 V generator"), 0),
        (Looked("Door", part_no="6-12-170"), Looked("Cover", part_no="6-12-170"), 3),
        (Looked("Flügelmutter"), Looked("Flügelmutter"), 2),
        (Looked(""), Looked(""), 0),
    ],
)
def test_kind_or_size_has_to_agree(hunted: Looked, thing: Looked, points: int) -> None:
    assert likeness(hunted, thing).points == points
    assert bool(likeness(hunted, thing).why) is bool(points)
