# SPDX-License-Identifier: MIT
"""FIT: the checksum, compressed times, developer fields, damage."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest

from descent.errors import RouteError
from descent.route.fit import checksum
from descent.route.readers import read_features

from . import samples

ROAD = samples.winding(30)


def test_checksum_check_value() -> None:
    # CRC-16/ARC (polynomial 0x8005 reflected, start 0): check value of "123456789" in the CRC catalogues.
    assert checksum(b"123456789") == 0xBB3D


def wrap(body: bytes) -> bytes:
    head = struct.pack("<BBHI4s", 12, 0x10, 2132, len(body), b".FIT")
    return head + body + struct.pack("<H", checksum(head + body))


def units(degree: float) -> int:
    return round(degree * 2**31 / 180)


def test_compressed_times_and_developer_fields(tmp_path: Path) -> None:
    full = struct.pack("<BBBHB", 0x60, 0, 0, 20, 3) + bytes([253, 4, 0x86, 0, 4, 0x85, 1, 4, 0x85, 1, 7, 3, 0])
    short = struct.pack("<BBBHB", 0x41, 0, 0, 20, 2) + bytes([0, 4, 0x85, 1, 4, 0x85])
    body = full + short
    body += b"\x00" + struct.pack("<Iii", 1024 + 30, units(46), units(7)) + b"dev"
    for second in (31, 1, 4):  # the five-bit seconds run over: 1055, 1057, 1060
        body += bytes([0x80 | 1 << 5 | second]) + struct.pack("<ii", units(46), units(7 + second / 100))
    (tmp_path / "a.fit").write_bytes(wrap(body))
    (part,) = read_features(tmp_path / "a.fit").parts
    assert part.time_s is not None
    assert (part.time_s - samples.FIT_EPOCH_S).tolist() == [1054, 1055, 1057, 1060]
    assert part.elevation_m is None


def test_points_without_position_are_left_out_and_said(tmp_path: Path) -> None:
    data = samples.fit(ROAD)
    start = 14 + 6 + 12 + 1 + 4
    body = bytearray(data[14:-2])
    body[start - 14:start - 10] = struct.pack("<i", 0x7FFFFFFF)
    (tmp_path / "a.fit").write_bytes(wrap(bytes(body)))
    features = read_features(tmp_path / "a.fit")
    assert len(features.parts[0].lon) == 29
    assert features.notes == ("1 points of the recording have no position and were left out",)


@pytest.mark.parametrize("data", [
    b"no fit at all, only text", samples.fit(ROAD)[:-50], samples.fit(ROAD) + b"tail",
    samples.fit(ROAD)[:80] + b"\xff" + samples.fit(ROAD)[81:], wrap(b"\x05\x00"),
    wrap(struct.pack("<BBBHB", 0x40, 0, 0, 20, 9)), wrap(samples.fit(ROAD)[14:-2] + b"\x00\x01")])
def test_damage_is_refused_with_the_byte(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "a.fit").write_bytes(data)
    with pytest.raises(RouteError, match="at byte") as caught:
        read_features(tmp_path / "a.fit")
    assert [fault.code for fault in caught.value.faults] == ["fit-damaged"]
