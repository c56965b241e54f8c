# SPDX-License-Identifier: MIT
"""The bench of a section is found where it is, at its height, and not in a plain slope."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d

from descent.terrain.bench_template import bench_shape, compare, make_templates, position_probability

OFFSETS = np.arange(-20.0, 20.1, 2.0)
CANDIDATES = np.arange(-16.0, 16.1, 2.0)
FINE = np.arange(-40.0, 40.01, 0.25)


def section(centre_m: float, *, hillside: float, rise_m: float, cell_m: float = 10.0, half_width_m: float = 5.5,
            height_m: float = 800.0) -> np.ndarray:
    """A section over a bench as cells of this size show it: box of a cell, then linear between cells (a triangle)."""
    ground = height_m + bench_shape(FINE - centre_m, hillside=hillside, rise_m=rise_m, half_width_m=half_width_m)
    box = np.ones(round(cell_m / 0.25)) / round(cell_m / 0.25)
    blur = np.convolve(np.convolve(box, box), box)
    inner = np.convolve(np.pad(ground, len(blur) // 2, mode="edge"), blur, mode="same")[len(blur) // 2:-(len(blur) // 2)]
    return np.interp(OFFSETS, FINE, inner)


def test_shape_is_level_then_cut_and_fill_then_the_hillside() -> None:
    u = np.array([-30.0, -6.25, -5.25, 0.0, 5.25, 6.25, 30.0])
    shape = bench_shape(u, hillside=0.3, rise_m=0.0, half_width_m=5.25)
    assert shape == pytest.approx([-9.0, -0.67, 0.0, 0.0, 0.0, 1.0, 9.0])


@pytest.mark.parametrize("hillside", [-0.5, -0.2, 0.35])
@pytest.mark.parametrize("rise", [-2.0, 0.0, 2.0])
@pytest.mark.parametrize("centre", [-7.0, 0.0, 4.0])
def test_centre_and_height_of_a_bench(hillside: float, rise: float, centre: float) -> None:
    seen = section(centre, hillside=hillside, rise_m=rise)
    ratio, level = compare(seen[None, :], make_templates(OFFSETS, CANDIDATES, cell_m=10.0))
    best = int(np.argmax(ratio[0]))
    assert abs(CANDIDATES[best] - centre) <= 2.0
    assert level[0, best] == pytest.approx(800.0, abs=1.0)       # the shapes' grid is 0.2 in slope and 1.5 m in rise


def test_heights_are_nearer_than_those_read_on_a_line_beside_the_road() -> None:
    templates = make_templates(OFFSETS, CANDIDATES, cell_m=10.0)
    cases = [(c, s, r) for c in (-7.0, -3.0, 3.0, 7.0) for s in (-0.5, -0.2, 0.35) for r in (-2.0, 0.0, 2.0)]
    seen = np.stack([section(c, hillside=s, rise_m=r) for c, s, r in cases])
    ratio, level = compare(seen, templates)
    found = level[np.arange(len(cases)), np.argmax(ratio, axis=1)]
    read = seen[:, len(OFFSETS) // 2]
    assert np.sqrt(np.mean((found - 800.0) ** 2)) < 0.4 * np.sqrt(np.mean((read - 800.0) ** 2))


def test_height_is_freed_of_cut_and_fill() -> None:
    """In a cut on both sides the bilinear sample at the centre reads high, the bench's height does not."""
    seen = section(0.0, hillside=0.0, rise_m=4.0)
    ratio, level = compare(seen[None, :], make_templates(OFFSETS, CANDIDATES, cell_m=10.0))
    read = seen[len(OFFSETS) // 2] - 800.0
    assert read > 0.5
    assert abs(level[0, int(np.argmax(ratio[0]))] - 800.0) < 0.5 * read


def test_plain_slopes_speak_against_a_bench() -> None:
    rng = np.random.default_rng(4)
    plain = 600.0 + rng.uniform(-0.6, 0.6, (300, 1)) * OFFSETS
    rough = gaussian_filter1d(rng.normal(0, 1.0, (300, len(OFFSETS))), 4.0, axis=1)
    ratio, _ = compare(plain + rough, make_templates(OFFSETS, CANDIDATES, cell_m=10.0))
    assert np.mean(ratio[:, len(CANDIDATES) // 2]) < -1.0


def test_height_moves_with_the_section_and_mirrors() -> None:
    seen = section(3.0, hillside=0.4, rise_m=1.0)
    templates = make_templates(OFFSETS, CANDIDATES, cell_m=10.0)
    ratio, level = compare(np.stack([seen, seen + 37.0, seen[::-1]]), templates)
    assert ratio[1] == pytest.approx(ratio[0], abs=1e-6) and level[1] == pytest.approx(level[0] + 37.0)
    assert ratio[2][::-1] == pytest.approx(ratio[0], abs=1e-6) and level[2][::-1] == pytest.approx(level[0])


def test_positions_equal_the_sum_over_all_paths() -> None:
    """Four stations and three positions: enumerate the 81 paths (independent of the recursion)."""
    positions = np.array([-4.0, 0.0, 4.0])
    ratio = np.random.default_rng(1).normal(0, 2.0, (4, 3))
    share, sd, decay = 0.5, 5.0, 0.8
    step = sd * np.sqrt(1 - decay**2)
    move = np.exp(-0.5 * ((positions[None, :] - decay * positions[:, None]) / step) ** 2)
    move /= move.sum(axis=1, keepdims=True)
    start = np.exp(-0.5 * (positions / sd) ** 2)
    total = np.zeros((4, 3))
    for path in np.ndindex(3, 3, 3, 3):
        weight = start[path[0]] * np.exp(share * sum(ratio[i, c] for i, c in enumerate(path)))
        for a, b in pairwise(path):
            weight *= move[a, b]
        for i, c in enumerate(path):
            total[i, c] += weight
    found = position_probability(ratio, positions, share=share, line_sd_m=sd, step_decay=decay)
    assert found == pytest.approx(total / total.sum(axis=1, keepdims=True), abs=1e-12)
