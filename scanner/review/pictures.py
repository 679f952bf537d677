"""The pictures of the second look: cut-outs as they are kept, whole sheets straightened, from the archive alone."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from kit.errors import FacedownError
from kit.record import layout_of
from kit.sheet_layout import KitLayout, SheetLayout
from scanner.archive.cut_outs import AROUND_BOX_MM, PX_PER_MM
from scanner.archive.database import Archive, Row
from scanner.archive.original_pictures import original_pictures
from scanner.archive.store import cutout_path, kit_folder, original_path
from scanner.limits import MOST_PIXELS

Gray = NDArray[np.uint8]
_PNG = b"\x89PNG\r\n\x1a\n"
_DIGEST = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole page as JPEG, `width` by `height`: in mm of the printed page where `layout` is there, else in px."""

    jpeg: bytes
    width: float
    height: float
    layout: SheetLayout | None


def cutout_png(archive: Archive, digest: str) -> bytes | None:
    """Return a cut-out's file; None where there is none of that digest."""
    if not _DIGEST.fullmatch(digest):
        return None
    path = cutout_path(archive.folder, digest)
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None


def cutout_file(archive: Archive, digest: str) -> Path:
    """Return where a cut-out is kept."""
    return cutout_path(archive.folder, digest).resolve()


def box_in(size_px: tuple[int, int]) -> tuple[float, float, float, float]:
    """Return where the box is in its cut-out of that (width, height): x, y, width, height, px."""
    margin = AROUND_BOX_MM * PX_PER_MM
    return margin, margin, max(1.0, size_px[0] - 2 * margin), max(1.0, size_px[1] - 2 * margin)


def png_size(png: bytes) -> tuple[int, int]:
    """Return the (width, height) that a PNG's header says (W3C, PNG, 11.2.2); (1, 1) where it is none."""
    if len(png) < 24 or png[12:16] != b"IHDR":
        return 1, 1
    return int.from_bytes(png[16:20], "big"), int.from_bytes(png[20:24], "big")


def gray_of(png: bytes) -> Gray | None:
    """Return a cut-out as (height, width) array; None where it is damaged, or none that this program wrote."""
    width_px, height_px = png_size(png)
    if not png.startswith(_PNG) or width_px * height_px > MOST_PIXELS:
        return None
    found = cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_GRAYSCALE)
    return None if found is None else np.asarray(found, np.uint8)


def original_of(archive: Archive, row: int) -> Path | None:
    """Return the file that a row of `sheets` was read from; None where it was erased, or typed."""
    found = _sheet_row(archive, row)
    return None if found is None else original_path(archive.folder, found["digest"], found["suffix"]).resolve()


def whole_page(archive: Archive, row: int) -> Whole | None:
    """Return the page of a row of `sheets`, straightened where the sheet is found in it; None where there is none."""
    found = _sheet_row(archive, row)
    if found is None:
        return None
    path = original_path(archive.folder, found["digest"], found["suffix"])
    layout = _layout(archive, found)
    pictures = {one.page: one.picture for one in original_pictures(path, {found["page"]: layout})}
    picture = pictures.get(found["page"])
    if picture is None:
        return None
    if layout and picture.is_flat:
        return Whole(picture.jpeg, layout.width_mm, layout.height_mm, layout)
    return Whole(picture.jpeg, picture.width_px, picture.height_px, None)


def _sheet_row(archive: Archive, row: int) -> Row | None:
    found: Row | None = archive.connection.execute(
        "SELECT sheets.*, digest, suffix FROM sheets JOIN originals ON digest = original "
        "WHERE sheets.id = ? AND entered_by = 'scan'",
        (row,),
    ).fetchone()
    return found


def _layout(archive: Archive, row: Row) -> SheetLayout | None:
    kit = archive.connection.execute("SELECT layout_digest FROM kits WHERE id = ?", (row["sitting"],)).fetchone()
    if kit is None or row["kind"] != "page":
        return None
    try:
        pages = _layouts(kit_folder(archive.folder, row["sitting"]), kit[0]).pages
    except FacedownError:
        return None
    return next((page for page in pages if page.sheet == row["sheet"]), None)


@lru_cache(maxsize=4)
def _layouts(folder: Path, _digest: str) -> KitLayout:
    return layout_of(folder)
