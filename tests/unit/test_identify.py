"""Which fastener it is: figures that stand in published tables lead back to the size they stand beside."""

import math

import pytest

from witnessmark.calc.fasteners.catalogue import alike, built_in, cone_height, rivet_shape
from witnessmark.calc.fasteners.identify import NONE, identify, identify_many
from witnessmark.calc.fasteners.readings import BadReading, Reading, parse_reading
from witnessmark.calc.fasteners.threads import ba_size, major_limits_mm, profile
from witnessmark.calc.surface.plating import thread_growth
from witnessmark.calc.tables import load_table

BY_CODE = {shape.code: shape for shape in built_in()}


def test_every_size_has_one_code_a_source_and_a_status() -> None:
    assert len(BY_CODE) == len(built_in()) > 250
    assert all(shape.source and shape.status in ("read", "quoted", "derived", "memory") for shape in built_in())


def test_every_angle_and_thread_system_of_the_trade_is_there() -> None:
    # 60, 90, 100 and 120 degrees: EASA training note; 78: AMT handbook General, p. 5-56; 75: DIN 661.
    assert {shape.head_deg for shape in built_in() if shape.head_deg} == {60, 75, 78, 90, 100, 120}
    families = {shape.family for shape in built_in()}
    assert {"metric coarse", "metric fine", "UNC", "UNF", "BA", "BSF", "BSW", "DIN 660", "DIN 661"} <= families
    assert {"VN"} & families == set(), "a house norm is the user's own to add"


def test_profile_gives_the_printed_thread_tables() -> None:
    # ISO 724 (pitch diameter) and EN ISO 898-1 (stress area), as printed; M18x2 prints the area of M18x1.5.
    compared = 0
    for row in load_table("threads_metric").rows:
        found = profile(float(row["d_mm"]), float(row["P_mm"]))
        if row["d2_printed_mm"]:
            assert found.pitch_diameter_mm == pytest.approx(float(row["d2_printed_mm"]), abs=0.0006)
            compared += 1
        if row["As_printed_mm2"] and row["size"] != "M18x2":
            assert found.stress_area_mm2 == pytest.approx(float(row["As_printed_mm2"]), rel=0.006)
            compared += 1
    assert compared > 40


def test_pitch_diameter_of_unified_fine_threads_is_the_printed_one() -> None:
    # Published UNF table, in inches. Its stress areas follow another rule (D - 0.9743 / n) and are not compared.
    for row in load_table("threads_unf").rows:
        found = profile(float(row["major_in"]), 1 / float(row["tpi"]))
        assert found.pitch_diameter_mm == pytest.approx(float(row["pitch_dia_printed_in"]), abs=0.00006)


def test_deviation_of_6g_at_pitch_1_is_26_um() -> None:
    # ISO 965-1 value quoted in a fastener note.
    assert major_limits_mm(1.0)[0] == pytest.approx(0.026)


def test_coat_of_5_um_grows_the_pitch_diameter_by_20_um() -> None:
    # ISO 4042 annex: four times the coat.
    assert thread_growth(5).pitch_um == pytest.approx(20)
    assert thread_growth(5).major_um == pytest.approx(10)
    assert thread_growth(12).pitch_um == pytest.approx(48)


def test_cone_heights_of_bs_4620_follow_from_the_angle() -> None:
    # BS 4620:1970, Table 6: head 2 D, height 0.5 D at 90 degrees.
    heads = [shape for shape in built_in() if shape.family == "BS 4620 T6"]
    assert len(heads) == 14
    for shape in heads:
        assert shape.head_mm and shape.head_height_mm
        assert cone_height(shape.head_mm, shape.shank_mm, 90) == pytest.approx(shape.head_height_mm, abs=0.005)


def test_second_ba_has_its_known_pitch() -> None:
    # From memory: 2 BA is 4.7 mm by 0.81 mm, 0 BA 6.0 by 1.0.
    assert ba_size(2) == (4.7, 0.81) and ba_size(0) == (6.0, 1.0)


@pytest.mark.parametrize("family", ["DIN 660", "DIN 661", "BS 4620 T6", "inch flush 100", "inch universal"])
def test_the_figures_of_a_table_lead_to_their_size(family: str) -> None:
    for shape in built_in():
        if shape.family == family:
            figures: dict[str, float | str] = {"driven_shank_mm": shape.hole_mm, "form": shape.form}
            figures |= {"head_mm": shape.head_mm or 0, "head_height_mm": shape.head_height_mm or 0}
            if shape.head_deg:
                figures["head_deg"] = shape.head_deg
            found = identify(figures)
            assert shape.code in found.candidates[0].names, (shape.code, found.word, found.probability)


def test_pitch_parts_m8_fine_from_five_sixteenths() -> None:
    # 0.06 mm in diameter and 0.58 mm over ten threads apart: ISO 261 and the UNF table.
    assert identify({"shank_mm": 7.93}).candidates[0].probability < 0.9
    assert identify({"shank_mm": 7.90, "pitch_mm": 1.000}).word == "M8x1"
    assert identify({"shank_mm": 7.90, "pitch_mm": 1.058}).word == "5/16-24 UNF"


def test_pitch_is_asked_for_a_bolt_of_8_mm_and_the_angle_for_two_flush_heads() -> None:
    asked = identify({"shank_mm": 7.93, "form": "thread"}).next_measurement
    assert asked is not None and asked.what == "pitch_mm"
    asked = identify({"hole_mm": 3.3, "form": "flush"}).next_measurement
    assert asked is not None and asked.what == "head_deg" and "angle gauge" in asked.tool


def test_quarter_inch_bsw_and_unc_are_told_apart_by_the_hexagon() -> None:
    # From memory: both have 20 threads an inch; Whitworth hexagons are wider.
    both = identify({"shank_mm": 6.3, "pitch_mm": 1.27})
    assert not both.answered and {each.shape.family for each in both.candidates[:2] if each.shape} == {"BSW", "UNC"}
    assert identify({"shank_mm": 6.3, "pitch_mm": 1.27, "across_flats_mm": 13.3}).word == "1/4-20 BSW"
    assert identify({"shank_mm": 6.3, "pitch_mm": 1.27, "across_flats_mm": 11.05}).word == "1/4-20 UNC"


def test_none_of_these_where_nothing_fits() -> None:
    found = identify({"hole_mm": 3.45, "head_mm": 5.4, "head_deg": 110, "head_height_mm": 0.7, "form": "flush"})
    assert found.is_none and found.word == NONE


def test_a_family_added_by_the_user_works_like_any_other() -> None:
    own = rivet_shape("OWN-3.35", "an old norm", "flush", 3.35, 5.4, 110)
    figures = {"hole_mm": 3.45, "head_mm": 5.4, "head_deg": 110.0, "form": "flush"}
    found = identify(figures, families=[own])
    assert found.word == "OWN-3.35" and found.answered


def test_paint_takes_the_certainty_from_a_head() -> None:
    clean = identify({"hole_mm": 3.15, "form": "flush", "head_mm": 6.3})
    painted = identify({"hole_mm": 3.15, "form": "flush", "head_mm": Reading(6.3, painted=True)})
    assert clean.word == painted.word == "flush 120 large head 3.0"
    assert painted.probability < clean.probability - 0.1
    assert any("paint" in caution for caution in painted.cautions)


def test_probabilities_add_up_and_do_not_hang_on_the_order() -> None:
    figures = {"hole_mm": 3.15, "head_mm": 6.3}
    found = identify(figures)
    assert math.isclose(sum(each.probability for each in found.candidates), 1, abs_tol=0.01)
    assert identify(dict(reversed(figures.items()))).word == found.word
    many = identify_many([figures, {"shank_mm": 4.7, "pitch_mm": 0.81}])
    assert [each.word for each in many] == [found.word, "2 BA"]


def test_alloy_follows_from_the_mark_of_an_inch_head_alone() -> None:
    # NAVEDTRA 14315, Table 3-1: a dimple marks 2117-T4.
    found = identify({"hole_mm": 3.26, "head_mm": 5.7, "head_deg": 100, "head_mark": "dimple", "form": "flush"})
    assert [alloy.code for alloy in found.alloys] == ["AD"]
    metric = identify(
        {"driven_shank_mm": 3.1, "head_mm": 5.2, "head_height_mm": 1.8, "head_mark": "dimple", "form": "round"}
    )
    assert metric.word.startswith(("DIN 660", "metric snap")) and metric.alloys == ()


def test_names_of_one_thing_are_joined() -> None:
    # Lecture notes Tab. 6.2: LN dash 5 is 4.0 mm, the inch dash 5 is 3.969 mm.
    assert alike(BY_CODE["LN 9198 4"], BY_CODE["5/32 universal"])
    assert not alike(BY_CODE["DIN 660 4"], BY_CODE["5/32 universal"])
    assert not alike(BY_CODE["1/4-20 UNC"], BY_CODE["1/4-20 BSW"])


@pytest.mark.parametrize(
    ("figures", "says"),
    [
        ({"hole_mm": 0.0}, "above zero"),
        ({"hole_mm": -3.1}, "above zero"),
        ({"hole_mm": math.nan}, "must be a figure"),
        ({"hole_mm": 3.2 * 25.4}, "was it read in mm"),
        ({"hole_mm": 0.125}, "was it read in inches"),
        ({"head_deg": 200.0}, "between 40 and 180"),
        ({"head_deg": 181.0}, "between 40 and 180"),
        ({"head_mm": 3.0, "hole_mm": 3.1}, "not larger than"),
        ({"head_mm": 40.0, "hole_mm": 3.1}, "is one of them in inches"),
        ({"shank_mm": 6.0, "pitch_mm": 5.8}, "too coarse"),
        ({"hole_mm": 3.1, "driven_shank_mm": 8.0}, "cannot be of one fastener"),
        ({"magnet": "perhaps"}, "none of"),
        ({"colour": 3.0}, "nothing that is measured here"),
        ({"hole_mm": Reading(3.1, 9.0)}, "says nothing"),
    ],
)
def test_figures_that_cannot_be_true_are_refused_by_name(figures: dict[str, float], says: str) -> None:
    with pytest.raises(BadReading, match=says):
        identify(figures)


def test_typed_figures_are_read_as_at_the_bench() -> None:
    assert parse_reading("pitch_mm", "10.58 over 10").value == pytest.approx(1.058)
    assert parse_reading("pitch_mm", "24 tpi").value == pytest.approx(25.4 / 24)
    assert parse_reading("hole_mm", "1/8").value == pytest.approx(3.175)
    assert parse_reading("head_deg", "118°").value == 118
    with pytest.raises(BadReading, match="was it read in mm"):
        parse_reading("hole_mm", "3.2 in")


def test_a_shaved_head_tells_by_its_shank_and_angle_alone() -> None:
    """Shaving takes width, height and mark (geometry): with them the reading is refused, without them none is asked for."""
    for what, value in (("head_mm", 6.3), ("head_height_mm", 1.2), ("head_mark", "plain")):
        with pytest.raises(BadReading, match="A shaved head has lost"):
            identify({"form": "shaved", "hole_mm": 3.15, what: value})
    found = identify({"form": "shaved", "hole_mm": 3.15})
    assert not found.answered
    assert found.next_measurement is not None
    assert found.next_measurement.what == "head_deg"
    assert all(each.shape is None or each.shape.form in ("flush", "domed") for each in found.candidates[:6])
    assert any("two heads for one shank" in caution for caution in found.cautions)
    assert identify({"form": "shaved", "hole_mm": 3.15, "head_deg": 100}).word != found.word or not found.answered


@pytest.mark.parametrize("mark", ["dimple", "plain", None])
def test_a_head_far_too_wide_for_its_shank_is_none_of_these(mark: str | None) -> None:
    """MS20470: a 1/8 in universal head is .250 in (6.35 mm) wide, from memory; 7.1 mm is far past any limit of it."""
    figures: dict[str, float | str] = {"form": "universal", "hole_mm": 3.25, "head_mm": 7.1}
    found = identify({**figures, **({"head_mark": mark} if mark else {})})
    assert found.is_none and found.probability > 0.5
    good = identify({**figures, "head_mm": 6.4, **({"head_mark": mark} if mark else {})})
    assert "1/8 universal" in good.names and good.answered
