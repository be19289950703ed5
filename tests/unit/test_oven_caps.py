"""The oven's cap of a part as it stands: metal in its temper, and each coat that is on it by then."""

import pytest

from witnessmark.calc.surface.heat_caps import fahrenheit
from witnessmark.calc.surface.oven_caps import caps_of_steps, coats_on, oven_cap


def f(max_c: float | None) -> float:
    assert max_c is not None
    return fahrenheit(max_c)


@pytest.mark.parametrize(
    ("finish", "steps", "coats"),
    [
        ("primer, grey", [], ("primer",)),
        ("old silvery plate, taken to be cadmium", [], ("cadmium",)),
        ("old silvery plate, taken to be cadmium", ["Strip cadmium plate"], ()),
        ("painted over zinc", ["Strip by solvent"], ("zinc",)),
        ("", ["conversion coat", "prime", "paint"], ("conversion coat", "primer", "paint")),
        ("", ["conversion coat", "prime", "strip paint"], ("conversion coat",)),
        ("", ["conversion coat", "blast"], ()),
        ("", ["cadmium plate", "bake", "chromate"], ("cadmium", "chromate on plate")),
        ("", ["decorative chrome"], ("nickel", "chrome")),
        ("", ["Plate"], ("plate",)),
        ("; 4130 chrome-moly tube", [], ()),
        ("; steel, chromed sliding tube", [], ("chrome",)),
    ],
)
def test_coats_go_on_and_come_off_with_the_steps(finish: str, steps: list[str], coats: tuple[str, ...]) -> None:
    assert coats_on(finish, steps) == coats


def test_a_bare_conversion_coat_lowers_the_cap_and_paint_over_it_is_not_known() -> None:
    """MIL-DTL-5541F 6.14 (read): from 140 F; no figure was read of paint, so nothing is allowed."""
    bare = oven_cap("6061-T6", ("conversion coat",))
    assert f(bare.max_c) == pytest.approx(140) and "MIL-DTL-5541F" in bare.sentence
    painted = oven_cap("6061-T6", ("conversion coat", "paint"))
    assert painted.lowest is None and "No cap is held for the paint on it" in painted.sentence
    assert f(painted.max_c) == pytest.approx(320)


def test_the_lower_of_metal_and_coat_counts() -> None:
    """AZ63A 300 F (T.O. 1-1A-9 para 4-46, read); hard chrome to the end of its own bake, 400 F (MIL-STD-1501F 5.2.6)."""
    wheel = oven_cap("AZ63A casting", ("chrome",))
    assert wheel.lowest is not None and wheel.lowest.material_temper == "AZ63A casting"
    hotter = oven_cap("AZ31B extrusion", ("chrome",))
    assert hotter.lowest is not None and f(hotter.lowest.max_c) == pytest.approx(400)
    assert hotter.lowest.status == "derived"


def test_unknown_metal_gives_no_permission_whatever_is_on_it() -> None:
    steel = oven_cap("steel", ("cadmium",))
    assert steel.lowest is None and "ask the engineer" in steel.sentence and "steel" in steel.unknown
    assert oven_cap("").unknown == ("its alloy and temper",)


def test_each_heat_of_a_route_has_the_cap_of_the_coats_before_it() -> None:
    caps = caps_of_steps("6061-T6", "", ["bake", "conversion coat", "bake", "prime", "shrink fit", "measure"])
    assert sorted(caps) == [1, 3, 5]
    assert f(caps[1].max_c) == pytest.approx(320) and f(caps[3].max_c) == pytest.approx(140)
    assert caps[5].unknown == ("the primer on it",)
    assert [c.coat for c in caps_of_steps("steel", "", ["cadmium plate and bake"])[1].coats] == ["cadmium"]
