"""Where a sheet lies in an image: from its fiducials, and from the marks along its edges, which show how it is bent.

Where one fiducial alone is whole, as on a print cut off at its edges, both codes help.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from kit.sheet_layout import SheetLayout, Square
from scanner.clarity import Clarity, clarity_of
from scanner.code_readers import find_codes
from scanner.edge_marks import find_edge_marks
from scanner.fiducials import Fiducial, find_fiducials, without_ghosts
from scanner.geometry import Bend, Rim, apply_homography, fit_bend, fit_homography, local_scale, no_bend, no_rim
from scanner.one_sheet import are_two_sheets
from scanner.why_not_found import why_not_found

Gray = NDArray[np.uint8]
Floats = NDArray[np.float64]

MAX_RESIDUAL_MM = {4: 1.2, 3: 0.45, 2: 0.25}
"""Root mean square at the corners of so many fiducials. Bent paper stays well below; fiducials of two sheets do not."""
MIN_PX_PER_MM = 3.6
ENOUGH_MARKS = 16
"""With more edge marks than this, codes are no longer needed."""
LEAST_APART_MM = 100.0
"""A fiducial and the code beside it tell too little of the rest of the page."""
FIRST_CODE = 4
"""The numbers of codes among the squares of a sheet follow on those of its fiducials."""
NEAR_MM = 1.5
SURE_MM = 0.1
"""Standard error, anywhere on the page, at which a bend is good enough to need no simpler one."""
REACH_MM = 6.0
"""How far off an edge mark may lie; their pitch is three times that."""
ROUNDS = 3
"""Where the paper is folded, the marks near a fold are found from those found before."""
RIM_MM = 4.0
"""How near to the outermost marks a mark or a fiducial's corner belongs to that edge."""
STRAY_MM = 1.0
"""An edge mark that differs more than this from the marks beside it is something else."""
STEEP = 1.8
"""Millimetres are so many times as long at one place and in one direction of a page as at another: tilted by 50°."""
FILLS = 0.6
"""Share of the picture's length from which coming closer would not help."""
NOT_FLAT = (
    "its corner marks do not lie as on one flat sheet: two sheets overlap, or it is folded over; "
    "lay each sheet flat and photograph it alone"
)
TWO_SHEETS = "there are two sheets in one picture; photograph each sheet alone"
TORN = (
    "the marks along its edges break off and go on beside: two sheets overlap, or it is torn or folded over; lay each "
    "sheet flat and photograph it alone"
)


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why an image cannot be read, in words that help to take a better one.

    `is_final` where a code that can be read all the same would tell nothing more.
    """

    reason: str
    is_final: bool = False


@dataclass(frozen=True, slots=True)
class Located:
    """A sheet found in an image.

    `mm_to_px` is the (3, 3) homography of the flat sheet, `bend` what the paper departs from it and `rim` what is left
    of that at the edges, as where it is folded; `px_per_mm` the least over the page; `residual_mm` how well the
    fiducials agree; `edge_marks_seen` the share of edge marks found; `clarity` how its print comes out.
    """

    frame: SheetLayout
    mm_to_px: Floats
    bend: Bend
    rim: Rim
    px_per_mm: float
    residual_mm: float
    fiducials: int
    edge_marks_seen: float
    clarity: Clarity

    def to_px(self, points_mm: Floats) -> Floats:
        """Return where (N, 2) points of the printed page lie in the image, px."""
        return apply_homography(self.mm_to_px, points_mm + self.bend.at(points_mm) + self.rim.at(points_mm))


def locate(gray: Gray, frames: Sequence[SheetLayout]) -> Located | Refusal:
    """Find the sheet in the image, in any rotation and perspective.

    Parameters
    ----------
    gray : (H, W) array of uint8
    frames : sequence of SheetLayout
        One page for each paper size that may occur; their fiducials, codes and edge marks are what is looked for.
    """
    fiducials = without_ghosts(gray, find_fiducials(gray))
    fits = _fits(gray, frames, fiducials)
    if not fits and 0 < len({fiducial.number for fiducial in fiducials}) < 4:
        fiducials = without_ghosts(gray, find_fiducials(gray, known=fiducials))
        fits = _fits(gray, frames, fiducials)
    numbers = [fiducial.number for fiducial in fiducials]
    if len(set(numbers)) < len(numbers):
        return Refusal(TWO_SHEETS, is_final=True)
    if not fits and len(numbers) < 2:
        return Refusal(*why_not_found(gray, numbers))
    if not fits:
        return Refusal(NOT_FLAT)
    fit = min(fits, key=lambda candidate: candidate.residual_mm)
    located, offsets = _bent(gray, fit)
    if located.px_per_mm < MIN_PX_PER_MM:
        return Refusal(_too_small(gray, located))
    if are_two_sheets(*_along_edges(located, fit.without_codes(), offsets)):
        return Refusal(TORN)
    return located


@dataclass(frozen=True, slots=True)
class _Fit:
    """Where a frame's squares lie, fiducials first; `fiducials` counts these."""

    frame: SheetLayout
    points_mm: Floats
    points_px: Floats
    mm_to_px: Floats
    residual_mm: float
    fiducials: int

    def without_codes(self) -> _Fit:
        """Return the fit by its fiducials alone: a code's corners are known to half a millimetre only."""
        count = 4 * self.fiducials
        return replace(self, points_mm=self.points_mm[:count], points_px=self.points_px[:count])


def _fits(gray: Gray, frames: Sequence[SheetLayout], fiducials: Sequence[Fiducial]) -> list[_Fit]:
    """Return how each frame fits the fiducials, or the only one and the sheet's codes; never two of one number."""
    if len({fiducial.number for fiducial in fiducials}) < len(fiducials):
        return []
    seen = [fiducials] if len(fiducials) > 1 else [(*fiducials, *codes) for codes in _codes(gray) if fiducials]
    return [fit for frame in frames for squares in seen if (fit := _fit(frame, squares)) is not None]


def _codes(gray: Gray) -> list[tuple[Fiducial, ...]]:
    """Return a sheet's codes, which say the same, as squares to locate it by, whichever is which; else nothing."""
    codes = find_codes(gray)
    if len(codes) not in (1, 2) or len({code.text for code in codes}) > 1:
        return []
    corners = [np.array(code.corners_px) for code in codes]
    return [
        tuple(Fiducial(FIRST_CODE + number, found) for number, found in zip(order, corners, strict=False))
        for order in ((0, 1), (1, 0))
    ]


def _squares(frame: SheetLayout) -> dict[int, Square]:
    codes = {FIRST_CODE + place: square for place, square in enumerate(frame.codes)}
    return {square.number: square for square in frame.fiducials} | codes


def _fit(frame: SheetLayout, fiducials: Sequence[Fiducial]) -> _Fit | None:
    """Fit a frame to the fiducials, to three of four where one of them is bent away; None where none fits."""
    places = _squares(frame)
    usable = [fiducial for fiducial in fiducials if fiducial.number in places]
    for count in (4, 3) if len(usable) == 4 else (len(usable),):
        fits = [
            fit
            for some in combinations(usable, count)
            if (fit := _fit_exactly(frame, some)).residual_mm < MAX_RESIDUAL_MM[count]
            and np.ptp(fit.points_mm, axis=0).max() > LEAST_APART_MM
            and _lies_face_up(fit)
        ]
        if fits:
            return min(fits, key=lambda fit: fit.residual_mm)
    return None


def _fit_exactly(frame: SheetLayout, fiducials: Sequence[Fiducial]) -> _Fit:
    places = _squares(frame)
    points_mm = np.concatenate(
        [_corners_mm(places[f.number].x_mm, places[f.number].y_mm, places[f.number].side_mm) for f in fiducials]
    )
    points_px = np.concatenate([fiducial.corners_px for fiducial in fiducials])
    mm_to_px = fit_homography(points_mm, points_px)
    error_px = np.linalg.norm(apply_homography(mm_to_px, points_mm) - points_px, axis=1)
    px_per_mm = np.mean([f.side_px / places[f.number].side_mm for f in fiducials])
    residual_mm = float(np.sqrt(np.mean(error_px**2)) / px_per_mm)
    return _Fit(frame, points_mm, points_px, mm_to_px, residual_mm, sum(f.number < FIRST_CODE for f in fiducials))


def _lies_face_up(fit: _Fit) -> bool:
    """Tell whether the whole page lies before the camera and is not mirrored."""
    corners = _page_corners(fit.frame)
    depth = np.concatenate([corners, np.ones((4, 1))], axis=1) @ fit.mm_to_px[2]
    if depth.min() <= 0.2 * depth.max():
        return False
    (ax, ay), (bx, by) = np.diff(apply_homography(fit.mm_to_px, corners)[[0, 1, 3]], axis=0)
    return bool(ax * by - ay * bx > 0)


def _bent(gray: Gray, fit: _Fit) -> tuple[Located, Floats]:
    """Improve a fit by the edge marks: first the homography where fiducials are missing, then the bend.

    Returns also how far each edge mark was found from where the homography has it, mm; NaN where it was not.
    """
    marks_mm = np.array(fit.frame.edge_marks, np.float64).reshape(-1, 2)
    mm_to_px = fit.mm_to_px if fit.fiducials == 4 else _grown(gray, fit, marks_mm)
    px_to_mm = np.asarray(np.linalg.inv(mm_to_px), np.float64)
    fit = fit.without_codes()
    at_fiducials = apply_homography(px_to_mm, fit.points_px) - fit.points_mm
    corners = _page_corners(fit.frame)
    inner = corners + 0.08 * (corners.mean(axis=0) - corners)
    bend, rim = no_bend(), no_rim()
    offsets = np.full(marks_mm.shape, np.nan)
    for _ in range(ROUNDS):
        lost = np.isnan(offsets[:, 0])
        expected = bend.at(marks_mm[lost]) + rim.at(marks_mm[lost])
        found = expected + _edge_mark_offsets(gray, mm_to_px, marks_mm[lost] + expected, fit.frame.edge_mark_mm)
        if np.isnan(found[:, 0]).all():
            break
        offsets[lost] = found
        seen = ~np.isnan(offsets[:, 0])
        points = np.concatenate([fit.points_mm, marks_mm[seen]])
        moved = np.concatenate([at_fiducials, offsets[seen]])
        bend = _best_bend(points, moved, inner)
        rim = _rim(points, moved - bend.at(points))
    located = Located(
        frame=fit.frame,
        mm_to_px=mm_to_px,
        bend=bend,
        rim=rim,
        px_per_mm=float(local_scale(mm_to_px, inner)[:, 0].min()),
        residual_mm=fit.residual_mm,
        fiducials=fit.fiducials,
        edge_marks_seen=float(np.mean(~np.isnan(offsets[:, 0]))) if len(offsets) else 0.0,
        clarity=_clarity(gray, fit),
    )
    return located, offsets


def _best_bend(points_mm: Floats, moved_mm: Floats, corners_mm: Floats) -> Bend:
    """Return the cubic where the marks hold it all over the page, else the lower degree that is the most certain.

    Never a quartic: x(1−x)y(1−y) vanishes along all four edges, where the marks are (MEASURED, "Paper is not flat").
    """
    across = np.array([(u, v) for u in (0.0, 0.5, 1.0) for v in (0.0, 0.5, 1.0)])
    page = corners_mm[0] + across * (corners_mm[2] - corners_mm[0])
    bends: list[Bend] = []
    for degree in (3, 2, 1):
        if len(points_mm) < (degree + 1) * (degree + 2):
            continue
        bends.append(fit_bend(points_mm, moved_mm, degree))
        if bends[-1].uncertainty_mm(page).max() < SURE_MM:
            return bends[-1]
    return min(bends, key=lambda bend: float(bend.uncertainty_mm(page).max()), default=no_bend())


def _rim(points_mm: Floats, left_mm: Floats) -> Rim:
    """Return the rim of what a bend leaves over at the edge marks and fiducials; none where an edge is not seen."""
    low, high = points_mm.min(axis=0), points_mm.max(axis=0)
    sides = []
    for axis, edge in ((1, low), (0, high), (1, high), (0, low)):
        near = np.abs(points_mm[:, axis] - edge[axis]) < RIM_MM
        order = np.argsort(points_mm[near, 1 - axis])
        places, values = points_mm[near, 1 - axis][order], left_mm[near][order]
        if len(places) < 6:
            return no_rim()
        kept = np.linalg.norm(values - _running_median(values), axis=1) < STRAY_MM
        sides.append((places[kept], values[kept]))
    return Rim(low, high, tuple(sides))


def _running_median(values: Floats) -> Floats:
    padded = np.pad(values, ((2, 2), (0, 0)), mode="reflect")
    return np.asarray(np.median([padded[shift : shift + len(values)] for shift in range(5)], axis=0), np.float64)


def _grown(gray: Gray, fit: _Fit, marks_mm: Floats) -> Floats:
    """Return the homography of two or three fiducials, carried on from edge mark to edge mark over the whole page."""
    mm_to_px = fit.mm_to_px
    known = fit.points_mm
    step_mm = 45.0
    for _ in range(12):
        near = np.min(np.linalg.norm(marks_mm[:, None] - known[None], axis=2), axis=1) < step_mm
        tried = marks_mm[near]
        offsets = _edge_mark_offsets(gray, mm_to_px, tried, fit.frame.edge_mark_mm)
        seen = ~np.isnan(offsets[:, 0])
        found_px = apply_homography(mm_to_px, tried[seen] + offsets[seen])
        if seen.sum() > ENOUGH_MARKS:
            fit = fit.without_codes()
        points_mm = np.concatenate([fit.points_mm, tried[seen]])
        mm_to_px = fit_homography(points_mm, np.concatenate([fit.points_px, found_px]))
        if len(points_mm) <= len(known):
            break
        known = points_mm
    return mm_to_px


def _edge_mark_offsets(gray: Gray, mm_to_px: Floats, marks_mm: Floats, side_mm: float) -> Floats:
    """Look for edge marks near by first, because that is cheap, then farther off."""
    offsets = find_edge_marks(gray, lambda points: apply_homography(mm_to_px, points), marks_mm, side_mm, NEAR_MM)
    lost = np.isnan(offsets[:, 0])
    if lost.any():
        offsets[lost] = find_edge_marks(
            gray, lambda points: apply_homography(mm_to_px, points), marks_mm[lost], side_mm, REACH_MM
        )
    return offsets


def _along_edges(located: Located, fit: _Fit, offsets_mm: Floats) -> tuple[Floats, Floats]:
    """Return the fiducials' middles and the edge marks found, and how far each is from where the homography has it."""
    px_to_mm = np.asarray(np.linalg.inv(located.mm_to_px), np.float64)
    moved_mm = apply_homography(px_to_mm, fit.points_px) - fit.points_mm
    marks_mm = np.array(fit.frame.edge_marks, np.float64).reshape(-1, 2)
    seen = ~np.isnan(offsets_mm[:, 0])
    return (
        np.concatenate([fit.points_mm.reshape(-1, 4, 2).mean(axis=1), marks_mm[seen]]),
        np.concatenate([moved_mm.reshape(-1, 4, 2).mean(axis=1), offsets_mm[seen]]),
    )


def _clarity(gray: Gray, fit: _Fit) -> Clarity:
    middles = fit.points_mm.reshape(-1, 4, 2).mean(axis=1)[: fit.fiducials]
    side_mm = fit.frame.fiducials[0].side_mm
    return clarity_of(gray, lambda points: apply_homography(fit.mm_to_px, points), middles, side_mm)


def _too_small(gray: Gray, located: Located) -> str:
    corners = _page_corners(located.frame)
    least, most = local_scale(located.mm_to_px, corners).T
    found = f"{located.px_per_mm:.1f} pixels a millimetre, at least {MIN_PX_PER_MM} are needed"
    if most.max() > STEEP * least.min():
        return (
            f"it was photographed at a flat angle, so that its far side is too small ({found}); hold the camera "
            "straight above the sheet"
        )
    if np.ptp(apply_homography(located.mm_to_px, corners), axis=0).max() > FILLS * max(gray.shape):
        return (
            f"the picture has too few pixels ({found}); send the original file instead of a reduced copy, or come "
            "closer if the sheet does not fill it"
        )
    return f"the sheet is too small in the picture ({found}); come closer, until it fills the picture"


def _corners_mm(x_mm: float, y_mm: float, side_mm: float) -> Floats:
    return np.array([(x_mm, y_mm), (x_mm + side_mm, y_mm), (x_mm + side_mm, y_mm + side_mm), (x_mm, y_mm + side_mm)])


def _page_corners(frame: SheetLayout) -> Floats:
    width, height = frame.width_mm, frame.height_mm
    return np.array([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)])
