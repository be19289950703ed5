"""The findings report and the decision sheets, read back from the PDF: rings, words, figures, the line that is signed."""

import io
import uuid
from datetime import date

import pytest
from PIL import Image
from pypdf import PdfReader

from tests.records.shop import Shop, make_part, make_shop
from tests.support.rows import make_finding, make_steps
from witnessmark.papers import decision_sheet, findings_report
from witnessmark.records.actions.choices import reckon_choice, say_shop_hour
from witnessmark.records.actions.condition import decide
from witnessmark.records.actions.findings import Ring, ask_engineering, measure_finding, see_finding
from witnessmark.records.models import Finding, Piece
from witnessmark.records.photo_store import keep_bytes

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def part(shop: Shop) -> Piece:
    part = make_part(shop, "0004", shop.shelf)
    part.zones.add(shop.zone)
    make_steps(part, ("Strip", "sheet metal"))
    return part


def seen(shop: Shop, part: Piece, ring: Ring | None) -> Finding:
    file = io.BytesIO()
    Image.new("RGB", (400, 300), "#777").save(file, "JPEG")
    told = see_finding(
        by=shop.mechanic, act_id=uuid.uuid4(), piece=part, kind="pitting", what="Pitting #1 $under the lap",
        seen_on=date(2026, 5, 12), photo=keep_bytes(file.getvalue(), "lap.jpg"), ring=ring,
    )  # fmt: skip
    return Finding.objects.get(number=told["finding"])


def read(pdf: bytes) -> tuple[str, PdfReader]:
    reader = PdfReader(io.BytesIO(pdf))
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split()), reader


def curves(reader: PdfReader) -> int:
    """Bezier curves on the first page: an ellipse is drawn of four."""
    return sum(operator == b"c" for _, operator in reader.pages[0].get_contents().operations)  # type: ignore[union-attr]


def test_the_report_shows_words_figures_money_and_what_is_wanted(shop: Shop, part: Piece) -> None:
    finding = seen(shop, part, Ring(0.5, 0.5, 0.1, 0.1))
    typed = {"pit_depth_mm": "0.3 mm", "thickness_mm": "1.2 mm", "work_hours": "4"}
    measure_finding(by=shop.mechanic, act_id=uuid.uuid4(), finding=finding, typed=typed)
    reckon_choice(
        by=shop.lead, act_id=uuid.uuid4(), piece=part, kind="remake", typed={"hours": "30", "money": "900 EUR"}
    )
    ask_engineering(by=shop.lead, act_id=uuid.uuid4(), finding=finding, question="May it stay?")
    text, _ = read(findings_report.pdf(findings_report.gather(shop.aircraft)))
    assert "F-1: Pitting #1 $under the lap" in text
    assert "0.90 of 1.2 mm are left, 75 % of the original." in text
    assert "Waits for engineering" in text
    assert "remake: 30 h, 900 EUR" in text
    assert "Hours and money of reuse, substitute: unknown." in text
    assert "not approved data" in text


def test_the_ring_is_drawn_on_the_picture_and_without_one_nothing_is(shop: Shop, part: Piece) -> None:
    seen(shop, part, None)
    _, bare = read(findings_report.pdf(findings_report.gather(shop.aircraft)))
    Finding.objects.update(state="closed")
    seen(shop, part, Ring(0.5, 0.5, 0.1, 0.1))
    _, ringed = read(findings_report.pdf(findings_report.gather(shop.aircraft)))
    assert curves(ringed) == curves(bare) + 8
    assert len(ringed.pages[0].images) == 1


def test_a_decided_finding_stands_in_one_line(shop: Shop, part: Piece) -> None:
    make_finding(shop, "F-7", piece=part)
    decide(by=shop.lead, act_id=uuid.uuid4(), piece=part, kind="remake", reason="too thin")
    text, _ = read(findings_report.pdf(findings_report.gather(shop.aircraft)))
    assert "Decided" in text
    assert "F-7" in text
    assert "remake" in text


def test_a_decision_sheet_is_one_page_with_five_choices_and_a_line_to_sign(shop: Shop, part: Piece) -> None:
    seen(shop, part, Ring(0.5, 0.5, 0.1, 0.1))
    text, reader = read(decision_sheet.pdf(decision_sheet.gather(shop.aircraft)))
    assert len(reader.pages) == 1
    for words in (
        "Reuse",
        "Repair",
        "Remake",
        "Substitute",
        "Scrap",
        "Decision, and why",
        "unknown: nobody reckoned it",
    ):
        assert words in text


def test_by_tag_a_decided_piece_has_its_sheet_too(shop: Shop, part: Piece) -> None:
    decide(by=shop.lead, act_id=uuid.uuid4(), piece=part, kind="scrap", reason="cracked through", scrap_twice=True)
    assert decision_sheet.gather(shop.aircraft).sheets == ()
    text, _ = read(decision_sheet.pdf(decision_sheet.gather(shop.aircraft, ["0004"])))
    assert "Decided: scrap, Lead" in text
    assert "cracked through" in text


def test_an_empty_record_has_papers_that_say_so(shop: Shop) -> None:
    assert "Nothing was found yet." in read(findings_report.pdf(findings_report.gather(shop.aircraft)))[0]
    assert "No finding waits for a decision." in read(decision_sheet.pdf(decision_sheet.gather(None)))[0]


def test_the_papers_price_the_shops_hours_and_say_how_the_sheet_is_reckoned(shop: Shop, part: Piece) -> None:
    seen(shop, part, Ring(0.5, 0.5, 0.1, 0.1))
    typed = {"hours": "30", "money": "900 EUR"}
    reckon_choice(by=shop.lead, act_id=uuid.uuid4(), piece=part, kind="remake", typed=typed)
    say_shop_hour(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, typed="62 EUR", since=date(2020, 1, 1))
    sheet, reader = read(decision_sheet.pdf(decision_sheet.gather(shop.aircraft)))
    assert len(reader.pages) == 1
    assert "2,760.00 EUR" in sheet
    for words in (
        "Reckoned: money: hours x the shop's hour + paid out",
        "an hour of the shop 62.00 EUR",
        "remake: hours by Lead",
        "MIL-STD-889B",
    ):
        assert words in sheet
    report, _ = read(findings_report.pdf(findings_report.gather(shop.aircraft)))
    assert "2,760.00 EUR with the shop" in report
