# SPDX-License-Identifier: MIT
"""The lesson's page from its document: nothing lost in packing, nothing fetched, complete without scripts, answers filled."""

from __future__ import annotations

import re
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import descent.report
from descent.lesson.accuracy import STATED
from descent.report.lesson_pack import (
    BASE,
    CURVES,
    FIGURES,
    STATES,
    STEPS,
    STORY,
    outcomes_by_key,
    packed,
    packed_cells,
    packed_outcomes,
    unit_of,
    unpacked,
)
from descent.report.lesson_page import STATED_ERROR, lesson_files, render_lesson
from descent.report.lesson_script import questions
from descent.report.lesson_tables import gear_rows, mixed, sheets
from descent.report.lesson_tell import Teller
from descent.report.lesson_words import lesson_words
from descent.report.shown import shown_for
from descent.report.words import Words
from descent.units import UnitSystem
from lesson.lesson_sample import document, sample

FOLDER = Path(descent.report.__file__).parent


@pytest.fixture(scope="module")
def own() -> Words:
    return lesson_words("en")


@pytest.fixture(scope="module")
def small() -> dict[str, Any]:
    return document()


@pytest.fixture(scope="module")
def page(small: dict[str, Any], words: Words, own: Words) -> str:
    return render_lesson(small, words=words, say=own)


@pytest.fixture(scope="module")
def tell(small: dict[str, Any], words: Words, own: Words) -> Teller:
    return Teller(small, outcomes_by_key(small), shown_for("us", words), own)


def test_the_document_is_the_lesson(small: dict[str, Any]) -> None:
    """lesson.json says the core's numbers, to the step they are rounded to."""
    lesson = sample()
    assert small["schema"] == "descent-lesson/1" and len(small["outcomes"]) == len(lesson.outcomes)
    for item in small["outcomes"]:
        core = lesson.outcomes[tuple(item["at"])]
        assert item["state"] == core.state.name.lower()
        assert item["peak_temp_c"] == pytest.approx(core.peak_c, abs=0.05 + 1e-9)
        assert item["fade_kpa"] == pytest.approx(core.fade_kpa, abs=0.05 + 1e-9)
        assert item["energy"]["brakes_j"] == pytest.approx(core.energy_j["brakes_j"], abs=25001)
        assert item["curve"]["temp_c"] == pytest.approx(list(core.curve.temp_c), abs=0.05 + 1e-9)
        assert (item["story"]["limit_m"] is None) == (core.story.limit_m != core.story.limit_m)


@given(st.lists(st.none() | st.floats(0, 800), max_size=40))
def test_packing_loses_half_a_step_at_most(values: list[float | None]) -> None:
    found = unpacked(packed(values, 0.1, width=2), 0.1, width=2)
    for value, back in zip(values, found, strict=True):
        assert (back is None) == (value is None) and (value is None or abs(value - back) <= 0.05 + 1e-9)  # type: ignore[operator]


def test_what_does_not_fit_is_refused() -> None:
    assert unpacked(packed([(BASE**2 - 2) * 0.1, None], 0.1, width=2), 0.1, width=2)[1] is None
    for value in ((BASE**2 - 1) * 0.1, -1.0):
        with pytest.raises(ValueError, match="does not fit"):
            packed([value], 0.1, width=2)


def test_the_pack_is_the_document(small: dict[str, Any]) -> None:
    """Everything the page's script reads, decoded here by another hand, is what the document says."""
    pack = packed_outcomes(small)
    figures, stories = iter_of(pack["figures"], 3), iter_of(pack["stories"], 3)
    place = 0
    for item, state, kind in zip(small["outcomes"], pack["states"], pack["kinds"], strict=True):
        assert STATES[int(state)] == item["state"]
        for name in FIGURES:
            same(next(figures), item["energy"].get(name, item.get(name)), STEPS[unit_of(name)])
        for name in STORY if state != "0" else ():
            same(next(stories), item["story"][name], STEPS[unit_of(name)])
        control = small["axes"]["speed_mps"][item["at"][0]][item["at"][4]]
        for curve, there, varies in ((item["curve"], 1, int(kind) & 1), (item["worst"], int(kind) & 2, int(kind) & 4)):
            assert bool(there) == (curve is not None)
            for name in (CURVES if varies else CURVES[:2]) if there else ():
                step = pack["scales"][unit_of(name)]
                for value in curve[name]:
                    assert abs(unpacked(pack["curves"][place:place + 2], step, width=2)[0] - value) <= step / 2 + 1e-9
                    place += 2
            if there and not varies:
                assert curve["speed_mps"] == pytest.approx([control] * len(curve["speed_mps"]), abs=0.031)
    assert place == len(pack["curves"]) and next(figures, None) is None and next(stories, None) is None


def iter_of(text: str, width: int) -> Any:
    return iter([text[k:k + width] for k in range(0, len(text), width)])


def same(code: str, value: float | None, step: float) -> None:
    back = unpacked(code, step, width=3)[0]
    assert back is None if value is None else back == pytest.approx(value, abs=1e-6 * max(1.0, abs(value)))


def test_cells_are_told_in_the_grid_s_order(small: dict[str, Any]) -> None:
    cells = packed_cells(small)
    order = [(g, s, a, b, v, w) for g, s, a, b, v, w in product(range(3), range(2), range(3), range(2), range(2), range(2))]
    assert [cell for cell, digit in zip(order, cells, strict=True) if digit == "1"] == sorted(sample().readable)


def test_the_page_asks_for_nothing_and_is_small(page: str) -> None:
    assert not re.search(r"""(?:src|href)=["'](?!#)""", page) and "default-src &#39;none&#39;" in page
    assert "unsafe-eval" not in page and not re.search(r"<script>[^<]*https?:", page.replace("http://www.w3.org/2000/svg", ""))
    assert len(page.encode("utf-8")) < 1_500_000


def test_the_same_bytes_each_time(small: dict[str, Any], words: Words, own: Words) -> None:
    first = lesson_files(small, words=words, say=own)
    assert first == lesson_files(document(), words=words, say=own) and set(first) == {"lesson.html", "lesson.json"}


def test_every_word_is_used_and_every_key_exists(own: Words) -> None:
    texts = "".join(path.read_text(encoding="utf-8") for path in
                    [*FOLDER.glob("lesson_*.py"), FOLDER / "templates/lesson.html.jinja", FOLDER / "static/lesson.js"])
    asked = set(re.findall(r"""(?:\bt|say|own)\(\s*["']([\w.\-]+)["']""", texts))
    asked |= set(re.findall(r"""["'](js\.\w+|story\.\w+|where\.\w+|energy\.\w+)["']""", texts))
    assert asked <= set(own.table), asked - set(own.table)
    built = ("preset.", "adjustment.", "braking.", "state.", "energy.", "gears.", "q.", "story.", "js.", "sheet.", "notes.",
             "plot.")
    unused = {key for key in own.table if key not in asked and not key.startswith(built)}
    assert not unused


def test_the_script_takes_ten_minutes_and_answers_from_the_document(tell: Teller) -> None:
    found = questions(tell)
    assert sum(item.minutes for item in found) == 10
    assert all(item.answer and tuple(item.a) in tell.outcomes and tuple(item.b) in tell.outcomes for item in found)
    text = " ".join(part for item in found for part in item.answer)
    for name in ("right-gear", "one-too-high", "drag-all-the-way"):
        assert tell.shown.hot(tell.of(name)["peak_temp_c"]) in text, name
    assert "{" not in text


def test_another_document_gives_other_answers(tell: Teller, small: dict[str, Any]) -> None:
    """The answers are read, not typed: change the document and they follow."""
    key = tell.preset("one-too-high")
    other = {**tell.outcomes, key: {**tell.outcomes[key], "peak_temp_c": 123.4}}
    changed = Teller(small, other, tell.shown, tell.say)
    before, after = ("".join(questions(one)[2].answer) for one in (tell, changed))
    assert before != after and tell.shown.hot(123.4) in after


def test_the_sheets_mix_every_gear_and_answer_each(tell: Teller) -> None:
    found = sheets(tell)
    assert sorted(row.gear for row in found.rows) == sorted(found.gears) and len(found.think) == len(found.think_answers)
    for count in range(2, 10):
        assert sorted(mixed(count)) == list(range(count)) and mixed(count) != list(range(count))
    assert all("{" not in text for text in found.think_answers)


def test_without_scripts_the_gears_are_all_there(page: str, tell: Teller) -> None:
    assert page.count('class="gears') == 2
    for row in gear_rows(tell):
        for cell in row.cells:
            assert f">{cell}<" in page
    for text in tell.story(tell.preset("everything-wrong")):
        assert text in page


def test_the_stated_error_is_the_core_s() -> None:
    assert STATED_ERROR == STATED


def test_metric_reads_in_metric(words: Words, own: Words) -> None:
    page = render_lesson(document(UnitSystem.METRIC), words=words, say=own)
    visible = re.sub(r"<script.*?</script>|<style.*?</style>", "", page, flags=re.DOTALL).split('id="notes"')[0]
    assert "km/h" in visible and "\u00a0mph" not in visible and "°F" not in visible and "\u00a0psi" not in visible
