"""A kit printed to pictures: what comes out of a printer, before a hand or a camera touches it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import pypdfium2
from numpy.typing import NDArray

from kit.drawing import Page
from kit.paper import POINTS_PER_MM
from kit.pdf import render
from kit.sheet_layout import SheetLayout
from kit.sheets import Sheet

PX_PER_MM = 12.0


def printed(sheets: Iterable[Sheet], px_per_mm: float = PX_PER_MM) -> Iterator[tuple[SheetLayout, NDArray[np.uint8]]]:
    """Yield every sheet's layout and its printed page, an (H, W) array of uint8 at that scale."""
    sheets = tuple(sheets)
    pictures = rendered((sheet.page for sheet in sheets), px_per_mm)
    for sheet, picture in zip(sheets, pictures, strict=True):
        yield sheet.layout, picture


def rendered(pages: Iterable[Page], px_per_mm: float = PX_PER_MM) -> Iterator[NDArray[np.uint8]]:
    """Yield every page as printed, an (H, W) array of uint8 at that scale."""
    document = pypdfium2.PdfDocument(render(pages, "rehearsal"))
    try:
        for page in document:
            bitmap = page.render(scale=px_per_mm / POINTS_PER_MM, grayscale=True)
            yield np.array(bitmap.to_numpy()).reshape(bitmap.height, bitmap.width)
    finally:
        document.close()
