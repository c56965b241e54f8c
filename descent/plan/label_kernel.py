# SPDX-License-Identifier: MIT
"""Compiled: labels (time, temperatures) driven through a section's maps, and those kept that may still be best."""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

from descent.physics.borrowed import borrowed
from descent.physics.cell_kernel import ADHESION, EMERGENCY_PRESSURE, MAX_PRESSURE
from descent.physics.quick_brakes import COLUMNS, quick_table
from descent.plan.room_kernel import holds

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@numba.njit(cache=True, error_model="numpy", forceinline=True)
def _allowed(numbers: FloatArray, span: IntArray, nodes: FloatArray, m: int, temps: FloatArray, label: int, rows: FloatArray,
             quick: FloatArray, scal: FloatArray, limit: FloatArray, at: FloatArray, rise: FloatArray) -> bool:
    n = rows.shape[0]
    certain = True
    for j in range(n):
        if temps[label, j] > numbers[m, 5 + 3 * n + j]:
            return False
        if temps[label, j] > numbers[m, 5 + 2 * n + j]:
            certain = False
    return certain or holds(rows, quick, scal, limit, nodes, span[m, 0], span[m, 1], temps, label, at, rise)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _through(time_s: FloatArray, temps: FloatArray, entry_first: IntArray, entry_x: IntArray, exits: IntArray, widest: int,
             ok: IntArray, numbers: FloatArray, span: IntArray, nodes: FloatArray, guard_first: IntArray,
             guards: IntArray, guard_ok: IntArray, guard_numbers: FloatArray, guard_span: IntArray,
             guard_nodes: FloatArray, rows: FloatArray, quick: FloatArray, scal: FloatArray, limit: FloatArray,
             by_row: FloatArray, free: IntArray, out_t: FloatArray, out_c: FloatArray, parent: IntArray,
             ranges: IntArray) -> int:
    """As `drive`, into arrays large enough; returns how many labels came through. by_row (2, n_rows), free (n_labels,):
    scratch."""
    time_s, temps, entry_first, entry_x = borrowed(time_s), borrowed(temps), borrowed(entry_first), borrowed(entry_x)
    exits, ok, numbers, span, nodes = borrowed(exits), borrowed(ok), borrowed(numbers), borrowed(span), borrowed(nodes)
    guard_first, guards, guard_ok = borrowed(guard_first), borrowed(guards), borrowed(guard_ok)
    guard_numbers, guard_span, guard_nodes = borrowed(guard_numbers), borrowed(guard_span), borrowed(guard_nodes)
    rows, quick, scal, limit, by_row = borrowed(rows), borrowed(quick), borrowed(scal), borrowed(limit), borrowed(by_row)
    free, out_t, out_c, parent, ranges = (borrowed(free), borrowed(out_t), borrowed(out_c), borrowed(parent),
                                          borrowed(ranges))
    n = rows.shape[0]
    at, rise = by_row[0], by_row[1]
    count = 0
    for e in range(entry_x.shape[0]):
        x = entry_x[e]
        begin, end = entry_first[e], entry_first[e + 1]
        for i in range(begin, end):
            free[i] = 1
        for q in range(guard_first[x], guard_first[x + 1]):
            g = guards[q]
            for i in range(begin, end):
                if free[i] == 1 and (guard_ok[g] == 0 or not _allowed(
                        guard_numbers, guard_span, guard_nodes, g, temps, i, rows, quick, scal, limit, at, rise)):
                    free[i] = 0
        for m in range(e * widest, e * widest + widest):
            ranges[m] = count
            if ok[m] == 0:
                continue
            for i in range(begin, end):
                if free[i] == 0 or not _allowed(numbers, span, nodes, m, temps, i, rows, quick, scal, limit, at, rise):
                    continue
                out_t[count] = time_s[i] + numbers[m, 3]
                for j in range(n):
                    out_c[count, j] = numbers[m, 5 + j] + numbers[m, 5 + n + j] * temps[i, j]
                parent[count] = i
                count += 1
    ranges[ok.shape[0]] = count
    return count


@numba.njit(cache=True, nogil=True, error_model="numpy")
def drive(time_s: FloatArray, temps: FloatArray, entry_first: IntArray, entry_x: IntArray, exits: IntArray, widest: int,
          ok: IntArray, numbers: FloatArray, span: IntArray, nodes: FloatArray, guard_first: IntArray,
          guards: IntArray, guard_ok: IntArray, guard_numbers: FloatArray, guard_span: IntArray,
          guard_nodes: FloatArray, rows: FloatArray, scal: FloatArray,
          limit: FloatArray) -> tuple[FloatArray, FloatArray, IntArray, IntArray]:
    """Labels of each entry (entry_first: ranges) through every map of it they may take.

    exits (n_x,): exits of each instruction; guard_first (n_x + 1,) into guards: maps that must hold as well. Returns times,
    temperatures and parent label, and the range of every map (m + 1,).
    """
    n = rows.shape[0]
    size = 0
    for e in range(entry_x.shape[0]):
        made = 0
        for m in range(e * widest, e * widest + exits[entry_x[e]]):
            made += ok[m]
        size += made * (entry_first[e + 1] - entry_first[e])
    out_t, out_c, parent = np.empty(size), np.empty((size, n)), np.empty(size, dtype=np.int64)
    ranges = np.zeros(ok.shape[0] + 1, dtype=np.int64)
    quick, by_row, free = np.empty((n + 1, COLUMNS)), np.empty((2, n)), np.empty(time_s.shape[0], dtype=np.int64)
    quick_table(rows, scal[MAX_PRESSURE], scal[EMERGENCY_PRESSURE], scal[ADHESION], quick)
    count = _through(time_s, temps, entry_first, entry_x, exits, widest, ok, numbers, span, nodes, guard_first, guards,
                     guard_ok, guard_numbers, guard_span, guard_nodes, rows, quick, scal, limit, by_row, free, out_t, out_c,
                     parent, ranges)
    return out_t[:count], out_c[:count], parent[:count], ranges


@numba.njit(cache=True, nogil=True, error_model="numpy")
def kept_labels(time_s: FloatArray, temps: FloatArray, slack_c: float) -> tuple[IntArray, FloatArray]:
    """Which labels stay, by rising time, and their temperatures.

    One that is later and, to |slack_c| [K], no cooler in any row than another goes. With a positive slack the other
    takes on the lower of both temperatures, so that nothing reachable is lost.
    """
    order = np.argsort(time_s, kind="mergesort")
    stay = np.empty(order.shape[0], dtype=np.int64)
    own = np.empty((order.shape[0], temps.shape[1]))
    lowered = np.empty((order.shape[0], temps.shape[1]))
    count = _undominated(order, temps, slack_c, stay, own, lowered)
    return stay[:count], lowered[:count]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _undominated(order: IntArray, temps: FloatArray, slack_c: float, stay: IntArray, own: FloatArray,
                 lowered: FloatArray) -> int:
    """As `kept_labels`, into arrays large enough, from the labels in order of time; returns how many stay."""
    order, temps, stay, own, lowered = borrowed(order), borrowed(temps), borrowed(stay), borrowed(own), borrowed(lowered)
    n = temps.shape[1]
    count = 0
    for q in range(order.shape[0]):
        i = order[q]
        beaten = False
        for k in range(count - 1, -1, -1):
            inside = True
            for j in range(n):
                if own[k, j] > temps[i, j] + abs(slack_c):
                    inside = False
                    break
            if inside:
                beaten = True
                if slack_c > 0.0:
                    for j in range(n):
                        lowered[k, j] = min(lowered[k, j], temps[i, j])
                break
        if not beaten:
            stay[count] = i
            for j in range(n):
                own[count, j] = temps[i, j]
                lowered[count, j] = temps[i, j]
            count += 1
    return count


@numba.njit(cache=True, nogil=True, error_model="numpy")
def gather(time_s: FloatArray, temps: FloatArray, ranges: IntArray, target_first: IntArray, maps: IntArray, row: int,
           grid: FloatArray, to_go: FloatArray, latest_s: float,
           slack_c: float) -> tuple[FloatArray, FloatArray, IntArray, IntArray]:
    """Labels of every target from the maps that lead to it, pruned.

    to_go (targets, n_grid): those whose time and time to go from their temperature of one row passes `latest_s` go; a
    target beyond its rows is not looked at. Returns times, temperatures, index of each in the driven labels, and ranges.
    """
    targets = target_first.shape[0] - 1
    first = np.zeros(targets + 1, dtype=np.int64)
    size = 0
    for t in range(targets):
        for q in range(target_first[t], target_first[t + 1]):
            size += ranges[maps[q] + 1] - ranges[maps[q]]
    picked = np.empty(size, dtype=np.int64)
    low = np.empty((size, temps.shape[1]))
    index = np.empty(size, dtype=np.int64)
    step = grid[1] - grid[0]
    count = 0
    for t in range(targets):
        first[t] = count
        have = 0
        bounded = t < to_go.shape[0]
        for q in range(target_first[t], target_first[t + 1]):
            for i in range(ranges[maps[q]], ranges[maps[q] + 1]):
                if bounded:
                    cell = min(max(int((temps[i, row] - grid[0]) / step), 0), grid.shape[0] - 1)
                    if time_s[i] + to_go[t, cell] > latest_s:
                        continue
                index[have] = i
                have += 1
        stay, lowered = kept_labels(time_s[index[:have]], temps[index[:have]], slack_c)
        for k in range(stay.shape[0]):
            picked[count] = index[stay[k]]
            for j in range(temps.shape[1]):
                low[count, j] = lowered[k, j]
            count += 1
    first[targets] = count
    picked = picked[:count]
    return time_s[picked], low[:count], picked, first


@numba.njit(cache=True, nogil=True, error_model="numpy")
def time_to_go(entry_x: IntArray, exits: IntArray, widest: int, ok: IntArray, numbers: FloatArray, row: int, n: int,
               grid: FloatArray, guard_first: IntArray, guards: IntArray, guard_ok: IntArray, guard_numbers: FloatArray,
               leads_first: IntArray, leads: IntArray, after: FloatArray, standing: FloatArray,
               last: int) -> FloatArray:
    """Least time to the end of the road from every entry at every temperature of one row, the other rows left out and
    temperatures rounded down: never too long. after (n_entries_after, n_grid), standing (n_grid,): the same from the end
    of the section, rolling into each entry and coming to a stop. last = 1: the road ends with the section."""
    size = grid.shape[0]
    out = np.full((entry_x.shape[0], size), np.inf)
    rest = np.zeros(size)
    step = grid[1] - grid[0]
    for e in range(entry_x.shape[0]):
        x = entry_x[e]
        most = np.inf
        for q in range(guard_first[x], guard_first[x + 1]):
            most = min(most, guard_numbers[guards[q], 5 + 3 * n + row]) if guard_ok[guards[q]] == 1 else -np.inf
        for m in range(e * widest, e * widest + exits[x]):
            if ok[m] == 0:
                continue
            if last == 0:
                if leads_first[m] == leads_first[m + 1]:
                    continue
                rest[:] = np.inf
                for q in range(leads_first[m], leads_first[m + 1]):
                    for g in range(size):
                        rest[g] = min(rest[g], after[leads[q], g] if leads[q] >= 0 else standing[g])
            highest = min(most, numbers[m, 5 + 3 * n + row])
            for g in range(size):
                if grid[g] > highest:
                    break
                ends = numbers[m, 5 + row] + numbers[m, 5 + n + row] * grid[g]
                cell = min(max(int((ends - grid[0]) / step), 0), size - 1)
                out[e, g] = min(out[e, g], numbers[m, 3] + rest[cell])
    return out
