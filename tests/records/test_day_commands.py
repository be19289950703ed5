"""`take` and `tray`: what they print, what they refuse, how they end."""

import json
from pathlib import Path

import pytest

from tests.records.shop import make_shop
from tests.records.test_racks import picture
from tests.records.test_tray import find, hunt
from witnessmark.cli.main import main
from witnessmark.records.models import PictureIn, Piece

pytestmark = pytest.mark.django_db


def test_pictures_are_taken_in_and_bad_ones_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shop = make_shop()
    (tmp_path / "a.png").write_bytes(picture(["1001", "1002"]))
    (tmp_path / "b.jpg").write_bytes(b"%PDF-1.7")
    code = main(["take", str(tmp_path / "a.png"), str(tmp_path / "b.jpg"), str(tmp_path / "gone.jpg"), "--json"])
    told = json.loads(capsys.readouterr().out)
    assert code == 1 and {each["tag"] for each in told["kept"][0]["tags"]} == {"1001", "1002"}
    assert [Path(each["file"]).name for each in told["refused"]] == ["b.jpg", "gone.jpg"]
    assert told["waits"]["not_said"] == 2 and PictureIn.objects.get().act.person == shop.lead


def test_said_aloud_and_by_whom(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shop = make_shop()
    (tmp_path / "a.png").write_bytes(picture(["1001"]))
    assert main(["take", str(tmp_path / "a.png"), "--as", "mechanic"]) == 0
    assert "1001 is new" in capsys.readouterr().out
    assert PictureIn.objects.get().act.person == shop.mechanic and Piece.objects.get().tag == "1001"
    assert main(["take", str(tmp_path / "a.png"), "--as", "nobody"]) == 2


def test_the_tray(capsys: pytest.CaptureFixture[str]) -> None:
    shop = make_shop()
    assert main(["tray"]) == 1 and "is empty" in capsys.readouterr().out
    hunt(shop)
    find(shop, name="bracket")
    assert main(["tray", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["finds"][0]
    assert told["name"] == "bracket" and told["could_be"][0]["missing"].startswith("hunt:")
    assert told["could_be"][0]["chance"] + told["none_of_these"] == pytest.approx(1.0, abs=2e-4)
    assert main(["tray"]) == 0 and "from memory, unverified" in capsys.readouterr().out


def test_a_hunt_is_called_by_its_bare_number(capsys: pytest.CaptureFixture[str]) -> None:
    hunt(make_shop())
    for words in ("1", "H-1"):
        assert main(["hunt", words, "--json"]) == 0
        assert [each["hunt"] for each in json.loads(capsys.readouterr().out)["hunts"]] == ["H-1"]
    assert main(["hunt", "2"]) == 1
