"""Erases a person: name, id, handwriting and every original that shows it go; crosses and scores stay, as nobody's.

The order is chosen so that an interruption leaves the name in place, and erasing again ends the work: the kits' records
first, then the rows, then the files. SQLite overwrites what is deleted, and the file is written anew at the end.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from kit.errors import KitError
from kit.record import load_kit
from scanner.archive.database import Archive, Connection, Row, transaction
from scanner.archive.kits import finish_pending, rewrite_record, without_erased
from scanner.archive.rows import change, seal
from scanner.archive.store import kit_folder, sweep

ERASED_NAME = "erased"


@dataclass(frozen=True, slots=True)
class Erased:
    """In how many sittings the taster was, how many originals and cut-outs went.

    `others` are the sheets of other tasters that were on those originals: they keep their marks, and lose the picture.
    """

    sittings: int
    originals: int
    cutouts: int
    others: tuple[str, ...]


def taster_named(archive: Archive, what: str) -> Row:
    """Return the row of the taster with this id or name.

    Raises
    ------
    KitError
        If there is none, or several of that name.
    """
    rows = archive.connection.execute("SELECT * FROM tasters WHERE key = ? OR name = ?", (what, what)).fetchall()
    if not rows:
        raise KitError(f"{archive.folder}: no taster is named {what!r}.", "Write the id or the name as it was printed.")
    if len(rows) > 1:
        ids = ", ".join(row["key"] for row in rows)
        raise KitError(f"{archive.folder}: {what!r} is the name of several tasters: {ids}.", "Name one by the id.")
    found: Row = rows[0]
    return found


def erase(archive: Archive, person: int, now: str) -> Erased:
    """Erase the taster of that number from the whole archive. It cannot be undone."""
    finish_pending(archive)
    connection = archive.connection
    seats = connection.execute(
        "SELECT sitting, number FROM sittings_tasters WHERE taster = ? ORDER BY sitting, number", (person,)
    ).fetchall()
    for sitting in {seat["sitting"] for seat in seats}:
        if connection.execute("SELECT 1 FROM kits WHERE id = ?", (sitting,)).fetchone():
            numbers = [seat["number"] for seat in seats if seat["sitting"] == sitting]
            kit = load_kit(kit_folder(archive.folder, sitting))
            rewrite_record(archive, replace(kit, session=without_erased(kit.id, kit.session, numbers)))
    with transaction(archive, leaves_files=True):
        sheets, originals = _theirs(connection, seats)
        others = _let_go(connection, sheets, originals)
        cutouts = sum(_drop_handwriting(connection, row) for row in sheets)
        for seat in seats:
            [rowid] = connection.execute(
                "SELECT rowid FROM sittings_tasters WHERE sitting = ? AND number = ?", tuple(seat)
            ).fetchone()
            change(connection, "sittings_tasters", rowid, taster=None, erased_at=now)
        _forget_in_titles(connection, seats, person)
        _forget_as_author(connection, person)
        connection.execute("DELETE FROM tasters WHERE id = ?", (person,))
    sweep(archive)
    connection.execute("VACUUM")
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return Erased(len(seats), len(originals), cutouts, others)


def _theirs(connection: Connection, seats: list[Row]) -> tuple[list[Row], set[str]]:
    """Return all readings of a person's sheets, and the originals that show them."""
    sheets = [
        row
        for seat in seats
        for row in connection.execute("SELECT * FROM sheets WHERE sitting = ? AND taster = ?", tuple(seat)).fetchall()
    ]
    typed = [
        row["original"]
        for seat in seats
        for row in connection.execute("SELECT * FROM results WHERE sitting = ? AND taster = ?", tuple(seat)).fetchall()
    ]
    return sheets, {digest for digest in (*(row["original"] for row in sheets), *typed) if digest}


def _let_go(connection: Connection, sheets: list[Row], originals: set[str]) -> tuple[str, ...]:
    """Delete originals, and return the sheets of others that were on them."""
    theirs = {row["id"] for row in sheets}
    others = []
    for digest in originals:
        for row in connection.execute("SELECT id, sheet FROM sheets WHERE original = ?", (digest,)).fetchall():
            change(connection, "sheets", row["id"], original=None)
            if row["id"] not in theirs:
                others.append(row["sheet"] or "a page of no sheet")
        for (rowid,) in connection.execute("SELECT id FROM results WHERE original = ?", (digest,)).fetchall():
            change(connection, "results", rowid, original=None)
        connection.execute("DELETE FROM waiting WHERE original = ?", (digest,))
        connection.execute("DELETE FROM originals WHERE digest = ?", (digest,))
    _forget_names(connection, sheets)
    return tuple(sorted(others))


def _drop_handwriting(connection: Connection, row: Row) -> int:
    count = connection.execute("DELETE FROM cutouts WHERE sheet = ?", (row["id"],)).rowcount
    connection.execute("DELETE FROM handwriting WHERE sheet = ?", (row["sheet"],))
    seal(connection, "sheets", row["id"])
    return count


def _forget_in_titles(connection: Connection, seats: list[Row], person: int) -> None:
    """A title that was typed with a result may name its taster."""
    names = connection.execute("SELECT key, name FROM tasters WHERE id = ?", (person,)).fetchone()
    theirs = re.compile("|".join(map(re.escape, sorted(filter(None, names), key=len, reverse=True))), re.IGNORECASE)
    query = "SELECT rowid, title FROM sittings WHERE id = ? AND entered_by = 'typed'"
    for sitting in {seat["sitting"] for seat in seats}:
        for rowid, title in connection.execute(query, (sitting,)).fetchall():
            if theirs.search(title):
                change(connection, "sittings", rowid, title=theirs.sub(ERASED_NAME, title))


def _forget_as_author(connection: Connection, person: int) -> None:
    """Whoever was erased may have settled doubts too, under the same name."""
    row = connection.execute("SELECT key, name FROM tasters WHERE id = ?", (person,)).fetchone()
    for table in ("settlements", "handwriting"):
        query = f"SELECT id FROM {table} WHERE who IN (?, ?)"
        for (rowid,) in connection.execute(query, tuple(row)).fetchall():
            change(connection, table, rowid, who=ERASED_NAME)


def _forget_names(connection: Connection, sheets: list[Row]) -> None:
    """A reading's reason may quote the file that it came from; of an erased one only the outcome stays."""
    for row in sheets:
        if row["reason"] is not None:
            change(connection, "sheets", row["id"], reason=ERASED_NAME)
