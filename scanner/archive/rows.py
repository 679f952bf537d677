"""Rows of the archive's tables: put in, changed, and sealed by a digest that tells a flipped bit.

The seal of a row is the first eight bytes of SHA-256 over its columns as JSON. Columns without a value do not count, so
a migration may add one. The seal of a sheet covers its marks and its cut-outs too.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from kit.errors import StorageError
from scanner.archive.database import Connection, Row

Arguments = ParamSpec("Arguments")
Found = TypeVar("Found")

SEAL_BYTES = 8
ODD = (ValueError, TypeError, KeyError, AttributeError, RecursionError)
"""What text that is no JSON, no date or no number of ours gives, JSON of another shape, or nested without end. All
others are defects of the program, and are not told as damage."""
SHEET_PARTS = ("marks", "cutouts")
"""The tables without a seal of their own: `sheet` names the row whose seal covers theirs."""


def refusing_odd_rows(look: Callable[Arguments, Found]) -> Callable[Arguments, Found]:
    """Make a function that reads rows say in a sentence that one of them holds what this program never writes.

    Its first argument is the archive.
    """

    @wraps(look)
    def looked(*args: Arguments.args, **kwargs: Arguments.kwargs) -> Found:
        try:
            return look(*args, **kwargs)
        except ODD as error:
            place = getattr(args[0], "folder", "the archive")
            raise StorageError(
                f"{place}: a row of the database holds what facedown never writes ({type(error).__name__}: {error}).",
                "`facedown archive verify` says more; then restore a copy. If it finds nothing, report this.",
            ) from error

    return looked


def insert(connection: Connection, table: str, **columns: Any) -> int:
    """Put a row into `table`, seal it, and return its rowid."""
    names, marks = ", ".join(columns), ", ".join("?" * len(columns))
    cursor = connection.execute(f"INSERT INTO {table} ({names}) VALUES ({marks})", tuple(columns.values()))
    rowid = cursor.lastrowid
    assert rowid is not None
    seal(connection, table, rowid)
    return rowid


def change(connection: Connection, table: str, rowid: int, **columns: Any) -> None:
    """Change columns of a row, and seal it again."""
    names = ", ".join(f"{name} = ?" for name in columns)
    connection.execute(f"UPDATE {table} SET {names} WHERE rowid = ?", (*columns.values(), rowid))
    seal(connection, table, rowid)


def rowid_of(connection: Connection, table: str, **columns: Any) -> int | None:
    """Return the rowid of the row with these values, or None where there is none."""
    names = " AND ".join(f"{name} = ?" for name in columns)
    found = connection.execute(f"SELECT rowid FROM {table} WHERE {names}", tuple(columns.values())).fetchone()
    return None if found is None else int(found[0])


def seal(connection: Connection, table: str, rowid: int) -> None:
    """Seal a row as it stands; of a sheet once its marks and cut-outs are there."""
    row = connection.execute(f"SELECT rowid AS _rowid, * FROM {table} WHERE rowid = ?", (rowid,)).fetchone()
    digest = _digest(connection, table, row)
    connection.execute(f"UPDATE {table} SET seal = ? WHERE rowid = ?", (digest, rowid))


def broken_seals(connection: Connection) -> Iterator[tuple[str, Row]]:
    """Yield the table and the row wherever a seal is not that of its row."""
    for table in sealed_tables(connection):
        for row in connection.execute(f"SELECT rowid AS _rowid, * FROM {table}"):
            if row["seal"] != _digest(connection, table, row):
                yield table, row


def sealed_tables(connection: Connection) -> tuple[str, ...]:
    """Return all tables whose rows have a seal."""
    names = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
    return tuple(name for (name,) in names if name not in SHEET_PARTS and not name.startswith("sqlite_"))


def _digest(connection: Connection, table: str, row: Row) -> bytes:
    content: dict[str, Any] = {
        name: row[name]
        for name in row.keys()  # noqa: SIM118 - a row iterates over its values
        if name not in ("seal", "_rowid") and row[name] is not None
    }
    if table == "sheets":
        for part in SHEET_PARTS:
            found = connection.execute(f"SELECT * FROM {part} WHERE sheet = ?", (row["id"],))
            content[part] = [tuple(entry)[1:] for entry in found]
    canonical = json.dumps(content, sort_keys=True, separators=(",", ":"), default=repr)
    return hashlib.sha256(canonical.encode(errors="backslashreplace")).digest()[:SEAL_BYTES]
