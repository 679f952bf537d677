"""The pages, by the library's own client: what they show, where an answer leads, what is said of what cannot be."""

from __future__ import annotations

import html
import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient

from kit.shell import main
from scanner.archive.database import DATABASE_FILE, archive_at
from scanner.review.desk import queue_of
from scanner.review.guard import Guard, new_token
from scanner.review.pictures import Whole
from scanner.review.queue import BOX, FIELD, ROW, SHEETS
from scanner.review.web import MOST_PICTURES, Desk, review_app
from tests.scanner.archive.pile import NOW

GUARD = Guard(40123, new_token())
ROOT = f"/{GUARD.token}/"
HEADERS = {"Host": GUARD.host, "Origin": GUARD.origin}


@pytest.fixture
def desk(folder: Path) -> Desk:
    return Desk(folder, "rhian", lambda: NOW)


@pytest.fixture
def client(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> FlaskClient:
    """A browser that is shown a dummy in place of whole pages, each of which takes a second."""
    monkeypatch.setattr("scanner.review.web.whole_page", lambda archive, row: Whole(b"a picture", 210.0, 297.0, None))
    return review_app(desk, GUARD).test_client()


def get(client: FlaskClient, path: str) -> str:
    found = client.get(path, headers=HEADERS, follow_redirects=True)
    assert found.status_code == 200
    return html.unescape(found.text)


def post(client: FlaskClient, path: str, **data: str) -> str:
    found = client.post(path, data=data, headers=HEADERS)
    assert found.status_code == 303
    return found.location


def path_of(folder: Path, kind: str) -> str:
    with archive_at(folder) as archive:
        return ROOT + "doubt/" + next(doubt.id for doubt in queue_of(archive) if doubt.kind == kind)


def test_a_doubt_is_shown_with_reason_picture_keys_and_progress(client: FlaskClient) -> None:
    page = get(client, ROOT)
    for words in ("1 of 6", "Glass 1, the word apple", "Kofi", "the stroke is faint", "Is this box marked?"):
        assert words in page
    assert re.findall(r'data-key="(.)"', page) == ["y", "n", "t", "s", "w"]
    [picture] = re.findall(r'<image href="([^"]+)"', page)
    assert client.get(picture, headers=HEADERS).data.startswith(b"\x89PNG")


@pytest.mark.parametrize("kind", [BOX, SHEETS, FIELD, ROW])
def test_every_kind_of_doubt_shows_its_pictures_whole_too(desk: Desk, folder: Path, kind: str) -> None:
    client = review_app(desk, GUARD).test_client()
    for query in ("", "?whole=1"):
        pictures = re.findall(r'<image href="([^"]+)"', get(client, path_of(folder, kind) + query))
        assert len(pictures) == (2 if kind in (SHEETS, ROW) else 1)
        for picture in pictures:
            found = client.get(picture, headers=HEADERS)
            assert found.mimetype == ("image/png" if ".png" in picture else "image/jpeg")
            assert len(found.data) > 1000


def test_an_answer_leads_to_the_next_doubt_and_can_be_undone_there(client: FlaskClient, desk: Desk) -> None:
    first = client.get(ROOT, headers=HEADERS).location
    second = post(client, first, answer="y")
    page = get(client, second)
    assert "2 of 6" in page
    assert "Glass 1, the word apple: Yes" in page
    [name] = re.findall(r'name="decision" value="([^"]+)"', page)
    back = post(client, ROOT + "undo", decision=name)
    assert back.startswith(first)
    assert "1 of 6" in get(client, back)
    assert desk.decisions == []


def test_skipping_passes_over_and_comes_round(client: FlaskClient) -> None:
    page = get(client, ROOT)
    seen = []
    for _ in range(6):
        seen.append(re.findall(r"<h1>(.*?)</h1>", page)[0])
        [skip] = re.findall(r'<a href="([^"]+)" data-key="s"', page)
        page = get(client, skip)
    assert len(set(seen)) == 6
    assert "1 of 6" in page


def test_two_windows_at_once_do_no_harm(client: FlaskClient, folder: Path) -> None:
    path = path_of(folder, BOX)
    post(client, path, answer="y")
    assert "told=gone" in post(client, path, answer="n")
    with archive_at(folder) as archive:
        assert [row[0] for row in archive.connection.execute("SELECT after FROM settlements")] == ["marked"]
    assert "settled meanwhile" in get(client, path)


def test_undoing_twice_does_it_once(client: FlaskClient) -> None:
    following = post(client, client.get(ROOT, headers=HEADERS).location, answer="y")
    [name] = re.findall(r'name="decision" value="([^"]+)"', get(client, following))
    post(client, ROOT + "undo", decision=name)
    assert "told=not_undone" in post(client, ROOT + "undo", decision=name)


def test_a_row_takes_another_order_and_refuses_what_is_none(client: FlaskClient, folder: Path) -> None:
    path = path_of(folder, ROW)
    assert "told=no_order" in post(client, path, answer="o", order="1 2 2")
    post(client, path, answer="o", order="2 3 1")
    with archive_at(folder) as archive:
        assert [row[0] for row in archive.connection.execute("SELECT after FROM settlements")] == ["2 3 1"]


def test_when_all_is_settled_it_says_so_and_what_no_answer_helps(client: FlaskClient) -> None:
    path = client.get(ROOT, headers=HEADERS).location
    for _ in range(6):
        key = re.findall(r'name="answer" value="(.)"', get(client, path))[0]
        path = post(client, path, answer=key)
    page = get(client, path)
    for words in ("All doubts are settled", "in the archive: 1.", "Undo", "Type up handwriting: 10"):
        assert words in page


def test_handwriting_is_typed_area_by_area(client: FlaskClient, folder: Path) -> None:
    path = client.get(ROOT + "writing/", headers=HEADERS).location
    assert "Handwriting, 1 of 10" in get(client, path)
    following = post(client, path, answer="text", text="plum & <smoke>")
    assert "Handwriting, 2 of 10" in get(client, following)
    assert ROOT + "writing/" in re.findall(r'<a href="([^"]+)" data-key="u"', get(client, following))[0]
    assert "plum & <smoke></textarea>" in get(client, path)
    for _ in range(9):
        following = post(client, following.partition("?")[0], answer="nothing", text="not this")
    assert "All handwriting is typed up" in get(client, following) or "Doubts: 6" in get(client, following)
    with archive_at(folder) as archive:
        texts = [row[0] for row in archive.connection.execute("SELECT text FROM handwriting ORDER BY id")]
    assert texts == ["plum & <smoke>"] + [""] * 9


def test_what_was_written_by_strangers_is_text_on_the_page(client: FlaskClient, folder: Path) -> None:
    with archive_at(folder, write=True) as archive:
        archive.connection.execute("UPDATE tasters SET name = '<script>alert(1)</script>'")
        archive.connection.execute("""UPDATE marks SET reason = '"><img src=x onerror=alert(1)>'""")
    page = client.get(ROOT, headers=HEADERS, follow_redirects=True).text
    assert "<script>alert" not in page
    assert "<img" not in page


def test_a_damaged_archive_is_a_sentence(client: FlaskClient, folder: Path) -> None:
    for name in ("-wal", "-shm"):
        (folder / f"{DATABASE_FILE}{name}").unlink(missing_ok=True)
    (folder / DATABASE_FILE).write_bytes(b"\0" * 4096)
    found = client.get(ROOT, headers=HEADERS)
    assert found.status_code == 503
    assert DATABASE_FILE in found.text


def test_a_defect_is_a_sentence_too(client: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(archive: object) -> None:
        raise RuntimeError("<oops>")

    monkeypatch.setattr("scanner.review.web.queue_of", broken)
    found = client.get(ROOT, headers=HEADERS)
    assert found.status_code == 500
    assert "a defect of the program" in found.text
    assert "&lt;oops&gt;" in found.text


def test_few_pictures_are_kept_in_memory(desk: Desk) -> None:
    with archive_at(desk.folder) as archive:
        for row in range(1000, 1000 + 3 * MOST_PICTURES):
            assert desk.page(archive, row) is None
    assert len(desk.pictures) == MOST_PICTURES


def test_review_refuses_what_is_no_archive_or_read_only(tmp_path: Path, mixed: Path) -> None:
    answer = CliRunner().invoke(main, ["review", "--archive", str(tmp_path / "none"), "--no-browser"])
    assert (answer.exit_code, "there is no archive here" in answer.output) == (5, True)
    copy = shutil.copytree(mixed, tmp_path / "copy")
    (copy / DATABASE_FILE).write_bytes(b"not a database")
    assert CliRunner().invoke(main, ["review", "--archive", str(copy), "--terminal"]).exit_code == 5
