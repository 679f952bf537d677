"""Takes a sheet or a whole file back: it is kept, and counts no more, until it is added again."""

from __future__ import annotations

from dataclasses import dataclass

from kit.errors import KitError
from scanner.archive.database import Archive, transaction
from scanner.archive.facts import relate_all
from scanner.archive.rows import change

LEAST_DIGEST = 8
"""Of a digest's characters, to name a file by."""


@dataclass(frozen=True, slots=True)
class TakenBack:
    """What does not count any more: sheets by id, other pages and typed results by number."""

    sheets: tuple[str, ...]
    others: int


def take_back(archive: Archive, what: str, now: str) -> TakenBack:
    """Take back all readings of a sheet, or all that came from a file (by name or digest) or a pile (by its id).

    Raises
    ------
    KitError
        If nothing in the archive that counts is named so.
    """
    with transaction(archive) as connection:
        rows = connection.execute(
            "SELECT sheets.id, sheets.sheet FROM sheets LEFT JOIN originals ON digest = original "
            "WHERE taken_back_at IS NULL AND (sheet = :upper OR name = :what OR pile = :what "
            "OR (length(:what) >= :least AND digest LIKE :what || '%' AND :what NOT GLOB '*[^0-9a-f]*'))",
            {"what": what, "upper": what.upper(), "least": LEAST_DIGEST},
        ).fetchall()
        results = connection.execute(
            "SELECT results.id FROM results LEFT JOIN originals ON digest = original "
            "WHERE taken_back_at IS NULL AND (sitting = :upper OR name = :what OR pile = :what)",
            {"what": what, "upper": what.upper()},
        ).fetchall()
        if not rows and not results:
            raise KitError(
                f"{archive.folder}: nothing that counts is named {what!r}.",
                "Name a sheet such as K7Q4M2-0001-3, a file as it was added, or a typed result by its sitting.",
            )
        for row in rows:
            change(connection, "sheets", row["id"], taken_back_at=now, superseded_by=None, conflict=0)
        for row in results:
            change(connection, "results", row["id"], taken_back_at=now)
        relate_all(connection, (row["sheet"] for row in rows))
    sheets = tuple(sorted({row["sheet"] for row in rows if row["sheet"]}))
    return TakenBack(sheets, sum(row["sheet"] is None for row in rows) + len(results))
