"""The doubts of an archive as they are now; a person's answers written down at once, and undone."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from scanner.archive.database import Archive, Row, transaction
from scanner.archive.facts import marks_of, settled_boxes
from scanner.archive.kits import printed_in
from scanner.archive.readings import GONE, turned_of
from scanner.archive.settlements import last_settlement, undo, write_down
from scanner.reading import Outcome, PageReading
from scanner.review.queue import Choice, Doubt, Seat, SheetPicture, doubts_of_rows, doubts_of_sheet, order_answer

ORDER_KEY = "o"
"""In place of a choice's key: the order is typed."""
_COUNTS = "taken_back_at IS NULL AND superseded_by IS NULL AND outcome = 'read'"
_SEATED = """
    SELECT sheets.*, originals.name, sittings.title, sittings.date, tasters.name AS person FROM sheets
    LEFT JOIN originals ON originals.digest = sheets.original
    LEFT JOIN sittings ON sittings.id = sheets.sitting
    LEFT JOIN sittings_tasters AS seat ON seat.sitting = sheets.sitting AND seat.number = sheets.taster
    LEFT JOIN tasters ON tasters.id = seat.taster """
_IN_ORDER = " ORDER BY sittings.date, sheets.sitting, sheets.taster, sheets.sheet, conflict, sheets.id"
_DECISION = re.compile(r"([0-9]{1,15})-([0-9]{1,15})")
_MOST_SETTLEMENTS = 1000
"""One answer settles no more boxes than a sheet has."""


@dataclass(frozen=True, slots=True)
class Decision:
    """An answer that was written down: the numbers of its settlements, the doubt, and what was chosen."""

    first: int
    last: int
    doubt: Doubt
    choice: Choice

    @property
    def name(self) -> str:
        """What `undo_decision` takes."""
        return f"{self.first}-{self.last}"


def queue_of(archive: Archive) -> tuple[Doubt, ...]:
    """Return all that a person can settle, the oldest sitting first, sheet by sheet, rows of coasters last."""
    rows = archive.connection.execute(
        f"{_SEATED} WHERE kind = 'page' AND {_COUNTS} AND sheets.sheet IN "
        f"(SELECT sheet FROM sheets WHERE left_over > 0 AND kind = 'page' AND {_COUNTS}) {_IN_ORDER}"
    ).fetchall()
    doubts: list[Doubt] = []
    for sheet, group in groupby(rows, key=lambda row: str(row["sheet"])):
        readings = tuple(group)
        pictures = [_sheet_picture(archive, row) for row in readings]
        doubts += doubts_of_sheet(sheet, readings[0]["role"], _seat(archive, readings[0]), pictures)
    return (*doubts, *_rows(archive))


def not_for_review(archive: Archive) -> int:
    """Return how many pages are left that no answer helps: unreadable ones, and those of no kit in the archive."""
    found = archive.connection.execute(
        "SELECT count(*) FROM sheets WHERE left_over > 0 AND taken_back_at IS NULL AND superseded_by IS NULL "
        "AND outcome <> 'read'"
    )
    return int(found.fetchone()[0])


def answer(archive: Archive, doubt_id: str, key: str, who: str, now: str, order: str = "") -> Decision | None:
    """Write a person's answer down, in one transaction; None where that doubt is there no more, or has no such answer.

    Parameters
    ----------
    key : str
        That of a choice, or ORDER_KEY: then `order` says what stood in the row, such as "3 1 2".
    """
    with transaction(archive) as connection:
        doubt = next((one for one in queue_of(archive) if one.id == doubt_id), None)
        choice = chosen(doubt, key, order) if doubt else None
        if doubt is None or choice is None:
            return None
        former = last_settlement(connection)
        if not all(write_down(archive, one, who, now) for one in choice.answers):
            return None
        return Decision(former + 1, last_settlement(connection), doubt, choice)


def chosen(doubt: Doubt, key: str, order: str = "") -> Choice | None:
    """Return the choice that a key stands for, or a typed order; None where it is none."""
    if key != ORDER_KEY:
        return doubt.choice(key)
    typed = order_answer(doubt, order)
    return None if typed is None else Choice(ORDER_KEY, "order", " ".join(map(str, typed.order)), (typed,))


def undo_decision(archive: Archive, name: str, who: str, now: str) -> bool:
    """Undo an answer by its `Decision.name`; False where somebody has settled the same anew, or there is none."""
    found = _DECISION.fullmatch(name)
    if found is None:
        return False
    first, last = int(found[1]), int(found[2])
    return 0 < first <= last < first + _MOST_SETTLEMENTS and undo(archive, first, last, who, now)


def _sheet_picture(archive: Archive, row: Row) -> SheetPicture:
    connection = archive.connection
    cutouts = connection.execute(
        "SELECT field, option, digest FROM cutouts WHERE sheet = ? AND kind = 'box'", (row["id"],)
    )
    return SheetPicture(
        row["id"],
        row["name"] or GONE,
        row["page"],
        marks_of(connection, row["id"], settled_boxes(connection, row["sheet"])),
        {(field, option): digest for field, option, digest in cutouts},
    )


def _rows(archive: Archive) -> Iterable[Doubt]:
    connection = archive.connection
    rows = connection.execute(f"{_SEATED} WHERE kind = 'row' AND {_COUNTS} AND sheets.sitting IS NOT NULL {_IN_ORDER}")
    for (sitting, taster), group in groupby(rows.fetchall(), key=lambda row: (row["sitting"], row["taster"])):
        photographs = tuple(group)
        sheets = connection.execute(
            f"{_SEATED} WHERE sheets.sitting = ? AND sheets.taster = ? AND role = 'turned' AND kind = 'page' "
            f"AND {_COUNTS} {_IN_ORDER}",
            (sitting, taster),
        ).fetchall()
        told = [(row["id"], turned_of(connection, row)) for row in photographs]
        yield from doubts_of_rows(_seat(archive, photographs[0]), told, [_turned_sheet(archive, row) for row in sheets])


def _turned_sheet(archive: Archive, row: Row) -> PageReading:
    picture = _sheet_picture(archive, row)
    return PageReading(
        picture.source,
        picture.page,
        row["sitting"],
        row["sheet"],
        row["taster"],
        row["role"],
        Outcome.READ,
        None,
        tuple(picture.marks.values()),
    )


def _seat(archive: Archive, row: Row) -> Seat:
    printed = printed_in(archive, row["sitting"])
    return Seat(row["sitting"], row["title"] or "", row["date"] or "", row["taster"] or 0, row["person"], printed)
