"""`where` and `find` on the command line: words for people, JSON alone for programs, exit codes for both."""

import json
from typing import Any

import pytest

from tests.records.shop import Shop, make_part, make_place, make_shop
from witnessmark.cli.main import main

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    seat = make_place(shop, "6-51-020", "L")
    make_part(shop, "0118", shop.shelf, "L", belongs=seat)
    return shop


def told(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, Any, str]:
    code = main(arguments)
    out = capsys.readouterr()
    return code, json.loads(out.out) if "--json" in arguments else out.out, out.err


def test_where_says_where_it_is_goes_and_has_been(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    code, answer, _ = told(capsys, "where", "0118", "--json")
    assert code == 0
    assert (answer["tag"], answer["name"]) == ("0118", "Fitting 0118")
    assert answer["where"] == [{"count": 1, "holder": "C2", "kind": "shelf", "inside": []}]
    assert (answer["goes"][0]["mark"], answer["goes"][0]["side"]) == ("6-51-020", "left")
    assert [been["what"] for been in answer["been"]] == ["came into the record: C2"]
    assert "C2" in told(capsys, "where", "0118")[1]


def test_where_names_tags_near_an_unknown_one(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    code, said, _ = told(capsys, "where", "0119")
    assert code == 1
    assert "0118" in said
    assert told(capsys, "where", "0119", "--json")[1] == {"tag": "0119", "known": False, "near": ["0118"]}


def test_find_needs_every_word(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    code, answer, _ = told(capsys, "find", "FITTING", "0118", "--json")
    assert code == 0
    assert [piece["tag"] for piece in answer["pieces"]] == ["0118"]
    code, answer, _ = told(capsys, "find", "fitting", "keel", "--json")
    assert code == 1
    assert answer["pieces"] == []
