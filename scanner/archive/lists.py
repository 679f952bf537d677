"""What `list` and `show` tell, by the database: they need no image library, and of kits the keys of results alone."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from kit.errors import KitError
from scanner.archive.database import Archive, Row
from scanner.archive.rows import refusing_odd_rows

Entry = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Overview:
    """All sittings, the latest first, the kits waited for, and how much there is of everything."""

    sittings: tuple[Entry, ...]
    waiting: tuple[Entry, ...]
    totals: Entry


@refusing_odd_rows
def overview(archive: Archive) -> Overview:
    """Return what is in the archive."""
    connection = archive.connection
    sheets: dict[str | None, tuple[int, int]] = {
        sitting: (count, left)
        for sitting, count, left in connection.execute(
            "SELECT sitting, count(*), sum(left_over) FROM sheets "
            "WHERE taken_back_at IS NULL AND superseded_by IS NULL GROUP BY sitting"
        )
    }
    seats: dict[str, int] = dict(
        connection.execute("SELECT sitting, count(*) FROM sittings_tasters GROUP BY sitting").fetchall()
    )
    sittings = tuple(
        {
            "sitting": row[0],
            "date": row[1],
            "title": row[2],
            "glasses": row[3],
            "entered_by": row[4],
            "tasters": seats.get(row[0], 0),
            "sheets": sheets.get(row[0], (0, 0))[0],
            "left_to_look_at": sheets.get(row[0], (0, 0))[1],
        }
        for row in connection.execute(
            "SELECT id, date, title, glasses, entered_by FROM sittings ORDER BY date DESC, id"
        )
    )
    waiting = tuple(
        {"kit": kit, "sheets": count}
        for kit, count in connection.execute("SELECT kit, count(*) FROM waiting GROUP BY kit ORDER BY kit")
    )
    totals = {
        "sittings": len(sittings),
        "sheets": sum(count for count, _ in sheets.values()),
        "tasters": connection.execute("SELECT count(*) FROM tasters").fetchone()[0],
        "originals": connection.execute("SELECT count(*) FROM originals").fetchone()[0],
        "pages_of_no_sitting": sheets.get(None, (0, 0))[0],
        "waiting": sum(entry["sheets"] for entry in waiting),
        "left_to_look_at": sum(left for _, left in sheets.values()),
    }
    return Overview(sittings, waiting, totals)


@refusing_odd_rows
def shown_of(archive: Archive, what: str) -> Entry:
    """Return a sitting by its kit, a sheet by its id, a taster or a drink by id or name.

    Raises
    ------
    KitError
        If the archive has nothing of that name.
    """
    for find in (_sitting, _sheet, _taster, _drink):
        if found := find(archive, what):
            return found
    raise KitError(
        f"{archive.folder}: nothing in the archive is named {what!r}.",
        "Name a kit such as K7Q4M2, a sheet such as K7Q4M2-0001-3, a taster or a drink; `facedown archive list` shows "
        "the kits.",
    )


def _sitting(archive: Archive, what: str) -> Entry | None:
    connection = archive.connection
    row = connection.execute("SELECT * FROM sittings WHERE id = ?", (what.upper(),)).fetchone()
    if row is None:
        return None
    drinks = connection.execute(
        "SELECT coaster, name FROM sittings_drinks JOIN drinks ON drinks.id = drink WHERE sitting = ? ORDER BY coaster",
        (row["id"],),
    )
    tasters = connection.execute(
        "SELECT number, name, key FROM sittings_tasters LEFT JOIN tasters ON tasters.id = taster WHERE sitting = ? "
        "ORDER BY number",
        (row["id"],),
    ).fetchall()
    sheets: dict[int | None, list[Entry]] = {}
    for one in connection.execute("SELECT * FROM sheets WHERE sitting = ? ORDER BY taster, role, id", (row["id"],)):
        sheets.setdefault(one["taster"], []).append(_sheet_line(one))
    return {
        "kind": "sitting",
        **{name: row[name] for name in ("id", "title", "date", "shuffle", "keys", "glasses", "entered_by")},
        "drinks": dict(drinks.fetchall()),
        "tasters": [
            {
                "taster": number,
                "name": name or "(erased)",
                "id": key,
                "sheets": sheets.get(number, []),
                "results": _results(archive, row["id"], number),
            }
            for number, name, key in tasters
        ],
    }


def _sheet(archive: Archive, what: str) -> Entry | None:
    connection = archive.connection
    sheet = what.upper()
    rows = connection.execute(
        "SELECT sheets.*, originals.name FROM sheets LEFT JOIN originals ON digest = original WHERE sheet = ? "
        "ORDER BY sheets.id",
        (sheet,),
    ).fetchall()
    if not rows:
        return None
    readings = []
    for row in rows:
        marks = connection.execute("SELECT field, option, state, reason FROM marks WHERE sheet = ?", (row["id"],))
        cutouts = connection.execute("SELECT kind, field, option, digest FROM cutouts WHERE sheet = ?", (row["id"],))
        readings.append(
            _sheet_line(row)
            | {
                "source": row["name"],
                "page": row["page"],
                "original": row["original"],
                "marks": [dict(mark) for mark in marks],
                "cutouts": [dict(cutout) for cutout in cutouts],
            }
        )
    settled = connection.execute(
        "SELECT field, option, before, after, who, at FROM settlements WHERE subject = ? ORDER BY id", (sheet,)
    )
    written = connection.execute(
        "SELECT field, text, who, at FROM handwriting WHERE sheet = ? ORDER BY field", (sheet,)
    )
    return {
        "kind": "sheet",
        "sheet": sheet,
        "taster": rows[0]["taster"],
        "role": rows[0]["role"],
        "readings": readings,
        "settlements": [dict(one) for one in settled],
        "handwriting": [dict(one) for one in written],
    }


def _taster(archive: Archive, what: str) -> Entry | None:
    person = archive.connection.execute(
        "SELECT * FROM tasters WHERE key = ? UNION SELECT * FROM tasters WHERE name = ?", (what, what)
    ).fetchall()
    if len(person) > 1:
        ids = ", ".join(row["key"] for row in person)
        raise KitError(f"{archive.folder}: {what!r} is the name of several tasters: {ids}.", "Name one by the id.")
    if not person:
        return None
    sittings = archive.connection.execute(
        "SELECT sittings.id, date, title, number, count(sheets.id), sum(left_over) "
        "FROM sittings_tasters AS seat JOIN sittings ON sittings.id = seat.sitting "
        "LEFT JOIN sheets ON sheets.sitting = seat.sitting AND sheets.taster = seat.number "
        "AND taken_back_at IS NULL AND superseded_by IS NULL "
        "WHERE seat.taster = ? GROUP BY seat.rowid ORDER BY date DESC, sittings.id, number",
        (person[0]["id"],),
    )
    typed: dict[tuple[str, int], list[Entry]] = {}
    for row in archive.connection.execute(
        "SELECT results.* FROM sittings_tasters AS seat JOIN results ON results.sitting = seat.sitting "
        "AND results.taster = seat.number WHERE seat.taster = ? AND taken_back_at IS NULL ORDER BY results.id",
        (person[0]["id"],),
    ):
        typed.setdefault((row["sitting"], row["taster"]), []).append(_result(row))
    # Loaded here: what opens keys is wanted of tasters alone.
    from scanner.archive.outcomes import LATEST, scanned_results

    for seat, result in scanned_results(archive, person[0]["id"]).items():
        typed.setdefault(seat, [result])
    return {
        "kind": "taster",
        "id": person[0]["key"],
        "name": person[0]["name"],
        "scanned_results_of_the_latest": LATEST,
        "sittings": [
            {
                "sitting": sitting,
                "date": date,
                "title": title,
                "taster": number,
                "sheets": sheets,
                "left_to_look_at": left_over or 0,
                "results": typed.get((sitting, number), []),
            }
            for sitting, date, title, number, sheets, left_over in sittings
        ],
    }


def _drink(archive: Archive, what: str) -> Entry | None:
    drink = archive.connection.execute("SELECT * FROM drinks WHERE key = ? OR name = ?", (what, what)).fetchone()
    if drink is None:
        return None
    sittings = archive.connection.execute(
        "SELECT sittings.id AS sitting, date, title, coaster FROM sittings_drinks "
        "JOIN sittings ON sittings.id = sitting WHERE sittings_drinks.drink = ? ORDER BY date DESC, sittings.id",
        (drink["id"],),
    )
    return {
        "kind": "drink",
        **{name: drink[name] for name in ("key", "name", "style", "abv_percent")},
        "sittings": [dict(row) for row in sittings],
    }


def _sheet_line(row: Row) -> Entry:
    return {
        "sheet": row["sheet"],
        "kind": row["kind"],
        "role": row["role"],
        "standing": _standing(row),
        "reason": row["reason"],
        "left_to_look_at": row["left_over"],
        "entered_by": row["entered_by"],
    }


def _standing(row: Row) -> str:
    if row["taken_back_at"] is not None:
        return "taken back"
    if row["outcome"] != "read":
        return str(row["outcome"])
    if row["conflict"]:
        return "conflict"
    return "counts" if row["superseded_by"] is None else "superseded"


def _results(archive: Archive, sitting: str, number: int) -> list[Entry]:
    rows = archive.connection.execute(
        "SELECT * FROM results WHERE sitting = ? AND taster = ? AND taken_back_at IS NULL ORDER BY id",
        (sitting, number),
    )
    return [_result(row) for row in rows]


def _result(row: Row) -> Entry:
    return {
        "claims": json.loads(row["claims"]),
        "truth": json.loads(row["truth"]),
        "correct": row["correct"],
        "of": row["of"],
        "entered_by": row["entered_by"],
    }
