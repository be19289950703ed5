"""The commands for findings and choices, held against the record."""

import json
import uuid

import pytest

from tests.records.shop import make_part, make_shop
from tests.support.commands import told
from tests.support.rows import make_finding, make_steps
from witnessmark.cli.main import main
from witnessmark.records.actions.condition import decide
from witnessmark.records.actions.findings import measure_finding
from witnessmark.records.lookups.choices import decision_sheet
from witnessmark.records.models import Finding, Person, Piece

pytestmark = pytest.mark.django_db


@pytest.fixture
def part() -> Piece:
    shop = make_shop()
    part = make_part(shop, "0004", shop.shelf)
    part.zones.add(shop.zone)
    make_steps(part, ("Strip", "sheet metal"))
    make_finding(shop, "F-1", piece=part)
    typed = {"pit_depth_mm": "0.3 mm", "thickness_mm": "1.2 mm"}
    measure_finding(by=shop.mechanic, act_id=uuid.uuid4(), finding=Finding.objects.get(), kind="pitting", typed=typed)
    return part


def test_findings_by_zone_and_one_whole(part: Piece, capsys: pytest.CaptureFixture[str]) -> None:
    every = told(capsys, 0, "findings")
    assert every["zones"] == [
        {"zone": "hull bottom", "open": 1, "unmeasured": 0, "decided": 0, "closed": 0, "worst": "F-1"}
    ]
    assert every["to_send"] == ["F-1"]
    one = told(capsys, 0, "findings", "F-1")
    assert one["figures"]["pit_depth_mm"]["value"] == 0.3  # type: ignore[index]
    assert one["to_engineering"] is True
    assert main(["findings", "F-1"]) == 0
    assert "75 % of the original" in capsys.readouterr().out
    assert told(capsys, 1, "findings", "F-9") == {"refused": "There is no finding F-9."}


def test_choices_are_those_of_the_sheet(part: Piece, capsys: pytest.CaptureFixture[str]) -> None:
    values = told(capsys, 0, "choices", "0004")
    assert values["choices"] == json.loads(json.dumps(decision_sheet(part).values()["choices"]))
    assert values["decisions"] == []
    assert main(["choices", "0004"]) == 0
    assert "reuse: unknown" in capsys.readouterr().out
    assert told(capsys, 1, "choices", "9999") == {"refused": "No piece has the tag 9999."}


def test_a_decision_shows_the_figures_it_rested_on(part: Piece, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = decision_sheet(part).values()
    decide(
        by=Person.objects.get(name="Lead"), act_id=uuid.uuid4(), piece=part, kind="remake", reason="thin", sheet=sheet
    )
    (decision,) = told(capsys, 0, "choices", "0004")["decisions"]  # type: ignore[misc]
    assert decision["relied_on"]["choices"] == json.loads(json.dumps(sheet["choices"]))
