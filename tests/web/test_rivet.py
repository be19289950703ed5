"""One rivet by typed figures alone: length and edge, flush head, joint; what cannot be is said by name."""

import pytest
from django.test import Client

from tests.records.shop import make_shop
from tests.support.pages import words

pytestmark = pytest.mark.django_db


@pytest.fixture
def client() -> Client:
    made = Client()
    made.force_login(make_shop().mechanic)
    return made


def test_the_length_and_the_edge_of_one_seam(client: Client) -> None:
    """Rule 3.5 + 1.5 x 3 = 8 (NAVEDTRA 14018); edge 5.4 / 3 = 1.8 D is below 2 D (training lecture)."""
    text = words(client.get("/rivet/?l_stack=1.0+%2B+2.5&l_d=3.0&l_edge=5.4"))
    assert (
        "Order 8 mm: the 1.5 D rule gives 8.00 mm and leads, for it is the printed one and a long rivet can be cut; "
        "by volume 7.11 mm would do, 0.89 mm less" in text
    )
    assert "Nearest to the volume in stock: 7 mm" in text
    assert "Measured 1.80 D, guidance minimum 2 D: ask engineering." in text
    inch = words(client.get("/rivet/?l_stack=0.040+in+%2B+0.040+in&l_d=1/8&l_system=inch"))
    assert "Order 9/32 in (7.14 mm): the 1.5 D rule gives 6.79 mm" in inch


def test_a_head_in_the_die_of_another_angle_leaves_a_gap(client: Client) -> None:
    """Two cones: 100 degrees in 120 touches at the hole and stands proud by (5.6-3.3)/2.383 - (6-3.3)/3.464 = 0.19."""
    text = words(client.get("/rivet/?f_head=5.6&f_deg=100&f_shank=3.2&f_mouth=6.0&f_seat=120&f_hole=3.3"))
    assert "0.19 mm proud" in text
    assert "under-filled" in text


def test_a_joint_is_set_beside_its_substitute(client: Client) -> None:
    """Same alloy, shear governs: (3.6/3.1)^2 = 135 in a hundred (statics)."""
    ask = "/rivet/?j_stack=1.6+%2B+2.5&j_tensile=427&j_pitch=20&j_edge=9&j_d=3&j_sub_d=3.5&j_alloy=AD&j_sub_alloy=AD"
    assert "135 in a hundred" in words(client.get(ask))
    assert "2 shear planes want at least 3 sheets" in words(client.get(ask + "&j_planes=2"))


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("l_stack=1.0+%2B+%2B+2.5&l_d=3", "Layer 2 of the stack is missing"),
        ("l_stack=1.0&l_d=3", "the layer under it is missing"),
        ("l_stack=1.0+%2B+2.5", "The diameter is missing"),
        ("l_stack=1.0+%2B+2.5&l_d=-3", "Diameter of the rivet"),
        ("l_stack=1.0+%2B+2.5&l_d=3.2+in", "look at its unit"),
        ("f_head=3&f_deg=100&f_shank=3.2&f_mouth=6&f_seat=120&f_hole=3.3", "Nothing was reckoned"),
        ("f_head=6&f_deg=190&f_shank=3.2&f_mouth=6&f_seat=120&f_hole=3.3", "Nothing was reckoned"),
        ("j_stack=1+%2B+1&j_material=oak&j_d=3", "No figures are held for the sheet 'oak'"),
        ("d_stack=0.8+%2B+%2B+1&d_head=7.4&d_deg=120&d_shank=3.5", "Layer 2 of the stack is missing"),
        ("d_stack=0.8+%2B+1&d_head=3.2&d_deg=120&d_shank=3.5", "wider than its shank"),
        ("d_stack=0.8+%2B+1&d_head=7.4&d_deg=181&d_shank=3.5", "angle is below 180"),
        ("d_stack=0.8+%2B+1&d_head=7.4+in&d_deg=120&d_shank=3.5", "look at its unit"),
        ("s_sheet=0.8&s_width=0", "Width across the cut"),
        ("s_sheet=0.8+in&s_width=50", "runs from .016 to .128"),
        ("s_sheet=0.8", "The width is missing"),
        ("b_stack=3.2+%2B", "Layer 2 of the stack is missing"),
        ("b_stack=20+in", "look at its unit"),
        ("b_stack=0", "a size is above zero"),
        ("b_thread=M99", "The table holds"),
    ],
)
def test_what_cannot_be_is_named_and_what_was_typed_is_kept(client: Client, asked: str, said: str) -> None:
    answer = client.get(f"/rivet/?{asked}")
    assert answer.status_code == 422
    assert said in words(answer)
    assert (
        f'value="{asked.split("=")[1].split("&")[0].replace("+", " ").replace("%2B", "+")}"' in answer.content.decode()
    )


def test_the_screen_counts_a_splice_and_nests_dimples(client: Client) -> None:
    """AC 43.13-1B 4-58g: 4.9 an inch over 10 in at 75 % is 37 a side; a dimple of 7.4 at 120 degrees under 0.8 mm
    wants 7.4 + 2 tan 60 x 0.8 (1/sin 60 - 1) = 7.83 (geometry)."""
    counted = client.get("/rivet/?s_sheet=0.032+in&s_width=10+in&s_part=lap")
    rates = {rate.table: rate for rate in counted.context["splice"]["count"].rates}
    assert (rates["4-10"].count_sheet, rates["4-10"].count_frame) == (37, 37)
    assert "4-58g" in words(counted)
    nested = words(client.get("/rivet/?d_stack=0.8+%2B+0.8&d_head=7.4&d_deg=120&d_shank=3.5"))
    assert "sheet 2 7.83 mm" in nested
    assert "to countersink it, it would have to be" in nested


def test_the_screen_names_an_an_bolt_and_what_a_metric_bolt_holds(client: Client) -> None:
    """AN bolt table as quoted: AN4-7 has a grip of .438 in; EN ISO 898-1: M8 of grade 8.8 proves at 21 200 N."""
    text = words(client.get("/rivet/?b_stack=0.2+in+%2B+0.2+in&b_an=AN4&b_thread=M8&b_grade=8.8"))
    assert "AN4-7, grip 7/16 in (11.11 mm), 0.95 mm over the stack: one washer under the nut." in text
    assert "M8 of grade 8.8 holds 21,2" in text


def test_a_countersunk_substitute_of_the_other_system_shows_its_loss_and_its_seat(client: Client) -> None:
    """BS 5950-1 6.3.3.2 as quoted: bearing loses half the seat's depth, (6.3 - 3)/(2 tan 60)/2 x 3.1 x 640.5 = 946 N."""
    ask = (
        "/rivet/?j_stack=1.2+%2B+2&j_material=clad+dural&j_pitch=20&j_edge=9&j_d=3&j_head_d=6.3&j_head_deg=120"
        "&j_alloy=D&j_head=countersunk&j_sub_d=1/8+in&j_sub_system=inch&j_sub_head=countersunk&j_sub_head_d=5.7"
        "&j_sub_head_deg=100&j_sub_alloy=AD"
    )
    text = words(client.get(ask))
    assert "946" in text
    assert "lost to the countersink" in text
    assert "1/8 in countersunk in the seat of 3 mm countersunk" in text
    assert "the hole is 4 mm already" in words(client.get(ask + "&j_hole=4&j_sub_hole=3.5")).lower()
