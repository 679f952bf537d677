"""No name that stands in a file leads out of the folder that the file is in; no link in such a folder does."""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
from pathlib import Path

import pytest

from kit.errors import FacedownError, KitError, StorageError
from kit.record import LAYOUT_FILE, RECORD_FILE, _digest, load_kit
from kit.session import session_from_json
from scanner.archive.database import DATABASE_FILE, UNSWEPT_FILE, archive_at
from scanner.archive.kits import add_kit, kits_of
from scanner.archive.rows import seal
from scanner.archive.store import cutout_path, kit_folder, original_path, sweep
from scanner.archive.verify import verify
from tests.fuzz import good

NOW = "2026-12-06T10:00:00+00:00"
HOSTILE = ("../../../x", "/etc/x", "..", ".", "a/b", "a\\b", "", "x\0y", ".hidden", "…")


def record_with(folder: Path, **entries: object) -> None:
    """Change a kit's record, and make its digest right again."""
    entry = json.loads((folder / RECORD_FILE).read_bytes()) | entries
    entry["record_sha256"] = _digest({name: value for name, value in entry.items() if name != "record_sha256"})
    (folder / RECORD_FILE).write_text(json.dumps(entry), "utf-8")


@pytest.mark.parametrize("name", [*HOSTILE, "k7q4m2", "K7Q4M2\n", 7, None])
def test_a_kit_whose_id_is_a_path_is_refused(name: object, tmp_path: Path) -> None:
    folder = good.put_kit(tmp_path / "kit")
    record_with(folder, kit=name)
    with pytest.raises(KitError, match="its id is"):
        load_kit(folder)


@pytest.mark.parametrize("key", ["drink", "language"])
@pytest.mark.parametrize("name", ["../../../etc/x", "/etc/x", "a/b", ""])
def test_a_record_names_no_file_of_words_elsewhere(key: str, name: str) -> None:
    entry = json.loads(good.kit_files()[0])["session"] | {key: name}
    with pytest.raises(FacedownError, match=key):
        session_from_json(entry)


@pytest.mark.parametrize("name", [RECORD_FILE, LAYOUT_FILE])
def test_a_kit_s_file_that_is_a_link_out_of_its_folder_is_refused(name: str, tmp_path: Path) -> None:
    folder = good.put_kit(tmp_path / "kit")
    (folder / name).rename(tmp_path / name)
    (folder / name).symlink_to(tmp_path / name)
    with pytest.raises(KitError, match="no plain file of this folder"):
        good.opened(folder)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_kit_s_file_that_is_a_pipe_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    folder = good.put_kit(tmp_path / "kit")
    (folder / RECORD_FILE).unlink()
    os.mkfifo(folder / RECORD_FILE)
    with pytest.raises(KitError, match="no plain file of this folder"):
        load_kit(folder)


@pytest.mark.parametrize("name", HOSTILE)
def test_no_name_in_a_row_leads_out_of_the_archive(name: str, tmp_path: Path) -> None:
    if name not in (".", "..", ".hidden", "…"):  # as a whole name, of digest and suffix, these are plain
        with pytest.raises(StorageError, match="none of its files can be called"):
            original_path(tmp_path, name, ".png")
    with pytest.raises(StorageError, match="none of its files can be called"):
        original_path(tmp_path, name, "/../x")
    with pytest.raises(StorageError, match="none of its files can be called"):
        cutout_path(tmp_path, name + "/..")
    with pytest.raises(StorageError, match="none of its files can be called"):
        kit_folder(tmp_path, name)


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    with archive_at(tmp_path / "archive", write=True, create=True) as opened:
        add_kit(opened, good.put_kit(tmp_path / "kit"), NOW)
    return tmp_path / "archive"


def test_a_row_that_names_a_file_elsewhere_deletes_nothing_there(archive: Path) -> None:
    outside = archive.parent / "outside.json"
    outside.write_text("mine", "utf-8")
    with sqlite3.connect(archive / DATABASE_FILE) as connection:
        connection.row_factory = sqlite3.Row
        connection.execute("UPDATE kits SET id = '../../outside.json'")
        seal(connection, "kits", 1)
    connection.close()
    with archive_at(archive, write=True) as opened:
        (archive / UNSWEPT_FILE).write_bytes(b"")
        for ask in (sweep, kits_of):
            with pytest.raises(StorageError, match="none of its files can be called"):
                ask(opened)
        assert verify(opened).faults
    assert outside.read_text("utf-8") == "mine"


@pytest.mark.parametrize("name", ["originals", "cutouts", "kits"])
def test_a_folder_of_the_archive_that_is_a_link_is_neither_swept_nor_written_to(name: str, archive: Path) -> None:
    outside = archive.parent / "outside"
    outside.mkdir()
    (outside / "mine.txt").write_text("mine", "utf-8")
    if (archive / name).exists():
        (archive / name).rename(archive.parent / "former")
    (archive / name).symlink_to(outside, target_is_directory=True)
    with archive_at(archive, write=True) as opened:
        (archive / UNSWEPT_FILE).write_bytes(b"")
        with contextlib.suppress(StorageError):
            sweep(opened)
    assert [path.name for path in outside.iterdir()] == ["mine.txt"]


@pytest.mark.parametrize("name", [DATABASE_FILE, UNSWEPT_FILE, f"{DATABASE_FILE}-wal"])
def test_a_file_that_the_archive_writes_to_is_no_link(name: str, archive: Path) -> None:
    outside = archive.parent / "outside"
    if (archive / name).exists():
        (archive / name).rename(outside)
    else:
        outside.write_bytes(b"mine")
    before = outside.read_bytes()
    (archive / name).symlink_to(outside)
    with pytest.raises(StorageError, match="it is a link"), archive_at(archive, write=True):
        pass
    assert outside.read_bytes() == before


def test_a_kit_in_the_archive_that_is_a_link_is_refused(archive: Path) -> None:
    [kit] = (archive / "kits").iterdir()
    kit.rename(archive.parent / "moved")
    kit.symlink_to(archive.parent / "moved", target_is_directory=True)
    with archive_at(archive) as opened, pytest.raises(StorageError, match="it is a link"):
        kits_of(opened)
