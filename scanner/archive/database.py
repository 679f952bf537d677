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
def archive_at(folder: Path, *, write: bool = False, create: bool = False) -> Iterator[Archive]:
    """Open the archive in `folder` for the block; the database is closed at its end.

    Parameters
    ----------
    write : bool
        Without it nothing can be changed, and a folder that is read-only will do.
    create : bool
        Make the archive where there is none.

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
        if create and not (folder / DATABASE_FILE).exists():
            _refuse_strangers(folder)
            folder.mkdir(parents=True, exist_ok=True)
        elif not (folder / DATABASE_FILE).is_file():
            raise StorageError(
                f"{folder}: there is no archive here.", "`facedown archive add` makes one; or name another folder."
            )
        connection = _connected(folder, write=write)
        try:
            _brought_up_to_date(folder, connection, write=write)
            yield Archive(folder, connection)
        finally:
            connection.close()


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


def newest_version() -> int:
    """Return the version of the schema that this program writes."""
    return len(_migration_files())


def migrations() -> tuple[str, ...]:
    """Return the SQL of all migrations, in order; the first makes the tables."""
    return tuple(path.read_text("utf-8") for path in _migration_files())


def schema_of(connection: Connection) -> set[tuple[str, str]]:
    """Return the name and the SQL of every table and index."""
    found = connection.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL")
    return {(name, sql) for name, sql in found}


def expected_schema() -> set[tuple[str, str]]:
    """Return the schema that the migrations make."""
    with contextlib.closing(sqlite3.connect(":memory:", isolation_level=None)) as fresh:
        for script in migrations():
            run_script(fresh, script)
        return schema_of(fresh)


def run_script(connection: Connection, script: str) -> None:
    """Run the statements of a script one by one; unlike `executescript` it leaves an open transaction open."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            connection.execute(statement)
            statement = ""


def _migration_files() -> list[Path]:
    return sorted(Path(__file__).with_name("migrations").glob("*.sql"))


def _connected(folder: Path, *, write: bool) -> Connection:
    place = (folder / DATABASE_FILE).resolve().as_uri()
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
        return _opened(f"{place}?immutable=1")
    except BaseException:
        connection.close()
        raise
    return connection


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


def _brought_up_to_date(folder: Path, connection: Connection, *, write: bool) -> None:
    version, newest = _version(connection), newest_version()
    _refuse_other_programs(folder, connection, version)
    if version > newest:
        raise StorageError(
            f"{folder}: the archive is of version {version}; this program knows versions up to {newest}.",
            "Use a newer facedown.",
        )
    if version == newest:
        return
    if not write:
        with archive_at(folder, write=True):
            return
    for number in range(version + 1, newest + 1):
        connection.execute("BEGIN IMMEDIATE")
        try:
            # Another process may have come first.
            if _version(connection) < number:
                run_script(connection, migrations()[number - 1])
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                connection.execute(f"PRAGMA user_version = {number}")
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise


def _version(connection: Connection) -> int:
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def _refuse_other_programs(folder: Path, connection: Connection, version: int) -> None:
    [mark] = connection.execute("PRAGMA application_id").fetchone()
    is_empty = not version and not mark and not connection.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone()
    if mark != APPLICATION_ID and not is_empty:
        raise StorageError(
            f"{folder / DATABASE_FILE}: this is no archive of facedown, or its first bytes are damaged.",
            "Name another folder, or take the archive from a copy.",
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
    except OSError as error:
        raise storage_error(error) from error


def _sentence(error: sqlite3.DatabaseError) -> tuple[str, str] | None:
    name = getattr(error, "sqlite_errorname", "")
    for beginning, sentence, advice in (
        ("SQLITE_FULL", "the disk is full; nothing was changed.", "Free some space, and do it again."),
        ("SQLITE_READONLY", "it may not be written to.", "Choose a folder that you may write to."),
        ("SQLITE_CANTOPEN", "it cannot be opened or made here.", "Choose a folder that you may write to."),
        ("SQLITE_BUSY", "another program keeps it locked.", "Close that program, and do it again."),
        ("SQLITE_LOCKED", "another program keeps it locked.", "Close that program, and do it again."),
        ("SQLITE_IOERR", "the disk failed to read or write it.", "Look after the disk, and do it again."),
        ("SQLITE_CORRUPT", "the database is damaged.", "`facedown archive verify` says more; then restore a copy."),
        ("SQLITE_NOTADB", "this is no database, or a damaged one.", "Restore a copy of the archive."),
    ):
        if name.startswith(beginning):
            return sentence, advice
    return None
