"""One future after another: free people take the best-ranked ready job, and nobody knows what comes.

Import inside the function that needs it: it brings the compiler.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from witnessmark.calc.plan.engine import _compiled

Array = Any


@_compiled
def _push(heap: Array, size: int, value: int) -> int:
    at = size
    while at > 0 and heap[(at - 1) // 2] > value:
        heap[at] = heap[(at - 1) // 2]
        at = (at - 1) // 2
    heap[at] = value
    return size + 1


@_compiled
def _pop(heap: Array, size: int) -> int:
    last = heap[size - 1]
    size -= 1
    at = 0
    while True:
        child = 2 * at + 1
        if child >= size:
            break
        if child + 1 < size and heap[child + 1] < heap[child]:
            child += 1
        if heap[child] >= last:
            break
        heap[at] = heap[child]
        at = child
    if size > 0:
        heap[at] = last
    return size


@_compiled
def _futures(p: Array, rank: Array, by_rank: Array, kind: Array, kinds: int, lengths: Array, ends: Array,
             starts: Array, finishes: Array, critical: Array, latest: Array) -> int:  # fmt: skip
    """Work through as many futures as there are rows of lengths; fill in ends and, by row, starts and finishes.

    `kind`: jobs that need the same people and benches have one number; if the first of a kind cannot start, none can.
    `critical`: counts how often a job lay on the chain that bound the end. `latest`: latest starts that would not have
    moved it, with the same people in the same order.
    """
    (_dur, need_ptr, need_idx, need_amt, pred_ptr, _pi, _pl, succ_ptr, succ_idx, succ_lag, cap, cal, done, opens, n_open,
     release, alt_ptr, alt_res, alt_cal, leave, vday, vopen, horizon) = p  # fmt: skip
    n, resources = rank.shape[0], cap.shape[0]
    width = 2 * n + 1
    heaps = np.zeros((kinds, n), np.int64)
    sizes = np.zeros(kinds, np.int64)
    events = np.zeros(2 * n + 8, np.int64)
    free = np.zeros(resources, np.int64)
    left = np.zeros(n, np.int64)
    ready = np.zeros(n, np.int64)
    bound = np.zeros(n, np.int64)
    who = np.zeros(n, np.int64)
    last_of = np.zeros(resources, np.int64)
    follower = np.zeros(n, np.int64)
    blocked = np.zeros(kinds, np.bool_)
    for row in range(lengths.shape[0]):
        start, finish = starts[row], finishes[row]
        for r in range(resources):
            free[r], last_of[r] = cap[r], -1
        sizes[:] = 0
        follower[:] = -1
        waiting, due = 0, 0
        for j in range(n):
            left[j] = pred_ptr[j + 1] - pred_ptr[j]
            ready[j], bound[j], who[j] = release[j], -1, -1
            if left[j] == 0:
                due = _push(events, due, np.int64(release[j]) * width + n + j)
        now, end, last = 0, 0, -1
        while due > 0 or waiting > 0:
            if due > 0:
                now = events[0] // width
            while due > 0 and events[0] // width == now:
                code = events[0] % width
                due = _pop(events, due)
                if code == 2 * n:
                    continue
                if code >= n:
                    j = code - n
                    sizes[kind[j]] = _push(heaps[kind[j]], sizes[kind[j]], rank[j])
                    waiting += 1
                    continue
                j = code
                for k in range(need_ptr[j], need_ptr[j + 1]):
                    free[need_idx[k]] += need_amt[k]
                    last_of[need_idx[k]] = j
                if who[j] >= 0:
                    free[who[j]] += 1
                    last_of[who[j]] = j
                for k in range(succ_ptr[j], succ_ptr[j + 1]):
                    s = succ_idx[k]
                    left[s] -= 1
                    if now + succ_lag[k] >= ready[s]:
                        ready[s], bound[s] = now + succ_lag[k], j
                    if left[s] == 0:
                        due = _push(events, due, np.int64(ready[s]) * width + n + s)
            if now >= horizon - 2:
                end = horizon
                break
            blocked[:] = False
            wake = horizon
            while True:
                best, chosen = np.int64(2**62), -1
                for c in range(kinds):
                    if sizes[c] > 0 and not blocked[c] and heaps[c, 0] < best:
                        best, chosen = heaps[c, 0], c
                if chosen < 0:
                    break
                j = by_rank[best]
                length = lengths[row, j]
                fits = True
                for k in range(need_ptr[j], need_ptr[j + 1]):
                    if free[need_idx[k]] < need_amt[k]:
                        fits = False
                res, calendar = -1, cal[j]
                if fits and alt_ptr[j + 1] > alt_ptr[j]:
                    fits = False
                    for a in range(alt_ptr[j], alt_ptr[j + 1]):
                        c = alt_cal[a]
                        if free[alt_res[a]] > 0 and done[c, now] < n_open[c]:
                            opening = opens[c, done[c, now]]
                            if opening == now:
                                res, calendar, fits = alt_res[a], c, True
                                break
                            wake = min(wake, opening)
                elif fits and calendar >= 0 and length > 0:
                    opening = (
                        opens[calendar, done[calendar, now]] if done[calendar, now] < n_open[calendar] else horizon
                    )
                    if opening != now:
                        fits = False
                        wake = min(wake, opening)
                if not fits:
                    blocked[chosen] = True
                    continue
                begin = now
                if calendar == -2 and length > 0:
                    begin = leave[now]
                    f = vopen[min(vday[min(begin, horizon - 1)] + length, vopen.shape[0] - 1)]
                elif calendar >= 0 and length > 0:
                    w = done[calendar, now] + length - 1
                    f = opens[calendar, w] + 1 if w < n_open[calendar] else horizon
                else:
                    f = now + length
                f = min(f, horizon)
                sizes[chosen] = _pop(heaps[chosen], sizes[chosen])
                waiting -= 1
                start[j], finish[j], who[j] = begin, f, res
                if now > ready[j]:
                    # It waited for somebody or something: for the job that freed it last.
                    late = -1
                    if res >= 0 and last_of[res] >= 0:
                        late = last_of[res]
                    for k in range(need_ptr[j], need_ptr[j + 1]):
                        other = last_of[need_idx[k]]
                        if other >= 0 and (late < 0 or finish[other] > finish[late]):
                            late = other
                    if late >= 0 and finish[late] > ready[j]:
                        bound[j] = late
                if res >= 0:
                    free[res] -= 1
                    if last_of[res] >= 0:
                        follower[last_of[res]] = j
                for k in range(need_ptr[j], need_ptr[j + 1]):
                    free[need_idx[k]] -= need_amt[k]
                due = _push(events, due, np.int64(f) * width + j)
                if f > end:
                    end, last = f, j
            if waiting > 0 and due == 0 and wake >= horizon:
                end = horizon
                break
            if waiting > 0 and (due == 0 or wake < events[0] // width):
                # Nobody is here before the next opening: that is an event without a job.
                due = _push(events, due, np.int64(wake) * width + 2 * n)
        ends[row] = end
        while last >= 0:
            critical[last] += 1
            last = bound[last]
        # Backwards: how late each could have started, with the same people in the same order.
        by_start = np.argsort(start)
        for at in range(n - 1, -1, -1):
            j = by_start[at]
            f = end
            for k in range(succ_ptr[j], succ_ptr[j + 1]):
                f = min(f, latest[row, succ_idx[k]] - succ_lag[k])
            if follower[j] >= 0:
                f = min(f, latest[row, follower[j]])
            latest[row, j] = max(start[j], f - (finish[j] - start[j]))
    return int(lengths.shape[0])
