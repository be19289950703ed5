"""The trip on the phone: planned, put in order, left and fetched with pictures, signed; every refusal; the papers."""

import re
import uuid
from datetime import date
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from pypdf import PdfReader

from tests.records.shop import Shop, make_bag, make_part, make_shop
from tests.records.test_photo_store import picture as a_picture
from tests.records.test_trips import away, bolts, vendor
from tests.support.pages import client, words
from tests.support.rows import make_steps
from witnessmark.papers import make
from witnessmark.records.actions.custody import send_out
from witnessmark.records.models import Holding, Mix, Piece, Shipment, Trip, TripLine

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(settings, tmp_path) -> Shop:  # type: ignore[no-untyped-def]
    settings.DATA = tmp_path
    made = make_shop()
    made.aircraft.today = date(2026, 5, 12)
    made.aircraft.save()
    return made


def photo() -> SimpleUploadedFile:
    return SimpleUploadedFile("c.jpg", a_picture(), "image/jpeg")


def plan(*stops: str, **more: object) -> dict[str, object]:
    return {
        "act_id": str(uuid.uuid4()), "number": "T-1", "day": "2026-05-13", "leaves_at": "07:00", "driver": "Mechanic",
        "stop": [*stops, ""], **more,
    }  # fmt: skip


def post(browser: Client, address: str, do: str, **said: object) -> int:
    return int(browser.post(address, {"act_id": str(uuid.uuid4()), "do": do, **said}).status_code)


def test_plater_test_house_trimmer_and_two_untested_bolts(shop: Shop) -> None:
    """The whole day as it is driven: the test house moves first, the bolts go off the plater's sheet and home balances."""
    piece = bolts(shop)
    vendor("ON", "Test house")
    vendor("TR", "Trimmer", 5)
    cushion = make_part(shop, "0308", shop.shelf)
    make_steps(cushion, ("Trim", "TR"))
    browser = client(shop.mechanic)
    assert browser.post("/trip/", plan("PL", "ON", "TR"))["Location"] == "/trip/T-1/"
    TripLine.objects.filter(stop__vendor__code="ON").delete()
    assert post(browser, "/trip/T-1/", "put", stop="PL", tag="L-063", process="Plate", box="box 1") == 302
    text = words(browser.get("/trip/T-1/"))
    assert "Test house comes before Plater: 2 wheel bolts (L-063) must be tested first." in text
    assert "no later trip to Plater is planned, so that costs 8 days" in text
    assert "Drive in this order, and take what is not tested off the sheet." in text
    assert post(browser, "/trip/T-1/", "order") == 302
    text = words(browser.get("/trip/T-1/"))
    assert text.index("1. Test house") < text.index("2. Plater") < text.index("3. Trimmer")
    assert "Off the sheet: 2 wheel bolts" in text
    assert post(browser, "/trip/T-1/", "load") == 302
    bolt_line, cushion_line = (str(TripLine.objects.get(stop__vendor__code=code).pk) for code in ("ON", "TR"))
    assert post(browser, "/trip/T-1/ON/", "leave", line=bolt_line, number="S-1", picture=photo()) == 302
    assert Shipment.objects.get().certificates.get().kind == "test report"
    assert post(browser, "/trip/T-1/TR/", "refuse", line=cushion_line, why="On holiday") == 302
    for code in ("ON", "PL", "TR"):
        assert post(browser, f"/trip/T-1/{code}/", "sign", signed_by="Somebody") == 302
    assert post(browser, "/trip/T-1/", "end", shelf="shelf C2") == 302
    assert Holding.objects.get(piece=piece, count=2).holder.name == "Test house"
    assert Holding.objects.get(piece=cushion, count=1).holder.name == "shelf C2"
    assert "is over" in words(browser.get("/trip/T-1/"))


def test_fetched_counted_and_against_the_scales(shop: Shop) -> None:
    bag, browser = away(shop), client(shop.mechanic)
    browser.post("/trip/", plan("PL"))
    line = TripLine.objects.get()
    address = "/trip/T-1/PL/"
    assert post(browser, address, "fetch", **{f"count-{line.pk}": "20"}) == 422
    counted = {f"count-{line.pk}": "20", f"mass-{line.pk}": "380 g"}
    page = browser.post(address, {"act_id": str(uuid.uuid4()), "do": "fetch", "picture": photo(), **counted})
    assert page.status_code == 422
    assert "the mass speaks of 19.0" in words(page)
    assert post(browser, address, "fetch", picture=photo(), **counted, **{f"twice-{line.pk}": "yes"}) == 302
    assert Holding.objects.get(piece=bag, count__gt=0).holder.person == shop.mechanic
    assert post(browser, address, "unasked", what="A stranger", picture=photo()) == 302
    text = words(browser.get(address))
    assert "Fetched: 20" in text
    assert "Unasked:" in text


@pytest.mark.parametrize(
    "more",
    [{"stop": ["XX"]}, {"stop": [""]}, {"stop": ["PL", "PL"]}, {"driver": "Nobody"}, {"driver": "Owner"}, {"day": ""},
     {"day": "soon"}, {"leaves_at": "early"}, {"number": " "}, {"act_id": "x"}],
)  # fmt: skip
def test_a_trip_badly_planned_changes_nothing(shop: Shop, more: dict[str, object]) -> None:
    assert client(shop.lead).post("/trip/", plan("PL", **more)).status_code == 422
    assert not Trip.objects.exists()


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("/trip/T-1/", {"do": "put", "stop": "XX", "tag": "0007", "process": "x"}),
        ("/trip/T-1/", {"do": "put", "stop": "PL", "tag": "none", "process": "x"}),
        ("/trip/T-1/", {"do": "put", "stop": "PL", "tag": "0007", "process": ""}),
        ("/trip/T-1/", {"do": "off", "line": "0", "why": "x"}),
        ("/trip/T-1/", {"do": "end", "shelf": ""}),
        ("/trip/T-1/", {"do": "end", "shelf": "C2"}),
        ("/trip/T-1/", {"do": "fly"}),
        ("/trip/T-1/PL/", {"do": "leave", "line": "0", "number": "S-1"}),
        ("/trip/T-1/PL/", {"do": "leave", "number": "S-1"}),
        ("/trip/T-1/PL/", {"do": "refuse", "line": "x", "why": "y"}),
        ("/trip/T-1/PL/", {"do": "unasked", "what": "x"}),
        ("/trip/T-1/PL/", {"do": "sign", "signed_by": " "}),
        ("/trip/T-1/PL/", {"do": "sign", "signed_by": "X"}),
        ("/trip/T-1/PL/", {"do": "fly"}),
    ],
)
def test_a_bad_form_changes_nothing(shop: Shop, address: str, said: dict[str, str]) -> None:
    make_steps(make_part(shop, "0007", shop.shelf), ("Look", "PL"))
    browser = client(shop.lead)
    browser.post("/trip/", plan("PL"))
    assert browser.post(address, {"act_id": str(uuid.uuid4()), **said}).status_code == 422
    assert not Shipment.objects.exists()
    assert not TripLine.objects.exclude(done_act=None).exists()


def test_owner_reads_a_stranger_signs_in_and_what_is_not_there_is_404(shop: Shop) -> None:
    client(shop.lead).post("/trip/", plan("PL"))
    owner = client(shop.owner)
    for address in ("/trip/", "/trip/T-1/", "/trip/T-1/PL/"):
        assert owner.get(address).status_code == 200
        assert Client().get(address).status_code == 302
    assert owner.post("/trip/", plan("PL", number="T-2")).status_code == 403
    assert post(owner, "/trip/T-1/", "order") == 403
    assert post(owner, "/trip/T-1/PL/", "sign", signed_by="X") == 403
    assert owner.get("/trip/T-9/").status_code == 404
    assert owner.get("/trip/T-1/XX/").status_code == 404


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def test_manifest_instruction_and_stop_sheet_say_what_travels(shop: Shop) -> None:
    away(shop)
    part = make_part(shop, "0118", shop.shelf)
    make_steps(part, ("Look", "PL"))
    client(shop.lead).post("/trip/", plan("PL"))
    manifest = text_of(make("manifest", which="S-L-016"))
    assert "Shipment S-L-016 to Plater: 20 pieces, 0.4 kg" in manifest
    assert "Packed by Lead" in manifest
    assert "For shipment S-L-016" in text_of(make("instruction", which="S-L-016"))
    sheet = text_of(make("stop-sheet", which="T-1:PL"))
    assert "Stop 1 of 1: Plater." in sheet
    assert "0118" in sheet
    assert "L-016" in sheet
    assert "There is no trip T-9" in text_of(make("stop-sheet", which="T-9"))
    assert date(2026, 5, 13) == Trip.objects.get().day


def test_a_bucket_comes_over_the_counter_in_counts_with_its_picture(shop: Shop) -> None:
    a, b = make_bag(shop, "A", shop.shelf, 46), make_bag(shop, "B", shop.shelf, 24)
    Piece.objects.filter(pk=a.pk).update(mass_g=1412)
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="Count", pieces=list(Piece.objects.filter(pk__in=[a.pk, b.pk])),
        number="S-1", sent_on=date(2026, 5, 1), promised_on=date(2026, 5, 12),
    )  # fmt: skip
    browser = client(shop.mechanic)
    browser.post("/trip/", plan("PL"))
    address = "/trip/T-1/PL/"
    text = words(browser.get(address))
    assert "With 46 the scales do not show a single missing one" in text and "With 24" not in text
    assert "S-1: they were put in one basket there" in text
    bucket = {"shipment": "S-1", "count": "69", "mass": "1786 g"}
    assert post(browser, address, "bucket", **bucket) == 422  # a leg has its picture
    assert post(browser, address, "bucket", **{**bucket, "count": "71"}, picture=photo()) == 422
    assert post(browser, address, "bucket", **{**bucket, "shipment": "S-9"}, picture=photo()) == 422
    assert not Mix.objects.exists()
    assert post(browser, address, "bucket", **bucket, picture=photo()) == 302
    mixed = Mix.objects.get()
    assert (mixed.count_back, mixed.mass_back_g) == (69, 1786.0)
    assert Holding.objects.get(piece=mixed.piece, count=69).holder.person == shop.mechanic
    assert mixed.piece.photo_uses.count() == 1
    assert post(browser, address, "sign", signed_by="Somebody") == 302
    assert post(browser, "/trip/T-1/", "end", shelf="shelf Q") == 302
    assert Holding.objects.get(piece=mixed.piece, count=69).holder.name == "shelf Q"


def test_a_refused_sheet_stands_as_it_was_filled_in(shop: Shop) -> None:
    away(shop)
    browser = client(shop.mechanic)
    browser.post("/trip/", plan("PL"))
    line = TripLine.objects.get()
    page = browser.post(
        "/trip/T-1/PL/",
        {
            "act_id": str(uuid.uuid4()),
            "do": "fetch",
            f"count-{line.pk}": "20",
            f"mass-{line.pk}": "380 g",
            "picture": photo(),
        },
    )
    source = page.content.decode()
    assert page.status_code == 422 and 'role="alert"' in source
    assert re.search(rf'name="count-{line.pk}"[^>]* value="20"', source)
    assert re.search(rf'name="mass-{line.pk}"[^>]* value="380 g"', source)
    assert "Choose the picture or file again" in source
    page = browser.post("/trip/", plan("PL", "PL", number="T-9", note="van"))
    assert 'name="number" value="T-9"' in re.sub(
        r' (id|required|maxlength|autocomplete)(="[^"]*")?', "", page.content.decode()
    )
