"""Bakes, plating, couples, corrosion and substitution; the document stands at each test."""

import csv
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import witnessmark.calc
from witnessmark.calc.substitution import UnknownSheet, bend_limit, gauge_for, sheet, substitute
from witnessmark.calc.surface.bake import (
    NOT_PUT_RIGHT,
    UnknownSpecification,
    bake_for,
    bake_rules,
    read_certificate,
    relief_before_plating,
    specifications,
)
from witnessmark.calc.surface.corrosion import blend_out, crack_test, may_blast, may_strip, severity
from witnessmark.calc.surface.decorative import decorative_chrome
from witnessmark.calc.surface.galvanic import couple, series
from witnessmark.calc.surface.plating import (
    coats_of,
    nut_runs,
    plated_size,
    thread_growth,
    type_means,
)
from witnessmark.calc.tables import OutsideTable

DATA = Path(witnessmark.calc.__path__[0]) / "data"
B850, CHROME = "ASTM B850-98(2009)", "MIL-STD-1501F"
ISO = "ISO (electroplated zinc; edition not stated)"


def rows(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader((DATA / f"{name}.csv").open()))


@pytest.mark.parametrize("row", [r for r in rows("bake_rules") if r["source_std"] == B850], ids=lambda r: r["time_h"])
def test_astm_b850_row_by_row(row: dict[str, str]) -> None:
    """Plating-house chart citing ASTM B850-98(2009), quoted: both ends of each row."""
    for strength in (row["threshold_low"], row["threshold_high"]):
        assert bake_for(B850, float(strength)).called_out.hours == float(row["time_h"])


@pytest.mark.parametrize(
    ("strength", "section", "hours"),
    [(1001, 12, 2), (1100, 25, 4), (1100, 26, 8), (1200, 12, 4), (1200, 20, 12), (1400, 40, 24), (1400, 25, 12)],
)
def test_iso_table(strength: float, section: float, hours: float) -> None:
    """Component maker's page of the ISO table, quoted."""
    assert bake_for(ISO, strength, section).called_out.hours == hours


def test_iso_without_a_section_or_beyond_it_is_refused() -> None:
    assert bake_for(ISO, 1200).next_step == "measure the thickest section"
    assert "experiment" in bake_for(ISO, 1300, 60).refusal
    assert any("DANGEROUS" in caution for caution in bake_for(ISO, 1300, 30).cautions)


def test_specifications_disagree_and_are_not_merged() -> None:
    """1200 MPa, 20 mm: 10 h by the chart of ASTM B850, 12 h by the ISO table; both quoted."""
    one, other = bake_for(B850, 1200, 20), bake_for(ISO, 1200, 20)
    assert (one.called_out.hours, other.called_out.hours) == (10, 12)
    assert one.called_out.spec == B850 and one.called_out in bake_rules()
    chrome = bake_for(B850, 1300, 20)
    assert chrome.called_out.spec == B850 and chrome.longest.spec == CHROME and chrome.soonest.start_within_h == 4


def test_hard_chrome_clock_on_the_certificate() -> None:
    """MIL-STD-1501F 5.2.6, 5.2.7 (read): 375 +/- 25 F, 23 h, within 4 h of 09:00."""
    rule = bake_for(CHROME, 1379).called_out
    assert (rule.hours, rule.start_within_h, rule.temperature_printed[:9]) == (23, 4, "375+/-25 ")
    assert not read_certificate(rule, 9, 12 + 59 / 60, 23, 190).quarantine
    late = read_certificate(rule, 9, 13 + 1 / 60, 23, 190)
    assert late.quarantine and NOT_PUT_RIGHT in late.reasons[0] and "engineer" in late.hand_over
    for missing in ((None, 10, 23, 190), (9, None, 23, 190), (9, 10, None, 190), (9, 10, 23, None)):
        assert read_certificate(rule, *missing).quarantine
    for wrong in ((9, 8, 23, 190), (9, 10, 22.9, 190), (9, 10, 23, 170), (9, 10, 23, 210)):
        assert read_certificate(rule, *wrong).quarantine


def test_temper_etch_clock() -> None:
    """MIL-STD-867C 5.5 (read): 4 h at 375 +/- 25 F, within 8 h of the start of the etch."""
    (rule,) = [r for r in bake_rules() if r.spec == "MIL-STD-867C"]
    assert (rule.hours, rule.start_within_h) == (4, 8)


@pytest.mark.parametrize("kind", ["case-hardened", "cold-straightened", "spring"])
def test_parts_without_a_rule_of_their_own_are_refused(kind: str) -> None:
    assert bake_for(CHROME, 1379, kind=kind).next_step == "ask the engineer"


def test_refusals_of_a_bake() -> None:
    assert bake_for(CHROME, None).next_step == "hardness check"
    assert "temper" in bake_for(CHROME, 1379, tempering_limit_c=190).refusal
    assert bake_for(CHROME, 1379, tempering_limit_c=260).released
    assert "above its table" in bake_for(B850, 1900).refusal
    assert "memory" in bake_for("QQ-P-416F", 1300).refusal
    assert "not read" in bake_for("AMS 2759/9D", 1300).refusal
    mild = bake_for(CHROME, 600)
    assert mild.released and mild.called_out is None
    with pytest.raises(UnknownSpecification, match="Held are"):
        bake_for("shop habit", 1300)
    with pytest.raises(ValueError, match="hardness check"):
        relief_before_plating(None, None, True)


@given(st.sampled_from(specifications()), st.floats(1, 3000), st.one_of(st.none(), st.floats(0.1, 200)))
def test_a_bake_called_out_is_always_one_printed_row_of_that_specification(
    spec: str, strength: float, section: float | None
) -> None:
    answer = bake_for(spec, strength, section)
    if answer.called_out is not None:
        assert answer.called_out.spec == spec and answer.called_out in bake_rules()
    assert answer.released or answer.next_step


@pytest.mark.parametrize("row", rows("thread_coats"), ids=lambda r: r["coating_um"])
def test_iso_4042_row_by_row(row: dict[str, str]) -> None:
    """ISO 4042 annex table (read): four times the coat."""
    assert thread_growth(float(row["coating_um"])).pitch_um == pytest.approx(float(row["four_t_um"]))


def test_a_numeral_is_never_carried_from_one_specification_to_another() -> None:
    """QQ-P-416F 1.2.1 (read) and a summary of ASTM B766 (quoted): Type III is phosphate here, chromate there."""
    assert type_means("QQ-P-416F", "III") != type_means("ASTM B766", "III")
    with pytest.raises(OutsideTable, match="never carried over"):
        type_means("ASTM B633", "III")


def test_which_class_lets_the_nut_run() -> None:
    """ISO 965-1 g at a pitch of 1 mm is 26 um (quoted): 6.5 um of coat; ASTM B633 SC1 5 um, SC2 8 um (quoted)."""
    answer = nut_runs("ASTM B633", 1.0)
    assert [c.code for c in answer.runs] == ["SC1"] and {c.code for c in answer.jams} == {"SC2", "SC3", "SC4"}
    assert nut_runs("ASTM B633", 1.0, "h").runs == ()
    assert coats_of("QQ-P-416F")[0].least_um == pytest.approx(12.7)


def test_shafts_grow_and_bores_shrink() -> None:
    assert plated_size(250, 60, 60, "shaft").after_most_mm == pytest.approx(250.12)
    assert plated_size(20, 5, 8, "bore").after_most_mm == pytest.approx(19.984)
    with pytest.raises(ValueError, match="close the bore"):
        plated_size(0.01, 5, 8, "bore")


def test_decorative_chrome_of_a_part_that_carries_a_load_asks_first() -> None:
    answer = decorative_chrome(True, True, True)
    assert answer.asks_engineer and "engineer" in answer.steps[0]
    assert [s for s in answer.steps if "neighbour" in s][-1] == answer.steps[-1]


def test_the_order_of_mil_std_889b() -> None:
    """MIL-STD-889B Table II in two reprints, quoted: an order, not volts."""
    assert couple("2024-T4 skin", "cadmium plated steel screw").anode == "Cadmium (plated)"
    assert couple("2024-T4 skin", "chromium plated screw").anode == "Al 2024-T4"
    ranks = {r["metal"]: int(r["rank"]) for r in rows("galvanic_series")}
    order = series()
    assert [ranks[name] for name in order] == sorted(ranks.values()) == list(range(1, 65))
    for one, other in pairwise(order):
        assert couple(other, one).anode == one
    # The 0.15, 0.25 and 0.50 V limits stand in no text of it that was read.
    assert not any("0.25" in str(row) for row in couple("steel", "brass").to_dict()["working"]["rows"])
    with pytest.raises(OutsideTable):
        couple("steel", "unobtainium")


def test_words_of_a_manual_and_the_tenth_that_is_a_warning() -> None:
    """TM 1-1520-238-23 1.49.14 (read); AC 43.13-1B Table 6-1 item c (read): 20 to 1."""
    assert [severity(d * 25.4).word for d in (0.0005, 0.001, 0.005, 0.010, 0.012)] == [
        "light", "light", "moderate", "moderate", "severe",
    ]  # fmt: skip
    dish = blend_out(0.008 * 25.4, 0.063 * 25.4)
    assert dish.length_least_mm == pytest.approx(0.160 * 25.4) and dish.warns
    assert any("warning, nothing more" in caution for caution in dish.cautions)


@pytest.mark.parametrize(
    ("material", "coat", "coat_in", "before"),
    [
        ("4130", "paint", 0.003, ()), ("4130", "paint", 0.0031, ("strip paint",)), ("4130", "chrome", 0.003, ()),
        ("4130", "nickel", 0.0011, ("strip plate",)), ("4130", "nickel", 0.001, ()), ("4130", "paint", None, ("strip paint",)),
    ],
)  # fmt: skip
def test_magnetic_particle_through_a_coat(
    material: str, coat: str, coat_in: float | None, before: tuple[str, ...]
) -> None:
    """AC 43.13-1B 5-45a (read): paint and chrome 0.003 in, nickel 0.001 in."""
    answer = crack_test(material, coat, None if coat_in is None else coat_in * 25.4)
    assert answer.method == "magnetic particle" and answer.before == before


def test_methods_by_material() -> None:
    """AC 43.13-1B Table 5-1 (read): magnetic particle is not for aluminium, magnesium or austenitic stainless."""
    assert [crack_test(m).method for m in ("2024-T3", "Mg casting", "304 stainless steel")] == ["penetrant"] * 3
    assert crack_test("2024-T3", rough=True).method == "eddy current"


def test_blasting_by_alloy_clad_and_thickness() -> None:
    """AC 43.13-1B p. 6-28 and 6-152f, MIL-STD-1504C 5.5 (read)."""
    assert not may_blast("clad dural", True, 1.5).allowed and "30-40" in may_blast("clad dural", True, 1.6).sentence
    assert "10-35" in may_blast("Mg casting", False, None).sentence
    assert may_blast("2024-T3", False, None).hand_over == "mechanic" and not may_blast("spruce", False, 20).allowed
    assert not may_strip("forged steel", None, "acid").allowed and not may_strip("steel", 1300, "acid").allowed
    assert may_strip("steel", 600, "acid").allowed and not may_strip("2024-T3", None, "alkali").allowed


def test_magnesium_sheet_remade_in_aluminium() -> None:
    """Plate formulas (derived): equal bending stiffness goes by the cube root of E; E and density from a textbook (read)."""
    answer = substitute(sheet("AZ31B"), 1.0, sheet("2024-T3"), touches=("Mg casting", "steel, cadmium plated"))
    exact = {t.equal_in: t for t in answer.thicknesses}
    assert exact["bending stiffness"].exact_mm == pytest.approx((45 / 72.4) ** (1 / 3))
    assert exact["mass"].exact_mm == pytest.approx(1770 / 2770)
    assert answer.chosen_mm == pytest.approx(0.040 * 25.4) and answer.bending_stiffness_ratio >= 1
    assert [c.anode for c in answer.couples] == ["Magnesium", "Cadmium (plated)"]
    assert gauge_for(0.8) == 0.032 and gauge_for(99) is None


def test_bend_limits_are_read_and_not_carried_on() -> None:
    """AC 43.13-1B Table 4-6 (read): 2024-T3 at .064 in, 3 to 5 t."""
    limit = bend_limit("2024-T3", 0.064 * 25.4)
    assert (limit.radius_least_mm, limit.radius_most_mm) == pytest.approx((0.192 * 25.4, 0.320 * 25.4))
    with pytest.raises(OutsideTable):
        bend_limit("2024-T3", 9.0)
    with pytest.raises(UnknownSheet, match="Held are"):
        sheet("tin")
