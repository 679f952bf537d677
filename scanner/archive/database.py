"""Opens the archive's database, brings it to the version of today, and says every refusal of SQLite in a sentence."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from kit.errors import StorageError
from kit.files import storage_error
from scanner.archive.schema import expected_schema, migrations, newest_version, run_script, schema_of

Connection = sqlite3.Connection
Row = sqlite3.Row
DamagedError = sqlite3.DatabaseError

DATABASE_FILE = "archive.sqlite3"
UNSWEPT_FILE = "unswept"
APPLICATION_ID = 0x46445731
"""In the file's header, so that no other program's database is taken for an archive: "FDW1"."""
BUSY_SECONDS = 60.0
"""How long a writer waits for another one."""
OLDEST_SQLITE = (3, 37, 0)
"""Strict tables came with it."""


@dataclass(frozen=True, slots=True)
class Archive:
    """An open archive: its folder and the connection to its database."""

    folder: Path
    connection: Connection


@contextlib.contextmanager
def archive_at(folder: Path, *, write: bool = False, create: bool = False, frozen: bool = False) -> Iterator[Archive]:
    """Open the archive in `folder` for the block; the database is closed at its end.

    Parameters
    ----------
    write : bool
        Without it nothing can be changed, and a folder that is read-only will do.
    create : bool
        Make the archive where there is none.
    frozen : bool
        Read it exactly as it is: nothing in the folder is made or changed, not even to bring an older archive up to
        date. Nobody else may change it meanwhile.

    Raises
    ------
    StorageError
        If there is none, it is another program's or a newer version's, or the disk or SQLite refuses, whenever in the
        block.
    """
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        found = f"this Python has {sqlite3.sqlite_version}"
        raise StorageError(f"The archive needs SQLite 3.37; {found}.", "Update Python.")
    with _refusals(folder):
        _refuse_links(folder)
        if create and not (folder / DATABASE_FILE).exists():
            _refuse_strangers(folder)
            folder.mkdir(parents=True, exist_ok=True)
        elif not (folder / DATABASE_FILE).is_file():
            raise StorageError(
                f"{folder}: there is no archive here.", "`facedown archive add` makes one; or name another folder."
            )
        connection = _immutable(folder) if frozen else _connected(folder, write=write)
        try:
            _brought_up_to_date(folder, connection, write=write, frozen=frozen)
            yield Archive(folder, connection)
        except (sqlite3.OperationalError, IndexError):  # a table or a column that is not there
            _refuse_other_tables(folder, connection, version_of(connection))
            raise
        finally:
            connection.close()


def snapshot(archive: Archive, target: Path) -> None:
    """Write the database as it is at this moment into a new file, without what was deleted from it.

    A snapshot of a snapshot is the same file, byte for byte.
    """
    connection = archive.connection
    [schema_version] = connection.execute("PRAGMA schema_version").fetchone()
    [query_only] = connection.execute("PRAGMA query_only").fetchone()
    connection.execute("PRAGMA query_only = OFF")
    try:
        connection.execute("VACUUM INTO ?", (str(target),))
    finally:
        connection.execute(f"PRAGMA query_only = {query_only}")
    with contextlib.closing(_opened(target.resolve().as_uri())) as copy:
        # VACUUM counts this number up; nothing else differs.
        copy.execute(f"PRAGMA schema_version = {schema_version}")


def _refuse_links(folder: Path) -> None:
    """What the archive writes to is never a link: it would write, or delete, elsewhere."""
    for name in (DATABASE_FILE, UNSWEPT_FILE, *(f"{DATABASE_FILE}{end}" for end in ("-wal", "-shm", "-journal"))):
        if (folder / name).is_symlink():
            raise StorageError(
                f"{folder / name}: it is a link, and an archive has none: whatever it holds lies in its own folder.",
                "Put the file itself in its place.",
            )


@contextlib.contextmanager
def transaction(archive: Archive, *, leaves_files: bool = False) -> Iterator[Connection]:
    """Hold the one writer's lock for the block; all of what it writes is there afterwards, or after an error nothing.

    Files of the archive are written and deleted within such a block alone: so whoever holds the lock may take a file
    that no row names for what an interrupted writer left behind. A marker lies in the folder as long as there may be
    such files: from the beginning of a block to its good end, or with `leaves_files` to the next `store.sweep`.
    """
    connection, marker, token = archive.connection, archive.folder / UNSWEPT_FILE, os.urandom(16)
    connection.execute("BEGIN IMMEDIATE")
    try:
        was_unswept = marker.exists()
        marker.write_bytes(token)
        yield connection
        connection.execute("COMMIT")
        if not was_unswept and not leaves_files:
            _remove_marker(connection, marker, token)
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def _remove_marker(connection: Connection, marker: Path, token: bytes) -> None:
    """Remove the marker under the lock; another writer's, who has begun meanwhile, stays."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        if marker.exists() and marker.read_bytes() == token:
            marker.unlink()
    finally:
        connection.execute("ROLLBACK")


def _connected(folder: Path, *, write: bool) -> Connection:
    place = _uri(folder)
    mode = "rwc" if write else "rw"
    connection = _opened(f"{place}?mode={mode}")
    try:
        if write:
            _set_up(connection)
        else:
            connection.execute("PRAGMA query_only = ON")
        connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.OperationalError:
        connection.close()
        if write or os.access(folder, os.W_OK) or (folder / f"{DATABASE_FILE}-wal").exists():
            raise
        # On a read-only disk the files that SQLite shares between processes cannot be made; nor can anything change.
        return _immutable(folder)
    except BaseException:
        connection.close()
        raise
    return connection


def _immutable(folder: Path) -> Connection:
    return _opened(f"{_uri(folder)}?immutable=1")


def _uri(folder: Path) -> str:
    return (folder / DATABASE_FILE).resolve().as_uri()


def _opened(uri: str) -> Connection:
    connection = sqlite3.connect(uri, uri=True, timeout=BUSY_SECONDS, isolation_level=None)
    connection.row_factory = sqlite3.Row
    return connection


def _set_up(connection: Connection) -> None:
    # Erased rows are overwritten, and a commit is on the disk before it returns.
    connection.execute("PRAGMA secure_delete = ON")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA synchronous = FULL")
    # Two processes that make an archive at once: SQLite does not wait here by itself.
    deadline = time.monotonic() + BUSY_SECONDS
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > deadline:
                raise
            time.sleep(0.02)


def _brought_up_to_date(folder: Path, connection: Connection, *, write: bool, frozen: bool) -> None:
    version, newest = version_of(connection), newest_version()
    _refuse_other_programs(folder, connection, version)
    if version > newest:
        raise StorageError(
            f"{folder}: the archive is of version {version}; this program knows versions up to {newest}.",
            "Use a newer facedown.",
        )
    if version == newest or frozen:
        return
    if not write:
        with archive_at(folder, write=True):
            return
    for number in range(version + 1, newest + 1):
        connection.execute("BEGIN IMMEDIATE")
        try:
            # Another process may have come first.
            if version_of(connection) < number:
                _refuse_other_tables(folder, connection, number - 1)
                run_script(connection, migrations()[number - 1])
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                connection.execute(f"PRAGMA user_version = {number}")
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise


def version_of(connection: Connection) -> int:
    """Return the version of the schema that the database says it has."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def _refuse_other_programs(folder: Path, connection: Connection, version: int) -> None:
    [mark] = connection.execute("PRAGMA application_id").fetchone()
    is_empty = not version and not mark and not connection.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone()
    if mark != APPLICATION_ID and not is_empty:
        raise StorageError(
            f"{folder / DATABASE_FILE}: this is no archive of facedown, or its first bytes are damaged.",
            "Name another folder, or take the archive from a copy.",
        )


def _refuse_other_tables(folder: Path, connection: Connection, version: int) -> None:
    if schema_of(connection) != expected_schema(version):
        raise StorageError(
            f"{folder / DATABASE_FILE}: the database is damaged: it says that it is of version {version}, and "
            "its tables are of another.",
            "Take the archive from a copy.",
        )


def _refuse_strangers(folder: Path) -> None:
    """An archive is made in a new folder or an empty one: it never spreads among somebody's files."""
    leftovers = {f"{DATABASE_FILE}-wal", f"{DATABASE_FILE}-shm", DATABASE_FILE, ".DS_Store", "Thumbs.db"}
    if folder.exists() and any(entry.name not in leftovers for entry in folder.iterdir()):
        if (folder / DATABASE_FILE).exists():  # another process has just made it
            return
        raise StorageError(
            f"{folder}: the folder is not empty, and no archive is in it.", "Name a new folder for the archive."
        )


@contextlib.contextmanager
def _refusals(folder: Path) -> Iterator[None]:
    """Turn what SQLite and the disk refuse into a StorageError."""
    try:
        yield
    except sqlite3.IntegrityError:
        raise  # a defect of this program
    except sqlite3.DatabaseError as error:
        sentence = _sentence(error)
        if sentence is None:
            raise
        raise StorageError(f"{folder / DATABASE_FILE}: {sentence[0]}", sentence[1]) from error
    except UnicodeDecodeError as error:  # SQLite quotes what is damaged
        sentence = _DAMAGED
        raise StorageError(f"{folder / DATABASE_FILE}: {sentence[0]}", sentence[1]) from error
    except OSError as error:
        raise storage_error(error) from error


_DAMAGED = ("the database is damaged.", "`facedown archive verify` says more; then restore a copy.")


def _sentence(error: sqlite3.DatabaseError) -> tuple[str, str] | None:
    name = getattr(error, "sqlite_errorname", "")
    if any(
        words in str(error) for words in ("unsupported file format", "Could not decode to UTF-8", "integer overflow")
    ):
        return _DAMAGED
    for beginning, sentence, advice in (
        ("SQLITE_FULL", "the disk is full; nothing was changed.", "Free some space, and do it again."),
        ("SQLITE_READONLY", "it may not be written to.", "Choose a folder that you may write to."),
        ("SQLITE_CANTOPEN", "it cannot be opened or made here.", "Choose a folder that you may write to."),
        ("SQLITE_BUSY", "another program keeps it locked.", "Close that program, and do it again."),
        ("SQLITE_LOCKED", "another program keeps it locked.", "Close that program, and do it again."),
        ("SQLITE_IOERR", "the disk failed to read or write it.", "Look after the disk, and do it again."),
        ("SQLITE_CORRUPT", *_DAMAGED),
        ("SQLITE_NOTADB", "this is no database, or a damaged one.", "Restore a copy of the archive."),
    ):
        if name.startswith(beginning):
            return sentence, advice
    return None
