"""Looks at every byte of the archive that says anything, and names the sheet where one is not as it was."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from kit.errors import KitError, StorageError
from kit.record import layout_of, load_kit
from scanner.archive.database import (
    APPLICATION_ID,
    Archive,
    Connection,
    DamagedError,
    Row,
    version_of,
)
from scanner.archive.rows import broken_seals
from scanner.archive.schema import expected_schema, schema_of
from scanner.archive.store import KITS, ORIGINALS, digest_of, files_in, kit_folder, named_files

MOST_NAMED = 6
"""Sheets named of one damaged file."""


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that is not as it was: what, and which sheets it concerns."""

    what: str
    sheets: tuple[str, ...] = ()

    def __str__(self) -> str:
        if not self.sheets:
            return self.what
        more = f" and {len(self.sheets) - MOST_NAMED} more" if len(self.sheets) > MOST_NAMED else ""
        return f"{self.what} It concerns {', '.join(self.sheets[:MOST_NAMED])}{more}."


@dataclass(frozen=True, slots=True)
class Verified:
    """`faults` are damage; `harmless` is what an interrupted process left behind, which the next one removes."""

    faults: tuple[Fault, ...]
    harmless: tuple[str, ...]
    files: int


def verify(archive: Archive) -> Verified:
    """Check the database, by SQLite's own check and by every row's seal, and the digest of every file.

    Raises
    ------
    StorageError
        From `archive_at`, where the database cannot be opened or read at all.
    """
    connection = archive.connection
    # What is no UTF-8 any more must be found, not stumbled over.
    connection.text_factory = lambda octets: octets.decode("utf-8", "backslashreplace")
    faults = [*_of_database(connection), *_of_rows(connection)]
    with contextlib.suppress(DamagedError, StorageError):
        faults += _of_files(archive)
        named = named_files(connection)
        strays = sorted(str(path) for path in files_in(archive.folder) if path not in named)
        return Verified(tuple(faults), tuple(strays), len(named))
    return Verified((*faults, Fault("The database is so damaged that the files cannot be checked.")), (), 0)


def _of_database(connection: Connection) -> Iterator[Fault]:
    try:
        for (line,) in connection.execute("PRAGMA integrity_check"):
            if line != "ok":
                yield Fault(f"The database is damaged: {line}.")
        for table, *_ in connection.execute("PRAGMA foreign_key_check"):
            yield Fault(f"The database is damaged: a row of {table} names one that is not there.")
        if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
            yield Fault("The database is damaged: its header does not name facedown.")
        if schema_of(connection) != expected_schema(version_of(connection)):
            yield Fault("The database is damaged: its tables are not those of this version.")
    except DamagedError as error:
        yield Fault(f"The database is damaged: {error}.")


def _of_rows(connection: Connection) -> Iterator[Fault]:
    try:
        for table, row in broken_seals(connection):
            yield _broken(connection, table, row)
        orphans = connection.execute("SELECT DISTINCT sheet FROM marks WHERE sheet NOT IN (SELECT id FROM sheets)")
        for (number,) in orphans:
            yield Fault(f"The database is damaged: there are marks of a reading {number} that is not there.")
    except DamagedError as error:
        yield Fault(f"The database is damaged: its rows cannot all be read ({error}).", tuple(_unreadable(connection)))


def _broken(connection: Connection, table: str, row: Row) -> Fault:
    names = row.keys()
    if table == "sheets":
        place = f"{_source(connection, row['original'])}, page {row['page']}"
        sheets: tuple[str, ...] = (row["sheet"] or place,)
    elif table in ("settlements", "handwriting"):
        sheets = (row["subject" if table == "settlements" else "sheet"],)
    elif "original" in names or table == "originals":
        sheets = tuple(_sheets_on(connection, row["original" if "original" in names else "digest"]))
    elif "sitting" in names:
        sheets = (f"sitting {row['sitting']}",)
    else:
        sheets = (str(row["name"] if "name" in names else row["id"]),)
    return Fault(f"A row of the table {table} is not as it was written.", sheets)


def _unreadable(connection: Connection) -> Iterator[str]:
    """Yield the sheets whose rows SQLite cannot read, as far as it can still list them."""
    with contextlib.suppress(DamagedError):
        for number, sheet in connection.execute("SELECT id, sheet FROM sheets INDEXED BY readings_of_sheet").fetchall():
            try:
                connection.execute("SELECT * FROM sheets WHERE id = ?", (number,)).fetchall()
                connection.execute("SELECT * FROM marks WHERE sheet = ?", (number,)).fetchall()
            except DamagedError:
                yield sheet or f"reading {number}"


def _of_files(archive: Archive) -> Iterator[Fault]:
    for path, named in named_files(archive.connection).items():
        place = archive.folder / path
        try:
            found = digest_of(place)
        except FileNotFoundError:
            # Erased or replaced since the list was made, or lost?
            if not named.optional and path in named_files(archive.connection):
                yield Fault(f"{path}: the file is missing.", tuple(sheets_of_file(archive.connection, path)))
            continue
        except (OSError, ValueError) as error:  # ValueError of a name that no file can have
            sheets = tuple(sheets_of_file(archive.connection, path))
            reason = error.strerror if isinstance(error, OSError) else error
            yield Fault(f"{path}: it cannot be read ({reason}).", sheets)
            continue
        if found not in named.digests:
            yield Fault(f"{path}: the file is not as it was written.", tuple(sheets_of_file(archive.connection, path)))
    for (kit,) in archive.connection.execute("SELECT id FROM kits WHERE record_pending IS NULL"):
        folder = kit_folder(archive.folder, kit)
        try:
            load_kit(folder), layout_of(folder)
        except KitError as error:
            yield Fault(str(error), (f"sitting {kit}",))


def sheets_of_file(connection: Connection, path: Path) -> Iterator[str]:
    """Yield the sheets, or the sitting, that a file concerns; `path` is its path within the archive."""
    if path.parts[0] == KITS:
        yield f"sitting {path.parts[1]}"
    elif path.parts[0] == ORIGINALS:
        yield from _sheets_on(connection, path.stem)
    else:
        found = connection.execute(
            "SELECT DISTINCT sheets.sheet FROM cutouts JOIN sheets ON sheets.id = cutouts.sheet WHERE digest = ?",
            (path.stem,),
        )
        yield from (sheet for (sheet,) in found if sheet)


def _sheets_on(connection: Connection, digest: str | None) -> Iterator[str]:
    """Yield the sheets that an original shows; its name where it shows none."""
    found = [
        row["sheet"] or (f"the {row['kind']} of {row['sitting']}-{row['taster'] or 0:04d}" if row["sitting"] else None)
        for row in connection.execute(
            "SELECT DISTINCT sheet, kind, sitting, taster FROM sheets WHERE original = ? ORDER BY page", (digest,)
        )
    ]
    sheets = [sheet for sheet in found if sheet]
    yield from sheets or [_source(connection, digest)]


def _source(connection: Connection, digest: str | None) -> str:
    row = connection.execute("SELECT name FROM originals WHERE digest = ?", (digest,)).fetchone()
    return row["name"] if row else "an erased original"
