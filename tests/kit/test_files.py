"""Writing atomically, on real files."""

from __future__ import annotations

import errno
import os
import sys
from pathlib import Path

import pytest

from kit.errors import ExitCode, StorageError
from kit.files import read_bounded, storage_error, write_atomically


def test_text_and_bytes_are_written_whole(tmp_path: Path) -> None:
    write_atomically(tmp_path / "a.txt", "純米\r\n")
    write_atomically(tmp_path / "b.bin", b"\x00\xff")
    assert (tmp_path / "a.txt").read_bytes() == "純米\r\n".encode()
    assert (tmp_path / "b.bin").read_bytes() == b"\x00\xff"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.txt", "b.bin"]


def test_an_older_file_is_replaced(tmp_path: Path) -> None:
    file = tmp_path / "a.txt"
    file.write_text("a much longer older text")
    write_atomically(file, "new")
    assert file.read_text() == "new"


def test_a_file_is_read_up_to_its_bound_and_refused_in_words_beyond(tmp_path: Path) -> None:
    file = tmp_path / "a.txt"
    file.write_bytes(b"x" * 1_000_000)
    assert read_bounded(file, 1_000_000) == b"x" * 1_000_000
    file.write_bytes(b"x" * 1_000_001)
    with pytest.raises(OSError, match="more than 1 MB, and no more are allowed"):
        read_bounded(file, 1_000_000)


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="this system has no endless device")
def test_a_device_that_never_ends_is_left_off() -> None:
    with pytest.raises(OSError, match="more than 3 MB"):
        read_bounded(Path("/dev/zero"), 3_000_000)


@pytest.mark.skipif(os.name == "nt", reason="there are no modes")
def test_the_mode_is_the_umasks(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        write_atomically(tmp_path / "a.txt", "x")
    finally:
        os.umask(before)
    assert (tmp_path / "a.txt").stat().st_mode & 0o777 == 0o640


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "link.txt").symlink_to(tmp_path / "target.txt")
    write_atomically(tmp_path / "link.txt", "x")
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "target.txt").read_text() == "x"


@pytest.mark.skipif(sys.platform != "linux", reason="a pipe opened at both ends by one process is Linux's own")
def test_a_pipe_is_written_to_and_not_replaced(tmp_path: Path) -> None:
    # A pipe of the test's own stands for /dev/stdout and the like: a failing test must not replace a real device.
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDWR | os.O_NONBLOCK)
    try:
        write_atomically(pipe, "through")
        assert pipe.is_fifo()
        assert os.read(reader, 100) == b"through"
    finally:
        os.close(reader)


@pytest.mark.parametrize("failing", ["os.fsync", "pathlib.Path.replace"])
def test_a_refusal_leaves_the_older_file_and_no_remains(
    failing: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "a.txt"
    file.write_text("old")

    def refuse(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(failing, refuse)
    with pytest.raises(StorageError, match="no space left on device") as refusal:
        write_atomically(file, "new")
    assert refusal.value.exit_code == ExitCode.STORAGE
    assert refusal.value.message.startswith(f"{file}: ")
    assert "Free some space" in refusal.value.hint
    assert [path.name for path in tmp_path.iterdir()] == ["a.txt"]
    assert file.read_text() == "old"


def test_an_interruption_leaves_no_remains(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupt)
    with pytest.raises(KeyboardInterrupt):
        write_atomically(tmp_path / "a.txt", "new")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_missing_and_one_in_the_files_place_are_refused(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "file").touch()
    for path in (tmp_path / "none" / "a.txt", tmp_path / "folder", tmp_path / "file" / "a.txt", tmp_path / ("x" * 300)):
        with pytest.raises(StorageError, match="the disk refused") as refusal:
            write_atomically(path, "x")
        assert refusal.value.hint
    assert sorted(path.name for path in tmp_path.iterdir()) == ["file", "folder"]


def test_a_refusal_without_a_file_or_number_is_still_a_sentence() -> None:
    assert storage_error(OSError()).message == "the disk refused: oserror."
    assert storage_error(OSError("odd")).message == "the disk refused: odd."
    assert storage_error(PermissionError(errno.EACCES, "Denied", "x.pdf")).message == "x.pdf: the disk refused: denied."
