"""On a row: length by rule and by volume, the flush head in its seat, and the joint beside a substitute."""

import pytest
from django.test import Client

from tests.records.shop import Shop, make_shop
from tests.support.pages import words
from tests.support.rows import make_row, make_size
from witnessmark.records.models import FastenerSize, Layer

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def page(shop: Shop, address: str) -> str:
    client = Client()
    client.force_login(shop.mechanic)
    answer = client.get(address)
    assert answer.status_code == 200
    return words(answer)


def flush_size() -> FastenerSize:
    """A metric 120 degree flush rivet of the built-in catalogue, so that its head is known."""
    from witnessmark.calc.fasteners.catalogue import built_in

    shape = next(s for s in built_in() if s.form == "flush" and s.head_deg == 120 and s.shank_mm == 3.0)
    return FastenerSize.objects.create(
        code=shape.code, kind="flush rivet 120", head_deg=120, nominal_mm=3.0, nominal_typed="3.0 mm", family="metric"
    )


def test_rule_and_volume_stand_side_by_side_with_each_shop_head_in_words(shop: Shop) -> None:
    """Rule G + 1.5 D (NAVEDTRA 14018): 3.5 + 4.5 = 8.0; volume G (Dh/D)^2 + 1.125 D: 3.5 x 1.0678 + 3.375 = 7.11."""
    make_row(shop, "C2", make_size(shop))
    text = page(shop, "/seam/C2/L/")
    assert (
        "Order 8 mm: the 1.5 D rule gives 8.00 mm and leads, for it is the printed one and a long rivet can be cut; "
        "by volume 7.11 mm would do, 0.89 mm less" in text
    )
    assert "Nearest to the volume in stock: 7 mm" in text
    for flag in ("short: the head", "clinch-prone: too much stands out", "within the limits"):
        assert flag in text


def test_half_steps_stand_beside_the_whole_step(shop: Shop) -> None:
    """Volume for 3.0 mm of stack: 3.0 x 1.0678 + 3.375 = 6.58: 6.5 in half steps, 7 in whole ones."""
    make_row(shop, "C2", make_size(shop), stack=(1.0, 2.0))
    text = page(shop, "/seam/C2/L/")
    assert "by volume 6.58 mm would do" in text
    assert "Nearest to the volume in stock: 6.5 mm, in whole steps 7 mm" in text


def test_a_layer_that_is_missing_is_named_and_no_length_by_volume_is_said(shop: Shop) -> None:
    row = make_row(shop, "C2", make_size(shop), stack=(1.0, 0.8, 2.5))
    Layer.objects.filter(row=row, number=2).delete()
    text = page(shop, "/seam/C2/L/")
    assert "Layer 2 of the stack is missing" in text
    assert "by volume" not in text
    assert "mm long" not in text
    make_row(shop, "C3", make_size(shop, "VN12-4.0", 4.0), stack=(1.0,))
    assert "the layer under it is missing" in page(shop, "/seam/C3/L/")


def test_a_flush_head_is_set_beside_the_seat_that_was_measured(shop: Shop) -> None:
    make_row(shop, "C2", flush_size())
    assert "nothing is said of how the head sits" in page(shop, "/seam/C2/L/")
    assert "proud" in page(shop, "/seam/C2/L/?mouth=5.0&seat_deg=120")
    assert "The angle is missing" in page(shop, "/seam/C2/L/?mouth=5.0")
    assert "Nothing was reckoned" in page(shop, "/seam/C2/L/?mouth=-5&seat_deg=120")


def test_the_joint_says_both_loads_and_asks_for_what_the_stack_does_not_say(shop: Shop) -> None:
    row = make_row(shop, "C2", make_size(shop), edge_mm=9.0)
    ask = "/seam/C2/L/?own_alloy=D&sub_d=3.5&sub_alloy=D"
    assert "sheet 1 is of no material" in page(shop, ask).lower()
    Layer.objects.filter(row=row).update(material="clad dural")
    text = page(shop, ask)
    assert "of the row carries" in text
    assert "it is no leave to substitute" in text
    assert "alloy of the row's rivet is not known" in page(shop, "/seam/C2/L/?sub_d=3.5&sub_alloy=D")
    assert "does not fill a hole" in page(shop, "/seam/C2/L/?own_alloy=D&sub_d=2.6&sub_alloy=D")
    assert "Diameter of the substitute: " in page(shop, "/seam/C2/L/?own_alloy=D&sub_d=wide&sub_alloy=D")


def test_only_the_cone_of_a_domed_head_lies_in_the_sheet() -> None:
    """Cone (6.3 - 3.0) / (2 tan 60) = 0.953 (geometry); measured 1.40 over all leaves a dome of 0.447."""
    from witnessmark.calc.fasteners.catalogue import rivet_shape
    from witnessmark.records.lookups.seam_rivet import cone_of, dome_of

    head = rivet_shape("own", "own", "domed", 3.0, 6.3, 120.0, 1.40, source="measured")
    assert cone_of(head) == pytest.approx(0.953, abs=0.001)
    assert dome_of(head) == pytest.approx(0.447, abs=0.001)


def test_a_flush_row_is_taken_as_dimpled_where_its_sheet_is_thin_and_a_countersink_costs_bearing(shop: Shop) -> None:
    """A 0.8 mm sheet is thinner than the head's cone and its land (lecture notes ch. 6): a dimple; a countersunk 5 mm
    head at 120 degrees takes half of its 0.5 mm off the bearing sheet (BS 5950-1 as quoted)."""
    size = flush_size()
    row = make_row(shop, "C2", size, edge_mm=9.0, stack=(0.8, 2.5))
    Layer.objects.filter(row=row).update(material="clad dural")
    ask = "/seam/C2/L/?own_alloy=AD&sub_d=3&sub_alloy=AD&sub_head=countersunk&sub_head_d=5&sub_head_deg=120"
    text = page(shop, ask)
    assert "lost to the countersink" in text
    assert "3 mm countersunk in the seat of" in text or "In the seat of the row’s own head" in text
    client = Client()
    client.force_login(shop.mechanic)
    shown = client.get(ask).context["joint"]["beside"]
    assert (shown.original.sunk_mm, round(shown.substitute.sunk_mm, 3)) == (0, 0.577)
    sunk = client.get(ask + "&own_seat=countersunk").context["joint"]["beside"]
    assert sunk.original.sunk_mm > 0
    assert sunk.original.bearing_n < sunk.original.uncut_bearing_n
    assert "does not lie flat" in page(shop, ask.replace("countersunk", "protruding"))
