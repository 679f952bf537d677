"""The facts of an archive as CSV for its bag, row by row, so that memory does not grow with the archive.

UTF-8 with a mark by which spreadsheets know it; every cell quoted, none that a spreadsheet takes for a formula.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from scanner.archive.database import Connection
from scanner.reports.csv_safe import Cell, safe_cell

SITTING_TASTERS = "LEFT JOIN sittings_tasters AS seat ON seat.sitting = {0}.sitting AND seat.number = {0}.taster "
NAME = "LEFT JOIN tasters ON tasters.id = seat.taster "
STANDING = (
    "CASE WHEN taken_back_at IS NOT NULL THEN 'taken back' WHEN outcome <> 'read' THEN outcome "
    "WHEN conflict THEN 'conflict' WHEN superseded_by IS NOT NULL THEN 'superseded' ELSE 'counts' END"
)

QUERIES: Mapping[str, str] = {
    "tasters": "SELECT seat.sitting, seat.number, key AS id, name, erased_at FROM sittings_tasters AS seat "
    f"{NAME} ORDER BY seat.sitting, seat.number",
    "drinks": "SELECT sitting, coaster, key AS id, name, style, abv_percent FROM sittings_drinks "
    "JOIN drinks ON drinks.id = drink ORDER BY sitting, coaster",
    "originals": "SELECT digest AS sha256, 'archive/originals/' || substr(digest, 1, 2) || '/' || digest || suffix "
    "AS file, name, bytes, pile, added_at FROM originals ORDER BY originals.rowid",
    "sheets": "SELECT sheets.id AS reading, sheet, sheets.sitting, sheets.taster, tasters.name, role, kind, "
    f"originals.name AS source, original, page, outcome, {STANDING} AS standing, reason, told, entered_by, "
    "sheets.added_at, taken_back_at FROM sheets LEFT JOIN originals ON digest = original "
    f"{SITTING_TASTERS.format('sheets')}{NAME} ORDER BY sheets.id",
    "marks": "SELECT marks.sheet AS reading, sheets.sheet, field, option, state, marks.reason FROM marks "
    "JOIN sheets ON sheets.id = marks.sheet ORDER BY marks.sheet, field, option",
    "settlements": "SELECT subject AS sheet, field, option, before, after, who, at FROM settlements ORDER BY id",
    "handwriting": "SELECT sheet, field, text, who, at FROM handwriting ORDER BY sheet, field",
    "waiting": "SELECT kit, originals.name AS source, original, page, reason, waiting.added_at FROM waiting "
    "JOIN originals ON digest = original ORDER BY waiting.rowid",
}
"""Each table's name and where its rows come from; its columns are named by the query."""
SITTINGS = (
    "SELECT id AS sitting, date, title, drink, shuffle, keys, glasses, entered_by, added_at FROM sittings "
    "ORDER BY date, id"
)
RESULT_COLUMNS = ("sitting", "taster", "name", "place", "claim", "sure", "truth", "right")

_FORMULA_WITHIN = re.compile(r"([;,\t\r\n]\s*)(?=[=+\-@＝＋－＠])")
"""Where a spreadsheet that takes another sign for the separator would find a cell's beginning."""


def write_tables(connection: Connection, folder: Path) -> None:
    """Write a CSV file for each table but the sittings and results."""
    for name, query in QUERIES.items():
        rows = connection.execute(query)
        write_csv(folder / f"{name}.csv", [column[0] for column in rows.description], rows)


def write_csv(path: Path, heading: Sequence[str], rows: Iterable[Iterable[Cell]]) -> None:
    """Write one table, as its rows come."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("x", encoding="utf-8-sig", newline="") as file:
        table = csv.writer(file, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
        table.writerow(heading)
        for row in rows:
            table.writerow([_safe(cell) for cell in row])


def _safe(cell: Cell) -> str | int | float:
    """Return a cell that no spreadsheet takes for a formula, whichever sign separates its cells.

    >>> _safe("=1+2"), _safe("dry; =1+2"), _safe("half-dry"), _safe(4)
    ("'=1+2", "dry; '=1+2", 'half-dry', 4)
    """
    safe = safe_cell(cell)
    return _FORMULA_WITHIN.sub(r"\1'", safe) if isinstance(safe, str) else safe
