# SPDX-License-Identifier: MIT
"""What every one-file page needs: templates, style sheets and scripts of the package, and a policy that fetches nothing."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from importlib import resources

import jinja2

HEAD_SCRIPT = 'document.documentElement.classList.add("js");'


def environment() -> jinja2.Environment:
    """Templates of the package, everything escaped, a missing value an error."""
    return jinja2.Environment(loader=jinja2.PackageLoader("descent.report", "templates"), autoescape=True,
                              trim_blocks=True, lstrip_blocks=True, undefined=jinja2.StrictUndefined)


def static_text(name: str) -> str:
    """A style sheet or script of the package."""
    return resources.files("descent.report").joinpath("static", name).read_text(encoding="utf-8")


def content_policy(scripts: Sequence[str], *, pictures: str = "") -> str:
    """A content security policy that lets nothing be fetched, but pictures of one origin if it is named, and only these
    scripts run."""
    hashes = " ".join("'sha256-" + base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii") + "'"
                      for script in scripts) or "'none'"
    return (f"default-src 'none'; img-src {' '.join(part for part in ('data:', pictures) if part)}; style-src 'unsafe-inline'; script-src {hashes}; "
            "base-uri 'none'; form-action 'none'")
