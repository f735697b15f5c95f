"""A server of a few fixed files for this machine alone."""

from __future__ import annotations

from collections.abc import Mapping
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

#: Only this machine is listened to.
ADDRESS = "127.0.0.1"

HEADERS = {
    "Content-Security-Policy": "frame-ancestors 'none'",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-cache",
}

#: Name -> its type and content.
Files = Mapping[str, tuple[str, bytes]]


def server(files: Files, port: int) -> ThreadingHTTPServer:
    """A server of `files` on the loopback address; `index.html` also as `/`. Port 0: any free one.

    Whoever calls it by another host's name is refused, so that no foreign site can read through a
    name that it points here; nothing is ever taken in, so there is nothing to post.
    """

    class Handler(BaseHTTPRequestHandler):
        server_version = "brinebayes"
        sys_version = ""

        def do_GET(self) -> None:
            """A file, to those who call this machine by its own name."""
            here = {f"{name}:{found.server_port}" for name in (ADDRESS, "localhost")}
            if self.headers.get("Host") not in here:
                self._answer(HTTPStatus.MISDIRECTED_REQUEST, "text/plain", b"another host")
                return
            name = self.path.partition("?")[0].removeprefix("/") or "index.html"
            if name not in files:
                self._answer(HTTPStatus.NOT_FOUND, "text/plain", b"not here")
                return
            self._answer(HTTPStatus.OK, *files[name])

        do_HEAD = do_GET  # noqa: N815

        def _refused(self) -> None:
            self.close_connection = True
            self._answer(HTTPStatus.METHOD_NOT_ALLOWED, "text/plain", b"nothing is taken in")

        do_POST = do_PUT = do_DELETE = do_PATCH = do_OPTIONS = _refused  # noqa: N815

        def _answer(self, status: HTTPStatus, kind: str, content: bytes) -> None:
            self.send_response(status)
            self.send_header("Content-Type", kind)
            self.send_header("Content-Length", str(len(content)))
            for name, value in HEADERS.items():
                self.send_header(name, value)
            self.end_headers()
            if self.command != "HEAD":
                self.wfile.write(content)

        def log_message(self, format: str, *args: object) -> None:
            """Nothing is logged."""

    found = ThreadingHTTPServer((ADDRESS, port), Handler)
    return found
