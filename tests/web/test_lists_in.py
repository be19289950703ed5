"""Old lists by screen: a file in, meanings by tap, tried, taken, refused rows out, remembered for the next time."""

import csv
import io
import json
import uuid
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_part, make_shop
from tests.support.pages import client, words
from tests.support.spreadsheets import locked_xlsx, xlsx
from witnessmark.cli.main import main
from witnessmark.exchange import list_taking
from witnessmark.exchange.old_meanings import likeliest_form, plain, proposed
from witnessmark.exchange.old_table import read_bytes
from witnessmark.exchange.templates import FORM
from witnessmark.records.actions.people import begin
from witnessmark.records.list_store import list_path
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import Act, Aircraft, HeadingMeans, ListIn, Piece, Vendor, Work, Zone
from witnessmark.records.work import do_one

pytestmark = pytest.mark.django_db
HERE = "/lists/in/"
PARTS = b"Teilenummer;Benennung;Menge;Bereich;Lagerort;Farbe\n9-1;Strap;1;100;shelf A1;red\n9-2;Clip;many;100;shelf A1;blue\n9-3;Pin;2;100;shelf A2;red\n"


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def bring(browser: Client, data: bytes, name: str = "parts.csv") -> ListIn:
    sent = SimpleUploadedFile(name, data)
    answer = browser.post(HERE, {"act_id": str(uuid.uuid4()), "list": sent})
    assert answer.status_code == 302, words(answer)
    return ListIn.objects.get(pk=answer["Location"].rstrip("/").rpartition("/")[2])


def page(came: ListIn) -> str:
    return f"{HERE}{came.pk}/"


def post(browser: Client, came: ListIn, do: str, **fields: str) -> object:
    return browser.post(page(came), {"act_id": str(uuid.uuid4()), "do": do, **fields}, follow=True)


def test_a_list_is_looked_at_tried_and_taken(shop: Shop) -> None:
    browser = client(shop.mechanic)
    came = bring(browser, PARTS)
    before = Piece.objects.count()
    text = words(browser.get(page(came)))
    assert "holds 3 rows. Is this how to read it?" in text and "Read as parts." in text
    assert "By its heading." in text and "Strap" in text
    assert Piece.objects.count() == before
    tried = words(post(browser, came, "try", form="parts"))
    assert "Tried, nothing written: 2 taken, 1 refused." in tried and "Row 3." in tried and "many" in tried
    assert Piece.objects.count() == before and not Act.objects.filter(verb="load_lists").exists()
    taken = words(post(browser, came, "take", form="parts"))
    assert "parts.csv: 2 taken, 1 refused." in taken
    assert Piece.objects.count() == before + 2
    assert "row 2, 4" in taken  # each row is accounted for
    again = words(post(browser, came, "take", form="parts"))
    assert "2 the same as already there, 1 refused" in again
    assert Piece.objects.count() == before + 2 and check_ledger().balanced


def test_a_meaning_is_changed_by_tap_and_a_column_left_out(shop: Shop) -> None:
    browser = client(shop.mechanic)
    came = bring(browser, PARTS)
    looked = post(browser, came, "look", form="parts", c5="finish", c2="")
    text = looked.content.decode()  # type: ignore[attr-defined]
    assert 'value="finish" selected' in text and "As you said." in words(looked)
    post(browser, came, "take", form="parts", c5="finish", c2="")
    assert Piece.objects.get(part_no="9-2").finish == "blue"
    assert dict(HeadingMeans.objects.values_list("heading", "column"))["farbe"] == "finish"


def test_meanings_are_remembered_by_screen_and_by_command(
    shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    browser = client(shop.mechanic)
    post(browser, bring(browser, PARTS), "take", form="parts", c5="finish", c2="")
    other = tmp_path / "other.csv"
    other.write_text("FARBE;Menge;Teilenummer;Benennung\ngreen;3;9-7;Cap\n", "utf-8")
    main(["load-list", str(other), "--kind", "parts", "--json"])
    told = json.loads(capsys.readouterr().out)
    assert told["means"] == {"FARBE": "finish", "Teilenummer": "part_no", "Benennung": "name"}
    args = ["--column", "Menge=qty", "--always", "zone=100", "--always", "side=L", "--always", "where=shelf A1"]
    assert main(["load-list", str(other), "--kind", "parts", *args, "--yes", "--json"]) == 0, capsys.readouterr().out
    capsys.readouterr()
    table = read_bytes(b"Menge;Farbe\n1;red\n", "third.csv")
    assert [(each.column, each.because) for each in proposed(table, FORM["parts"])] == [
        ("qty", "as last time"),
        ("finish", "as last time"),
    ]


def test_headings_that_say_nothing_are_read_by_what_stands_in_them(shop: Shop) -> None:
    make_part(shop, "0118", shop.shelf)
    data = "x1;x2;x3;x4;x5;x6\n" + "".join(f"0{n};left;1{n} g;shelf A{n % 9};steel tube;Strap of the {'abcdefghij'[n % 10]} kind {'abcdefghij'[n // 10 % 10]}\n" for n in range(310, 340))  # fmt: skip
    means = {each.heading: each.column for each in proposed(read_bytes(data.encode(), "a.csv"), FORM["parts"])}
    assert means == {"x1": "tag", "x2": "side", "x3": "mass_g", "x4": "where", "x5": "material", "x6": "name"}


@pytest.mark.parametrize(
    ("headings", "form"),
    [
        ("Part no;Description;Qty;Zone", "parts"),
        ("Tag;Contents;Count;Zone;Box", "bags"),
        ("Code;Name;Does;Least days;Likely days;Most days", "vendors"),
        ("Shipment;Vendor;Process;Sent on;Promised on;Tags", "shipments"),
        ("Finding;On;What;Seen on;By", "findings"),
    ],
)
def test_what_a_list_lists_is_proposed(headings: str, form: str) -> None:
    assert likeliest_form(read_bytes(f"{headings}\nx;y;1;2;3;4\n".encode(), "a.csv")).name == form


def test_an_empty_record_needs_but_the_aircrafts_name_and_makes_the_zones() -> None:
    browser = client(begin(name="First"))
    came = bring(browser, PARTS)
    refused = post(browser, came, "take", form="parts")
    assert "none is in the record yet" in words(refused) and not Aircraft.objects.exists()
    taken = words(post(browser, came, "take", form="parts", aircraft="Grey Teal 3"))
    assert "2 taken, 1 refused" in taken
    assert Aircraft.objects.get().name == "Grey Teal 3" and Zone.objects.get().number == "100"
    assert check_ledger().balanced


def test_zones_that_are_not_to_be_made_refuse_their_rows(shop: Shop) -> None:
    browser = client(shop.mechanic)
    came = bring(browser, PARTS.replace(b";100;", b";hull top;"))
    assert "0 taken, 3 refused" in words(post(browser, came, "take", form="parts", zones="no"))
    assert "2 taken, 1 refused" in words(post(browser, came, "take", form="parts", zones="yes"))
    assert Zone.objects.filter(number="hull top").exists()


def test_refused_rows_come_back_with_the_reason_and_go_in_when_mended(shop: Shop) -> None:
    browser = client(shop.mechanic)
    came = bring(browser, PARTS.replace(b"blue", b"=1+1"))
    post(browser, came, "take", form="parts", c5="note")
    out = browser.get(f"{page(came)}refused.csv")
    assert out["Content-Disposition"] == 'attachment; filename="refused-parts.csv"'
    rows = list(csv.reader(io.StringIO(out.content.decode("utf-8-sig"))))
    assert rows[0] == ["Teilenummer", "Benennung", "Menge", "Bereich", "Lagerort", "Farbe", "why it was refused"]
    assert rows[1][:6] == ["9-2", "Clip", "many", "100", "shelf A1", "'=1+1"] and rows[1][6].startswith("Row 3:")
    assert len(rows) == 2
    again = bring(browser, out.content.replace(b"many", b"4"), "refused-parts.csv")
    assert "1 taken" in words(post(browser, again, "take", form="parts"))
    assert Piece.objects.get(part_no="9-2").note == "=1+1"


def test_the_file_is_kept_as_it_came_and_given_back(shop: Shop) -> None:
    browser = client(shop.mechanic)
    data = locked_xlsx()
    came = bring(browser, data, "locked.xlsx")
    shown = words(browser.get(page(came)))
    assert "locked with a password" in shown and "the file is kept as it came" in shown
    assert list_path(came.sha256).read_bytes() == data
    assert browser.get(f"{page(came)}file/").content == data


def test_a_tag_that_begins_with_a_hash_is_a_row_like_another(shop: Shop) -> None:
    browser = client(shop.mechanic)
    came = bring(
        browser, b"Tag;Contents;Count;Zone;Box\n#12;bolts;4;100;box 7\n;;;;\n#13;nuts;5;100;box 7\n", "bags.csv"
    )
    assert "2 taken" in words(post(browser, came, "take", form="bags"))
    assert Piece.objects.filter(tag="#12").exists()


def test_two_columns_with_one_meaning_are_refused_by_name(shop: Shop) -> None:
    browser = client(shop.mechanic)
    came = bring(browser, PARTS)
    answer = post(browser, came, "take", form="parts", c5="name")
    assert answer.status_code == 422  # type: ignore[attr-defined]
    assert "two columns that mean the same (name is Benennung and Farbe)" in words(answer)
    assert not Act.objects.filter(verb="load_lists").exists()


def test_what_every_row_needs_is_asked(shop: Shop) -> None:
    browser = client(shop.mechanic)
    came = bring(browser, b"Code;Name\nPW;Pewter Lane Platers\n", "vendors.csv")
    text = browser.get(page(came), {"form": "vendors"}).content.decode()
    assert "least_days in every row" in text
    post(browser, came, "take", form="vendors", **{"a-least_days": "5", "a-likely_days": "9", "a-most_days": "20"})
    assert Vendor.objects.get(code="PW").likely_days == 9


def test_another_sheet_and_another_row_of_headings(shop: Shop, tmp_path: Path) -> None:
    browser = client(shop.mechanic)
    data = xlsx(
        tmp_path / "a.xlsx", [("Part no", "Name"), ("9-1", "Strap")], sheets=("Old", "New & better")
    ).read_bytes()
    came = bring(browser, data, "a.xlsx")
    text = browser.get(page(came)).content.decode()
    assert "?sheet=New%20%26%20better" in text
    assert "Strap" in words(browser.get(page(came), {"sheet": "New & better"}))
    assert "no sheet Older" in words(browser.get(page(came), {"sheet": "Older"}))
    assert "no headings in row 9" in words(browser.get(page(came), {"row": "9"}))


@pytest.mark.parametrize(
    ("data", "why"),
    [(b"", "empty"), (None, "No file came along")],
)
def test_nothing_is_no_list(shop: Shop, data: bytes | None, why: str) -> None:
    fields = {"act_id": str(uuid.uuid4())} | ({"list": SimpleUploadedFile("a.csv", data)} if data is not None else {})
    answer = client(shop.mechanic).post(HERE, fields)
    assert answer.status_code == 422 and why in words(answer) and not ListIn.objects.exists()


def test_who_may_and_who_may_not(shop: Shop) -> None:
    came = bring(client(shop.mechanic), PARTS)
    for address in (HERE, page(came), f"{page(came)}refused.csv", f"{page(came)}file/"):
        assert Client().get(address).status_code == 302
    owner = client(shop.owner)
    assert owner.get(page(came)).status_code == 200
    assert owner.post(page(came), {"act_id": str(uuid.uuid4()), "do": "take", "form": "parts"}).status_code == 403
    assert (
        owner.post(HERE, {"act_id": str(uuid.uuid4()), "list": SimpleUploadedFile("a.csv", PARTS)}).status_code == 403
    )
    assert owner.get(f"{HERE}{uuid.uuid4()}/").status_code == 404
    assert owner.get(f"{page(came)}refused.csv").status_code == 404
    assert client(shop.mechanic).post(page(came), {"act_id": str(uuid.uuid4()), "do": "wish"}).status_code == 422
    assert not Act.objects.filter(verb="load_lists").exists()


def test_a_long_list_is_taken_in_by_the_worker_once(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(list_taking, "AT_ONCE", 2)
    browser = client(shop.mechanic)
    came = bring(browser, PARTS)
    assert "is being taken in" in words(post(browser, came, "take", form="parts"))
    assert not Piece.objects.filter(part_no="9-1").exists()
    while do_one():
        pass
    assert Work.objects.filter(kind="take_list", state="done").exists()
    assert "parts.csv: 2 taken, 1 refused." in words(browser.get(page(came)))
    assert Piece.objects.filter(part_no="9-1").count() == 1


def test_a_list_sent_twice_is_taken_once(shop: Shop) -> None:
    browser = client(shop.mechanic)
    came = bring(browser, PARTS)
    fields = {"act_id": str(uuid.uuid4()), "do": "take", "form": "parts"}
    for _ in range(2):
        assert browser.post(page(came), fields).status_code == 302
    assert Act.objects.filter(verb="take_list").count() == 1


def test_queries_do_not_grow_with_the_rows(shop: Shop) -> None:
    browser = client(shop.mechanic)

    def queries(rows: int) -> int:
        came = bring(browser, b"Part no;Name;Zone;Side\n" + b"".join(b"9-%d;Strap;100;L\n" % n for n in range(rows)))
        with CaptureQueriesContext(connection) as seen:
            assert browser.get(page(came)).status_code == 200
        return len(seen)

    assert queries(400) == queries(4) <= 20


@pytest.mark.parametrize(
    ("heading", "folded"), [("Anhänger-Nr.", "anhanger nr"), ("  TAG__no ", "tag no"), ("Деталь №", "деталь no")]
)
def test_headings_are_folded_in_any_script(heading: str, folded: str) -> None:
    assert plain(heading) == folded


DRAWINGS = b"Drg No;Description;Qty;Location\n9-31;Strap;1;shelf A1\n9-32;Clip;1;\n9-33;Pin;1;\n"


def test_rows_without_a_place_are_taken_as_not_known_or_refused_as_he_says(shop: Shop) -> None:
    browser = client(shop.mechanic)
    came = bring(browser, DRAWINGS, "drawings.csv")
    text = words(browser.get(page(came)))
    assert "Read as parts." in text and "2 rows say nothing of where the thing is" in text
    assert "Their place is not known yet" in text
    fields = {"form": "parts", "a-zone": "100", "a-side": "C"}
    refused = words(post(browser, came, "try", nowhere="no", **fields))
    assert "Tried, nothing written: 1 taken, 2 refused." in refused and "says nothing in where" in refused
    taken = words(post(browser, came, "take", nowhere="yes", **fields))
    assert "drawings.csv: 3 taken." in taken
    lies = {p.part_no: [h.holder.kind for h in p.holdings.filter(count__gt=0)] for p in Piece.objects.filter(part_no__startswith="9-3")}  # fmt: skip
    assert lies == {"9-31": ["shelf"], "9-32": ["not_said"], "9-33": ["not_said"]}
    assert check_ledger().balanced
    again = words(post(browser, came, "take", nowhere="yes", **fields))
    assert "3 the same as already there" in again


def test_a_vendor_written_by_hand_is_given_his_days_by_a_list(shop: Shop) -> None:
    browser = client(shop.mechanic)
    Vendor.objects.filter(pk=shop.vendor.pk).update(least_days=0, likely_days=0, most_days=0)
    came = bring(browser, b"code;name;least_days;likely_days;most_days\nPL;Plater;5;10;20\n", "vendors.csv")
    post(browser, came, "take", form="vendors")
    assert Vendor.objects.get(pk=shop.vendor.pk).most_days == 20
