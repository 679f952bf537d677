"""A disk that is full, a folder that is read-only, a lock that somebody holds: a sentence, and nothing half-written."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

import scanner.archive.database as database
from kit.errors import StorageError
from kit.shell import main
from scanner.archive.add import add_pile
from scanner.archive.contents import contents_of, differences
from scanner.archive.database import DATABASE_FILE, archive_at
from scanner.archive.verify import verify
from tests.make_samples import SAMPLES
from tests.scanner.archive.pile import KIT, NOW, Pile

KOFI = [str(SAMPLES / f"kofi-{name}.jpg") for name in ("match", "notes-1", "notes-2")]


def facedown(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def as_a_program(*arguments: str | Path, prepare: Callable[[], None] | None = None) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "kit.shell", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, preexec_fn=prepare, check=False)


def whole_and_the_same_after_adding_again(folder: Path, pile: Pile, filled: Path) -> None:
    with archive_at(folder) as archive:
        assert verify(archive).faults == ()
    pile.add(folder)
    with archive_at(folder) as archive, archive_at(filled) as other:
        assert differences(contents_of(archive), contents_of(other)) == []


@pytest.mark.parametrize("pages_more", [0, 1])
def test_a_full_database_is_a_sentence_and_nothing_half_written(
    pile: Pile, filled: Path, tmp_path: Path, pages_more: int
) -> None:
    """SQLite's own limit gives the refusal of a full disk, SQLITE_FULL, wherever in the pile."""
    folder = tmp_path / "archive"

    def add_to_a_full_disk() -> None:
        with archive_at(folder, write=True, create=True) as archive:
            pages = archive.connection.execute("PRAGMA page_count").fetchone()[0]
            archive.connection.execute(f"PRAGMA max_page_count = {pages + pages_more}")
            list(add_pile(archive, [pile.kit], pile.files, NOW, read=pile.read))

    with pytest.raises(StorageError, match="disk is full"):
        add_to_a_full_disk()
    whole_and_the_same_after_adding_again(folder, pile, filled)


def test_a_file_that_the_disk_refuses_is_a_sentence_and_nothing_half_written(pile: Pile, tmp_path: Path) -> None:
    """The system refuses files above a size, as it does above a quota."""
    folder = tmp_path / "archive"
    limit = max(Path(name).stat().st_size for name in KOFI) - 1

    def prepare() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

    answer = as_a_program("archive", "add", "--archive", folder, "--kit", pile.kit, *KOFI, prepare=prepare)
    assert (answer.returncode, "the disk refused" in answer.stderr) == (5, True), answer.stderr
    assert "Traceback" not in answer.stderr
    with archive_at(folder) as archive:
        assert verify(archive).faults == ()
        kept = archive.connection.execute("SELECT count(*) FROM originals").fetchone()[0]
    assert kept < len(KOFI)
    assert not list(folder.rglob("*.tmp"))
    assert facedown("archive", "add", "--archive", folder, *KOFI).exit_code == 0


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    disk = tmp_path / "disk"
    disk.mkdir()
    done = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1200k", "tmpfs", str(disk)], capture_output=True)
    if done.returncode:
        pytest.skip("no disk can be mounted here")
    yield disk
    subprocess.run(["umount", "-l", str(disk)], check=True)


def test_a_full_disk_is_a_sentence_and_what_was_kept_before_is_whole(
    pile: Pile, filled: Path, small_disk: Path, tmp_path: Path
) -> None:
    folder = small_disk / "archive"
    with pytest.raises(StorageError, match=r"full|no space left") as refusal:
        pile.add(folder)
    assert "Free some space" in refusal.value.hint
    shutil.copytree(folder, tmp_path / "moved", dirs_exist_ok=True)
    with archive_at(tmp_path / "moved") as archive:
        assert verify(archive).faults == ()
    pile.add(tmp_path / "moved")
    with archive_at(tmp_path / "moved") as archive, archive_at(filled) as other:
        assert differences(contents_of(archive), contents_of(other)) == []


@pytest.fixture
def read_only(folder: Path, tmp_path: Path) -> Iterator[Path]:
    """An archive on a disk that is read-only; of an administrator the modes of folders would not be heeded."""
    if os.geteuid() != 0:
        _set_modes(folder, 0o555, 0o444)
        yield folder
        _set_modes(folder, 0o755, 0o644)
        return
    disk = tmp_path / "disk"
    disk.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "tmpfs", str(disk)], capture_output=True).returncode:
        pytest.skip("no disk can be mounted here")
    shutil.copytree(folder, disk / "archive")
    subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
    yield disk / "archive"
    subprocess.run(["umount", "-l", str(disk)], check=True)


def test_a_read_only_archive_can_be_looked_into_and_refuses_to_be_added_to(read_only: Path) -> None:
    for words in (("list",), ("show", KIT), ("verify",)):
        answer = facedown("archive", *words, "--archive", read_only)
        assert answer.exit_code == 0, answer.output
    assert facedown("score", "--archive", read_only).exit_code == 3
    for refused in (("add", KOFI[0]), ("take-back", f"{KIT}-0007-1"), ("erase", "--yes", "kofi")):
        answer = facedown("archive", *refused, "--archive", read_only)
        assert (answer.exit_code, "you may write to" in answer.output) == (5, True), answer.output


def _set_modes(folder: Path, of_folders: int, of_files: int) -> None:
    for path in (folder, *folder.rglob("*")):
        path.chmod(of_folders if path.is_dir() else of_files)


def test_an_archive_that_another_program_keeps_locked_is_a_sentence(
    folder: Path, pile: Pile, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "BUSY_SECONDS", 0.05)
    holder = sqlite3.connect(folder / DATABASE_FILE, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    answer = facedown("archive", "take-back", "--archive", folder, f"{KIT}-0007-1")
    holder.execute("ROLLBACK")
    holder.close()
    assert (answer.exit_code, "keeps it locked" in answer.output) == (5, True)
    assert facedown("archive", "take-back", "--archive", folder, f"{KIT}-0007-1").exit_code == 0


@pytest.mark.parametrize(
    "words", [("list",), ("verify",), ("show", KIT), ("take-back", KIT), ("erase", "--yes", "ines")]
)
def test_where_there_is_no_archive_every_command_says_so(tmp_path: Path, words: tuple[str, ...]) -> None:
    answer = facedown("archive", *words, "--archive", tmp_path / "nowhere")
    assert (answer.exit_code, "there is no archive here" in answer.output) == (5, True)
    assert not os.listdir(tmp_path)  # noqa: PTH208


def test_without_a_folder_named_it_is_wrong_usage(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("FACEDOWN_ARCHIVE", raising=False)
    answer = facedown("archive", "list")
    assert (answer.exit_code, "--archive" in answer.output) == (2, True)
