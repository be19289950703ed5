"""The commands for a piece's route, its shrink fit and a rack; rules from calc/data/order_rules.csv, each with its document."""

import uuid
from pathlib import Path

import pytest
from django.utils import timezone

from tests.records.shop import Shop, make_part, make_shop
from tests.records.test_racks import PRIMED, picture
from tests.support.commands import told
from tests.support.rows import make_steps
from witnessmark.cli.main import main
from witnessmark.records.models import Act, Piece, RouteFact, RouteReason, ShrinkSeat, Step

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    make_part(shop, "0004", shop.shelf)
    Piece.objects.update(material="clad dural 1.2", name="gusset")
    return shop


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    acts = Act.objects.count()
    line = str(told(capsys, 2, *words)["refused"])
    assert Act.objects.count() == acts
    assert "Nothing was" in line
    return line


def test_a_route_is_proposed_for_a_piece_and_written(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    proposed = told(capsys, 0, "routes", "0004", "--finish", "prime", "--work", "blend")
    assert proposed["may_be_used"] and not proposed["written"] and not Step.objects.exists()
    written = told(capsys, 0, "routes", "0004", "--finish", "prime", "--work", "blend", "--write", "--as", "Mechanic")
    assert written["written"] and Step.objects.count() == len(written["steps"]) > 3
    seen = told(capsys, 0, "routes", "0004")
    assert seen["steps"] == written["steps"] and seen["here"] == 1


def test_strength_not_recorded_releases_no_plating(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    """Unknown strength is read neither way: a hardness check comes first, and no plating route is written."""
    Piece.objects.update(material="forged steel", name="pin")
    answer = told(capsys, 1, "routes", "0004", "--finish", "cadmium plate")
    assert answer["withheld"] and not answer["may_be_used"]
    refused(capsys, "routes", "0004", "--finish", "cadmium plate", "--write")
    assert not Step.objects.exists()


def test_what_a_route_hangs_on_is_answered(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    told(capsys, 0, "routes", "0004", "--say", "bushes=yes", "--say", "spring=unknown")
    assert dict(RouteFact.objects.values_list("fact", "holds")) == {"bushes": True, "spring": None}
    facts = {f["name"]: f["holds"] for f in told(capsys, 0, "routes", "0004", "--finish", "prime")["facts"]}
    assert (facts["bushes"], facts["spring"]) == (True, None)


def test_a_soft_rule_is_signed_and_a_hard_one_is_not(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    """Drilled after the primer: soft, from memory. Penetrant after drilling: hard, T.O. 33B-1-1 2.3.6.2 (read)."""
    make_steps(Piece.objects.get(), ("prime", "painter"), ("drill", "sheet metal"), ("penetrant test", "test house"))
    seen = told(capsys, 1, "routes", "0004")
    assert all(each["source"] for each in seen["standing"])
    soft = next(each for each in seen["standing"] if each["may_be_signed"])
    hard = next(each for each in seen["standing"] if each["hard"])
    told(
        capsys, 1, "routes", "0004", "--sign", soft["rule"], "--step", str(soft["step"]), "--reason", "drilled to fit",
        "--as", "Mechanic",
    )  # fmt: skip
    row = RouteReason.objects.get()
    assert (row.rule, row.by.name, row.reason) == (soft["rule"], "Mechanic", "drilled to fit")
    again = next(
        e
        for e in told(capsys, 1, "routes", "0004")["standing"]
        if (e["rule"], e["step"]) == (soft["rule"], soft["step"])
    )
    assert again["signed_by"] == "Mechanic" and not again["may_be_signed"]
    said = ["--step", str(hard["step"]), "--reason", "in a hurry"]
    assert "cannot be signed away" in refused(capsys, "routes", "0004", "--sign", hard["rule"], *said)


@pytest.mark.parametrize(
    "words",
    [
        ["9999", "--finish", "prime"],
        ["9999", "--write"],
        ["0004", "--finish", "gold", "--write"],
        ["0004", "--finish", "prime", "--work", "sing"],
        ["0004", "--finish", "prime", "--thickness", "thin"],
        ["0004", "--finish", "prime", "--thickness", "-1 mm"],
        ["0004", "--finish", "prime", "--write", "--as", "Nobody"],
        ["0004", "--finish", "prime", "--write", "--as", "Owner"],
        ["0004", "--finish", "prime", "--say", "bushes=yes"],
        ["0004", "--say", "bushes=perhaps"],
        ["0004", "--say", "wings=yes"],
        ["0004", "--sign", "OR-1", "--step", "two", "--reason", "because"],
        ["0004", "--sign", "OR-1", "--step", "2", "--reason", "because"],
        ["0004", "--strength", "180 ksi", "--finish", "prime"],
        ["--material", "clad dural", "--write"],
        ["--material", "clad dural", "--step", "1", "--ended", "2026-05-12 14:30"],
        ["0004", "--ended", "2026-05-12 14:30"],
        ["0004", "--step", "1", "--ended", ""],
        ["0004", "--step", "1", "--ended", "2026-05-12 14:30", "--say", "bushes=yes"],
        ["0004", "--step", "1", "--ended", "2026-05-12 14:30", "--finish", "prime"],
        ["0004", "--sign", "", "--step", "1", "--reason", "because"],
    ],
)
def test_what_cannot_be_written_of_a_route(shop: Shop, capsys: pytest.CaptureFixture[str], words: list[str]) -> None:
    refused(capsys, "routes", *words)


def test_when_a_step_ended_is_said_and_the_next_ones_window_runs(
    shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    """USAF finish manual 5.6.2e (read): topcoat on epoxy primer from five hours, within a window."""
    part = Piece.objects.get()
    make_steps(part, ("prime with epoxy primer", "painter"), ("topcoat", "painter"))
    listed = Act.objects.create(
        id=uuid.uuid4(), verb="load_lists", person=shop.lead, said={}, happened_at=timezone.now()
    )
    Step.objects.filter(piece=part, number=1).update(done_act=listed)
    before = told(capsys, 0, "routes", "0004")
    assert before["ended"] == [{"step": 1, "name": "prime with epoxy primer", "ended": None}]
    assert {clock["state"] for clock in before["clocks"]} == {"asked"}
    for wrong, why in (
        (("--step", "9", "--ended", "2026-05-12 14:30"), "has no step 9"),
        (("--step", "x", "--ended", "2026-05-12 14:30"), "is no step's number"),
        (("--step", "1", "--ended", "yesterday"), "is no day and time"),
        (("--step", "1", "--ended", "2026-05-12"), "holds no time of day"),
        (("--step", "1", "--ended", "2999-05-12 14:30"), "is still to come"),
        (("--step", "2", "--ended", "2026-05-12 14:30"), "'topcoat' is not done"),
        (("--step", "1", "--ended", "2026-05-12 14:30", "--as", "Owner"), "may read this"),
    ):
        assert why in refused(capsys, "routes", "0004", *wrong)
    said = told(capsys, 0, "routes", "0004", "--step", "1", "--ended", "2026-05-12 14:30", "--as", "Mechanic")
    assert said["ended"][0]["ended"].startswith("2026-05-12T14:30") and said["clocks"][0]["elapsed_h"] > 0
    assert Act.objects.latest("recorded_at").person == shop.mechanic
    again = refused(capsys, "routes", "0004", "--step", "1", "--ended", "2026-05-12 15:30")
    assert "written down already" in again
    assert main(["routes", "0004"]) == 0
    assert "prime with epoxy primer, done 2026-05-12 14:30" in capsys.readouterr().out


SEAT = ["--seat", "250 mm", "--outside", "290 mm", "--length", "60 mm", "--bore", "235 mm", "--inner", "steel", "--outer", "AZ63A casting"]  # fmt: skip


def test_a_drum_with_plate_on_it_is_refused_with_what_else_to_do(
    shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    """AZ63A castings: at most 300 F (T.O. 1-1A-9 para 4-46, read); 0.06 mm of plate is twice that on the diameter."""
    told(capsys, 0, "shrink", "0004", *SEAT)
    before = told(capsys, 0, "shrink", "0004", "--diameter", "250.30 mm", "--as", "Mechanic")
    assert before["heat"]["allowed"] and before["cap_c"] == pytest.approx(148.9, abs=0.1)
    after = told(capsys, 1, "shrink", "0004", "--diameter", "250.42 mm")
    assert after["interference_mm"] == pytest.approx(0.42)
    assert not after["heat"]["allowed"] and {way["what"] for way in after["heat"]["instead"]} == {"chill", "grind"}
    assert [row["by"] for row in after["diameters"]] == ["Mechanic", "Lead"]
    loose = told(capsys, 1, "shrink", "0004", "--diameter", "249.9 mm")
    assert "loose" in loose["sentence"]


@pytest.mark.parametrize(
    "words",
    [
        ["9999", *SEAT],
        ["0004", *SEAT[:2]],
        ["0004", *SEAT[:-1], "porridge"],
        ["0004", "--seat", "-250", *SEAT[2:]],
        ["0004", "--seat", "wide", *SEAT[2:]],
        ["0004", "--seat", "300 mm", *SEAT[2:]],
        ["0004", *SEAT, "--diameter", "about 250"],
        ["0004", *SEAT, "--diameter", "250.3", "--as", "Owner"],
        ["0004", *SEAT, "--as", "Nobody"],
        ["0004", "--service", "warm"],
        ["0004", "--clearance", "-0.05"],
    ],
)
def test_a_seat_that_cannot_be(shop: Shop, capsys: pytest.CaptureFixture[str], words: list[str]) -> None:
    refused(capsys, "shrink", *words)
    assert not ShrinkSeat.objects.exists()


def test_a_rack_is_finished_with_its_exceptions_named(
    shop: Shop, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    for tag in ("R00", "R01", "R02", "R03"):
        part = make_part(shop, tag, shop.shelf)
        Piece.objects.filter(pk=part.pk).update(material="clad dural")
        make_steps(part, *PRIMED[1:])
    shot = tmp_path / "rack.png"
    shot.write_bytes(picture(["R00", "R01", "R02", "R03"], hidden=("R01",)))
    hanging = [word for tag in ("R00", "R01", "R02") for word in ("--hanging", tag)]
    answer = told(capsys, 1, "rack", str(shot), "--process", "prime", *hanging, "--pick-out", "R03", "--as", "Mechanic")
    assert answer == {
        "process": "prime", "done": ["R00", "R02"], "unreadable": ["R01"], "picked_out": ["R03"], "refused": [],
    }  # fmt: skip
    refused(capsys, "rack", str(shot), "--process", "prime", *hanging, "--pick-out", "R03")
    refused(capsys, "rack", str(shot), "--process", "magic")
    refused(capsys, "rack", str(shot), "--process", "topcoat", "--as", "Owner")
    shot.write_bytes(b"no picture")
    refused(capsys, "rack", str(shot), "--process", "paint")


def plated(strength_mpa: float | None) -> None:
    """A forged pin on its way to the plater, whose nature was asked."""
    piece = Piece.objects.get(tag="0004")
    Piece.objects.update(material="forged steel", name="pin", strength_mpa=strength_mpa)
    make_steps(piece, ("clean", "sheet metal"), ("cadmium plate", "PL"))
    for fact in ("closed tube", "spring", "case-hardened"):
        assert main(["routes", "0004", "--say", f"{fact}=no"]) in (0, 1)


def test_a_step_is_called_out_and_its_vendor_told(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    """QQ-P-416F holds classes 1, 2, 3 (read); a class of another specification is refused, not carried over."""
    plated(600.0)
    capsys.readouterr()
    assert told(capsys, 0, "call-out", "0004", "--step", "2")["called_out"] is None
    answer = told(
        capsys,
        0,
        "call-out",
        "0004",
        "--step",
        "2",
        "--spec",
        "QQ-P-416F",
        "--type",
        "II",
        "--class",
        "2",
        "--as",
        "Mechanic",
    )
    assert answer["called_out"]["code"] == "2"
    assert any("QQ-P-416F, Type II" in line for line in answer["tell"])
    assert "it has 1, 2, 3" in refused(
        capsys, "call-out", "0004", "--step", "2", "--spec", "QQ-P-416F", "--class", "SC2"
    )


def test_a_bake_without_a_strength_is_not_called_out(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    plated(None)
    capsys.readouterr()
    refused(capsys, "call-out", "0004", "--step", "2", "--spec", "QQ-P-416F", "--bake-spec", "MIL-STD-1501F")
    assert told(capsys, 1, "call-out", "0004", "--step", "2")["withheld"]


@pytest.mark.parametrize(
    "words",
    [
        ["9999", "--step", "2", "--spec", "QQ-P-416F"],
        ["0004", "--step", "9", "--spec", "QQ-P-416F"],
        ["0004", "--step", "two", "--spec", "QQ-P-416F"],
        ["0004", "--step", "1", "--spec", "QQ-P-416F"],
        ["0004", "--step", "2", "--class", "2"],
        ["0004", "--step", "2", "--spec", "QQ-P-416F", "--section", "-3 mm"],
        ["0004", "--step", "2", "--spec", "QQ-P-416F", "--tempering", "hot"],
        ["0004", "--step", "2", "--bake-spec", "habit"],
        ["0004", "--step", "2", "--spec", "QQ-P-416F", "--as", "Owner"],
        ["0004", "--step", "2", "--spec", "QQ-P-416F", "--as", "Nobody"],
    ],
)
def test_what_cannot_be_called_out(shop: Shop, capsys: pytest.CaptureFixture[str], words: list[str]) -> None:
    plated(600.0)
    capsys.readouterr()
    refused(capsys, "call-out", *words)
