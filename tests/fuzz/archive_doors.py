"""Doors of the archive: a database with hostile rows, and a file that is no database, or half of one."""

from __future__ import annotations

import contextlib
import json
import random
import shutil
import sqlite3
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

import bagit

from kit.errors import FacedownError
from scanner.archive.add import add_pile
from scanner.archive.bag import verify_bag
from scanner.archive.bag_export import export
from scanner.archive.bag_import import import_bag
from scanner.archive.database import DATABASE_FILE, Archive, archive_at
from scanner.archive.kits import kits_of
from scanner.archive.lists import overview, shown_of
from scanner.archive.readings import readings_of, typed_sittings
from scanner.archive.rows import seal
from scanner.archive.store import sweep
from scanner.archive.typed import enter, load_typed
from scanner.archive.verify import verify
from scanner.page_tasks import CutOut, PageRead
from scanner.reading import PageReading, State
from tests.fuzz import good
from tests.fuzz.doors import Door, Run
from tests.fuzz.mutate import TEXTS, VALUES, of_bytes, of_json, of_text
from tests.fuzz.picture_doors import saved
from tests.fuzz.text_doors import TYPED

NOW = "2026-12-06T10:00:00+00:00"
WHOLE = b"whole"
STRANGERS = ("new", "a\nb", "%0a", "manifest-md5.txt", "tagmanifest-sha1.txt", "fetch.txt", "é", "con")


def archive_in(folder: Path) -> Path:
    """Make an archive of two kits: sheets with doubts, a key, a row of coasters; a typed sheet and a typed result."""
    kit, picture = good.put_kit(folder / "kit"), folder / "page.png"
    typed = folder / "typed.toml"
    name = json.loads(good.kit_files()[0])["kit"]
    typed.write_text(
        f'[[sheets]]\nsheet = "{name}-0001-3"\n[sheets.marks]\n"match.A" = "3"\n'
        '[[results]]\ndate = 2025-11-02\ntaster = "ines"\nclaims = {A = 3}\ntruth = {A = 3, B = 2, C = 1}\n',
        "utf-8",
    )
    with archive_at(folder / "archive", write=True, create=True) as archive:
        for shuffle, given in (("host", kit), ("hand", good.put_kit(folder / "hand", "hand"))):
            picture.write_bytes(saved("L", "PNG") + shuffle.encode())
            told = partial(_told, str(picture), shuffle)
            assert {one.what for one in add_pile(archive, [given], [picture], NOW, read=told)} <= {"doubts", "read"}
        for one in load_typed(typed):
            enter(archive, one, NOW)
    settle_log(folder / "archive")
    return folder / "archive"


def _told(source: str, shuffle: str, *_: object) -> list[PageRead]:
    """Return what a reader would have read of one file: each sheet with a doubtful box and some writing."""
    reading = good.reading(shuffle)
    pages = [_doubted(page) for page in reading.pages if page.sheet]
    others = [PageRead(one) for one in reading.turned]
    others += [PageRead(one) for one in reading.opened if shuffle == "host"]
    return [
        replace(one, picture=replace(one.picture, source=source, source_page=number))
        for number, one in enumerate((*pages, *others), start=1)
    ]


def _doubted(page: PageReading) -> PageRead:
    first, *others = page.marks
    doubt = replace(first, state=State.DOUBTFUL, reason="the stroke is faint")
    cutouts = (
        CutOut("box", first.field, first.option, saved("L", "PNG")),
        CutOut("writing", "remarks.1", "", saved("1", "PNG")),
    )
    return PageRead(replace(page, marks=(doubt, *others)), cutouts)


def settle_log(archive: Path) -> None:
    """Let all that was written be in the database's one file."""
    connection = sqlite3.connect(archive / DATABASE_FILE)
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()


def forget_log(database: Path) -> None:
    """Remove what belongs to a database that is about to be another."""
    for end in ("-wal", "-shm"):
        database.with_name(database.name + end).unlink(missing_ok=True)


def _typed_file() -> bytes:
    name = json.loads(good.kit_files()[0])["kit"]
    return TYPED.replace(b"K7Q4M2", name.encode()).replace(b'"words.A" = ["pear", "melon"]', b'"match.B" = "1"')


def _looked_at(archive: Path) -> None:
    with archive_at(archive) as opened:
        seen = overview(opened)
        for what in ("ines", *(str(sitting["sitting"]) for sitting in seen.sittings[:2])):
            with contextlib.suppress(FacedownError):
                shown_of(opened, what)
        _refusable(lambda: readings_of(opened))
        _refusable(lambda: typed_sittings(opened))
        _refusable(lambda: kits_of(opened))
        verify(opened)


def _refusable(look: Callable[[], object]) -> None:
    with contextlib.suppress(FacedownError):
        look()


def _file(folder: Path) -> Run:
    archive = archive_in(folder)
    database = archive / DATABASE_FILE

    def run(content: bytes) -> None:
        forget_log(database)
        database.write_bytes(content)
        _looked_at(archive)

    return run


def _rows(folder: Path) -> Run:
    archive = archive_in(folder)
    database = archive / DATABASE_FILE
    whole = database.read_bytes()

    def run(content: bytes) -> None:
        forget_log(database)
        database.write_bytes(whole)
        spoil(database, random.Random(content))
        _looked_at(archive)
        with archive_at(archive, write=True) as opened:
            (archive / "unswept").write_bytes(b"")
            sweep(opened)
        assert (folder / "kit" / "kit.json").exists()

    return run


def spoil(database: Path, rng: random.Random) -> None:
    """Put hostile values into one to three columns, and make the rows' seals right again: whoever changes them can."""
    connection = sqlite3.connect(database)
    connection.row_factory = sqlite3.Row
    found = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND sql NOT LIKE '%WITHOUT ROWID%'")
    tables = [name for (name,) in found]
    for _ in range(rng.randint(1, 3)):
        table = rng.choice(tables)
        columns = [row[1] for row in connection.execute(f"PRAGMA table_info({table})") if row[1] != "seal"]
        rowids = [row[0] for row in connection.execute(f"SELECT rowid FROM {table}")]
        if not rowids:
            continue
        value = rng.choice(VALUES) if rng.random() < 0.5 else rng.choice(TEXTS)
        if not isinstance(value, str | int | float | None) or (isinstance(value, int) and abs(value) >= 2**63):
            value = json.dumps(value) if not isinstance(value, int) else 2**63 - 1
        if isinstance(value, str):
            value = value.encode(errors="replace").decode()
        rowid = rng.choice(rowids)
        try:
            connection.execute(f"UPDATE {table} SET {rng.choice(columns)} = ? WHERE rowid = ?", (value, rowid))
            is_there = connection.execute(f"SELECT 1 FROM {table} WHERE rowid = ?", (rowid,)).fetchone()
            if is_there and "seal" in [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]:
                seal(connection, table, rowid)
        except sqlite3.Error:
            continue
    connection.commit()
    connection.close()


def _enter(folder: Path) -> Run:
    archive = archive_in(folder)
    database, path = archive / DATABASE_FILE, folder / "more.toml"
    whole = database.read_bytes()

    def run(content: bytes) -> None:
        path.write_bytes(content)
        typed = load_typed(path)
        try:
            with archive_at(archive, write=True) as opened:
                for one in typed:
                    enter(opened, one, NOW)
                assert not verify(opened).faults
                _looked_at_rows(opened)
        finally:
            forget_log(database)
            database.write_bytes(whole)

    return run


def _looked_at_rows(archive: Archive) -> None:
    """What was entered is read back: nothing is refused there that was taken in."""
    overview(archive)
    shown_of(archive, "ines")
    readings_of(archive)
    typed_sittings(archive)


def _bag(folder: Path) -> Run:
    """Spoil a bag in one to three places, then take it in; half the time its digests are made to agree."""
    archive, good_bag, spoilt = archive_in(folder), folder / "good", folder / "bag"
    export(archive, good_bag, NOW, "facedown of the tests")
    names = sorted(path.relative_to(good_bag) for path in good_bag.rglob("*") if path.is_file())

    def run(content: bytes) -> None:
        rng = random.Random(content)
        shutil.rmtree(spoilt, ignore_errors=True)
        shutil.copytree(good_bag, spoilt)
        for name in rng.sample(names, 0 if content == WHOLE else rng.randint(1, 3)):
            _spoil_file(spoilt / name, rng)
        if rng.random() < 0.5:
            with contextlib.suppress(Exception):
                bagit.Bag(str(spoilt)).save(manifests=True)
        try:
            with contextlib.suppress(FacedownError):
                verify_bag(spoilt)
            import_bag(spoilt, folder / "restored")
        finally:
            shutil.rmtree(folder / "restored", ignore_errors=True)
            assert not list(folder.glob(".facedown-*")), "something half restored is left behind"

    return run


def _spoil_file(path: Path, rng: random.Random) -> None:
    """Change a file, put another beside it or a link in its place; what it is linked to stays as it is."""
    content = path.read_bytes()
    match rng.randint(0, 7):
        case 0:
            path.unlink()
        case 1:
            path.with_name(rng.choice(STRANGERS)).write_bytes(content)
        case 2:
            path.unlink()
            path.symlink_to(rng.choice(("/etc/passwd", "../..", ".", "nowhere")))
        case kind:
            mutation = of_json if path.suffix == ".json" and kind < 6 else of_text if kind < 7 else of_bytes
            path.unlink()
            path.write_bytes(mutation(content, rng))


def _database() -> bytes:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        return (archive_in(Path(folder)) / DATABASE_FILE).read_bytes()


DOORS = (
    Door("enter", lambda: [_typed_file()], of_text, _enter, seconds=20.0),
    Door("bag", lambda: [WHOLE], lambda _, rng: rng.randbytes(8), _bag, seconds=20.0),
    Door("archive-rows", lambda: [b"rows"], lambda _, rng: rng.randbytes(8), _rows, seconds=20.0),
    Door("archive-file", lambda: [_database()], of_bytes, _file, seconds=20.0, decodes=True),
)
