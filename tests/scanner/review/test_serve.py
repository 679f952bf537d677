"""The server itself, spoken to over a socket."""

from __future__ import annotations

import socket
import threading
from pathlib import Path

import pytest

from scanner.review.serve import LOOPBACK, review_server


def test_a_malformed_address_prints_nothing_on_the_terminal(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """Found by coverage-guided fuzzing: a port that is no number in an absolute address, as RFC 9112, 3.2.2 allows."""
    server, _, _ = review_server(tmp_path, "Ines", lambda: "2026-12-05T20:00:00Z")
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        with socket.create_connection((LOOPBACK, server.port), timeout=10) as client:
            client.sendall(b"GET http://127.0.0.1:35491TT/ HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n")
            while client.recv(4096):
                pass
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
    assert not caplog.records
