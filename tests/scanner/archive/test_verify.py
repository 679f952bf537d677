"""`verify` finds any flipped bit and names the sheet. SQLite's own integrity check is the check from outside."""

from __future__ import annotations

import random
import shutil
import sqlite3
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kit.errors import StorageError
from kit.shell import main
from scanner.archive.contents import contents_of, differences
from scanner.archive.database import DATABASE_FILE, UNSWEPT_FILE, archive_at
from scanner.archive.store import CUTOUTS, KITS, ORIGINALS
from scanner.archive.verify import Verified, verify
from tests.scanner.archive.pile import KIT, Pile

FLIPS = 60
FORMAT_NONE = 8 * 47 + 2
"""Makes the schema's format 0, which SQLite takes for an empty file's: it changes nothing."""
OF_SHEET = "WHERE sheet = (SELECT id FROM sheets WHERE sheet = '{}')"


def facedown(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def verified(folder: Path) -> Verified:
    with archive_at(folder) as archive:
        return verify(archive)


def flip(path: Path, place: int) -> None:
    content = bytearray(path.read_bytes())
    content[place // 8] ^= 1 << place % 8
    path.write_bytes(content)


def test_an_archive_as_it_was_written_is_whole(folder: Path) -> None:
    answer = facedown("archive", "verify", "--archive", folder)
    assert (answer.exit_code, "All is as it was written" in answer.output) == (0, True)
    with sqlite3.connect(folder / DATABASE_FILE) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    connection.close()


@pytest.mark.parametrize("part", [ORIGINALS, CUTOUTS, KITS])
def test_a_flipped_bit_in_a_file_is_found_and_the_sheet_named(folder: Path, part: str) -> None:
    rng = random.Random(part)
    for path in sorted(path for path in (folder / part).rglob("*") if path.is_file())[:12]:
        whole = path.read_bytes()
        flip(path, rng.randrange(8 * len(whole)))
        [fault, *_] = verified(folder).faults
        assert str(path.relative_to(folder)) in str(fault) or str(path.parent) in str(fault)
        assert fault.sheets
        path.write_bytes(whole)
    assert verified(folder).faults == ()


def test_the_sheet_that_a_damaged_original_shows_is_named(folder: Path) -> None:
    with archive_at(folder) as archive:
        row = archive.connection.execute("SELECT * FROM originals WHERE name = 'kofi-match.jpg'").fetchone()
    flip(folder / ORIGINALS / row["digest"][:2] / f"{row['digest']}.jpg", 4321)
    answer = facedown("archive", "verify", "--archive", folder)
    assert answer.exit_code == 5
    assert f"{KIT}-0007-3" in answer.output


def test_a_file_that_is_gone_is_found(folder: Path) -> None:
    path = next(path for path in (folder / ORIGINALS).rglob("*.heic"))
    path.unlink()
    assert "the file is missing" in str(verified(folder).faults[0])


def test_a_flipped_bit_in_the_database_is_found_or_is_where_nothing_is_written(folder: Path, tmp_path: Path) -> None:
    """What no check can see must change nothing: the archive still says the same."""
    with archive_at(folder) as archive:
        before = contents_of(archive)
    whole = (folder / DATABASE_FILE).read_bytes()
    rng, unnoticed = random.Random(7), 0
    for _ in range(FLIPS):
        flip(folder / DATABASE_FILE, rng.randrange(8 * len(whole)))
        try:
            faults = verified(folder).faults
            if not faults:
                unnoticed += 1
                with archive_at(folder) as archive:
                    assert differences(contents_of(archive), before) == []
        except StorageError:
            pass
        for rest in folder.glob(f"{DATABASE_FILE}-*"):
            rest.unlink()
        (folder / DATABASE_FILE).write_bytes(whole)
    assert unnoticed < FLIPS  # half the pages of so small a database are empty


@pytest.mark.parametrize(
    ("change", "sheet"),
    [
        (
            "UPDATE marks SET option = option || 'x' WHERE sheet = (SELECT id FROM sheets WHERE sheet = '{}')",
            f"{KIT}-0007-3",
        ),
        ("DELETE FROM marks WHERE sheet = (SELECT id FROM sheets WHERE sheet = '{}')", f"{KIT}-0007-2"),
        ("UPDATE sheets SET taster = 1 WHERE sheet = '{}'", f"{KIT}-0008-1"),
        (
            "UPDATE cutouts SET field = field || 'x' WHERE sheet = (SELECT id FROM sheets WHERE sheet = '{}')",
            f"{KIT}-0008-1",
        ),
    ],
)
def test_a_row_that_was_changed_behind_its_back_is_found_and_the_sheet_named(
    folder: Path, change: str, sheet: str
) -> None:
    with sqlite3.connect(folder / DATABASE_FILE) as connection:
        changed = connection.execute(change.format(sheet)).rowcount
    assert changed > 0
    connection.close()
    named = [sheet for fault in verified(folder).faults for sheet in fault.sheets]
    assert sheet in named


def test_what_a_killed_process_left_behind_is_harmless_and_the_next_add_removes_it(folder: Path, pile: Pile) -> None:
    stray = folder / ORIGINALS / "ab" / f"{'ab' * 32}.jpg"
    stray.parent.mkdir(exist_ok=True)
    stray.write_bytes(b"half a pict")
    (stray.parent / ".1234.tmp").write_bytes(b"half")
    (folder / UNSWEPT_FILE).write_bytes(b"of the killed process")
    answer = facedown("archive", "verify", "--archive", folder)
    assert (answer.exit_code, answer.output.count("harmless")) == (0, 2)
    pile.add(folder)
    assert not stray.exists()
    assert verified(folder).harmless == ()
    assert not (folder / UNSWEPT_FILE).exists()


def test_no_bit_of_what_the_header_says_of_versions_ends_in_a_defect(folder: Path) -> None:
    """SQLite, Database File Format, 1.3: byte 47 has the schema's format, 63 our version, 71 whose file it is."""
    whole = (folder / DATABASE_FILE).read_bytes()
    for place in (8 * byte + bit for byte in (47, 63, 71) for bit in range(8)):
        if place == FORMAT_NONE:
            continue
        flip(folder / DATABASE_FILE, place)
        answer = facedown("archive", "verify", "--archive", folder)
        assert (answer.exit_code, "Traceback" in answer.output) == (5, False), place
        for rest in folder.glob(f"{DATABASE_FILE}-*"):
            rest.unlink()
        (folder / DATABASE_FILE).write_bytes(whole)


def test_a_table_that_passes_for_something_else_is_found(folder: Path) -> None:
    """A bit flipped in the word "table" would hide its rows from a look at all tables."""
    database = folder / DATABASE_FILE
    content = database.read_bytes()
    assert content.count(b"tablesettlementssettlements") == 1
    database.write_bytes(content.replace(b"tablesettlementssettlements", b"tabdesettlementssettlements"))
    answer = facedown("archive", "verify", "--archive", folder)
    assert (answer.exit_code, "Traceback" in answer.output) == (5, False)


def test_a_database_cut_short_is_refused_with_a_sentence(folder: Path, tmp_path: Path) -> None:
    database = folder / DATABASE_FILE
    database.write_bytes(database.read_bytes()[:3000])
    for words in (("list",), ("verify",), ("show", KIT)):
        answer = facedown("archive", *words, "--archive", folder)
        assert answer.exit_code == 5, answer.output
        assert "damaged" in answer.output


def test_another_programs_database_is_no_archive(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    with sqlite3.connect(tmp_path / "a" / DATABASE_FILE) as connection:
        connection.execute("CREATE TABLE recipes (name)")
    connection.close()
    answer = facedown("archive", "list", "--archive", tmp_path / "a")
    assert (answer.exit_code, "no archive of facedown" in answer.output) == (5, True)
    shutil.rmtree(tmp_path / "a")


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE sittings SET title = CAST(x'4669ff7374' AS TEXT)",
        "UPDATE sheets SET reason = CAST(x'ff33' AS TEXT)",
        "ALTER TABLE sheets RENAME COLUMN conflict TO konflict",
        "ALTER TABLE results RENAME TO resulds",
        "UPDATE sheets SET left_over = 9223372036854775807",
    ],
)
def test_what_damage_does_to_the_database_s_text_and_tables_is_never_told_as_a_defect(
    folder: Path, damage: str
) -> None:
    with sqlite3.connect(folder / DATABASE_FILE) as connection:
        connection.execute(damage)
    connection.close()
    statuses = [
        facedown("archive", *command, "--archive", folder).exit_code
        for command in (["list"], ["show", KIT], ["show", "ines"], ["show", f"{KIT}-0007-3"], ["verify"])
    ]
    assert set(statuses) <= {0, 4, 5}
    assert statuses[-1] == 5
