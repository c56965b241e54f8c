# SPDX-License-Identifier: MIT
"""Write the sample country: elevation models, route, places, true profile and grade table.

`python data/sample_dem/make_sample.py` writes every file beside this one, the same bytes each time;
`python data/sample_dem/make_sample.py FOLDER` writes them somewhere else.
"""

from __future__ import annotations

import csv
import itertools
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
import rasterio.shutil
from numpy.typing import NDArray
from pyproj import Transformer
from rasterio.enums import Resampling
from rasterio.io import MemoryFile
from rasterio.transform import Affine, from_origin
from rasterio.warp import reproject

HERE = Path(__file__).resolve().parent
if str(HERE) not in sys.path:
    sys.path.insert(0, str(HERE))

import sample_design as design
import sample_ground as ground
import sample_lines as lines

SEED = 7
NODATA_10M, NODATA_30M = -9999.0, -32768
ARC_SECOND_DEG = 1.0 / 3600.0
DIGITISING_SD_M = 2.0
ROAD_NAME = f"{design.PASS_NAME} road"


def to_lonlat(x_m: design.Floats, y_m: design.Floats) -> design.Floats:
    """Longitude and latitude [deg, WGS 84] of points from the corner of the area, shape (n, 2), 7 decimals."""
    transformer = Transformer.from_crs(design.CRS, "EPSG:4326", always_xy=True)
    lon, lat = transformer.transform(
        np.asarray(x_m) + design.CORNER_EASTING_M, np.asarray(y_m) + design.CORNER_NORTHING_M
    )
    return np.round(np.column_stack([np.atleast_1d(lon), np.atleast_1d(lat)]), 7)


def beside(road: design.Road, station_m: design.Floats, left_m: design.Floats) -> design.Floats:
    """Longitude and latitude of points at a distance to the left of the axis."""
    heading = road.at(road.heading_rad, station_m)
    x = road.at(road.x_m, station_m) - np.sin(heading) * left_m
    y = road.at(road.y_m, station_m) + np.cos(heading) * left_m
    return to_lonlat(x, y)


def write_cog(path: Path, values: NDArray[Any], transform: Affine, crs: str, nodata: float) -> None:
    """One band as a cloud-optimised GeoTIFF: 256-cell tiles, deflate with predictor, averaged overviews."""
    profile = {"driver": "GTiff", "height": values.shape[0], "width": values.shape[1], "count": 1,
               "dtype": values.dtype.name, "crs": crs, "transform": transform, "nodata": nodata}
    with MemoryFile() as memory:
        with memory.open(**profile) as target:
            target.write(values, 1)
        rasterio.shutil.copy(
            memory.name, path, driver="COG", BLOCKSIZE=256, COMPRESS="DEFLATE", LEVEL=9, PREDICTOR="YES",
            OVERVIEW_RESAMPLING="AVERAGE", OVERVIEW_COUNT=3, NUM_THREADS=1,
        )


def write_elevation(road: design.Road, folder: Path) -> None:
    """The 10 m model and its 1 arc-second twin, each 30 m cell the mean of the 10 m cells under it."""
    fine = ground.make_ground(road).astype(np.float32)
    top = design.CORNER_NORTHING_M + design.AREA_M[1]
    transform = from_origin(design.CORNER_EASTING_M, top, ground.CELL_M, ground.CELL_M)
    write_cog(folder / "pass_10m.tif", fine, transform, design.CRS, NODATA_10M)
    corners = to_lonlat(np.array([0.0, 0.0, *[design.AREA_M[0]] * 2]), np.array([0.0, *[design.AREA_M[1]] * 2, 0.0]))
    west, south = np.floor(corners.min(axis=0) / ARC_SECOND_DEG) - 0.5
    east, north = np.ceil(corners.max(axis=0) / ARC_SECOND_DEG) + 0.5
    coarse = np.full((round(north - south), round(east - west)), np.nan)
    twin = from_origin(west * ARC_SECOND_DEG, north * ARC_SECOND_DEG, ARC_SECOND_DEG, ARC_SECOND_DEG)
    reproject(fine.astype(np.float64), coarse, src_transform=transform, src_crs=design.CRS, dst_transform=twin,
              dst_crs="EPSG:4326", dst_nodata=np.nan, resampling=Resampling.average, num_threads=1)
    whole = np.where(np.isfinite(coarse), np.rint(coarse), NODATA_30M).astype(np.int16)
    write_cog(folder / "pass_30m.tif", whole, twin, "EPSG:4326", NODATA_30M)


def digitised(road: design.Road, cuts_m: list[float]) -> tuple[design.Floats, design.Floats]:
    """Stations of the drawn vertices (every 8 to 40 m, closer in bends, the cuts among them) and lon, lat."""
    rng = np.random.default_rng(SEED)
    stations = [0.0]
    for cut in cuts_m[1:]:
        while True:
            bend = abs(float(road.at(road.curvature_1pm, stations[-1])))
            step = float(np.clip(0.35 / max(bend, 1e-4) * rng.uniform(0.6, 1.2), 8.0, 31.0))
            if stations[-1] + step + 8.0 > cut:
                stations.append(cut)
                break
            stations.append(stations[-1] + step)
    at = np.array(stations)
    drift = lines.wander(rng, len(road.station_m), design.STEP_M, 60.0, DIGITISING_SD_M)
    left = np.clip(road.at(drift, at), -5.0, 5.0) + rng.normal(0.0, 0.3, len(at))
    return at, beside(road, at, left)


def route_features(road: design.Road) -> list[dict[str, Any]]:
    """The drawn line in travel order, cut wherever a tag changes."""
    limits = design.speed_limits(road)
    cuts = {0.0, float(road.station_m[-1])} | {v for s in road.structures for v in (s.start_m, s.end_m)}
    ordered = sorted(cuts | {v for start, end, _ in limits for v in (start, end)})
    stations, lonlat = digitised(road, ordered)
    features = []
    for start, end in itertools.pairwise(ordered):
        middle = (start + end) / 2
        tags: dict[str, Any] = {"name": ROAD_NAME, "maxspeed": next(v for a, b, v in limits if a <= middle <= b)}
        for item in road.structures:
            if item.start_m <= middle <= item.end_m:
                tags[item.kind] = "yes"
        part = lonlat[(stations >= start) & (stations <= end)]
        features.append({"type": "Feature", "properties": tags,
                         "geometry": {"type": "LineString", "coordinates": part.tolist()}})
    return features


def write_geojson(path: Path, features: list[dict[str, Any]]) -> None:
    """A feature collection, one feature a line."""
    body = ",\n".join(json.dumps(feature, ensure_ascii=False) for feature in features)
    path.write_text(f'{{"type": "FeatureCollection", "features": [\n{body}\n]}}\n', encoding="utf-8")


def write_gpx(path: Path, features: list[dict[str, Any]]) -> None:
    """The same line as one GPX 1.1 track without elevations."""
    points: list[list[float]] = []
    for feature in features:
        points += feature["geometry"]["coordinates"][1 if points else 0 :]
    rows = "\n".join(f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"/>' for lon, lat in points)
    path.write_text(
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<gpx version="1.1" creator="descent sample" xmlns="http://www.topografix.com/GPX/1/1">\n'
        f"<trk><name>{ROAD_NAME}</name><trkseg>\n{rows}\n</trkseg></trk>\n</gpx>\n", encoding="utf-8")


def place_rows(road: design.Road) -> list[tuple[float, float, dict[str, Any]]]:
    """Places as (station [m], distance left of the axis [m], properties), placed relative to the vertical design."""
    end, crest = float(road.station_m[-1]), float(road.station_m[road.elevation_m.argmax()])
    check, flat, steep, bench, last_pad, chains = ((a + b) / 2 for a, b, _, _ in design.pads(road))
    descent = design.break_after(road, "first descent")
    ramp = design.break_after(road, "last steep grade, escape ramp") + 1400.0
    foot = design.break_after(road, "run-out")
    rows: list[tuple[float, float, dict[str, Any]]] = [
        (300.0, 20.0, {"name": design.TOWN_START, "kind": "town"}),
        (chains, -14.0, {"name": "Sheepfold chain-up area", "kind": "chain-up-area", "side": "right", "room_m": 100,
                         "surface": "paved", "grade_percent": 1.5, "note": "lit; used from first snow"}),
        (check, -16.0, {"name": "Summit brake check area", "kind": "brake-check-area", "side": "right",
                        "room_m": 120, "surface": "paved", "grade_percent": 0.5,
                        "note": "before the crest; room for three long vehicles"}),
        (crest, 15.0, {"name": design.PASS_NAME, "kind": "landmark"}),
        (descent - 60.0, -7.0, {"name": "Truck limit on the descent", "kind": "truck-speed-limit", "side": "right",
                                "value": "35 mph", "note": "posted for vehicles over 26,000 lb"}),
        (road.hairpins[0][0] - 150.0, -7.0, {"name": "Truck limit in the hairpins", "kind": "truck-speed-limit",
                                             "side": "right", "value": "20 mph"}),
        (road.hairpins[-1][1] + 100.0, -7.0, {
            "name": "Truck limit below the hairpins", "kind": "truck-speed-limit", "side": "right", "value": "35 mph",
            "length_m": round(foot - road.hairpins[-1][1] - 100.0)}),
        (flat, -13.0, {"name": "Larch Shelf pull-out", "kind": "pull-out", "side": "right", "room_m": 90,
                       "surface": "paved", "grade_percent": -0.8, "note": "long enough for one combination"}),
        (steep, -12.0, {"name": "Quarry Bend pull-out", "kind": "pull-out", "side": "right", "room_m": 70,
                        "surface": "gravel", "grade_percent": -4.5, "note": "sloping; loose stone"}),
        (bench, -13.0, {"name": "Short Bench pull-out", "kind": "pull-out", "side": "right", "room_m": 80,
                        "surface": "gravel", "grade_percent": -1.2}),
        (ramp, -24.0, {"name": "Kestin escape ramp", "kind": "escape-ramp", "side": "right", "length_m": 220,
                       "bed": "pea gravel", "grade_percent": 8.0, "note": "leaves the road to the right"}),
        (last_pad, -14.0, {"name": "Meadow Gate pull-out", "kind": "pull-out", "side": "right", "room_m": 80,
                           "surface": "paved", "grade_percent": -1.4}),
        (end - 400.0, 20.0, {"name": design.TOWN_FOOT, "kind": "town"}),
    ]
    for item in road.structures:
        rows.append(((item.start_m + item.end_m) / 2, 0.0, {"name": item.name, "kind": "landmark"}))
    for mile in range(1, int(end // design.METRES_PER_MILE) + 1):
        rows.append((mile * design.METRES_PER_MILE, -6.0,
                     {"name": f"MP {mile}", "kind": "milepost", "side": "right"}))
    return sorted(rows, key=lambda row: row[0])


def place_features(road: design.Road) -> list[dict[str, Any]]:
    """The places as GeoJSON points; `side` is null where a place belongs to neither side."""
    features = []
    for station, left, properties in place_rows(road):
        lonlat = beside(road, np.array([station]), np.array([left]))[0]
        features.append({"type": "Feature", "properties": {"side": None, **properties},
                         "geometry": {"type": "Point", "coordinates": lonlat.tolist()}})
    return features


def profile_rows(road: design.Road) -> list[list[str]]:
    """The true profile every 10 m as text, header first."""
    every = slice(0, None, round(10 / design.STEP_M))
    lonlat = to_lonlat(road.x_m[every], road.y_m[every])
    rows = [["station_m", "elevation_m", "grade", "curvature_1pm", "in_structure", "lon", "lat"]]
    columns = (road.station_m, road.elevation_m, road.grade, road.curvature_1pm, road.in_structure)
    for (s, z, g, k, inside), (lon, lat) in zip(
        zip(*(column[every] for column in columns), strict=True), lonlat, strict=True
    ):
        rows.append([f"{s:.0f}", f"{z:.3f}", f"{g:.6f}", f"{k:.6f}", f"{int(inside)}", f"{lon:.7f}", f"{lat:.7f}"])
    return rows


def main(folder: Path) -> None:
    """Write all files into the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    road = design.design_road()
    features = route_features(road)
    write_geojson(folder / "route.geojson", features)
    write_gpx(folder / "route.gpx", features)
    write_geojson(folder / "places.geojson", place_features(road))
    with (folder / "true_profile.csv").open("w", newline="", encoding="utf-8") as handle:
        csv.writer(handle, lineterminator="\n").writerows(profile_rows(road))
    design.write_grade_table(road, folder / "grade_table.csv")
    write_elevation(road, folder)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
