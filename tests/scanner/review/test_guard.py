"""Who is let in, and who is not: the rules as values, and at the door of the real pages."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from hypothesis import given, settings
from hypothesis import strategies as st

from scanner.archive.contents import contents_of, differences
from scanner.archive.database import archive_at
from scanner.review.desk import queue_of
from scanner.review.guard import HEADERS, Guard, new_token
from scanner.review.web import MOST_BYTES, Desk, review_app
from tests.scanner.archive.pile import NOW

GUARD = Guard(40123, "a-token_of_43_signs_as_new_token_makes_them")
HERE = {"Host": GUARD.host}
FROM_HERE = {"Origin": GUARD.origin, "Sec-Fetch-Site": "same-origin"}


@pytest.fixture
def desk(folder: Path) -> Desk:
    return Desk(folder, "rhian", lambda: NOW)


@pytest.fixture
def client(desk: Desk) -> FlaskClient:
    return review_app(desk, GUARD).test_client()


@pytest.fixture
def unchanged(folder: Path) -> Callable[[], bool]:
    """Say whether the archive is as it was at the beginning of the test."""
    with archive_at(folder) as archive:
        before = contents_of(archive)

    def is_unchanged() -> bool:
        with archive_at(folder) as archive:
            return differences(contents_of(archive), before) == []

    return is_unchanged


def doubt_path(folder: Path) -> str:
    with archive_at(folder) as archive:
        return f"/{GUARD.token}/doubt/{queue_of(archive)[0].id}"


def test_the_token_has_256_random_bits() -> None:
    """RFC 4648, 5: base64url of 32 bytes is 43 characters without padding."""
    assert re.fullmatch(r"[A-Za-z0-9_-]{43}", new_token())
    assert len({new_token() for _ in range(100)}) == 100


@given(st.text(max_size=60))
def test_no_other_path_is_let_in(path: str) -> None:
    if path.lstrip("/").split("/", 1)[0] != GUARD.token:
        assert GUARD.refusal("GET", "/" + path, HERE) == 404


@given(st.text(max_size=40))
def test_no_other_host_is_let_in(host: str) -> None:
    """A page whose name was made to lead to 127.0.0.1 sends its own name (DNS rebinding)."""
    if host != GUARD.host:
        assert GUARD.refusal("GET", f"/{GUARD.token}/", {"Host": host}) == 403


@given(st.text(max_size=40))
def test_no_other_origin_may_write(origin: str) -> None:
    if origin != GUARD.origin:
        assert GUARD.refusal("POST", f"/{GUARD.token}/undo", HERE | {"Origin": origin}) == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site", "same-origin2", ""])
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_what_the_browser_calls_another_site_is_refused(site: str, method: str) -> None:
    """W3C, Fetch Metadata Request Headers, 2.3; another port of 127.0.0.1 is "same-site"."""
    headers = HERE | FROM_HERE | {"Sec-Fetch-Site": site}
    assert GUARD.refusal(method, f"/{GUARD.token}/", headers) == 403


def test_the_address_can_be_opened_from_anywhere_by_whoever_has_it() -> None:
    headers = HERE | {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"}
    assert GUARD.refusal("GET", f"/{GUARD.token}/", headers) is None
    assert GUARD.refusal("POST", f"/{GUARD.token}/undo", headers | {"Origin": GUARD.origin}) == 403


@pytest.mark.parametrize(
    ("path", "headers", "status"),
    [
        ("/", {}, 404),
        ("/static/review.css", {}, 404),
        (f"/{GUARD.token[:-1]}/", {}, 404),
        (f"/{GUARD.token}x/", {}, 404),
        (f"/{GUARD.token}/", {"Host": "127.0.0.1"}, 403),
        (f"/{GUARD.token}/", {"Host": f"localhost:{GUARD.port}"}, 403),
        (f"/{GUARD.token}/", {"Host": f"club.example:{GUARD.port}"}, 403),
        (f"/{GUARD.token}/static/review.js", {"Sec-Fetch-Site": "same-site"}, 403),
    ],
)
def test_strangers_are_told_nothing(client: FlaskClient, path: str, headers: dict[str, str], status: int) -> None:
    found = client.get(path, headers=HERE | headers)
    assert (found.status_code, found.text) == (status, "There is nothing here.")
    assert found.headers["Cache-Control"] == "no-store"


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Origin": "null"},
        {"Origin": "https://club.example"},
        {"Origin": f"http://127.0.0.1:{GUARD.port + 1}", "Sec-Fetch-Site": "same-site"},
        {"Origin": f"http://localhost:{GUARD.port}"},
        {"Origin": GUARD.origin, "Sec-Fetch-Site": "cross-site"},
    ],
)
def test_another_page_cannot_write(
    client: FlaskClient, folder: Path, unchanged: Callable[[], bool], headers: dict[str, str]
) -> None:
    path = doubt_path(folder)
    assert client.post(path, data={"answer": "y"}, headers=HERE | headers).status_code == 403
    assert unchanged()
    assert client.post(path, data={"answer": "y"}, headers=HERE | FROM_HERE).status_code == 303
    assert not unchanged()


def test_asking_never_writes(client: FlaskClient, folder: Path, unchanged: Callable[[], bool]) -> None:
    path, root = doubt_path(folder), f"/{GUARD.token}/"
    for address in (path, root, root + "undo", root + "writing/"):
        for method in ("GET", "HEAD", "OPTIONS", "PUT", "DELETE", "PATCH"):
            found = client.open(
                address, method=method, query_string={"answer": "y", "decision": "1-1"}, headers=HERE | FROM_HERE
            )
            assert found.status_code in (200, 303, 405)
    assert unchanged()


@pytest.mark.parametrize(
    "name",
    [
        "static/../../../pyproject.toml",
        "static/..%2f..%2f..%2fpyproject.toml",
        "static/%2e%2e/doubt.html",
        "static//etc/passwd",
        "static/..\\..\\base.html",
        "static/\x00",
        "cutout/../../archive.sqlite3",
        "cutout/..%2f..%2farchive.sqlite3.png",
        "sheet/-1.jpg",
        "sheet/1e9.jpg",
        "sheet/99999999999999999999999999.jpg",
        "doubt/../../../etc/passwd",
        "doubt/%00",
        "doubt/" + "9" * 5000,
        "writing/%F0%9F%8D%B6",
        "writing/' OR 1=1 --",
        "nothing",
    ],
)
def test_no_name_leads_out_of_the_pages(client: FlaskClient, unchanged: Callable[[], bool], name: str) -> None:
    found = client.get(f"/{GUARD.token}/{name}", headers=HERE)
    assert found.status_code in (303, 404)
    assert "Traceback" not in found.text
    assert "root:" not in found.text
    posted = client.post(f"/{GUARD.token}/{name}", data={"answer": "y"}, headers=HERE | FROM_HERE)
    assert posted.status_code in (303, 404, 405)
    assert unchanged()


def test_what_is_too_much_is_refused_in_a_sentence(client: FlaskClient, folder: Path) -> None:
    path = doubt_path(folder)
    for data in ({"answer": "y" * (MOST_BYTES + 1)}, {f"n{number}": "y" for number in range(20_000)}):
        found = client.post(path, data=data, headers=HERE | FROM_HERE)
        assert found.status_code == 413
        assert "too much text" in found.text


@settings(max_examples=40)
@given(
    body=st.binary(max_size=300), kind=st.sampled_from(["", "application/json", "multipart/form-data", "text/plain"])
)
def test_a_hostile_body_settles_nothing(mixed: Path, body: bytes, kind: str) -> None:
    client = review_app(Desk(mixed, "rhian", lambda: NOW), GUARD).test_client()
    for path in (f"/{GUARD.token}/undo", f"/{GUARD.token}/doubt/0123456789abcdef"):
        found = client.post(path, data=body, content_type=kind, headers=HERE | FROM_HERE)
        assert found.status_code in (303, 400, 413)


def test_every_answer_carries_the_headers(client: FlaskClient, folder: Path) -> None:
    """CSP level 3 and its frame-ancestors; nothing from outside, no script or style in the page."""
    for path in (doubt_path(folder), f"/{GUARD.token}/nothing", "/", f"/{GUARD.token}/static/review.js"):
        found = client.get(path, headers=HERE)
        assert HEADERS.items() <= dict(found.headers).items()
    page = client.get(doubt_path(folder), headers=HERE).text
    assert "default-src 'self'" in HEADERS["Content-Security-Policy"]
    assert "unsafe" not in HEADERS["Content-Security-Policy"]
    assert re.findall(r"<script(?! src=\"/)|<style|\son\w+=|\sstyle=|(?:src|href)=\"(?:https?:)?//", page) == []
