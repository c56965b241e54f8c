# SPDX-License-Identifier: MIT
"""The address of a server of map pictures: one server, named outright."""

from __future__ import annotations

import re

import pytest

from descent.errors import RequestError
from descent.report.html import render_trip
from descent.report.tiles import tile_source
from descent.report.words import Words
from report.make_document import make_document

GOOD = "https://tiles.example:8443/road/{z}/{x}/{y}.png?style=plain"


def policy(page: str) -> str:
    found = re.search(r'Content-Security-Policy" content="([^"]*)"', page)
    assert found is not None
    return found[1].replace("&#39;", "'")


def test_origin_of_an_address() -> None:
    source = tile_source(GOOD, credit="Survey office")
    assert (source.origin, source.host, source.credit) == ("https://tiles.example:8443", "tiles.example", "Survey office")


@pytest.mark.parametrize(
    "bad",
    [
        "http://tiles.example/{z}/{x}/{y}.png",  # not over a safe line
        "https://{s}.tiles.example/{z}/{x}/{y}.png",  # more than one server
        "https://tiles.example/{z}/{x}.png",
        "https://tiles.example/{z}/{x}/{y}/{key}.png",
        "https://tiles.example; script-src *//{z}/{x}/{y}",  # a policy of its own
        "https://tiles.example/{z}/{x}/{y}.png\" onload=\"x",
        "https://user@tiles.example/{z}/{x}/{y}.png",
        "https://tiles.example'/{z}/{x}/{y}",
        "javascript:alert(1)//{z}{x}{y}",
        "file:///{z}/{x}/{y}.png",
        "",
    ],
)
def test_addresses_that_are_refused(bad: str) -> None:
    with pytest.raises(RequestError, match="map pictures"):
        tile_source(bad)


def test_the_policy_names_that_server_only_when_asked(words: Words) -> None:
    without = render_trip(make_document(), hillshade=None, words=words)
    assert "img-src data:;" in policy(without) and 'id="tiles"' not in without
    with_tiles = render_trip(make_document(), hillshade=None, words=words, tiles=tile_source(GOOD))
    assert "img-src data: https://tiles.example:8443;" in policy(with_tiles)
    assert policy(with_tiles).count("http") == 1 and "default-src 'none'" in policy(with_tiles)
