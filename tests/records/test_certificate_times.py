"""The times on a bake certificate: over the limit or missing is quarantine and the engineer.

Figures: MIL-STD-1501F 5.2.6 (read): within 4 hours, 23 hours at 375 +/- 25 F, steel of 180 ksi and above.
"""

import uuid
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.records.shop import Shop, make_part, make_place, make_shop
from tests.support.pages import client, words
from witnessmark.records.actions.certificates import BakeTimes, certificate_came
from witnessmark.records.actions.custody import put_back, receive_back, send_out
from witnessmark.records.actions.leaving import Packed
from witnessmark.records.actions.saying import Refused
from witnessmark.records.models import Certificate, CertificateTimes, Piece, Quarantine, Shipment

pytestmark = pytest.mark.django_db
NINE = datetime(2026, 5, 4, 9, tzinfo=ZoneInfo("UTC"))
KEPT = BakeTimes("MIL-STD-1501F", NINE, NINE + timedelta(hours=3, minutes=59), 23, 190.6)
DAY = date(2026, 5, 8)


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def out(shop: Shop, mpa: float | None = 1379.0) -> tuple[Shipment, Piece]:
    """A fitting at the plater, of which a bake certificate is asked."""
    part = make_part(shop, "0118", shop.shelf)
    Piece.objects.filter(pk=part.pk).update(material="steel", strength_mpa=1379.0)
    part.refresh_from_db()
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="Hard chrome", pieces=[part], number="S-1",
        sent_on=date(2026, 5, 1), packed=Packed(shop.lead, terms=((part.pk, "bake not called out", shop.lead),)),
    )  # fmt: skip
    Piece.objects.filter(pk=part.pk).update(strength_mpa=mpa)
    return Shipment.objects.get(), part


def back(shop: Shop, shipment: Shipment, part: Piece) -> None:
    receive_back(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, counts={part.pk: 1}, to=shop.box, back_on=DAY)


def papers(shop: Shop, times: BakeTimes | None) -> None:
    for paper in Certificate.objects.order_by("-kind"):
        more = {"times": times} if paper.kind == "bake" else {}
        certificate_came(by=shop.mechanic, act_id=uuid.uuid4(), certificate=paper, came_on=DAY, number="7", **more)  # type: ignore[arg-type]


def held() -> list[str]:
    return list(Quarantine.objects.filter(lifted_act=None).values_list("why", flat=True))


def test_times_within_the_limit_let_it_out(shop: Shop) -> None:
    shipment, part = out(shop)
    assert Certificate.objects.filter(kind="bake").exists()
    back(shop, shipment, part)
    assert "has not brought" in held()[0]
    papers(shop, KEPT)
    assert held() == [] and CertificateTimes.objects.get().hours == 23


@pytest.mark.parametrize(
    ("times", "why"),
    [
        (BakeTimes("MIL-STD-1501F", NINE, NINE + timedelta(hours=4, minutes=1), 23, 190.6), "4.02 h between bath and oven"),
        (BakeTimes("MIL-STD-1501F", None, NINE, 23, 190.6), "does not say when it left the bath"),
        (BakeTimes("MIL-STD-1501F", NINE, NINE, 8, 190.6), "baked 8 h; 23 h were called out"),
        (BakeTimes("MIL-STD-1501F", NINE, NINE, None, 190.6), "does not say how long"),
        (BakeTimes("MIL-STD-1501F", NINE, NINE, 23, 230), "stood at 230 C"),
        (BakeTimes(), "does not name the specification"),
        (BakeTimes("habit of the house", NINE, NINE, 23, 190), "Nothing is held of a bake after plating"),
    ],
)  # fmt: skip
def test_over_the_limit_or_missing_stays_in_quarantine(shop: Shop, times: BakeTimes, why: str) -> None:
    shipment, part = out(shop)
    back(shop, shipment, part)
    papers(shop, times)
    (said,) = held()
    assert why in said and "engineer" in said
    if "h between" in why or "8 h;" in why:
        assert "A later bake does not put it right." in said
    with pytest.raises(Refused, match="quarantine and cannot be fitted"):
        put_back(by=shop.mechanic, act_id=uuid.uuid4(), piece=part, place=make_place(shop, "6-1"))


def test_a_certificate_that_came_before_the_pieces_counts_too(shop: Shop) -> None:
    shipment, part = out(shop)
    papers(shop, BakeTimes("MIL-STD-1501F", NINE, NINE + timedelta(hours=9), 23, 190.6))
    assert held() == []
    back(shop, shipment, part)
    assert "9.00 h between bath and oven" in held()[0]


def test_unknown_strength_is_neither_mild_nor_hard(shop: Shop) -> None:
    shipment, part = out(shop, mpa=None)
    back(shop, shipment, part)
    papers(shop, KEPT)
    assert "strength is not recorded" in held()[0] and "hardness check" in held()[0]


def test_the_times_are_typed_on_the_certificates_page(shop: Shop) -> None:
    shipment, part = out(shop)
    back(shop, shipment, part)
    browser = client(shop.mechanic)
    page = words(browser.get("/certificates/"))
    assert "Out of the bath, as it says" in page and "A later bake does not put it right" in page
    for paper in Certificate.objects.exclude(kind="bake"):
        certificate_came(by=shop.mechanic, act_id=uuid.uuid4(), certificate=paper, came_on=DAY, number="7")
    form = {
        "act_id": str(uuid.uuid4()), "do": "came", "certificate": str(Certificate.objects.get(kind="bake").pk),
        "number": "Q 7", "spec": "MIL-STD-1501F", "out_of_bath": "2026-05-04T09:00", "into_oven": "2026-05-04T15:30",
        "hours": "23", "oven": "375 F",
    }  # fmt: skip
    wrong = browser.post("/certificates/", {**form, "hours": "long"})
    assert wrong.status_code == 422 and not CertificateTimes.objects.exists()
    assert browser.post("/certificates/", form).status_code == 302
    page = words(browser.get("/certificates/"))
    assert "6.50 h between bath and oven; 4 h is the limit. A later bake does not put it right." in page
    backwards = BakeTimes("MIL-STD-1501F", NINE, NINE - timedelta(hours=1), 23, 190)
    Certificate.objects.filter(kind="bake").update(came_on=None)
    with pytest.raises(Refused, match="into the oven after it left the bath"):
        certificate_came(
            by=shop.mechanic, act_id=uuid.uuid4(), certificate=Certificate.objects.get(kind="bake"), came_on=DAY,
            number="8", times=backwards,
        )  # fmt: skip
