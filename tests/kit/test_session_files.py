"""Session files on a disk: missing, unreadable, not UTF-8, too large; and what an installation offers."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from kit.errors import FacedownError, SessionError
from kit.session import (
    installed_shelf,
    load_session,
)
from tests.kit.test_session import HEAD, POURS, TASTERS


def test_a_missing_file_a_folder_and_a_link_to_itself_are_refused(tmp_path: Path) -> None:
    loop = tmp_path / "loop.toml"
    loop.symlink_to(loop)
    for path, sentence in (
        (tmp_path / "none.toml", "there is no such file"),
        (tmp_path, "this is a folder"),
        (loop, "the file cannot be read"),
        (tmp_path / ("x" * 300), "the file cannot be read"),
    ):
        with pytest.raises(SessionError) as refusal:
            load_session(path)
        assert sentence in refusal.value.message
        assert refusal.value.subject == str(path)


def test_a_file_without_permission_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    # The superuser, as whom tests may run, is refused nothing: so the refusal is made here.
    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(SessionError, match="the file cannot be read: Permission denied"):
        load_session(tmp_path / "s.toml")


def test_bytes_that_are_not_utf8_are_refused_with_their_line(tmp_path: Path) -> None:
    file = tmp_path / "s.toml"
    file.write_bytes('drink = "sake"\ntitle = "Réveillon"\n'.encode("latin-1"))
    with pytest.raises(SessionError, match="line 2: found bytes that are not UTF-8"):
        load_session(file)
    file.write_bytes(HEAD.encode("utf-16"))
    with pytest.raises(SessionError, match="not UTF-8"):
        load_session(file)


def test_a_file_of_two_megabytes_is_read_and_one_byte_more_refused(tmp_path: Path) -> None:
    file = tmp_path / "s.toml"
    content = (HEAD + POURS + TASTERS).encode()
    file.write_bytes(content + b"#" * (2_000_000 - len(content)))
    assert load_session(file).title == "Winter"
    file.write_bytes(content + b"#" * (2_000_001 - len(content)))
    with pytest.raises(SessionError, match="more than 2 MB"):
        load_session(file)


def test_an_empty_file_lists_all_that_is_needed(tmp_path: Path) -> None:
    file = tmp_path / "s.toml"
    file.touch()
    with pytest.raises(SessionError) as refusal:
        load_session(file)
    missing = {issue.split(":")[0] for issue in refusal.value.issues}
    assert missing == {"title", "date", "drink", "shuffle", "paper", "pours", "tasters"}


def test_the_installed_shelf_has_sake_and_english() -> None:
    shelf = installed_shelf()
    assert "sake" in shelf.drinks
    assert "en" in shelf.languages


def test_an_installation_without_word_lists_says_so(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("kit.session.files", lambda _: tmp_path)
    with pytest.raises(FacedownError, match="Install facedown again"):
        installed_shelf()
