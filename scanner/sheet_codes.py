"""Reading the two codes of a located sheet, each where the layout says that it is printed and the way up it is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import cv2
import numpy as np
from numpy.typing import NDArray

from kit.sheet_layout import Square
from scanner.code_readers import FoundCode, find_codes
from scanner.edge_marks import find_edge_marks
from scanner.locate import Located
from scanner.sampling import sample_patches

Gray = NDArray[np.uint8]
Floats = NDArray[np.float64]

QUIET_MM = 3.2
"""Four modules (ISO/IEC 18004)."""
ASTRAY_MM, BOTH_ASTRAY_MM = 1.5, 3.0
"""A code that lies farther, at any corner, from where this sheet's is printed is another sheet's; farther than the
second where both places show the same.

This sheet's own were up to 0.9 mm off, half covered ones up to 1.2 mm (the rehearsal's crumpled and dog-eared pages).
"""
AROUND_MM = 15.0
"""How far beside a code that cannot be read another sheet's is looked for, which may lie over it."""
NEAR_MM, REACH_MM = 1.5, 5.0
"""Edge marks are looked for near by first, then farther off, but not in the code's own modules."""
VICINITY_MM = 100.0
STEP_MM = 1.5
"""Edge marks around a code that go on so far beside are those of two sheets.

Crumpled, folded and bent pages showed up to 0.9 mm, corners of another's sheet laid over a page from 2.6 mm.
"""


def read_sheet_codes(gray: Gray, located: Located) -> tuple[str, ...]:
    """Return the texts found at the sheet's two code places: none, one, or more where they differ.

    A text found beside a place, or turned, is another sheet's that lies over this one: it speaks against a text that is
    in its place, and never for itself. A text that one place alone shows must be of one piece with the page around it.

    Crops upright, doubled and sharpened are tried first: that reads what no reader finds in the whole image (MEASURED,
    "Finding things"). The whole image is the last resort.
    """
    found: dict[str, dict[Square, float]] = {}
    for square in located.frame.codes:
        for code, astray_mm in _found_at(gray, located, square):
            places = found.setdefault(code.text, {})
            places[square] = min(astray_mm, places.get(square, np.inf))
    if not any(_is_own(places) for places in found.values()):
        found |= _in_whole_image(gray, located)
    own = [places for places in found.values() if _is_own(places)]
    if not own:
        return ()
    if len(own) == len(own[0]) == 1 and _breaks_off(gray, located, *own[0]):
        return ()
    return tuple(found)


def _is_own(astray_mm: Mapping[Square, float]) -> bool:
    """Tell whether a text found at these places, so far astray, is the located sheet's."""
    return min(astray_mm.values()) < ASTRAY_MM or (len(astray_mm) > 1 and max(astray_mm.values()) < BOTH_ASTRAY_MM)


def _found_at(gray: Gray, located: Located, square: Square) -> list[tuple[FoundCode, float]]:
    """Return the codes at one place, and how far astray each lies, mm; where there are none, those around it."""
    for crop, px_per_mm in code_crops(gray, located, square):
        found = [
            (code, _astray(code, (_corners(square) - _centre(square)) * px_per_mm + (len(crop) - 1) / 2) / px_per_mm)
            for code in find_codes(crop)
        ]
        if found:
            return found
    return []


def code_crops(gray: Gray, located: Located, square: Square) -> Iterator[tuple[Gray, float]]:
    """Yield one code's crop as it is read best first, with its pixels a millimetre; at last its surroundings."""
    centre = _centre(square)[None]
    px_per_mm = float(np.clip(2 * located.px_per_mm, 8.0, 14.0))
    crop = sample_patches(gray, located.to_px, centre, square.side_mm / 2 + QUIET_MM, px_per_mm)[0]
    soft = cv2.GaussianBlur(crop, (0, 0), 0.3 * px_per_mm)
    yield np.asarray(cv2.addWeighted(crop, 2.0, soft, -1.0, 0.0), np.uint8), px_per_mm
    yield crop, px_per_mm
    yield np.asarray(cv2.GaussianBlur(crop, (0, 0), 0.15 * px_per_mm), np.uint8), px_per_mm
    yield sample_patches(gray, located.to_px, centre, square.side_mm / 2 + AROUND_MM, 8.0)[0], 8.0


def _in_whole_image(gray: Gray, located: Located) -> dict[str, dict[Square, float]]:
    """Return the texts of the codes that lie in this sheet's places, and how far astray each lies there, mm."""
    found: dict[str, dict[Square, float]] = {}
    for code in find_codes(gray):
        for square in located.frame.codes:
            astray_mm = _astray(code, located.to_px(_corners(square))) / located.px_per_mm
            if astray_mm < ASTRAY_MM:
                found.setdefault(code.text, {})[square] = astray_mm
    return found


def _breaks_off(gray: Gray, located: Located, square: Square) -> bool:
    """Tell whether the edge marks around a code are not of one piece: another's corner lies there, its own marks on it.

    A sheet that such a corner was taken for a part of is located as if it were bent, so that the code seems in place.
    """
    if not located.frame.edge_marks:
        return False
    marks_mm = np.array(located.frame.edge_marks, np.float64)
    offsets_mm = np.full(marks_mm.shape, np.nan)
    for reach_mm in (NEAR_MM, REACH_MM):
        lost = np.isnan(offsets_mm[:, 0])
        offsets_mm[lost] = find_edge_marks(gray, located.to_px, marks_mm[lost], located.frame.edge_mark_mm, reach_mm)
    moved_mm = located.bend.at(marks_mm) + located.rim.at(marks_mm) + offsets_mm
    steps = [
        step_mm
        for axis in (0, 1)
        for edge_mm in (marks_mm[:, axis].min(), marks_mm[:, axis].max())
        for middle_mm, step_mm in _steps(marks_mm, moved_mm, np.abs(marks_mm[:, axis] - edge_mm) < NEAR_MM)
        if np.linalg.norm(middle_mm - _centre(square)) < VICINITY_MM
    ]
    return max(steps, default=0.0) > STEP_MM


def _steps(marks_mm: Floats, moved_mm: Floats, side: NDArray[np.bool_]) -> Iterator[tuple[Floats, float]]:
    """Yield between which marks of one side they move otherwise than those before and those after do, and how far."""
    seen = side & ~np.isnan(moved_mm[:, 0])
    order = np.lexsort(marks_mm[seen].T)
    places, moved = marks_mm[seen][order], moved_mm[seen][order]
    if len(places) < 3:
        return
    gaps, changes = np.linalg.norm(np.diff(places, axis=0), axis=1)[:, None], np.diff(moved, axis=0)
    slopes = changes / gaps
    by_those_before = np.linalg.norm(changes[1:] - slopes[:-1] * gaps[1:], axis=1)
    by_those_after = np.linalg.norm(changes[:-1] - slopes[1:] * gaps[:-1], axis=1)
    steps = np.minimum(np.append(np.inf, by_those_before), np.append(by_those_after, np.inf))
    yield from zip((places[1:] + places[:-1]) / 2, steps.tolist(), strict=True)


def _astray(code: FoundCode, corners_px: Floats) -> float:
    """Return by how many pixels the corners of a code found miss these, clockwise from the printed code's top left."""
    found_px = np.array(code.corners_px)
    return float(np.linalg.norm(found_px - corners_px, axis=1).max()) if found_px.shape == corners_px.shape else np.inf


def _centre(square: Square) -> Floats:
    return np.array([square.x_mm + square.side_mm / 2, square.y_mm + square.side_mm / 2])


def _corners(square: Square) -> Floats:
    reach = square.side_mm / 2 * np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)])
    return np.asarray(_centre(square) + reach, np.float64)
