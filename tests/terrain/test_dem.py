# SPDX-License-Identifier: MIT
"""Elevation files: units, order, and one clear fault for each kind of bad file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import rasterio

from descent.errors import DemError
from descent.terrain.dem import open_dems


def plane(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return 500 + 0.1 * x + 0.0 * y


def test_finest_file_comes_first(write_dem: Callable[..., str]) -> None:
    coarse = write_dem(plane, name="a_coarse.tif", cell_m=50.0)
    fine = write_dem(plane, name="b_fine.tif", cell_m=10.0)
    dems = open_dems([coarse, fine])
    assert [dem.name for dem in dems] == ["b_fine.tif", "a_coarse.tif"]
    assert [round(dem.cell_m, 6) for dem in dems] == [10.0, 50.0]


def test_folder_stands_for_its_files(write_dem: Callable[..., str], tmp_path: Path) -> None:
    write_dem(plane, name="one.tif")
    write_dem(plane, name="two.tif", cell_m=20.0)
    (tmp_path / "readme.txt").write_text("not a raster")
    assert len(open_dems([str(tmp_path)])) == 2


# Exact by definition: international foot 0.3048 m; US survey foot 1200/3937 m.
@pytest.mark.parametrize(("unit", "metres"), [("", 1.0), ("metre", 1.0), ("ft", 0.3048), ("US survey foot", 1200 / 3937)])
def test_band_unit(write_dem: Callable[..., str], unit: str, metres: float) -> None:
    assert open_dems([write_dem(plane, unit=unit)])[0].unit_m == pytest.approx(metres, rel=1e-12)


def test_vertical_axis_of_the_system_gives_the_unit(write_dem: Callable[..., str]) -> None:
    path = write_dem(plane, crs="EPSG:26913+6360")            # NAVD88 height in US survey feet
    assert open_dems([path])[0].unit_m == pytest.approx(1200 / 3937, rel=1e-9)


def codes(error: pytest.ExceptionInfo[DemError]) -> set[str]:
    return {fault.code for fault in error.value.faults}


def test_every_bad_path_is_named(tmp_path: Path, write_dem: Callable[..., str]) -> None:
    junk = tmp_path / "junk.tif"
    junk.write_text("hello")
    empty = tmp_path / "empty"
    empty.mkdir()
    unknown = write_dem(plane, name="unit.tif", unit="fathom")
    with pytest.raises(DemError) as error:
        open_dems([str(tmp_path / "absent.tif"), str(junk), str(empty), unknown])
    assert codes(error) == {"dem-missing", "dem-unreadable", "dem-folder-empty", "dem-unit-unknown"}
    assert "absent.tif" in str(error.value) and "Traceback" not in str(error.value)


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
def test_no_coordinate_system(tmp_path: Path) -> None:
    path = tmp_path / "bare.tif"
    with rasterio.open(path, "w", driver="GTiff", width=4, height=4, count=1, dtype="float32") as out:
        out.write(np.zeros((1, 4, 4), dtype="float32"))
    with pytest.raises(DemError) as error:
        open_dems([str(path)])
    assert codes(error) == {"dem-no-crs"}


def test_no_file_at_all() -> None:
    with pytest.raises(DemError) as error:
        open_dems([])
    assert codes(error) == {"dem-none"}
