"""Order rules on whole routes; each rule names its document (calc/data/order_rules.csv)."""

import pytest

from witnessmark.calc.surface.order_rules import check_route
from witnessmark.calc.surface.processes import cautions_for
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
    """TRADE practice: no acid and no plating until strength is known; hand over to the design engineer."""
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
