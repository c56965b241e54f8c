# SPDX-License-Identifier: MIT
"""The words of the debrief: those of the plan, with its own beside them."""

from __future__ import annotations

from descent.report.words import Words, words_of


def debrief_words(language: str) -> Words:
    """The words of `words_<language>.toml` and `debrief_words_<language>.toml` together."""
    return words_of(language, "words", "debrief_words")
