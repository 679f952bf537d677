"""Where a picture of the second look is shown and what of it is outlined, as numbers for an SVG's attributes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from scanner.archive.standing import Box
from scanner.review.pictures import Whole, box_in

AROUND_MM = 8.0
OUTSIDE = 0.12
"""The outline stands off the box by this share of its side, so that it hides nothing of it."""
Rect = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Figure:
    """A picture of `size`, of which `view` is shown and `outlines` are drawn round boxes, all in the same unit.

    `href` is the picture's address below the page's own, `caption` says which it is, `alt` what is to be seen.
    """

    href: str
    size: tuple[float, float]
    view: Rect
    outlines: tuple[Rect, ...]
    stroke: float
    caption: str
    alt: str


def figure_of_cutout(digest: str, size_px: tuple[int, int], caption: str, alt: str) -> Figure:
    """Return a doubtful box's cut-out, the box outlined."""
    outline = _around(box_in(size_px))
    return Figure(
        f"cutout/{digest}.png", size_px, (0, 0, *size_px), (outline,), size_px[1] / 90, caption=caption, alt=alt
    )


def figure_of_page(row: int, page: Whole, boxes: Sequence[Box], *, whole: bool, caption: str, alt: str) -> Figure:
    """Return a page's picture with boxes outlined; the whole of it, or what is around their fields."""
    places = {(box.field, box.option): box for box in page.layout.marks} if page.layout else {}
    rects = [(one.x_mm, one.y_mm, one.w_mm, one.h_mm) for box in boxes if (one := places.get(box))]
    view = (0.0, 0.0, page.width, page.height)
    if rects and not whole and page.layout:
        fields = {field for field, _ in boxes}
        around = [(one.x_mm, one.y_mm, one.w_mm, one.h_mm) for one in page.layout.marks if one.field in fields]
        view = _surroundings(around, page)
    outlines = tuple(_around(rect) for rect in rects)
    return Figure(f"sheet/{row}.jpg", (page.width, page.height), view, outlines, 0.5, caption=caption, alt=alt)


def _around(rect: Rect) -> Rect:
    x, y, width, height = rect
    off = OUTSIDE * max(width, height)
    return x - off, y - off, width + 2 * off, height + 2 * off


def _surroundings(rects: Sequence[Rect], page: Whole) -> Rect:
    left, top = (max(0.0, min(rect[axis] for rect in rects) - AROUND_MM) for axis in (0, 1))
    right = min(page.width, max(rect[0] + rect[2] for rect in rects) + AROUND_MM)
    foot = min(page.height, max(rect[1] + rect[3] for rect in rects) + AROUND_MM)
    return left, top, right - left, foot - top
