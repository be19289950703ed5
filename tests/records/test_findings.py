"""A finding seen with its ring, measured, sent to engineering and back: who may, what is refused, once is once."""

import io
import uuid
from datetime import date

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from PIL import Image

from tests.records.shop import Shop, make_part, make_place, make_shop
from tests.support.rows import make_finding, make_steps
from witnessmark.records.actions.findings import (
    Ring,
    ask_engineering,
    draw_ring,
    engineering_answers,
    measure_finding,
    see_finding,
)
from witnessmark.records.actions.saying import NotAllowed, Refused, SaidOtherwise
from witnessmark.records.lookups.findings import finding_called, findings_seen
from witnessmark.records.lookups.forecast import forecast_inputs
from witnessmark.records.lookups.hidden_damage import hidden_chances, reserve_of
from witnessmark.records.lookups.plan import make_plan
from witnessmark.records.models import (
    Act,
    EngineeringWord,
    Finding,
    FindingFigure,
    FindingRing,
    Person,
    Photo,
    Piece,
    Zone,
)
from witnessmark.records.photo_store import keep_bytes, original_path

pytestmark = pytest.mark.django_db
DAY = date(2026, 5, 12)
RING = Ring(0.4, 0.6, 0.1, 0.05)


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def part(shop: Shop) -> Piece:
    part = make_part(shop, "0004", shop.shelf)
    part.zones.add(shop.zone)
    return part


@pytest.fixture
def photo() -> Photo:
    file = io.BytesIO()
    Image.new("RGB", (400, 300), "#777").save(file, "JPEG")
    return keep_bytes(file.getvalue(), "lap.jpg")


def see(shop: Shop, part: Piece, photo: Photo | None = None, **more: object) -> Finding:
    said = {"piece": part, "kind": "pitting", "seen_on": DAY, "photo": photo, **more}
    told = see_finding(by=shop.mechanic, act_id=uuid.uuid4(), **said)  # type: ignore[arg-type]
    return Finding.objects.get(number=told["finding"])


def measure(by: Person, finding: Finding, **typed: str) -> None:
    measure_finding(by=by, act_id=uuid.uuid4(), finding=finding, typed=typed)


def test_a_finding_is_seen_with_its_ring_and_the_picture_stays_as_it_was(shop: Shop, part: Piece, photo: Photo) -> None:
    before = original_path(photo.pk).read_bytes()
    finding = see(shop, part, photo, ring=RING, opened=True)
    seen = finding_called(shop.aircraft, finding.number)
    assert seen is not None
    assert (finding.what, finding.kind, finding.opened, seen.stage) == ("Pitting", "pitting", True, "seen")
    (picture,) = seen.pictures
    assert picture.ellipse == {"cx": "40.00", "cy": "60.00", "rx": "10.00", "ry": "5.00"}
    assert original_path(photo.pk).read_bytes() == before


def test_seen_twice_by_one_form_is_one_and_other_words_under_one_number_are_refused(shop: Shop, part: Piece) -> None:
    act_id = uuid.uuid4()
    for _ in range(2):
        see_finding(by=shop.mechanic, act_id=act_id, piece=part, kind="crack", seen_on=DAY)
    with pytest.raises(SaidOtherwise):
        see_finding(by=shop.mechanic, act_id=act_id, piece=part, kind="bent", seen_on=DAY)
    assert Finding.objects.count() == 1


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"kind": "rust"}, "no kind of finding"),
        ({"kind": ""}, "in a few words"),
        ({"kind": "other"}, "in a few words"),
        ({"ring": RING}, "needs a picture"),
        ({"where_words": "lower left"}, "needs a picture"),
    ],
)
def test_what_a_finding_needs(shop: Shop, part: Piece, said: dict[str, object], why: str) -> None:
    with pytest.raises(Refused, match=why):
        see(shop, part, **said)
    assert not Finding.objects.exists()


@pytest.mark.parametrize(
    "shares",
    [
        (1.2, 0.5, 0.1, 0.1),
        (0.5, -0.1, 0.1, 0.1),
        (0.5, 0.5, 0.6, 0.1),
        (0.5, 0.5, 0.1, 0.001),
        (float("nan"), 0.5, 0.1, 0.1),
    ],
)
def test_a_ring_that_is_not_on_the_picture_is_refused(shares: tuple[float, float, float, float]) -> None:
    with pytest.raises(Refused, match=r"Draw it again"):
        Ring(*shares)


def test_the_database_refuses_such_a_ring_too_and_lets_none_be_edited(shop: Shop, part: Piece, photo: Photo) -> None:
    finding = see(shop, part, photo, ring=RING)
    use = finding.photo_uses.get()
    with pytest.raises(IntegrityError), transaction.atomic():
        FindingRing.objects.create(use=use, across=1.5, down=0, half_wide=0.1, half_high=0.1, act=finding.act)
    measure(shop.mechanic, finding, pit_depth_mm="0.3", work_hours="4")
    for model in (FindingRing, FindingFigure):
        with pytest.raises(IntegrityError, match="what was recorded stays"), transaction.atomic():
            model.objects.update(act=Act.objects.first())


def test_a_ring_drawn_anew_counts_and_the_old_one_stays(shop: Shop, part: Piece, photo: Photo) -> None:
    finding = see(shop, part, photo, ring=RING)
    draw_ring(by=shop.mechanic, act_id=uuid.uuid4(), finding=finding, photo=photo, ring=Ring(0.5, 0.5, 0.2, 0.2))
    seen = finding_called(shop.aircraft, finding.number)
    assert seen is not None
    assert seen.pictures[0].ellipse["cx"] == "50.00"
    assert FindingRing.objects.count() == 2


def test_without_a_ring_it_is_said_in_words(shop: Shop, part: Piece, photo: Photo) -> None:
    finding = see(shop, part, photo, where_words="lower edge, third rivet")
    seen = finding_called(shop.aircraft, finding.number)
    assert seen is not None
    assert not seen.pictures[0].drawn
    assert seen.pictures[0].ring is not None
    assert seen.pictures[0].ring.where_words == "lower edge, third rivet"


def test_the_newest_figure_counts_and_the_old_one_stays_to_be_read(shop: Shop, part: Piece) -> None:
    finding = see(shop, part)
    measure(shop.mechanic, finding, pit_depth_mm="0.3 mm", thickness_mm="1.0")
    measure(shop.mechanic, finding, pit_depth_mm="0.014 ± 0.002 in")
    seen = finding_called(shop.aircraft, finding.number)
    assert seen is not None
    depth = seen.figures[0]
    assert (depth.row.value, [old.typed for old in depth.before]) == (pytest.approx(0.3556), ["0.3 mm"])
    assert seen.stage == "measured"
    assert seen.assessment.to_engineering


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ({}, "Nothing was typed"),
        ({"pit_area_mm2": "20"}, "Depth of the deepest pit is missing"),
        ({"pit_depth_mm": "deep"}, "Depth of the deepest pit"),
        ({"pit_depth_mm": "1.2", "thickness_mm": "1.0"}, "the finding is a hole"),
        ({"shininess": "1"}, "no figure of a finding"),
    ],
)
def test_bad_figures_change_nothing(shop: Shop, part: Piece, typed: dict[str, str], why: str) -> None:
    finding = see(shop, part)
    with pytest.raises(Refused, match=why):
        measure(shop.mechanic, finding, **typed)
    assert not FindingFigure.objects.exists()


def test_a_finding_without_a_kind_is_asked_for_it_first(shop: Shop, part: Piece) -> None:
    make_finding(shop, "F-9", piece=part)
    finding = Finding.objects.get(number="F-9")
    with pytest.raises(Refused, match="Choose the kind first"):
        measure(shop.mechanic, finding, pit_depth_mm="0.2")
    measure_finding(
        by=shop.mechanic, act_id=uuid.uuid4(), finding=finding, kind="pitting", typed={"pit_depth_mm": "0.2"}
    )
    finding.refresh_from_db()
    assert finding.kind == "pitting"
    assert "pitting" in finding.words


def test_only_those_who_work_here_write(shop: Shop, part: Piece) -> None:
    finding = see(shop, part)
    with pytest.raises(NotAllowed):
        measure(shop.owner, finding, pit_depth_mm="0.2")
    with pytest.raises(NotAllowed):
        see_finding(by=shop.owner, act_id=uuid.uuid4(), piece=part, kind="crack", seen_on=DAY)


def test_engineering_is_asked_once_and_answers_by_name(shop: Shop, part: Piece) -> None:
    finding = see(shop, part)
    with pytest.raises(Refused, match="not with engineering"):
        engineering_answers(by=shop.lead, act_id=uuid.uuid4(), finding=finding, answer="Blend", from_whom="Ruun")
    ask_engineering(by=shop.lead, act_id=uuid.uuid4(), finding=finding, question="May 0.7 mm stay?")
    with pytest.raises(Refused, match="already"):
        ask_engineering(by=shop.lead, act_id=uuid.uuid4(), finding=finding, question="And now?")
    seen = findings_seen(shop.aircraft)
    assert [f.finding.number for f in seen.engineering] == [finding.number]
    assert seen.engineering[0].state_words == "open, with engineering"
    with pytest.raises(Refused, match="a name under it"):
        engineering_answers(by=shop.lead, act_id=uuid.uuid4(), finding=finding, answer="Blend", from_whom=" ")
    engineering_answers(by=shop.lead, act_id=uuid.uuid4(), finding=finding, answer="No: patch", from_whom="Ruun")
    assert findings_seen(shop.aircraft).engineering == ()
    assert [w.kind for w in EngineeringWord.objects.all()] == ["asked", "answered"]


def test_findings_roll_up_by_zone_with_the_worst_that_is_open(shop: Shop, part: Piece) -> None:
    other = Zone.objects.create(aircraft=shop.aircraft, number="200", name="cabin")
    shallow, deep = see(shop, part), see(shop, part)
    measure(shop.mechanic, shallow, pit_depth_mm="0.1", thickness_mm="1.0")
    measure(shop.mechanic, deep, pit_depth_mm="0.4", thickness_mm="1.0")
    make_finding(shop, "F-50", place=make_place(shop, "6-51-020", "L"))
    make_finding(shop, "F-51", zone=other)
    hull, cabin = findings_seen(shop.aircraft).zones
    assert (hull.open, hull.unmeasured, cabin.open) == (3, 1, 1)
    assert hull.worst is not None
    assert hull.worst.finding == deep
    assert [f.finding.number for f in findings_seen(shop.aircraft).to_send] == [shallow.number, deep.number]


def test_the_number_of_queries_does_not_grow(shop: Shop, part: Piece, photo: Photo) -> None:
    see(shop, part, photo, ring=RING)
    with CaptureQueriesContext(connection) as few:
        findings_seen(shop.aircraft)
    for _ in range(6):
        measure(shop.mechanic, see(shop, part, photo, ring=RING), pit_depth_mm="0.1", thickness_mm="1")
    with CaptureQueriesContext(connection) as many:
        findings_seen(shop.aircraft)
    assert len(many) == len(few)


def test_what_opening_reveals_raises_the_reserve_and_the_forecast_knows_it(shop: Shop, part: Piece) -> None:
    """A finding of which nobody said counts as seen before; the forecast's hash follows what is revealed."""
    make_steps(part, ("Strip", "sheet metal"))
    make_finding(shop, "F-30", piece=part)
    before = reserve_of(shop.aircraft)
    plan = make_plan(shop.aircraft)
    first = hidden_chances(shop.aircraft, plan)
    assert set(first) >= {"finding:F-30:decide"}
    assert before.hours is None
    found = see(shop, part, opened=True)
    measure(shop.mechanic, found, pit_depth_mm="0.2", work_hours="5")
    after = reserve_of(shop.aircraft)
    assert after.aircraft_rate > before.aircraft_rate
    assert after.hours is not None
    then = hidden_chances(shop.aircraft, plan)
    assert then["finding:F-30:decide"] > first["finding:F-30:decide"]
    assert forecast_inputs(plan, first)["sha256"] != forecast_inputs(plan, then)["sha256"]
