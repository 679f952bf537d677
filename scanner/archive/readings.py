"""The archive as what every command works from: kit folders and a reading, and typed results as sittings."""

from __future__ import annotations

import datetime
import json
from collections.abc import Iterator, Sequence
from functools import lru_cache
from pathlib import Path

from kit.record import layout_of
from kit.sheet_layout import MarkBox
from scanner.archive.database import Archive, Connection, Row
from scanner.archive.facts import marks_of, settled_boxes
from scanner.archive.kits import kit_folders
from scanner.archive.rows import refusing_odd_rows
from scanner.archive.store import cutout_path, kit_folder
from scanner.archive.told import picture_told, turned_order
from scanner.pile import rows_sorted_out, sorted_out
from scanner.reading import OpenedReading, Outcome, PageReading, Reading, TurnedReading, shared_mark
from scanner.results.sitting import Drink, TasterSitting
from scanner.results.typed import nobody, unnamed

LIVE = "taken_back_at IS NULL AND superseded_by IS NULL AND outcome = 'read'"
"""The readings that count, and those in conflict with them."""
GONE = "an original that was erased"


@refusing_odd_rows
def readings_of(archive: Archive, kits: Sequence[str] | None = None) -> tuple[tuple[Path, ...], Reading]:
    """Return what `--kit` and the READING files would have given: all kit folders, and one reading of all sheets.

    The reading has, of every sheet, the picture that counts, and any that is in conflict with it; what a person decided
    is in it. Superseded, unreadable and foreign pictures are left out, as are those taken back.

    Parameters
    ----------
    kits : sequence of str, optional
        Kit ids; left out, all kits of the archive.
    """
    folders = tuple(folder for folder in kit_folders(archive) if kits is None or folder.name in kits)
    pages: list[PageReading] = []
    turned: list[TurnedReading] = []
    opened: list[OpenedReading] = []
    for folder in folders:
        boxes = _boxes(folder)
        for row in _rows(archive.connection, f"sheets.sitting = ? AND {LIVE}", folder.name):
            match row["kind"]:
                case "page":
                    pages.append(_page(archive.connection, row, boxes))
                case "row":
                    turned.append(turned_of(archive.connection, row))
                case "key":
                    opened.append(_opened(row))
    in_order = sorted_out(pages)
    return folders, Reading(in_order, rows_sorted_out(turned, in_order), tuple(opened))


def pages_of_sheet(archive: Archive, sheet: str) -> tuple[PageReading, ...]:
    """Return all readings of one sheet that were not taken back, the one that counts first."""
    found = list(
        _rows(
            archive.connection,
            "sheet = ? AND kind = 'page' AND taken_back_at IS NULL AND outcome = 'read'",
            sheet,
        )
    )
    if not found:
        return ()
    boxes = _boxes_kept(archive, found[0]["sitting"])
    return tuple(_page(archive.connection, row, boxes) for row in found)


def writing_on(archive: Archive, sheet: str) -> dict[str, Path]:
    """Return the pictures of a sheet's writing areas, by field, of the reading that counts; none where it has none."""
    rows = archive.connection.execute(
        f"SELECT cutouts.field, cutouts.digest FROM cutouts JOIN sheets ON sheets.id = cutouts.sheet "
        f"WHERE sheets.sheet = ? AND sheets.kind = 'page' AND cutouts.kind = 'writing' AND {LIVE} "
        "ORDER BY sheets.conflict DESC, sheets.id DESC",
        (sheet,),
    )
    # The last one of a field stays: the reading that is in no conflict, or else the first.
    return {row["field"]: cutout_path(archive.folder, row["digest"]) for row in rows}


@refusing_odd_rows
def typed_sittings(archive: Archive) -> tuple[TasterSitting, ...]:
    """Return the typed results as every result is computed from them; erased tasters are known by no name."""
    query = """
        SELECT results.*, sittings.title, sittings.date, sittings.shuffle, sittings.keys, sittings.glasses,
               tasters.key, tasters.name
        FROM results JOIN sittings ON sittings.id = results.sitting
        JOIN sittings_tasters AS seat ON seat.sitting = results.sitting AND seat.number = results.taster
        LEFT JOIN tasters ON tasters.id = seat.taster
        WHERE results.taken_back_at IS NULL ORDER BY sittings.date, results.id"""
    return tuple(_typed(archive.connection, row) for row in archive.connection.execute(query))


def _typed(connection: Connection, row: Row) -> TasterSitting:
    letters = "ABCDE"[: row["glasses"]]
    claims, sure, truth = (json.loads(row[name]) for name in ("claims", "sure", "truth"))
    drinks = {
        coaster: Drink(key, name, style, abv_percent)
        for coaster, key, name, style, abv_percent in connection.execute(
            "SELECT coaster, key, name, style, abv_percent FROM sittings_drinks JOIN drinks ON drinks.id = drink "
            "WHERE sitting = ?",
            (row["sitting"],),
        )
    }
    erased = nobody(row["sitting"], row["taster"])
    return TasterSitting(
        kit=row["sitting"],
        title=row["title"],
        date=datetime.date.fromisoformat(row["date"]),
        taster=row["key"] or erased,
        name=row["name"] or erased,
        number=row["taster"],
        shuffle=row["shuffle"],
        keys=row["keys"],
        drinks=tuple(drinks.get(coaster, unnamed(row["sitting"], coaster)) for coaster in range(1, row["glasses"] + 1)),
        claims=tuple(claims.get(place) for place in letters),
        sure=tuple(sure.get(place) for place in letters),
        truth=tuple(truth[place] for place in letters),
        notes_1=None,
        notes_2=None,
    )


def _rows(connection: Connection, condition: str, value: str) -> Iterator[Row]:
    yield from connection.execute(
        f"SELECT sheets.*, originals.name FROM sheets LEFT JOIN originals ON digest = original WHERE {condition} "
        "ORDER BY taster, sheet, superseded_by IS NOT NULL, conflict, sheets.id",
        (value,),
    ).fetchall()


def _boxes_kept(archive: Archive, kit: str) -> dict[str, tuple[MarkBox, ...]]:
    """Return a kit's boxes, looked up once: whoever settles a hundred doubts asks a hundred times."""
    [digest] = archive.connection.execute("SELECT layout_digest FROM kits WHERE id = ?", (kit,)).fetchone()
    return _boxes_of_layout(kit_folder(archive.folder, kit), digest)


@lru_cache(maxsize=4)
def _boxes_of_layout(folder: Path, _digest: str) -> dict[str, tuple[MarkBox, ...]]:
    return _boxes(folder)


def _boxes(folder: Path) -> dict[str, tuple[MarkBox, ...]]:
    return {page.sheet: page.marks for page in layout_of(folder).pages}


def _page(connection: Connection, row: Row, boxes: dict[str, tuple[MarkBox, ...]]) -> PageReading:
    marks = marks_of(connection, row["id"], settled_boxes(connection, row["sheet"]))
    return PageReading(
        source=_source(row),
        source_page=row["page"],
        kit=row["sitting"],
        sheet=row["sheet"],
        taster=row["taster"],
        role=row["role"],
        outcome=Outcome.READ,
        reason=None,
        marks=tuple(
            marks.get((box.field, box.option)) or shared_mark(box.field, box.option) for box in boxes[row["sheet"]]
        ),
    )


def turned_of(connection: Connection, row: Row) -> TurnedReading:
    """Return a photograph of turned coasters as it was read, a person's word over the reader's."""
    order, by_person = turned_order(connection, row)
    by = "person" if by_person else None
    return TurnedReading(_source(row), row["page"], row["sitting"], row["taster"], Outcome.READ, None, order, by)


def _opened(row: Row) -> OpenedReading:
    told = picture_told(row)
    places, salt = told.get("places"), told.get("salt")
    return OpenedReading(_source(row), row["page"], row["sitting"], row["taster"], Outcome.READ, None, places, salt)


def _source(row: Row) -> str:
    return row["name"] or GONE
