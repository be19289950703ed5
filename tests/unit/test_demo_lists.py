"""The demo's lists hold together: floors, cross references, stacks, the order of steps."""

import csv
import re
from datetime import date
from functools import cache
from pathlib import Path

import pytest

import witnessmark.demo
from witnessmark.calc.surface.order_rules import check_route
from witnessmark.calc.surface.processes import processes_of
from witnessmark.calc.units import parse_length as length

LISTS = Path(witnessmark.demo.__file__).parent / "lists"
NAMES = [
    "aircraft",
    "zones",
    "people",
    "vendors",
    "benches",
    "fasteners",
    "measured_sizes",
    "places",
    "parts",
    "bags",
    "seams",
    "stacks",
    "holes",
    "findings",
    "choices",
    "routes",
    "jobs",
    "left_open",
    "hours",
    "shipments",
    "buckets",
    "orders",
    "photos",
    "readings",
    "certificates",
    "hunts",
    "trips",
    "seats",
    "called_out",
]


@cache
def rows(name: str) -> list[dict[str, str]]:
    lines = (LISTS / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    found = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    for row in found:
        assert None not in row, (name, row)
        assert None not in row.values(), (name, row)
    return found


def split(text: str, by: str = ";") -> list[str]:
    return [piece.strip() for piece in text.split(by) if piece.strip()]


def sides(text: str) -> str:
    assert text in ("L", "R", "C", "LR"), text
    return text


def tags() -> list[str]:
    return [t for part in rows("parts") for t in split(part["tag"], "/")] + [bag["tag"] for bag in rows("bags")]


def capacities() -> dict[tuple[str, str], int]:
    found: dict[tuple[str, str], int] = {}
    every = [(r["mark"], r["side"], r["capacity"]) for r in rows("places")]
    every += [(r["part_no"], r["side"], r["qty"]) for r in rows("parts")]
    every += [(r["row"], r["side"], r["holes"]) for r in rows("seams")]
    for mark, at, capacity in every:
        for side in sides(at):
            assert (mark, side) not in found, f"{mark} {side} twice"
            found[mark, side] = int(capacity)
    return found


def numbers(text: str) -> list[int]:
    found: list[int] = []
    for piece in split(text, ","):
        low, _, high = piece.partition("-")
        found += range(int(low), int(high or low) + 1)
    return found


def test_all_lists_are_there() -> None:
    assert {path.stem for path in LISTS.glob("*.csv")} == set(NAMES)
    assert all(rows(name) for name in NAMES)


def test_the_floors() -> None:
    missing = sum(len(sides(p["side"])) for p in rows("parts") if p["where"] == "missing")
    pieces = sum(len(sides(p["side"])) for p in rows("parts")) - missing + len(rows("bags"))
    assert len(capacities()) >= 400
    assert pieces >= 250
    assert len(rows("seams")) >= 60
    assert 3900 <= sum(int(r["holes"]) for r in rows("seams")) <= 4200
    assert len(rows("findings")) >= 40
    assert len(rows("vendors")) == 12
    assert len(rows("photos")) >= 100
    assert len(rows("jobs")) >= 25


def test_today_is_day_412() -> None:
    (aircraft,) = rows("aircraft")
    assert (date.fromisoformat(aircraft["today"]) - date.fromisoformat(aircraft["arrived_on"])).days == 412


def test_no_tag_twice() -> None:
    every = tags()
    assert len(every) == len(set(every))
    for part in rows("parts"):
        if part["where"] != "missing":
            assert len(split(part["tag"], "/")) == len(sides(part["side"])), part


def test_zones_routes_fasteners_and_vendors_exist() -> None:
    zones = {r["zone"] for r in rows("zones")}
    for name in ("places", "parts", "bags", "seams", "jobs"):
        assert {z for r in rows(name) for z in split(r["zone"], "/")} <= zones, name
    fasteners = {r["code"] for r in rows("fasteners")} | {""}
    for name in ("bags", "seams", "orders"):
        assert {r["fastener"] for r in rows(name)} <= fasteners, name
    vendors = {r["code"] for r in rows("vendors")}
    assert {r["vendor"] for name in ("shipments", "orders") for r in rows(name)} <= vendors
    assert {r["vendor"] for r in rows("fasteners")} <= vendors | {""}
    crafts = {r["craft"] for r in rows("people")} | {"milestone"}
    assert {r["who"] for r in rows("routes")} <= vendors | crafts
    assert {r["craft"] for r in rows("jobs")} <= crafts
    benches = {r["bench"] for r in rows("benches")} | {""}
    assert {r["bench"] for name in ("routes", "jobs") for r in rows(name)} <= benches
    people = {r["name"] for r in rows("people")}
    assert {r["by"] for name in ("findings", "photos") for r in rows(name)} <= people
    steps = {r["route"]: 0 for r in rows("routes")}
    for r in rows("routes"):
        steps[r["route"]] += 1
        assert int(r["step"]) == steps[r["route"]], r
    for part in rows("parts"):
        assert 0 <= int(part["step_done"] or 0) <= steps[part["route"]], part


def test_bags_go_to_places_that_hold_them() -> None:
    room = capacities()
    for bag in rows("bags"):
        total = 0
        for goal in split(bag["goes_to"]):
            found = re.fullmatch(r"(\S+) ([LRC]):(\d+)", goal)
            assert found, goal
            key = (found[1], found[2])
            room[key] -= int(found[3])
            assert room[key] >= 0, goal
            total += int(found[3])
        assert total in (0, int(bag["count"])), bag


def test_subjects_exist() -> None:
    every, places = set(tags()) | {f"M-{r['shipment']}" for r in rows("buckets")}, set(capacities())
    findings = {r["finding"] for r in rows("findings")}
    holes = {r["row"]: int(r["holes"]) for r in rows("seams")}
    zones = {r["zone"] for r in rows("zones")}
    assert len(findings) == len(rows("findings"))

    def known(on: str) -> bool:
        row, _, hole = on.partition(":")
        mark, _, side = on.rpartition(" ")
        at_hole = hole.isdigit() and 1 <= int(hole) <= holes.get(row, 0)
        return on in every or at_hole or (mark, side) in places or (mark == "zone" and side in zones)

    assert [r for r in rows("findings") if not known(r["on"])] == []
    assert [r for r in rows("photos") if not (known(r["subject"]) or r["subject"] in findings)] == []
    assert [t for r in rows("shipments") for t in split(r["tags"]) if t not in every] == []
    jobs = {r["job"] for r in rows("jobs")}
    orders, zones_closed = {r["order"] for r in rows("orders")}, {f"close-{zone}" for zone in zones}
    comes_before = jobs | findings | orders | every | zones_closed
    assert [k for r in rows("jobs") for k in split(r["after"]) if k not in comes_before] == []
    own = findings | every | {r["row"] for r in rows("seams")}
    assert [k for r in rows("jobs") for k in split(r["stands_for"]) if k.partition(":")[0] not in own] == []
    assert [r for r in rows("left_open") if r["job"] not in jobs | {row["row"] for row in rows("seams")}] == []
    assert [tag for r in rows("left_open") for tag in split(r["bags"]) if tag not in every] == []


def test_what_is_out_is_where_the_lists_say() -> None:
    out = {t: r["vendor"] for r in rows("shipments") if not r["back_on"] for t in split(r["tags"])}
    mixed = {r["shipment"] for r in rows("buckets")}  # a bag in a bucket stands at the vendor until it is told apart
    out |= {t: r["vendor"] for r in rows("shipments") if r["shipment"] in mixed for t in split(r["tags"])}
    at = {t: p["where"] for p in rows("parts") for t in split(p["tag"], "/")}
    at |= {b["tag"]: b["where"] for b in rows("bags")}
    vendors = {r["code"] for r in rows("vendors")}
    assert {t: where for t, where in at.items() if where in vendors} == out


def test_every_row_has_a_stack_and_every_hole_one_state() -> None:
    parts = {p["part_no"] for p in rows("parts")} | {""}
    marks = {r["row"]: int(r["holes"]) for r in rows("seams")}
    assert len(marks) == len(rows("seams"))
    for mark, count in marks.items():
        layers = [r for r in rows("stacks") if r["row"] == mark]
        assert [int(r["layer"]) for r in layers] == list(range(1, len(layers) + 1)), mark
        assert 2 <= len(layers) <= 3, mark
        assert 0.5 < sum(length(r["thickness"]).mm for r in layers) < 8, mark
        assert {r["part_no"] for r in layers} <= parts, mark
        said = [n for r in rows("holes") if r["row"] == mark for n in numbers(r["holes"])]
        assert sorted(said) == list(range(1, count + 1)), mark
    for r in rows("holes"):
        assert r["row"] in marks
        for typed in (r["measured"], r["edge"]):
            assert not typed or 1 < length(typed).mm < 15, r


def test_row_c2_stands_as_it_was_left() -> None:
    c2 = {n: r for r in rows("holes") if r["row"] == "C2" for n in numbers(r["holes"])}
    assert [n for n, r in c2.items() if r["state"] == "open"] == [43]
    assert (c2[43]["measured"], c2[43]["edge"]) == ("3.4", "7.2")
    assert sorted(n for n, r in c2.items() if r["state"] == "temporary") == list(range(48, 85, 4))
    assert sum(r["state"] == "riveted" for r in c2.values()) == 41
    assert sum(length(r["thickness"]).mm for r in rows("stacks") if r["row"] == "C2") == pytest.approx(3.5)


def test_the_three_fittings_of_l018_weigh_what_left() -> None:
    masses = [float(p["mass_g"]) * len(sides(p["side"])) for p in rows("parts") if p["set"] == "L-018"]
    assert sum(masses) == 2445


@pytest.mark.parametrize("route", sorted({r["route"] for r in rows("routes")}))
def test_steps_come_in_the_order_the_rules_want(route: str) -> None:
    steps = [set(processes_of(r["name"])) for r in rows("routes") if r["route"] == route]

    def first(*names: str) -> list[int]:
        return [n for n, step in enumerate(steps) if step & set(names)]

    plate, bake = first("plate"), first("bake")
    for at in plate:
        assert [n for n in bake if n > at], "bake after plate"
        assert [n for n in first("crack test", "magnetic particle") if n < at], "crack test before plate"
    before = first("machine", "form", "weld", "heat treat", "blast")
    finish = first("plate", "conversion coat", "prime")
    assert not before or not finish or max(before) < min(finish)
    assert not first("blast") or min(first("mask")) < min(first("blast"))
    assert not first("conversion coat") or max(first("conversion coat")) < min(first("prime"))


def test_only_the_bolts_and_the_brake_shoes_ask_for_a_signed_reason() -> None:
    """AC 43.13-1B Table 5-1 (read): demagnetised after the test; their routes leave that to the report."""
    routes: dict[str, list[tuple[int, str]]] = {}
    for r in rows("routes"):
        routes.setdefault(r["route"], []).append((int(r["step"]), r["name"]))
    asks: dict[str, set[str]] = {}
    for part in rows("parts"):
        steps = [name for _, name in sorted(routes.get(part["route"], []))]
        for breach in check_route(steps, f"{part['material']} {part['name']}", 600.0):
            asks.setdefault(breach.rule, set()).update(split(part["tag"], "/"))
    assert asks == {"R14": {"L-063", "0223", "0224"}}


def test_what_is_in_place_has_not_been_taken_off() -> None:
    off = [p for p in rows("parts") if p["where"] == "in place" and p["route"] != "dural structure"]
    assert off
    assert [p["part_no"] for p in off if int(p["step_done"] or 0)] == []


def test_rows_that_nobody_looked_at_carry_no_reading() -> None:
    unseen = {r["row"] for r in rows("seams") if r["looked_at"] != "yes"}
    assert {"HB-12", "HB-17"} <= unseen
    assert [r for r in rows("holes") if r["row"] in unseen and (r["measured"] or r["state"] != "riveted")] == []
