"""Substitution of castings and wood: factors of the rules, figures of the handbooks, plates of plies; the document at each."""

import math

import pytest

from witnessmark.calc.choices import Facts, weigh
from witnessmark.calc.stock import UnknownSheet, casting_factor, gauge_for, metric_for, ply_shares, stock
from witnessmark.calc.substitution import bend_limit, plywood_bend, substitute
from witnessmark.calc.tables import OutsideTable


def test_casting_factors_go_by_how_each_is_looked_at() -> None:
    """14 CFR 29.621(d): 2.0 looked at; above 1.5 with penetrant; 14 CFR 23.621(c)(1): 1.25 with X-ray (both quoted)."""
    assert [casting_factor(how).factor for how in ("visual", "penetrant", "radiographic")] == [2.0, 1.5, 1.25]
    assert casting_factor("").factor == 2.0  # nobody said: the largest
    with pytest.raises(ValueError, match="write one of"):
        casting_factor("by ear")


def test_a_magnesium_casting_remade_in_aluminium_carries_its_factor() -> None:
    """F t with the new F by its factor (14 CFR 23.621), E t3, rho t; test bars of A356-T6 34 ksi, AZ63A-T6 37 ksi (quoted)."""
    old, new = stock("AZ63A-T6 casting"), stock("A356-T6 casting")
    answer = substitute(old, 8.0, new, 8.0, ("steel, cadmium plated",), "radiographic")
    assert answer.strength_ratio == pytest.approx(34 / 1.25 / 37)
    assert answer.bending_stiffness_ratio == pytest.approx(10.5 / 6.7)
    assert answer.mass_ratio == pytest.approx(2670 / 1810)
    exact = {each.equal_in: each.exact_mm for each in answer.thicknesses}
    assert exact["tensile strength"] == pytest.approx(8.0 * 1.25 * 37 / 34)
    assert exact["bending strength"] == pytest.approx(8.0 * math.sqrt(1.25 * 37 / 34))
    assert any("casting factor 1.25" in caution for caution in answer.cautions)
    assert any("three quarters" in caution for caution in answer.cautions)
    assert answer.bend is None
    assert "not bent" in answer.bend_words
    looked_at = substitute(old, 8.0, new, 8.0)
    assert looked_at.strength_ratio == pytest.approx(34 / 2.0 / 37)


def test_a_casting_without_an_anode_in_the_list_is_for_engineering() -> None:
    """MIL-STD-889B Table II, as far as it was read, names magnesium and no 356 (quoted)."""
    to_aluminium = substitute(stock("AZ63A-T6"), 8.0, stock("356-T6"), touches=("steel",))
    assert to_aluminium.couples == ()
    assert "ask engineering" in to_aluminium.couple_words[0]
    to_magnesium = substitute(stock("356-T6"), 8.0, stock("AZ92A-T6"), touches=("steel",))
    assert to_magnesium.couples[0].anode == "Magnesium"


def test_a_casting_without_its_temper_is_not_reckoned() -> None:
    for words in ("magnesium casting", "AZ63A casting", "356 casting", "balsa", ""):
        with pytest.raises(UnknownSheet, match="ask engineering"):
            stock(words)


def test_ash_as_printed_in_both_units() -> None:
    """White ash at 12 %: 15,000 psi and 103.5 MPa, 1,740,000 psi and 12.00 GPa (printed side by side, quoted)."""
    ash = stock("ash")
    assert ash.ultimate_mpa == pytest.approx(103.5, abs=0.1)
    assert ash.e_gpa == pytest.approx(12.00, abs=0.005)
    # Density by specific gravity at 12 % moisture, weighed with its water: SG x 1.12 (Forest Products Laboratory).
    for wood, gravity in (("spruce", 0.40), ("ash", 0.60), ("birch", 0.62)):
        assert stock(wood).density_kg_m3 == pytest.approx(gravity * 1120, abs=0.6)


def test_spruce_remade_in_ash_and_the_caveats_of_wood() -> None:
    """Bars of one width: F t2, E t3, rho t. Green by dry, TM 5-852-4 Table 2-2 (read): 17,600 by 25,700; 2,360 by 2,800."""
    answer = substitute(stock("spruce"), 20.0, stock("ash"), 20.0, ("steel bolt",))
    assert answer.bending_strength_ratio == pytest.approx(15.0 / 10.2)
    assert answer.mass_ratio == pytest.approx(1.5)
    said = " ".join(answer.cautions)
    assert f"{17600 / 25700:.2f} of the bending strength" in said
    assert f"{2360 / 2800:.2f} of the stiffness" in said
    assert "1 in 15" in said
    assert "12 % moisture" in said
    assert "no couple" in answer.couple_words[0]
    assert answer.bend is None
    assert "engineering" in answer.bend_words
    assert answer.thicknesses[0].gauge_in is None


@pytest.mark.parametrize("plies", [3, 5, 7, 9])
def test_plies_count_as_the_plate_integral_has_it(plies: int) -> None:
    """Stretching: mean of E over the thickness; bending: the integral of E z2 by that of z2 (theory of plates), summed finely."""
    steps = 9 * 20_000
    stretch = bend = whole = 0.0
    for step in range(steps):
        z = (step + 0.5) / steps
        e = 1.0 if int(z * plies) % 2 == 0 else 0.05
        stretch += e / steps
        bend += e * (z - 0.5) ** 2 / steps
        whole += (z - 0.5) ** 2 / steps
    assert ply_shares(plies) == pytest.approx((stretch, bend / whole), rel=1e-3)
    assert ply_shares(1) == (1.0, 1.0)
    with pytest.raises(ValueError, match="plies"):
        ply_shares(plies + 1)


def test_plywood_bends_as_printed() -> None:
    """AC 43.13-1B Table 1-2 (read): .070 in of three plies, dry: 3.2 in along or at 45 degrees, 5.2 in across the face grain."""
    limit = plywood_bend(0.070 * 25.4, 3)
    assert (limit.radius_least_mm, limit.radius_most_mm) == pytest.approx((3.2 * 25.4, 5.2 * 25.4))
    five = plywood_bend(6.0, 5)
    assert five.radius_most_mm == pytest.approx(31 * 25.4)
    with pytest.raises(OutsideTable):
        plywood_bend(12.0, 3)
    answer = substitute(stock("birch plywood 3-ply"), 1.5, stock("birch ply 5-ply"), 4.0)
    assert answer.bend is not None
    assert "across it" in answer.bend_words


def test_a_metric_sheet_goes_to_an_inch_gauge_and_back() -> None:
    """0.8 mm is 0.0315 in: the next gauge is .032; .032 in is 0.813 mm: the next metric sheet is 1.0 mm (arithmetic)."""
    assert gauge_for(0.8) == 0.032
    assert metric_for(0.032 * 25.4) == 1.0
    assert metric_for(0.8) == 0.8
    inch = substitute(stock("2024-T3"), 0.8, stock("2024-T3"))
    assert inch.chosen_mm == pytest.approx(0.032 * 25.4)
    assert {each.metric_mm for each in inch.thicknesses} == {0.8}
    back = substitute(stock("2024-T3"), 0.032 * 25.4, stock("2024-T3"), 0.8)
    assert back.strength_ratio == pytest.approx(0.8 / 0.8128)
    assert bend_limit("2024-T3", back.chosen_mm).radius_most_mm == pytest.approx(4 * 0.8)


def test_castings_and_wood_stand_on_the_decision_sheet() -> None:
    casting = weigh(
        Facts(material="AZ63A-T6 casting", thickness_mm=8.0, mass_g=1000.0, new_material="A356-T6", new_inspection="penetrant",
              touches=("steel",))
    )  # fmt: skip
    cell = casting.cells["substitute"]
    assert cell["mass"].value == pytest.approx(1000 * (casting.substitution.mass_ratio - 1))  # type: ignore[union-attr]
    assert cell["strength"].known
    assert not cell["couples"].known
    wood = weigh(
        Facts(material="spruce/ply", thickness_mm=20.0, mass_g=500.0, new_material="ash", touches=("steel bolt",))
    )
    assert wood.cells["reuse"]["couples"].words == wood.cells["substitute"]["couples"].words
    assert wood.cells["substitute"]["stiffness"].value is not None
