"""What a person decided of doubts and conflicts: written down with who and when, and never overwritten."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from scanner.archive.database import Archive, Connection, transaction
from scanner.archive.facts import relate, settled_boxes
from scanner.archive.readings import pages_of_sheet
from scanner.archive.rows import insert
from scanner.reading import Mark, PageReading
from scanner.settle import Answer, BoxAnswer, KeepAnswer, RowAnswer, settled

ROW = "row"


def settle(archive: Archive, answers: Iterable[Answer], who: str, now: str) -> tuple[Answer, ...]:
    """Write a person's answers down, each in a transaction of its own; return those about nothing in the archive.

    An answer that changes nothing is not written down a second time.
    """
    unused = []
    for answer in answers:
        with transaction(archive):
            used = write_down(archive, answer, who, now)
        if not used:
            unused.append(answer)
    return tuple(unused)


def write_down(archive: Archive, answer: Answer, who: str, now: str) -> bool:
    """Write one answer down within a transaction; False where it is about nothing in the archive."""
    if isinstance(answer, RowAnswer):
        return _settle_row(archive.connection, answer, who, now)
    return _settle_boxes(archive, answer, who, now)


def last_settlement(connection: Connection) -> int:
    """Return the number of the settlement that was written down last; 0 where there is none."""
    return int(connection.execute("SELECT coalesce(max(id), 0) FROM settlements").fetchone()[0])


def undo(archive: Archive, first: int, last: int, who: str, now: str) -> bool:
    """Undo the settlements of these numbers, all of one sheet or row, in one transaction.

    What was a person's word before them holds again, or what the reader read. False where one of them is not the last
    word on its box any more: then nothing is undone.
    """
    with transaction(archive) as connection:
        rows = connection.execute(
            "SELECT subject, field, option, after, id FROM settlements WHERE id BETWEEN ? AND ? ORDER BY id",
            (first, last),
        ).fetchall()
        boxes = [_words_on(connection, *tuple(row)[:3]) for row in rows]
        if not rows or any(words[0][0] != row["id"] for row, words in zip(rows, boxes, strict=True)):
            return False
        for row, words in zip(rows, boxes, strict=True):
            insert(
                connection,
                "settlements",
                subject=row["subject"],
                field=row["field"],
                option=row["option"],
                before=row["after"] or "-",
                after=words[1][1] if len(words) > 1 else None,
                who=who,
                at=now,
            )
        for subject in {row["subject"] for row in rows if row["field"] != ROW}:
            relate(connection, subject)
        return True


def take_back_settlement(archive: Archive, subject: str, field: str, option: str, who: str, now: str) -> bool:
    """Undo a person's last word on a box or a row: what the reader read holds again. False where there is none."""
    with transaction(archive) as connection:
        former = _last_word(connection, subject, field, option)
        if former is None:
            return False
        insert(
            connection,
            "settlements",
            subject=subject,
            field=field,
            option=option,
            before=former,
            after=None,
            who=who,
            at=now,
        )
        if field != ROW:
            relate(connection, subject)
        return True


def _settle_boxes(archive: Archive, answer: BoxAnswer | KeepAnswer, who: str, now: str) -> bool:
    connection = archive.connection
    pages = pages_of_sheet(archive, answer.sheet)
    after, unused = settled(pages, [answer])
    if unused:
        return False
    known = settled_boxes(connection, answer.sheet)
    for mark, before in _decided(after, pages):
        if known.get((mark.field, mark.option)) is not mark.state:
            known[mark.field, mark.option] = mark.state
            insert(
                connection,
                "settlements",
                subject=answer.sheet,
                field=mark.field,
                option=mark.option,
                before=before,
                after=mark.state.value,
                who=who,
                at=now,
            )
    relate(connection, answer.sheet)
    return True


def _decided(after: Iterable[PageReading], before: Iterable[PageReading]) -> Iterable[tuple[Mark, str]]:
    """Yield each box that a person's answer names, once, with what the pictures had before."""
    found: dict[tuple[str, str], tuple[Mark, list[str]]] = {}
    for new, old in zip(after, before, strict=True):
        for mark, former in zip(new.marks, old.marks, strict=True):
            if mark.by is not None and mark is not former:
                words = found.setdefault((mark.field, mark.option), (replace(mark, reason=None), []))[1]
                if former.state.value not in words:
                    words.append(former.state.value)
    for mark, words in found.values():
        yield mark, "/".join(words)


def _settle_row(connection: Connection, answer: RowAnswer, who: str, now: str) -> bool:
    photograph, before = "", "-"
    query = (
        "SELECT sheets.* FROM sheets LEFT JOIN originals ON original = digest "
        "WHERE kind = 'row' AND taken_back_at IS NULL"
    )
    if answer.source is not None:
        row = connection.execute(query + " AND name = ? AND page = ?", (answer.source, answer.source_page)).fetchone()
        photograph = f"{row['original']}:{row['page']}" if row else ""
    else:
        row = connection.execute(query + " AND sitting = ? AND taster = ?", (answer.kit, answer.taster)).fetchone()
    if row is None:
        return False
    after = " ".join(map(str, answer.order))
    if _last_word(connection, answer.sheet, ROW, photograph) != after:
        insert(
            connection,
            "settlements",
            subject=answer.sheet,
            field=ROW,
            option=photograph,
            before=before,
            after=after,
            who=who,
            at=now,
        )
    return True


def _last_word(connection: Connection, subject: str, field: str, option: str) -> str | None:
    words = _words_on(connection, subject, field, option)
    return words[0][1] if words else None


def _words_on(connection: Connection, subject: str, field: str, option: str) -> list[tuple[int, str | None]]:
    """Return the last two words on a box or a row, the last one first, each with its number."""
    found = connection.execute(
        "SELECT id, after FROM settlements WHERE subject = ? AND field = ? AND option = ? ORDER BY id DESC LIMIT 2",
        (subject, field, option),
    )
    return [(row[0], row[1]) for row in found]
