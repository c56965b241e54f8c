# SPDX-License-Identifier: MIT
"""Speed and engine speed that a recorder noted beside the positions reach the parts, in SI."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest

from descent.errors import RouteError
from descent.route.fit import checksum
from descent.route.readers import read_features

POINTS = [(7.0 + k / 100, 46.0, f"2020-01-01T00:00:{10 + k}Z", 10.0 + k) for k in range(4)]
SPEEDS = [10.0, 11.0, 12.0, 13.0]


def test_gpx_speed_as_element_and_in_extensions(tmp_path: Path) -> None:
    for form in ("<speed>{}</speed>", '<extensions><x:part xmlns:x="u:v"><x:speed>{}</x:speed></x:part></extensions>'):
        body = "".join(f'<trkpt lat="{lat}" lon="{lon}"><time>{time}</time>{form.format(v)}</trkpt>'
                       for lon, lat, time, v in POINTS)
        (tmp_path / "a.gpx").write_text(f'<gpx version="1.0"><trk><trkseg>{body}</trkseg></trk></gpx>')
        (part,) = read_features(tmp_path / "a.gpx").parts
        assert part.readings["speed_mps"].tolist() == SPEEDS


def test_tcx_speed(tmp_path: Path) -> None:
    body = "".join(f"<Trackpoint><Time>{time}</Time><Position><LatitudeDegrees>{lat}</LatitudeDegrees><LongitudeDegrees>{lon}"
                   f"</LongitudeDegrees></Position><Extensions><TPX><Speed>{v}</Speed></TPX></Extensions></Trackpoint>"
                   for lon, lat, time, v in POINTS)
    (tmp_path / "a.tcx").write_text("<TrainingCenterDatabase><Activities><Activity><Lap><Track>" + body
                                    + "</Track></Lap></Activity></Activities></TrainingCenterDatabase>")
    (part,) = read_features(tmp_path / "a.tcx").parts
    assert part.readings["speed_mps"].tolist() == SPEEDS


def test_fit_speed_plain_and_fine_and_missing(tmp_path: Path) -> None:
    """Fields 6 (16 bit) and 73 (32 bit), thousandths of m/s; all ones mean none."""
    def units(degree: float) -> int:
        return round(degree * 2**31 / 180)

    fields = bytes([253, 4, 0x86, 0, 4, 0x85, 1, 4, 0x85, 6, 2, 0x84, 73, 4, 0x86])
    body = struct.pack("<BBBHB", 0x40, 0, 0, 20, 5) + fields
    for k, (plain, fine) in enumerate(((10000, 0xFFFFFFFF), (0xFFFF, 11000), (0xFFFF, 0xFFFFFFFF))):
        body += b"\x00" + struct.pack("<IiiHI", 1000 + k, units(46.0), units(7.0 + k / 100), plain, fine)
    head = struct.pack("<BBHI4s", 12, 0x10, 2132, len(body), b".FIT")
    (tmp_path / "a.fit").write_bytes(head + body + struct.pack("<H", checksum(head + body)))
    (part,) = read_features(tmp_path / "a.fit").parts
    assert np.array_equal(part.readings["speed_mps"], [10.0, 11.0, np.nan], equal_nan=True)


@pytest.mark.parametrize(("head", "factor"), [("speed [km/h]", 3.6), ("speed_kmh", 3.6), ("speed (mph)", 1 / 0.44704),
                                              ("speed [m/s]", 1.0), ("speed_mps", 1.0)])
def test_csv_speed_by_its_unit_and_engine_speed(tmp_path: Path, head: str, factor: float) -> None:
    rows = "".join(f"{lon},{lat},{k},{v * factor!r},{1000 + k}\n" for k, (lon, lat, _, v) in enumerate(POINTS))
    (tmp_path / "a.csv").write_text(f"lon,lat,time_s,{head},engine_rpm\n{rows}5.0,46.0,9,,n/a\n")
    (part,) = read_features(tmp_path / "a.csv").parts
    assert np.allclose(part.readings["speed_mps"][:4], SPEEDS) and np.isnan(part.readings["speed_mps"][4])
    assert part.readings["engine_rpm"][:4].tolist() == [1000, 1001, 1002, 1003] and np.isnan(part.readings["engine_rpm"][4])


def test_csv_speed_in_an_unknown_unit_is_a_fault(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("lon,lat,speed [knots]\n7,46,1\n7.1,46,1\n")
    with pytest.raises(RouteError, match=r"speed \[km/h\]"):
        read_features(tmp_path / "a.csv")
