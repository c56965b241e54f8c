# SPDX-License-Identifier: MIT
"""Reads recorded drives from FIT: the position, height, time and speed of its `record` messages, nothing else.

Layout of the published FIT protocol (header, definition and data messages, compressed times, CRC-16), field
numbers and scales of its profile for message 20; from memory, checked against other formats of one recording.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import NoReturn

import numpy as np

from descent.errors import RouteError
from descent.route.faultbook import one_fault
from descent.route.features import Features, Part, PartOrder, check_count
from descent.route.files import MEGABYTE, SourceFile, read_bytes

LIMIT_BYTES = 20 * MEGABYTE
RECORD_MESSAGE = 20
TIME_FIELD, LAT_FIELD, LON_FIELD, HEIGHT_FIELD, FINE_HEIGHT_FIELD = 253, 0, 1, 2, 78
SPEED_FIELD, FINE_SPEED_FIELD, SPEED_SCALE = 6, 73, 1000.0
EPOCH_S = 631_065_600.0
DEGREE_PER_UNIT = 180.0 / 2**31
HEIGHT_SCALE, HEIGHT_OFFSET_M = 5.0, 500.0
# Wanted fields: size in bytes, struct letter and the value that means "none".
_FORMS = {TIME_FIELD: (4, "I", 0xFFFFFFFF), LAT_FIELD: (4, "i", 0x7FFFFFFF), LON_FIELD: (4, "i", 0x7FFFFFFF),
          HEIGHT_FIELD: (2, "H", 0xFFFF), FINE_HEIGHT_FIELD: (4, "I", 0xFFFFFFFF),
          SPEED_FIELD: (2, "H", 0xFFFF), FINE_SPEED_FIELD: (4, "I", 0xFFFFFFFF)}
_CRC = (0x0000, 0xCC01, 0xD801, 0x1400, 0xF001, 0x3C00, 0x2800, 0xE401,
        0xA001, 0x6C00, 0x7800, 0xB401, 0x5000, 0x9C01, 0x8801, 0x4400)
_CRC_BYTES = tuple((_CRC[byte & 15] >> 4) ^ _CRC[(_CRC[byte & 15] ^ (byte >> 4)) & 15] for byte in range(256))


@dataclass(frozen=True)
class _Layout:
    """How one kind of data message lies in the file: its size, and (field, offset, reader, none) if wanted."""

    size: int
    fields: tuple[tuple[int, int, struct.Struct, int], ...]
    is_record: bool


def checksum(data: bytes | memoryview) -> int:
    """The CRC-16 of the FIT protocol (polynomial 0x8005 reflected, start 0)."""
    crc = 0
    for byte in data:
        crc = (crc >> 8) ^ _CRC_BYTES[(crc ^ byte) & 0xFF]
    return crc


class _Decoder:
    """Goes through the messages of one file or several in one."""

    def __init__(self, data: bytes, where: str) -> None:
        self.data, self.where = data, where
        self.layouts: dict[int, _Layout] = {}
        self.rows: list[tuple[float, float, float, float, float]] = []
        self.unplaced = 0
        self.clock = 0

    def damaged(self, what: str, at: int) -> NoReturn:
        raise one_fault(RouteError, self.where, "fit-damaged", f"{what} at byte {at}",
                        "Copy the file from the device again, or export the drive as GPX")

    def run(self) -> None:
        """Decode all files in the data."""
        at = 0
        while at < len(self.data):
            at = self._one_file(at)

    def _one_file(self, at: int) -> int:
        data = self.data
        header = data[at] if at < len(data) else 0
        if header not in (12, 14) or data[at + 8:at + 12] != b".FIT":
            self.damaged("there is no FIT header", at)
        start = at + header
        end = start + int.from_bytes(data[at + 4:at + 8], "little")
        if end + 2 > len(data):
            self.damaged(f"the file breaks off: {end + 2 - len(data)} bytes are missing", len(data))
        if checksum(memoryview(data)[at:end]) != int.from_bytes(data[end:end + 2], "little"):
            self.damaged("the checksum does not agree with the contents", end)
        self.layouts = {}
        at = start
        try:
            while at < end:
                at = self._message(at)
        except (struct.error, IndexError):
            self.damaged("a message breaks off", at)
        if at != end:
            self.damaged("the last message runs past the end", at)
        return end + 2

    def _message(self, at: int) -> int:
        header = self.data[at]
        if header & 0x80:
            seconds = header & 0x1F
            self.clock += (seconds - self.clock) & 0x1F
            return self._data_message((header >> 5) & 3, at + 1)
        if header & 0x40:
            return self._definition(header, at + 1)
        return self._data_message(header & 15, at + 1)

    def _definition(self, header: int, at: int) -> int:
        data = self.data
        order = ">" if data[at + 1] else "<"
        (message,) = struct.unpack_from(f"{order}H", data, at + 2)
        count = data[at + 4]
        at += 5
        offset, fields = 0, []
        for _ in range(count):
            number, size = data[at], data[at + 1]
            form = _FORMS.get(number)
            if message == RECORD_MESSAGE and form and size == form[0]:
                fields.append((number, offset, struct.Struct(order + form[1]), form[2]))
            offset += size
            at += 3
        if header & 0x20:
            extra = data[at]
            offset += sum(data[at + 2 + 3 * index] for index in range(extra))
            at += 1 + 3 * extra
        self.layouts[header & 15] = _Layout(offset, tuple(fields), message == RECORD_MESSAGE)
        return at

    def _data_message(self, local: int, at: int) -> int:
        layout = self.layouts.get(local)
        if layout is None:
            self.damaged("a message comes before its definition", at)
        if layout.is_record:
            self._record(layout, at)
        return at + layout.size

    def _record(self, layout: _Layout, at: int) -> None:
        values: dict[int, int] = {}
        for number, offset, reader, none in layout.fields:
            (value,) = reader.unpack_from(self.data, at + offset)
            if value != none:
                values[number] = value
        self.clock = values.get(TIME_FIELD, self.clock)
        if LAT_FIELD not in values or LON_FIELD not in values:
            self.unplaced += 1
            return
        height = values.get(FINE_HEIGHT_FIELD, values.get(HEIGHT_FIELD))
        speed = values.get(FINE_SPEED_FIELD, values.get(SPEED_FIELD))
        self.rows.append((values[LON_FIELD] * DEGREE_PER_UNIT, values[LAT_FIELD] * DEGREE_PER_UNIT,
                          float("nan") if height is None else height / HEIGHT_SCALE - HEIGHT_OFFSET_M,
                          self.clock + EPOCH_S if self.clock else float("nan"),
                          float("nan") if speed is None else speed / SPEED_SCALE))
        if len(self.rows) % 10_000 == 0:
            check_count(len(self.rows), self.where)


def read_fit(source: SourceFile) -> Features:
    """The track of a FIT file as one part.

    Raises RouteError: fit-damaged (no header, cut off, checksum, messages that make no sense), too-many-points.
    """
    decoder = _Decoder(read_bytes(source, LIMIT_BYTES), source.where)
    decoder.run()
    check_count(len(decoder.rows), source.where)
    notes = ((f"{decoder.unplaced} points of the recording have no position and were left out",)
             if decoder.unplaced else ())
    if not decoder.rows:
        return Features(notes=notes, order=PartOrder.RECORDED, other_shapes=("readings without a position",))
    lon, lat, height, time_s, speed = np.array(decoder.rows, dtype=float).T
    part = Part(lon, lat, None if np.isnan(height).all() else height,
                None if np.isnan(time_s).all() else time_s, "", {}, "recording",
                {} if np.isnan(speed).all() else {"speed_mps": speed})
    return Features((part,), (), "", PartOrder.RECORDED, notes)
