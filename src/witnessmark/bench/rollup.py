"""The roll-up of an order: 20,000 holes in rows of many sizes and lengths, in CPU-seconds."""

import random
import time

from witnessmark.bench.figures import SEED, figure

HOLES = 20_000


@figure("fasteners.rollup_20000_holes_cpu_s", unit="CPU-s", goal=1.0)
def rollup_20000_holes(full: bool) -> tuple[float, str]:
    """Grip, length, roll-up, spares by chance and tools for every row; the least of five."""
    from witnessmark.calc.fasteners.length import StackLayer, grip, rivet_length
    from witnessmark.calc.fasteners.order import OrderRow, roll_up
    from witnessmark.calc.fasteners.spares import service_spares
    from witnessmark.calc.fasteners.tooling import Drives, tool_list

    draw = random.Random(SEED)  # noqa: S311
    rows = []
    left = HOLES
    while left:
        holes = min(left, draw.randint(12, 110))
        left -= holes
        diameter = draw.choice((2.4, 2.6, 3.0, 3.2, 3.5, 4.0))
        rows.append((diameter, [round(draw.uniform(0.5, 2.0), 1) for _ in range(draw.randint(2, 4))], holes))
    best, lines = float("inf"), 0
    for _ in range(5):
        before = time.process_time()
        asked, driven = [], []
        for number, (diameter, sheets, holes) in enumerate(rows):
            stack = grip([StackLayer(f"sheet {n}", t, "measured") for n, t in enumerate(sheets)])
            length = rivet_length(stack.grip_mm, diameter, thickest_mm=stack.thickest_mm)
            code, row = f"R-{diameter:g}", f"row {number}"
            asked.append(OrderRow(row, code, length.stock_label, length.stock_mm, holes))
            driven.append(
                Drives(
                    code, diameter, False, None, None, sheets[0], length.stock_mm, stack.grip_mm, False, holes, (row,)
                )
            )
        order = roll_up(asked)
        for line in order:
            service_spares(line.holes, rule_spares=line.spares)
        tool_list(driven)
        best, lines = min(best, time.process_time() - before), len(order)
        if sum(line.holes for line in order) != HOLES:
            raise AssertionError("the roll-up lost holes")
    return best, f"{len(rows)} rows, {lines} lines, least of five, seed {SEED}"
