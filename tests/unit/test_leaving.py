"""What must not leave, what only on terms; mass, surface, density and price against geometry and printed densities."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.calc.bags.leaving import Leaving, bars_of, open_test, papers_of, traits_of
from witnessmark.calc.bags.shipment import Tariff, count_against_mass, price_of
from witnessmark.calc.bags.solids import SHAPES, check_material, families_of, mass_of, solid

STEEL = Leaving("0007", "Pylon foot fitting", "forged steel, 900 MPa class", 900.0)


def rules(process: str, *pieces: Leaving) -> list[tuple[str, str, bool]]:
    return [(bar.tag, bar.rule, bar.must_not) for bar in bars_of(process, pieces)]


@pytest.mark.parametrize(
    ("material", "rule"),
    [
        ("clad dural 1.2", "steel bath: aluminium"),
        ("elektron-type Mg casting", "steel bath: magnesium"),
        ("stainless steel", "steel bath: stainless"),
        ("titanium", "steel bath: titanium"),
        ("lead in steel cup", "steel bath: lead"),
    ],
)
def test_no_other_metal_goes_into_a_bath_for_steel(material: str, rule: str) -> None:
    """Common practice of platers, unverified; the table names it so."""
    found = [
        bar for bar in bars_of("cadmium plate, bake", [STEEL, Leaving("2", "x", material, 500.0)]) if bar.tag == "2"
    ]
    assert rule in [bar.rule for bar in found if bar.must_not]
    assert next(bar for bar in found if bar.rule == rule).status == "memory"


def test_a_bath_without_steel_is_none_for_steel() -> None:
    assert rules("anodise", Leaving("2", "cover", "dural")) == []
    assert rules("cadmium plate", Leaving("2", "cover", "dural")) == [("2", "steel bath: aluminium", True)]


@pytest.mark.parametrize(
    ("words", "process", "rule", "must_not"),
    [
        ("Strut, Cr-Mo steel tube 28x1.5", "plate", "closed", False),
        ("Strut, steel tube", "stress relief", "closed: oven", False),
        ("Leaf spring", "plate", "spring", False),
        ("Sprocket, case-hardened", "plate", "case-hardened", False),
        ("Bracket, brazed", "plate", "assembly", False),
        ("Bracket, riveted", "plate", "assembly", False),
        ("Cup, soldered", "bake", "soldered: oven", True),
        ("Bellcrank with bearing", "plate", "bearing", True),
        ("Retraction chain", "plate", "chain", True),
        ("Elevator cable, swaged ends", "plate", "cable end", True),
        ("Stop nuts, fibre insert", "bake", "fibre insert", True),
        ("Bolts, matched to holes", "MPI", "matched", False),
    ],
)
def test_each_nature_named_in_the_trade_is_barred_or_has_its_term(
    words: str, process: str, rule: str, must_not: bool
) -> None:
    found = {bar.rule: bar for bar in bars_of(process, [Leaving("1", words, "steel", 900.0)])}
    assert found[rule].must_not is must_not
    assert bool(found[rule].term) is not must_not
    assert found[rule].read_from in words.lower()


@pytest.mark.parametrize("words", ["Tailwheel spring bolts", "Retraction chain sprocket", "Bearing cap", "Inner tube"])
def test_a_word_inside_another_thing_is_not_read(words: str) -> None:
    assert traits_of(Leaving("1", words, "")) == ()


def test_what_a_person_said_goes_before_the_word() -> None:
    strut = Leaving("1", "Strut, steel tube", "steel", 900.0, said={"closed": False})
    assert rules("plate", strut) == []
    plain = Leaving("1", "Strut", "steel", 900.0, said={"closed": True})
    assert rules("plate", plain) == [("1", "closed", False)]
    assert bars_of("plate", [plain])[0].read_from == ""


def test_unknown_strength_asks_for_a_persons_word_and_stainless_does_not() -> None:
    """AMS 2759/9D: embrittlement depends on strength; the rule's source is that."""
    assert rules("plate", Leaving("1", "bolt", "steel")) == [("1", "steel of unknown strength", False)]
    assert "steel of unknown strength" not in [r for _, r, _ in rules("plate", Leaving("1", "bolt", "stainless"))]


def test_the_crack_test_comes_before_the_coat_and_not_before_itself() -> None:
    bolt = Leaving("1", "bolt", "steel", 900.0, waits_for_test="Crack test")
    (bar,) = bars_of("cadmium plate", [bolt])
    assert bar.must_not
    assert "'Crack test' is not done" in bar.why
    assert bars_of("MPI", [bolt]) == ()


@pytest.mark.parametrize(
    ("done", "at", "waits"),
    [((True, False, False), 2, "Crack test"), ((True, True, False), 2, ""), ((True, False, False), 1, "")],
)
def test_the_open_test_is_found_in_the_route(done: tuple[bool, ...], at: int, waits: str) -> None:
    names = ("Clean", "Crack test", "Plate")
    assert open_test(list(zip(names, done, strict=True)), at) == waits


@pytest.mark.parametrize(
    ("process", "strength", "kinds"),
    [
        ("Cadmium plate, bake", 1300.0, ["conformity", "bake"]),
        ("Cadmium plate", 400.0, ["conformity"]),
        ("Cadmium plate", None, ["conformity", "bake"]),
        ("MPI", 1300.0, ["test report"]),
        ("Heat treat", 400.0, ["test report", "conformity"]),
        ("Cast", 400.0, ["material", "conformity"]),
        ("overhaul", 400.0, ["conformity"]),
        ("Look at it", 400.0, []),
    ],
)
def test_which_papers_come_back(process: str, strength: float | None, kinds: list[str]) -> None:
    """Bake certificate: MIL-STD-870C 5.2 (read) asks for the bake of hard steel; the others are common practice."""
    assert [paper.kind for paper in papers_of(process, [Leaving("1", "bolts", "steel", strength)])] == kinds


def test_a_tag_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="twice"):
        bars_of("plate", [STEEL, STEEL])


# Plane and solid geometry: a tube of no bore is a bar; a plate's surface; a hexagon 13 across flats has 146.4 mm2.
def test_a_tube_without_bore_is_a_bar() -> None:
    bar, tube = solid("bar", (20.0, 100.0)), solid("tube", (20.0, 10.0, 100.0))
    assert tube.volume_mm3 == pytest.approx(bar.volume_mm3)
    assert tube.surface_mm2 == pytest.approx(bar.surface_mm2)
    assert solid("plate", (100.0, 50.0, 2.0)).surface_mm2 == 2 * (5000 + 200 + 100)
    head = solid("bolt", (8.0, 1e-9, 13.0, 1.0)).volume_mm3
    assert head == pytest.approx(6 * (13 / 2) ** 2 * math.tan(math.pi / 6), rel=1e-6)


@pytest.mark.parametrize(
    ("shape", "dimensions"),
    [("cone", (1.0,)), ("bar", (1.0,)), ("bar", (0.0, 1.0)), ("tube", (10.0, 6.0, 5.0)), ("bolt", (8.0, 40.0, 7.0, 5.0)),
     ("bar", (float("nan"), 1.0))],
)  # fmt: skip
def test_a_solid_that_cannot_be_is_refused(shape: str, dimensions: tuple[float, ...]) -> None:
    with pytest.raises(ValueError):
        solid(shape, dimensions)


@given(st.sampled_from(sorted(SHAPES)), st.floats(1.5, 4.0))
def test_volume_grows_with_the_cube_and_surface_with_the_square(shape: str, scale: float) -> None:
    start = {"bar": (8.0, 40.0), "tube": (28.0, 1.5, 300.0), "plate": (90.0, 40.0, 2.0), "bolt": (8.0, 40.0, 13.0, 5.3)}
    one, big = solid(shape, start[shape]), solid(shape, tuple(scale * d for d in start[shape]))
    assert big.volume_mm3 == pytest.approx(scale**3 * one.volume_mm3)
    assert big.surface_mm2 == pytest.approx(scale**2 * one.surface_mm2)


# Densities as printed in a materials-science textbook, App. B: 7.85, 2.77, 1.81, 8.00, 8.53 g/cm3.
@pytest.mark.parametrize(
    ("density", "magnet", "family"),
    [(7.85, "sticks", "steel"), (2.77, "none", "aluminium"), (1.81, "none", "magnesium"), (8.0, "none", "stainless"),
     (8.53, "none", "brass")],
)  # fmt: skip
def test_printed_densities_find_their_metal(density: float, magnet: str, family: str) -> None:
    checked = check_material(family, magnet, density * 10, 10_000.0)  # type: ignore[arg-type]
    assert checked.agrees
    assert family in checked.could_be


def test_a_magnesium_part_called_dural_is_caught() -> None:
    checked = check_material("dural casting", "none", 18.1, 10_000.0)
    assert checked.agrees is False
    assert checked.could_be == ("magnesium",)
    assert checked.sentence == "A magnet does not stick, 1.81 g/cm3: not aluminium. It could be magnesium."
    assert check_material("steel", "none").agrees is False
    assert check_material("fabric", "none").agrees is None
    assert check_material("steel", "not tried").agrees is None


def test_metals_are_read_from_words() -> None:
    assert families_of("lead in steel cup") == ("steel", "lead")
    assert families_of("dural, riveted") == ("aluminium",)
    assert families_of("birch ply") == ()
    assert mass_of("steel and bronze", 10.0) is None


def test_the_price_is_the_tariff_or_the_least_charge() -> None:
    tariff = Tariff(60.0, 12.0, 0.5, 0.0, "EUR")
    assert price_of(tariff, 200, 1000.0, None).price == 112.0
    assert price_of(tariff, 10, 1000.0, None).price == 60.0
    assert price_of(tariff, 10, None, None).price is None
    with pytest.raises(ValueError, match="count"):
        price_of(tariff, 0, 1.0, None)


@given(st.integers(1, 25), st.floats(1.0, 200.0))
def test_one_missing_of_few_shows_on_the_scales(count: int, each: float) -> None:
    out = count + 1
    assert count_against_mass(out, out * each, count, count * each).agrees
    assert not count_against_mass(out, out * each, out, count * each).agrees


def test_the_bucket_that_came_back_one_short() -> None:
    """1,810 g of 70 left and 1,786 g came: a 70 counted does not fit the scales."""
    assert not count_against_mass(70, 1810.0, 70, 1781.0).agrees
    assert count_against_mass(70, 1810.0, 69, 1786.0).agrees


MATERIALS = ("steel", "dural", "stainless steel", "elektron Mg", "brass", "", "titanium", "leather")
NAMES = ("bolt", "leaf spring", "chain", "strut tube", "brazed bracket", "bearing", "stop nut, fibre insert", "cover")
PIECE = st.tuples(st.sampled_from(NAMES), st.sampled_from(MATERIALS), st.sampled_from((None, 500.0, 1300.0)))


@given(st.lists(PIECE, min_size=1, max_size=6), st.sampled_from(("cadmium plate", "plate", "bake", "anodise", "MPI")))
def test_company_never_frees_a_piece(drawn: list[tuple[str, str, float | None]], process: str) -> None:
    """What bars a piece alone bars it in any company; more may come, never less."""
    pieces = [Leaving(str(n), name, material, mpa) for n, (name, material, mpa) in enumerate(drawn)]
    together = {(bar.tag, bar.rule) for bar in bars_of(process, pieces)}
    alone = {(bar.tag, bar.rule) for piece in pieces for bar in bars_of(process, [piece])}
    assert alone <= together
