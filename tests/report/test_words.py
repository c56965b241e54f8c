# SPDX-License-Identifier: MIT
"""The wording tables: every key the code asks for is there, and none is there for nothing."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import descent.report
from descent.report.words import Words, load_words

FOLDER = Path(descent.report.__file__).parent
# Keys are asked for as w("..."), words("..."), ...one_of("..."), and a few are put together:
# "table.{name}.{column}".
ASKED = re.compile(r"""(?:\bw|words|one_of|lines|count)\(\s*(f?)["']([\w.{}"\-\[\]']+?)["'](?:\s*~|[,)])""")
BUILT = (
    "table.",
    "given.",
    "energy.",
    "notes.",
    "landmark.",
    "downgrade.",
    "readout.",
    "side.",
    "map.",
    "structure.",
    "stop_label.",
    "stop_order.",
    "stop_clause.",
    "stop.",
    "place.",
    "sign.",
    "road.",
    "level.",
    "card.stop.",
    "card.head.",
    "verdict.",
    "terminal.",
    "strip.",
    "doubt.",
    "usable.",
    "usable_short.",
    "side_short.",
    "slope.",
    "slower.",
    "taken.",
    "brief.",
    "leg.",
    "compass.",
    "number.",
    "strip.row.",
    "cold_wet.",
    "replan.",
)


def asked_for() -> set[str]:
    texts = [
        path.read_text(encoding="utf-8")
        for path in [*FOLDER.glob("*.py"), *FOLDER.glob("templates/*.jinja")]
        if path.name not in ("sentences.py", "document.py", "vehicle_assumptions.py", "failure_words.py", "doubt_blocks.py")
        and not path.name.startswith(("debrief", "compare"))  # words of their own: their own tests
    ]
    return {key for text in texts for is_built, key in ASKED.findall(text) if not is_built and "{" not in key}


def test_every_key_asked_for_has_words(words: Words) -> None:
    missing = {
        key
        for key in asked_for()
        if key not in words.table and not any(known.startswith(f"{key}.") for known in words.table)
    }
    assert not {key for key in missing if not key.endswith(".")}


def test_no_words_nobody_asks_for(words: Words) -> None:
    asked = asked_for()
    unused = {
        key
        for key in words.table
        if key not in asked
        and not any(key.startswith(f"{one}.") for one in asked)
        and not key.startswith(BUILT)
    }
    texts = "".join(path.read_text(encoding="utf-8") for path in FOLDER.glob("*.py"))
    assert not {key for key in unused if f'"{key}"' not in texts}


def test_languages_agree() -> None:
    """Each language has the same keys, and the same values are filled in."""
    english = load_words("en").table
    for path in FOLDER.glob("words_*.toml"):
        other = load_words(path.stem.removeprefix("words_")).table
        assert other.keys() == english.keys(), path.name
        for key, text in other.items():
            assert set(re.findall(r"{(\w+)}", text)) == set(re.findall(r"{(\w+)}", english[key])), (
                f"{path.name}: {key}"
            )


def test_values_are_filled_in_as_they_are() -> None:
    words = Words("xx", {"a": "on {name}"})
    assert words("a", name="{0} <b>") == "on {0} <b>"


def test_unknown_cases_and_lists() -> None:
    words = Words("xx", {"kind.a": "A", "kind.other": "({case})", "list.1": "one", "list.2": "two"})
    assert words.one_of("kind", "a") == "A"
    assert words.one_of("kind", "b") == "(b)"
    assert words.lines("list") == ("one", "two")


def test_missing_words_are_an_error(words: Words) -> None:
    with pytest.raises(KeyError):
        words("no.such.key")
