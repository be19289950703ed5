"""Better recombination: schedules pushed to the left and to the right by turns, crossed where the shop is busiest.

A generation makes from each schedule one that is pushed to the other side. Its order is the father's within the window in
which he uses most, and the mother's before and after; both parts keep everything after what it waits for, so that every
child is an order that can be worked. The mother is the best of several drawn. One pass is one schedule. The further the
search is through its time, the more mothers are drawn for one and the narrower the windows: wide at first, sharp at the end.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from witnessmark.calc.plan.engine import NO_TIME, _backward, _compiled, _forward

Array = Any


@_compiled
def _busiest(p: Array, start: Array, finish: Array, end: int, width: int, load: Array) -> int:
    """Start of the window of a width in which most of what there is is used."""
    need_ptr, need_idx, need_amt, cap = p[1], p[2], p[3], p[10]
    load[:] = 0.0
    for j in range(start.shape[0]):
        used = 0.0
        for k in range(need_ptr[j], need_ptr[j + 1]):
            used += need_amt[k] / max(1, cap[need_idx[k]])
        for t in range(start[j], finish[j]):
            load[t] += used
    total = 0.0
    for t in range(width):
        total += load[t]
    most, at = total, 0
    for t in range(1, end - width + 1):
        total += load[t + width - 1] - load[t - 1]
        if total > most:
            most, at = total, t
    return int(at)


@_compiled
def _linked(p: Array, before: int, after: int) -> bool:
    succ_ptr, succ_idx = p[7], p[8]
    found = False
    for k in range(succ_ptr[before], succ_ptr[before + 1]):
        found = found or succ_idx[k] == after
    return found


@_compiled
def _roads(p: Array, topological: Array, own: Array, floor: Array, road: Array) -> int:
    """Fill in the longest road from the begin of each job to the end, each job counting its own."""
    succ_ptr, succ_idx = p[7], p[8]
    for at in range(topological.shape[0] - 1, -1, -1):
        j = topological[at]
        most = floor[j]
        for k in range(succ_ptr[j], succ_ptr[j + 1]):
            most = max(most, road[succ_idx[k]])
        road[j] = own[j] + most
    return int(topological.shape[0])


@_compiled
def _first_orders(p: Array, urgency: Array, noises: Array, prompt: int, seed: int, start: Array, finish: Array, end: Array,
                 who: Array, free: Array, skip: Array) -> int:  # fmt: skip
    """Fill the rows with schedules, the most urgent job first: in the first `prompt` of them nothing that can begin waits.

    The first row by urgency alone, the others with noise on it, of the two kinds of rows one each.
    """
    np.random.seed(seed)
    (dur, need_ptr, need_idx, need_amt, pred_ptr, _pi, _pl, succ_ptr, succ_idx, succ_lag, cap, _cal, _done, _opens, _n_open,
     release, _ap, _ar, _ac, _leave, _vday, _vopen, _horizon) = p  # fmt: skip
    n = start.shape[1]
    key, opens, done = np.zeros(n), np.zeros(n, np.int64), np.zeros(n, np.int64)
    left, ready, busy, order = (
        np.zeros(n, np.int64),
        np.zeros(n, np.int64),
        np.zeros(n, np.int64),
        np.zeros(n, np.int64),
    )
    for row in range(start.shape[0]):
        has = cap.copy()
        now, waiting, working, placed = 0, 0, 0, 0
        heedful = row < prompt
        noise = noises[0] if heedful else noises[1]
        for j in range(n):
            left[j] = pred_ptr[j + 1] - pred_ptr[j]
            opens[j] = release[j]
            key[j] = urgency[j] + (noise * np.random.random() if row > 0 else 0.0)
            if left[j] == 0:
                ready[waiting] = j
                waiting += 1
        while placed < n:
            best = -1
            for k in range(waiting):
                j = ready[k]
                fits = (opens[j] <= now or not heedful) and (best < 0 or key[j] > key[ready[best]])
                for x in range(need_ptr[j], need_ptr[j + 1]):
                    fits = fits and (dur[j] == 0 or need_amt[x] <= has[need_idx[x]] or not heedful)
                if fits:
                    best = k
            if best >= 0:
                j = ready[best]
                waiting -= 1
                ready[best] = ready[waiting]
                order[placed] = j
                placed += 1
                done[j] = now + dur[j]
                for x in range(need_ptr[j], need_ptr[j + 1]):
                    has[need_idx[x]] -= need_amt[x] if dur[j] > 0 else 0
                if dur[j] > 0:
                    busy[working] = j
                    working += 1
                for x in range(succ_ptr[j], succ_ptr[j + 1]):
                    after = succ_idx[x]
                    opens[after] = max(opens[after], done[j] + succ_lag[x])
                    left[after] -= 1
                    if left[after] == 0:
                        ready[waiting] = after
                        waiting += 1
                continue
            # Nothing more can begin now: on to when something ends, or what waits for a lag or a day may begin.
            later = NO_TIME
            for k in range(working):
                later = min(later, done[busy[k]])
            for k in range(waiting):
                if opens[ready[k]] > now:
                    later = min(later, opens[ready[k]])
            now = later
            k = 0
            while k < working:
                j = busy[k]
                if done[j] > now:
                    k += 1
                    continue
                working -= 1
                busy[k] = busy[working]
                for x in range(need_ptr[j], need_ptr[j + 1]):
                    has[need_idx[x]] += need_amt[x]
        end[row] = _forward(p, order, start[row], finish[row], who, free, skip)
    return int(start.shape[0])


@_compiled
def _evolve(p: Array, start: Array, finish: Array, end: Array, generations: int, seed: int, right: bool, draws: float,
           widths: Array, swaps: float, enough: int, best: Array, who: Array, free: Array, skip: Array) -> int:  # fmt: skip
    """Go on for some generations; the rows become the last one, `best` the starts of the best. Returns its end.

    `right`: whether the rows are pushed to the right now. `enough`: an end at which to stop.
    """
    np.random.seed(seed)
    rows, n = start.shape
    start_2, finish_2, end_2 = np.zeros_like(start), np.zeros_like(finish), np.zeros_like(end)
    load = np.zeros(free.shape[0])
    key = np.zeros(n)
    least = NO_TIME
    for _ in range(generations):
        for i in range(rows):
            m = i
            for draw in range(int(draws + np.random.random())):
                other = np.random.randint(rows)
                if draw == 0 or end[other] < end[m]:
                    m = other
            width = max(1, int(end[i] * (widths[0] + np.random.random() * (widths[1] - widths[0]))))
            a = _busiest(p, start[i], finish[i], end[i], width, load)
            b = a + width
            for j in range(n):
                if right:
                    t = start[i, j]
                    key[j] = start[m, j] if t < a else (2.0**22 + t if t < b else 2.0**23 + start[m, j])
                else:
                    t = finish[i, j]
                    key[j] = -finish[m, j] - 2.0**23 if t > b else (-t - 2.0**22 if t > a else -finish[m, j])
                key[j] += 0.9 * np.random.random()
            order = np.argsort(key)
            for k in range(n - 1):
                if np.random.random() < swaps:
                    x, y = order[k], order[k + 1]
                    if not (_linked(p, x, y) or _linked(p, y, x)):
                        order[k], order[k + 1] = y, x
            if right:
                end_2[i] = _forward(p, order, start_2[i], finish_2[i], who, free, skip)
            else:
                low = _backward(p, order, finish[i] - start[i], who, end[i], start_2[i], finish_2[i], free)
                end_2[i] = end[i] - low
                start_2[i] -= low
                finish_2[i] -= low
            if end_2[i] < least:
                least = end_2[i]
                best[:] = start_2[i]
        start[:], finish[:], end[:] = start_2, finish_2, end_2
        right = not right
        if least <= enough:
            break
    return least
