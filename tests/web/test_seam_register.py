"""The register on the row's page: ranges not measured, figures left out by name, times oversize, drawings to scale."""

import re
import uuid

import pytest
from django.test import Client

from tests.records.shop import Shop, make_shop
from tests.support.pages import words
from tests.support.rows import make_row, make_size, told
from witnessmark.records.actions.rows import fill_holes, last_filling, take_back_filling
from witnessmark.records.models import Act, Hole, HoleReading, Row

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def row(shop: Shop) -> Row:
    made = make_row(shop, "C2", make_size(shop), holes=20, edge_mm=9.0)

    def read(act: Act) -> None:
        for number, mm in ((3, 3.1), (4, 31.0), (9, 3.4)):
            hole = Hole.objects.get(place=made.place, number=number)
            HoleReading.objects.create(hole=hole, what="hole", value_mm=mm, typed=f"{mm}", act=act)

    told(shop, read)
    return made


def client(shop: Shop) -> Client:
    made = Client()
    made.force_login(shop.mechanic)
    return made


def test_what_is_not_measured_stands_as_ranges_and_a_figure_that_cannot_be_is_named(shop: Shop, row: Row) -> None:
    text = words(client(shop).get("/seam/C2/L/"))
    assert "holes 1, 2, 4 to 8, 10 to 20." in text
    assert "Hole 4: 31 mm is no hole for a rivet of 3 mm, look at its unit." in text
    assert "No verdict on the sheet" in text or "Remake the sheet" in text


def test_times_oversize_are_counted_from_the_history_without_what_was_taken_back(shop: Shop, row: Row) -> None:
    def say(state: str) -> None:
        fill_holes(by=shop.mechanic, act_id=uuid.uuid4(), row=row, holes="9", state=state)

    say("oversize")
    say("oversize")
    say("empty")
    say("oversize")
    text = words(client(shop).get("/seam/C2/L/"))
    assert "it was enlarged before, 2 times" in text
    filling = last_filling(row)
    assert filling is not None
    take_back_filling(by=shop.mechanic, act_id=uuid.uuid4(), row=row, filling=filling)
    text = words(client(shop).get("/seam/C2/L/"))
    assert "it was enlarged before" in text
    assert "2 times" not in text


def test_a_measured_hole_is_drawn_with_edge_and_pitch_to_one_scale(shop: Shop, row: Row) -> None:
    """Hole 3.4 mm, edge 9 mm, pitch 20 mm: their lengths on the drawing stand to each other as they do on the sheet."""
    page = client(shop).get("/seam/C2/L/").content.decode()
    svg = re.search(
        r'<svg[^>]*aria-label="Hole 9: 3\.40 mm wide, the row&#x27;s edge 9 mm, 3\.00 D, pitch 20 mm, 6\.7 D">.*?</svg>',
        page,
    )
    assert svg is not None
    radius = float(re.search(r'class="paper" cx="160\.0" cy="58\.0" r="([\d.]+)"', svg[0])[1])  # type: ignore[index]
    edge = float(re.search(r'd="M0 ([\d.]+)H320"', svg[0])[1]) - 58.0  # type: ignore[index]
    right = max(float(each) for each in re.findall(r'stroke-dasharray="4 4" cx="([\d.]+)"', svg[0])) - 160.0
    assert edge / (2 * radius) == pytest.approx(9 / 3.4, rel=0.01)
    assert right / (2 * radius) == pytest.approx(20 / 3.4, rel=0.01)
