"""A small page of our own to mark and photograph, for tests that need no printed kit."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from kit.sheet_layout import MarkBox, SheetLayout, Square, WritingArea

OUTLINE_MM = 0.25


def notes_layout(width_mm: float = 210.0, height_mm: float = 297.0, glasses: int = 3) -> SheetLayout:
    """Return a layout with words, scales, a match and writing areas, at the spacing of the printed forms."""
    marks: list[MarkBox] = []
    writing: list[WritingArea] = []
    for glass in range(glasses):
        top = 40.0 + 62.0 * glass
        for word in range(24):
            x, y = 20.0 + 24.0 * (word % 4), top + 6.2 * (word // 4)
            marks.append(MarkBox(f"words.{glass + 1}", f"word-{word}", "many", x, y, 4.5, 4.5))
        for row, name in enumerate(("sweet", "acid", "weight", "finish")):
            for step in range(7):
                x, y = 130.0 + 7.0 * step, top + 6.2 * row
                marks.append(MarkBox(f"scale.{name}.{glass + 1}", str(step + 1), "one", x, y, 4.5, 4.5))
        writing.append(WritingArea(f"remarks.{glass + 1}", 130.0, top + 27.0, 60.0, 22.0))
    for place in range(glasses):
        y = 40.0 + 62.0 * glasses + 7.0 * place
        for number in range(glasses):
            letter = "ABCDE"[place]
            marks.append(MarkBox(f"match.{letter}", str(number + 1), "one", 30.0 + 7.0 * number, y, 5.0, 5.0))
        for step, sure in enumerate(("guess", "leaning", "sure")):
            marks.append(MarkBox(f"sure.{letter}", sure, "one", 90.0 + 25.0 * step, y, 4.5, 4.5))
    corners = ((10.0, 10.0), (width_mm - 20, 10.0), (width_mm - 20, height_mm - 20), (10.0, height_mm - 20))
    return SheetLayout(
        pdf="forms.pdf",
        pdf_page=1,
        width_mm=width_mm,
        height_mm=height_mm,
        sheet="K7Q4M2-0001-1",
        taster=1,
        role="match",
        marks=tuple(marks),
        writing=tuple(writing),
        fiducials=tuple(Square(number, x, y, 10.0) for number, (x, y) in enumerate(corners)),
    )


def drawn(layout: SheetLayout, px_per_mm: float) -> NDArray[np.uint8]:
    """Return the page with its boxes outlined, its fiducials solid and grey bars for the printed words."""
    page = np.full((round(layout.height_mm * px_per_mm), round(layout.width_mm * px_per_mm)), 255, dtype=np.uint8)
    for box in layout.marks:
        _rectangle(page, box.x_mm, box.y_mm, box.w_mm, box.h_mm, px_per_mm, 0)
        _rectangle(
            page,
            box.x_mm + OUTLINE_MM,
            box.y_mm + OUTLINE_MM,
            box.w_mm - 2 * OUTLINE_MM,
            box.h_mm - 2 * OUTLINE_MM,
            px_per_mm,
            255,
        )
        if box.pick == "many":
            _rectangle(page, box.x_mm + 6.0, box.y_mm + 1.6, 12.0, 1.4, px_per_mm, 90)
    for square in layout.fiducials:
        _rectangle(page, square.x_mm, square.y_mm, square.side_mm, square.side_mm, px_per_mm, 0)
    return page


def _rectangle(
    page: NDArray[np.uint8], x_mm: float, y_mm: float, w_mm: float, h_mm: float, px_per_mm: float, level: int
) -> None:
    left, top = round(x_mm * px_per_mm), round(y_mm * px_per_mm)
    page[top : round((y_mm + h_mm) * px_per_mm), left : round((x_mm + w_mm) * px_per_mm)] = level
