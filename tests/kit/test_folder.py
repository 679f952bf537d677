"""A kit folder is written whole or not at all, and nothing that is there is lost."""

from __future__ import annotations

import errno
import os
import tempfile
from pathlib import Path

import pytest

from kit.errors import ExitCode, KitError, StorageError
from kit.folder import KIT_FILES, write_folder

OLD = {"kit.json": b"old record", "layout.json": b"old layout", "forms.pdf": b"old forms", "keys.pdf": b"old keys"}
NEW = {"kit.json": b"new record", "layout.json": b"new layout", "forms.pdf": b"new forms"}


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A kit folder of an earlier print."""
    write_folder(tmp_path / "kit", OLD, force=False)
    return tmp_path / "kit"


def test_a_new_folder_holds_the_files_and_nothing_else_is_left(tmp_path: Path) -> None:
    write_folder(tmp_path / "kit", NEW, force=False)
    assert contents(tmp_path / "kit") == NEW
    assert names(tmp_path) == ["kit"]


def test_missing_parents_are_made(tmp_path: Path) -> None:
    write_folder(tmp_path / "winter" / "with blanks é 純米" / "kit", NEW, force=False)
    assert contents(tmp_path / "winter" / "with blanks é 純米" / "kit") == NEW


@pytest.mark.skipif(os.name != "posix", reason="modes are POSIX's")
def test_others_may_read_the_folder_as_the_umask_allows(tmp_path: Path) -> None:
    former = os.umask(0o027)
    try:
        write_folder(tmp_path / "kit", NEW, force=False)
    finally:
        os.umask(former)
    assert (tmp_path / "kit").stat().st_mode & 0o777 == 0o750
    assert (tmp_path / "kit" / "kit.json").stat().st_mode & 0o777 == 0o640


@pytest.mark.parametrize("kind", ["kit folder", "empty folder", "file", "link into nowhere"])
def test_nothing_that_exists_is_overwritten(tmp_path: Path, kind: str) -> None:
    target = tmp_path / "kit"
    if kind == "kit folder":
        write_folder(target, OLD, force=False)
    elif kind == "empty folder":
        target.mkdir()
    elif kind == "file":
        target.write_bytes(b"mine")
    else:
        target.symlink_to(tmp_path / "nowhere")
    with pytest.raises(KitError, match=r"kit: it exists already\. .*--force") as refusal:
        write_folder(target, NEW, force=False)
    assert refusal.value.exit_code == ExitCode.REFUSED
    assert names(tmp_path) == ["kit"]
    if kind == "kit folder":
        assert contents(target) == OLD
    if kind == "file":
        assert target.read_bytes() == b"mine"


def test_force_replaces_a_kit_whole(old: Path) -> None:
    write_folder(old, NEW, force=True)
    assert contents(old) == NEW, "the old kit's keys.pdf must be gone: it is another kit's"
    assert names(old.parent) == ["kit"]


@pytest.mark.parametrize("kind", ["folder of somebody's", "empty folder", "file", "link into nowhere"])
def test_force_replaces_nothing_but_kits(tmp_path: Path, kind: str) -> None:
    target = tmp_path / "kit"
    if kind == "file":
        target.write_bytes(b"mine")
    elif kind == "link into nowhere":
        target.symlink_to(tmp_path / "nowhere")
    else:
        target.mkdir()
    if kind == "folder of somebody's":
        (target / "letter.txt").write_bytes(b"mine")
    with pytest.raises(KitError, match="it exists and is no kit folder, so --force does not replace it"):
        write_folder(target, NEW, force=True)
    assert names(tmp_path) == ["kit"]
    if kind == "folder of somebody's":
        assert contents(target) == {"letter.txt": b"mine"}


def test_force_deletes_nothing_that_is_not_the_kits(old: Path) -> None:
    """Scans kept beside the kit; or a kit unpacked into a folder full of other things."""
    (old / "scans").mkdir()
    (old / "reading.json").write_bytes(b"{}")
    with pytest.raises(KitError, match=r"beside the kit it holds reading\.json, scans, which --force would delete"):
        write_folder(old, NEW, force=True)
    assert {"reading.json", "scans", *OLD} == set(names(old))


def test_force_does_not_mind_what_a_desktop_leaves_in_every_folder(old: Path) -> None:
    (old / ".DS_Store").write_bytes(b"")
    (old / "Thumbs.db").write_bytes(b"")
    write_folder(old, NEW, force=True)
    assert contents(old) == NEW


def test_a_link_to_a_kit_stays_a_link(tmp_path: Path, old: Path) -> None:
    (tmp_path / "latest").symlink_to(old)
    with pytest.raises(KitError, match="it exists already"):
        write_folder(tmp_path / "latest", NEW, force=False)
    write_folder(tmp_path / "latest", NEW, force=True)
    assert (tmp_path / "latest").is_symlink()
    assert contents(old) == NEW
    assert names(tmp_path) == ["kit", "latest"]


@pytest.mark.parametrize("spelling", [".", "", "../kit"])
def test_the_folder_one_works_in_is_not_replaced(old: Path, monkeypatch: pytest.MonkeyPatch, spelling: str) -> None:
    monkeypatch.chdir(old)
    with pytest.raises(KitError, match="it is the folder that you are working in"):
        write_folder(Path(spelling), NEW, force=True)
    assert contents(old) == OLD


@pytest.mark.parametrize("refused", ["write", "rename", "make"])
def test_a_disk_that_refuses_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, refused: str
) -> None:
    refuse(monkeypatch, refused)
    sentence = r"kit: the disk refused: no space left on device\. Nothing was changed"
    with pytest.raises(StorageError, match=sentence) as refusal:
        write_folder(tmp_path / "deep" / "er" / "kit", NEW, force=False)
    assert refusal.value.exit_code == ExitCode.STORAGE
    assert names(tmp_path) == []


@pytest.mark.parametrize("refused", ["write", "rename", "make", "second rename"])
def test_a_disk_that_refuses_leaves_the_old_kit(old: Path, monkeypatch: pytest.MonkeyPatch, refused: str) -> None:
    refuse(monkeypatch, refused)
    with pytest.raises(StorageError):
        write_folder(old, NEW, force=True)
    assert contents(old) == OLD
    assert names(old.parent) == ["kit"]


@pytest.mark.parametrize("when", ["write", "rename", "second rename"])
def test_an_interrupt_leaves_the_old_kit(old: Path, monkeypatch: pytest.MonkeyPatch, when: str) -> None:
    refuse(monkeypatch, when, KeyboardInterrupt())
    with pytest.raises(KeyboardInterrupt):
        write_folder(old, NEW, force=True)
    assert contents(old) == OLD
    assert names(old.parent) == ["kit"]


def test_an_interrupt_leaves_no_half_kit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    refuse(monkeypatch, "write", KeyboardInterrupt())
    with pytest.raises(KeyboardInterrupt):
        write_folder(tmp_path / "new" / "kit", NEW, force=False)
    assert names(tmp_path) == []


def test_a_path_through_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"mine")
    for target in (tmp_path / "file" / "kit", tmp_path / "file" / "deep" / "kit"):
        with pytest.raises(StorageError, match="the disk refused"):
            write_folder(target, NEW, force=False)
    assert (tmp_path / "file").read_bytes() == b"mine"


@pytest.mark.skipif(not Path("/proc/version").exists(), reason="only Linux has /proc, where nobody makes folders")
def test_a_place_where_nobody_may_write_is_refused() -> None:
    with pytest.raises(StorageError, match="the disk refused"):
        write_folder(Path("/proc/kit"), NEW, force=False)


def test_the_files_of_a_kit_are_those_of_the_format() -> None:
    """FORMATS, section 2."""
    assert {
        "kit.json",
        "layout.json",
        "forms.pdf",
        "coasters.pdf",
        "host.pdf",
        "keys.pdf",
        "vials.pdf",
        "packing.pdf",
        "letters.pdf",
        "contents.pdf",
    } == KIT_FILES


def refuse(monkeypatch: pytest.MonkeyPatch, what: str, error: BaseException | None = None) -> None:
    """Let the disk refuse (or the person interrupt) when files are written, or at the first or second renaming."""
    raised = error or OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
    count = {"rename": 0, "fsync": 0}
    rename = Path.rename

    def renamed(self: Path, target: Path) -> Path:
        count["rename"] += 1
        if count["rename"] == (2 if what == "second rename" else 1):
            raise raised
        return rename(self, target)

    def synced(_: int) -> None:
        count["fsync"] += 1
        if count["fsync"] == 2:
            raise raised

    def made(*_: object, **__: object) -> str:
        raise raised

    if what == "write":
        monkeypatch.setattr(os, "fsync", synced)
    elif what == "make":
        monkeypatch.setattr(tempfile, "mkdtemp", made)
    else:
        monkeypatch.setattr(Path, "rename", renamed)
