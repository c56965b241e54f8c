# SPDX-License-Identifier: MIT
"""Every word a reader of the page, card, files or terminal sees, by key, one table per language.

The words themselves stand in `words_<language>.toml`; a new language is one more file with the same keys, and one of
the phrases that come from vehicle tables and other layers.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from typing import Any


@dataclass(frozen=True)
class Words:
    """The wording of one language: `words("card.document", route=...)` gives the sentence with its values
    filled in."""

    language: str
    table: Mapping[str, str]
    book: tuple[tuple[re.Pattern[str], str], ...] = ()

    def said(self, text: object) -> str:
        """A phrase of another layer (a vehicle's title, a note on the heights) in this language; one the phrase book
        does not know stays as it is."""
        plain = str(text)
        for pattern, template in self.book:
            match = pattern.fullmatch(plain)
            if match is not None:
                return template.format(**{name: self.said(part) for name, part in match.groupdict().items()})
        return plain

    def __call__(self, key: str, /, **values: object) -> str:
        """The words of `key`; KeyError when the table has no such key."""
        return self.table[key].format(**values)

    def one_of(self, key: str, case: str, /, **values: object) -> str:
        """The words of `key.case`, or of `key.other` (told `case`) when the table has no such case."""
        chosen = f"{key}.{case}" if f"{key}.{case}" in self.table else f"{key}.other"
        return self(chosen, case=case, **values)

    def count(self, key: str, number: int, /, **values: object) -> str:
        """The words of `key.zero`, `key.one` or `key.many`."""
        case = "zero" if number == 0 else "one" if number == 1 else "many"
        return self(f"{key}.{case}", number=number, **values)

    def lines(self, key: str, /, **values: object) -> tuple[str, ...]:
        """The list of sentences under `key`, in order, with the values filled in."""
        found: list[str] = []
        while (item := f"{key}.{len(found) + 1}") in self.table:
            found.append(self.table[item].format(**values))
        return tuple(found)


def load_words(language: str) -> Words:
    """The words of a language code such as "en"; FileNotFoundError when there is no such table."""
    return words_of(language, "words")


def words_of(language: str, *names: str) -> Words:
    """The tables `<name>_<language>.toml` as one, with the language's phrase book; FileNotFoundError as `word_table`."""
    table = {key: text for name in names for key, text in word_table(name, language).items()}
    return Words(language, table, phrase_book(language))


def word_table(name: str, language: str) -> dict[str, str]:
    """The dotted keys of `<name>_<language>.toml`; FileNotFoundError when there is no such table."""
    text = resources.files(__package__).joinpath(f"{name}_{language}.toml").read_text(encoding="utf-8")
    return flattened(tomllib.loads(text))


def phrase_book(language: str) -> tuple[tuple[re.Pattern[str], str], ...]:
    """The phrases of `phrases_<language>.toml`: English, which may hold {names} for what differs, and its
    translation. English needs none."""
    path = resources.files(__package__).joinpath(f"phrases_{language}.toml")
    if not path.is_file():
        return ()
    pairs = tomllib.loads(path.read_text(encoding="utf-8"))["phrase"]
    return tuple((_pattern(english), translation) for english, translation in pairs)


def _pattern(english: str) -> re.Pattern[str]:
    parts = re.split(r"{(\w+)}", english)
    return re.compile("".join(re.escape(p) if i % 2 == 0 else f"(?P<{p}>.+?)" for i, p in enumerate(parts)))


def flattened(table: Mapping[str, Any]) -> dict[str, str]:
    """A nested table as dotted keys; lists are numbered from 1."""
    return dict(_flatten(table, ""))


def _flatten(branch: Mapping[str, Any], prefix: str) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    for key, value in branch.items():
        name = f"{prefix}{key}"
        if isinstance(value, Mapping):
            found += _flatten(value, f"{name}.")
        elif isinstance(value, list):
            found += [(f"{name}.{number}", str(item)) for number, item in enumerate(value, start=1)]
        else:
            found.append((name, str(value)))
    return found
