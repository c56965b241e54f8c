# SPDX-License-Identifier: MIT
"""What the fuzzer feeds: one function that gives bytes to a reader and fails on anything but an answer or a clean error."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np

from descent.errors import DescentError
from descent.route.grade_table import read_grade_table
from descent.route.line import Route, stations_along
from descent.route.places import read_places
from descent.route.readers import read_route
from descent.units import LENGTH, MASS, SPEED, TEMPERATURE, parse
from descent.vehicle.catalogue import load_vehicle

_LON, _LAT = np.linspace(7.0, 7.06, 60), 46.0 + 0.002 * np.sin(np.arange(60) / 5)
ROAD = Route("road", _LON, _LAT, stations_along(_LON, _LAT))
ROUTE_FORMS = ("geojson", "gpx", "kml", "kmz", "tcx", "csv", "fit", "gpkg", "shp", "zip")
DEM_FORMS = ("tif", "vrt", "asc", "hgt")


def _route(path: Path) -> None:
    route = read_route(path)
    assert np.isfinite(route.lon).all() and np.isfinite(route.lat).all()
    assert (np.diff(route.station_m) > 0).all()


def _places(path: Path) -> None:
    for place in read_places(path, ROAD):
        assert 0 <= place.station_m <= ROAD.length_m and place.name.isprintable()


def _dem(path: Path) -> None:
    from descent.terrain.dem import open_dems
    from descent.terrain.sample import sample_across
    sample_across(open_dems([str(path)]), ROAD.lon, ROAD.lat)


def _grades(path: Path) -> None:
    assert all(row.length_m > 0 for row in read_grade_table(path))


def _vehicle(path: Path) -> None:
    load_vehicle(str(path))


def _quantity(path: Path) -> None:
    text = path.read_bytes().decode("utf-8", "replace")
    for kind in (MASS, LENGTH, SPEED, TEMPERATURE):
        try:
            assert np.isfinite(parse(text, kind, where="fuzz"))
        except DescentError:
            continue


# Target name to (suffix of the file, reader).
TARGETS: Mapping[str, tuple[str, Callable[[Path], None]]] = (
    {form: (form, _route) for form in ROUTE_FORMS}
    | {f"places-{form}": (form, _places) for form in ("geojson", "gpx", "csv")}
    | {form: (form, _dem) for form in DEM_FORMS}
    | {"grades": ("csv", _grades), "vehicle": ("toml", _vehicle), "quantity": ("txt", _quantity)})


def one_input(target: str, data: bytes, folder: Path) -> str:
    """Give bytes to a reader; returns "read" or the first fault's code. Any other exception is a finding."""
    suffix, read = TARGETS[target]
    path = folder / ("N46E007.hgt" if suffix == "hgt" else f"a.{suffix}")
    path.write_bytes(data)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            read(path)
    except DescentError as error:
        assert error.faults
        for fault in error.faults:
            assert fault.code and fault.remedy
            assert fault.sentence().isprintable() and len(fault.sentence()) < 2000
        return error.faults[0].code
    return "read"
