# SPDX-License-Identifier: MIT
"""Elevation from http addresses by range request: fine, slow, failing, stalling, truncated and wrong content."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.shutil import copy as copy_raster

from descent.errors import DemError
from descent.route.line import Route
from descent.terrain import raster_access
from descent.terrain.dem import open_dems
from descent.terrain.sample import CrossSamples, sample_across

from .local_server import Served, serving


@pytest.fixture
def cog(write_dem: Callable[..., str], tmp_path: Path) -> Path:
    """A cloud-optimised GeoTIFF of about 1 MB of rough ground."""
    noise = np.random.default_rng(5)
    plain = write_dem(lambda x, y: 900 + 0.05 * x + noise.normal(0, 1, np.shape(x)), width_m=8000.0, height_m=4000.0)
    folder = tmp_path / "served"
    folder.mkdir()
    copy_raster(plain, folder / "ground.tif", driver="COG", blocksize=128, overviews="NONE")
    return folder / "ground.tif"


@pytest.fixture
def road(line_over: Callable[..., Route]) -> Route:
    s = np.linspace(0.0, 1.0, 250)
    return line_over(300 + 3000 * s, 1500 + 300 * np.sin(5 * s))


@pytest.fixture(autouse=True)
def hasty(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(raster_access, "NETWORK", {
        **raster_access.NETWORK, "GDAL_HTTP_CONNECTTIMEOUT": 1, "GDAL_HTTP_TIMEOUT": 1, "GDAL_HTTP_RETRY_DELAY": 0.05})


def read(served: Served, road: Route, *, name: str = "ground.tif") -> CrossSamples:
    return sample_across(open_dems([f"{served.address}/{name}"]), road.lon, road.lat)


@pytest.mark.parametrize("manner", ["fine", "slow"])
def test_heights_are_those_of_the_file(cog: Path, road: Route, manner: str) -> None:
    expected = sample_across(open_dems([str(cog)]), road.lon, road.lat)
    with serving(cog.parent, manner) as served:
        got = read(served, road)
    assert np.array_equal(got.height_m, expected.height_m)
    assert {path for _, path, _ in served.asked} == {"/ground.tif"}            # no listing, no guesses beside it
    assert served.bytes_sent < 0.8 * cog.stat().st_size                        # a part, not the file


@pytest.mark.parametrize(("manner", "reason"), [
    ("failing", "HTTP status 500"), ("stalling", ""), ("truncated", ""), ("no-ranges", "")])
def test_a_bad_server_is_one_sentence(cog: Path, road: Route, manner: str, reason: str) -> None:
    with serving(cog.parent, manner) as served, pytest.raises(DemError) as error:
        read(served, road)
    fault, = error.value.faults
    assert fault.code == "dem-address"
    assert fault.where == f"{served.address}/ground.tif"
    assert reason in fault.value
    assert "range requests" in fault.remedy and "\n" not in fault.sentence()
    assert error.value.exit_code == 2


def test_a_failing_server_is_asked_again(cog: Path, road: Route) -> None:
    with serving(cog.parent, "failing") as served, pytest.raises(DemError):
        read(served, road)
    assert len(served.asked) >= 3


def test_a_page_instead_of_a_raster(cog: Path, road: Route) -> None:
    (cog.parent / "page.tif").write_text("<html><body>please sign in</body></html>")
    with serving(cog.parent) as served:
        for name in ("page.tif", "absent.tif"):
            with pytest.raises(DemError) as error:
                read(served, road, name=name)
            assert [fault.code for fault in error.value.faults] == ["dem-address"]


def test_what_is_secret_in_an_address_is_not_printed(cog: Path) -> None:
    with serving(cog.parent) as served:
        host = served.address.removeprefix("http://")
        with pytest.raises(DemError) as error:
            open_dems([f"http://user:sesame@{host}/absent.tif?token=sesame"])
    assert "sesame" not in str(error.value)
    assert f"http://{host}/absent.tif" in str(error.value)


def test_a_server_that_is_not_there() -> None:
    with pytest.raises(DemError) as error:
        open_dems(["http://127.0.0.1:9/ground.tif"])
    assert error.value.faults[0].code == "dem-address"


def test_other_schemes_are_refused() -> None:
    with pytest.raises(DemError) as error:
        open_dems(["s3://bucket/ground.tif", "file:///etc/passwd"])
    assert [fault.code for fault in error.value.faults] == ["dem-scheme", "dem-scheme"]


def test_tiles_at_addresses_are_joined(cog: Path, road: Route) -> None:
    with rasterio.open(cog) as source:
        to = source.transform
        for name, first, last in (("west.tif", 0, 150), ("east.tif", 150, 800)):
            part = {**source.profile, "width": last - first, "driver": "GTiff",
                    "transform": rasterio.Affine(to.a, to.b, to.c + first * to.a, to.d, to.e, to.f)}
            with rasterio.open(cog.parent / name, "w", **part) as out:
                out.write(source.read(window=((0, source.height), (first, last))))
    whole = sample_across(open_dems([str(cog)]), road.lon, road.lat)
    with serving(cog.parent) as served:
        dems = open_dems([f"{served.address}/west.tif", f"{served.address}/east.tif"])
        parts = sample_across(dems, road.lon, road.lat)
    assert np.allclose(parts.height_m, whole.height_m, atol=1e-3)
    assert set(parts.file.tolist()) == {0, 1}
