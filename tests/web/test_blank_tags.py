"""Blank tags: given out once, printed as often as wanted; what is printed is read back by the reader."""

import io
import json
import shutil
import subprocess
import uuid
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from pypdf import PdfReader

from tests.records.shop import Shop, make_shop
from witnessmark.cli.main import main
from witnessmark.records.models import Person, TagPrinted
from witnessmark.records.tag_reading import tags_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def give(client: Client, **form: Any) -> Any:
    return client.post("/in/tags/", {"act_id": str(uuid.uuid4()), "count": "30", "medium": "sheet", **form})


def test_thirty_are_given_out_and_printed_twice_alike(shop: Shop) -> None:
    client = signed_in(shop.lead)
    assert "lay one beside each bag" in client.get("/in/tags/").content.decode()
    assert give(client).status_code == 302
    page = client.get("/in/tags/").content.decode()
    assert "Tags 1001 to 1030 are ready to print." in page and "/in/tags/1/pdf/" in page
    printed = client.get("/in/tags/1/pdf/")
    assert printed["Content-Type"] == "application/pdf"
    text = "".join(sheet.extract_text() for sheet in PdfReader(io.BytesIO(printed.content)).pages)
    assert "1001" in text and "1030" in text and "1031" not in text
    client.get("/in/tags/1/pdf/")
    assert TagPrinted.objects.count() == 30


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler-utils is not here")
@pytest.mark.parametrize("medium", ["label", "sheet", "laminated"])
def test_what_is_printed_is_read_back(shop: Shop, tmp_path: Path, medium: str) -> None:
    client = signed_in(shop.lead)
    give(client, count="3", medium=medium)
    paper, picture = tmp_path / "tags.pdf", tmp_path / "page"
    paper.write_bytes(client.get("/in/tags/1/pdf/").content)
    subprocess.run(["pdftoppm", "-r", "200", "-png", "-f", "1", "-l", "1", str(paper), str(picture)], check=True)
    read = tags_in(next(tmp_path.glob("page*.png")).read_bytes())
    assert set(read) == ({"1001"} if medium == "label" else {"1001", "1002", "1003"})


@pytest.mark.parametrize(
    ("form", "says"),
    [
        ({"count": ""}, "A batch has 1 to 2,000 tags"),
        ({"count": "many"}, "is no whole number"),
        ({"medium": "gold"}, "is no kind of tag"),
        ({"act_id": "x"}, "has no number of its own"),
    ],
)
def test_refusals(shop: Shop, form: dict[str, str], says: str) -> None:
    answer = give(signed_in(shop.lead), **form)
    assert answer.status_code == 422 and says in answer.content.decode() and not TagPrinted.objects.exists()


def test_who_may_not_and_what_is_not_there(shop: Shop) -> None:
    assert give(signed_in(shop.owner)).status_code == 403
    assert Client().get("/in/tags/").status_code == 302
    assert signed_in(shop.lead).get("/in/tags/9/pdf/").status_code == 404


def test_the_command(shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "t.pdf"
    assert main(["tags", "--count", "4", "--from", "2001", "--on", "stamping", "--out", str(file), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["first"], told["last"], told["batch"]) == ("2001", "2004", 1) and file.read_bytes()[:4] == b"%PDF"
    assert main(["tags", "--count", "0"]) == 1
    assert main(["tags", "--as", "nobody"]) == 2
    assert main(["tags", "--count", "2", "--out", str(tmp_path / "u.pdf")]) == 0
    assert "2005 to 2006" in capsys.readouterr().out
