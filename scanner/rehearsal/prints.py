"""A kit printed to pictures: what comes out of a printer, before a hand or a camera touches it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import pypdfium2
from numpy.typing import NDArray

from kit.paper import POINTS_PER_MM
from kit.pdf import render
from kit.sheet_layout import SheetLayout
from kit.sheets import Sheet

PX_PER_MM = 12.0


def printed(sheets: Iterable[Sheet], px_per_mm: float = PX_PER_MM) -> Iterator[tuple[SheetLayout, NDArray[np.uint8]]]:
    """Yield every sheet's layout and its printed page, an (H, W) array of uint8 at that scale."""
    sheets = tuple(sheets)
    document = pypdfium2.PdfDocument(render((sheet.page for sheet in sheets), "rehearsal"))
    try:
        for sheet, page in zip(sheets, document, strict=True):
            bitmap = page.render(scale=px_per_mm / POINTS_PER_MM, grayscale=True)
            yield sheet.layout, np.array(bitmap.to_numpy()).reshape(bitmap.height, bitmap.width)
    finally:
        document.close()
