"""By what a step is done: called out, refused where the bake does not hold, and printed on what goes with the part."""

import io
import uuid

import pytest
from django.utils import timezone
from pypdf import PdfReader

from tests.records.shop import Shop, make_bag, make_part, make_shop
from tests.support.pages import client, words
from tests.support.rows import make_steps
from witnessmark.calc.surface.instruction import CalledOutBy, instruct, refuse_call
from witnessmark.calc.surface.oven_caps import oven_cap
from witnessmark.papers import make
from witnessmark.records.actions.called_out import call_out
from witnessmark.records.actions.custody import send_out
from witnessmark.records.actions.leaving import Packed
from witnessmark.records.actions.route_written import say_route_facts
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.instructions import instructed
from witnessmark.records.models import Act, CalledOut, Piece, Step

pytestmark = pytest.mark.django_db
CHROME, CAD, B850 = "MIL-STD-1501F", "QQ-P-416F", "ASTM B850-98(2009)"


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def fitting(shop: Shop, tag: str = "T1", mpa: float | None = 1379.0, plate: str = "hard chrome") -> Piece:
    part = make_part(shop, tag, shop.shelf)
    Piece.objects.filter(pk=part.pk).update(material="4340 steel", strength_mpa=mpa)
    make_steps(part, (plate, "PL"), ("bake", "PL"), ("put back", "sheet metal"))
    return Piece.objects.get(pk=part.pk)


def call(shop: Shop, piece: Piece, called: CalledOutBy, number: int = 1, by: str = "mechanic") -> None:
    step = Step.objects.select_related("piece__aircraft", "piece__size").get(piece=piece, number=number)
    call_out(by=getattr(shop, by), act_id=uuid.uuid4(), step=step, called=called)


def printed(content: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages).split())


def test_hard_chrome_is_told_its_hours_heat_and_start_with_the_strictest_beside_it() -> None:
    """MIL-STD-1501F 5.2.6 (read): 23 h at 375 +/- 25 F within 4 h; ASTM B850 (quoted): 14 h at 1379 MPa."""
    told = instruct(["hard chrome", "bake"], "4340 steel", 1379, CalledOutBy(CHROME))
    assert any(line.startswith("Bake: 23 h at 375+/-25 F") and "within 4 h of the bath" in line for line in told.lines)
    assert told.asked[:2] == ("out of the bath", "into the oven") and not told.withheld
    other = instruct(["cadmium plate", "bake"], "4340 steel", 1379, CalledOutBy(CAD, "II", "2", B850))
    assert any(line.startswith("Bake: 14 h at 190-220 C") for line in other.lines)
    assert any(
        "soonest: 23 h" in line and "longest: 24 h" in line and "looks too long" in line and "not merged" in line
        for line in other.lines
    )
    assert "Type II (supplementary chromate), Class 2 (7.62 µm at least" in other.lines[0]


@pytest.mark.parametrize(
    ("mpa", "called", "kind", "why"),
    [
        (None, CalledOutBy(CHROME), "", "hardness check"),
        (1379, CalledOutBy(CHROME), "spring", "It is spring"),
        (1379, CalledOutBy(CHROME), "case-hardened", "Ask the engineer"),
        (1379, CalledOutBy(CHROME), "cold-straightened", "no rule of its own"),
        (1379, CalledOutBy(CHROME, temper_c=190), "", "lose its temper"),
        (1379, CalledOutBy(CAD, "II", "2"), "", "from memory only"),
        (1379, CalledOutBy("Shop habit 7"), "", "No bake is called out for steel of 1379 MPa"),
        (1379, None, "", "No bake is called out"),
    ],
)
def test_no_bath_is_released(mpa: float | None, called: CalledOutBy | None, kind: str, why: str) -> None:
    told = instruct(["hard chrome", "bake"], "4340 steel", mpa, called, kind)
    assert why in told.withheld and not told.asked


def test_a_bake_hotter_than_the_coats_may_see_is_refused() -> None:
    """A chromate film under the bake (order rule R08; its figure is from memory), 400 F the end of the bake."""
    told = instruct(["bake"], "4340 steel", 1379, CalledOutBy(CHROME), oven=oven_cap("", ("chromate on plate",)))
    assert "The bake runs up to 204 C" in told.withheld
    assert not instruct(["bake"], "4340 steel", 1379, CalledOutBy(CHROME), oven=oven_cap("", ("chrome",))).withheld


def test_a_type_or_class_of_another_specification_is_refused() -> None:
    """Type III is phosphate in QQ-P-416F (read) and colourless chromate in ASTM B766 (quoted)."""
    assert "never carried over" in refuse_call(CalledOutBy("ASTM B633", "III"))
    assert "holds no class 'SC2'" in refuse_call(CalledOutBy(CAD, "", "SC2"))
    assert "Held are" in refuse_call(CalledOutBy(CAD, "", "", "habit"))
    assert "belongs to a specification" in refuse_call(CalledOutBy("", "II"))
    assert refuse_call(CalledOutBy("Shop habit 7", "III", "9")) == ""


def test_mild_steel_asks_no_bake_and_light_alloy_neither() -> None:
    mild = instruct(["cadmium plate"], "steel", 600, CalledOutBy(CAD, "", "", CHROME))
    assert not mild.withheld and any("asks no bake at 600 MPa" in line for line in mild.lines)
    dural = instruct(["anodise"], "2024-T3", None, CalledOutBy("MIL-A-8625F"), masking=("earth points",))
    assert not dural.withheld and "Mask or plug: earth points." in dural.lines


def test_it_is_called_out_once_a_word_and_the_newest_counts(shop: Shop) -> None:
    piece = fitting(shop)
    call(shop, piece, CalledOutBy(CHROME))
    call(shop, piece, CalledOutBy(CHROME, temper_c=260))
    assert CalledOut.objects.count() == 2
    told = instructed([piece], "PL", "hard chrome")[piece.pk]
    assert told.names == "hard chrome, then bake" and any("23 h" in line for line in told.told.lines)
    with pytest.raises(Refused, match="nothing is called out for it"):
        call(shop, piece, CalledOutBy(CHROME), number=3)
    with pytest.raises(Refused, match="Write the specification"):
        call(shop, piece, CalledOutBy())
    with pytest.raises(NotAllowed):
        call(shop, piece, CalledOutBy(CHROME), by="owner")
    say_route_facts(by=shop.mechanic, act_id=uuid.uuid4(), piece=piece, facts={"spring": True})
    before = Act.objects.count()
    with pytest.raises(Refused, match=r"It is spring.*Nothing was changed"):
        call(shop, piece, CalledOutBy(CHROME))
    assert Act.objects.count() == before
    assert instructed([piece], "PL", "hard chrome")[piece.pk].told.withheld


def test_steel_that_was_straightened_before_is_refused_its_bake(shop: Shop) -> None:
    piece = fitting(shop)
    Step.objects.filter(piece=piece).delete()
    make_steps(piece, ("straighten", "sheet metal"), ("hard chrome", "PL"), ("bake", "PL"))
    with pytest.raises(Refused, match="cold-straightened"):
        call(shop, piece, CalledOutBy(CHROME), number=2)


def test_the_sheet_the_instruction_and_the_card_carry_it(shop: Shop) -> None:
    piece, other = fitting(shop), fitting(shop, "T2", mpa=600)
    facts = {"closed tube": False, "spring": False, "case-hardened": False, "threads": True, "earth points": True}
    say_route_facts(by=shop.mechanic, act_id=uuid.uuid4(), piece=piece, facts=facts)
    call(shop, piece, CalledOutBy(CHROME))
    card = printed(make("job-cards", tags=["T1"]))
    assert f"Called out: {CHROME}" in card and "Bake: 23 h at 375+/-25 F" in card
    assert "Mask or plug: threads and blind holes, earth points." in card
    ready = printed(make("platers-sheet", which="PL"))
    assert (
        "Hard chrome, then bake: T1." in ready and "23 h at 375+/-25 F" in ready and "threads and blind holes" in ready
    )
    assert "Hard chrome, then bake: T2." in ready and "No bake is called out for steel of 600 MPa" in ready
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="hard chrome", pieces=[piece, other],
        number="S-1", sent_on=timezone.localdate(), packed=Packed(shop.lead),
    )  # fmt: skip
    told = printed(make("instruction", which="S-1"))
    assert "23 h at 375+/-25 F" in told and "Out of the bath" in told and "Into the oven" in told
    assert "A later bake does not put it right" in told and "Decorative chrome counts as plating" in told
    assert "threads and blind holes" in told and "opens shipment S-1" in told


def test_questions_do_not_grow_with_the_pieces(shop: Shop, django_assert_max_num_queries) -> None:  # type: ignore[no-untyped-def]
    pieces = [fitting(shop, f"Q{n}") for n in range(12)]
    with django_assert_max_num_queries(4):
        assert len(instructed(pieces, "PL", "hard chrome")) == 12


def test_the_screen_calls_out_refuses_and_keeps_what_was_typed(shop: Shop) -> None:
    fitting(shop)
    browser, address = client(shop.mechanic), "/piece/T1/route/step/1/"
    page = words(browser.get(address))
    assert "no bath is released" in page and "No bake is called out for steel of 1379 MPa" in page
    assert "Call out by what hard chrome is done" in words(browser.get("/piece/T1/route/"))
    wrong = browser.post(address, {"act_id": str(uuid.uuid4()), "spec": CAD, "code": "SC2", "section": "thick"})
    assert wrong.status_code == 422 and 'value="thick"' in wrong.content.decode()
    wrong = browser.post(address, {"act_id": str(uuid.uuid4()), "spec": CAD, "code": "SC2"})
    assert wrong.status_code == 422 and "holds no class" in words(wrong) and not CalledOut.objects.exists()
    form = {"act_id": str(uuid.uuid4()), "spec": CHROME, "bake_spec": CHROME, "temper": "500 F"}
    assert browser.post(address, form).status_code == 302
    page = words(browser.get(address))
    assert f"by {CHROME}" in page and "23 h at 375+/-25 F" in page and "out of the bath, into the oven" in page
    assert browser.get("/piece/T1/route/step/9/").status_code == 404
    assert client(shop.owner).post(address, form | {"act_id": str(uuid.uuid4())}).status_code == 403


def test_the_certificate_is_read_against_the_bake_that_was_called_out(shop: Shop) -> None:
    piece = fitting(shop)
    say_route_facts(by=shop.mechanic, act_id=uuid.uuid4(), piece=piece, facts={"spring": False, "closed tube": False})
    call(shop, piece, CalledOutBy(CHROME))
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="hard chrome, bake", pieces=[piece],
        number="S-1", sent_on=timezone.localdate(), packed=Packed(shop.lead),
    )  # fmt: skip
    assert f'name="spec" value="{CHROME}"' in client(shop.lead).get("/certificates/").content.decode()


def test_a_bag_without_a_route_goes_by_the_words_of_the_shipment(shop: Shop) -> None:
    bag, blank = make_bag(shop, "L-9", shop.shelf, 12), make_bag(shop, "L-8", shop.shelf, 3)
    Piece.objects.filter(pk=bag.pk).update(strength_mpa=None)
    Piece.objects.filter(pk=blank.pk).update(material="", strength_mpa=None)
    bag.refresh_from_db()
    blank.refresh_from_db()
    told = instructed([bag, blank], "PL", "Cadmium plate, bake")
    assert (
        "no bath until a hardness check" in told[bag.pk].told.withheld and told[bag.pk].names == "Cadmium plate, bake"
    )
    assert "material is not recorded" in told[blank.pk].told.withheld
    tested = instructed([bag], "PL", "MPI")[bag.pk].told
    assert (tested.lines, tested.withheld) == ((), "")
