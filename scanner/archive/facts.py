"""Readings into rows and out of them: what a picture gave, what a person decided of it, how readings stand together."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping

from scanner.archive.database import Connection
from scanner.archive.rows import change, insert, seal
from scanner.archive.standing import Box, Marks, standings
from scanner.reading import (
    OpenedReading,
    Outcome,
    PageReading,
    PictureReading,
    State,
    TurnedReading,
    shared_mark,
)

STORED_OUTCOMES = {Outcome.READ, Outcome.FOREIGN, Outcome.UNREADABLE}


def put_sheet(
    connection: Connection, original: str, picture: PictureReading, now: str, *, entered_by: str = "scan"
) -> int:
    """Put what one page image gave into the archive, and return the row's number.

    `repeat` and `conflict` say how a page stands to others, which the archive reckons itself (`relate`): they are
    stored as read. A sitting that the archive has not is left out.
    """
    outcome = picture.outcome if picture.outcome in STORED_OUTCOMES else Outcome.READ
    known = connection.execute("SELECT 1 FROM sittings WHERE id = ?", (picture.kit,)).fetchone()
    page = picture if isinstance(picture, PageReading) else None
    row = insert(
        connection,
        "sheets",
        original=original,
        page=picture.source_page or 1,
        kind="page" if page else "row" if isinstance(picture, TurnedReading) else "key",
        sitting=picture.kit if known else None,
        taster=picture.taster,
        role=page.role if page else None,
        sheet=page.sheet if page else None,
        outcome=outcome.value,
        reason=picture.reason,
        told=_told(picture),
        entered_by=entered_by,
        added_at=now,
        left_over=0 if outcome is Outcome.READ else 1,
    )
    if page:
        connection.executemany(
            "INSERT INTO marks (sheet, field, option, state, reason) VALUES (?, ?, ?, ?, ?)",
            [
                (row, mark.field, mark.option, mark.state.value, mark.reason)
                for mark in page.marks
                if mark.state is not State.EMPTY
            ],
        )
    seal(connection, "sheets", row)
    return row


def relate(connection: Connection, sheet: str) -> None:
    """Reckon anew which reading of a sheet counts; to be called whenever one comes, goes or is settled."""
    rows = connection.execute(
        "SELECT * FROM sheets WHERE sheet = ? AND kind = 'page' AND taken_back_at IS NULL AND outcome <> 'foreign' "
        "ORDER BY id",
        (sheet,),
    ).fetchall()
    settled = settled_boxes(connection, sheet)
    readings = [marks_of(connection, row["id"], settled) if row["outcome"] == "read" else None for row in rows]
    for row, standing in zip(rows, standings(readings), strict=True):
        superseded_by = None if standing.superseded_by is None else rows[standing.superseded_by]["id"]
        new = (superseded_by, int(standing.conflict), standing.left_over)
        if new != (row["superseded_by"], row["conflict"], row["left_over"]):
            change(connection, "sheets", row["id"], superseded_by=new[0], conflict=new[1], left_over=new[2])


def marks_of(connection: Connection, row: int, settled: Mapping[Box, State]) -> Marks:
    """Return the marks of one reading that are not empty, with a person's word over the reader's."""
    found = connection.execute("SELECT field, option, state, reason FROM marks WHERE sheet = ?", (row,))
    marks = {
        (field, option): shared_mark(field, option, State(state), None, reason)
        for field, option, state, reason in found
    }
    for (field, option), state in settled.items():
        marks[field, option] = shared_mark(field, option, state, "person")
    return marks


def settled_boxes(connection: Connection, sheet: str) -> dict[Box, State]:
    """Return what a person's last word is on boxes of a sheet."""
    words = connection.execute(
        "SELECT field, option, after FROM settlements WHERE subject = ? AND field <> 'row' ORDER BY id", (sheet,)
    )
    last = {(field, option): after for field, option, after in words}
    return {box: State(after) for box, after in last.items() if after is not None}


def relate_all(connection: Connection, sheets: Iterable[str | None]) -> None:
    """Reckon several sheets anew."""
    for sheet in sorted({sheet for sheet in sheets if sheet is not None}):
        relate(connection, sheet)


def _told(picture: PictureReading) -> str | None:
    match picture:
        case TurnedReading():
            return None if picture.order is None else json.dumps({"order": list(picture.order)})
        case OpenedReading():
            key = {"places": dict(picture.places or {}), "salt": picture.salt}
            return None if picture.places is None else json.dumps(key)
    return None
