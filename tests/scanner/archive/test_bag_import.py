"""An archive out of its bag: byte for byte, or nothing at all. The reference library makes the harmful bags agree."""

from __future__ import annotations

import errno
import json
import os
import random
import shutil
import sqlite3
from pathlib import Path

import pytest

from scanner.archive.bag import is_bag
from scanner.archive.bag_import import import_bag
from scanner.archive.contents import TABLES, contents_of, differences
from scanner.archive.database import DATABASE_FILE, archive_at, snapshot
from scanner.archive.rows import change
from scanner.archive.verify import verify
from tests.scanner.archive.bags import digest_anew, facedown, files_of, flip
from tests.scanner.archive.pile import KIT, Pile

FLIPS = 24


def all_rows(folder: Path) -> dict[str, list[tuple[object, ...]]]:
    """Return every row of every table with all its columns, times, numbers and seals included."""
    with archive_at(folder, frozen=True) as archive:
        return {
            table: sorted(map(tuple, archive.connection.execute(f"SELECT * FROM {table}")), key=repr)
            for table in TABLES
        }


def refused(bag: Path, target: Path, status: int = 5) -> str:
    """Import, see that it is refused and that nothing is left, and return what was said."""
    answer = facedown("archive", "import", "--archive", target, bag)
    assert answer.exit_code == status, answer.output
    assert "Traceback" not in answer.output
    assert not target.exists()
    assert not list(target.parent.glob(".facedown-*"))
    return answer.stderr


def test_rows_and_files_come_back_as_they_were(kept: Path, exported: Path, tmp_path: Path) -> None:
    answer = facedown("archive", "import", "--archive", tmp_path / "back", exported, "--json", "-")
    assert (answer.exit_code, answer.stderr) == (0, "")
    assert json.loads(answer.stdout)["sittings"] == 2
    assert all_rows(tmp_path / "back") == all_rows(kept)
    with archive_at(kept) as one, archive_at(tmp_path / "back") as other:
        assert differences(contents_of(one), contents_of(other)) == []
        assert verify(other).faults == ()


def test_the_archive_is_byte_for_byte_what_the_bag_holds_and_would_be_exported_so_again(
    exported: Path, tmp_path: Path
) -> None:
    back, held = tmp_path / "back", exported / "data" / "archive"
    import_bag(exported, back)
    assert [path.relative_to(back) for path in files_of(back)] == [path.relative_to(held) for path in files_of(held)]
    assert all((held / path.relative_to(back)).read_bytes() == path.read_bytes() for path in files_of(back))
    with archive_at(back) as archive:
        snapshot(archive, tmp_path / "again.sqlite3")
    assert (tmp_path / "again.sqlite3").read_bytes() == (held / DATABASE_FILE).read_bytes()


def test_a_restored_archive_goes_on(pile: Pile, exported: Path, tmp_path: Path) -> None:
    import_bag(exported, tmp_path / "back")
    assert {one.what for one in pile.add(tmp_path / "back")} == {"there already"}
    assert facedown("archive", "verify", "--archive", tmp_path / "back").exit_code == 0


def test_a_flipped_bit_anywhere_in_a_bag_is_found_and_nothing_is_restored(bag: Path, tmp_path: Path) -> None:
    rng = random.Random(8493)
    paths = files_of(bag)
    picked = [path for path in paths if "data" not in path.relative_to(bag).parts]
    picked += [bag / "data" / "archive" / DATABASE_FILE, *rng.sample(paths, FLIPS - len(picked) - 1)]
    for path in picked:
        whole = path.read_bytes()
        flip(path, rng)
        if is_bag(bag):
            answer = facedown("archive", "verify", bag)
            assert (answer.exit_code, "Traceback" in answer.output) == (5, False), path
        refused(bag, tmp_path / "back")
        path.write_bytes(whole)
    assert facedown("archive", "verify", bag).exit_code == 0


@pytest.mark.parametrize(
    ("part", "named"),
    [
        (f"sheets/{KIT}/{KIT}-0007-3.pdf", f"{KIT}-0007-3"),
        (f"readings/{KIT}.json", f"sitting {KIT}"),
        (f"archive/kits/{KIT}/layout.json", f"sitting {KIT}"),
    ],
)
def test_the_sheet_or_sitting_that_damage_concerns_is_named(bag: Path, part: str, named: str) -> None:
    flip(bag / "data" / part, random.Random(1))
    answer = facedown("archive", "verify", bag)
    assert answer.exit_code == 5
    assert f"data/{part}: the file is not as it was written. It concerns {named}." in answer.stdout


def test_the_sheet_that_a_damaged_original_shows_is_named(bag: Path) -> None:
    with archive_at(bag / "data" / "archive", frozen=True) as archive:
        [digest] = archive.connection.execute("SELECT digest FROM originals WHERE name = 'kofi-match.jpg'").fetchone()
    flip(bag / "data" / "archive" / "originals" / digest[:2] / f"{digest}.jpg", random.Random(2))
    assert f"{KIT}-0007-3" in facedown("archive", "verify", bag).stdout


def test_verifying_a_bag_writes_nothing_into_it(bag: Path) -> None:
    before = files_of(bag)
    assert facedown("archive", "verify", bag).exit_code == 0
    assert files_of(bag) == before


def test_a_missing_and_a_strange_file_are_refused(bag: Path, tmp_path: Path) -> None:
    lost = next((bag / "data" / "archive" / "originals").rglob("*.heic"))
    content = lost.read_bytes()
    lost.unlink()
    assert "the file is missing" in refused(bag, tmp_path / "back")
    lost.write_bytes(content)
    (bag / "data" / "archive" / "stranger").write_bytes(b"?")
    assert "in no manifest" in refused(bag, tmp_path / "back")
    digest_anew(bag)
    assert "not those that its database names: stranger" in refused(bag, tmp_path / "back")


@pytest.mark.parametrize(
    "path",
    [
        "data/../../secret",
        "/etc/hostname",
        "data/archive/../../../secret",
        "~/secret",
        "data\\..\\secret",
        "C:/secret",
        "x",
    ],
)
def test_a_manifest_that_leaves_the_bag_is_refused(bag: Path, tmp_path: Path, path: str) -> None:
    (tmp_path / "secret").write_text("secret")
    with (bag / "manifest-sha256.txt").open("a") as manifest:
        manifest.write(f"{'0' * 64}  {path}\n")
    assert "is not within the bag's data folder" in refused(bag, tmp_path / "back")


@pytest.mark.parametrize("link", ["data/archive/originals/link.jpg", "data/more", "bag-info.txt"])
def test_a_link_is_refused(bag: Path, tmp_path: Path, link: str) -> None:
    (tmp_path / "secret").mkdir()
    (bag / link).unlink(missing_ok=True)
    (bag / link).symlink_to(tmp_path / "secret")
    assert "this is a link" in refused(bag, tmp_path / "back")


def test_a_file_to_be_fetched_is_refused(bag: Path, tmp_path: Path) -> None:
    (bag / "fetch.txt").write_text("http://example.org/x 3 data/x\n")
    assert "elsewhere" in refused(bag, tmp_path / "back")


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("bagit.txt", "1.0", "1.7", "version 1.7"),
        ("bagit.txt", "1.0", "9.0", "9.0"),
        ("bag-info.txt", "facedown-bag/1", "facedown-bag/2", "'facedown-bag/2'"),
        ("bag-info.txt", "Facedown-Bag-Format", "Other", "no bag of an archive"),
    ],
)
def test_an_unknown_version_is_refused(bag: Path, tmp_path: Path, file: str, old: str, new: str, said: str) -> None:
    (bag / file).write_text((bag / file).read_text("utf-8").replace(old, new), "utf-8")
    assert said in refused(bag, tmp_path / "back")


def changed(bag: Path, statement: str) -> None:
    """Change the database of a bag, and make the bag agree with it."""
    with sqlite3.connect(bag / "data" / "archive" / DATABASE_FILE) as connection:
        connection.execute(statement)
    connection.close()
    digest_anew(bag)


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("PRAGMA user_version = 99", "version 99"),
        ("PRAGMA application_id = 1", "no archive of facedown"),
        ("CREATE TABLE recipes (name)", "not an archive's"),
        ("CREATE TRIGGER t AFTER INSERT ON sheets BEGIN DELETE FROM marks; END", "not an archive's"),
        ("UPDATE sheets SET taster = 3 WHERE sheet IS NOT NULL", "damaged"),
        ("DELETE FROM originals WHERE name = 'kofi-match.jpg'", "not those that its database names"),
    ],
)
def test_a_database_that_no_export_wrote_is_refused(bag: Path, tmp_path: Path, statement: str, said: str) -> None:
    changed(bag, statement)
    assert said in refused(bag, tmp_path / "back")


def test_a_path_within_the_database_that_leaves_the_folder_is_refused(bag: Path, tmp_path: Path) -> None:
    folder = bag / "data" / "archive"
    outside = tmp_path / "outside"
    shutil.copytree(folder / "kits" / KIT, outside)
    with archive_at(folder, write=True) as archive:
        archive.connection.execute("PRAGMA foreign_keys = OFF")
        [rowid] = archive.connection.execute("SELECT rowid FROM kits").fetchone()
        change(archive.connection, "kits", rowid, id=f"../../../../../../..{outside}")
        archive.connection.execute("PRAGMA journal_mode = DELETE")
    digest_anew(bag)
    assert "which none of its files can be called" in refused(bag, tmp_path / "back")


@pytest.mark.parametrize("damage", ["manifest-sha256.txt", "bagit.txt", "bag-info.txt"])
def test_a_bag_of_garbage_is_refused_with_a_sentence(bag: Path, tmp_path: Path, damage: str) -> None:
    rng = random.Random(damage)
    for _ in range(4):
        (bag / damage).write_bytes(rng.randbytes(200))
        refused(bag, tmp_path / "back")


def test_a_folder_that_is_no_bag_is_refused(tmp_path: Path, filled: Path) -> None:
    assert "there is no bag here" in refused(filled, tmp_path / "back")
    assert "there is no bag here" in refused(tmp_path / "nowhere", tmp_path / "back")


def test_an_archive_that_is_there_is_never_written_over(folder: Path, exported: Path) -> None:
    before = {path: path.read_bytes() for path in files_of(folder)}
    answer = facedown("archive", "import", "--archive", folder, exported)
    assert (answer.exit_code, "an archive is here already" in answer.stderr) == (4, True)
    assert {path: path.read_bytes() for path in files_of(folder)} == before


def test_an_empty_folder_will_do(exported: Path, tmp_path: Path) -> None:
    (tmp_path / "back").mkdir()
    assert facedown("archive", "import", "--archive", tmp_path / "back", exported).exit_code == 0


def test_a_full_disk_leaves_nothing(exported: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("scanner.archive.bag_import._copy", full)
    assert "no space left" in refused(exported, tmp_path / "back").lower()
