"""For each order rule a route that breaks it and one that keeps it, written from the rule's own row."""

from dataclasses import dataclass, field

from witnessmark.calc.surface.route_line import RouteFacts, StepTime


@dataclass(frozen=True)
class Route:
    """Steps, material, strength in MPa, and what is known."""

    steps: tuple[str, ...]
    material: str = "4340 steel"
    strength_mpa: float | None = 500.0
    facts: RouteFacts = field(default_factory=RouteFacts)
    times: dict[int, StepTime] = field(default_factory=dict)


def _at(*pairs: tuple[float, float]) -> dict[int, StepTime]:
    return {number: StepTime(*pair) for number, pair in enumerate(pairs, start=1)}


_HARD, _MG, _AL, _WOOD = 1379.0, "magnesium casting", "2024 dural", "spruce"
_BLEND_PRIME = ("blend and measure", "prime")
_EPOXY = ("prime with epoxy primer", "topcoat")
_MIX = ("mix primer", "prime")
_TWO_WEEKS = ("condition wood", "surface wood", "glue")

# Rule: (breaking, keeping).
EXAMPLES: dict[str, tuple[Route, Route]] = {
    "R01": (
        Route(("strip paint", "prime"), facts=RouteFacts(documented=False)),
        Route(("document as found", "strip paint", "prime"), facts=RouteFacts(documented=False)),
    ),
    "R02": (Route(("cadmium plate", "weld")), Route(("weld", "cadmium plate"))),
    "R03": (Route(("prime", "form"), _AL), Route(("form", "prime"), _AL)),
    "R04": (Route(("nickel plate", "heat treat"), "brass"), Route(("heat treat", "nickel plate"), "brass")),
    "R05": (
        Route(("grind", "hard chrome", "bake"), strength_mpa=_HARD, facts=RouteFacts(worked_after_hardening=True)),
        Route(("grind", "stress relief", "hard chrome", "bake"), strength_mpa=_HARD),
    ),
    "R06": (
        Route(("temper etch", "bake", "plate", "bake"), times=_at((0, 0.2), (8.1, 12), (13, 14), (15, 38))),
        Route(("temper etch", "bake", "plate", "bake"), times=_at((0, 0.2), (8, 12), (13, 14), (15, 38))),
    ),
    "R07": (
        Route(("hard chrome", "bake"), strength_mpa=_HARD, times=_at((8, 9), (13.1, 36.1))),
        Route(("hard chrome", "bake"), strength_mpa=_HARD, times=_at((8, 9), (13, 36))),
    ),
    "R08": (
        Route(("cadmium plate", "chromate", "bake"), strength_mpa=_HARD),
        Route(("cadmium plate", "bake", "chromate"), strength_mpa=_HARD),
    ),
    "R09": (
        Route(("strip plate", "cadmium plate"), facts=RouteFacts(plate_rejected=True)),
        Route(("strip plate", "clean", "cadmium plate"), facts=RouteFacts(plate_rejected=True)),
    ),
    "R10": (Route(("machine", "penetrant test"), _AL), Route(("penetrant test", "machine"), _AL)),
    "R11": (Route(("fine sand", "penetrant test"), _AL), Route(("fine sand", "etch", "penetrant test"), _AL)),
    "R12": (
        Route(("magnetic particle test", "demagnetise"), facts=RouteFacts(coat="paint", coat_mm=0.08)),
        Route(("magnetic particle test", "demagnetise"), facts=RouteFacts(coat="paint", coat_mm=0.07)),
    ),
    "R13": (
        Route(("magnetic particle test", "demagnetise", "penetrant test")),
        Route(("magnetic particle test", "demagnetise", "clean", "penetrant test")),
    ),
    "R14": (
        Route(("magnetic particle test", "put back", "demagnetise")),
        Route(("magnetic particle test", "demagnetise", "put back")),
    ),
    "R15": (
        Route(("strip paint", "magnetic particle test", "demagnetise", "put back")),
        Route(("strip paint", "magnetic particle test", "demagnetise", "prime", "put back")),
    ),
    "R16": (
        Route(("magnetic particle test", "demagnetise"), facts=RouteFacts(bushes_in=True)),
        Route(("remove bushes", "magnetic particle test", "demagnetise"), facts=RouteFacts(bushes_in=True)),
    ),
    "R17": (
        Route(("clean", "blast"), facts=RouteFacts(threads_or_blind_holes=True)),
        Route(("clean", "mask", "blast"), facts=RouteFacts(threads_or_blind_holes=True)),
    ),
    "R18": (Route(("mask", "blast")), Route(("clean", "mask", "blast"))),
    "R19": (
        Route(_BLEND_PRIME, times=_at((8, 9), (10.1, 10.5))),
        Route(_BLEND_PRIME, times=_at((8, 9), (10, 10.5))),
    ),
    "R20": (
        Route(("conversion coat", "prime"), _AL, times=_at((8, 9), (57.5, 58))),
        Route(("conversion coat", "prime"), _AL, times=_at((8, 9), (57, 58))),
    ),
    "R21": (Route(_EPOXY, _AL, times=_at((8, 8), (12, 13))), Route(_EPOXY, _AL, times=_at((8, 8), (14, 15)))),
    "R22": (Route(_MIX, _AL, times=_at((8, 8), (8.4, 9))), Route(_MIX, _AL, times=_at((8, 8), (8.5, 9)))),
    "R23": (Route(("conversion coat", "bake"), _AL), Route(("bake", "conversion coat"), _AL)),
    "R24": (Route(("anodise", "press fit"), _AL), Route(("press fit", "anodise"), _AL)),
    "R25": (
        Route(("blend and measure", "identify metal")),
        Route(("identify metal", "blend and measure")),
    ),
    "R26": (
        Route(("blend and measure", "prime"), _AL, facts=RouteFacts(steel_fasteners_in=True)),
        Route(("remove nutplates", "blend and measure", "prime"), _AL, facts=RouteFacts(steel_fasteners_in=True)),
    ),
    "R27": (
        Route(("etch",), strength_mpa=_HARD),
        Route(("etch",), strength_mpa=_HARD, facts=RouteFacts(engineering_authorised=True)),
    ),
    "R28": (Route(("power tool",), strength_mpa=_HARD), Route(("power tool",), strength_mpa=500.0)),
    "R29": (Route(("glue", "surface wood"), _WOOD), Route(("surface wood", "glue"), _WOOD)),
    "R30": (
        Route(_TWO_WEEKS, _WOOD, None, RouteFacts(arid_store=True), _at((0, 300), (300, 301), (302, 303))),
        Route(_TWO_WEEKS, _WOOD, None, RouteFacts(arid_store=True), _at((0, 336), (336, 337), (338, 339))),
    ),
    "R31": (
        Route(("hard chrome", "penetrant test"), times=_at((0, 1), (2, 2.25))),
        Route(("hard chrome", "penetrant test"), times=_at((0, 1), (2, 2.5))),
    ),
    "R32": (Route(("mask", "blast"), _MG), Route(("mask", "blast", "inspection"), _MG)),
    "R33": (
        Route(("prime",), _AL, facts=RouteFacts(dissimilar_joint=True)),
        Route(("prime", "prime", "prime"), _AL, facts=RouteFacts(dissimilar_joint=True)),
    ),
    "R34": (Route(("blend", "prime"), _AL), Route(("blend", "measure", "prime"), _AL)),
    "R35": (Route(("prime", "drill"), _AL), Route(("drill", "prime"), _AL)),
    "R36": (Route(("ream bush", "plate")), Route(("plate", "ream bush"))),
    "R37": (
        Route(("penetrant test", "straighten")),
        Route(("straighten", "magnetic particle test", "demagnetise")),
    ),
    "R38": (Route(("balance", "paint"), _AL), Route(("paint", "balance"), _AL)),
}
