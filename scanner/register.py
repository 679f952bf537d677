"""Putting every mark box in its place to a fraction of a millimetre, by the outlines that are printed around the boxes.

The fiducials and edge marks say where a box should be; its own outline says where it is. Because one outline can be
hidden by a mark, or taken for a neighbour's, a box is moved together with the boxes around it, and by itself no more
than `OWN_MM`, unless others near by are moved likewise, as along a fold.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.sheet_layout import MarkBox
from scanner.geometry import fit_bend
from scanner.locate import Located
from scanner.sampling import along_mm, sample_patches

Gray = NDArray[np.uint8]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

PX_PER_MM = 6.0
SEARCH_MM = 1.1
"""Less than the 1.7 mm between two boxes, so that a neighbour's outline is never in the search."""
LINE_MM = 0.25
LEAST_CONTRAST = 8.0
"""Gray levels between a printed line and the paper around it."""
STEP_MM = 0.05
OWN_MM = 0.35
"""How far a box may differ from the boxes around it."""
LIKE_MM = 0.2
SUPPORT_MM = 32.0
SUPPORT = 3
"""So many boxes within `SUPPORT_MM` that differ alike, to `LIKE_MM`, are believed to have moved."""
NEIGHBOURHOOD_MM, CLOSE_BY_MM = 14.0, 8.0
"""Standard deviation of the weight that neighbours have; where paper is so crumpled that only close ones tell."""
ROUGH_MM, MOST_TURNS = 0.15, 2
"""Boxes are sought again around the places found, where one in twenty that are seen is less certain than this."""
EVEN_MM = 0.1
"""On even paper nineteen in twenty boxes that are seen are more certain than this, and all than three times this."""
COVERED_SHARE, LEAST_COVERED = 0.5, 9
"""A box without its outline, whose neighbours have theirs in a smaller share than this, lies under something else; but
a few marks of a broad pen side by side hide as many."""
DARK, BRIGHT, PAPER_AROUND = 0.6, 0.8, 0.4
"""Of the paper's brightness; the share of a broad line around a filled box that is still paper."""
CERTAIN_MM = 0.4
"""A box whose place is less certain than this is not read: half a gap between two boxes is 0.85 mm."""


@dataclass(frozen=True, slots=True)
class Placement:
    """Where the boxes of a sheet are.

    Attributes
    ----------
    centres_mm : (N, 2) array of float
        Where the boxes' centres must be sought in the located sheet's millimetres.
    residual_mm : (N,) array of float
        The estimated error of that; infinite where next to no outline was seen on the page, or around the box.
    outline_seen : (N,) array of bool
        Whether the box's own outline was found at its place.
    """

    centres_mm: Floats
    residual_mm: Floats
    outline_seen: Bools

    @property
    def certain(self) -> Bools:
        """Tell for every box whether its place is good enough to read it."""
        return np.asarray(self.residual_mm < CERTAIN_MM, np.bool_)

    @property
    def is_even(self) -> bool:
        """Whether all outlines that are seen lie where those around them have them: the paper is not crumpled."""
        seen = self.residual_mm[self.outline_seen]
        return bool(len(seen) and np.quantile(seen, 0.95) < EVEN_MM and seen.max() < 3 * EVEN_MM)


def register(gray: Gray, located: Located, boxes: Sequence[MarkBox]) -> Placement:
    """Find the place of every box of a located sheet."""
    centres = np.array([(box.x_mm + box.w_mm / 2, box.y_mm + box.h_mm / 2) for box in boxes]).reshape(-1, 2)
    if not len(centres):
        return Placement(centres, np.zeros(0), np.zeros(0, np.bool_))
    placed = _placed(gray, located, boxes, centres, NEIGHBOURHOOD_MM)
    for _ in range(MOST_TURNS):
        seen = placed.residual_mm[placed.outline_seen]
        if len(seen) < 24 or np.quantile(seen, 0.95) < ROUGH_MM:
            break
        again = _placed(gray, located, boxes, placed.centres_mm, CLOSE_BY_MM)
        if again.certain.sum() < placed.certain.sum():
            break
        placed = again
    return placed


def _placed(
    gray: Gray, located: Located, boxes: Sequence[MarkBox], centres: Floats, neighbourhood_mm: float
) -> Placement:
    """Place the boxes by outlines sought around these centres."""
    outlines = find_outlines(gray, located, boxes, centres)
    faintest = outlines.strength.min(axis=1)
    usual = np.median(faintest[faintest > 0]) if (faintest > 0).any() else 1.0
    seen = (faintest > 0.4 * usual) & (faintest > LEAST_CONTRAST)
    if seen.sum() < 4:
        return Placement(centres, np.full(len(centres), np.inf), seen)
    common, spread = _together(centres, outlines.offsets_mm, seen, neighbourhood_mm)
    own = outlines.offsets_mm - common
    distance = np.linalg.norm(own, axis=1)
    trusted = seen & ((distance < OWN_MM) | (_supported(centres, own, seen) & (distance < SEARCH_MM)))
    moved = common + np.where(trusted[:, None], 0.8 * own, 0.0)
    # A pair of lines that nobody supports is the edge of a mark, as a rule; but an outline with bare paper on both
    # sides of it is an outline, and then the box is not where it is thought to be.
    lost = np.where(seen & outlines.is_bare, distance, 0.0)
    residual = np.where(trusted, 0.04 + 0.3 * np.minimum(distance, OWN_MM), spread + lost)
    residual[_covered(centres, seen, outlines.is_blackened)] = np.inf
    return Placement(centres + moved, residual, seen)


@dataclass(frozen=True, slots=True)
class Outlines:
    """What was found of N boxes' outlines.

    `offsets_mm` (N, 2) is how far each lies from where it was sought; `strength` (N, 2) the gray levels between the
    fainter line of a pair and the paper outside of it, for the upright and the level pair; `is_bare` (N,) tells where
    paper is as bright just inside of all four lines, `is_blackened` (N,) where ink hides the box and ends around it.
    """

    offsets_mm: Floats
    strength: Floats
    is_bare: Bools
    is_blackened: Bools


def find_outlines(gray: Gray, located: Located, boxes: Sequence[MarkBox], centres_mm: Floats) -> Outlines:
    """Look for the outline of every box around its centre."""
    widths = np.array([(box.w_mm, box.h_mm) for box in boxes])
    half_mm = float(widths.max()) / 2 + SEARCH_MM + 0.6
    patches = sample_patches(gray, located.to_px, centres_mm, half_mm, PX_PER_MM).astype(np.float32)
    along = along_mm(patches.shape[1], PX_PER_MM)
    offsets, strength = np.zeros((len(boxes), 2)), np.zeros((len(boxes), 2))
    bare = np.ones(len(boxes), np.bool_)
    for size in np.unique(widths, axis=0):
        group = np.flatnonzero((widths == size).all(axis=1))
        across_x = np.abs(along) < size[0] / 2 - 0.6
        across_y = np.abs(along) < size[1] / 2 - 0.6
        upright = patches[group][:, across_y, :].mean(axis=1)
        level = patches[group][:, :, across_x].mean(axis=2)
        for axis, profiles in enumerate((upright, level)):
            offsets[group, axis], strength[group, axis], inside = _pair_of_lines(profiles, along, float(size[axis]))
            bare[group] &= inside > 0.6 * strength[group, axis]
    return Outlines(offsets, strength, bare, _blackened(patches, along, widths))


def _blackened(patches: NDArray[np.float32], along: Floats, widths_mm: Floats) -> Bools:
    """Tell for every box whether it is dark all over, with paper around it: a box that a broad pen has filled."""
    from_middle = np.maximum(np.abs(along)[:, None], np.abs(along)[None, :])
    half = widths_mm.max() / 2
    paper = np.quantile(patches, 0.9, axis=(1, 2))
    inside = np.quantile(patches[:, from_middle < half - 0.3], 0.85, axis=1)
    around = patches[:, (from_middle > half + 1.0) & (from_middle < half + 1.7)] > BRIGHT * paper[:, None]
    return np.asarray((inside < DARK * paper) & (around.mean(axis=1) > PAPER_AROUND), np.bool_)


def _pair_of_lines(profiles: NDArray[np.float32], along: Floats, width_mm: float) -> tuple[Floats, Floats, Floats]:
    """Find two lines `width_mm` apart, outer edge to outer edge, in profiles of brightness.

    Returns (N,) offsets in mm, and the gray levels between the fainter line and the paper outside of it and inside.
    """
    tries = np.arange(-SEARCH_MM, SEARCH_MM + STEP_MM / 2, STEP_MM)
    first = profiles @ _line_kernel(along, tries - width_mm / 2, outwards=-1.0)
    second = profiles @ _line_kernel(along, tries + width_mm / 2, outwards=1.0)
    response = np.minimum(first, second) + 0.1 * (first + second)
    best = np.clip(response.argmax(axis=1), 1, len(tries) - 2)
    row = np.arange(len(profiles))
    before, peak, after = response[row, best - 1], response[row, best], response[row, best + 1]
    curvature = before - 2 * peak + after
    shift = np.where(curvature < -1e-6, 0.5 * (before - after) / np.where(curvature < -1e-6, curvature, 1.0), 0.0)
    offset = tries[best] + STEP_MM * np.clip(shift, -1.0, 1.0)
    inside = np.minimum(
        profiles @ _line_kernel(along, tries - width_mm / 2, outwards=-1.0, inside=True),
        profiles @ _line_kernel(along, tries + width_mm / 2, outwards=1.0, inside=True),
    )
    return np.asarray(offset, np.float64), np.minimum(first, second)[row, best], inside[row, best]


def _line_kernel(along: Floats, edges_mm: Floats, outwards: float, *, inside: bool = False) -> NDArray[np.float32]:
    """Return (P, D) weights: brightness just outside (or inside) each of D lines less that of the line itself."""
    line = _span(along, edges_mm, edges_mm - outwards * LINE_MM)
    beside = edges_mm - outwards * LINE_MM if inside else edges_mm
    away = -outwards if inside else outwards
    return (_span(along, beside + away * 0.15, beside + away * 0.55) - line).astype(np.float32)


def _span(along: Floats, start_mm: Floats, end_mm: Floats) -> Floats:
    """Return (P, D) weights that average a sampled profile from start to end."""
    half = (along[1] - along[0]) / 2
    low, high = np.minimum(start_mm, end_mm), np.maximum(start_mm, end_mm)
    overlap = np.minimum(along[:, None] + half, high) - np.maximum(along[:, None] - half, low)
    overlap = np.clip(overlap, 0.0, None)
    return np.asarray(overlap / np.maximum(overlap.sum(axis=0), 1e-9), np.float64)


def _together(centres: Floats, offsets: Floats, seen: Bools, neighbourhood_mm: float) -> tuple[Floats, Floats]:
    """Return for every box the offset of the boxes around it, and how much these differ, mm."""
    degree = 2 if seen.sum() >= 24 else 1 if seen.sum() >= 12 else 0
    smooth = fit_bend(centres[seen], offsets[seen], degree).at(centres)
    left = np.clip(offsets - smooth, -OWN_MM, OWN_MM)
    gap = ((centres[:, None, :] - centres[None, :, :]) ** 2).sum(axis=2)
    weight = np.exp(-gap / (2 * neighbourhood_mm**2)) * seen
    np.fill_diagonal(weight, 0.0)
    total = weight.sum(axis=1)
    near = total > 0.5
    mean = np.where(near[:, None], weight @ left / np.maximum(total, 1e-9)[:, None], 0.0)
    variance = weight @ (left**2).sum(axis=1) / np.maximum(total, 1e-9) - (mean**2).sum(axis=1)
    everywhere = np.sqrt(float((left[seen] ** 2).sum(axis=1).mean()))
    spread = 0.05 + np.where(near, np.sqrt(np.clip(variance, 0.0, None)), 2 * everywhere)
    return smooth + mean, spread


def _supported(centres: Floats, own: Floats, seen: Bools) -> Bools:
    """Tell for every box whether enough seen boxes near by differ from their surroundings as it does."""
    near = ((centres[:, None, :] - centres[None, :, :]) ** 2).sum(axis=2) < SUPPORT_MM**2
    alike = ((own[:, None, :] - own[None, :, :]) ** 2).sum(axis=2) < LIKE_MM**2
    np.fill_diagonal(alike, False)
    return np.asarray((near & alike & seen[None, :]).sum(axis=1) >= SUPPORT, np.bool_)


def _covered(centres: Floats, seen: Bools, blackened: Bools) -> Bools:
    """Tell for every box whether it lies where outlines are missing, as under another paper with print of its own.

    One mark hides one outline; where those around are missing too, there is no telling what the ink in a box is.
    """
    lost = np.flatnonzero(~seen)
    near = ((centres[lost, None, :] - centres[None, :, :]) ** 2).sum(axis=2) < NEIGHBOURHOOD_MM**2
    near[np.arange(len(lost)), lost] = False
    around = near[:, lost]
    covered = around.sum(axis=1) > (1 - COVERED_SHARE) * near.sum(axis=1)
    while (spread := ~covered & around[:, covered].any(axis=1)).any():
        # What borders on a covered place without an outline of its own belongs to it.
        covered |= spread
    result = np.zeros(len(centres), np.bool_)
    result[lost] = covered & ((covered & ~blackened[lost]).sum() >= LEAST_COVERED)
    return result
