"""The archive's files: page files and cut-outs by the SHA-256 of their bytes, each kit's two records by name.

Files are written within a transaction alone (`database.transaction`), under a temporary name first. What an interrupted
process leaves behind is a file that no row names; `sweep` removes it.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from kit.errors import SourceError, StorageError
from kit.files import LAYOUT_FILE, RECORD_FILE, storage_error
from scanner.archive.database import DATABASE_FILE, UNSWEPT_FILE, Archive, Connection, transaction
from scanner.file_kinds import HEAD_BYTES, FileKind, kind_of

ORIGINALS, CUTOUTS, KITS = "originals", "cutouts", "kits"
PENDING = "pending-"
"""Before the name of a kit's record that is about to take the place of the former one."""
TYPED_SUFFIX = ".json"
SUFFIXES = {
    FileKind.JPEG: ".jpg",
    FileKind.PNG: ".png",
    FileKind.WEBP: ".webp",
    FileKind.HEIF: ".heic",
    FileKind.TIFF: ".tif",
    FileKind.BMP: ".bmp",
    FileKind.GIF: ".gif",
    FileKind.PDF: ".pdf",
}
CHUNK = 1 << 20
_NAME = re.compile(r"[0-9A-Za-z][0-9A-Za-z_.-]*")


def original_path(folder: Path, digest: str, suffix: str) -> Path:
    """Return where an original is kept; StorageError as of `_within`."""
    return _within(folder, ORIGINALS, digest[:2], f"{digest}{suffix}")


def cutout_path(folder: Path, digest: str) -> Path:
    """Return where a cut-out is kept; StorageError as of `_within`."""
    return _within(folder, CUTOUTS, digest[:2], f"{digest}.png")


def kit_folder(folder: Path, kit: str) -> Path:
    """Return the kit folder within the archive: `kit.json` and `layout.json`; StorageError as of `_within`."""
    return _within(folder, KITS, kit)


def _within(folder: Path, *parts: str) -> Path:
    """Return the path of a file that a row of the database names.

    Raises
    ------
    StorageError
        If it would lead out of the archive: a name that facedown never gives, or a link on the way.
    """
    path = folder
    for part in parts:
        path = path / part
        if not _NAME.fullmatch(part):
            raise StorageError(
                f"{folder / DATABASE_FILE}: the database names a file {'/'.join(parts)!r}, which none of its files can "
                "be called.",
                "Another program changed it; take the archive from a copy.",
            )
        if path.is_symlink():
            raise StorageError(
                f"{path}: it is a link, and an archive has none: whatever it holds lies in its own folder.",
                "Put the folder or file itself in its place.",
            )
    return path


def suffix_of(path: Path) -> str:
    """Return the suffix of a file by its content; '' where it is nothing that is read."""
    with path.open("rb") as file:
        kind = kind_of(file.read(HEAD_BYTES))
    return SUFFIXES[kind] if kind else ""


def digest_of(path: Path) -> str:
    """Return the SHA-256 of a file, in hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def keep_file(source: Path, target: Path, digest: str) -> None:
    """Copy a file to its place, unless it lies there already.

    Raises
    ------
    SourceError
        If its bytes have not that digest any more: it was changed while it was read.
    StorageError
        If the disk refuses; then nothing is left behind.
    """
    if target.exists():
        return
    with source.open("rb") as given, _replaced(target) as file:
        copied = hashlib.sha256()
        while chunk := given.read(CHUNK):
            copied.update(chunk)
            file.write(chunk)
        if copied.hexdigest() != digest:
            raise SourceError(f"{source}: the file changed while it was read.", "Add it again.")


def keep_bytes(content: bytes, target: Path) -> None:
    """Write bytes to their place, in one step, in place of what lies there.

    Raises
    ------
    StorageError
        If the disk refuses; then nothing is left behind.
    """
    with _replaced(target) as file:
        file.write(content)


def files_in(folder: Path) -> Iterator[Path]:
    """Yield the archive's files but the database's own, as paths within the archive."""
    for name in (ORIGINALS, CUTOUTS, KITS):
        if (folder / name).is_symlink():
            continue  # what lies behind it is not the archive's, nor to be swept away
        for place, _, names in os.walk(folder / name):
            yield from (Path(place, name).relative_to(folder) for name in names)


@dataclass(frozen=True, slots=True)
class Named:
    """A file that a row names, with the digests that it may have; `optional` where it may be missing."""

    digests: tuple[str, ...]
    optional: bool = False


def named_files(connection: Connection) -> dict[Path, Named]:
    """Return every file that a row names, by its path within the archive.

    Raises
    ------
    StorageError
        If a row names one by what cannot be a file of the archive: the database is damaged.
    """
    try:
        return _named(connection)
    except TypeError as error:
        raise StorageError(
            "The database is damaged: a row names a file by what is no text.", "Restore a copy of the archive."
        ) from error


def _named(connection: Connection) -> dict[Path, Named]:
    here = Path()
    named = {
        original_path(here, digest, suffix): Named((digest,))
        for digest, suffix in connection.execute("SELECT digest, suffix FROM originals")
    }
    cutouts = connection.execute("SELECT DISTINCT digest FROM cutouts")
    named |= {cutout_path(here, digest): Named((digest,)) for (digest,) in cutouts}
    kits = connection.execute("SELECT id, record_digest, layout_digest, record_pending, layout_pending FROM kits")
    for kit, *digests in kits:
        for name, held, pending in zip((RECORD_FILE, LAYOUT_FILE), digests[:2], digests[2:], strict=True):
            named[kit_folder(here, kit) / name] = Named((held, pending) if pending else (held,))
            if pending:
                named[kit_folder(here, kit) / f"{PENDING}{name}"] = Named((pending,), optional=True)
    return named


def sweep(archive: Archive) -> int:
    """Remove every file that no row names, where there may be such; return how many there were."""
    marker = archive.folder / UNSWEPT_FILE
    if not marker.exists():
        return 0
    with transaction(archive):
        named = named_files(archive.connection)
        strays = [path for path in files_in(archive.folder) if path not in named]
        for path in strays:
            (archive.folder / path).unlink(missing_ok=True)
            with contextlib.suppress(OSError):
                (archive.folder / path).parent.rmdir()
        marker.unlink(missing_ok=True)
    return len(strays)


@contextlib.contextmanager
def _replaced(target: Path) -> Iterator[BinaryIO]:
    """Give a file to write that takes the place of `target`, on the disk, when the block ends well."""
    temporary = target.with_name(f".{os.urandom(8).hex()}.tmp")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with temporary.open("xb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(target)
        _sync_folder(target.parent)
    except OSError as error:
        raise storage_error(error, target) from error
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)


def _sync_folder(folder: Path) -> None:
    # A rename is on the disk once its folder is; Windows opens no folders, and needs none of it.
    if os.name == "posix":
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
