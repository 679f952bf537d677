"""What happens to a printed code at the table: stains, scribbles, folds, tears, another's sheet lying over it.

Each injury takes a page, its scale and one code's square and returns the page; where `rng` puts it, more or less of the
code is lost, from next to nothing to all.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from kit.sheet_layout import Square
from scanner.rehearsal.arrays import Gray, Points, xy
from scanner.rehearsal.optics import dimmed

Random = np.random.Generator

TOLD_MM = 2.5
"""A slip of another's sheet lies at least this far, at a corner of its code, from where this sheet's is. One that lies
better, edges and all, is a code exchanged on purpose."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a code lies on a page, px."""

    centre: Points
    side: float
    px_per_mm: float

    def somewhere(self, rng: Random, share: float = 1.0) -> Points:
        """Return a place on the code, or within that share of it."""
        return np.asarray(self.centre + rng.uniform(-0.5, 0.5, 2) * self.side * share, np.float64)


Injury = Callable[[Gray, Spot, Random], Gray]


def injured(page: Gray, px_per_mm: float, square: Square, name: str, rng: Random) -> Gray:
    """Return the page with the injury of that name to one code."""
    return INJURIES[name](page, spot(square, px_per_mm), rng)


def spot(square: Square, px_per_mm: float) -> Spot:
    """Return where a code lies on a page of that scale."""
    centre = xy(square.x_mm + square.side_mm / 2, square.y_mm + square.side_mm / 2)
    return Spot(centre * px_per_mm - 0.5, square.side_mm * px_per_mm, px_per_mm)


def slip(page: Gray, other: Gray, px_per_mm: float, square: Square, theirs: Square, rng: Random) -> Gray:
    """Return the page with a piece of another page over one of its codes, at least TOLD_MM beside it.

    As pieces fall: often nearly straight and near, at times upside down or far off.
    """
    corners_mm = theirs.side_mm / 2 * np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)])
    turn_deg, shift_mm, astray_mm = 0.0, xy(0.0, 0.0), 0.0
    while astray_mm < TOLD_MM:
        quarters = int(rng.integers(4)) if rng.random() < 0.4 else 0
        turn_deg = 90.0 * quarters + rng.normal(0.0, float(rng.choice([0.5, 4.0])))
        shift_mm = np.asarray(rng.normal(0.0, float(rng.choice([2.0, 5.0, 15.0])), 2), np.float64)
        lie_mm = corners_mm @ _turned(turn_deg).T + shift_mm
        astray_mm = float(np.linalg.norm(lie_mm - corners_mm, axis=1).max())
    reach_mm = np.asarray(rng.uniform(2.0, 40.0, 4), np.float64)
    return laid_over(page, other, px_per_mm, square, theirs, turn_deg, shift_mm, reach_mm)


def laid_over(
    page: Gray,
    other: Gray,
    px_per_mm: float,
    square: Square,
    theirs: Square,
    turn_deg: float,
    shift_mm: Points,
    reach_mm: Points,
) -> Gray:
    """Return the page with a piece of another page over one of its codes, the other's code on the piece.

    The piece reaches `reach_mm` around that code to the left, upwards, to the right and down, as far as its page goes,
    so that its fiducial and edge marks may be on it. It is turned clockwise about the code's middle, which lies by
    `shift_mm` beside where this page's own is.
    """
    own_at, at = spot(square, px_per_mm), spot(theirs, px_per_mm)
    reach = at.side / 2 + reach_mm * px_per_mm
    left, top = np.maximum(at.centre - reach[:2], 0)
    right, bottom = np.minimum(at.centre + reach[2:], (other.shape[1], other.shape[0]))
    outline = np.array([(left, top), (right, top), (right, bottom), (left, bottom)])
    turn = _turned(turn_deg)
    moved = np.hstack([turn, (own_at.centre + shift_mm * px_per_mm - turn @ at.centre)[:, None]])
    size = (page.shape[1], page.shape[0])
    mask = np.zeros(other.shape, np.uint8)
    cv2.fillPoly(mask, [np.rint(outline).astype(np.int32)], 255)
    where = cv2.warpAffine(mask, moved, size, flags=cv2.INTER_NEAREST) > 0
    laid = cv2.warpAffine(other, moved, size, flags=cv2.INTER_AREA, borderValue=255)
    shadow = outline @ turn.T + moved[:, 2] + 0.3 * px_per_mm
    page = dimmed(page, shadow, 90.0, 0.4 * px_per_mm, through=0.5)
    return np.where(where, laid, page).astype(np.uint8)


def _turned(angle_deg: float) -> Points:
    angle = np.deg2rad(angle_deg)
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


def _stain(page: Gray, at: Spot, rng: Random) -> Gray:
    outline = _blob(at.somewhere(rng), at.side * rng.uniform(0.15, 0.8), rng)
    level, through = rng.uniform(10.0, 200.0), rng.uniform(0.0, 0.85)
    return dimmed(page, outline, level, at.px_per_mm * rng.uniform(0.05, 0.8), through)


def _wet_ring(page: Gray, at: Spot, rng: Random) -> Gray:
    radius, width = rng.uniform(25.0, 35.0) * at.px_per_mm, rng.uniform(1.0, 5.0) * at.px_per_mm
    angles = np.linspace(0.0, 2 * np.pi, 120)
    circle = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    centre = at.somewhere(rng, 0.7) + radius * circle[int(rng.integers(120))]
    # Outwards and back inside: the two arcs meet in a seam of no width.
    band = np.vstack([centre + radius * circle, centre + (radius - width) * circle[::-1]])
    return dimmed(page, band, rng.uniform(10.0, 160.0), 0.2 * at.px_per_mm, through=rng.uniform(0.0, 0.7))


def _scribble(page: Gray, at: Spot, rng: Random) -> Gray:
    turns = int(rng.integers(4, 40))
    across = np.stack([np.linspace(-0.6, 0.6, turns), 0.6 * (-1.0) ** np.arange(turns)], axis=1)
    across = across * rng.uniform(0.3, 1.0) + rng.normal(0.0, 0.06, (turns, 2))
    path = at.somewhere(rng, 0.6) + at.side * across @ _turned(rng.uniform(0.0, 180.0)).T
    fluid = rng.random() < 0.25  # correction fluid instead of ink
    level, width_mm = (248.0, rng.uniform(1.0, 3.0)) if fluid else (rng.uniform(10, 130), rng.uniform(0.3, 1.2))
    page = page.copy()
    width_px = max(1, round(width_mm * at.px_per_mm))
    cv2.polylines(page, [np.rint(path * 16).astype(np.int32)], False, level, width_px, cv2.LINE_AA, 4)
    return page


def _thumb(page: Gray, at: Spot, rng: Random) -> Gray:
    angle = rng.uniform(0.0, 2 * np.pi)
    towards = xy(np.cos(angle), np.sin(angle))
    centre = at.centre + towards * (at.side * rng.uniform(0.2, 1.1))
    outline = _blob(centre, 9.5 * at.px_per_mm, rng)
    return dimmed(page, outline, rng.uniform(70.0, 200.0), 0.5 * at.px_per_mm)


def _fold(page: Gray, at: Spot, rng: Random) -> Gray:
    """A pleat: a strip of the code is gone, what lies beyond has moved up to it, and the edge is dark."""
    half = round(at.side / 2 + 3.0 * at.px_per_mm)
    x, y = (round(place) for place in at.centre.tolist())
    left, top = max(x - half, 0), max(y - half, 0)
    patch = page[top : y + half, left : x + half]
    across, down = np.meshgrid(np.arange(patch.shape[1]) + left, np.arange(patch.shape[0]) + top)
    angle, through = rng.uniform(0.0, 2 * np.pi), at.somewhere(rng, 0.8)
    beyond = (across - through[0]) * np.cos(angle) + (down - through[1]) * np.sin(angle)
    lost = rng.uniform(0.2, 2.0) * at.px_per_mm * (beyond > 0)
    from_x, from_y = across - left + lost * np.cos(angle), down - top + lost * np.sin(angle)
    pleated = cv2.remap(
        patch, from_x.astype(np.float32), from_y.astype(np.float32), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    shade = 1.0 - rng.uniform(0.2, 0.9) * np.exp(-((beyond / (0.4 * at.px_per_mm)) ** 2))
    page = page.copy()
    page[top : y + half, left : x + half] = np.rint(pleated * shade).astype(np.uint8)
    return page


def _glare(page: Gray, at: Spot, rng: Random) -> Gray:
    """A reflection that bleaches what lies under it."""
    outline = _blob(at.somewhere(rng), at.side * rng.uniform(0.2, 0.7), rng)
    return dimmed(page, outline, 255.0, at.px_per_mm * rng.uniform(0.5, 4.0), through=rng.uniform(0.0, 0.4))


def _tear(page: Gray, at: Spot, rng: Random) -> Gray:
    """The page's corner torn off, through the code or past it."""
    corner = np.where(at.centre > np.array(page.shape[::-1]) / 2, np.array(page.shape[::-1]), 0.0)
    return _covered_from(page, at, corner - at.centre, rng.uniform(30.0, 245.0), rng)


def _cover(page: Gray, at: Spot, rng: Random) -> Gray:
    """A blank paper's edge lying over the code."""
    angle = rng.uniform(0.0, 2 * np.pi)
    return _covered_from(page, at, xy(np.cos(angle), np.sin(angle)), rng.uniform(215.0, 252.0), rng)


def _hide(page: Gray, at: Spot, rng: Random) -> Gray:
    """Something that lies over the whole code and its quiet zone."""
    reach = at.side / 2 + 1.5 * at.px_per_mm
    square = reach * rng.uniform(1.0, 1.25) * np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)])
    return dimmed(page, at.centre + square, rng.uniform(15.0, 250.0), 0.3 * at.px_per_mm)


def _whole(page: Gray, at: Spot, rng: Random) -> Gray:
    return page


def _covered_from(page: Gray, at: Spot, towards: Points, level: float, rng: Random) -> Gray:
    """Cover all that lies on one side of a ragged line near the code's middle."""
    towards = towards / np.linalg.norm(towards)
    along = xy(-towards[1], towards[0])
    steps = np.linspace(-1.0, 1.0, 25)[:, None] * 30.0 * at.px_per_mm
    ragged = rng.normal(0.0, 0.25, (25, 1)) * at.px_per_mm
    edge = at.centre + towards * (at.side * rng.uniform(-0.45, 0.6)) + along * steps + towards * ragged
    outline = np.vstack([edge, edge[-1] + towards * 60.0 * at.px_per_mm, edge[0] + towards * 60.0 * at.px_per_mm])
    page = dimmed(page, outline - towards * 0.6 * at.px_per_mm, 100.0, 0.5 * at.px_per_mm, through=0.6)
    return dimmed(page, outline, level, 0.5)


def _blob(centre: Points, radius: float, rng: Random) -> Points:
    angles = np.linspace(0.0, 2 * np.pi, 40, endpoint=False)
    wobble = 1.0 + 0.15 * np.sin(2 * angles + rng.uniform(0, 6)) + 0.08 * np.sin(5 * angles + rng.uniform(0, 6))
    outline = centre + radius * wobble[:, None] * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    return np.asarray(outline, np.float64)


def _several(page: Gray, at: Spot, rng: Random) -> Gray:
    for name in rng.choice(["stain", "wet ring", "scribble", "glare", "fold"], 2, replace=False):
        page = INJURIES[str(name)](page, at, rng)
    return page


INJURIES: dict[str, Injury] = {
    "none": _whole,
    "stain": _stain,
    "wet ring": _wet_ring,
    "scribble": _scribble,
    "thumb": _thumb,
    "fold": _fold,
    "glare": _glare,
    "tear": _tear,
    "paper over it": _cover,
    "hidden": _hide,
    "two of these": _several,
}
