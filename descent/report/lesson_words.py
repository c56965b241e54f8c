# SPDX-License-Identifier: MIT
"""The lesson's own wording, beside the page's common words."""

from __future__ import annotations

import tomllib
from importlib import resources

from descent.report.words import Words, flattened


def lesson_words(language: str) -> Words:
    """The lesson's words of a language code such as "en"; FileNotFoundError when there is no such table."""
    text = resources.files(__package__).joinpath(f"lesson_words_{language}.toml").read_text(encoding="utf-8")
    return Words(language, flattened(tomllib.loads(text)))
