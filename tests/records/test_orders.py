"""The rivet order: only what was looked at is counted, the rest holds it and is named."""

import math
import uuid
from datetime import date
from io import BytesIO

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader
from scipy import stats

from tests.records.shop import Shop, make_bag, make_shop
from tests.support.rows import make_order, make_row, make_size
from witnessmark.calc.fasteners.spares import Used
from witnessmark.cli.order import to_dict
from witnessmark.papers import make
from witnessmark.records.actions.buying import say_wanted_by, set_order_risks
from witnessmark.records.actions.rows import fill_holes
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.orders import rivet_order
from witnessmark.records.lookups.seams import rows_seen, seam_drawn
from witnessmark.records.lookups.spares import holidays, leave_by
from witnessmark.records.lookups.vendor_times import vendor_times
from witnessmark.records.models import Act, DayOff, MeasuredSize

pytestmark = pytest.mark.django_db


def test_84_holes_of_3_5_grip_in_3_0_want_84_and_spares_of_8_mm() -> None:
    """Worked by hand: G = 1.0 + 2.5 = 3.5; L = 3.5 + 1.5 x 3.0 = 8.0 mm; the spares are held against scipy's tail."""
    shop = make_shop()
    make_row(shop, "C2", make_size(shop))
    order = rivet_order(shop.aircraft)
    (group,) = order.vendors
    (each,) = group.lines
    assert group.vendor == shop.vendor
    assert each.rows[0].grip is not None
    assert each.rows[0].grip.grip_mm == 3.5
    assert (each.line.stock_label, each.line.stock_mm) == ("8 mm", 8.0)
    assert (each.line.holes, each.line.spares, each.line.count) == (84, 10, 94)
    assert not order.held
    assert stats.betabinom.sf(10, 94, 2, 48) <= 0.05 < stats.betabinom.sf(9, 93, 2, 48)
    assert each.line.service is not None
    assert each.line.service.chance_short == pytest.approx(stats.betabinom.sf(10, 94, 2, 48), abs=1e-8)
    assert "2 of 50" in each.line.service.learned


def _fewest(holes: int, level: float, spoiled_like: float, good_like: float) -> int:
    """The fewest spares by scipy's beta-binomial, tried one after the other."""
    return next(s for s in range(9999) if stats.betabinom.sf(s, holes + s, spoiled_like, good_like) <= level)


def _accept(shop: Shop, short: float, late: float = 0.2) -> None:
    set_order_risks(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, short_at_most=short, late_at_most=late)


@pytest.mark.parametrize("level", [0.3, 0.05, 0.01])
def test_spares_follow_the_chance_that_the_lead_accepts(level: float) -> None:
    shop = make_shop()
    make_row(shop, "C2", make_size(shop))
    _accept(shop, 0.5)
    _accept(shop, level)
    order = rivet_order(shop.aircraft)
    assert (order.risks.short_at_most, order.risks.by) == (level, shop.lead.name)
    assert order.vendors[0].lines[0].line.spares == _fewest(84, level, 2, 48)


def test_a_chance_that_cannot_be_is_refused_and_only_the_lead_sets_one() -> None:
    shop = make_shop()
    for short, late in ((0, 0.2), (0.05, 1), (-1, 0.2), (float("nan"), 0.2), (0.05, float("inf"))):
        with pytest.raises(Refused, match="Nothing was changed"):
            _accept(shop, short, late)
    with pytest.raises(NotAllowed):
        set_order_risks(
            by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, short_at_most=0.1, late_at_most=0.1
        )
    assert rivet_order(shop.aircraft).risks.by == ""


def test_spoilage_is_learned_from_what_came_what_was_driven_and_what_is_left() -> None:
    """200 came, 80 lie here, so 120 are gone; 84 sit in holes, so 36 were spoiled."""
    shop = make_shop()
    size = make_size(shop)
    row = make_row(shop, "C2", size)
    make_row(shop, "C3", size, stack=(1.0, 1.0))
    make_order(shop, "O-1", "VN12-3.0 × 8 mm", size=size, count=200, ordered_on="2026-01-01", came_on="2026-02-01")
    assert rivet_order(shop.aircraft).spares.used == ()  # nobody counted what is left
    bag = make_bag(shop, "R-08", shop.shelf, 80)
    bag.size, bag.name = size, "rivets VN12-3.0 x 8, new"
    bag.save()
    assert rivet_order(shop.aircraft).spares.used == ()  # nothing was driven yet
    fill_holes(by=shop.lead, act_id=uuid.uuid4(), row=row, holes="1-84", state="riveted")
    order = rivet_order(shop.aircraft)
    assert order.spares.used == (Used(driven=84, spoiled=36),)
    (line,) = [each.line for group in order.vendors for each in group.lines]
    assert line.spares == _fewest(84, 0.05, 2 + 36, 48 + 84) > _fewest(84, 0.05, 2, 48)
    assert line.service is not None
    assert "36 spoiled of 120" in line.service.learned


def test_rivets_that_were_in_the_aircraft_before_teach_nothing_of_spoilage() -> None:
    shop = make_shop()
    size = make_size(shop)
    make_row(shop, "C2", size, states={"riveted": range(1, 80), "empty": range(80, 85)})
    make_order(shop, "O-1", "VN12-3.0 × 8 mm", size=size, count=200, ordered_on="2026-01-01", came_on="2026-02-01")
    bag = make_bag(shop, "R-08", shop.shelf, 50)
    bag.size, bag.name = size, "rivets VN12-3.0 x 8, new"
    bag.save()
    assert rivet_order(shop.aircraft).spares.used == ()


def test_the_day_to_leave_is_the_triangle_of_scipy_counted_back_on_working_days() -> None:
    """numpy's busday_offset counts Monday to Friday; the triangle is scipy's."""
    shop = make_shop()
    vendor = shop.vendor
    vendor.least_days, vendor.likely_days, vendor.most_days = 40, 50, 120
    for late in (0.05, 0.2, 0.5):
        days = math.ceil(stats.triang.ppf(1 - late, 10 / 80, 40, 80))
        for wanted in (date(2026, 9, 30), date(2026, 10, 3), date(2026, 10, 4)):
            found = leave_by(vendor, late, wanted, date(2026, 6, 1))
            assert found is not None
            assert found.working_days == days
            assert found.day == np.busday_offset(wanted, -days, roll="backward").astype(date)
            assert found.late_already == (found.day < date(2026, 6, 1))
    closed = frozenset({date(2026, 9, 30), date(2026, 9, 29), date(2026, 9, 26), date(2026, 8, 17)})
    found = leave_by(vendor, 0.2, date(2026, 9, 30), date(2026, 6, 1), closed)
    assert found is not None
    back = np.busday_offset(date(2026, 9, 30), -found.working_days, roll="backward", holidays=sorted(closed))
    assert found.day == back.astype(date)
    vendor.least_days = vendor.likely_days = vendor.most_days = 0
    assert leave_by(vendor, 0.2, None, date(2026, 6, 1)) is None


def test_the_day_on_which_they_are_wanted_is_said_once_and_stands_on_screen_command_and_paper() -> None:
    shop = make_shop()
    make_row(shop, "C2", make_size(shop))
    shop.vendor.least_days, shop.vendor.likely_days, shop.vendor.most_days = 40, 50, 120
    shop.vendor.save()
    DayOff.objects.create(day=date(2031, 5, 29), why="summer fair")
    now = today(shop.aircraft)
    with pytest.raises(Refused, match="between today and ten years"):
        say_wanted_by(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, wanted_by=date(2019, 1, 1))
    with pytest.raises(NotAllowed):
        say_wanted_by(by=shop.owner, act_id=uuid.uuid4(), aircraft=shop.aircraft, wanted_by=date(2031, 6, 2))
    say_wanted_by(by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, wanted_by=date(2031, 6, 2))
    learned = vendor_times(now)[shop.vendor.pk].time
    leave = leave_by(shop.vendor, 0.2, date(2031, 6, 2), now, frozenset({date(2031, 5, 29)}), learned)
    assert leave is not None
    assert leave.day is not None
    assert leave.working_days == math.ceil(learned.four_in_five)
    assert holidays() == {date(2031, 5, 29)}
    told = to_dict(rivet_order(shop.aircraft), now)
    assert (told["wanted_by"], told["vendors"][0]["leave"]["day"]) == (date(2031, 6, 2), leave.day)
    paper = " ".join(PdfReader(BytesIO(make("rivet-order"))).pages[0].extract_text().split())
    assert f"Must leave by {leave.day:%-d %B %Y}" in paper
    assert "wanted by 2 June 2031" in paper
    say_wanted_by(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, wanted_by=None)
    assert to_dict(rivet_order(shop.aircraft), now)["vendors"][0]["leave"]["day"] is None


def test_a_sellers_least_kilograms_become_pieces_where_the_mass_is_known() -> None:
    """One VN12-3.0 x 8 in dural by its own figures; 2 kg over it, up to a whole rivet (arithmetic)."""
    shop = make_shop()
    shop.vendor.min_order = "2 kg per size"
    shop.vendor.save()
    size = make_size(shop)
    make_row(shop, "C2", size)
    (group,) = rivet_order(shop.aircraft).vendors
    assert group.lines[0].line.count == 94
    assert "cannot be said: nobody knows what VN12-3.0 weighs" in group.least_mass
    size.alloy = "dural"
    size.save()
    act = Act.objects.create(verb="measure", person=shop.lead, said={}, said_sha256="", happened_at="2026-05-01T00:00Z")
    MeasuredSize.objects.create(
        code="VN12-3.0", family="VN", form="round", shank_mm=3.0, head_mm=5.2, head_height_mm=1.8,
        measured_on="six from the spar", act=act,
    )  # fmt: skip
    (group,) = rivet_order(shop.aircraft).vendors
    each = group.lines[0]
    assert each.one_g is not None
    assert each.line.count == math.ceil(2000 / each.one_g)
    assert each.mass_kg == pytest.approx(2.0, abs=0.001)
    assert "takes no less than 2 kg per size" in group.least_mass
    shop.vendor.min_order = "1 kg"
    shop.vendor.save()
    (group,) = rivet_order(shop.aircraft).vendors
    assert group.lines[0].line.count == math.ceil(1000 / each.one_g)


def test_only_holes_without_a_lasting_rivet_are_ordered() -> None:
    shop = make_shop()
    states = {"riveted": range(1, 42), "oversize": [42], "open": [43], "temporary": [48, 52], "empty": range(53, 85)}
    make_row(shop, "C2", make_size(shop), states=states)
    (group,) = rivet_order(shop.aircraft).vendors
    assert (
        group.lines[0].line.holes == 2 + 32
    )  # hole 43 is open: its next rivet is undecided, so it is named and left out
    assert [(each.row.name, each.number) for each in rivet_order(shop.aircraft).undecided] == [("C2 left", 43)]
    (row,) = rows_seen(shop.aircraft)
    assert row.counts == {"riveted": 41, "oversize": 1, "temporary": 2, "empty": 32, "open": 1, "unsaid": 7}


def test_holes_nobody_has_spoken_of_are_named_and_not_counted() -> None:
    shop = make_shop()
    make_row(shop, "H-1", make_size(shop), holes=20, states={"riveted": range(1, 7)})
    order = rivet_order(shop.aircraft)
    assert order.holes == 0
    assert [(row.name, row.unsaid) for row in order.unsaid] == [("H-1 left", 14)]


def test_a_row_not_looked_at_is_no_claim_and_holds_the_order() -> None:
    shop = make_shop()
    size = make_size(shop)
    make_row(shop, "C2", size)
    make_row(shop, "C3", size, looked_at="under paint")
    order = rivet_order(shop.aircraft)
    assert order.held
    assert [row.name for row in order.not_looked_at] == ["C3 left"]
    assert order.not_looked_at[0].length is None
    assert "no claim" in order.not_looked_at[0].why_no_length
    assert order.holes == 84


def test_two_lengths_of_one_size_are_two_lines_and_the_least_run_holds_for_each() -> None:
    shop = make_shop()
    shop.vendor.min_order = "5,000 per size"
    shop.vendor.save()
    size = make_size(shop)
    make_row(shop, "C2", size)
    make_row(shop, "C3", size, stack=(1.0, 1.0))
    (group,) = rivet_order(shop.aircraft).vendors
    assert [(each.line.stock_label, each.line.count) for each in group.lines] == [("7 mm", 5000), ("8 mm", 5000)]
    (run,) = group.combined  # 94 and 94 wanted: one least run of 5,000 holds both
    assert (run.wanted, run.together, run.saved) == (188, 5000, 5000)
    assert [(each.pounds, bool(each.no_mass)) for each in group.lines] == [(None, True), (None, True)]


def test_a_row_without_stack_or_with_a_bolt_is_named_and_never_guessed() -> None:
    shop = make_shop()
    make_row(shop, "C2", make_size(shop), stack=())
    make_row(shop, "C3", make_size(shop, "VN20-M6", 6.0, "hexagon bolt"))
    make_row(shop, "C4", None)
    order = rivet_order(shop.aircraft)
    assert order.vendors == ()
    assert [row.mark for row in order.no_length] == ["C2", "C3", "C4"]
    assert all(row.why_no_length for row in order.no_length)


def test_what_is_on_order_stands_beside_and_what_came_does_not() -> None:
    shop = make_shop()
    size = make_size(shop)
    make_row(shop, "C2", size)
    make_order(shop, "O-1", "rivets", size=size, count=500, ordered_on="2026-05-01")
    make_order(shop, "O-2", "rivets, old", size=size, count=70, ordered_on="2026-01-01", came_on="2026-02-01")
    (group,) = rivet_order(shop.aircraft).vendors
    assert group.lines[0].on_order == 500


def test_what_lies_on_the_shelf_in_the_same_length_is_not_ordered_again() -> None:
    shop = make_shop()
    size = make_size(shop)
    make_row(shop, "C2", size)
    make_row(shop, "C3", size, stack=(1.0, 1.0))
    bag = make_bag(shop, "R-08", shop.shelf, 94)
    bag.size, bag.name = size, "rivets VN12-3.0 x 8, new"
    bag.save()
    order = rivet_order(shop.aircraft)
    assert [each.line.stock_label for each in order.covered] == ["8 mm"]
    assert [each.line.stock_label for group in order.vendors for each in group.lines] == ["7 mm"]
    assert order.vendors[0].lines[0].on_shelf[0].tag == "R-08"
    make_row(shop, "C4", size, 1)
    assert not rivet_order(shop.aircraft).covered


def test_edge_distance_of_a_hole_is_said_as_it_was_measured() -> None:
    shop = make_shop()
    make_row(shop, "C2", make_size(shop, "VN12-4.0", 4.0), edge_mm=7.2)
    drawn = seam_drawn(shop.aircraft, "C2", "L")
    assert drawn is not None
    assert drawn.seen.edge is not None
    assert drawn.seen.edge.sentence == "Measured 1.80 D, guidance minimum 2 D: ask engineering."
    assert drawn.next_hole == 1
    assert seam_drawn(shop.aircraft, "C9", "L") is None


def test_the_number_of_queries_does_not_grow_with_rows() -> None:
    shop = make_shop()
    size = make_size(shop)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            rivet_order(shop.aircraft)
        return len(seen)

    make_row(shop, "C0", size, 5)
    few = queries()
    for n in range(1, 12):
        make_row(shop, f"C{n}", size, 5, looked_at="yes" if n % 3 else "no")
    assert queries() == few
