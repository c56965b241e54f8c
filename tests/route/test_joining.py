# SPDX-License-Identifier: MIT
"""Laws of joining: parts cut, turned and shuffled give the line they were cut from."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from descent.errors import RouteError
from descent.route.building import build_route
from descent.route.features import Features, Part, PartOrder
from descent.route.line import Route

from . import samples

FloatArray = NDArray[np.float64]
LINE = samples.winding(80)


def parts_of(*rows: FloatArray, **attributes: str) -> tuple[Part, ...]:
    return tuple(Part(row[:, 0], row[:, 1], None, None, "", attributes, f"part {number}")
                 for number, row in enumerate(rows, 1))


def build(*rows: FloatArray, order: PartOrder = PartOrder.UNORDERED) -> Route:
    return build_route(Features(parts_of(*rows), order=order), where="parts", name="x")


def cut(line: FloatArray, at: list[int]) -> list[FloatArray]:
    edges = [0, *sorted(set(at)), len(line) - 1]
    return [line[start:end + 1] for start, end in pairwise(edges)]


cuts = st.lists(st.integers(1, len(LINE) - 2), min_size=1, max_size=8, unique=True)


@settings(max_examples=60, deadline=None)
@given(at=cuts, data=st.data())
def test_turning_any_parts_gives_the_same_line(at: list[int], data: st.DataObject) -> None:
    pieces = cut(LINE, at)
    turned = [piece[::-1] if data.draw(st.booleans()) else piece for piece in pieces]
    route = build(*turned)
    assert route.lon.tolist() == LINE[:, 0].tolist()
    assert route.lat.tolist() == LINE[:, 1].tolist()


@settings(max_examples=60, deadline=None)
@given(at=cuts, data=st.data())
def test_shuffling_and_turning_gives_the_same_road(at: list[int], data: st.DataObject) -> None:
    pieces = data.draw(st.permutations(cut(LINE, at)))
    turned = [piece[::-1] if data.draw(st.booleans()) else piece for piece in pieces]
    lon = build(*turned).lon.tolist()
    assert lon in (LINE[:, 0].tolist(), LINE[::-1, 0].tolist())


@settings(max_examples=30, deadline=None)
@given(at=cuts, twice=st.integers(0, 8), backwards=st.booleans())
def test_a_part_drawn_twice_counts_once(at: list[int], twice: int, backwards: bool) -> None:
    pieces = cut(LINE, at)
    again = pieces[twice % len(pieces)]
    route = build(*pieces, again[::-1] if backwards else again)
    assert route.lon.tolist() == LINE[:, 0].tolist()
    assert any("repeats" in sentence for sentence in route.mended)


def test_the_middle_part_is_turned_and_said() -> None:
    route = build(LINE[:20], LINE[40:18:-1], LINE[40:])
    assert route.lon.tolist() == LINE[:, 0].tolist()
    assert "1 of 3 parts were drawn against the direction of travel and were turned" in route.mended


def test_a_small_gap_is_bridged_and_said() -> None:
    route = build(LINE[:20], LINE[21:])  # points are about 100 m apart: a gap of two steps
    assert route.lon.tolist() == np.delete(LINE[:, 0], 20).tolist()
    assert any("gap of 1" in sentence and "straight line" in sentence for sentence in route.mended)


def test_a_large_gap_is_an_error_with_the_place() -> None:
    with pytest.raises(RouteError) as caught:
        build(LINE[:20], LINE[30:])
    (fault,) = caught.value.faults
    assert fault.code == "parts-apart"
    assert f"lon {LINE[19, 0]:.5f}, lat {LINE[19, 1]:.5f}" in fault.what
    assert f"lon {LINE[30, 0]:.5f}, lat {LINE[30, 1]:.5f}" in fault.what
    assert fault.value.endswith("km") or fault.value.endswith(" m")


def test_a_branch_is_an_error_with_the_place() -> None:
    with pytest.raises(RouteError) as caught:
        build(LINE[:21], LINE[20:], samples.winding(10, lon=LINE[20, 0], lat=float(LINE[20, 1]))[::-1])
    (fault,) = caught.value.faults
    assert fault.code == "parts-branch"
    assert f"lon {LINE[20, 0]:.5f}" in fault.what


def test_a_recording_is_never_put_in_another_order() -> None:
    there_and_back = (LINE[:30], LINE[:30][::-1])
    route = build(*there_and_back, order=PartOrder.RECORDED)
    assert route.lon.tolist() == [*LINE[:30, 0], *LINE[:29, 0][::-1]]


def test_a_loop_keeps_its_start_and_direction() -> None:
    angle = np.linspace(0, 2 * np.pi, 41)
    ring = np.column_stack([7 + 0.01 * np.cos(angle), 46 + 0.01 * np.sin(angle)])
    ring[-1] = ring[0]
    route = build(ring[:15], ring[29:13:-1], ring[29:])
    assert np.allclose(route.lon, ring[:, 0])
    assert np.allclose(route.lat, ring[:, 1])


def test_a_figure_of_eight_in_order_is_kept() -> None:
    angle = np.linspace(0, 2 * np.pi, 81)
    eight = np.column_stack([7 + 0.02 * np.sin(angle), 46 + 0.01 * np.sin(2 * angle)])
    route = build(eight[:41], eight[60:39:-1], eight[60:])
    assert np.allclose(route.lon, eight[:, 0])


def test_hairpin_legs_twenty_metres_apart_stay_as_drawn() -> None:
    # 20 m of latitude is 20 / 111_320 degree (mean metres per degree, from memory).
    east = np.arange(0, 0.004, 0.0005)
    leg = 20 / 111_320
    rows = np.vstack([np.column_stack([7 + (east if number % 2 == 0 else east[::-1]), np.full(8, 46 + number * leg)])
                      for number in range(5)])
    route = build(rows)
    assert route.lon.tolist() == rows[:, 0].tolist()
    pieces = [rows[:10], rows[9:25][::-1], rows[24:]]
    assert build(*pieces).lat.tolist() == rows[:, 1].tolist()
