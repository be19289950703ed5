"""`mat print`, `boxes`, `bind`, `measure` and `read`: what they write, what they say of bad input, how they end."""

import json
import re
import uuid
from pathlib import Path

import pytest

from tests.records.shop import Shop, make_bag, make_shop
from tests.unit.test_mat_reading import BAD, bad, few
from witnessmark.cli.main import main
from witnessmark.records.actions.mat import measure_mat, print_mat
from witnessmark.records.lookups.mat_boxes import bound_boxes
from witnessmark.records.models import Photo, PrintedMat

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def test_a_mat_is_printed_and_its_two_lengths_are_kept(
    shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "mat.pdf"
    assert main(["mat", "print", "--out", str(out), "--paper", "A3", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert out.read_bytes().startswith(b"%PDF") and told["check_mm"] == [360.0, 220.0] and told["recorded"]
    assert main(["mat", "measure", told["serial"].lower(), "359.2,220.4", "--as", "mechanic"]) == 0
    mat = PrintedMat.objects.get()
    assert (mat.check_a_mm, mat.check_b_mm, mat.measured_act.person) == (359.2, 220.4, shop.mechanic)  # type: ignore[union-attr]
    assert "359.2" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("lengths", "said"),
    [
        ("359.2", "Give both check lengths"),
        ("a,b", "Give both check lengths"),
        ("35.9,22.0", "lie between 100 and 500"),
        ("240.0,150.0", "more than 5 % off"),
        ("nan,220", "lie between 100 and 500"),
    ],
)
def test_lengths_that_no_ruler_reads_are_refused(
    shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str], lengths: str, said: str
) -> None:
    main(["mat", "print", "--out", str(tmp_path / "mat.pdf"), "--paper", "A3", "--json"])
    serial = json.loads(capsys.readouterr().out)["serial"]
    assert main(["mat", "measure", serial, lengths]) == 2
    assert said in capsys.readouterr().err
    assert not PrintedMat.objects.get().measured
    assert main(["mat", "measure", "NONE", "359.2,220.4"]) == 2


def test_boxes_are_printed_for_bags_and_bound(shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    make_bag(shop, "B-7", shop.shelf, 4)
    out = tmp_path / "boxes.pdf"
    assert main(["mat", "boxes", "B-7", "--new", "1", "--out", str(out), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["boxes"] == {"1": "B-7", "2": "1001"} and out.read_bytes().startswith(b"%PDF")
    assert main(["mat", "bind", told["serial"], "3=B-7"]) == 2
    assert "B-7 is named for two boxes" in capsys.readouterr().err
    make_bag(shop, "B-8", shop.shelf, 4)
    assert main(["mat", "bind", told["serial"], "3=B-8", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["boxes"]["3"] == "B-8"
    assert {b: row.tag for b, row in bound_boxes(PrintedMat.objects.get()).items()} == {
        "1": "B-7",
        "2": "1001",
        "3": "B-8",
    }


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["boxes"], "Name the bags"),
        (["boxes", "B-9"], "No bag has the tag B-9"),
        (["boxes", "--new", "13"], "Take two mats"),
        (["boxes", "--new", "-1", "B-7"], "Take two mats"),
        (["bind", "NONE", "1=B-7"], "No mat NONE was printed here"),
        (["bind", "NONE", "1"], "Write 3=0231"),
        (["bind", "NONE", "1=B-7", "1=B-8"], "named twice"),
    ],
)
def test_boxes_that_cannot_be_are_refused(
    shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    make_bag(shop, "B-7", shop.shelf, 4)
    out = ["--out", str(tmp_path / "boxes.pdf")] if words[0] == "boxes" else []
    assert main(["mat", *words, *out]) == 2
    assert said in capsys.readouterr().err
    assert not PrintedMat.objects.exists() and not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_one_line_and_leaves_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    shot = tmp_path / "shot.jpg"
    shot.write_bytes(bad(name))
    assert main(["mat", "read", str(shot)]) == 1
    told = capsys.readouterr()
    assert re.search(BAD[name][1], told.out) and told.out.count("\n") == 1
    assert "Traceback" not in told.err and not Photo.objects.exists()


def test_what_is_not_there_and_a_folder_are_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["mat", "read", str(tmp_path)]) == 2
    assert "is a folder" in capsys.readouterr().err
    assert main(["mat", "read", str(tmp_path / "gone.jpg")]) == 2
    assert "gone.jpg" in capsys.readouterr().err


def test_a_picture_is_read_to_the_scale_in_the_record(
    shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shot = tmp_path / "shot.jpg"
    shot.write_bytes(few())
    print_mat(by=shop.lead, act_id=uuid.uuid4(), serial="BENCH", kind="A4-plain-blue")
    measure_mat(by=shop.lead, act_id=uuid.uuid4(), serial="BENCH", check_a_mm=240.0, check_b_mm=150.0)
    assert main(["mat", "read", str(shot), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["count"], told["scale_measured"], told["boxes"]) == (5, True, [])
