"""Measured says one size and the list another: the row counts as not looked at until a named person says which it is.

That one row may bear another size than its neighbours, and that an order then waits, is common practice of the trade
(no source): a survey of a few heads says "three sizes", and ten weeks later a half size turns up.
"""

import uuid
from pathlib import Path

import pytest

from tests.records.shop import Shop, make_shop
from tests.support.pages import client, words
from tests.support.rows import make_row, make_size
from witnessmark.exchange.load import load
from witnessmark.records.actions.row_size import settle_row_size
from witnessmark.records.actions.rows import look_at_row
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.actions.survey import accept_survey_risk, measure_head, say_row_size
from witnessmark.records.lookups.row_size import size_of_row, who_settled
from witnessmark.records.lookups.survey import row_heads, survey
from witnessmark.records.models import Act, FastenerSize, Row

pytestmark = pytest.mark.django_db
SNAP_4 = {"form": "round", "hole_mm": "4.1", "head_mm": "7.1"}  # DIN 660: a 4 mm snap head is 7 mm wide
DOMED = {"form": "domed", "hole_mm": "2.7", "head_mm": "4.7", "head_deg": "120", "head_height_mm": "1.0"}
ONLY_SEEN = {"form": "domed", "hole_mm": "2.7", "head_mm": "5.5"}  # its dome cannot be measured while it sits there
NO_NAME = {"form": "flush", "hole_mm": "3.45", "head_mm": "5.4", "head_deg": "110"}


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    size = make_size(shop, "VN11-2.6", 2.6, "flush rivet, domed 120")
    size.head_deg = 120
    size.save()
    for number in range(1, 7):
        make_row(shop, f"S{number}", size, holes=20)
    make_row(shop, "HS-02", size, holes=64, looked_at="no")
    make_row(shop, "HS-06", size, holes=64, looked_at="no")
    return shop


def row(mark: str = "HS-02") -> Row:
    return Row.objects.select_related("place__wants_size", "place__aircraft").get(place__mark=mark)


def measure(shop: Shop, typed: dict[str, str], *holes: int, mark: str = "HS-02") -> None:
    for hole in holes or (1, 64, 32):
        measure_head(by=shop.mechanic, act_id=uuid.uuid4(), row=row(mark), hole=hole, typed=typed)


def settle(shop: Shop, code: str, reason: str = "one knocked out whole", act_id: uuid.UUID | None = None) -> None:
    settle_row_size(by=shop.mechanic, act_id=act_id or uuid.uuid4(), row=row(), code=code, reason=reason)


def named() -> str:
    return size_of_row(row(), row_heads(row())).differing[0].codes[0]


def test_heads_that_are_not_the_lists_make_the_row_disputed_and_it_cannot_be_looked_at(shop: Shop) -> None:
    measure(shop, SNAP_4)
    assert row().looked_at == "disputed" and row_heads(row()).more == 0
    with pytest.raises(Refused, match=r"measured says metric snap .*4, the list says VN11-2\.6"):
        look_at_row(by=shop.lead, act_id=uuid.uuid4(), row=row())
    assert row().looked_at == "disputed" and row().place.wants_size.code == "VN11-2.6"  # type: ignore[union-attr]
    assert "HS-02 left" in survey(shop.aircraft).risk.structures[0].to_look_at


def test_a_row_that_was_looked_at_is_so_no_more_when_another_size_is_measured_in_it(shop: Shop) -> None:
    measure(shop, SNAP_4, 1, mark="S1")
    assert row("S1").looked_at == "disputed"
    measure(shop, DOMED, 1, mark="S1")  # hole 1 was read wrong: the newest figures count
    assert row("S1").looked_at == "no"


def test_what_was_measured_becomes_the_rows_size_raises_the_risk_and_lapses_what_was_accepted(shop: Shop) -> None:
    accept_survey_risk(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, reason="the run closes on Friday")
    before = survey(shop.aircraft)
    assert not before.holds
    measure(shop, SNAP_4)
    assert survey(shop.aircraft).holds, "a size nobody knew was measured: what was accepted did not cover it"
    code, act_id = named(), uuid.uuid4()
    for _ in range(2):
        settle(shop, code, act_id=act_id)
    after = survey(shop.aircraft)
    assert row().looked_at == "yes" and row().place.wants_size.code == code  # type: ignore[union-attr]
    assert set(after.risk.structures[0].kinds) == {"VN11-2.6", code}
    assert (after.risk.chance or 0) > (before.risk.chance or 1)
    assert after.holds and after.accepted is not None and not after.accepted.stands
    told = who_settled(row())
    assert told is not None and (told["by"], told["was"], told["reason"]) == (
        "Mechanic", "VN11-2.6", "one knocked out whole",
    )  # fmt: skip
    made = FastenerSize.objects.get(code=code)
    assert (made.nominal_mm, made.kind, made.status) == (4.0, "round-head rivet", "measured")
    assert Act.objects.filter(verb="settle_row_size").count() == 1


def test_the_lists_size_may_stay_and_the_row_counts_as_disputed(shop: Shop) -> None:
    measure(shop, SNAP_4)
    settle(shop, "", "the calliper was not at nought")
    assert row().looked_at == "disputed" and row().place.wants_size.code == "VN11-2.6"  # type: ignore[union-attr]
    seen = survey(shop.aircraft)
    assert seen.risk.structures[0].kinds == ("VN11-2.6",) and seen.holds
    accept_survey_risk(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, reason="bought by itself")
    assert not survey(shop.aircraft).holds, "the lead may still let the order leave, by name"


@pytest.mark.parametrize(
    ("code", "reason", "why"),
    [("DIN 660 5", "so", "was not measured"), ("VN11-2.6", "so", "was not measured"), ("", " ", "Say why")],
)
def test_a_word_that_settles_nothing_is_refused(shop: Shop, code: str, reason: str, why: str) -> None:
    measure(shop, SNAP_4)
    with pytest.raises(Refused, match=why):
        settle(shop, code, reason)
    with pytest.raises(NotAllowed):
        settle_row_size(by=shop.owner, act_id=uuid.uuid4(), row=row(), code=named(), reason="so")
    assert row().looked_at == "disputed" and not FastenerSize.objects.exclude(code="VN11-2.6").exists()


def test_nothing_is_settled_before_three_heads_nor_where_they_agree(shop: Shop) -> None:
    measure(shop, SNAP_4, 1)
    with pytest.raises(Refused, match="2 heads are still to be measured"):
        settle(shop, named())
    measure(shop, DOMED)
    with pytest.raises(Refused, match="do not differ"):
        settle(shop, "VN11-2.6")
    look_at_row(by=shop.mechanic, act_id=uuid.uuid4(), row=row())
    assert row().looked_at == "yes"


def test_a_row_of_two_sizes_keeps_both_and_both_count_as_met(shop: Shop) -> None:
    measure(shop, DOMED)
    measure(shop, SNAP_4, 20)
    measure(shop, DOMED, 10, 40)
    assert row().looked_at == "disputed" and row_heads(row()).more == 0
    settle(shop, "VN11-2.6", "hole 20 is an old repair")
    kinds = survey(shop.aircraft).risk.structures[0].kinds
    assert row().looked_at == "yes" and any("VN11-2.6 and metric snap" in kind for kind in kinds)
    measure(shop, DOMED, 50)
    assert row().looked_at == "yes", "what was settled is not asked again"


def test_heads_without_a_name_leave_the_row_not_looked_at_and_the_next_figure_is_asked(shop: Shop) -> None:
    measure(shop, NO_NAME)
    with pytest.raises(Refused, match=r"3 heads measured have no name.*Next at hole 1: does a magnet hold it"):
        look_at_row(by=shop.mechanic, act_id=uuid.uuid4(), row=row())
    assert row().looked_at == "no"
    text = words(client(shop.mechanic).get("/survey/HS-02/L/"))
    assert (
        "without a name. It stays not looked at." in text and "At hole 1: does a magnet hold it, with: magnet." in text
    )
    assert "Write down: row" not in text


def test_what_can_be_measured_on_a_head_in_place_is_enough_where_all_it_may_be_fits_the_list(shop: Shop) -> None:
    measure(shop, ONLY_SEEN)
    assert "they fit VN11-2.6. That is enough." in words(client(shop.mechanic).get("/survey/HS-02/L/"))
    look_at_row(by=shop.mechanic, act_id=uuid.uuid4(), row=row())
    assert row().looked_at == "yes"


def test_a_size_said_by_hand_against_the_heads_is_disputed_too(shop: Shop) -> None:
    measure(shop, DOMED)
    look_at_row(by=shop.mechanic, act_id=uuid.uuid4(), row=row())
    make_size(shop, "VN12-3.5", 3.5)
    say_row_size(by=shop.mechanic, act_id=uuid.uuid4(), row=row(), code="VN12-3.5")
    assert row().looked_at == "disputed"


def test_the_list_loaded_again_does_not_undo_what_was_settled(shop: Shop, tmp_path: Path) -> None:
    measure(shop, SNAP_4)
    settle(shop, named())
    kept = row().place.wants_size
    zone = row().place.zone.number
    (tmp_path / "seams.csv").write_text(
        "seam,row,side,zone,from_station,to_station,holes,pitch,edge,fastener,looked_at,note\n"
        f"spar cap to web,HS-02,L,{zone},,,64,20,,VN11-2.6,yes,\n",
        encoding="utf-8",
    )
    found = load(tmp_path, by=shop.lead)
    assert row().place.wants_size == kept
    assert "size of row HS-02" in " ".join(line.words for line in found.outcomes[0].lines)


def test_the_page_asks_which_it_is_and_writes_what_is_chosen(shop: Shop) -> None:
    measure(shop, SNAP_4)
    browser = client(shop.mechanic)
    page = browser.get("/survey/HS-02/L/")
    text = words(page)
    assert "measured says metric snap" in text and "the list says VN11-2.6. Which is it?" in text
    assert "Write down: row" not in text and page.content.decode().count('class="now"') == 1
    assert "say which it is" in words(browser.get("/seam/HS-02/L/"))
    said = {"act_id": str(uuid.uuid4()), "what": "settle", "code": named(), "reason": ""}
    assert browser.post("/survey/HS-02/L/", said).status_code == 422
    look = {"act_id": str(uuid.uuid4()), "what": "look", "looked_at": "yes"}
    assert browser.post("/survey/HS-02/L/", look).status_code == 422
    assert browser.post("/seam/HS-02/L/", look).status_code == 422
    good = {**said, "act_id": str(uuid.uuid4()), "reason": "round heads, all of them"}
    for _ in range(2):
        assert browser.post("/survey/HS-02/L/", good).headers["Location"] == "/survey/"
    text = words(browser.get("/survey/HS-02/L/"))
    assert "Row HS-02 is looked at." in text and "no longer VN11-2.6. “round heads, all of them”" in text
