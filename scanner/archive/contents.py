"""What an archive holds, as a value: two archives are the same where this is equal.

*The same* means: the same rows in every table, and the same files with the same bytes. Times do not count, for they
say when somebody did it; nor do the numbers that SQLite gives rows, and the seals over both: a row that names another
by its number names it here by what that row says.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from scanner.archive.database import Archive, Connection, Row
from scanner.archive.store import digest_of, files_in

TIMES = ("added_at", "taken_back_at", "erased_at", "at")
TABLES = (
    "piles",
    "originals",
    "kits",
    "sittings",
    "tasters",
    "sittings_tasters",
    "drinks",
    "sittings_drinks",
    "sheets",
    "marks",
    "cutouts",
    "settlements",
    "results",
    "waiting",
    "handwriting",
)
NUMBERED = {"sheet": "sheets", "superseded_by": "sheets", "taster": "tasters", "drink": "drinks"}
"""Columns that may hold a row's number, and of which table."""


@dataclass(frozen=True, slots=True)
class Contents:
    """Rows as JSON, counted, by table; files' digests by path."""

    rows: Mapping[str, Counter[str]]
    files: Mapping[str, str]


def contents_of(archive: Archive) -> Contents:
    """Return everything that the archive holds."""
    connection = archive.connection
    names = {
        table: {row["id"]: _name(row) for row in connection.execute(f"SELECT * FROM {table}")}
        for table in ("sheets", "tasters", "drinks")
    }
    rows = {table: Counter(_row(table, row, names) for row in _all(connection, table)) for table in TABLES}
    files = {path.as_posix(): digest_of(archive.folder / path) for path in files_in(archive.folder)}
    return Contents(rows, files)


def differences(one: Contents, other: Contents) -> list[str]:
    """Say where two archives differ; nothing where they are the same."""
    found = [
        f"{table}: {row}"
        for table in TABLES
        for row in (one.rows[table] - other.rows[table]) + (other.rows[table] - one.rows[table])
    ]
    paths = sorted(one.files.keys() | other.files.keys())
    return found + [path for path in paths if one.files.get(path) != other.files.get(path)]


def _all(connection: Connection, table: str) -> list[Row]:
    return connection.execute(f"SELECT * FROM {table}").fetchall()


def _name(row: Row) -> str:
    columns = row.keys()
    return f"{row['original']}:{row['page']}:{row['sheet']}" if "page" in columns else str(row["key"])


def _row(table: str, row: Row, names: Mapping[str, Mapping[int, str]]) -> str:
    entry: dict[str, Any] = {}
    for column in row.keys():  # noqa: SIM118
        if column in ("id", "seal") and (column == "seal" or isinstance(row["id"], int)):
            continue
        value = row[column]
        if column in TIMES:
            value = value is not None
        elif isinstance(value, int) and column in NUMBERED and _is_number(table, column):
            value = names[NUMBERED[column]].get(value, value)
        entry[column] = value
    return json.dumps(entry, sort_keys=True, ensure_ascii=False)


def _is_number(table: str, column: str) -> bool:
    """A `taster` is a person's number where tasters are seated, and elsewhere the number printed on the sheet."""
    return column != "taster" or table == "sittings_tasters"
