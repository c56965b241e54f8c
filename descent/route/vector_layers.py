# SPDX-License-Identifier: MIT
"""Reads lines and points from GeoPackage and Shapefile (zipped too), each layer in its own coordinate system."""

from __future__ import annotations

import re
import sqlite3
import tempfile
import warnings
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import pyogrio.raw
import shapely
from numpy.typing import NDArray

from descent.errors import DescentError, RouteError
from descent.route.archive import read_members
from descent.route.crs import CrsNotKnown, crs_from_definition, crs_unknown, height_factor, to_wgs84
from descent.route.faultbook import one_fault
from descent.route.features import MAX_PARTS, Features, Part, Spot, check_count
from descent.route.files import MEGABYTE, SourceFile, check_size
from descent.route.text import clean_text

FloatArray = NDArray[np.float64]
LIMIT_BYTES = 100 * MEGABYTE
MAX_LAYERS = 50
MAX_FEATURES = 50_000
_SIDE_FILES = (".shp", ".shx", ".dbf", ".prj", ".cpg")
_VIEW = re.compile(r"\s*create\s+(?:temp\w*\s+)?view\b", re.IGNORECASE)
_LINES, _POINTS = {1, 5}, {0, 4}


def read_geopackage(source: SourceFile) -> Features:
    """All layers of a GeoPackage. Raises RouteError: vector-malformed, vector-view, crs-unknown, crs-missing, too-many-*."""
    check_size(source, LIMIT_BYTES)
    with open(source.path, "rb") as stream:
        if stream.read(16) != b"SQLite format 3\x00":
            raise _malformed(source.where, "this is not a GeoPackage")
    _refuse_views(source)
    return _Layers(source.where).read(source.path)


def _refuse_views(source: SourceFile) -> None:
    """Refuse layers that are views: a stored query can run without end. Raises RouteError: vector-view."""
    address = f"{source.path.resolve().as_uri()}?mode=ro&immutable=1"
    try:
        with closing(sqlite3.connect(address, uri=True)) as database:
            entries = database.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL").fetchall()
            views = {str(name).lower() for name, sql in entries if _VIEW.match(str(sql))}
            wanted = {name for name in views if name.startswith(("gpkg_", "sqlite_"))}
            if views and not wanted:
                layers = database.execute("SELECT table_name FROM gpkg_contents LIMIT 1000").fetchall()
                wanted = views & {str(name).lower() for (name,) in layers}
    except (sqlite3.Error, UnicodeError) as error:
        raise _malformed(source.where, "the file is damaged", error) from None
    if wanted:
        raise one_fault(RouteError, source.where, "vector-view",
                        "a layer is a stored query (view), which is not run", "Export the layer as a table",
                        value=", ".join(sorted(wanted)[:5]))


def read_shapefile(source: SourceFile) -> Features:
    """A Shapefile named by its .shp; .dbf and .prj beside it are used. Raises RouteError as `read_geopackage`."""
    check_size(source, LIMIT_BYTES)
    _check_shapefile(source.path, source.where)
    return _Layers(source.where).read(source.path)


def read_zipped_shapefile(source: SourceFile) -> Features:
    """The Shapefile in a zip archive, unpacked to a temporary folder under our own names.

    Raises RouteError also: archive-no-shapefile, archive-several.
    """
    members = read_members(source, lambda names: [name for name in names if _suffix(name) in _SIDE_FILES])
    shapes = [name for name in members if _suffix(name) == ".shp" and not name.startswith("__MACOSX")]
    if len(shapes) != 1:
        code, what = (("archive-several", "the archive holds several Shapefiles") if shapes else
                      ("archive-no-shapefile", "the archive holds no .shp file"))
        raise one_fault(RouteError, source.where, code, what, "Pack one Shapefile (.shp, .shx, .dbf, .prj) in it",
                        value=", ".join(shapes[:5]))
    base = shapes[0][:-4]
    with tempfile.TemporaryDirectory() as folder:
        for name, data in members.items():
            if name[:-4] == base:
                (Path(folder) / f"layer{_suffix(name)}").write_bytes(data)
        path = Path(folder) / "layer.shp"
        _check_shapefile(path, source.where)
        return _Layers(source.where).read(path)


def _suffix(name: str) -> str:
    return name[-4:].lower()


def _check_shapefile(path: Path, where: str) -> None:
    with open(path, "rb") as stream:
        head = stream.read(100)
    if len(head) < 100 or int.from_bytes(head[:4], "big") != 9994:
        raise _malformed(where, "this is not a Shapefile")


def _malformed(where: str, what: str, value: object = "") -> RouteError:
    error = one_fault(RouteError, where, "vector-malformed", what, "Export the layer again, or as GeoJSON",
                      value=value)
    return RouteError(*error.faults)


class _Layers:
    """Gathers parts and spots layer by layer."""

    def __init__(self, where: str) -> None:
        self.where = where
        self.parts: list[Part] = []
        self.spots: list[Spot] = []
        self.others: set[str] = set()
        self.notes: list[str] = []
        self.points = 0

    def read(self, path: Path) -> Features:
        """Everything in the data source."""
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                layers = pyogrio.list_layers(path)
                for layer, kind in layers[:MAX_LAYERS]:
                    if kind is not None:
                        self._layer(path, str(layer))
        except DescentError:
            raise
        except Exception as error:  # noqa: BLE001 - the bindings answer damage with any error, UnboundLocalError too
            raise _malformed(self.where, "the file is damaged or of another kind", error) from None
        return Features(tuple(self.parts), tuple(self.spots), notes=tuple(self.notes),
                        other_shapes=tuple(sorted(self.others)))

    def _layer(self, path: Path, layer: str) -> None:
        meta, _, geometry, columns = pyogrio.raw.read(path, layer=layer, max_features=MAX_FEATURES + 1,
                                                      datetime_as_string=True)
        if geometry is None:
            return
        if len(geometry) > MAX_FEATURES:
            raise one_fault(RouteError, self.where, "too-many-parts",
                            f"layer {clean_text(layer)} holds more than {MAX_FEATURES:,} shapes",
                            "Keep the road that is driven")
        crs = self._crs(meta.get("crs"), layer)
        names = [clean_text(name, limit=60) for name in meta["fields"]]
        for number, shape in enumerate(shapely.from_wkb(geometry, on_invalid="raise"), 1):
            if shape is None:
                continue
            attributes = {name: text for name, column in zip(names, columns, strict=True)
                          if (text := _text(column[number - 1]))}
            self._shape(shape, attributes, f"{clean_text(layer)}, feature {number}", crs)

    def _crs(self, definition: str | None, layer: str) -> Any:
        """The layer's system; "" when it names none."""
        if not definition:
            return ""
        try:
            return crs_from_definition(definition)
        except CrsNotKnown:
            raise crs_unknown(self.where, definition, of=f" of layer {clean_text(layer)}") from None

    def _shape(self, shape: Any, attributes: Mapping[str, str], place: str, crs: Any) -> None:
        name = next((attributes[key] for key in attributes if key.lower() == "name"), "")
        if name:
            place = f"{place} ({name[:40]})"
        for number, part in enumerate(shapely.get_parts(shape), 1):
            kind = int(shapely.get_type_id(part))
            if kind in _LINES | _POINTS:
                lon, lat, height = self._coordinates(part, crs, place)
                if kind in _POINTS:
                    self.spots += [Spot(float(x), float(y), name, attributes, place)
                                   for x, y in zip(lon, lat, strict=True)]
                    continue
                if len(self.parts) >= MAX_PARTS:
                    raise one_fault(RouteError, self.where, "too-many-parts",
                                    f"the file holds more than {MAX_PARTS:,} separate lines",
                                    "Keep the road that is driven")
                inner = f"{place}, part {number}" if number > 1 else place
                self.parts.append(Part(lon, lat, height, None, name, attributes, inner))
            else:
                self.others.add(f"{part.geom_type} shapes")

    def _coordinates(self, part: Any, crs: Any, place: str) -> tuple[FloatArray, FloatArray, FloatArray | None]:
        table = shapely.get_coordinates(part, include_z=True)
        self.points += len(table)
        check_count(self.points, self.where)
        lon, lat, height = table.T.copy()
        if crs == "":
            if (np.abs(lon) > 180).any() or (np.abs(lat) > 90).any():
                raise one_fault(RouteError, self.where, "crs-missing",
                                "the layer names no coordinate system and its numbers are not degrees",
                                "Add the .prj file, or export in longitude and latitude (WGS84)",
                                value=f"x {lon[0]:g}, y {lat[0]:g}")
            note = "the layer names no coordinate system; its numbers were taken as WGS84 degrees"
            if note not in self.notes:
                self.notes.append(note)
        elif crs is not None:
            try:
                lon, lat = to_wgs84(crs, lon, lat)
            except CrsNotKnown:
                raise crs_unknown(self.where, crs.name) from None
            height = height * height_factor(crs)
        return lon, lat, None if np.isnan(height).all() else height


def _text(value: Any) -> str:
    if value is None or (isinstance(value, float | np.floating) and not np.isfinite(value)):
        return ""
    if isinstance(value, bool | np.bool_):
        return str(bool(value)).lower()
    if isinstance(value, float | np.floating):
        return f"{float(value):g}"
    return clean_text(value) if isinstance(value, str | int | np.integer) else ""
