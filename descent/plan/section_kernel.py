# SPDX-License-Identifier: MIT
"""Compiled: one section driven under an instruction, as T_out = A + B T_in per row of brakes, with what T_in may be.

Below fade onset, and with strokes short of their limit at the pressures of service braking, the march's speed history
and the share of each row do not depend on temperature (derived), so A, B, the time and the state the section ends with
(speed squared, braking, rising) are exact. Only the rise of an emergency stop does depend on it (`room_kernel`).
"""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

from descent.physics.borrowed import borrowed
from descent.physics.cell_kernel import (
    ADHESION,
    EMERGENCY_PRESSURE,
    MASS,
    MAX_PRESSURE,
    PARKED_FRACTION,
    PRESSURE,
    cross,
    lower_cap,
    mean_left,
    stand,
)
from descent.physics.quick_brakes import COLUMNS, quick_table
from descent.plan.room_kernel import binding_nodes, emergency_bounds, looked_at, rooms

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
SAME_U = 1e-10      # states this near in speed squared [m2/s2] are one


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _joined(record: FloatArray, k: int, known: FloatArray, known_to: int, n: int, least_c: FloatArray,
            candidates: IntArray, counted: int, by_row: FloatArray) -> tuple[int, int]:
    """From node k on two marches are one: take the rest from the known one. Returns as `advance`; by_row as there."""
    record, known, least_c, candidates, by_row = (borrowed(record), borrowed(known), borrowed(least_c),
                                                  borrowed(candidates), borrowed(by_row))
    factor, offset = by_row[0], by_row[1]
    for j in range(n):
        factor[j] = record[k, 5 + n + j] / known[k, 5 + n + j]
        offset[j] = record[k, 5 + j] - factor[j] * known[k, 5 + j]
    clock = record[k, 3] - known[k, 3]
    for q in range(k + 1, known_to + 1):
        record[q, 0], record[q, 1], record[q, 2] = known[q, 0], known[q, 1], known[q, 2]
        record[q, 3] = known[q, 3] + clock
        record[q, 4] = max(record[k, 4], known[q, 4] if known[q, 4] > known[k, 4] else 0.0)
        for j in range(n):
            record[q, 5 + j] = offset[j] + factor[j] * known[q, 5 + j]
            record[q, 5 + n + j] = factor[j] * known[q, 5 + n + j]
            record[q, 5 + 4 * n + j] = known[q, 5 + 4 * n + j]
            record[q, 5 + 5 * n + j] = known[q, 5 + 5 * n + j]
        look = looked_at(record, q, n, least_c)
        if look == 0:
            return q - 1, counted
        if look == 1:
            candidates[counted] = q
            counted += 1
    return known_to, counted


@numba.njit(cache=True, nogil=True, error_model="numpy")
def advance(cells: FloatArray, first: int, cap_u: FloatArray, start: int, end: int, row: int, held: FloatArray,
            inv_step: float, flat: FloatArray, quick: FloatArray, scal: FloatArray, forces: FloatArray,
            limit: FloatArray, least_c: FloatArray, stop: int, stop_s: float, record: FloatArray,
            candidates: IntArray, counted: int, most_kpa: FloatArray, known: FloatArray,
            known_to: int, by_row: FloatArray, carried: FloatArray) -> tuple[int, int, int]:
    """March nodes start to end of a section under one force row; what passes at every node goes to `record`.

    record (n + 1, 5 + 6 n_rows): speed squared, braking, rising, clock, highest pressure so far; offset, factor, least
    `safe` and `sure` T_in so far, and the node's own rooms. Row `start` is read. `flat`: rows that neither fade nor
    grow, `quick`: their constants; `candidates`: nodes that may bind; most_kpa (1,): raised to the highest pressure met, kept
    or not; known: a march of the same caps to node known_to, joined where the states meet; by_row (4, n_rows), carried (20,):
    scratch. Returns (last node reached whose limits can hold, number of candidates, node joined at).
    """
    cells, cap_u, held, flat, quick = borrowed(cells), borrowed(cap_u), borrowed(held), borrowed(flat), borrowed(quick)
    scal, forces, limit, least_c = borrowed(scal), borrowed(forces), borrowed(limit), borrowed(least_c)
    record, known, by_row, carried = borrowed(record), borrowed(known), borrowed(by_row), borrowed(carried)
    n = flat.shape[0]
    temps, decay, share, factor = by_row[0], by_row[1], by_row[2], by_row[3]
    state, log, energy = carried[:4], carried[4:11], carried[11:]
    for j in range(4):
        state[j] = record[start, j]
    for j in range(n):
        temps[j] = record[start, 5 + j]
        factor[j] = record[start, 5 + n + j]
    peak = record[start, 4]
    i = start
    joined = end + 1
    low = lower_cap(cap_u[start], scal)
    while i < end:
        c = first + i
        k = i + 1
        begins = low
        low = lower_cap(cap_u[k], scal) if cap_u[k] != cap_u[i] else low
        log[PRESSURE] = 0.0
        for j in range(n):
            decay[j] = 0.0
        if not cross(cells[c, 0], cells[c, 1], cells[c, 2], cells[c, 3], cells[c, 4], cells[c, 5], cap_u[i], cap_u[k], begins,
                     low, row, 1, held, held, inv_step, flat, quick, scal, state, temps, decay, share, log, None):
            return i, counted, joined
        peak = max(peak, log[PRESSURE])
        for j in range(n):
            factor[j] *= 1.0 - decay[j] * mean_left(decay[j])
            record[k, 5 + j] = temps[j]
            record[k, 5 + n + j] = factor[j]
        rooms(forces, scal[MASS], np.sqrt(state[0]), cells[min(c + 1, cells.shape[0] - 1), 1], limit, record, k)
        look = looked_at(record, k, n, least_c)
        most_kpa[0] = max(most_kpa[0], peak)
        if look == 0:
            return i, counted, joined
        if look == 1:
            candidates[counted] = k
            counted += 1
        if k == stop:                      # what is carried on is as the vehicle leaves
            for j in range(n):
                decay[j] = 0.0
            stand(temps, flat, stop_s, cells[c, 4] * scal[PARKED_FRACTION], cells[c, 5], decay, energy)
            state[1] = 0.0
            state[2] = 1.0
            state[3] += stop_s
            for j in range(n):
                factor[j] *= np.exp(-decay[j])
                record[k, 5 + j] = temps[j]
                record[k, 5 + n + j] = factor[j]
        for j in range(4):
            record[k, j] = state[j]
        record[k, 4] = peak
        i = k
        if k >= stop and k < known_to and known[k, 1] == state[1] and known[k, 2] == state[2] \
                and abs(known[k, 0] - state[0]) <= SAME_U:
            i, counted = _joined(record, k, known, known_to, n, least_c, candidates, counted, by_row)
            joined = k
            if i < known_to:
                return i, counted, joined
            for j in range(4):
                state[j] = record[i, j]
            peak = record[i, 4]
            for j in range(n):
                temps[j] = record[i, 5 + j]
                factor[j] = record[i, 5 + n + j]
            low = lower_cap(cap_u[i], scal)
            known_to = 0
    return end, counted, joined


@numba.njit(cache=True, nogil=True, error_model="numpy")
def section_maps(cells: FloatArray, first: int, along_m: FloatArray, approach: float,
                 caps_u: FloatArray, rows_of: IntArray, entry_x: IntArray, entry_way: IntArray, entry_u: FloatArray,
                 exit_first: IntArray, exit_u: FloatArray, exit_way: IntArray, widest: int, held: FloatArray,
                 inv_step: float, flat: FloatArray, rows: FloatArray, scal: FloatArray,
                 limit: FloatArray, least: FloatArray, stop: int, stop_s: float,
                 samples: int, nodes: FloatArray) -> tuple[IntArray, FloatArray, IntArray, FloatArray, float]:
    """Every map of one section: each entry under its instruction to each exit it may take.

    along_m (n + 1,): distance; caps_u (n_x, n + 1): cap squared under each instruction; entry_u (n_entries, 4): state and cap
    squared at the first node; least (n_entries, n_rows): temperatures below which no label comes [C]; entry_way: how the speed must leave, -1: free; exit_first (n_x + 1,) into exit_u (cap squared at
    the end) and exit_way. Map e * widest + j is entry e to exit j of its instruction. Returns ok (m,), numbers (m, 5 + 4
    n_rows) as in `advance`'s record, node range (m, 2) into the binding nodes, those, and the highest pressure [kPa].
    """
    n = caps_u.shape[1] - 1
    count = rows.shape[0]
    total = entry_x.shape[0] * widest
    ok = np.zeros(total, dtype=np.int64)
    numbers = np.zeros((total, 5 + 4 * count))
    span = np.zeros((total, 2), dtype=np.int64)
    used = 0
    forces = emergency_bounds(rows, scal)
    quick = np.empty((count + 1, COLUMNS))
    quick_table(flat, scal[MAX_PRESSURE], scal[EMERGENCY_PRESSURE], scal[ADHESION], quick)
    by_row, carried = np.zeros((4, count)), np.zeros(20)
    trunk = np.empty((n + 1, 5 + 6 * count))
    known = np.empty((n + 1, 5 + 6 * count))
    known_x = -1
    known_to = 0
    tails = np.empty((widest, n + 1, 5 + 6 * count))
    tail_to = np.zeros(widest, dtype=np.int64)
    tail = np.empty((n + 1, 5 + 6 * count))
    picked = np.empty(n + 1, dtype=np.int64)
    tail_picked = np.empty(n + 1, dtype=np.int64)
    kept = np.empty((n + 1, 2 + 2 * count))
    mark = np.empty((2, n + 1), dtype=np.int64)
    room = np.empty((n + 1, 2 * count))
    peak = np.zeros(1)
    none = int(np.int64(0))    # for a plain 0 the compiler would make an `advance` of its own
    for e in range(entry_x.shape[0]):
        x = entry_x[e]
        cap = caps_u[x].copy()
        cap[0] = min(cap[0], entry_u[e, 3])
        trunk[0, :3] = entry_u[e, :3]
        trunk[0, 3:5] = 0.0
        trunk[0, 5:5 + count] = 0.0
        trunk[0, 5 + count:5 + 2 * count] = 1.0
        trunk[0, 5 + 2 * count:] = np.inf
        least_c = least[e]
        reached, counted, joined = advance(cells, first, cap, none, n, rows_of[x], held, inv_step, flat, quick, scal, forces,
                                           limit, least_c, stop, stop_s, trunk, picked, none, peak, known,
                                           known_to if known_x == x else none, by_row, carried)
        if known_x != x or reached > known_to:
            known[:reached + 1] = trunk[:reached + 1]
            known_x, known_to = x, reached
            tail_to[:] = 0
            joined = 0
        for j in range(exit_first[x], exit_first[x + 1]):
            if entry_way[e] >= 0 and exit_way[j] != entry_way[e]:
                continue
            m = e * widest + j - exit_first[x]
            begin = n
            while begin >= 0 and exit_u[j] + 2.0 * approach * (along_m[n] - along_m[begin]) < cap[begin]:
                begin -= 1
            begin = max(begin, 0)
            if begin > reached:
                continue
            record = trunk
            taken = counted
            chosen = picked
            if begin < n:
                own = cap.copy()
                for i in range(begin, n + 1):
                    own[i] = min(own[i], exit_u[j] + 2.0 * approach * (along_m[n] - along_m[i]))
                record = tail
                chosen = tail_picked
                tail[begin] = trunk[begin]
                taken = 0
                while taken < counted and picked[taken] <= begin:
                    tail_picked[taken] = picked[taken]
                    tail[picked[taken]] = trunk[picked[taken]]
                    taken += 1
                end = begin
                slot = j - exit_first[x]
                if joined <= begin and tail_to[slot] > begin:      # the rest has been marched from this state before
                    end, taken = _joined(tail, begin, tails[slot], tail_to[slot], count, least_c, tail_picked, taken,
                                         by_row)
                    if end < tail_to[slot]:
                        continue
                if end < n:
                    end, taken, _ = advance(cells, first, own, end, n, rows_of[x], held, inv_step, flat, quick, scal,
                                            forces, limit, least_c, stop, stop_s, tail, tail_picked, taken, peak, known, none,
                                            by_row, carried)
                if joined <= begin and end > tail_to[slot]:
                    tails[slot, begin:end + 1] = tail[begin:end + 1]
                    tail_to[slot] = end
                if end < n:
                    continue
            elif reached < n:
                continue
            ok[m] = 1
            numbers[m] = record[n, :5 + 4 * count]
            found = binding_nodes(cells, first, record, n, chosen, taken, least_c, samples, mark, room, kept)
            if used + found > nodes.shape[0]:
                more = np.empty((2 * nodes.shape[0] + found, nodes.shape[1]))
                more[:used] = nodes[:used]
                nodes = more
            nodes[used:used + found] = kept[:found]
            span[m, 0] = used
            used += found
            span[m, 1] = used
    return ok, numbers, span, nodes[:used], float(peak[0])
