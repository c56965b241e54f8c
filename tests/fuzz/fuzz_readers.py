# SPDX-License-Identifier: MIT
"""Coverage-guided fuzzing of every reader: `python tests/fuzz/fuzz_readers.py TARGET [SECONDS]` (needs `pip install atheris`).

TARGET is a key of fuzz_targets.TARGETS, or `all` for each in turn. It starts from small good files and the kept
corpus; a finding is written to tests/fuzz/crash-*, to be mended and then kept in tests/fuzz/corpus/TARGET/, which
tests/fuzz/test_corpus.py reads on every run. Elevation files are mutated too, but the raster library itself is not
instrumented.
"""

from __future__ import annotations

import importlib
import pkgutil
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
INSTRUMENTED = ["descent.route", "descent.vehicle", "descent.units", "descent.request"]


def seeds(target: str, folder: Path) -> None:
    """Small good files of a target's format, and what was found interesting before."""
    import fuzz_targets

    from route import samples
    suffix = fuzz_targets.TARGETS[target][0]
    kept = HERE / "corpus" / target
    for path in sorted(kept.iterdir()) if kept.is_dir() else []:
        (folder / path.name).write_bytes(path.read_bytes())
    if target in fuzz_targets.ROUTE_FORMS or target.startswith("places-"):
        with tempfile.TemporaryDirectory() as good:
            (folder / "good").write_bytes(samples.write_all(Path(good), samples.winding(8))[suffix].read_bytes())
    elif target == "vehicle":
        from importlib import resources
        for table in (resources.files("descent.vehicle") / "tables").iterdir():
            (folder / table.name).write_bytes(table.read_bytes())
    elif target in fuzz_targets.DEM_FORMS:
        (folder / "good").write_bytes(raster(suffix))
    else:
        (folder / "good").write_bytes(b"length [mi],grade [%]\n1.5,-6\n" if target == "grades" else b"80,000 lb")


def raster(suffix: str) -> bytes:
    """A tiny elevation file."""
    import numpy as np
    import rasterio
    if suffix == "vrt":
        return (b'<VRTDataset rasterXSize="9" rasterYSize="9"><SRS>EPSG:4326</SRS><GeoTransform>7,.01,0,46.05,0,-.01'
                b'</GeoTransform><VRTRasterBand dataType="Int16" band="1"><Offset>5</Offset></VRTRasterBand></VRTDataset>')
    if suffix == "asc":
        return b"ncols 3\nnrows 3\nxllcorner 7\nyllcorner 46\ncellsize .05\nNODATA_value -9\n1 2 3\n4 5 6\n7 8 -9\n"
    if suffix == "hgt":
        return b"\x05\x05" * 1201 * 1201
    with rasterio.MemoryFile() as memory:
        with memory.open(driver="GTiff", width=9, height=9, count=1, dtype="int16", crs="EPSG:4326",
                         transform=rasterio.Affine(0.01, 0, 7, 0, -0.01, 46.05)) as out:
            out.write(np.arange(81, dtype="int16").reshape(9, 9), 1)
        return bytes(memory.read())


def fuzz(target: str, seconds: int) -> None:
    """Run one target; ends the process."""
    import atheris
    with atheris.instrument_imports(include=INSTRUMENTED):
        import descent.route
        for module in pkgutil.iter_modules(descent.route.__path__):      # readers load only when a file needs them
            importlib.import_module(f"descent.route.{module.name}")
        import fuzz_targets
    with tempfile.TemporaryDirectory() as corpus, tempfile.TemporaryDirectory(dir=_memory()) as place:
        seeds(target, Path(corpus))
        atheris.Setup([sys.argv[0], f"-max_total_time={seconds}", "-timeout=20", "-rss_limit_mb=3000",
                       "-max_len=8192" if target != "hgt" else "-max_len=3000000", "-print_final_stats=1",
                       f"-artifact_prefix={HERE}/crash-{target}-", corpus],
                      lambda data: fuzz_targets.one_input(target, data, Path(place)) and None)
        atheris.Fuzz()


def _memory() -> str | None:
    return "/dev/shm" if Path("/dev/shm").is_dir() else None


def main() -> None:
    """TARGET [SECONDS]."""
    target, seconds = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 60
    if target != "all":
        fuzz(target, seconds)
        return
    import fuzz_targets
    for name in fuzz_targets.TARGETS:
        done = subprocess.run([sys.executable, __file__, name, str(seconds)], check=False, capture_output=True, text=True)
        runs = next((line.split()[-1] for line in done.stderr.splitlines() if "number_of_executed_units" in line), "?")
        print(f"{name:16s} {runs:>9s} runs  status {done.returncode}", flush=True)
        if done.returncode != 0:
            print("\n".join(done.stderr.splitlines()[-40:]), flush=True)


if __name__ == "__main__":
    sys.path[:0] = [str(HERE.parent), str(HERE)]
    main()
