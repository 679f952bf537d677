"""Serves the second look on a free port of 127.0.0.1 until it is interrupted."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from pathlib import Path
from wsgiref.types import StartResponse, WSGIEnvironment

from werkzeug.serving import BaseWSGIServer, WSGIRequestHandler, make_server

from scanner.review.guard import Guard, new_token
from scanner.review.web import Desk, review_app

LOOPBACK = "127.0.0.1"
SILENT_SECONDS = 30


class _Quiet(WSGIRequestHandler):
    """Says nothing on the terminal, and does not wait for ever for a browser that says nothing either."""

    timeout = SILENT_SECONDS
    server_version, sys_version = "facedown", ""

    def log(self, type: str, message: str, *args: object) -> None:
        """Keep the token out of the terminal's scrollback, too."""

    def log_request(self, code: int | str = "-", size: int | str = "-") -> None:
        """Not even take the address apart to log it: a malformed one would end in a traceback."""


def review_server(folder: Path, who: str, now: Callable[[], str]) -> tuple[BaseWSGIServer, Guard, Desk]:
    """Return a server that listens on a free port already, its address, and the run that it shows.

    Raises
    ------
    OSError
        If no port is to be had.
    """
    server = make_server(LOOPBACK, 0, _not_yet, threaded=True, request_handler=_Quiet)
    guard, desk = Guard(server.port, new_token()), Desk(folder, who, now)
    server.app = review_app(desk, guard)
    return server, guard, desk


def serve(server: BaseWSGIServer) -> None:
    """Answer requests until Ctrl-C."""
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        while thread.is_alive():
            thread.join(timeout=3600)
    except KeyboardInterrupt:
        server.shutdown()
    finally:
        server.server_close()


def _not_yet(environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
    """Stand in until the port is known, which the pages need to know."""
    start_response("503 Service Unavailable", [])
    return [b""]
