# SPDX-License-Identifier: MIT
"""A small client of Firefox's own remote protocol (Marionette), enough to open a page, run a script, print."""

from __future__ import annotations

import base64
import json
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

PROGRAM = shutil.which("firefox-esr") or shutil.which("firefox")
_QUIET = {
    "app.update.enabled": False,
    "browser.shell.checkDefaultBrowser": False,
    "datareporting.policy.dataSubmissionEnabled": False,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
    "toolkit.telemetry.reportingpolicy.firstRun": False,
}


class Firefox:
    """One session: commands go out as "length:json", answers come back alike."""

    def __init__(self, line: socket.socket) -> None:
        self._line, self._count, self._rest = line, 0, b""
        self._read()  # the greeting
        self.send("WebDriver:NewSession", {})

    def send(self, command: str, values: dict[str, Any]) -> Any:
        """The answer's value. Raises RuntimeError with what Firefox complains of."""
        self._count += 1
        text = json.dumps([0, self._count, command, values]).encode()
        self._line.sendall(str(len(text)).encode() + b":" + text)
        _, _, fault, answer = self._read()
        if fault is not None:
            raise RuntimeError(f"{command}: {fault.get('message')}")
        return answer.get("value") if isinstance(answer, dict) else answer

    def open(self, path: Path, *, width: int = 1280) -> None:
        """Go to a page in a window of this width and wait until it is loaded."""
        self.send("WebDriver:SetWindowRect", {"width": width, "height": 900})
        self.send("WebDriver:Navigate", {"url": path.as_uri()})

    def run(self, script: str) -> Any:
        """What a script's `return` gives."""
        return self.send("WebDriver:ExecuteScript", {"script": script, "args": []})

    def press(self, css: str, keys: str) -> None:
        """Type keys into an element."""
        found = self.send("WebDriver:FindElement", {"using": "css selector", "value": css})
        self.send("WebDriver:ElementSendKeys", {"id": next(iter(found.values())), "text": keys})

    def printed(self) -> bytes:
        """The page as a PDF, on the paper its style asks for."""
        pdf = self.send("WebDriver:Print", {"background": True, "page": {}, "shrinkToFit": False})
        return base64.b64decode(pdf)

    def _read(self) -> Any:
        while b":" not in self._rest:
            self._rest += self._line.recv(65536)
        size, _, self._rest = self._rest.partition(b":")
        while len(self._rest) < int(size):
            self._rest += self._line.recv(1 << 20)
        text, self._rest = self._rest[: int(size)], self._rest[int(size) :]
        return json.loads(text)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def running_firefox(*, patience_s: float = 60.0) -> Iterator[Firefox]:
    """A headless Firefox with a profile of its own, ended afterwards."""
    assert PROGRAM is not None
    port = _free_port()
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        prefs = {**_QUIET, "marionette.port": port}
        Path(profile, "user.js").write_text(
            "".join(f'user_pref("{name}", {json.dumps(value)});\n' for name, value in prefs.items()), encoding="utf-8"
        )
        process = subprocess.Popen(
            [PROGRAM, "--headless", "--marionette", "--no-remote", "--profile", profile],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            with _connected(port, process, patience_s) as line:
                yield Firefox(line)
        finally:
            process.terminate()
            try:
                process.wait(timeout=20)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def _connected(port: int, process: subprocess.Popen[bytes], patience_s: float) -> socket.socket:
    last = time.monotonic() + patience_s
    while True:
        try:
            return socket.create_connection(("127.0.0.1", port), timeout=patience_s)
        except OSError:
            if process.poll() is not None or time.monotonic() > last:
                raise
            time.sleep(0.2)
