# SPDX-License-Identifier: MIT
"""Small files in every format, of one invented road, for the tests of the readers."""

from __future__ import annotations

import json
import struct
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import geopandas
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString

from descent.route.fit import checksum

FloatArray = NDArray[np.float64]
FIT_EPOCH_S = 631_065_600


def winding(count: int = 60, *, lon: float = 7.0, lat: float = 46.0) -> FloatArray:
    """A winding invented road, (count, 3): lon, lat [degree] and elevation [m], points about 100 m apart."""
    step = np.arange(count)
    return np.column_stack([lon + step * 0.001, lat + 0.002 * np.sin(step / 5), 1500.0 - step * 6.0]).round(7)


def collection(*features: dict[str, Any], **more: Any) -> str:
    """A GeoJSON collection as text."""
    return json.dumps({"type": "FeatureCollection", "features": list(features), **more})


def feature(coordinates: Any, shape: str = "LineString", /, **properties: Any) -> dict[str, Any]:
    """One GeoJSON feature; arrays become lists."""
    if isinstance(coordinates, np.ndarray):
        coordinates = coordinates.tolist()
    return {"type": "Feature", "properties": properties, "geometry": {"type": shape, "coordinates": coordinates}}


def gpx(*segments: Sequence[Sequence[float]], head: str = "", name: str = "", times: bool = False) -> str:
    """A GPX track with one segment per argument; rows are lon, lat, elevation; times: 10 s apart."""
    def point(number: int, row: Sequence[float]) -> str:
        time = f"<time>2020-01-01T{number // 360:02d}:{number // 6 % 60:02d}:{number % 6}0Z</time>" if times else ""
        return f'<trkpt lon="{row[0]!r}" lat="{row[1]!r}"><ele>{row[2]!r}</ele>{time}</trkpt>'

    number = iter(range(10**6))
    body = "".join(f"<trkseg>{''.join(point(next(number), [float(x) for x in row]) for row in segment)}</trkseg>"
                   for segment in segments)
    return (f'<?xml version="1.0"?>{head}<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">'
            f"<trk><name>{name}</name>{body}</trk></gpx>")


def kml(rows: FloatArray) -> str:
    """A KML line."""
    text = " ".join(f"{x!r},{y!r},{z!r}" for x, y, z in rows.tolist())
    return ('<kml xmlns="http://www.opengis.net/kml/2.2"><Document><name>All</name><Placemark><name>Road</name>'
            '<ExtendedData><Data name="maxspeed"><value>30 mph</value></Data></ExtendedData><LineString>'
            f"<coordinates>{text}</coordinates></LineString></Placemark></Document></kml>")


def tcx(rows: FloatArray) -> str:
    """A TCX course with points 10 s apart."""
    points = "".join(
        f"<Trackpoint><Time>2020-01-01T00:{i // 6:02d}:{i % 6}0Z</Time><Position><LatitudeDegrees>{y!r}"
        f"</LatitudeDegrees><LongitudeDegrees>{x!r}</LongitudeDegrees></Position><AltitudeMeters>{z!r}"
        "</AltitudeMeters></Trackpoint>" for i, (x, y, z) in enumerate(rows.tolist()))
    return ("<TrainingCenterDatabase><Courses><Course><Name>Road</Name><Track>"
            f"<Trackpoint><Time>2019-12-31T23:59:50Z</Time></Trackpoint>{points}</Track></Course></Courses>"
            "</TrainingCenterDatabase>")


def fit(rows: FloatArray, *, order: str = "<") -> bytes:
    """A FIT file of record messages 10 s apart, written from the published layout, independent of the reader."""
    arch = 1 if order == ">" else 0
    definition = struct.pack("<BBB", 0x40, 0, arch) + struct.pack(order + "HB", 20, 4)
    definition += bytes([253, 4, 0x86, 0, 4, 0x85, 1, 4, 0x85, 2, 2, 0x84])
    body = b"".join(b"\x00" + struct.pack(order + "IiiH", 1000 + 10 * i, round(y * 2**31 / 180), round(x * 2**31 / 180),
                                          round((z + 500) * 5)) for i, (x, y, z) in enumerate(rows.tolist()))
    return fit_file(definition + body)


def fit_file(data: bytes) -> bytes:
    """Header and checksums around the messages of a FIT file."""
    head = struct.pack("<BBHI4s", 14, 0x10, 2132, len(data), b".FIT")
    head += struct.pack("<H", checksum(head))
    return head + data + struct.pack("<H", checksum(head + data))


def write_all(folder: Path, rows: FloatArray) -> dict[str, Path]:
    """The same road in every format, by format name."""
    texts = {
        "geojson": collection(feature(rows, name="Road")),
        "gpx": gpx(rows.tolist(), name="Road"),
        "kml": kml(rows),
        "tcx": tcx(rows),
        "csv": "lon,lat,elevation [m]\n" + "\n".join(f"{x!r},{y!r},{z!r}" for x, y, z in rows.tolist()),
    }
    paths = {name: folder / f"road.{name}" for name in texts}
    for name, text in texts.items():
        paths[name].write_text(text, encoding="utf-8")
    paths["fit"] = folder / "road.fit"
    paths["fit"].write_bytes(fit(rows))
    paths["kmz"] = folder / "road.kmz"
    with zipfile.ZipFile(paths["kmz"], "w") as archive:
        archive.writestr("doc.kml", texts["kml"])
    frame = geopandas.GeoDataFrame({"name": ["Road"]}, geometry=[LineString(rows)], crs="EPSG:4326")
    paths["gpkg"] = folder / "road.gpkg"
    frame.to_crs("EPSG:32632").to_file(paths["gpkg"], driver="GPKG")
    paths["shp"] = folder / "road.shp"
    frame.to_file(paths["shp"], engine="pyogrio")
    paths["zip"] = folder / "packed.zip"
    with zipfile.ZipFile(paths["zip"], "w") as archive:
        for member in folder.glob("road.*"):
            if member.suffix in (".shp", ".shx", ".dbf", ".prj", ".cpg"):
                archive.write(member, f"deep/in/{member.name}")
    return paths
