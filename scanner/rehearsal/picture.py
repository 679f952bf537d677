"""A picture of a page, and where on it everything of the page lies."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from kit.sheet_layout import SheetLayout
from scanner.reading import State
from scanner.rehearsal.arrays import Gray, Points, xy
from scanner.rehearsal.truth import COVERING, BoxTruth, Tag


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """What a device gave of a page.

    `place` takes places on the layout in mm, (N, 2), to pixels of the image, whole numbers at pixel centres.
    `hidden_mm` are outlines on the layout, (N, 2) each, of what a thumb or a fold covers. Ink with a tone (see
    `scanner.rehearsal.truth`) below `faintest` is beyond the device: 0 but for one-bit scans and photocopies. So is an
    inked area of a tone below `faintest_area`: a threshold that follows the surroundings keeps of it the edges alone.
    """

    image: Gray
    place: Callable[[Points], Points]
    hidden_mm: tuple[Points, ...] = ()
    faintest: float = 0.0
    faintest_area: float = 0.0

    def px_per_mm(self, layout: SheetLayout) -> float:
        """Return the least scale anywhere on the sheet: what counts for "come closer"."""
        x, y = np.meshgrid(np.linspace(5.0, layout.width_mm - 5.0, 5), np.linspace(5.0, layout.height_mm - 5.0, 7))
        points = np.stack([x.ravel(), y.ravel()], axis=1)
        here = self.place(points)
        right, down = self.place(points + xy(1.0, 0.0)) - here, self.place(points + xy(0.0, 1.0)) - here
        steps = np.stack([right, down], axis=2)  # of each place, the derivative of pixels by millimetres
        return float(np.linalg.svd(steps, compute_uv=False).min())


def as_seen(boxes: tuple[BoxTruth, ...], layout: SheetLayout, picture: Picture) -> tuple[BoxTruth, ...]:
    """Return the boxes as far as this picture can show them.

    A box that is covered or outside the picture, were it by a corner, is marginal. So is every mark too light for the
    device.
    """
    corners = np.array(
        [[(m.x_mm + i * m.w_mm / 2, m.y_mm + j * m.h_mm / 2) for i in range(3) for j in range(3)] for m in layout.marks]
    ).reshape(-1, 2)
    px = picture.place(corners)
    height, width = picture.image.shape
    lost = (px < -0.5).any(axis=1) | (px[:, 0] > width - 0.5) | (px[:, 1] > height - 0.5)
    for outline in picture.hidden_mm:
        lost |= _inside(corners, outline)
    gone = lost.reshape(-1, 9).any(axis=1)
    return tuple(
        replace(box, tag=Tag.MARGINAL)
        if gone[index] or (box.state is not State.EMPTY and box.tone < _faintest(box, picture))
        else box
        for index, box in enumerate(boxes)
    )


def _faintest(box: BoxTruth, picture: Picture) -> float:
    return max(picture.faintest, picture.faintest_area if box.covered > COVERING else 0.0)


def _inside(points: Points, outline: Points) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Whether each point lies in the polygon: an odd number of its edges crossed by a ray to the right."""
    inside = np.zeros(len(points), dtype=np.bool_)
    for (x0, y0), (x1, y1) in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        if y0 == y1:
            continue
        spans = (points[:, 1] < y0) != (points[:, 1] < y1)
        inside ^= spans & (points[:, 0] < x0 + (points[:, 1] - y0) * (x1 - x0) / (y1 - y0))
    return inside
