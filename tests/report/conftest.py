# SPDX-License-Identifier: MIT
"""What the report's tests share: the invented plan, its refusal, its relief and the English words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from descent.report.shown import Shown, shown_for
from descent.report.words import Words, load_words
from report.make_document import FakeHillshade, make_document, make_hillshade, make_infeasible
from report.visit import Browser, running_chromium


@pytest.fixture(scope="session")
def words() -> Words:
    return load_words("en")


@pytest.fixture
def document() -> dict[str, Any]:
    return make_document()


@pytest.fixture
def refusal() -> dict[str, Any]:
    return make_infeasible()


@pytest.fixture(scope="session")
def hillshade() -> FakeHillshade:
    return make_hillshade(make_document())


@pytest.fixture(scope="session")
def us(words: Words) -> Shown:
    return shown_for("us", words)


@pytest.fixture(scope="session")
def metric(words: Words) -> Shown:
    return shown_for("metric", words)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    with running_chromium() as program:
        yield program


@pytest.fixture
def browser(chromium: Browser) -> Iterator[Browser]:
    """The one Chromium, with no page open and nothing kept of earlier tests."""
    yield chromium
    chromium.clear()
