"""What was put in since a day is told in counts, to the owner and without names to the public."""

import uuid
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from tests.records.shop import make_part, make_shop
from tests.records.test_racks import picture
from tests.support.pages import client, words
from witnessmark.records.actions.custody import send_out
from witnessmark.records.lookups.copies import report
from witnessmark.records.models import NotCounted

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("for_whom", ["owner", "public"])
def test_a_first_day_of_pictures_and_a_sending_is_not_nothing(settings: Any, tmp_path: Path, for_whom: str) -> None:
    settings.DATA = tmp_path
    shop = make_shop()
    today = timezone.localdate()
    assert report(shop.aircraft, for_whom, today).nothing
    assert report(shop.aircraft, for_whom, today).sentence.startswith("Nothing is on record since")
    lead = client(shop.lead)
    for number in (1, 2):
        sent = SimpleUploadedFile("a.png", picture([f"W-00{number}"]))
        assert lead.post("/in/", {"act_id": str(uuid.uuid4()), "picture": sent}).status_code == 200
    begun = NotCounted.objects.order_by("pk").first()
    assert begun is not None
    begun.counted_act = begun.act
    begun.save()
    part = make_part(shop, "0300", shop.shelf)
    vendor = shop.vendor
    send_out(by=shop.lead, act_id=uuid.uuid4(), vendor=vendor, process="plating", pieces=[part], number="OUT-7", sent_on=today)  # fmt: skip
    told = report(shop.aircraft, for_whom, today)
    assert not told.nothing
    assert told.sentence.endswith(": 2 pictures came in, 2 pieces were tagged, 1 count was said; 1 thing went out."), (
        told.sentence
    )
    page = words(lead.get(f"/since/?for={for_whom}"))
    assert "2 pictures came in, 2 pieces were tagged" in page
    later = report(shop.aircraft, for_whom, today - timedelta(days=1))
    assert later.sentence.endswith("went out.")
