# SPDX-License-Identifier: MIT
"""Snapping against an independent computation (shapely in a projected system), and passes of the line."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod, Transformer
from shapely.geometry import LineString, Point

from descent.route.line import Route, reverse, stations_along
from descent.route.snapping import passes, snap_line

from . import samples

GEOD = Geod(ellps="WGS84")


def route_of(rows: np.ndarray) -> Route:
    return Route("x", rows[:, 0], rows[:, 1], stations_along(rows[:, 0], rows[:, 1]))


ROAD = route_of(samples.winding(60, lon=9.0, lat=46.0))
SNAP = snap_line(ROAD)
# UTM zone 32, central meridian 9 E: here its scale is 0.9996.
TO_UTM = Transformer.from_crs("EPSG:4326", "EPSG:32632", always_xy=True)
UTM_LINE = LineString(np.column_stack(TO_UTM.transform(ROAD.lon, ROAD.lat)))


@settings(max_examples=80, deadline=None)
@given(share=st.floats(0.02, 0.98), offset_m=st.floats(2.0, 60.0), left=st.booleans())
def test_against_shapely(share: float, offset_m: float, left: bool) -> None:
    at = share * ROAD.length_m
    index = int(np.searchsorted(ROAD.station_m, at)) - 1
    azimuth, _, _ = GEOD.inv(ROAD.lon[index], ROAD.lat[index], ROAD.lon[index + 1], ROAD.lat[index + 1])
    lon, lat, _ = GEOD.fwd(ROAD.lon[index], ROAD.lat[index], azimuth, at - ROAD.station_m[index])
    lon, lat, _ = GEOD.fwd(lon, lat, azimuth + (-90 if left else 90), offset_m)
    found = passes(SNAP, lon, lat, limit_m=150)
    point = Point(*TO_UTM.transform(lon, lat))
    assert len(found) == 1
    assert found[0].offset_m == pytest.approx(UTM_LINE.distance(point) / 0.9996, abs=0.02)
    # Near the middle of a bend two points of the line may be equally near; the station is compared by distance.
    foot = shapely.line_interpolate_point(UTM_LINE, found[0].station_m * UTM_LINE.length / ROAD.length_m)
    assert foot.distance(point) / 0.9996 == pytest.approx(found[0].offset_m, abs=0.05)
    if found[0].offset_m == pytest.approx(offset_m, abs=0.01):
        assert found[0].side == ("left" if left else "right")


def test_limit_and_ends() -> None:
    lon, lat, _ = GEOD.fwd(ROAD.lon[0], ROAD.lat[0], 270.0, 100.0)
    (only,) = passes(SNAP, lon, lat, limit_m=150)
    assert only.station_m == 0.0
    assert only.offset_m == pytest.approx(100.0, abs=0.01)
    assert passes(SNAP, lon, lat, limit_m=99.0) == ()
    assert passes(SNAP, lon + 1.0, lat, limit_m=150.0) == ()


def test_the_other_way_the_side_changes_and_the_station_is_measured_from_the_other_end() -> None:
    back = snap_line(reverse(ROAD))
    (there,) = passes(SNAP, 9.0205, 46.0, limit_m=500)
    (other,) = passes(back, 9.0205, 46.0, limit_m=500)
    assert {there.side, other.side} == {"left", "right"}
    assert there.station_m + other.station_m == pytest.approx(ROAD.length_m, abs=0.01)


def test_a_sparse_line_is_snapped_along_its_whole_length() -> None:
    line = route_of(np.array([[9.0, 46.0], [9.03, 46.0]]))
    (found,) = passes(snap_line(line), 9.0153, 46.0005, limit_m=150)
    assert found.station_m == pytest.approx(line.length_m * 0.51, abs=0.5)
    assert found.side == "left"


def test_out_and_back_passes_twice() -> None:
    rows = samples.winding(60, lon=9.0)
    both = route_of(np.vstack([rows, rows[-2::-1]]))
    lon, lat = float(rows[20, 0]), float(rows[20, 1]) + 0.0001
    first, second = passes(snap_line(both), lon, lat, limit_m=150)
    assert first.station_m + second.station_m == pytest.approx(both.length_m, abs=0.1)
    assert {first.side, second.side} == {"left", "right"}
    assert first.offset_m == pytest.approx(second.offset_m, abs=0.01)


def test_a_loop_passes_its_start_twice() -> None:
    angle = np.linspace(0, 2 * np.pi, 200)
    ring = np.column_stack([9 + 0.01 * np.cos(angle), 46 + 0.007 * np.sin(angle)])
    found = passes(snap_line(route_of(ring)), float(ring[0, 0]) + 0.0001, float(ring[0, 1]), limit_m=150)
    assert len(found) == 2


def test_the_other_leg_of_a_hairpin_is_not_a_pass() -> None:
    # Two legs 20 m apart (20 / 111 320 degree of latitude), joined far off; the place lies 2 m outside the lower.
    leg = 20 / 111_320
    rows = np.array([[9.0, 46.0], [9.01, 46.0], [9.01, 46.0 + leg], [9.0, 46.0 + leg]])
    found = passes(snap_line(route_of(rows)), 9.002, 46.0 - leg / 10, limit_m=150)
    assert len(found) == 1
    assert found[0].side == "right"
