"""The commands that write findings and decisions: what they write, and each refusal with nothing written and exit code 2."""

from pathlib import Path

import pytest
from PIL import Image

from tests.records.shop import Shop, make_part, make_place, make_shop
from tests.support.commands import told
from tests.support.rows import make_finding, make_steps
from witnessmark.records.models import Act, Aircraft, Decision, Finding, Person, Piece

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    part = make_part(shop, "0004", shop.shelf)
    part.zones.add(shop.zone)
    make_steps(part, ("Strip", "sheet metal"))
    make_place(shop, "FR-3", "L")
    return shop


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """Run it, hold it to exit code 2 with one line, and that no act was written."""
    acts = Act.objects.count()
    line = str(told(capsys, 2, *words)["refused"])
    assert Act.objects.count() == acts
    assert "Nothing was" in line
    return line


def test_a_finding_is_seen_measured_asked_and_answered(
    shop: Shop, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    picture = tmp_path / "pit.png"
    Image.new("RGB", (640, 480), "grey").save(picture)
    seen = told(
        capsys, 0, "finding", "see", "--on", "0004", "--kind", "pitting", "--words", "pits under the strap", "--opened",
        "yes", "--picture", str(picture), "--ring", "40,50,10,12.5", "--as", "Mechanic",
    )  # fmt: skip
    assert (seen["finding"], seen["stage"], seen["seen_by"], seen["opened"]) == ("F-1", "seen", "Mechanic", True)
    assert seen["rings"][0]["half_high"] == 0.125
    figures = [
        "--figure",
        "pit_depth_mm=0.30 +/- 0.05 mm",
        "--figure",
        "thickness_mm=2 mm",
        "--figure",
        "pit_area_mm2=12 x 8 mm",
    ]
    measured = told(capsys, 0, "finding", "measure", "F-1", *figures)
    # The worse end of the depth is 0.35 mm of 2.00: 1.65 mm are left, a blend-out is 20 times as long, 7.0 mm.
    assert any("1.65 of 2 mm are left" in words for words in measured["says"])
    assert any("at least 7.0 mm long" in words for words in measured["says"])
    assert measured["to_engineering"] and measured["figures"]["pit_area_mm2"]["value"] == 96.0
    told(capsys, 0, "finding", "ask", "F-1", "--words", "may it stay?", "--whom", "engineer")
    answered = told(capsys, 0, "finding", "answer", "F-1", "--words", "blend and measure", "--whom", "engineer")
    assert [word["kind"] for word in answered["engineering"]] == ["asked", "answered"]


def test_a_finding_at_a_place_and_in_a_zone(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    at = told(capsys, 0, "finding", "see", "--place", "FR-3 left", "--kind", "missing")
    assert at["what"] == "Missing"
    in_zone = told(capsys, 0, "finding", "see", "--zone", "100", "--words", "water lies here")
    assert in_zone["on"] == "hull bottom"


@pytest.mark.parametrize(
    "words",
    [
        ["see", "--on", "9999", "--kind", "crack"],
        ["see", "--kind", "crack"],
        ["see", "--on", "0004", "--zone", "100", "--kind", "crack"],
        ["see", "--place", "no such place", "--kind", "crack"],
        ["see", "--on", "0004", "--kind", "gremlins"],
        ["see", "--on", "0004"],
        ["see", "--on", "0004", "--kind", "crack", "--as", "Nobody"],
        ["see", "--on", "0004", "--kind", "crack", "--as", "Owner"],
        ["see", "--on", "0004", "--kind", "crack", "--ring", "40,50,10,12"],
        ["see", "--on", "0004", "--kind", "crack", "--ring", "a,b,c,d"],
        ["measure", "F-9", "--figure", "pit_depth_mm=0.3"],
        ["measure"],
        ["measure", "F-1", "--figure", "pit_depth_mm=deep"],
        ["measure", "F-1", "--figure", "pit_depth_mm=-0.3"],
        ["measure", "F-1", "--figure", "pit_depth_mm"],
        ["measure", "F-1", "--figure", "weight=3"],
        ["measure", "F-1", "--figure", "pit_depth_mm=0.3", "--figure", "pit_depth_mm=0.4"],
        ["measure", "F-1"],
        ["measure", "F-1", "--figure", "pit_depth_mm=3", "--figure", "thickness_mm=1"],
        ["ask", "F-1"],
        ["answer", "F-1", "--words", "it may", "--whom", "engineer"],
        ["ring", "F-1", "--where", "lower edge"],
        ["picture", "F-1"],
    ],
)
def test_what_cannot_be_written_of_a_finding(shop: Shop, capsys: pytest.CaptureFixture[str], words: list[str]) -> None:
    make_finding(shop, "F-1", piece=Piece.objects.get())
    Finding.objects.update(kind="pitting")
    refused(capsys, "finding", *words)
    assert Finding.objects.count() == 1


def test_a_decision_is_gone_back_on_by_a_new_one(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    make_finding(shop, "F-1", piece=Piece.objects.get())
    first = told(capsys, 0, "decide", "0004", "--kind", "remake", "--reason", "too thin", "--as", "Lead")
    assert (first["findings_settled"], first["kept_as_pattern"], first["instead_of"]) == (1, True, None)
    assert "pattern" in first["choices"]["originality"]["words"]
    kept = told(capsys, 0, "patterns")
    assert [row["tag"] for row in kept["patterns"]] == ["0004"] and kept["handed_over_on"] is None
    assert "--instead-of remake" in refused(
        capsys, "decide", "0004", "--kind", "reuse", "--reason", "no", "--as", "Lead"
    )
    back = told(
        capsys,
        0,
        "decide",
        "0004",
        "--kind",
        "reuse",
        "--reason",
        "measured anew",
        "--instead-of",
        "remake",
        "--as",
        "Lead",
    )
    assert back["instead_of"] == "remake"
    assert list(Decision.objects.order_by("id").values_list("kind", flat=True)) == ["remake", "reuse"]
    assert told(capsys, 1, "patterns")["patterns"] == []


def test_scrapping_is_said_twice_and_keeps_the_pattern_until_the_hand_over(
    shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["decide", "0004", "--kind", "scrap", "--reason", "nothing left", "--as", "Lead"]
    assert "asked twice" in refused(capsys, *words)
    assert told(capsys, 0, *words, "--scrap-twice")["kept_as_pattern"]
    arrived = Aircraft.objects.get().arrived_on
    assert arrived is not None
    refused(capsys, "patterns", "--handed-over", "1999-01-01")
    refused(capsys, "patterns", "--handed-over", "soon")
    refused(capsys, "patterns", "--handed-over", arrived.isoformat(), "--as", "Mechanic")
    assert told(capsys, 0, "patterns", "--handed-over", arrived.isoformat())["handed_over_on"] == arrived.isoformat()


@pytest.mark.parametrize(
    "words",
    [
        ["9999", "--kind", "reuse", "--reason", "sound", "--as", "Lead"],
        ["0004", "--kind", "reuse", "--reason", "sound"],
        ["0004", "--kind", "reuse", "--reason", "sound", "--as", "Mechanic"],
        ["0004", "--kind", "reuse", "--reason", "sound", "--as", "Owner"],
        ["0004", "--kind", "reuse", "--reason", "sound", "--as", "Nobody"],
        ["0004", "--kind", "reuse", "--as", "Lead"],
        ["0004", "--kind", "gild", "--reason", "pretty", "--as", "Lead"],
        ["0004", "--kind", "reuse", "--reason", "sound", "--instead-of", "scrap", "--as", "Lead"],
        ["0004", "--kind", "repair", "--reckon", "hours=-4"],
        ["0004", "--kind", "repair", "--reckon", "hours=many"],
        ["0004", "--kind", "repair", "--reckon", "hours"],
        ["0004", "--kind", "repair", "--reckon", "money=230"],
        ["0004", "--kind", "substitute", "--reckon", "material=unobtainium"],
        ["0004", "--kind", "scrap", "--reckon", "hours=3"],
    ],
)
def test_what_cannot_be_decided(shop: Shop, capsys: pytest.CaptureFixture[str], words: list[str]) -> None:
    refused(capsys, "decide", *words)
    assert not Decision.objects.exists()


def test_a_wrong_kind_or_no_reason_is_named_before_the_decision_that_stands(
    shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    told(capsys, 0, "decide", "0004", "--kind", "reuse", "--reason", "sound", "--as", "Lead")
    kind = refused(capsys, "decide", "0004", "--kind", "polish", "--reason", "shine", "--as", "Lead")
    assert kind.startswith("'polish' is no decision.") and "reuse, repair, remake, substitute or scrap" in kind
    reason = refused(capsys, "decide", "0004", "--kind", "repair", "--reason", " ", "--as", "Lead")
    assert reason.startswith("A decision has a reason.")
    assert "It is decided: reuse" in refused(
        capsys, "decide", "0004", "--kind", "repair", "--reason", "bent", "--as", "Lead"
    )


def test_what_a_choice_takes_stands_on_the_sheet(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    told(
        capsys,
        0,
        "decide",
        "0004",
        "--kind",
        "repair",
        "--reckon",
        "hours=14",
        "--reckon",
        "money=230 EUR",
        "--as",
        "Mechanic",
    )
    sheet = told(capsys, 0, "choices", "0004")["choices"]["repair"]
    assert sheet["hours"]["value"] == 14 and "Mechanic" in sheet["hours"]["from"]
    assert sheet["money"]["value"] == 230


def test_no_lead_no_hand_over(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    Person.objects.filter(name="Lead").update(is_active=False)
    refused(capsys, "patterns", "--handed-over", "2030-01-01")


def test_the_shop_hour_is_said_and_prices_a_choice(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    assert told(capsys, 1, "shop-hour") == {"now": None, "said": []}
    told(capsys, 0, "decide", "0004", "--kind", "remake", "--reckon", "hours=40", "--reckon", "money=300 EUR")
    assert not told(capsys, 0, "choices", "0004")["choices"]["remake"]["cost"]["known"]
    said = told(capsys, 0, "shop-hour", "62 EUR", "--since", "2020-01-01", "--as", "Lead")
    assert (said["now"]["amount"], said["said"][0]["by"]) == (62.0, "Lead")
    assert told(capsys, 0, "choices", "0004")["choices"]["remake"]["cost"]["value"] == 2780.0
    for wrong in (
        ["0 EUR"],
        ["62"],
        ["62 EUR", "--since", "soon"],
        ["62 EUR", "--as", "Mechanic"],
        ["62 EUR", "--as", "No"],
    ):
        refused(capsys, "shop-hour", *wrong)
