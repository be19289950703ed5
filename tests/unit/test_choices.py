"""The five choices side by side, against handbook formulas written out anew here; unknown is never nought."""

import pytest

from witnessmark.calc.choices import ASPECTS, CHOICES, Choices, Facts, Said, ShopHour, weigh
from witnessmark.calc.surface.oven_caps import oven_cap

SKIN = Facts(
    material="AZ31B-H24 sheet",
    thickness_mm=1.0,
    mass_g=1000.0,
    arm_mm=1000.0,
    weighed_kg=400.0,
    weighed_cg_mm=3000.0,
    touches=("2024-T3 frame", "cadmium plated steel screw"),
    new_material="2024-T3",
    new_thickness_mm=0.8128,
)


def test_what_nobody_knows_is_unknown_and_never_nought() -> None:
    cells = weigh(Facts()).cells
    for kind in CHOICES:
        assert list(cells[kind]) == list(ASPECTS)
        for cell in cells[kind].values():
            assert cell.known or (cell.value is None and cell.words.startswith("unknown: "))
    for kind in ("reuse", "repair", "remake", "substitute"):
        assert not cells[kind]["hours"].known
        assert not cells[kind]["money"].known
    assert not cells["substitute"]["mass"].known
    assert not cells["scrap"]["mass"].known


def test_magnesium_remade_in_aluminium() -> None:
    """Mass goes with rho t, bending stiffness with E t3 (theory of plates); rho and E as the tables of metals print them."""
    sheet: Choices = weigh(SKIN)
    new = sheet.cells["substitute"]
    assert new["mass"].value == pytest.approx(1000 * (0.8128 * 2770 / 1770 - 1))
    assert new["stiffness"].value == pytest.approx(72.4 * 0.8128**3 / 45, rel=1e-6)
    assert sheet.substitution is not None
    equal = {t.equal_in: t.exact_mm for t in sheet.substitution.thicknesses}
    assert equal["bending stiffness"] == pytest.approx((45 / 72.4) ** (1 / 3))
    assert equal["mass"] == pytest.approx(1770 / 2770)


def test_the_centre_of_gravity_moves_as_the_handbook_has_it() -> None:
    """FAA-H-8083-1: change = weight added x (its arm - old centre) / new total weight; written out here anew."""
    change_kg = 0.8128 * 2770 / 1770 - 1
    expected = change_kg * (1000.0 - 3000.0) / (400.0 + change_kg)
    moved = weigh(SKIN).cells["substitute"]["balance"]
    assert moved.value == pytest.approx(expected)
    assert "forward" in moved.words
    assert weigh(SKIN).cells["scrap"]["balance"].value == pytest.approx(-1 * (1000 - 3000) / 399)
    assert weigh(SKIN).cells["remake"]["balance"].value == 0.0


def test_magnesium_is_eaten_by_what_it_touches_and_aluminium_by_less() -> None:
    """MIL-STD-889B Table II: magnesium stands before zinc, cadmium and aluminium: it is the anode of each."""
    cells = weigh(SKIN).cells
    assert "Mg AZ-31B corrodes where it touches" in cells["reuse"]["couples"].words
    assert "Cadmium (plated) is the anode of Al 2024-T4" in cells["substitute"]["couples"].words
    assert "Mg" not in cells["substitute"]["couples"].words


def test_a_metal_the_order_does_not_hold_is_named_as_unknown() -> None:
    cells = weigh(Facts(material="2024-T3", touches=("spruce", "brass bush"))).cells
    assert not cells["reuse"]["couples"].known
    assert "unknown beside spruce" in cells["reuse"]["couples"].words
    assert "Yellow brass" in cells["reuse"]["couples"].words


def test_metal_left_counts_once_in_tension_and_three_times_in_bending() -> None:
    """Theory of plates: N = F t, D = E t3 / 12 (1 - nu2)."""
    cells = weigh(Facts(material="2024-T3", left_share=0.9)).cells
    assert cells["reuse"]["strength"].value == pytest.approx(0.9)
    assert cells["reuse"]["stiffness"].value == pytest.approx(0.729)
    assert not cells["repair"]["strength"].known


def test_the_heat_cap_follows_the_material_of_the_choice() -> None:
    """T.O. 1-1A-9 par. 4-46: hard rolled AZ31B 300 F, 60 min; the new sheet has a cap of its own."""
    cells = weigh(SKIN).cells
    assert "300 F" in cells["reuse"]["heat"].words
    assert "2024-T3" in cells["substitute"]["heat"].words
    assert not weigh(Facts(material="Mg casting")).cells["reuse"]["heat"].known


def test_the_inch_gauge_for_a_metric_sheet_and_its_bends() -> None:
    """AC 43.13-1B Table 4-6 holds a radius for 2024-T3; 1.2 mm needs 0.050 in where nothing thinner is equal."""
    sheet = weigh(Facts(material="2024-T3", thickness_mm=1.2, new_material="2024-T3", mass_g=500))
    assert sheet.substitution is not None
    assert sheet.substitution.chosen_mm == pytest.approx(0.050 * 25.4)
    assert sheet.cells["substitute"]["bends"].known
    assert "Table 4-6" in sheet.cells["substitute"]["bends"].words


def test_what_cannot_be_substituted_says_why() -> None:
    assert "thickness is not known" in weigh(Facts(material="2024-T3", new_material="6061-T6")).substitution_words
    assert (
        "No figures are held"
        in weigh(Facts(material="balsa", thickness_mm=2, new_material="2024-T3")).substitution_words
    )
    with pytest.raises(ValueError, match="between nought and one"):
        weigh(Facts(left_share=1.2))


def test_what_somebody_typed_goes_before_what_is_reckoned() -> None:
    typed = Said("14 h", value=14.0, come_from="Brandt, 12 May")
    sheet = weigh(Facts(reckoned={"remake": {"hours": typed}}, mass_change_g={"repair": 40.0}, mass_g=100))
    assert sheet.cells["remake"]["hours"] == typed
    assert sheet.cells["repair"]["mass"].value == 40.0


def test_scrap_is_never_said_to_destroy() -> None:
    cells = weigh(SKIN).cells
    assert "kept as pattern until the hand-over" in cells["scrap"]["originality"].words
    assert "not before" in cells["scrap"]["gone"].words


def test_the_shops_hours_are_priced_and_what_is_unknown_leaves_the_whole_unknown() -> None:
    """Money is hours times the price of an hour, and what is paid out: sums written out here."""
    hour = ShopHour(62.0, "EUR", "1 January 2026")
    reckoned = {
        "reuse": {"hours": Said("5 h", value=5.0)},
        "repair": {"hours": Said("14 h", value=14.0), "money": Said("450 EUR", value=450.0)},
        "remake": {"hours": Said("2 h", value=2.0), "money": Said("nothing goes outside", value=0.0)},
        "substitute": {"hours": Said("3 h", value=3.0), "money": Said("900 SEK", value=900.0)},
    }
    paid_in = {"repair": "EUR", "substitute": "SEK"}
    cells = weigh(Facts(reckoned=reckoned, shop_hour=hour, paid_in=paid_in)).cells
    assert cells["repair"]["cost"].value == pytest.approx(14 * 62 + 450)
    assert "from 1 January 2026 on" in cells["repair"]["cost"].come_from
    assert cells["remake"]["cost"].value == pytest.approx(124)
    assert not cells["reuse"]["cost"].known
    assert "310.00 EUR" in cells["reuse"]["cost"].words
    assert not cells["substitute"]["cost"].known
    assert "two currencies" in cells["substitute"]["cost"].words
    unpriced = weigh(Facts(reckoned=reckoned, paid_in=paid_in)).cells
    assert unpriced["repair"]["cost"].words == "unknown: nobody has said what an hour of the shop costs"


def test_heat_goes_by_the_metal_and_by_the_coats_on_it() -> None:
    """AZ63A castings: at most 300 F (T.O. 1-1A-9 para 4-46, read); a coat of which no cap was read is no permission."""
    bare = weigh(Facts(material="AZ63A casting")).cells["reuse"]["heat"]
    assert bare.value == pytest.approx((300 - 32) / 1.8)
    assert "T.O. 1-1A-9" in bare.come_from
    coated = weigh(Facts(material="AZ63A casting", oven=oven_cap("AZ63A casting", ("primer",)))).cells["reuse"]["heat"]
    assert not coated.known
    assert "the primer on it" in coated.words
    assert "300 F" in coated.words


def test_every_figure_that_is_known_says_where_it_comes_from() -> None:
    facts = Facts(
        material="2024-T3 sheet", thickness_mm=1.0, mass_g=1000.0, arm_mm=1000.0, weighed_kg=400.0, weighed_cg_mm=3000.0,
        left_share=0.9, touches=("cadmium plated steel screw",), new_material="6061-T6",
    )  # fmt: skip
    said = weigh(facts)
    for kind in ("reuse", "substitute"):
        for aspect in ("mass", "strength", "stiffness", "couples", "heat"):
            assert said.cells[kind][aspect].come_from, (kind, aspect)
    assert said.cells["substitute"]["balance"].come_from
    assert said.cells["substitute"]["bends"].come_from
    assert {row.what for row in said.working.rows} >= {"material", "mass", "arm", "touches", "an hour of the shop"}


@pytest.mark.parametrize(("hours", "price"), [(13.98140625, 64.0), (14.0, 64.0), (0.3333, 72.5), (7.04, 61.35)])
def test_the_printed_hours_times_the_price_are_the_printed_sum(hours: float, price: float) -> None:
    reckoned = {"repair": {"hours": Said("h", value=hours), "money": Said("nothing goes outside", value=0.0)}}
    cost = weigh(Facts(reckoned=reckoned, shop_hour=ShopHour(price, "EUR", "1 January 2026"))).cells["repair"]["cost"]
    printed = float(cost.come_from.split(" h at")[0])
    assert cost.words == f"{printed * price:,.2f} EUR"


@pytest.mark.parametrize("material", ["spruce", "birch plywood", "wood, not known which"])
def test_a_wooden_part_is_asked_of_as_wood(material: str) -> None:
    cells = weigh(Facts(material=material)).cells
    assert "temper" not in cells["reuse"]["heat"].words and "wood and its glue" in cells["reuse"]["heat"].words
    assert cells["repair"]["gone"].words == "wood that is cut, drilled or scarfed does not come back"
    assert "metal that is cut" in weigh(Facts(material="2024-T3")).cells["repair"]["gone"].words
