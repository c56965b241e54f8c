# SPDX-License-Identifier: MIT
"""A small web server for tests: files by range request, and each way such a server can misbehave."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path


class Served:
    """What the server was asked and how it shall behave: "fine", "slow", "failing", "stalling", "truncated" or
    "no-ranges"."""

    def __init__(self, folder: Path, manner: str) -> None:
        self.folder, self.manner = folder, manner
        self.asked: list[tuple[str, str, str]] = []
        self.address = ""

    @property
    def bytes_sent(self) -> int:
        """Sum over the ranges asked for."""
        spans = [re.fullmatch(r"bytes=(\d+)-(\d+)", span) for _, _, span in self.asked]
        return sum(int(span.group(2)) - int(span.group(1)) + 1 for span in spans if span)


@contextmanager
def serving(folder: Path, manner: str = "fine") -> Iterator[Served]:
    """Serve the files of a folder on this machine until the block ends."""
    served = Served(folder, manner)

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def log_message(self, *_: object) -> None:
            return None

        def do_HEAD(self) -> None:
            self.answer(with_body=False)

        def do_GET(self) -> None:
            self.answer(with_body=True)

        def answer(self, *, with_body: bool) -> None:
            span = self.headers.get("Range", "")
            served.asked.append((self.command, self.path, span))
            if served.manner == "failing":
                self.send_error(500)
                return
            path = served.folder / self.path.split("?")[0].lstrip("/")
            if not path.is_file():
                self.send_error(404)
                return
            if served.manner == "stalling":
                time.sleep(3.0)
            if served.manner == "slow":
                time.sleep(0.05)
            self.send_file(path.read_bytes(), span, with_body=with_body)

        def send_file(self, data: bytes, span: str, *, with_body: bool) -> None:
            found = re.fullmatch(r"bytes=(\d+)-(\d*)", span)
            if found and served.manner != "no-ranges":
                first = int(found.group(1))
                last = min(int(found.group(2) or len(data) - 1), len(data) - 1)
                if first >= len(data):
                    self.send_error(416)
                    return
                self.send_response(206)
                self.send_header("Content-Range", f"bytes {first}-{last}/{len(data)}")
                data = data[first:last + 1]
            else:
                self.send_response(200)
            self.send_header("Accept-Ranges", "none" if served.manner == "no-ranges" else "bytes")
            self.send_header("Content-Length", str(len(data)))
            self.end_headers()
            if with_body:
                late = served.manner == "truncated" and found is not None and int(found.group(1)) > 0
                self.wfile.write(data[: len(data) // 2] if late else data)
                if late:
                    self.close_connection = True

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    served.address = f"http://127.0.0.1:{server.server_port}"
    try:
        yield served
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
