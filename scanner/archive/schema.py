"""The versions of the database's schema: one script of migrations/ for each, and what tables they make."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path


def newest_version() -> int:
    """Return the version of the schema that this program writes."""
    return len(_migration_files())


def migrations() -> tuple[str, ...]:
    """Return the SQL of all migrations, in order; the first makes the tables."""
    return tuple(path.read_text("utf-8") for path in _migration_files())


def schema_of(connection: sqlite3.Connection) -> set[tuple[str | None, ...]]:
    """Return what every table and index is, its name, its table's, and its SQL; indexes of SQLite's own have none."""
    return set(map(tuple, connection.execute("SELECT type, name, tbl_name, sql FROM sqlite_master")))


def expected_schema(version: int | None = None) -> set[tuple[str | None, ...]]:
    """Return the schema that the migrations make, up to a version, or all of them."""
    with contextlib.closing(sqlite3.connect(":memory:", isolation_level=None)) as fresh:
        for script in migrations()[:version]:
            run_script(fresh, script)
        return schema_of(fresh)


def run_script(connection: sqlite3.Connection, script: str) -> None:
    """Run the statements of a script one by one; unlike `executescript` it leaves an open transaction open."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            connection.execute(statement)
            statement = ""


def _migration_files() -> list[Path]:
    return sorted(Path(__file__).with_name("migrations").glob("*.sql"))
