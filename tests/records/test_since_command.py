"""`witnessmark since` says, writes and refuses; what it writes for the public it writes without anybody's tick."""

import io
import json
import uuid
import zipfile
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone
from pypdf import PdfReader

from tests.records.shop import make_part, make_shop
from tests.support.told import SECRETS, Told, filled
from witnessmark.cli.main import main
from witnessmark.records.actions.copies import make_copy
from witnessmark.records.lookups.copies import Ticks

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def data_folder(settings: Any, tmp_path: Path) -> Path:
    settings.DATA = tmp_path
    return tmp_path


@pytest.fixture
def shop() -> Told:
    return filled()


def test_it_says_what_happened_to_the_owner(shop: Told, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["since"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Since ")
    assert "7.25 h were booked" in said
    assert "Before, " in said


def test_one_json_value_with_every_section(shop: Told, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["since", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["for"] == "owner"
    assert told["nothing"] is False
    assert [section["name"] for section in told["sections"]][:3] == ["back", "done", "found"]
    assert [picture["which"] for picture in told["pictures"]] == ["before", "after"]


def test_for_the_public_it_writes_no_secret_and_no_picture(
    shop: Told, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    paper, folder = tmp_path / "p.pdf", tmp_path / "f"
    assert main(["since", "--for", "public", "--json", "--pdf", str(paper), "--folder", str(folder)]) == 0
    out, err = capsys.readouterr()
    assert json.loads(out)["pictures"] == []
    assert json.loads(out)["written"] == [str(paper)]
    assert "tick pictures on /since/" in err
    assert not folder.exists()
    text = out + " ".join(page.extract_text() for page in PdfReader(io.BytesIO(paper.read_bytes())).pages)
    for secrets in SECRETS.values():
        assert not any(secret.casefold() in text.casefold() for secret in secrets)


def test_a_copy_that_was_made_is_written_with_its_ticked_pictures(
    shop: Told, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, copy = make_copy(
        by=shop.shop.lead, act_id=uuid.uuid4(), aircraft=shop.shop.aircraft, for_whom="public",
        since=timezone.localdate() - timedelta(weeks=4), ticks=Ticks(pictures=frozenset(shop.photos)),
        lasts=timedelta(days=30),
    )  # fmt: skip
    packed = tmp_path / "public.zip"
    assert main(["since", "--copy", str(copy.pk), "--folder", str(packed)]) == 0
    with zipfile.ZipFile(packed) as read:
        assert read.namelist() == ["01-before.jpg", "02-after.jpg", "captions.txt", "captions.csv"]
    folder = tmp_path / "public"
    assert main(["since", "--copy", str(copy.pk), "--folder", str(folder)]) == 0
    assert sorted(each.name for each in folder.iterdir()) == sorted(read.namelist())
    assert main(["since", "--copy", str(copy.pk), "--folder", str(folder)]) == 2
    assert "holds something already" in capsys.readouterr().err
    assert main(["since", "--copy", "999"]) == 1
    assert "There is no copy 999" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("asked", "code", "said"),
    [
        (["--from", "2999-01-01"], 1, "lies ahead: today is"),
        (["--from", "spring"], 2, "'spring' is no day"),
        (["--from", "2026-02-30"], 2, "is no day"),
    ],
)
def test_a_day_that_cannot_be_is_said(
    shop: Told, capsys: pytest.CaptureFixture[str], asked: list[str], code: int, said: str
) -> None:
    assert main(["since", *asked]) == code
    assert said in capsys.readouterr().err


def test_nothing_since_and_nothing_on_record(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["since"]) == 1
    assert "The record is empty" in capsys.readouterr().err
    shop = make_shop()
    make_part(shop, "0118", shop.shelf)
    assert main(["since", "--for", "public"]) == 1
    assert "Nothing is on record since" in capsys.readouterr().out
    assert main(["since", "--folder", str(tmp_path / "f")]) == 1
    assert "none was taken in these days" in capsys.readouterr().err
    assert not (tmp_path / "f").exists()
