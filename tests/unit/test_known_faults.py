"""Faults that documents in print hold, of finishing and heat: what was copied from them, and what never may be.

Each names the document with its fault; the figure that stands instead is reckoned here, not repeated.
"""

import csv
import re
from dataclasses import fields
from itertools import combinations
from pathlib import Path

import pytest

import witnessmark.calc
from witnessmark.calc.metals import metal
from witnessmark.calc.surface.bake import bake_for, bake_rules, specifications
from witnessmark.calc.surface.corrosion import blend_out, may_blast
from witnessmark.calc.surface.galvanic import couple, series
from witnessmark.calc.surface.instruction import CalledOutBy, refuse_call
from witnessmark.calc.surface.plating import type_means
from witnessmark.calc.tables import OutsideTable
from witnessmark.calc.units import parse_stress

DATA = Path(witnessmark.calc.__path__[0]) / "data"


def rows(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader((DATA / f"{name}.csv").open()))


@pytest.mark.parametrize(("material", "low", "high"), [("4130 steel", 40, 60), ("Mg casting", 10, 35)])
def test_blasting_pressures_are_psi_and_not_the_pascals_of_the_document(material: str, low: int, high: int) -> None:
    """MIL-STD-1504C 5.5 (read) prints its pascals a thousand times too large: 60 psi is 0.414 MPa, never 414."""
    sentence = may_blast(material, False, 3.0).sentence
    assert f"{low}-{high}" in sentence and "psi" in sentence and "Pa" not in sentence
    assert parse_stress(f"{high} psi").mpa == pytest.approx(high * 4.4482216 / 25.4**2, rel=1e-6)
    for row in rows("blasting"):
        for figure in re.findall(r"\d+", row["pressure_psi"].split("(")[0]):
            # Shop air is 100 to 175 psi (common practice, no source): a pascal figure would be in the thousands.
            assert 5 <= int(figure) <= 175


def test_the_expansion_of_7075_is_not_ten_times_too_large() -> None:
    """One open material card prints 0.000236 per K for 7075; a materials-science textbook (read) 23.4e-6."""
    found = metal("7075-T6")
    assert found.cte_low <= found.cte <= found.cte_high < 236 / 9
    light = [metal(name).cte for name in ("2024-T3", "6061-T6", "5052", "356")]
    assert min(light) - 1 <= found.cte <= max(light) + 1
    for row in rows("metals"):
        assert 4 <= float(row["cte_1e-6_per_C"]) <= 30, row["metal"]


def test_a_type_numeral_means_another_thing_in_another_specification() -> None:
    """Type III is phosphate in QQ-P-416F 1.2.1 (read) and colourless chromate in ASTM B766 (quoted)."""
    types = {(row["spec"], row["code"]): row["value"] for row in rows("plating_specs") if row["kind"] == "type"}
    assert "phosphate" in types["QQ-P-416F", "III"] and "chromate" in types["ASTM B766", "III"]
    assert all(type_means(spec, code) == value for (spec, code), value in types.items())
    specs = {spec for spec, _ in types}
    missing = [(spec, code) for spec in specs for _, code in types if (spec, code) not in types]
    assert missing
    for spec, code in missing:
        with pytest.raises(OutsideTable):
            type_means(spec, code)
        assert "never carried over" in refuse_call(CalledOutBy(spec, code))


def test_bakes_of_two_specifications_disagree_and_the_one_called_out_is_never_replaced() -> None:
    """The rows of bake_rules.csv, each with its document: no pair agrees on the hours of every steel."""
    apart: set[tuple[str, str]] = set()
    for mpa in range(1050, 1800, 50):
        told = {spec: bake_for(spec, mpa, 20.0) for spec in specifications()}
        for spec, bake in told.items():
            assert bake.called_out is None or (bake.called_out.spec == spec and bake.called_out in bake_rules())
        timed = {s: b.called_out.hours for s, b in told.items() if b.called_out and b.called_out.hours is not None}
        apart |= {(a, b) for a, b in combinations(sorted(timed), 2) if timed[a] != timed[b]}
        released = [bake for bake in told.values() if bake.released and bake.called_out is not None]
        for bake in released:
            assert bake.longest is not None and bake.longest.hours is not None
            assert bake.longest.hours >= (bake.called_out.hours or 0)  # type: ignore[union-attr]
    assert ("ASTM B850-98(2009)", "ISO (electroplated zinc; edition not stated)") in apart
    assert ("ASTM B850-98(2009)", "MIL-STD-1501F") in apart


def test_no_volts_are_read_into_an_order() -> None:
    """MIL-STD-889B Table II (quoted) is an order: 0.15, 0.25 and 0.50 V stand in no text of MIL-STD-889 that was read."""
    names = series()
    for one, other in zip(names[:-1:7], names[1::7], strict=False):
        answer = couple(one, other)
        said = " ".join([answer.sentence, *answer.cautions, str(answer.to_dict()["working"])])
        assert "An order, not volts" in said and not re.search(r"0\.(?:15|25|50?) ?V\b", said)
    limits = r"\b0\.(?:15|25|50?) ?V\b|anodic index"
    held = [file.name for file in DATA.glob("*.csv") if re.search(limits, file.read_text(), re.IGNORECASE)]
    assert held == []


@pytest.mark.parametrize("share", [0.02, 0.0999, 0.1001, 0.3])
def test_a_tenth_of_the_thickness_warns_and_never_permits(share: float) -> None:
    """One type's manual alone (TM 1-1520-238-23-2 2.103.5, read); AC 43.13-1B 6-113b (read) sends you to engineering."""
    dish = blend_out(2.0 * share, 2.0)
    assert dish.warns == (share > 0.1)
    assert any("send what is left to engineering" in line for line in dish.cautions)
    assert any("a warning, nothing more" in line for line in dish.cautions)
    said = " ".join(dish.cautions).lower()
    assert not any(word in said for word in ("acceptable", "permitted", "allowed", "may be used"))
    assert not {field.name for field in fields(dish)} & {"allowed", "released", "within"}
