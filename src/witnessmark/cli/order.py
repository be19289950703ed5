"""`witnessmark order [--json]`: the rivets to order by size and length, with spares, and what holds the order.

Exit codes: 0 said, 1 the record is empty, 2 could not run.

With --json one object:
  held (bool), accepted: {by, reason, stands} or null (what the survey leaves open), holes, count
  spares: {short_at_most, late_at_most, set_by (empty: the usual figures), learned_from: [{driven, spoiled}]}
  vendors: [{code (or null), name, half_the_chance_by, four_in_five_by (when it leaves today; null without a vendor),
             leave: {working_days_before, day (null without --wanted-by), late_already} (null where no time is named),
             lines: [{size, stock_label, length_mm, holes, spares, chance_short, chance_short_by_rule, rule_spares, spoilage,
                      second_order_days, wanted, pack, minimum_run, count, on_order,
                      mass_g, pounds (null where size or alloy do not say; then no_mass says why),
                      on_shelf: [{tag, count, length_mm (or null), lies_at}],
                      rows: [{row, holes, grip_mm, grip_known, length_exact_mm}], working}]}]
  wanted_by (by --wanted-by, else as it was said on the screen, else null; the shop's days off are no working days)
  vendors also: least_mass (words, empty where no least mass is asked), combined_runs: [{family, sizes, wanted, together, apart, saved, working}]
  covered: [{size, stock_label, holes, spares, on_shelf, on_order: [{order, count}]}]      enough lies here or is on order: not ordered again
  not_looked_at: [{row, why}]          no claim is made of these
  no_length: [{row, holes, why}]
  unsaid: [{row, holes}]               nobody has said what stands in these holes; they are not counted
  undecided: [{row, hole, waits_for}]  open holes: the next rivet is not decided, so they are not counted
  boxes: [{box, count, sentence, rows: [{row, holes, takes, barred, why}]}]
  placed: [{order, vendor, what, count, ordered_on, promised_on, came_on}]
"""

import argparse
from datetime import date
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

    from witnessmark.calc.plan.lead_times import LeadTime
    from witnessmark.records.lookups.orders import RivetOrder, ToOrder, VendorOrder
    from witnessmark.records.lookups.vendor_times import VendorTime


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument(
        "--wanted-by",
        type=date.fromisoformat,
        metavar="DAY",
        help="say by when each order must leave: 2026-09-30; else the day kept with the order",
    )


def run(args: argparse.Namespace) -> int:
    """Roll up and say."""
    from witnessmark.cli.main import open_rows, print_json

    aircraft = open_rows()
    from witnessmark.records.lookups.day import today
    from witnessmark.records.lookups.orders import rivet_order

    order = rivet_order(aircraft)
    if args.json:
        print_json(to_dict(order, today(aircraft), args.wanted_by))
    else:
        _say(order, today(aircraft), args.wanted_by)
    return 0


def to_dict(order: "RivetOrder", leaves: date, wanted_by: date | None = None) -> dict[str, Any]:
    """Write the order as plain values; the keys are documented above."""
    from witnessmark.records.lookups.plan import here_by
    from witnessmark.records.lookups.spares import holidays, leave_by
    from witnessmark.records.lookups.vendor_times import vendor_times

    wanted_by, closed = wanted_by or order.risks.wanted_by, holidays()
    times = vendor_times(leaves)
    vendors = []
    for group in order.vendors:
        here = here_by(times[group.vendor.pk].time, leaves, closed) if group.vendor else None
        leave = leave_by(group.vendor, order.risks.late_at_most, wanted_by, leaves, closed, _time(times, group))
        vendors.append(
            {
                "code": group.vendor.code if group.vendor else None,
                "name": group.vendor.name if group.vendor else "",
                "half_the_chance_by": here.half if here else None,
                "four_in_five_by": here.four_in_five if here else None,
                "leave": {
                    "working_days_before": leave.working_days,
                    "day": leave.day,
                    "late_already": leave.late_already,
                }
                if leave
                else None,
                "least_mass": group.least_mass,
                "combined_runs": [
                    {
                        "family": run.family,
                        "sizes": run.codes,
                        "wanted": run.wanted,
                        "together": run.together,
                        "apart": run.apart,
                        "saved": run.saved,
                        "working": run.working.to_dict(),
                    }
                    for run in group.combined
                ],
                "lines": [
                    {
                        "size": each.line.code,
                        "stock_label": each.line.stock_label,
                        "length_mm": each.line.stock_mm,
                        "holes": each.line.holes,
                        "spares": each.line.spares,
                        **_service(each),
                        "wanted": each.line.wanted,
                        "pack": each.line.pack,
                        "minimum_run": each.line.minimum_run,
                        "count": each.line.count,
                        "mass_g": each.one_g * each.line.count if each.one_g is not None else None,
                        "pounds": each.pounds,
                        "no_mass": each.no_mass,
                        "on_order": each.on_order,
                        "on_shelf": _shelf(each),
                        "rows": [
                            {
                                "row": row.name,
                                "holes": row.to_order,
                                "grip_mm": row.grip.grip_mm if row.grip else None,
                                "grip_known": row.grip.known if row.grip else "",
                                "length_exact_mm": row.length.exact_mm if row.length else None,
                            }
                            for row in each.rows
                        ],
                        "working": each.line.working.to_dict(),
                    }
                    for each in group.lines
                ],
            }
        )
    return {
        "held": order.held,
        "accepted": {"by": order.accepted.by, "reason": order.accepted.reason, "stands": order.accepted.stands}
        if order.accepted
        else None,
        "wanted_by": wanted_by,
        "holes": order.holes,
        "count": order.count,
        "spares": {
            "short_at_most": order.risks.short_at_most,
            "late_at_most": order.risks.late_at_most,
            "set_by": order.risks.by,
            "learned_from": [{"driven": each.driven, "spoiled": each.spoiled} for each in order.spares.used],
        },
        "vendors": vendors,
        "covered": [
            {
                "size": each.line.code,
                "stock_label": each.line.stock_label,
                "holes": each.line.holes,
                "spares": each.line.spares,
                "on_shelf": _shelf(each),
                "on_order": [{"order": way.number, "count": way.count} for way in each.on_its_way],
            }
            for each in order.covered
        ],
        "not_looked_at": [{"row": row.name, "why": row.why_no_length} for row in order.not_looked_at],
        "unsaid": [{"row": row.name, "holes": row.unsaid} for row in order.unsaid],
        "undecided": [
            {"row": each.row.name, "hole": each.number, "waits_for": each.reason} for each in order.undecided
        ],
        "boxes": [
            {"box": box.name, "count": box.count, "sentence": box.sentence, "rows": list(box.rows)}
            for box in order.boxes
        ],
        "no_length": [{"row": row.name, "holes": row.to_order, "why": row.why_no_length} for row in order.no_length],
        "placed": [
            {
                "order": o.number,
                "vendor": o.vendor.code,
                "what": o.what,
                "count": o.count,
                "ordered_on": o.ordered_on,
                "promised_on": o.promised_on,
                "came_on": o.came_on,
            }
            for o in order.placed
        ],
    }


def _time(times: "Mapping[int, VendorTime]", group: "VendorOrder") -> "LeadTime | None":
    return times[group.vendor.pk].time if group.vendor else None


def _service(each: "ToOrder") -> dict[str, Any]:
    service = each.line.service
    if service is None:
        return {}
    return {
        "chance_short": service.chance_short,
        "chance_short_by_rule": service.chance_short_by_rule,
        "rule_spares": service.rule_spares,
        "spoilage": service.spoilage,
        "second_order_days": service.second_order_days,
    }


def _shelf(each: "ToOrder") -> list[dict[str, Any]]:
    return [
        {"tag": bag.tag, "count": bag.count, "length_mm": bag.length_mm, "lies_at": bag.lies_at}
        for bag in each.on_shelf
    ]


def _say(order: "RivetOrder", now: date, wanted_by: date | None) -> None:
    from witnessmark.records.lookups.spares import holidays, leave_by
    from witnessmark.records.lookups.vendor_times import vendor_times

    wanted_by, closed = wanted_by or order.risks.wanted_by, holidays()
    times = vendor_times(now)
    print(f"{order.count:,} rivets for {order.holes:,} holes." + (" Hold the order:" if order.held else ""))
    if order.accepted is not None and order.not_looked_at and not order.held:
        print(f"It may leave: {order.accepted.by} accepted that these rows are not looked at. {order.accepted.reason}")
    for row in order.not_looked_at:
        print(f"  Row {row.name}. {row.why_no_length}")
    for group in order.vendors:
        print(f"\n{group.vendor.name if group.vendor else 'No vendor is named'}")
        leave = leave_by(group.vendor, order.risks.late_at_most, wanted_by, now, closed, _time(times, group))
        if leave:
            when = f"by {leave.day}" if leave.day else f"{leave.working_days} working days before it is wanted"
            past = " That is past." if leave.late_already else ""
            print(f"  It must leave {when}, to be late with at most {order.risks.late_percent:g} %.{past}")
        if group.least_mass:
            print(f"  {group.least_mass}")
        for run in group.combined:
            print(
                f"  One run for all {run.family}: {run.together:,} instead of {run.apart:,}, if the seller "
                "takes them together."
            )
        for each in group.lines:
            line = each.line
            rows = ", ".join(f"{row.name} {row.to_order}" for row in each.rows)
            print(
                f"  {line.count:>6,}  {line.code} × {line.stock_label}: {line.holes} holes + {line.spares} spares; {rows}"
            )
    for each in order.covered:
        there = [f"{bag.count} in {bag.tag}" for bag in each.alike_here]
        there += [f"{order.count} on order, {order.number}" for order in each.on_its_way]
        print(
            f"\n{each.line.code} × {each.line.stock_label}: {each.line.holes} holes, not ordered again ({', '.join(there)})."
        )
    for row in order.no_length:
        print(f"\nRow {row.name}, {row.to_order} holes: {row.why_no_length}")
    for each_open in order.undecided:
        print(
            f"\nRow {each_open.row.name}, hole {each_open.number} is open and not counted: "
            f"{each_open.reason or 'the next rivet is undecided'}."
        )
    for box in order.boxes:
        print(f"\nBox {box.name}, {box.count:,} rivets. {box.sentence}")
    for row in order.unsaid:
        print(
            f"\nRow {row.name}: nobody has said what stands in {row.unsaid} of {row.holes} holes. They are not counted."
        )
