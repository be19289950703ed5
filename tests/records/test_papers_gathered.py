"""The papers as the record fills them: what is gathered for each, and what is written into a folder."""

import json
import uuid
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from PIL import Image
from pypdf import PdfReader

from tests.records.shop import Shop, make_bag, make_part, make_place, make_shop, take_in
from witnessmark.cli.main import main
from witnessmark.papers import (
    PAPERS,
    NoSuchPaper,
    bench_list,
    labels,
    make,
    platers_sheet,
    rivet_order,
    tags,
    write_all,
)
from witnessmark.papers.typesetting import stamp_for
from witnessmark.records.actions.photographs import photograph
from witnessmark.records.models import (
    Act,
    FastenerSize,
    Hole,
    HoleFilled,
    Layer,
    LookedAt,
    Piece,
    PieceKind,
    Row,
    Shipment,
    ShipmentLine,
    Step,
)
from witnessmark.records.photo_store import original_path

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    made = make_shop()
    made.aircraft.works_number, made.aircraft.shop = "7", "Slipway"
    made.aircraft.arrived_on, made.aircraft.today = date(2025, 3, 26), date(2026, 5, 12)
    made.aircraft.save()
    return made


def text(content: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages).split())


def a_row(shop: Shop, mark: str, looked_at: str, holes: int = 12) -> None:
    size, _ = FastenerSize.objects.get_or_create(
        code="VN12-3.0",
        defaults={
            "kind": "round-head rivet",
            "nominal_mm": 3.0,
            "nominal_typed": "3.0",
            "vendor": shop.vendor,
            "pack": 50,
        },
    )
    place = make_place(shop, mark, "L", holes)
    place.wants_size = size
    place.save()
    row = Row.objects.create(place=place, seam="keel seam", looked_at=looked_at)
    for number in (1, 2):
        Layer.objects.create(row=row, number=number, name=f"sheet {number}", thickness_mm=1.0, thickness_typed="1.0")
    act = Act.objects.create(
        verb="load_lists", person=shop.lead, said={}, said_sha256="", happened_at="2026-05-01T00:00Z"
    )
    for number in range(1, holes + 1):
        hole = Hole.objects.create(place=place, number=number)
        HoleFilled.objects.create(hole=hole, state="empty", act=act)


def a_step(piece: Piece, number: int, name: str, who: str, **more: object) -> None:
    Step.objects.create(piece=piece, number=number, name=name, who=who, **more)


def a_shipment(shop: Shop, number: str, *pieces: Piece) -> Shipment:
    act = Act.objects.create(verb="send", person=shop.lead, said={}, said_sha256="", happened_at="2026-05-01T00:00Z")
    made = Shipment.objects.create(
        number=number, vendor=shop.vendor, process="cadmium plate", sent_on=date(2026, 5, 4), act=act
    )
    for piece in pieces:
        ShipmentLine.objects.create(shipment=made, piece=piece, count_out=8, mass_out_g=None)
    return made


def test_the_stamp_takes_the_aircrafts_own_day(shop: Shop) -> None:
    assert stamp_for(shop.aircraft).words()["line"].startswith("Slipway, Tue 12 May 2026, day 412, version ")
    assert stamp_for(None).aircraft == ""


def test_a_tag_names_its_place_and_the_tag_that_goes_through_each_step(shop: Shop) -> None:
    place = make_place(shop, "6-51-020", "L")
    place.station = "WS 0"
    place.save()
    piece = make_part(shop, "0118", shop.shelf, "L", belongs=place)
    a_step(piece, 1, "Strip", "fitting", tag_medium="metal tag")
    a_step(piece, 2, "Plate", "PL", tag_medium="metal tag")
    a_step(piece, 3, "Prime", "fitting", tag_medium="tag off, and on again")
    make_part(shop, "0119", shop.shelf)
    Piece.objects.create(aircraft=shop.aircraft, kind=PieceKind.PART, name="no tag")
    made = tags.gather(shop.aircraft, base="http://10.0.0.2")
    first = made.tags[0]
    assert (first.tag, first.side, first.aircraft) == ("0118", "LEFT", "Testbird 7")
    assert first.goes == "Goes to hull bottom, 6-51-020 left, WS 0."
    assert first.medium == (("Metal tag:", "strip, plate."), ("Tag off, and on again:", "prime."))
    assert first.address == "http://10.0.0.2/t/0118/"
    assert made.tags[1].goes == "Its place is not known."
    assert made.untagged == 1
    assert [tag.tag for tag in tags.gather(shop.aircraft, tags=["0119"]).tags] == ["0119"]
    piece.zones.add(shop.zone)
    assert [tag.tag for tag in tags.gather(shop.aircraft, zone="100").tags] == ["0118"]
    assert [tag.tag for tag in tags.gather(shop.aircraft, zone="Hull Bottom").tags] == ["0118"]


def test_a_label_counts_what_is_loose(shop: Shop) -> None:
    place = make_place(shop, "6-41-005", capacity=6)
    bag = make_bag(shop, "L-014", shop.box, 40)
    take_in(shop, bag, place.holder, 6)
    bag.count_off, bag.mass_g = 46, 1412
    bag.save()
    label = labels.gather(shop.aircraft).labels[0]
    assert (label.count, label.what, label.mass_g) == (40, "Bolts L-014, 46 taken off", 1412)


def test_the_order_is_gathered_with_its_working_and_its_held_rows(shop: Shop) -> None:
    a_row(shop, "HB-12", LookedAt.YES)
    a_row(shop, "HB-13", LookedAt.UNDER_PAINT)
    made = rivet_order.gather(shop.aircraft)
    (vendor,) = made.vendors
    (line,) = vendor.lines
    assert (line.holes, line.spares, line.count) == (12, 2, 50)
    assert line.rows == ("HB-12 left 12",)
    assert line.working.startswith("12 holes + 2 spares = 14, short with 3.2 %; packs of 50: 50. Grip 2 mm.")
    assert any("NAVEDTRA 14018" in printed for printed in made.sources)
    assert made.held_rows == ("HB-13 left",)
    said = text(rivet_order.pdf(made))
    assert "Lengths and counts come from" in said
    assert "at most 5 % a line, the usual figure. Spoilage: common practice, no source" in " ".join(said.split())
    assert "Hold the rivet order: 1 row is not looked at" in said
    assert "Plater" in said


def test_a_sheet_is_made_for_a_shipment_and_for_what_is_ready(shop: Shop) -> None:
    out, ready = make_bag(shop, "L-015", shop.vendor.holder, 8), make_part(shop, "0307", shop.shelf)
    Piece.objects.filter(pk=out.pk).update(strength_mpa=None)
    a_step(out, 1, "Cadmium plate", "PL", caution="Do not cut the wire.")
    a_step(ready, 1, "Cadmium plate", "PL")
    a_shipment(shop, "S-031", out)
    papers = {paper.name: paper for paper in platers_sheet.gather_all(shop.aircraft)}
    assert set(papers) == {"S-031", "PL"}
    assert papers["S-031"] == platers_sheet.gather(shop.aircraft, "S-031")
    assert [name for name, _ in platers_sheet.names(shop.aircraft)] == ["S-031", "PL"]
    (sheet,) = papers["S-031"].sheets
    assert (sheet.count, sheet.mass_g, sheet.lines[0].caution) == (8, None, "Do not cut the wire.")
    assert any("strength" in caution.text for caution in sheet.cautions)
    assert papers["PL"].sheets[0].lines[0].tag == "0307"
    said = text(platers_sheet.pdf(papers["S-031"]))
    assert "To Plater: 8 pieces, mass not weighed." in said
    shop.vendor.min_order = "8 kg"
    shop.vendor.save()
    ShipmentLine.objects.update(mass_out_g=612)
    assert (
        platers_sheet.gather(shop.aircraft, "S-031").sheets[0].sentence
        == "This is 7.39 kg under the least order of 8 kg."
    )
    assert platers_sheet.gather(shop.aircraft, "nobody").sheets == ()


def test_everybody_has_a_page(shop: Shop) -> None:
    a_row(shop, "HB-13", LookedAt.NO)
    made = bench_list.gather(shop.aircraft)
    assert {"Lead", "Mechanic"} <= {page.name for page in made.pages}
    assert "Owner" not in {page.name for page in made.pages}
    (page,) = bench_list.gather(shop.aircraft, "Mechanic").pages
    assert "HB-13" in page.now
    assert page.jobs[0].what == page.now
    assert bench_list.gather(shop.aircraft, "Nobody at all").pages == ()


def test_all_are_written_under_safe_names(shop: Shop, tmp_path: Path) -> None:
    make_part(shop, "0118", shop.shelf)
    bag = make_bag(shop, "L-015", shop.vendor.holder, 8)
    a_shipment(shop, "../S 31", bag)
    a_shipment(shop, "S-31", make_bag(shop, "L-016", shop.vendor.holder, 8))
    files = write_all(tmp_path / "new" / "folder")
    names = {file.name for file in files}
    assert names == {
        "tags.pdf", "bag-labels.pdf", "bench-list.pdf", "month-plan.pdf", "timeline.pdf", "owners-dates.pdf", "rivet-order.pdf", "rivet-drawing.pdf", "tooling.pdf", "job-cards.pdf", "survey-sheet.pdf", "decision-sheet.pdf", "findings-report.pdf", "platers-sheet-S-31.pdf", "platers-sheet-S-31-2.pdf",
        "manifest-S-31.pdf", "manifest-S-31-2.pdf", "instruction-S-31.pdf", "instruction-S-31-2.pdf",
    }  # fmt: skip
    assert {file.name for file in (tmp_path / "new" / "folder").iterdir()} == names
    assert all(file.read_bytes().startswith(b"%PDF-") for file in files)
    assert [file.name for file in write_all(tmp_path, "tags")] == ["tags.pdf"]
    with pytest.raises(NoSuchPaper, match="There is no paper called 'x'"):
        write_all(tmp_path, "x")
    with pytest.raises(NoSuchPaper):
        make("platers-sheet")


def test_an_empty_record_still_prints(tmp_path: Path) -> None:
    assert {file.stem for file in write_all(tmp_path)} == set(PAPERS) - {
        "platers-sheet",
        "manifest",
        "instruction",
        "stop-sheet",
        "return-sheet",
        "discrepancy",
    }


def test_a_paper_is_given_to_those_who_signed_in(shop: Shop, client: Client) -> None:
    make_part(shop, "0118", shop.shelf)
    make_part(shop, "0119", shop.shelf)
    for address in ("/papers/", "/papers/tags.pdf"):
        assert client.get(address)["Location"].startswith("/sign-in/")
    client.force_login(shop.owner)
    given = client.get("/papers/tags.pdf", {"tag": "0118"})
    assert given["Content-Type"] == "application/pdf"
    said = text(given.content)
    assert "0118" in said
    assert "0119" not in said
    assert client.get("/papers/no-such-paper.pdf").status_code == 404
    assert client.post("/papers/tags.pdf").status_code == 405


def test_the_screen_lists_what_can_be_printed(shop: Shop, client: Client) -> None:
    make_part(shop, "0118", shop.shelf)
    a_shipment(shop, "S-031", make_bag(shop, "L-015", shop.vendor.holder, 8))
    client.force_login(shop.owner)
    said = client.get("/papers/").content.decode()
    for words in ("Tags", "Bag labels", "Bench list", "Rivet order", "The sheet for S-031"):
        assert words in said
    assert "/papers/tags.pdf?zone=100" in said
    assert "/papers/platers-sheet.pdf?which=S-031" in said
    assert client.get("/papers/platers-sheet.pdf?which=S-031").content.startswith(b"%PDF-")


def test_the_command_writes_and_lists_the_files(shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    make_part(shop, "0118", shop.shelf)
    assert main(["papers", "--json", "--out", str(tmp_path), "--only", "tags"]) == 0
    assert json.loads(capsys.readouterr().out) == [str(tmp_path / "tags.pdf")]
    assert main(["papers", "--out", str(tmp_path / "tags.pdf")]) == 2
    assert "is a file. Name a folder for the papers." in capsys.readouterr().err


def test_the_first_picture_is_cut_and_a_lost_one_is_left_out(shop: Shop, settings: Any, tmp_path: Path) -> None:
    settings.DATA = tmp_path
    piece, other = make_part(shop, "0118", shop.shelf), make_part(shop, "0119", shop.shelf)
    for colour, to in (("red", piece), ("blue", piece), ("green", other)):
        taken = BytesIO()
        Image.new("RGB", (3000, 2000), colour).save(taken, "JPEG")
        photograph(by=shop.lead, act_id=uuid.uuid4(), data=taken.getvalue(), name=f"{colour}.jpg", piece=to)
    original_path(other.photo_uses.get().photo_id).unlink()
    first, second = tags.gather(shop.aircraft).tags
    assert first.picture is not None
    shown = Image.open(BytesIO(first.picture))
    assert shown.size == (800, 533)
    assert shown.getpixel((400, 200))[0] > 200
    assert second.picture is None
    assert len(PdfReader(BytesIO(make("tags"))).pages[0].images) == 1


def test_queries_do_not_grow_with_pieces(shop: Shop) -> None:
    def queries() -> list[int]:
        counted = []
        for gather in (tags.gather, labels.gather, platers_sheet.gather_all):
            with CaptureQueriesContext(
                connection,
            ) as ran:
                gather(shop.aircraft)
            counted.append(len(ran))
        return counted

    place = make_place(shop, "6-51-020", "L", capacity=50)
    for n in range(2):
        a_step(make_part(shop, f"1{n}", shop.shelf, belongs=place), 1, "Plate", "PL")
        make_bag(shop, f"L-1{n}", shop.box, 4)
    few = queries()
    for n in range(20):
        a_step(make_part(shop, f"2{n}", shop.shelf, belongs=place), 1, "Plate", "PL")
        make_bag(shop, f"L-2{n}", shop.box, 4)
    assert queries() == few
