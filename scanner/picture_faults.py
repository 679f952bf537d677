"""A picture's own faults, measured in plain numbers: its light, its sharpness, how much of it is paper, and printed.

All of it is slow beside reading a sheet (5–100 ms), and asked for only where a picture could not be read.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Gray = NDArray[np.uint8]
Floats = NDArray[np.float64]

LONG_PX = 2000
WHITE = 250
"""Gray level from which a camera or scanner shows nothing any more."""
WINDOW_PX = 49
EDGE_SHARE = 0.4
"""Share of the picture's whole contrast that an edge must have to be measured."""
ENOUGH_EDGES = 150
LEAST_SQUARE_PX, MOST_SQUARE_PX = 12, 80
ALIKE = 0.12


@dataclass(frozen=True, slots=True)
class Light:
    """Gray levels that all but one in 200 pixels are above and below, and the share of pixels that are white."""

    darkest: int
    lightest: int
    white: float

    @property
    def contrast(self) -> int:
        """The gray levels between."""
        return self.lightest - self.darkest


@dataclass(frozen=True, slots=True)
class Blur:
    """Standard deviation of the blur, px of the picture: where edges are sharpest, over all directions together, and
    in the direction in which it is least and most."""

    overall_px: float
    least_px: float
    most_px: float


def light_of(gray: Gray) -> Light:
    """Measure the light of an (H, W) picture, one-pixel noise averaged out."""
    soft = cv2.blur(_reduced(gray)[0], (3, 3))
    darkest, lightest = np.percentile(soft, (0.5, 99.5))
    return Light(int(darkest), int(lightest), float(np.mean(soft >= WHITE)))


def blur_of(gray: Gray) -> Blur | None:
    """Measure how blurred a picture's sharpest strong edges are; None where it has next to no edges.

    Notes
    -----
    A step of contrast C, blurred by a Gaussian of standard deviation σ, is C / (σ√(2π)) steep at its middle.
    """
    small, factor = _reduced(gray)
    soft = cv2.GaussianBlur(small, (0, 0), 1.0).astype(np.float32)
    window = np.ones((WINDOW_PX, WINDOW_PX), np.uint8)
    step = cv2.dilate(soft, window) - cv2.erode(soft, window)
    across, down = cv2.Scharr(soft, cv2.CV_32F, 1, 0) / 32, cv2.Scharr(soft, cv2.CV_32F, 0, 1) / 32
    steep = np.hypot(across, down)
    whole = float(np.ptp(np.percentile(soft, (0.5, 99.5))))
    # The steepest of a window is the edge that makes its step; beside it noise alone would be steep.
    edge = (step > max(EDGE_SHARE * whole, 6.0)) & (steep > 0.6 * cv2.dilate(steep, window))
    edge &= steep >= cv2.dilate(steep, np.ones((5, 5), np.uint8))
    if edge.sum() < ENOUGH_EDGES:
        return None
    widths = step[edge] / steep[edge] / np.sqrt(2 * np.pi)
    # Eight directions modulo half a turn: smeared in one, a picture may be sharp in another.
    direction = np.round(np.arctan2(down[edge], across[edge]) / (np.pi / 8)).astype(int) % 8
    by_direction = [
        float(np.percentile(widths[direction == each], 15))
        for each in range(8)
        if (direction == each).sum() > max(40, 0.02 * len(widths))
    ]
    overall = float(np.percentile(widths, 15))
    least, most = (min(by_direction), max(by_direction)) if by_direction else (overall, overall)
    return Blur(*(_unsoftened(width) * factor for width in (overall, least, most)))


def paper_share(gray: Gray) -> float:
    """Return the share of the picture that the largest light thing in it takes up: the page, as a rule."""
    small = _reduced(gray, 500)[0]
    # Closed, so that print does not break the paper up.
    soft = cv2.morphologyEx(cv2.medianBlur(small, 5), cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8))
    _, light = cv2.threshold(soft, 0, 1, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    count, _, stats, _ = cv2.connectedComponentsWithStats(np.asarray(light, np.uint8), connectivity=4)
    return float(stats[1:count, cv2.CC_STAT_AREA].max()) / small.size if count > 1 else 0.0


def print_share(gray: Gray) -> float:
    """Return the share of the picture's lightest half that is print: dark, and no wider than a few letters."""
    small = _reduced(gray, 1000)[0]
    soft = cv2.GaussianBlur(small, (0, 0), 0.8)
    paper = cv2.morphologyEx(soft, cv2.MORPH_CLOSE, np.ones((25, 25), np.uint8))
    half = paper >= np.median(paper)
    dark = soft < 0.75 * paper
    return float(np.mean(dark[half]))


def equal_squares(gray: Gray) -> Floats:
    """Return the middles, px, of the squares of the one size that the picture has most of: a form's boxes."""
    small, factor = _reduced(gray)
    block = 31
    ink = cv2.adaptiveThreshold(small, 1, cv2.ADAPTIVE_THRESH_MEAN_C, cv2.THRESH_BINARY_INV, block, 8)
    contours, _ = cv2.findContours(ink, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
    found = [_square(np.asarray(contour, np.int32)) for contour in contours if len(contour) >= 4]
    squares = np.array([square for square in found if square is not None]).reshape(-1, 3)
    if not len(squares):
        return np.zeros((0, 2))
    sides = squares[:, 2]
    alike = np.abs(np.log(sides[:, None] / sides[None])) < ALIKE
    usual = alike[alike.sum(axis=1).argmax()]
    middles = squares[usual, :2]
    # Each printed outline has an inner and an outer edge.
    cells = np.unique(np.round(middles / (0.6 * sides[usual].mean())).astype(int), axis=0, return_index=True)[1]
    return np.asarray((middles[cells] + 0.5) * factor - 0.5, np.float64)


def _square(contour: NDArray[np.int32]) -> tuple[float, float, float] | None:
    """Return the middle and side of a contour that is nearly a square, seen from not too far aslant."""
    area = cv2.contourArea(contour)
    if not LEAST_SQUARE_PX**2 < area < MOST_SQUARE_PX**2:
        return None
    (x, y), (width, height), _ = cv2.minAreaRect(contour)
    if min(width, height) < 0.7 * max(width, height) or area < 0.85 * width * height:
        return None
    if len(cv2.approxPolyDP(contour, 0.05 * cv2.arcLength(contour, True), True)) != 4:
        return None
    return float(x), float(y), float(np.sqrt(area))


def _reduced(gray: Gray, long_px: int = LONG_PX) -> tuple[Gray, int]:
    """Return the picture reduced by a whole factor to about that long side, and the factor."""
    factor = max(1, round(max(gray.shape) / long_px))
    if factor == 1:
        return gray, 1
    height, width = max(1, gray.shape[0] // factor), max(1, gray.shape[1] // factor)
    whole = gray[: height * factor, : width * factor]
    return np.asarray(cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA), np.uint8), factor


def _unsoftened(width_px: float) -> float:
    """Take the softening by one pixel, which keeps noise out, from a measured blur again."""
    return float(np.sqrt(max(0.0, width_px**2 - 1.0)))
