# SPDX-License-Identifier: MIT
"""The lesson's own wording, beside the page's common words."""

from __future__ import annotations

from descent.report.words import Words, words_of


def lesson_words(language: str) -> Words:
    """The lesson's words of a language code such as "en"; FileNotFoundError when there is no such table."""
    return words_of(language, "lesson_words")
