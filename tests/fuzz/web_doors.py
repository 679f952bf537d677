"""The door of the second look: whole HTTP requests, as octets, through the server's own handler."""

from __future__ import annotations

import contextlib
import socket
import threading
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any
from urllib.parse import urlencode
from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

from scanner.archive.database import DATABASE_FILE, archive_at
from scanner.review.desk import queue_of
from scanner.review.serve import review_server
from scanner.review.writing import areas_of
from tests.fuzz.archive_doors import NOW, archive_in, forget_log, settle_log
from tests.fuzz.doors import Door, Run
from tests.fuzz.mutate import of_request

TOKEN, PORT = b"TOKEN", b"PORT"
"""What stands in a request for the two that are new with each server."""


def _requests() -> list[bytes]:
    """Return a good request for every address of the second look."""
    import tempfile

    with tempfile.TemporaryDirectory() as folder, archive_at(archive_in(Path(folder))) as archive:
        doubt, area = queue_of(archive)[0], areas_of(archive)[0]
    cutout = doubt.pictures[0].cutout
    written = [
        (f"doubt/{doubt.id}", {"answer": "y"}),
        (f"doubt/{doubt.id}", {"answer": "o", "order": "3 1 2"}),
        ("undo", {"decision": "1-1"}),
        (f"writing/{area.id}", {"text": "pear, rain\nand moss"}),
        (f"writing/{area.id}", {"answer": "nothing", "text": ""}),
    ]
    read = ("", f"doubt/{doubt.id}?whole=1&told=gone", "writing/", f"writing/{area.id}?former={area.id}")
    files = ("static/review.css", f"cutout/{cutout}.png", "sheet/1.jpg")
    return [
        *(_request("GET", path) for path in (*read, *files)),
        *(_request("POST", path, urlencode(form).encode()) for path, form in written),
    ]


def _request(method: str, path: str, body: bytes = b"") -> bytes:
    head = [
        f"{method} /TOKEN/{path} HTTP/1.1",
        "Host: 127.0.0.1:PORT",
        "Accept: */*",
        "Sec-Fetch-Site: same-origin",
    ]
    if body:
        head += ["Origin: http://127.0.0.1:PORT", "Content-Type: application/x-www-form-urlencoded"]
        head += [f"Content-Length: {len(body)}"]
    return "\r\n".join((*head, "", "")).encode() + body


def _review(folder: Path) -> Run:
    archive = archive_in(folder)
    database = archive / DATABASE_FILE
    whole = database.read_bytes()
    server, guard, desk = review_server(archive, "rhian", lambda: NOW)
    server.socket.close()  # the handler is called here, so that a case ends when it is over
    statuses: list[str] = []
    server.app = _listened(server.app, statuses)

    def run(content: bytes) -> None:
        given = content.replace(TOKEN, guard.token.encode()).replace(PORT, str(guard.port).encode())
        statuses.clear()
        ours, theirs = socket.socketpair()
        with ours, theirs:
            sender = threading.Thread(target=_sent, args=(ours, given))
            sender.start()  # beside the handler, which need not take all of a request that is longer than a buffer
            server.RequestHandlerClass(theirs, ("127.0.0.1", 40000), server)
            theirs.close()
            sender.join()
        settle_log(archive)
        is_changed = database.read_bytes() != whole
        if is_changed:
            forget_log(database)
            database.write_bytes(whole)
            desk.decisions.clear()
        # What the program did not foresee is told on a page of its own.
        assert not any(status.startswith("500") for status in statuses), "a page says that the program failed"
        if guard.token.encode() not in given or guard.host.encode() not in given:
            assert all(status[0] == "4" for status in statuses), "a stranger is let in"
        if is_changed:
            assert guard.origin.encode() in given, "something is written without an Origin"

    return run


def _sent(end: socket.socket, request: bytes) -> None:
    with contextlib.suppress(OSError):
        end.sendall(request)
        end.shutdown(socket.SHUT_WR)


def _listened(app: WSGIApplication, statuses: list[str]) -> WSGIApplication:
    """Return the application, which writes down the statuses of its answers."""

    def listened(environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        def start(status: str, headers: list[tuple[str, str]], error: Any = None) -> Callable[[bytes], object]:
            statuses.append(status)
            return start_response(status, headers, error)

        return app(environ, start)

    return listened


DOORS = (Door("review", _requests, of_request, _review, seconds=20.0),)
