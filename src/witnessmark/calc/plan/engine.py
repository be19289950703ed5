"""The fast engine: one pass of schedule generation forwards or backwards, and a search with many of them.

Times are whole units of one grid. A pass takes the jobs in a given order, each at the earliest (backwards: the latest)
time at which what it waits for is done and what it needs is free. Import this module inside the function that needs
it: it brings the compiler. What it compiled once is kept on disk.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

from numba import njit

F = TypeVar("F", bound=Callable[..., Any])
Array = Any  # numpy arrays, as the compiler sees them
NO_TIME = 2**30


def _compiled(function: F) -> F:
    """Compile a function when it is first called, and keep what was compiled."""
    made: Any = njit(cache=True)(function)
    return cast("F", made)


@_compiled
def _free_from(skip: Array, t: int, r: int) -> int:
    """The first unit from t on at which anything of a resource is free; halves the road for the next who asks."""
    while skip[t, r] != t:
        skip[t, r] = skip[skip[t, r], r]
        t = skip[t, r]
    return t


@_compiled
def _forward(p: Array, order: Array, start: Array, finish: Array, who: Array, free: Array, skip: Array) -> int:
    """Place every job as early as its place in the order lets it; the end, or NO_TIME where the grid is too short."""
    (dur, need_ptr, need_idx, need_amt, pred_ptr, pred_idx, pred_lag, _sp, _si, _sl, cap, cal, done, opens, n_open,
     release, alt_ptr, alt_res, alt_cal, leave, vday, vopen, horizon) = p  # fmt: skip
    resources = cap.shape[0]
    for t in range(horizon):
        for r in range(resources):
            free[t, r] = cap[r]
            skip[t, r] = t
    for r in range(resources):
        skip[horizon, r] = horizon
    end = 0
    for at in range(order.shape[0]):
        j = order[at]
        est = release[j]
        for k in range(pred_ptr[j], pred_ptr[j + 1]):
            t = finish[pred_idx[k]] + pred_lag[k]
            if t > est:
                est = t
        if est >= horizon:
            return NO_TIME
        d = dur[j]
        best_s, best_f, best_w = NO_TIME, NO_TIME, -1
        n_alt = alt_ptr[j + 1] - alt_ptr[j]
        for a in range(n_alt if n_alt > 0 else 1):
            res = alt_res[alt_ptr[j] + a] if n_alt > 0 else -1
            c = alt_cal[alt_ptr[j] + a] if n_alt > 0 else cal[j]
            s = est
            while True:
                moved = True
                while moved:
                    moved = False
                    if res >= 0 and skip[s, res] != s:
                        s = _free_from(skip, s, res)
                        moved = True
                    for k in range(need_ptr[j], need_ptr[j + 1]):
                        if d > 0 and skip[s, need_idx[k]] != s:
                            s = _free_from(skip, s, need_idx[k])
                            moved = True
                if s >= horizon:
                    break
                if c == -2:
                    s = leave[s] if d > 0 else s
                    if s >= horizon:
                        break
                    f = vopen[vday[s] + d] if d > 0 else s
                elif c == -1:
                    f = s + d
                else:
                    w = done[c, s]
                    if w + d > n_open[c]:
                        s = NO_TIME
                        break
                    if d > 0:
                        s = opens[c, w]
                        f = opens[c, w + d - 1] + 1
                    else:
                        f = s
                if f > horizon or f >= best_f:
                    s = NO_TIME
                    break
                clash = -1
                if res >= 0:
                    for t in range(f - 1, s - 1, -1):
                        if free[t, res] < 1:
                            clash = t
                            break
                for k in range(need_ptr[j], need_ptr[j + 1]):
                    r, amount = need_idx[k], need_amt[k]
                    for t in range(f - 1, max(s, clash + 1) - 1, -1):
                        if free[t, r] < amount:
                            clash = t
                            break
                if clash < 0:
                    break
                s = clash + 1
                if s >= horizon:
                    break
            if s < horizon and f < best_f:
                best_s, best_f, best_w = s, f, res
        if best_w < 0 and best_s >= horizon:
            return NO_TIME
        if best_f > horizon:
            return NO_TIME
        start[j], finish[j], who[j] = best_s, best_f, best_w
        if best_w >= 0:
            for t in range(best_s, best_f):
                free[t, best_w] -= 1
                skip[t, best_w] = t + 1
        for k in range(need_ptr[j], need_ptr[j + 1]):
            r, amount = need_idx[k], need_amt[k]
            for t in range(best_s, best_f):
                free[t, r] -= amount
                if free[t, r] == 0:
                    skip[t, r] = t + 1
        if best_f > end:
            end = best_f
    return end


@_compiled
def _backward(
    p: Array, order: Array, span: Array, who: Array, end: int, start: Array, finish: Array, free: Array
) -> int:
    """Place every job as late as it may be for an end, each as long by the clock as before; the first start.

    A heuristic where calendars close: the next forward pass puts times right, it takes the order alone from here.
    """
    (_dur, need_ptr, need_idx, need_amt, _pp, _pi, _pl, succ_ptr, succ_idx, succ_lag, cap, _cal, _done, _opens, _n_open,
     _release, _ap, _ar, _ac, _leave, _vday, _vopen, horizon) = p  # fmt: skip
    resources = cap.shape[0]
    # What does not fit before time 0 runs on below it: the grid is shifted by its own length.
    base = horizon
    low = 2 * horizon
    for t in range(2 * horizon):
        for r in range(resources):
            free[t, r] = cap[r]
    for at in range(order.shape[0]):
        j = order[at]
        last = end + base
        for k in range(succ_ptr[j], succ_ptr[j + 1]):
            t = start[succ_idx[k]] + base - succ_lag[k]
            if t < last:
                last = t
        d, res = span[j], who[j]
        f = last
        while True:
            s = f - d
            if s < 0:
                return -(NO_TIME)
            clash = NO_TIME
            if res >= 0:
                for t in range(s, f):
                    if free[t, res] < 1:
                        clash = t
                        break
            for k in range(need_ptr[j], need_ptr[j + 1]):
                r, amount = need_idx[k], need_amt[k]
                for t in range(s, min(f, clash)):
                    if free[t, r] < amount:
                        clash = t
                        break
            if clash == NO_TIME:
                break
            f = clash
        start[j], finish[j] = s - base, f - base
        if res >= 0:
            for t in range(s, f):
                free[t, res] -= 1
        for k in range(need_ptr[j], need_ptr[j + 1]):
            r, amount = need_idx[k], need_amt[k]
            for t in range(s, f):
                free[t, r] -= amount
        if s < low:
            low = s
    return int(low - base)
