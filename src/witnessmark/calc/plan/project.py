"""A project in arrays: what the fast engine, the polisher and the forecast work on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

ALWAYS = -1
VENDOR = -2


@dataclass(frozen=True, eq=False)
class Project:
    """Jobs 0..n-1 on a grid of whole units, each after all that it waits for where `order` says so.

    `duration`: in open units of the job's calendar. `needs`: pairs (resource, amount). `choices`: pairs (resource of
    capacity 1, calendar), one of which does the job. `calendar`: number of a calendar, ALWAYS or VENDOR.
    `links`: (before, after, least lag, most lag or -1). `open_units`: for each calendar the open units in order.
    `vendor_leave`, `vendor_day`, `vendor_open`: by unit the next unit at which something can leave and the number of its
    working day; by number of the working day the unit at which what comes back is here.
    """

    duration: tuple[int, ...]
    needs: tuple[tuple[tuple[int, int], ...], ...]
    capacity: tuple[int, ...]
    links: tuple[tuple[int, int, int, int], ...]
    horizon: int
    calendar: tuple[int, ...] = ()
    open_units: tuple[Any, ...] = ()
    release: tuple[int, ...] = ()
    choices: tuple[tuple[tuple[int, int], ...], ...] = ()
    due: tuple[int, ...] = ()
    weight: tuple[int, ...] = ()
    vendor: tuple[Any, Any, Any] | None = None
    names: tuple[str, ...] = field(default=())

    @property
    def size(self) -> int:
        """Number of jobs."""
        return len(self.duration)

    @cached_property
    def topological(self) -> tuple[int, ...]:
        """Jobs, each after all that it waits for; raises ValueError where some wait for one another."""
        left = [0] * self.size
        out: list[list[int]] = [[] for _ in left]
        for before, after, _, _ in self.links:
            left[after] += 1
            out[before].append(after)
        ready = [j for j, count in enumerate(left) if not count]
        for j in ready:
            for k in out[j]:
                left[k] -= 1
                if not left[k]:
                    ready.append(k)
        if len(ready) < self.size:
            raise ValueError("jobs wait for one another in a ring")
        return tuple(ready)

    @cached_property
    def arrays(self) -> tuple[Any, ...]:
        """The same as arrays, in the order in which the compiled passes take them."""
        n = self.size
        need_ptr, need = _rows(self.needs)
        by_after: list[list[tuple[int, int]]] = [[] for _ in range(n)]
        by_before: list[list[tuple[int, int]]] = [[] for _ in range(n)]
        for before, after, lag, _ in self.links:
            by_after[after].append((before, lag))
            by_before[before].append((after, lag))
        pred_ptr, pred = _rows(by_after)
        succ_ptr, succ = _rows(by_before)
        alt_ptr, alt = _rows(self.choices or [()] * n)
        most = max([len(units) for units in self.open_units], default=1)
        done = np.zeros((max(1, len(self.open_units)), self.horizon + 1), np.int32)
        opens = np.full((max(1, len(self.open_units)), most), 2**30, np.int32)
        counts = np.zeros(max(1, len(self.open_units)), np.int32)
        for c, units in enumerate(self.open_units):
            units = np.asarray(units, np.int32)
            opens[c, : len(units)] = units
            done[c] = np.searchsorted(units, np.arange(self.horizon + 1))
            counts[c] = len(units)
        leave, day, opening = self.vendor or (np.zeros(1), np.zeros(1), np.zeros(1))
        ints = np.int32
        return (
            np.array(self.duration, ints), need_ptr, need[:, 0].copy(), need[:, 1].copy(),
            pred_ptr, pred[:, 0].copy(), pred[:, 1].copy(), succ_ptr, succ[:, 0].copy(), succ[:, 1].copy(),
            np.array(self.capacity, ints), np.array(self.calendar or [ALWAYS] * n, ints), done, opens, counts,
            np.array(self.release or [0] * n, ints), alt_ptr, alt[:, 0].copy(), alt[:, 1].copy(),
            np.array(leave, ints), np.array(day, ints), np.array(opening, ints), self.horizon,
        )  # fmt: skip


def _rows(rows: Iterable[Sequence[tuple[int, int]]]) -> tuple[Any, Any]:
    pointers: list[int] = [0]
    flat: list[tuple[int, int]] = []
    for row in rows:
        flat += row
        pointers.append(len(flat))
    return np.array(pointers, np.int32), np.array(flat, np.int32).reshape(-1, 2)
