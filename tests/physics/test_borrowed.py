# SPDX-License-Identifier: MIT
"""Memory written through an array without an owner is the caller's memory, whatever the compiler thinks of it."""

from __future__ import annotations

import sys

import numba
import numpy as np

from descent.physics.borrowed import borrowed


@numba.njit(error_model="numpy")
def counted(marks, places):  # type: ignore[no-untyped-def]
    marks, places = borrowed(marks), borrowed(places)
    count = 0
    for place in range(marks.shape[0]):
        places[place] = count
        count += marks[place]
    places[marks.shape[0]] = count              # nothing reads it afterwards in here: it must be written all the same
    return count


@numba.njit(error_model="numpy")
def made_inside(marks):  # type: ignore[no-untyped-def]
    places = np.zeros(marks.shape[0] + 1, dtype=np.int64)
    counted(marks, places)
    return places


def test_the_last_write_is_kept() -> None:
    assert made_inside(np.ones(5, dtype=np.int64)).tolist() == [0, 1, 2, 3, 4, 5]


def test_shape_and_strides_are_the_arrays_own() -> None:
    places = np.full(12, -1, dtype=np.int64)
    counted(np.ones(3, dtype=np.int64), places[::3])
    assert places.tolist() == [0, -1, -1, 1, -1, -1, 2, -1, -1, 3, -1, -1]


def test_no_reference_is_left_behind() -> None:
    marks = np.ones(5, dtype=np.int64)
    made_inside(marks)
    before = sys.getrefcount(marks)
    for _ in range(10):
        made_inside(marks)
    assert sys.getrefcount(marks) == before
