# SPDX-License-Identifier: MIT
"""`descent lesson` as a user meets it: two files, exit statuses, sentences, nothing half-written."""

from __future__ import annotations

import json
from pathlib import Path

from faces.command import Run


def test_a_lesson_is_two_files_and_a_table(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "class"
    done = run("lesson", "--vehicle", "straight-truck", "--gross", "14t", "--grade", "8%", "--length", "4km", "--units",
               "metric", "--out", str(out))
    assert done.returncode == 0, done.stderr
    assert {item.name for item in out.iterdir()} == {"lesson.html", "lesson.json"}
    document = json.loads((out / "lesson.json").read_text(encoding="utf-8"))
    assert document["schema"] == "descent-lesson/1" and document["hill"]["invented"] is True
    assert (out / "lesson.html").stat().st_size < 1_500_000
    lines = done.stdout.splitlines()
    assert lines[-1].endswith("lesson.html") and len(lines) == 2 + len(document["axes"]["gear"])
    assert " km/h" in lines[1] and "Traceback" not in done.stderr


def test_bad_input_is_one_sentence_each_and_no_file(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "none"
    for arguments, word in ((("--vehicle", "dump-truck"), "gross"), (("--vehicle", "no-such", "--gross", "20t"), "no-such"),
                            (("--vehicle", "dump-truck", "--gross", "26t", "--grade", "60%"), "range"),
                            (("--vehicle", "motorcoach", "--gross", "20t", "--grade", "2%", "--length", "1km"), "steeper")):
        done = run("lesson", *arguments, "--out", str(out))
        assert done.returncode == 2 and word in done.stderr and "Traceback" not in done.stderr, done.stderr
    assert not out.exists()
