"""Certificates: what is missing, what waits for it, filed by photograph; every refusal."""

import uuid
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_part, make_shop
from tests.records.test_photo_store import picture as a_picture
from tests.support.pages import client, words
from witnessmark.records.actions.custody import receive_back, send_out
from witnessmark.records.actions.leaving import Packed
from witnessmark.records.models import Certificate, Person, PhotoUse, Piece, Quarantine, Role, Shipment, Untraced

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(settings, tmp_path) -> Shop:  # type: ignore[no-untyped-def]
    settings.DATA = tmp_path
    return make_shop()


def back(shop: Shop, number: str = "S-1", tag: str = "0118") -> Shipment:
    """A fitting that came back from the plater without its certificate of conformity."""
    part = make_part(shop, tag, shop.shelf)
    Piece.objects.filter(pk=part.pk).update(material="steel", strength_mpa=600)
    part.refresh_from_db()
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="Zinc plate", pieces=[part], number=number,
        sent_on=date(2026, 5, 1),
    )  # fmt: skip
    shipment = Shipment.objects.get(number=number)
    receive_back(
        by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, counts={part.pk: 1}, to=shop.box,
        back_on=date(2026, 5, 8),
    )  # fmt: skip
    return shipment


def came(paper: Certificate, **more: object) -> dict[str, object]:
    return {"act_id": str(uuid.uuid4()), "do": "came", "certificate": str(paper.pk), **more}


def test_a_paper_filed_by_photograph_ends_the_quarantine(shop: Shop) -> None:
    shipment, browser = back(shop), client(shop.mechanic)
    text = words(browser.get("/certificates/"))
    assert "One paper is missing, and one piece waits in quarantine." in text
    assert "In quarantine: shipment S-1 has not brought its certificate of conformity" in words(
        browser.get("/piece/0118/")
    )
    assert "The certificate of conformity has not come. 1 waits in quarantine for it." in text
    picture = SimpleUploadedFile("cert.jpg", a_picture(), "image/jpeg")
    assert browser.post("/certificates/", came(shipment.certificates.get(), picture=picture)).status_code == 302
    assert not Quarantine.objects.filter(lifted_act=None).exists()
    assert PhotoUse.objects.get().what == "certificate of conformity of shipment S-1"
    assert "No paper is missing." in words(browser.get("/certificates/"))
    assert "here since" in words(browser.get("/outwork/S-1/"))


def test_one_paper_more_puts_what_is_back_into_quarantine(shop: Shop) -> None:
    shipment, browser = back(shop), client(shop.lead)
    browser.post("/certificates/", came(shipment.certificates.get(), number="C-4"))
    assert not Quarantine.objects.filter(lifted_act=None).exists()
    said = {"act_id": str(uuid.uuid4()), "do": "expect", "shipment": "S-1", "kind": "bake", "why": "23 hours"}
    assert browser.post("/certificates/", said).status_code == 302
    assert Quarantine.objects.filter(lifted_act=None).count() == 1
    again = browser.post("/certificates/", {**said, "act_id": str(uuid.uuid4())})
    assert again.status_code == 422


def test_only_inspector_and_lead_lift_and_trace(shop: Shop) -> None:
    shipment = back(shop)
    held = shipment.quarantines.get()
    Untraced.objects.create(piece=held.piece, act=held.act)
    said = {"act_id": str(uuid.uuid4()), "do": "lift", "quarantine": str(held.pk), "why": "Seen by letter"}
    assert client(shop.mechanic).post("/certificates/", said).status_code == 403
    inspector = client(Person.objects.create(name="Inspector", role=Role.INSPECTOR))
    assert inspector.post("/certificates/", said).status_code == 302
    trace = {"act_id": str(uuid.uuid4()), "do": "trace", "piece": str(held.piece_id), "papers": "Release note 8"}
    assert client(shop.mechanic).post("/certificates/", trace).status_code == 403
    assert inspector.post("/certificates/", trace).status_code == 302
    assert Untraced.objects.get().papers == "Release note 8"


@pytest.mark.parametrize(
    "said",
    [{"do": "came", "certificate": "x"}, {"do": "came", "certificate": "999999"}, {"do": "came"}, {"do": "fly"},
     {"do": "lift", "quarantine": "0", "why": "x"}, {"do": "expect", "shipment": "S-9", "kind": "bake"},
     {"do": "expect", "shipment": "S-1", "kind": "stamp"}, {"do": "trace", "piece": "0", "papers": "x"},
     {"do": "trace", "piece": "1", "papers": ""}],
)  # fmt: skip
def test_a_bad_form_changes_nothing(shop: Shop, said: dict[str, str]) -> None:
    back(shop)
    page = client(shop.lead).post("/certificates/", {"act_id": str(uuid.uuid4()), **said})
    assert page.status_code == 422
    assert Certificate.objects.filter(came_on=None).count() == 1
    assert Quarantine.objects.filter(lifted_act=None).count() == 1


def test_what_is_no_picture_is_refused(shop: Shop) -> None:
    shipment = back(shop)
    picture = SimpleUploadedFile("cert.jpg", b"not a picture", "image/jpeg")
    page = client(shop.lead).post("/certificates/", came(shipment.certificates.get(), picture=picture))
    assert page.status_code == 422
    assert Certificate.objects.filter(came_on=None).count() == 1


def test_owner_reads_a_stranger_signs_in_and_the_queries_do_not_grow(shop: Shop) -> None:
    shipment = back(shop)
    owner = client(shop.owner)
    assert "It is here" not in words(owner.get("/certificates/"))
    assert owner.post("/certificates/", came(shipment.certificates.get(), number="1")).status_code == 403
    assert Client().get("/certificates/").status_code == 302

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            owner.get("/certificates/")
        return len(seen)

    few = queries()
    for n in range(2, 6):
        back(shop, f"S-{n}", f"0{n}")
    assert queries() == few


def test_the_usual_papers_of_what_is_out_are_awaited_with_one_word(shop: Shop) -> None:
    part = make_part(shop, "0118", shop.shelf)
    Piece.objects.filter(pk=part.pk).update(material="steel", strength_mpa=1300)
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="Cadmium plate", pieces=[Piece.objects.get()],
        number="S-1", sent_on=date(2026, 5, 1), promised_on=date(2026, 5, 20),
        packed=Packed(shop.lead, terms=((part.pk, "bake not called out", shop.lead),)),
    )  # fmt: skip
    Certificate.objects.all().delete()  # as an old shipment out of a list, of which no paper was asked
    browser = client(shop.mechanic)
    assert (
        "Cadmium plate usually brings a certificate of conformity and a bake certificate. None is asked for."
        in words(browser.get("/certificates/"))
    )
    said = {"act_id": str(uuid.uuid4()), "do": "usual", "shipment": "S-1"}
    assert browser.post("/certificates/", said).status_code == 302
    assert browser.post("/certificates/", said).status_code == 302  # said twice is done once
    assert sorted(Certificate.objects.values_list("kind", flat=True)) == ["bake", "conformity"]
    text = words(browser.get("/certificates/"))
    assert "Still out, promised for 20 May." in text and "None is asked for" not in text
    assert browser.post("/certificates/", {**said, "act_id": str(uuid.uuid4()), "shipment": "S-9"}).status_code == 422
