# SPDX-License-Identifier: MIT
"""The words of the debrief: those of the plan, with its own beside them."""

from __future__ import annotations

import tomllib
from importlib import resources

from descent.report.words import Words, flattened, load_words


def debrief_words(language: str) -> Words:
    """The words of `words_<language>.toml` and `debrief_words_<language>.toml` together."""
    text = resources.files("descent.report").joinpath(f"debrief_words_{language}.toml").read_text(encoding="utf-8")
    return Words(language, {**load_words(language).table, **flattened(tomllib.loads(text))})
