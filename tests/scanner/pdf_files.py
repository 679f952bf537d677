"""PDF files made of a picture, for the tests of the sources, and what an independent program sees in them."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
import pytest
from PIL import Image
from pypdf.annotations import Line
from pypdf.generic import NameObject
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from tests.outside_programs import left_out
from tests.scanner.picture_files import (
    HEIGHT_PX,
    WIDTH_PX,
    Gray,
    octets,
    page_picture,
)

ROOT = Path(__file__).parents[2]
FULL = 100_000
PAGE = page_picture()
PICTURE = Image.fromarray(PAGE)
JPEG = octets(PICTURE, "JPEG", quality=90)
AS_DECODED = np.asarray(Image.open(BytesIO(JPEG)))
WIDTH_PT, HEIGHT_PT = WIDTH_PX / 2, HEIGHT_PX / 2
"""The page at 144 dpi."""

FORMS: dict[int, tuple[float, ...]] = {
    1: (1, 0, 0, 1, 0, 0),
    2: (-1, 0, 0, 1, 1, 0),
    3: (-1, 0, 0, -1, 1, 1),
    4: (1, 0, 0, -1, 0, 1),
    5: (0, -1, -1, 0, 1, 1),
    6: (0, -1, 1, 0, 0, 1),
    7: (0, 1, 1, 0, 0, 0),
    8: (0, 1, -1, 0, 1, 0),
}
"""EXIF orientation → the matrix that draws such a picture upright into the unit square (ISO 32000-1, 8.3.4)."""


def pdf_of(
    picture: bytes | Image.Image,
    *,
    before: Callable[[Canvas], object] | None = None,
    after: Callable[[Canvas], object] | None = None,
    matrix: tuple[float, ...] = FORMS[1],
    size_pt: tuple[float, float] = (WIDTH_PT, HEIGHT_PT),
    mask: str | None = None,
) -> bytes:
    """Return a PDF with a page of one picture, drawn over the page after `matrix`."""
    file = BytesIO()
    canvas = Canvas(file, pagesize=size_pt)
    canvas.saveState()
    if before:
        before(canvas)
    canvas.scale(*size_pt)
    canvas.transform(*matrix)
    source = BytesIO(picture) if isinstance(picture, bytes) else picture
    canvas.drawImage(ImageReader(source), 0, 0, 1, 1, mask=mask)
    canvas.restoreState()
    if after:
        after(canvas)
    canvas.showPage()
    canvas.save()
    return file.getvalue()


def edited(content: bytes, edit: Callable[[pypdf.PdfWriter], object]) -> bytes:
    """Return a PDF after pypdf changed something in it."""
    writer = pypdf.PdfWriter(BytesIO(content))
    edit(writer)
    file = BytesIO()
    writer.write(file)
    return file.getvalue()


def picture_entry(key: str, value: Any) -> Callable[[pypdf.PdfWriter], None]:
    """Return an edit that puts an entry into the dictionary of the only picture."""

    def edit(writer: pypdf.PdfWriter) -> None:
        resources: Any = writer.pages[0]["/Resources"]
        (name,) = resources["/XObject"]
        resources["/XObject"][name].get_object()[NameObject(key)] = value

    return edit


def seen_by_poppler(path: Path, dpi: int = 144) -> Gray:
    """Return the first page as poppler shows it: the outside reference for how a page is turned and cut."""
    if left_out("pdftoppm"):
        pytest.skip("pdftoppm is missing: apt install poppler-utils")
    command = ["pdftoppm", "-r", str(dpi), "-gray", "-cropbox", "-singlefile", str(path), str(path.with_suffix(""))]
    subprocess.run(command, check=True, capture_output=True, timeout=30)
    return np.asarray(Image.open(path.with_suffix(".pgm")))


def mean_difference(left: Gray, right: Gray) -> float:
    height, width = min(left.shape[0], right.shape[0]), min(left.shape[1], right.shape[1])
    assert abs(left.shape[0] - right.shape[0]) <= 1
    assert abs(left.shape[1] - right.shape[1]) <= 1
    return float(np.abs(left[:height, :width].astype(int) - right[:height, :width]).mean())


def with_text(canvas: Canvas) -> None:
    canvas.drawString(20, 100, "crossed by a program")


def with_annotation(writer: pypdf.PdfWriter) -> None:
    cross = Line(rect=(20, 20, 90, 90), p1=(20, 20), p2=(90, 90), text="")
    writer.add_annotation(0, cross)


DEFLATED = pdf_of(octets(PICTURE, "PNG"))
