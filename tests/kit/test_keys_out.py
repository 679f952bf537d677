"""`--keys-out`: the one file for all papers that show a key: outside the kit, its owner's alone, never over another."""

from __future__ import annotations

import errno
import io
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from kit.errors import ExitCode, KitError, StorageError
from kit.keys_out import KeysFile, keys_file
from kit.print_run import HowToPrint, print_session
from kit.record import load_kit, opened_keys
from kit.session import Shuffle
from tests.kit import samples
from tests.kit.rendering import checked_by_qpdf, needs_poppler, needs_qpdf, text_of

posix = pytest.mark.skipif(os.name != "posix", reason="modes are POSIX's")


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@posix
def test_its_owner_alone_may_read_it_at_any_time(tmp_path: Path) -> None:
    former = os.umask(0)
    try:
        with keys_file(tmp_path / "keys.pdf", tmp_path / "kit") as keys:
            (temporary,) = tmp_path.iterdir()
            assert temporary.stat().st_mode & 0o777 == 0o600
            keys.write(b"secret")
            assert not (tmp_path / "keys.pdf").exists()
            keys.publish()
    finally:
        os.umask(former)
    assert (tmp_path / "keys.pdf").stat().st_mode & 0o777 == 0o600
    assert (tmp_path / "keys.pdf").read_bytes() == b"secret"
    assert names(tmp_path) == ["keys.pdf"]


@pytest.mark.parametrize("kind", ["file", "folder", "link", "link into nowhere"])
def test_nothing_is_written_over(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "keys.pdf"
    if kind == "file":
        path.write_bytes(b"mine")
    elif kind == "folder":
        path.mkdir()
    else:
        (tmp_path / "mine").write_bytes(b"mine")
        path.symlink_to(tmp_path / ("mine" if kind == "link" else "nowhere"))
    before = names(tmp_path)
    with pytest.raises(KitError, match=r"keys\.pdf: it exists already, and keys are never written over anything"):
        with_keys(path, tmp_path / "kit")
    assert names(tmp_path) == before


def test_what_takes_the_name_meanwhile_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / "keys.pdf"
    with pytest.raises(KitError, match="it exists already"):
        with_keys(path, tmp_path / "kit", meanwhile=lambda: path.write_bytes(b"mine"))
    assert path.read_bytes() == b"mine"
    assert names(tmp_path) == ["keys.pdf"]


@pytest.mark.parametrize(
    "where", ["kit/keys.pdf", "kit", "kit/packets/keys.pdf", "kit/../kit/keys.pdf", "link/keys.pdf"]
)
def test_it_never_lies_in_the_kit_folder(tmp_path: Path, where: str) -> None:
    (tmp_path / "link").symlink_to(tmp_path / "kit")
    with pytest.raises(KitError, match="must not hold them"):
        with_keys(tmp_path / where, tmp_path / "kit")
    assert names(tmp_path) == ["link"]


def test_a_folder_whose_name_begins_like_the_kits_is_another(tmp_path: Path) -> None:
    (tmp_path / "kit-keys").mkdir()
    with_keys(tmp_path / "kit-keys" / "keys.pdf", tmp_path / "kit")
    assert (tmp_path / "kit-keys" / "keys.pdf").exists()


def test_a_disk_without_links_is_written_to_as_well(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object, **__: object) -> None:
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", refused)
    with_keys(tmp_path / "keys.pdf", tmp_path / "kit")
    assert names(tmp_path) == ["keys.pdf"]


@pytest.mark.parametrize("where", ["nowhere/keys.pdf", "file/keys.pdf"])
def test_a_place_that_is_not_there_is_the_disks_refusal(tmp_path: Path, where: str) -> None:
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(StorageError, match=r"keys\.pdf: the disk refused"):
        with_keys(tmp_path / where, tmp_path / "kit")
    assert names(tmp_path) == ["file"]


@pytest.mark.parametrize("shuffle", ["host", "twin"])
@needs_qpdf
@needs_poppler
def test_every_paper_that_shows_a_key_is_in_it_and_none_in_the_kit(tmp_path: Path, shuffle: Shuffle) -> None:
    session = replace(samples.a_session(4, shuffle=shuffle), seed=None)
    how = HowToPrint(packets=True, keys_out=tmp_path / "keys.pdf", keys_kept="passphrase", passphrase="a heron")
    print_session(session, "session.toml", tmp_path / "kit", how)
    pdf = (tmp_path / "keys.pdf").read_bytes()
    assert "No syntax or stream encoding errors found" in checked_by_qpdf(pdf)
    pages = text_of(pdf)
    headings = ["Sealed key", "Packing sheet"] if shuffle == "twin" else ["Sealed key"]
    for heading in headings:
        assert sum(heading in page for page in pages) == 3
    assert len(pages) == 3 * len(headings)
    salts = [key.salt for key in opened_keys(load_kit(tmp_path / "kit"), "a heron")]
    assert all(any(salt in page for page in pages) for salt in salts)
    for path in (tmp_path / "kit").rglob("*.pdf"):
        assert path.name not in ("keys.pdf", "packing.pdf")
        text = "".join(text_of(path.read_bytes()))
        assert not any(heading in text for heading in headings)
        assert not any(salt in text for salt in salts)
    assert len(pypdf.PdfReader(io.BytesIO(pdf)).pages) == len(pages)


@pytest.mark.parametrize("failing", ["keys", "kit", "the kit's name", "interrupt"])
def test_kit_and_keys_are_both_there_or_neither(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: str) -> None:
    full = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    def refused(*_: object) -> None:
        raise full

    def stopped(taster: int) -> None:
        if failing == "interrupt" and taster == 2:
            raise KeyboardInterrupt

    if failing == "keys":
        monkeypatch.setattr(KeysFile, "write", lambda *_: refused())
    elif failing == "kit":
        monkeypatch.setattr(os, "fsync", refused)
    elif failing == "the kit's name":
        monkeypatch.setattr("kit.folder._swap", refused)
    session = replace(samples.a_session(3), seed=None)
    with pytest.raises(KeyboardInterrupt if failing == "interrupt" else StorageError) as refusal:
        print_session(
            session,
            "session.toml",
            tmp_path / "kit",
            HowToPrint(keys_out=tmp_path / "keys.pdf", keys_kept="paper"),
            stopped,
        )
    if isinstance(refusal.value, StorageError):
        assert refusal.value.exit_code == ExitCode.STORAGE
        assert "Nothing was changed" in refusal.value.message
    assert names(tmp_path) == []


def test_a_full_disk_under_the_keys_is_told_by_their_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sync, count = os.fsync, [0]

    def synced(descriptor: int) -> None:
        count[0] += 1
        if not (tmp_path / "kit").exists() and count[0] == files:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        sync(descriptor)

    session = replace(samples.a_session(3), seed=None)
    print_session(
        session, "session.toml", tmp_path / "first", HowToPrint(keys_out=tmp_path / "first.pdf", keys_kept="paper")
    )
    files = len(names(tmp_path / "first")) + 1
    monkeypatch.setattr(os, "fsync", synced)
    with pytest.raises(StorageError, match=r"keys\.pdf: the disk refused: no space left on device"):
        print_session(
            session, "session.toml", tmp_path / "kit", HowToPrint(keys_out=tmp_path / "keys.pdf", keys_kept="paper")
        )
    assert names(tmp_path) == ["first", "first.pdf"]


def with_keys(path: Path, folder: Path, meanwhile: Callable[[], object] = lambda: None) -> None:
    with keys_file(path, folder) as keys:
        keys.write(b"secret")
        meanwhile()
        keys.publish()
