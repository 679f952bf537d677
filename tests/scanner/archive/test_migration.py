"""An archive of the first version, committed as SQL, is brought to today's with everything that was in it."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from click.testing import CliRunner

from kit.shell import main
from scanner.archive.database import DATABASE_FILE, Archive, archive_at
from scanner.archive.rows import broken_seals
from scanner.archive.schema import expected_schema, migrations, newest_version, schema_of
from tests.scanner.archive.pile import KIT

VERSION_1 = Path(__file__).with_name("version_1.sql")
TABLES_OF_1 = 14


@pytest.fixture
def old(tmp_path: Path) -> Path:
    folder = tmp_path / "archive"
    folder.mkdir()
    connection = sqlite3.connect(folder / DATABASE_FILE)
    connection.executescript(VERSION_1.read_text("utf-8"))
    connection.close()
    return folder


def rows(folder: Path) -> dict[str, list[tuple[object, ...]]]:
    connection = sqlite3.connect(folder / DATABASE_FILE)
    names = [name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    found = {name: sorted(map(repr, connection.execute(f"SELECT * FROM {name}"))) for name in names}
    connection.close()
    return found  # type: ignore[return-value]


def version(archive: Archive) -> int:
    return int(archive.connection.execute("PRAGMA user_version").fetchone()[0])


def test_the_fixture_is_of_the_first_version_and_full(old: Path) -> None:
    found = rows(old)
    assert len(found) == TABLES_OF_1
    assert all(found[table] for table in ("kits", "sheets", "marks", "cutouts", "settlements", "results", "waiting"))


def test_everything_of_the_first_version_is_there_afterwards(old: Path) -> None:
    before = rows(old)
    with archive_at(old, write=True) as archive:
        assert version(archive) == newest_version() == len(migrations())
        assert schema_of(archive.connection) == expected_schema()
        assert archive.connection.execute("PRAGMA integrity_check").fetchall()[0][0] == "ok"
        assert archive.connection.execute("PRAGMA foreign_key_check").fetchall() == []
        assert list(broken_seals(archive.connection)) == []
    after = rows(old)
    assert {table: after[table] for table in before} == before


def test_looking_into_an_old_archive_brings_it_up_to_date_too(old: Path) -> None:
    answer = CliRunner().invoke(main, ["archive", "show", "--archive", str(old), f"{KIT}-0007-1"])
    assert (answer.exit_code, "Settled" in answer.output) == (0, True)
    with archive_at(old) as archive:
        assert version(archive) == newest_version()


def test_a_migration_that_fails_leaves_the_former_version(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    scripts = migrations()
    broken = (scripts[0], scripts[1] + "\nINSERT INTO no_such_table VALUES (1);\n")
    monkeypatch.setattr("scanner.archive.database.migrations", lambda: broken)
    with pytest.raises(sqlite3.OperationalError), archive_at(old, write=True):
        pass
    connection = sqlite3.connect(old / DATABASE_FILE)
    assert connection.execute("PRAGMA user_version").fetchone() == (1,)
    assert not connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'handwriting'").fetchall()
    connection.close()


def test_an_archive_of_a_newer_version_is_refused_with_a_sentence(old: Path) -> None:
    connection = sqlite3.connect(old / DATABASE_FILE)
    connection.execute(f"PRAGMA user_version = {newest_version() + 1}")
    connection.close()
    answer = CliRunner().invoke(main, ["archive", "list", "--archive", str(old)])
    assert (answer.exit_code, "Use a newer facedown" in answer.output) == (5, True)
