"""Finding the four corner fiducials of a sheet in an image: AprilTag family 36h11, tags 0 to 3 (DESIGN, Paper).

Points are (x, y) in px, y down, a pixel's centre at whole numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

Gray = NDArray[np.uint8]
Corners = NDArray[np.float64]

NUMBERS = (0, 1, 2, 3)
GHOST, GHOST_BESIDE = 0.3, 0.45
"""Contrast below which a fiducial may be a ghost; times that of the other with its number. Print in shade keeps 0.5."""


@dataclass(frozen=True, slots=True)
class Glance:
    """One way of looking: image reduced to about `long_px`, and the least fiducial to bother with.

    `least_perimeter` is a fraction of the longer image side. It is what makes a look cheap: a page has hundreds of
    mark boxes, and each square as large as this is examined as if it were a fiducial.
    """

    long_px: int
    window_px: int
    least_perimeter: float


GLANCES = (
    Glance(1000, 23, 0.085),  # a page that fills the image: 1 ms
    Glance(2000, 23, 0.045),
    Glance(2000, 61, 0.035),
    Glance(4000, 35, 0.025),
)


@dataclass(frozen=True, slots=True)
class Fiducial:
    """A fiducial as found: its tag and its (4, 2) corners, px, clockwise from its own top left as printed."""

    number: int
    corners_px: Corners

    @property
    def side_px(self) -> float:
        """The mean length of its four sides."""
        return float(np.mean(np.linalg.norm(self.corners_px - np.roll(self.corners_px, 1, axis=0), axis=1)))


def find_fiducials(
    gray: Gray, glances: Sequence[Glance] = GLANCES, *, known: Sequence[Fiducial] = ()
) -> tuple[Fiducial, ...]:
    """Return every fiducial in the image, a tag twice where two are printed; looks closer until four tags are seen.

    With those that are `known` from a first look, it looks on for the others even where they are far smaller, as on the
    far side of a sheet seen from low down.
    """
    found = list(known)
    for turn, glance in enumerate(glances):
        found = _together(found, _look(gray, glance if known else _narrowed(glance, found, max(gray.shape))))
        seen = len({fiducial.number for fiducial in found})
        if seen == 4 or (not known and ((seen == 3 and turn >= 1) or (seen == 2 and turn >= 2))):
            break
    return tuple(sorted(found, key=lambda fiducial: fiducial.number))


def without_ghosts(gray: Gray, fiducials: Sequence[Fiducial]) -> tuple[Fiducial, ...]:
    """Leave out the pale repeats of fiducials, as a copier's drum leaves them farther down the page."""
    contrasts = [_contrast(gray, fiducial.corners_px) for fiducial in fiducials]
    best = {one.number: 0.0 for one in fiducials}
    for one, contrast in zip(fiducials, contrasts, strict=True):
        best[one.number] = max(best[one.number], contrast)
    return tuple(
        one
        for one, contrast in zip(fiducials, contrasts, strict=True)
        if contrast > min(GHOST, GHOST_BESIDE * best[one.number])
    )


def _contrast(gray: Gray, corners: Corners) -> float:
    """Return how much darker than its white a fiducial's black is, in shares of its white."""
    (left, top), (right, bottom) = corners.min(axis=0).astype(int), corners.max(axis=0).astype(int)
    dark, light = np.quantile(gray[max(top, 0) : bottom + 1, max(left, 0) : right + 1], (0.1, 0.9))
    return float((light - dark) / max(light, 1.0))


def _narrowed(glance: Glance, found: list[Fiducial], long_px: int) -> Glance:
    """Return the glance without squares that are far smaller than the fiducials seen already."""
    if not found:
        return glance
    smallest = 4 * 0.6 * min(fiducial.side_px for fiducial in found) / long_px
    return replace(glance, least_perimeter=max(glance.least_perimeter, round(smallest, 2)))


def _look(gray: Gray, glance: Glance) -> list[Fiducial]:
    # Whole factors: averaging blocks of pixels is ten times as fast as any other reduction.
    factor = max(1, round(max(gray.shape) / glance.long_px))
    height, width = gray.shape[0] // factor, gray.shape[1] // factor
    whole = gray[: height * factor, : width * factor]
    small = gray if factor == 1 else cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA)
    corners, numbers, _ = _detector(glance).detectMarkers(small)
    if numbers is None:
        return []
    return [
        Fiducial(int(number), _refined(gray, (quad[0] + 0.5) * factor - 0.5, float(factor)))
        for quad, number in zip(corners, numbers.ravel(), strict=True)
        if int(number) in NUMBERS
    ]


def _refined(gray: Gray, corners: Corners, coarse_px: float) -> Corners:
    """Return the corners to a fraction of a pixel; where refinement runs away, as they were."""
    side = float(np.linalg.norm(corners[0] - corners[2])) / 2**0.5
    half = int(np.clip(round(side * 0.06), 2, 12))
    start = np.ascontiguousarray(corners, np.float32).reshape(-1, 1, 2)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 30, 0.01)
    fine = cv2.cornerSubPix(gray, start.copy(), (half, half), (-1, -1), stop).reshape(-1, 2).astype(np.float64)
    runaway = np.linalg.norm(fine - corners, axis=1) > max(2.0 * coarse_px, 0.06 * side)
    return np.where(runaway[:, None], corners, fine)


def _together(known: list[Fiducial], more: Iterable[Fiducial]) -> list[Fiducial]:
    """Add those of `more` that are not the same print seen again."""
    fiducials = list(known)
    for new in more:
        centre = new.corners_px.mean(axis=0)
        seen = any(
            old.number == new.number
            and np.linalg.norm(old.corners_px.mean(axis=0) - centre) < 0.5 * max(old.side_px, new.side_px)
            for old in fiducials
        )
        if not seen:
            fiducials.append(new)
    return fiducials


@cache
def _detector(glance: Glance) -> cv2.aruco.ArucoDetector:
    parameters = cv2.aruco.DetectorParameters()
    parameters.adaptiveThreshWinSizeMin = glance.window_px
    parameters.adaptiveThreshWinSizeMax = glance.window_px
    parameters.adaptiveThreshWinSizeStep = 4
    parameters.minMarkerPerimeterRate = glance.least_perimeter
    # Sub-pixel refinement happens once, at full scale, in _refined.
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    return cv2.aruco.ArucoDetector(family, parameters)
