"""Order rules on whole routes; each rule names its document (calc/data/order_rules.csv)."""

import pytest

from witnessmark.calc.surface.order_rules import check_route
from witnessmark.calc.surface.processes import cautions_for, processes_of
from witnessmark.calc.surface.routes import TemplateStep, route_from_template

STEEL_FITTING = ("take off", "strip", "measure", "crack test", "cadmium plate", "bake", "prime", "put back")


def test_the_usual_route_of_a_steel_fitting_breaks_no_hard_rule_and_asks_for_the_certificate() -> None:
    """AC 43.13-1B 5-51: demagnetise after the magnetic particle test; a step that does not say how asks softly."""
    found = check_route(STEEL_FITTING, "forged steel", 1100.0)
    assert [(breach.rule, breach.hard) for breach in found] == [("R14", False)]
    assert "certificate" in found[0].sentence


@pytest.mark.parametrize(
    ("steps", "material", "rule"),
    [
        (("cadmium plate", "weld", "bake", "put back"), "steel", "R02"),
        (("clean", "cadmium plate", "put back"), "steel", "R07"),
        (("grit blast", "penetrant test", "prime"), "dural sheet", "R10"),
        (("magnetic particle test", "strip paint", "prime"), "steel", "R12"),
    ],
)
def test_a_broken_hard_rule_is_named_with_its_document(steps: tuple[str, ...], material: str, rule: str) -> None:
    found = {breach.rule: breach for breach in check_route(steps, material, 1300.0)}
    assert found[rule].hard
    assert found[rule].source
    assert found[rule].status in ("read", "quoted", "derived")


def test_a_route_carries_the_cautions_of_its_steps() -> None:
    plan = route_from_template(
        [TemplateStep(1, "clean"), TemplateStep(2, "prime")], "Mg casting", None, "old silvery plate"
    )
    assert any("magnesium" in caution.hazard.lower() for caution in plan.hazards)
    assert all(caution.hand_over for caution in plan.hazards)


def test_steel_of_unknown_strength_meets_no_acid() -> None:
    """Workshop practice, no single source: no acid and no plating until strength is known; hand over to the design engineer."""
    said = cautions_for("cadmium plate", "forged steel", "", None)
    assert any("strength" in caution.text.lower() and "engineer" in caution.hand_over for caution in said)


def test_routes_without_steps_or_names_are_refused() -> None:
    for steps in (
        [],
        [TemplateStep(1, " ")],
        [TemplateStep(1, "clean"), TemplateStep(1, "prime")],
        [TemplateStep(0, "clean")],
    ):
        with pytest.raises(ValueError):
            route_from_template(steps, "steel", None, "")


@pytest.mark.parametrize(
    ("step", "processes"),
    [
        ("Magnetic-particle inspection", ("magnetic particle", "inspect")),
        ("nickel-plate", ("plate",)),
        ("Strip the old cadmium plate, then zinc plate", ("strip plate", "plate")),
        ("Fit gusset plate", ()),
        ("Powder coat", ("heat", "paint")),
        ("De-embrittle", ("bake",)),
        ("Try against the old part", ()),
    ],
)
def test_processes_are_read_however_they_are_hyphened(step: str, processes: tuple[str, ...]) -> None:
    assert processes_of(step) == processes


def test_drilling_rivets_off_is_no_machining_of_the_part_yet_keeps_the_dust_caution() -> None:
    """T.O. 33B-1-1 2.3.6.2 speaks of machining the tested surface."""
    assert check_route(("drill off", "penetrant"), "dural", 400.0) == ()
    assert any(caution.hazard == "lead paint" for caution in cautions_for("drill off", "dural", "painted"))


def test_a_conversion_coat_before_the_bake_is_refused_on_cadmium() -> None:
    """Handbook summary of QQ-P-416F, quoted."""
    found = {b.rule: b for b in check_route(("cadmium plate", "chromate", "bake"), "4340 steel", 1300.0)}
    assert found["R08"].hard and found["R08"].steps == (2, 3) and found["R08"].status == "quoted"
