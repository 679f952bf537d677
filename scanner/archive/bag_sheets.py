"""Writes a PDF for every sheet of an archive, page by page of the originals: memory holds one page at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import groupby
from pathlib import Path

from kit.record import layout_of
from kit.sheet_layout import SheetLayout
from scanner.archive.database import Archive, Row
from scanner.archive.original_pictures import original_pictures
from scanner.archive.sheet_pdf import write_sheet_pdf
from scanner.archive.sheet_picture import SheetPicture
from scanner.archive.sheet_words import sheet_page
from scanner.archive.store import TYPED_SUFFIX, kit_folder, original_path

COUNTING = (
    "FROM sheets LEFT JOIN originals ON digest = original WHERE kind = 'page' AND sheet IS NOT NULL "
    "AND sitting IS NOT NULL AND outcome = 'read' AND taken_back_at IS NULL AND superseded_by IS NULL AND conflict = 0"
)
"""Of each sheet the reading that counts."""


def count_sheets(archive: Archive) -> int:
    """Return how many PDFs `write_sheets` will write."""
    return int(archive.connection.execute(f"SELECT count(*) {COUNTING}").fetchone()[0])


def write_sheets(archive: Archive, folder: Path) -> Iterator[tuple[str, bool]]:
    """Write `folder/KIT/SHEET.pdf` for each sheet; yield its id as it is written, and whether it has a picture.

    Raises
    ------
    OSError
        If the disk refuses.
    KitError
        If a kit's layout is not the one that was printed.
    """
    layouts = lru_cache(2)(lambda kit: {page.sheet: page for page in layout_of(kit_folder(archive.folder, kit)).pages})
    query = f"SELECT sheets.*, originals.suffix {COUNTING} ORDER BY original, page, sheets.id"
    rows = archive.connection.execute(query)
    for _, group in groupby(rows, key=lambda row: (row["original"], row["suffix"])):
        sheets = [(row, layouts(row["sitting"])[row["sheet"]]) for row in group]
        for row, layout, picture in _with_pictures(archive, sheets):
            target = folder / row["sitting"] / f"{row['sheet']}.pdf"
            target.parent.mkdir(parents=True, exist_ok=True)
            with target.open("xb") as file:
                write_sheet_pdf(file, sheet_page(archive.connection, row, layout, picture))
            yield row["sheet"], picture is not None


def _with_pictures(
    archive: Archive, sheets: Sequence[tuple[Row, SheetLayout]]
) -> Iterator[tuple[Row, SheetLayout, SheetPicture | None]]:
    """Yield the sheets of one original with their pictures; None for what was typed, erased or is damaged."""
    row, _ = sheets[0]
    left = dict(enumerate(sheets))
    if row["suffix"] not in (None, TYPED_SUFFIX):
        numbers = {row["page"]: number for number, (row, _) in left.items()}
        path = original_path(archive.folder, row["original"], row["suffix"])
        for found in original_pictures(path, {row["page"]: layout for row, layout in sheets}):
            if found.page is not None:
                yield *left.pop(numbers[found.page]), found.picture
    yield from ((row, layout, None) for row, layout in left.values())
