# SPDX-License-Identifier: MIT
"""One Chromium for every test that opens a page, and a page opened in it with what it asked for and complained about."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

PROGRAM = shutil.which("chromium")
ARGUMENTS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
WIDTHS = (390, 768, 1280)
# How much a page keeps for its next visit, counted and then thrown away.
KEPT = """() => {
  const kept = localStorage.length + sessionStorage.length + document.cookie.length;
  localStorage.clear();
  sessionStorage.clear();
  return kept;
}"""


class Browser:
    """A running Chromium. Visits with the same options are tabs of one window, about half the work of a window each; none
    finds anything of an earlier one, for `clear` closes the tabs and sees that no page kept anything."""

    def __init__(self, running: Any) -> None:
        self._running = running
        self._profiles: dict[tuple[tuple[str, object], ...], Any] = {}
        self._tabs: list[tuple[Any, bool]] = []

    def without_a_past(self) -> Browser:
        """The same program with profiles that nobody has used, and nothing in their caches."""
        other = Browser(self._running)
        other._tabs = self._tabs
        return other

    def tab(self, *, width: int, **options: Any) -> Any:
        """An empty tab of a window this wide."""
        key = tuple(sorted(options.items()))
        if key not in self._profiles:
            self._profiles[key] = self._running.new_context(**options)
            self._profiles[key].new_page()                       # stays open, and with it the window
        page = self._profiles[key].new_page()
        page.set_viewport_size({"width": width, "height": 900})
        self._tabs.append((page, options.get("java_script_enabled", True)))
        return page

    def clear(self) -> None:
        """Close every tab. Fails where a page kept something for its next visit."""
        kept = [page.url for page, runs_scripts in self._tabs if runs_scripts and page.evaluate(KEPT)]
        for page, _ in self._tabs:
            page.close()
        self._tabs.clear()
        for profile in self._profiles.values():
            profile.clear_cookies()
        assert kept == [], "pages that keep something for their next visit"


@contextmanager
def running_chromium() -> Iterator[Browser]:
    """The installed Chromium, ended afterwards; where there is none the test skips, or fails if REQUIRE_BROWSER is 1."""
    if PROGRAM is None:
        reason = "Chromium is not installed: sudo apt install chromium"
        if os.environ.get("REQUIRE_BROWSER") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    sync_api = pytest.importorskip("playwright.sync_api")
    with sync_api.sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=PROGRAM, args=ARGUMENTS)
        yield Browser(running)
        running.close()


class Visit:
    """An open page with everything it asked for and complained about."""

    def __init__(self, browser: Browser, path: Path, *, width: int = 1280, **options: Any) -> None:
        self.requests: list[str] = []
        self.complaints: list[str] = []
        self.page = browser.tab(width=width, **options)
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.on("console", lambda message: self.complaints.append(message.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.goto(path.as_uri())
        self.page.wait_for_load_state()

    def fetched(self) -> list[str]:
        """What was asked for, pictures that stand in the page itself left out."""
        return [url for url in self.requests if not url.startswith("data:")]
