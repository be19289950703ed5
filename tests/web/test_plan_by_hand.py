"""A job is given, fixed to a day, tied and written down by tap, and each is taken back by tap; every refusal in words."""

import uuid
from datetime import date

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_part, make_shop
from tests.support.pages import client, words
from tests.support.rows import make_hand_job, make_steps
from witnessmark.records.actions import plan_by_hand as acts
from witnessmark.records.lookups.plan import make_plan
from witnessmark.records.models import HandJob, JobFixed, JobTied, Person, Vendor

pytestmark = pytest.mark.django_db
FIT, DRILL = "/by-hand/hand:fit:do/", "hand:drill:do"


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    shop.aircraft.today = date(2026, 5, 12)
    shop.aircraft.save()
    make_hand_job(shop, "fit", "Fit the door", "sheet metal")
    make_hand_job(shop, "drill", "Drill the frame", "sheet metal")
    return shop


def post(by: Person, address: str, /, **form: object) -> int:
    return client(by).post(address, {"act_id": str(uuid.uuid4()), **form}).status_code


def test_two_taps_from_the_plan_a_job_is_somebody_elses(shop: Shop) -> None:
    second = Person.objects.create(name="Second", role="mechanic", craft="sheet metal")
    assert f'href="{FIT}"' in client(shop.mechanic).get("/plan/").content.decode()
    assert post(shop.mechanic, FIT, do="give", person=second.pk) == 302
    assert post(shop.mechanic, FIT, do="day", day="2026-05-15") == 302
    text = words(client(shop.owner).get(FIT))
    assert "Mechanic fixed it to Second and to Friday 15 May 2026." in text
    assert "The plan gives it to Second, on Friday 15 May 2026." in text
    assert "Take that back" not in text and "Fix this day" not in text  # the owner looks on
    assert "fixed" in words(client(shop.owner).get("/plan/"))
    assert post(shop.mechanic, FIT, do="free") == 302
    assert "fixed it" not in words(client(shop.mechanic).get(FIT))


def test_a_day_the_plan_cannot_keep_stands_on_the_page_and_on_the_plan(shop: Shop) -> None:
    assert post(shop.mechanic, FIT, do="day", day="2026-05-16") == 302
    said = "Fit the door: fixed to Sat 16 May, it begins on Mon 18 May. Mechanic does not work on Sat 16 May."
    assert said in words(client(shop.mechanic).get(FIT)) and said in words(client(shop.mechanic).get("/plan/"))


def test_a_tie_is_found_by_words_made_by_a_tap_and_taken_back(shop: Shop) -> None:
    page = client(shop.mechanic).get(FIT, {"find": "drill frame"})
    assert "Wait for: Drill the frame." in words(page)
    assert post(shop.mechanic, FIT, do="tie", before=DRILL) == 302
    assert "Drill the frame. Tied by hand." in words(client(shop.mechanic).get(FIT))
    assert post(shop.mechanic, f"/by-hand/{DRILL}/", do="tie", before="hand:fit:do") == 422  # a circle
    assert post(shop.mechanic, FIT, do="untie", before=DRILL) == 302
    assert JobTied.objects.order_by("-id")[0].stands is False
    assert "No other open job has these words." in words(client(shop.mechanic).get(FIT, {"find": "zeppelin"}))


def test_a_job_is_written_down_and_struck_out(shop: Shop) -> None:
    form = {"what": "Make a jig", "craft": "sheet metal", "likely": "2,5", "after": "hand:fit:do"}
    assert post(shop.mechanic, "/write-job/", **form) == 302
    one = HandJob.objects.exclude(act=None).get()
    assert (one.hours_least, one.hours_likely, one.hours_most, one.after) == (1.25, 2.5, 5.0, ["hand:fit:do"])
    page = f"/by-hand/hand:{one.name}:do/"
    assert "Mechanic wrote it down on" in words(client(shop.mechanic).get(page))
    assert post(shop.mechanic, page, do="strike") == 302
    assert f"hand:{one.name}:do" not in make_plan(shop.aircraft).network.by_key


def test_a_refused_job_stands_as_it_was_typed(shop: Shop) -> None:
    form = {"act_id": str(uuid.uuid4()), "what": "Make a jig", "craft": "sheet metal", "likely": "two"}
    answer = client(shop.mechanic).post("/write-job/", form)
    assert answer.status_code == 422
    assert "'two' is no number of hours" in words(answer)
    assert 'value="Make a jig"' in answer.content.decode()


def test_who_is_kept_in_work_is_one_tap(shop: Shop) -> None:
    assert post(shop.lead, "/without-gaps/", who=f"vendor:{shop.vendor.pk}", continuous="yes") == 302
    assert Vendor.objects.get(pk=shop.vendor.pk).continuous
    assert "Take it back for Plater" in words(client(shop.lead).get("/without-gaps/"))
    assert post(shop.lead, "/without-gaps/", who=f"person:{shop.mechanic.pk}", continuous="yes") == 302
    assert "Mechanic and Plater are to have work without gaps." in words(client(shop.lead).get("/plan/"))
    assert post(shop.lead, "/without-gaps/", who="person:²") == 422
    assert post(shop.owner, "/without-gaps/", who=f"vendor:{shop.vendor.pk}", continuous="no") == 403


def test_every_refusal(shop: Shop) -> None:
    for form in (
        {"do": "give", "person": "0"},
        {"do": "day", "day": ""},
        {"do": "day", "day": "soon"},
        {"do": "dance"},
    ):
        assert post(shop.mechanic, FIT, **form) == 422
    assert post(shop.owner, FIT, do="day", day="2026-05-15") == 403
    assert not JobFixed.objects.exists()
    assert client(shop.mechanic).get("/by-hand/hand:gone:do/").status_code == 404
    for address in (FIT, "/write-job/", "/without-gaps/"):
        assert Client().get(address).status_code == 302
    page = client(shop.mechanic).post(FIT, {"do": "free"})
    assert "The form has no number of its own" in words(page)


def test_what_is_fixed_stands_on_the_bench_with_the_way_to_change_it(shop: Shop) -> None:
    Person.objects.update(days="Mon-Fri")
    assert post(shop.lead, FIT, do="give", person=shop.mechanic.pk) == 302
    page = client(shop.mechanic).get("/")
    assert "Lead fixed it to Mechanic. Change that" in words(page)
    assert "Give it to somebody, or to a day" in words(page)  # the other job is free


def test_queries_do_not_grow_with_what_is_fixed_tied_and_sent(shop: Shop) -> None:
    addresses = (FIT, "/order-or-send/", "/timeline/", "/without-gaps/")
    me = client(shop.mechanic)

    def queries() -> dict[str, int]:
        counts = {}
        for address in addresses:
            with CaptureQueriesContext(connection) as seen:
                assert me.get(address).status_code == 200
            counts[address] = len(seen)
        return counts

    def grow(first: int, last: int) -> None:
        for n in range(first, last):
            make_hand_job(shop, f"n{n}", f"Job {n}", "sheet metal")
            make_steps(make_part(shop, f"{n:04}", shop.shelf), ("Cadmium plate", "PL"), ("Prime", "sheet metal"))
            new = {"by": shop.lead, "aircraft": shop.aircraft}
            acts.fix_job(**new, act_id=uuid.uuid4(), key=f"hand:n{n}:do", person=shop.mechanic)
            acts.tie_jobs(**new, act_id=uuid.uuid4(), before=f"hand:n{n}:do", after="hand:fit:do")

    grow(0, 3)
    few = queries()
    grow(3, 12)
    assert queries() == few
