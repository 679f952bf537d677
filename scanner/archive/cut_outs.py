"""Cuts the writing areas and the doubtful boxes out of a sheet's picture, small enough to keep many."""

from __future__ import annotations

from collections.abc import Iterable

import cv2
import numpy as np
from numpy.typing import NDArray

from kit.sheet_layout import SheetLayout
from scanner.locate import Refusal, locate
from scanner.page_tasks import CutOut
from scanner.read_sheet import GrayPage
from scanner.reading import PageReading, State

PX_PER_MM = 5.0
"""Handwriting stays legible at 127 dpi."""
AROUND_BOX_MM = 6.0
"""Of its surroundings, on every side of a doubtful box."""
GRAYS = 16
WORKING_PX = 1700
DECIMALS = 3


def cut_outs(image: GrayPage, page: PageReading, layout: SheetLayout) -> tuple[CutOut, ...]:
    """Return the cut-outs of one sheet that was read; none where it is not found in the picture again.

    Raises
    ------
    PageError
        From `image.gray` alone.
    """
    gray = image.gray(WORKING_PX)
    located = locate(gray, [layout])
    if isinstance(located, Refusal):
        return ()
    places = {(box.field, box.option): box for box in layout.marks}
    doubtful = [mark for mark in page.marks if mark.state is State.DOUBTFUL]
    areas: Iterable[tuple[str, str, str, tuple[float, float, float, float]]] = (
        *(("writing", area.field, "", (area.x_mm, area.y_mm, area.w_mm, area.h_mm)) for area in layout.writing),
        *(
            ("box", mark.field, mark.option, (box.x_mm, box.y_mm, box.w_mm, box.h_mm))
            for mark in doubtful
            if (box := places.get((mark.field, mark.option)))
        ),
    )
    return tuple(
        CutOut(kind, field, option, _png(gray, located.to_px(_corners(rect, kind)), rect, kind))
        for kind, field, option, rect in areas
    )


def _corners(rect: tuple[float, float, float, float], kind: str) -> NDArray[np.float64]:
    x, y, width, height = rect
    margin = AROUND_BOX_MM if kind == "box" else 0.0
    left, top, right, foot = x - margin, y - margin, x + width + margin, y + height + margin
    return np.array([(left, top), (right, top), (right, foot), (left, foot)])


def _png(
    gray: NDArray[np.uint8], corners_px: NDArray[np.float64], rect: tuple[float, float, float, float], kind: str
) -> bytes:
    margin = AROUND_BOX_MM if kind == "box" else 0.0
    width, height = (round((side + 2 * margin) * PX_PER_MM) for side in rect[2:])
    upright = np.array([(0, 0), (width, 0), (width, height), (0, height)], np.float32) - 0.5
    # Rounded, so that the last bits of a sum decide on no pixel.
    source = np.round(corners_px, DECIMALS).astype(np.float32)
    patch = cv2.warpPerspective(
        gray, cv2.getPerspectiveTransform(source, upright), (width, height), flags=cv2.INTER_AREA, borderValue=255.0
    )
    steps = np.round(patch.astype(np.float64) / 255 * (GRAYS - 1)) * (255 / (GRAYS - 1))
    done, encoded = cv2.imencode(".png", steps.astype(np.uint8), [cv2.IMWRITE_PNG_COMPRESSION, 9])
    assert done
    return encoded.tobytes()
