# SPDX-License-Identifier: MIT
"""Leaflet's script, style and licence from the installed package: the one place that knows where they are."""

from __future__ import annotations

import hashlib
import importlib.metadata
import re
from dataclasses import dataclass
from importlib import resources

_PACKAGE = "js_lib_leaflet"
_DISTRIBUTION = "django-js-lib-leaflet"


@dataclass(frozen=True)
class LeafletAssets:
    """Texts ready to stand inside a page. sha256_js, sha256_css: of the files as installed."""

    js: str
    css: str
    licence: str
    sha256_js: str
    sha256_css: str


def leaflet_assets() -> LeafletAssets:
    """Read Leaflet from its package; FileNotFoundError when the package does not hold the two files."""
    folder = resources.files(_PACKAGE).joinpath("static", _PACKAGE)
    js, css = folder.joinpath("leaflet.js").read_bytes(), folder.joinpath("leaflet.css").read_bytes()
    licence = importlib.metadata.distribution(_DISTRIBUTION).read_text("LICENSE") or ""
    return LeafletAssets(
        # the source map and the pictures are files beside the style sheet: one file must not ask for them
        js=re.sub(r"\n?//# sourceMappingURL=\S*\s*$", "\n", js.decode("utf-8")),
        css=re.sub(r"url\([^)]*\)", "none", css.decode("utf-8")),
        licence=licence.replace("--", "- -"),
        sha256_js=hashlib.sha256(js).hexdigest(),
        sha256_css=hashlib.sha256(css).hexdigest(),
    )
