"""A whole rack by the screen: one drawn picture, thirty tags, two that cannot be read, one that is top-coated already."""

import uuid
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from tests.records.shop import make_shop
from tests.records.test_racks import hang, picture
from tests.support.pages import client, words
from witnessmark.records.actions.condition import finish_step
from witnessmark.records.models import Act, PhotoUse, Step

pytestmark = pytest.mark.django_db


def sent(tags: list[str], hidden: tuple[str, ...] = (), **more: str) -> dict[str, object]:
    return {
        "act_id": str(uuid.uuid4()), "process": "prime", "hanging": ", ".join(tags),
        "picture": SimpleUploadedFile("rack.png", picture(tags, hidden), "image/png"), **more,
    }  # fmt: skip


def primed(tag: str) -> bool:
    return Step.objects.get(piece__tag=tag, number=2).done_act is not None


def test_thirty_tags_two_unreadable_and_one_top_coated() -> None:
    shop = make_shop()
    tags = hang(shop, 30)
    for number, hours_ago in ((2, 6), (3, 0)):
        step = Step.objects.get(piece__tag="R07", number=number)
        then = timezone.now() - timedelta(hours=hours_ago)
        finish_step(by=shop.mechanic, act_id=uuid.uuid4(), step=step, happened_at=then)
    acts, form = Act.objects.count(), sent(tags, hidden=("R03", "R20"))
    browser = client(shop.mechanic)
    page = words(browser.post("/rack/", form))
    assert "27 pieces done: prime." in page
    assert "2 tags could not be read, and nothing was done with them: R03, R20." in page
    assert "R07 was refused." in page and "Its last step done is 'topcoat'" in page
    assert Act.objects.count() == acts + 1 and PhotoUse.objects.count() == 27
    assert [primed(tag) for tag in ("R00", "R29", "R03", "R20")] == [True, True, False, False]
    form["picture"] = SimpleUploadedFile("rack.png", picture(tags, ("R03", "R20")), "image/png")
    assert "27 pieces done" in words(browser.post("/rack/", form)) and Act.objects.count() == acts + 1


def test_what_hangs_there_and_was_not_done_is_picked_out() -> None:
    shop = make_shop()
    tags = hang(shop, 6)
    page = words(client(shop.mechanic).post("/rack/", sent(tags, hidden=("R05",), picked_out="R01, R02 R05")))
    assert "3 pieces done: prime." in page and "Picked out and left as they are: R01, R02." in page
    assert "R05" in page and [primed(tag) for tag in tags] == [True, False, False, True, True, False]
    before = Act.objects.count()
    refused = client(shop.mechanic).post("/rack/", sent(["R01"], picked_out="R01"))
    assert refused.status_code == 422 and "Every tag that can be read was picked out: R01" in words(refused)
    assert Act.objects.count() == before


def test_a_primer_whose_time_nobody_wrote_down_is_asked_for(django_user_model: object) -> None:
    """USAF finish manual 5.6.2e (read): the window runs from the primer's end, which a list does not say."""
    shop = make_shop()
    tags = hang(shop, 2)
    loaded = Act.objects.filter(verb="load_lists").first()
    Step.objects.filter(piece__tag="R00", number=2).update(done_act=loaded)
    then = timezone.now() - timedelta(hours=6)
    step = Step.objects.get(piece__tag="R01", number=2)
    finish_step(by=shop.mechanic, act_id=uuid.uuid4(), step=step, happened_at=then)
    page = words(client(shop.mechanic).post("/rack/", sent(tags) | {"process": "paint"}))
    assert "1 piece done: paint." in page and "R00 was refused." in page
    assert "Nobody wrote down when the step before ended" in page
    assert Step.objects.get(piece__tag="R00", number=3).done_act is None
