# SPDX-License-Identifier: MIT
"""Where the service brakes were on, and with what force: found by events and windows, whose net work is kept."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from descent.debrief.motion import Motion

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
BEGIN = 4.0                  # standard deviations of the mean force from which it is a brake application
LOOK_S = 4.0                 # over this the force is averaged to tell an application from noise
SMEAR = 2                    # samples by which smoothing and averaging spread an application's edges further
EDGE, BESIDE = 4, 6          # samples of an edge, and beside it
DOUBT_SD = 1.2
WINDOW_S = 20.0
WINDOW_SD = 2.0              # a window counts as light braking when its mean force is this far from nothing
GAP_S = 5.0


@dataclass(frozen=True)
class Braking:
    """Force of the service brakes over each interval (n,) [N], never negative, and the applications found as (first
    interval, last interval, light): light ones were too weak or too long unseen to be told apart in time."""

    force_n: FloatArray
    applications: tuple[tuple[int, int, bool], ...]


def windows_of(motion: Motion) -> tuple[tuple[int, int], ...]:
    """The drive cut into windows of intervals [first, end): some 20 s each, a gap in the recording as one whole."""
    seconds = np.diff(motion.time_s)
    seen = motion.seen | motion.standing
    found: list[tuple[int, int]] = []
    start, passed = 0, 0.0
    for i in range(len(seconds)):
        if seen[i] and start < i and (passed >= WINDOW_S or _gap_ahead(motion.time_s, seen, i)
                                      or (passed > GAP_S and not seen[i - 1])):
            found.append((start, i))
            start, passed = i, 0.0
        passed += float(seconds[i])
    return (*found, (start, len(seconds)))


def _gap_ahead(time_s: FloatArray, seen: BoolArray, i: int) -> bool:
    after = np.flatnonzero(seen[i + 1:i + 8])
    nearest = i + 1 + int(after[0]) if len(after) else min(i + 8, len(time_s) - 1)
    return bool(time_s[nearest] - time_s[i] > GAP_S)


def braking_of(force_n: FloatArray, speed_mps: FloatArray, motion: Motion, mass_kg: float,
               windows: tuple[tuple[int, int], ...], noise_n: FloatArray | float = 0.0, *, begin: float = BEGIN) -> Braking:
    """Brake force over the n intervals from the force left for the brakes (n,) [N].

    First applications that stand out of the noise, to both sides until the force is gone; then, in what is left, windows
    whose mean is above it. In each the net work is kept as it comes, negative samples included, so noise cancels instead
    of being counted as braking; only a whole that is negative is nothing. noise_n: added after braking was found, begin: standard
    deviations from which an application counts; both to work out a band.
    """
    seconds = np.diff(motion.time_s)
    moving = speed_mps > 0.3
    firm = _applications(force_n, mass_kg, motion, moving, begin)
    found = [(start, end, False) for start, end in _runs(firm)]
    light = np.zeros(len(force_n), dtype=bool)
    for start, end in windows:
        rest = np.arange(start, end)[~firm[start:end] & moving[start:end]]
        lasting = float(seconds[rest].sum())
        if lasting < 0.3 * WINDOW_S and end - start < len(rest) + 1 and lasting < GAP_S:
            continue
        mean = float((force_n[rest] * seconds[rest]).sum()) / lasting if lasting > 0.0 else 0.0
        ends = np.hypot(motion.speed_sd_mps[start], motion.speed_sd_mps[end])
        if lasting > 0.0 and mean > WINDOW_SD * mass_kg * ends / lasting:
            light[rest] = True
    found += [(start, end, True) for start, end in _runs(light)]
    noisy = force_n + noise_n
    out = np.zeros(len(force_n))
    for start, end, is_light in found:
        held = noisy[start:end] if is_light else noisy[start:end] + _eased_n(force_n, firm, start, end, mass_kg * motion.speed_sd_mps)
        work = held * speed_mps[start:end] * seconds[start:end]
        net, above = float(work.sum()), np.maximum(work, 0.0)
        if net > 0.0:
            out[start:end] = np.maximum(held, 0.0) * (net / float(above.sum()))
    kept = tuple((start, end, is_light) for start, end, is_light in sorted(found) if out[start:end].max() > 0.0)
    return Braking(out, kept)


def _applications(force_n: FloatArray, mass_kg: float, motion: Motion, moving: BoolArray,
                  begin: float) -> BoolArray:
    """Intervals of applications: the force averaged over LOOK_S is above `begin`, and their edges.

    The edges are of fixed length: were they to end where the force seems gone, noise would choose them, and count.
    """
    seconds = np.diff(motion.time_s)
    half = max(round(0.5 * LOOK_S / float(np.median(seconds))), 1)
    impulse = np.concatenate([[0.0], np.cumsum(force_n * seconds)])
    clock = motion.time_s - motion.time_s[0]
    at = np.arange(len(force_n))
    first, last = np.maximum(at - half + 1, 0), np.minimum(at + half + 1, len(force_n))
    lasting = clock[last] - clock[first]
    mean = (impulse[last] - impulse[first]) / lasting
    sd = mass_kg * np.hypot(motion.speed_sd_mps[first], motion.speed_sd_mps[last]) / lasting
    on = np.zeros(len(force_n), dtype=bool)
    for start, end in _runs((mean > begin * sd) & moving & (lasting < 2.5 * LOOK_S)):
        on[max(start - SMEAR, 0):end + SMEAR] = True
    return on & moving


def _eased_n(force_n: FloatArray, firm: BoolArray, start: int, end: int, impulse_sd: FloatArray) -> FloatArray:
    """What is to be added at an application's two edges (n,) [N].

    Just before and after it the engine may have pulled, or the retarder been eased: a negative force that belongs to no
    braking, but that the spread edges took in. It is told from the seconds beside, outside of applications, and only as
    far as it stands out of the noise there (impulse_sd [N s] at the samples).
    """
    size = end - start
    added = np.zeros(size)
    plateau = float(force_n[start:end].max())
    for beside, edge in ((np.arange(max(start - BESIDE, 0), start), np.arange(min(EDGE, size))),
                         (np.arange(end, min(end + BESIDE, len(force_n))), np.arange(size - 1, max(size - 1 - EDGE, -1), -1))):
        quiet = beside[~firm[beside]]
        doubt = DOUBT_SD * np.sqrt(2.0) * float(impulse_sd[min(start, len(impulse_sd) - 1)]) / max(len(quiet), 1)
        eased = min(float(np.median(force_n[quiet])) + doubt, 0.0) if len(quiet) else 0.0
        share = np.clip((force_n[start + edge] - eased) / max(plateau - eased, 1e-9), 0.0, 1.0)
        added[edge] = np.maximum(added[edge], -eased * (1.0 - share))
    return added


def _runs(flags: BoolArray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(int), [0]])))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
