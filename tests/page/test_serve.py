"""The server on this machine: its files, nobody else's names, nothing taken in."""

from __future__ import annotations

import http.client
import threading
from collections.abc import Iterator

import pytest

from brinebayes.page.serve import server

FILES = {"index.html": ("text/html", b"<p>sheet</p>"), "sw.js": ("text/javascript", b"1")}


@pytest.fixture
def port() -> Iterator[int]:
    with server(FILES, 0) as found:
        thread = threading.Thread(target=found.serve_forever)
        thread.start()
        yield found.server_port
        found.shutdown()
        thread.join()


def ask(
    port: int, method: str = "GET", path: str = "/", **headers: str
) -> tuple[int, bytes, http.client.HTTPResponse]:
    connection = http.client.HTTPConnection("127.0.0.1", port)
    connection.request(method, path, headers=headers)
    response = connection.getresponse()
    return response.status, response.read(), response


class TestServer:
    """Loopback only."""

    def test_its_files(self, port: int) -> None:
        status, content, response = ask(port)
        assert (status, content) == (200, b"<p>sheet</p>")
        assert response.getheader("X-Content-Type-Options") == "nosniff"
        assert "frame-ancestors 'none'" in (response.getheader("Content-Security-Policy") or "")
        assert ask(port, path="/sw.js?x=1")[0] == 200

    @pytest.mark.parametrize("path", ["/other", "/../index.html", "/index.html/"])
    def test_nothing_else(self, port: int, path: str) -> None:
        assert ask(port, path=path)[0] == 404

    @pytest.mark.parametrize("host", ["example.org", "127.0.0.1", "127.0.0.1:1", "evil.localhost"])
    def test_another_host_is_refused(self, port: int, host: str) -> None:
        assert ask(port, Host=host)[0] == 421

    @pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS"])
    def test_nothing_is_taken_in(self, port: int, method: str) -> None:
        status, _, response = ask(port, method, Origin="https://example.org")
        assert status == 405
        assert response.getheader("Access-Control-Allow-Origin") is None

    def test_only_this_machine_is_listened_to(self) -> None:
        with server(FILES, 0) as found:
            assert found.server_address[0] == "127.0.0.1"
