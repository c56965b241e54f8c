# SPDX-License-Identifier: MIT
"""Tables of lengths and grades: units, signs, faults."""

from __future__ import annotations

from pathlib import Path

import pytest

from descent.errors import RouteError
from descent.route.grade_table import read_grade_table


def write(folder: Path, text: str) -> Path:
    path = folder / "grades.csv"
    path.write_text(text)
    return path


@pytest.mark.parametrize(("header", "length_m", "grade"), [
    ("length [mi],grade [%]", 2 * 1609.344, -0.06), ("Length (km), Grade (percent)", 2000.0, -0.06),
    ("grade [1];length [ft]", 0.0, 0.0)])
def test_units(tmp_path: Path, header: str, length_m: float, grade: float) -> None:
    if ";" in header:
        rows = read_grade_table(write(tmp_path, f"{header}\n-0,05;1000,5\n"))
        assert rows[0] == (pytest.approx(1000.5 * 0.3048), pytest.approx(-0.05))
        return
    rows = read_grade_table(write(tmp_path, f"{header}\n2,-6\n\n# a remark\n1,0\n"))
    assert rows[0] == (pytest.approx(length_m), pytest.approx(grade))
    assert len(rows) == 2


def test_direction_column_for_grades_without_a_sign(tmp_path: Path) -> None:
    rows = read_grade_table(write(tmp_path, "length [km],grade [%],direction\n1,4,up\n0.5,0,\n3,6%,down\n"))
    assert [row.grade for row in rows] == pytest.approx([0.04, 0.0, -0.06])


@pytest.mark.parametrize(("text", "codes", "words"), [
    ("length,grade\n1,-6\n", ["grade-table-unit"] * 2, "length [mi]"),
    ("length [furlong],grade [%]\n1,-6\n", ["grade-table-unit"], "furlong"),
    ("distance [km],slope [%]\n1,-6\n", ["grade-table-columns"], "distance, slope"),
    ("length [km],grade [%]\n2,6\n1,3\n", ["grade-table-no-downgrade"], "minus sign"),
    ("length [km],grade [%]\n0,-6\n1,x\n1,-60\nnan,-6\n-1,-6\n", ["grade-table-value"] * 5, "line 4"),
    ("length [km],grade [%],direction\n2,6,sideways\n2,-6,down\n2,6,\n", ["grade-table-value"] * 3, "sideways"),
    ("length [m],grade [%]\n2,-6\n", ["grade-table-length"], "2 m in 1 rows"),
    ("length [km],grade [%]\n", ["grade-table-length"], "0 rows"),
    ("1,2\n", ["csv-no-header"], "name the columns")])
def test_faults(tmp_path: Path, text: str, codes: list[str], words: str) -> None:
    with pytest.raises(RouteError) as caught:
        read_grade_table(write(tmp_path, text))
    assert [fault.code for fault in caught.value.faults] == codes
    assert words in str(caught.value)
    assert all(fault.remedy and fault.where for fault in caught.value.faults)
