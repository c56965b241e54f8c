# SPDX-License-Identifier: MIT
"""Leaflet is the one we know, byte for byte, and asks for no file of its own."""

from __future__ import annotations

from descent.report.leaflet_assets import leaflet_assets

# Of the two files in Leaflet 1.9.4, the same in the package and in its original distribution.
JS = "db49d009c841f5ca34a888c96511ae936fd9f5533e90d8b2c4d57596f4e5641a"
CSS = "a7837102824184820dfa198d1ebcd109ff6d0ff9a2672a074b9a1b4d147d04c6"


def test_the_files_are_known() -> None:
    assets = leaflet_assets()
    assert (assets.sha256_js, assets.sha256_css) == (JS, CSS)


def test_nothing_to_fetch() -> None:
    assets = leaflet_assets()
    assert "sourceMappingURL" not in assets.js
    assert "url(" not in assets.css
    assert "</script" not in assets.js


def test_licence_comes_along_and_fits_a_comment() -> None:
    licence = leaflet_assets().licence
    assert "Redistribution and use in source and binary forms" in licence
    assert "--" not in licence
