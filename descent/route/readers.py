# SPDX-License-Identifier: MIT
"""Reads a route from a file of any known format; the suffix says which."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import replace
from importlib import import_module
from typing import cast

from descent.errors import RouteError
from descent.route.building import build_route
from descent.route.faultbook import one_fault
from descent.route.features import Features
from descent.route.files import SourceFile, find_source
from descent.route.joining import GAP_LIMIT_M
from descent.route.line import Direction, Route

Reader = Callable[[SourceFile], Features]

# Format name for messages, module and function by suffix; modules load when a file needs them.
FORMATS: Mapping[str, tuple[str, str, str]] = {
    ".geojson": ("GeoJSON", "geojson", "read_geojson"),
    ".json": ("GeoJSON", "geojson", "read_geojson"),
    ".gpx": ("GPX", "gpx", "read_gpx"),
    ".kml": ("KML", "kml", "read_kml"),
    ".kmz": ("KML", "kml", "read_kmz"),
    ".gpkg": ("GeoPackage", "vector_layers", "read_geopackage"),
    ".shp": ("Shapefile", "vector_layers", "read_shapefile"),
    ".zip": ("Shapefile", "vector_layers", "read_zipped_shapefile"),
    ".csv": ("CSV", "point_table", "read_point_table"),
    ".fit": ("FIT", "fit", "read_fit"),
    ".tcx": ("TCX", "tcx", "read_tcx"),
}


def read_features(path: str | os.PathLike[str]) -> Features:
    """All lines and points of a file. Raises RouteError: format-unknown and what the reader raises."""
    source = find_source(path)
    suffix = source.path.suffix.lower()
    if suffix not in FORMATS:
        known = ", ".join(sorted({name for name, _, _ in FORMATS.values()}))
        raise one_fault(RouteError, source.where, "format-unknown", "no reader for files with this suffix",
                        f"Formats read: {known} (suffixes {', '.join(FORMATS)})", value=suffix or "no suffix")
    _, module, function = FORMATS[suffix]
    return cast(Reader, getattr(import_module(f"descent.route.{module}"), function))(source)


def read_route(path: str | os.PathLike[str], *, direction: Direction = Direction.AS_DRAWN,
               gap_limit_m: float = GAP_LIMIT_M) -> Route:
    """The route in a file: parts joined in travel order, cleaned, named, `direction` applied.

    path: a file, or FILE#NAME for the lines called NAME in a file that holds several. The route's name is that
    of the file's contents, else the file's. Raises RouteError with all faults found.
    """
    file, wanted = split_name(path)
    source = find_source(file)
    features = read_features(file)
    if wanted:
        features = _only(features, wanted, source.where)
    names = {part.name for part in features.parts}
    name = (names.pop() if len(names) == 1 else "") or features.name or source.stem
    return build_route(features, where=source.where, name=name, direction=direction, gap_limit_m=gap_limit_m)


def split_name(path: str | os.PathLike[str]) -> tuple[str, str]:
    """FILE#NAME as (FILE, NAME); a file whose own name holds a # comes first. NAME is "" when not given."""
    text = os.fspath(path)
    if "#" not in text or os.path.lexists(text):
        return text, ""
    file, _, name = text.rpartition("#")
    return file, name


def _only(features: Features, wanted: str, where: str) -> Features:
    parts = tuple(part for part in features.parts if part.name == wanted)
    if not parts:
        names = ", ".join(sorted({part.name for part in features.parts if part.name})[:12]) or "none has a name"
        raise one_fault(RouteError, where, "line-name-unknown", "no line in the file has this name",
                        f"Names in it: {names}", value=wanted)
    return replace(features, parts=parts, name=wanted)
