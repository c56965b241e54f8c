# SPDX-License-Identifier: MIT
"""Compiled: the most air a section can leave, as a few numbers a map, and labels that carry that bound.

Sets of reservoirs into which no air flows from outside but the compressor's: supply and primary, supply and secondary,
these three, all. What such a set holds (volume x gauge pressure) changes by what the compressor brings at most, the leaks
and what its own chambers take, and never passes what is counted on at most: from node to node H -> min(H + b, a). So a
whole section leaves min(H + B, A), asks that H >= C, and cannot be driven at all where F < 0. Each is the value at one
node, chosen at one temperature, and straight in the temperatures: a bound at every other.
"""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

from descent.physics.air_kernel import (
    ATMOSPHERE_KPA,
    COMPRESSOR,
    IDLE_SHARE,
    LEAK_APPLIED,
    LEAK_RELEASED,
    TANKS,
    chamber_air,
)
from descent.plan.air_label_kernel import ASKED_KPA, BRAKED_S, DRIVEN_S, DWELL_S, SNUBS, TEMPS

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
SETS = np.array([[1, 1, 0, 0], [1, 0, 1, 0], [1, 1, 1, 0], [1, 1, 1, 1]])
GAIN, MOST, NEED, ROOM = range(4)       # B, A, C and F above
SURE_SHARE = 0.7                        # of the warning: an application up to it takes all the air its chambers ask for


@numba.njit(cache=True, error_model="numpy")
def _uses(cell: FloatArray, held: float, rows: FloatArray, chambers: FloatArray, most_kpa: float, out: FloatArray) -> bool:
    """What the chambers on each tank take in a cell, straight in T_in -> out (4, 1 + n_rows) [m3 kPa]; whether any do."""
    n = rows.shape[0]
    asked = cell[ASKED_KPA]
    count = cell[SNUBS]
    if asked > most_kpa or (count == 0.0 and asked <= held):
        return False
    out[:] = 0.0
    for i in range(n):
        warm = chamber_air(rows[i], chambers[i], asked, 100.0)
        hot = chamber_air(rows[i], chambers[i], asked, 200.0)
        if count > 0.0:
            warm *= count
            hot *= count
        else:
            warm -= chamber_air(rows[i], chambers[i], held, 100.0)
            hot -= chamber_air(rows[i], chambers[i], held, 200.0)
        tank = int(chambers[i, 3])
        slope = max(hot - warm, 0.0) / 100.0            # below 25 C a drum is taken as at 25 C: never more than that
        out[tank, 0] += warm + slope * (cell[TEMPS + i] - 100.0)
        out[tank, 1 + i] += slope * cell[TEMPS + n + i]
    return True


@numba.njit(cache=True, error_model="numpy")
def air_maps(log: FloatArray, share: FloatArray, rows: FloatArray, chambers: FloatArray, volume: FloatArray,
             par: FloatArray, warning_kpa: float, most_kpa: float, at_c: FloatArray, out: FloatArray) -> None:
    """Bounds of every map -> out (m, sets, 4, 1 + n_rows) [m3 kPa], straight in T_in; chosen at at_c (n_rows,) [C].

    log (m, n, 6 + 2 n_rows), share (m, n) as in `air_label_kernel.breathe`; most_kpa: no reservoir ever holds more. A
    section may begin in the midst of a snub: whatever is then held is taken as enough."""
    n = rows.shape[0]
    sets = SETS.shape[0]
    use = np.zeros((TANKS, 1 + n))
    now, peak = np.zeros((sets, 1 + n)), np.zeros((sets, 1 + n))
    least, fall = np.zeros((sets, 1 + n)), np.zeros((sets, 1 + n))
    peak_value, least_value, fall_value = np.zeros(sets), np.zeros(sets), np.zeros(sets)
    space = np.zeros(sets)
    for s in range(sets):
        for tank in range(TANKS):
            space[s] += SETS[s, tank] * volume[tank]
    for m in range(log.shape[0]):
        now[:], peak[:], least[:], fall[:] = 0.0, 0.0, 0.0, 0.0
        peak_value[:], least_value[:], fall_value[:] = 0.0, 0.0, 0.0
        held = np.inf
        for q in range(log.shape[1]):
            cell = log[m, q]
            stood = max(cell[DWELL_S], 0.0)
            held = 0.0 if stood > 0.0 else held
            taken = _uses(cell, held, rows, chambers, SURE_SHARE * warning_kpa, use)
            held = cell[ASKED_KPA]
            driven = cell[DRIVEN_S]
            braked = min(cell[BRAKED_S], driven) if cell[BRAKED_S] > 0.0 else (driven if held > 0.0 else 0.0)
            leaked = par[LEAK_RELEASED] * (driven - braked) + par[LEAK_APPLIED] * (braked + stood)
            pumped = par[COMPRESSOR] * ATMOSPHERE_KPA * (driven * share[m, q] + stood * par[IDLE_SHARE])
            for s in range(sets):
                if taken:
                    for tank in range(1, TANKS):
                        if SETS[s, tank] == 1:
                            now[s] -= use[tank]
                now[s, 0] += pumped - leaked * space[s]
                value = now[s, 0]
                for j in range(n):
                    value += now[s, 1 + j] * at_c[j]
                if value < least_value[s]:
                    least_value[s] = value
                    least[s] = now[s]
                if value - peak_value[s] < fall_value[s]:
                    fall_value[s] = value - peak_value[s]
                    fall[s] = now[s] - peak[s]
                if value > peak_value[s]:             # where the sum is highest the cap binds all that follows
                    peak_value[s] = value
                    peak[s] = now[s]
        for s in range(sets):
            out[m, s, GAIN] = now[s]
            out[m, s, MOST] = now[s] - peak[s]
            out[m, s, MOST, 0] += space[s] * most_kpa
            out[m, s, NEED] = -least[s]
            out[m, s, NEED, 0] += space[s] * warning_kpa
            out[m, s, ROOM] = fall[s]
            out[m, s, ROOM, 0] += space[s] * (most_kpa - warning_kpa)


@numba.njit(cache=True, error_model="numpy")
def _at(straight: FloatArray, temps: FloatArray) -> float:
    value = straight[0]
    for j in range(temps.shape[0]):
        value += straight[1 + j] * temps[j]
    return float(value)


@numba.njit(cache=True, error_model="numpy")
def leave(maps: FloatArray, map_of: IntArray, temps: FloatArray, holds: FloatArray, room: float, out: FloatArray,
          lasts: IntArray) -> None:
    """Bounds of labels through the map each drives: holds (k, sets) [m3 kPa], temps (k, n_rows) [C] -> out (k, sets), lasts
    (k,): 1 where the air may last; room: rounding [m3 kPa]."""
    for k in range(map_of.shape[0]):
        lasts[k] = 1
        for s in range(out.shape[1]):
            one = maps[map_of[k], s]
            if holds[k, s] + room < _at(one[NEED], temps[k]) or _at(one[ROOM], temps[k]) < -room:
                lasts[k] = 0
                break
            out[k, s] = min(holds[k, s] + _at(one[GAIN], temps[k]), _at(one[MOST], temps[k]))


@numba.njit(cache=True, error_model="numpy")
def _highest(straight: FloatArray, low_c: FloatArray, high_c: FloatArray) -> float:
    value = straight[0]
    for j in range(low_c.shape[0]):
        value += max(straight[1 + j] * low_c[j], straight[1 + j] * high_c[j])
    return float(value)


@numba.njit(cache=True, error_model="numpy")
def useful(maps: FloatArray, entry_x: IntArray, exits: IntArray, widest: int, ok: IntArray, leads_first: IntArray,
           leads: IntArray, after: FloatArray, standing: FloatArray, low_c: FloatArray, high_c: FloatArray,
           at_end: FloatArray) -> FloatArray:
    """What a set can hold at each entry of a section before more of it is of no use on any way (n_entries, sets) [m3 kPa].

    after (n_after, sets), standing (sets,): the same from the end of the section; low_c, high_c (n_rows,): between which
    all temperatures lie; at_end (m, sets) is filled with the use at the end of every map."""
    sets = maps.shape[1]
    out = np.zeros((entry_x.shape[0], sets))
    for e in range(entry_x.shape[0]):
        for m in range(e * widest, e * widest + exits[entry_x[e]]):
            if ok[m] == 0:
                continue
            for q in range(leads_first[m], leads_first[m + 1]):
                for s in range(sets):
                    at_end[m, s] = max(at_end[m, s], after[leads[q], s] if leads[q] >= 0 else standing[s])
            for s in range(sets):
                gain, most = maps[m, s, GAIN], maps[m, s, MOST]
                enough = min(at_end[m, s] + _highest(-gain, low_c, high_c), _highest(most - gain, low_c, high_c))
                out[e, s] = max(out[e, s], max(enough, _highest(maps[m, s, NEED], low_c, high_c)))
    return out
