# SPDX-License-Identifier: MIT
"""What every page is made with: the templates, the package's own style sheets and scripts, the security policy."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from importlib import resources

import jinja2


def templates() -> jinja2.Environment:
    """The templates of the package; every text put into them is escaped."""
    return jinja2.Environment(loader=jinja2.PackageLoader("descent.report", "templates"), autoescape=True,
                              trim_blocks=True, lstrip_blocks=True, undefined=jinja2.StrictUndefined)


def static(name: str) -> str:
    """One of the package's own style sheets or scripts."""
    return resources.files("descent.report").joinpath("static", name).read_text(encoding="utf-8")


def policy(scripts: Sequence[str]) -> str:
    """A content security policy that lets nothing be fetched and only these scripts of the page run."""
    hashes = " ".join("'sha256-" + base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii") + "'"
                      for script in scripts) or "'none'"
    return (f"default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src {hashes}; "
            "base-uri 'none'; form-action 'none'")
