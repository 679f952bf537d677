"""Whether the marks along a sheet's edges all belong to one sheet, or break off and go on beside, as those of two do.

Paper that is bent, folded or crumpled moves its marks, but each one by about what its neighbours move. Where a second
sheet, a torn-off part or a turned-down flap begins, all marks beyond it are moved by the same step at once: on two
sides of the page at the same time, and as a stiff sheet moves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

SIDE_MM = 6.0
"""How near to the outermost marks a mark or a fiducial's middle belongs to that side."""
STEP_MM, LAST_STEP_MM = 0.35, 2.0
"""The least step taken for another sheet's; at a side's last two points, where bent paper shows up to 1.3 mm."""
STANDS_OUT = 14.0
"""Times the other changes along both sides: up to 10 on 160 crumpled, folded and bent pages of the rehearsal, 28 and
more where a flat sheet lies half a millimetre aside on another."""
NOISE_MM = 0.02
CARRIAGE_MM, ACROSS_MM = 0.6, 0.08
"""A scanner's carriage that waits for the computer loses or repeats so much of the page, and moves nothing across."""
DISTURBED_MM = 42.0
"""Twice the marks' pitch and a little more."""
STIFF = 0.3
"""Share of a step by which the distance of two points may change."""


def are_two_sheets(points_mm: Floats, moved_mm: Floats) -> bool:
    """Tell whether points along the edges of a page are those of two sheets.

    Parameters
    ----------
    points_mm : (N, 2) array of float
        Edge marks and the middles of fiducials, as printed.
    moved_mm : (N, 2) array of float
        How far from there each was found, under one homography for all.
    """
    low, high = points_mm.min(axis=0), points_mm.max(axis=0)
    sides = [
        side
        for axis, edge in ((0, low[0]), (0, high[0]), (1, low[1]), (1, high[1]))
        if (side := _steps(points_mm, moved_mm, axis, edge)) is not None
    ]
    return any(
        _one_step(one, other)
        for place, one in enumerate(sides)
        for other in sides[place + 1 :]
        if one.is_large.any() and other.is_large.any()
    )


@dataclass(frozen=True, slots=True)
class _Steps:
    """Along one side, between neighbouring points and between each one's two neighbours: the change there beyond what
    lies between the changes before and after it, and where. A point right on a step shows only half of it."""

    middles_mm: Floats
    steps_mm: Floats
    lengths_mm: Floats
    is_large: Bools


def _steps(points_mm: Floats, moved_mm: Floats, axis: int, edge: float) -> _Steps | None:
    on = np.abs(points_mm[:, axis] - edge) < SIDE_MM
    order = np.argsort(points_mm[on, 1 - axis])
    points, moved = points_mm[on][order], moved_mm[on][order]
    if len(points) < 6:
        return None
    # One mark alone that is off is something else than a mark; a median of three leaves steps as they are.
    moved[1:-1] = np.median([moved[:-2], moved[1:-1], moved[2:]], axis=0)
    places = points[:, 1 - axis]
    slopes = np.diff(moved, axis=0) / np.maximum(np.diff(places), 1.0)[:, None]
    middles, steps, least = [], [], []
    for span in (1, 2):
        count = len(points) - span
        gaps = (places[span:] - places[:-span])[:, None]
        changes = moved[span:] - moved[:-span]
        before = gaps * np.vstack([np.zeros(2), slopes[: count - 1]])
        after = gaps * np.vstack([slopes[span:], np.zeros(2)])
        along = after - before
        share = ((changes - before) * along).sum(axis=1) / np.maximum((along**2).sum(axis=1), 1e-12)
        steps.append(changes - before - np.clip(share, 0.0, 1.0)[:, None] * along)
        middles.append((points[span:] + points[:-span]) / 2)
        least.append(np.where(np.isin(np.arange(count), (0, count - 1)), LAST_STEP_MM, STEP_MM))
    lengths = np.linalg.norm(np.concatenate(steps), axis=1)
    return _Steps(np.concatenate(middles), np.concatenate(steps), lengths, lengths > np.concatenate(least))


def _one_step(one: _Steps, other: _Steps) -> bool:
    """Tell whether two sides show the two ends of one step."""
    for here in np.flatnonzero(one.is_large):
        for there in np.flatnonzero(other.is_large):
            least = min(one.lengths_mm[here], other.lengths_mm[there])
            rest = np.concatenate([_away_from(one, here), _away_from(other, there)])
            if least < STANDS_OUT * max(NOISE_MM, float(np.percentile(rest, 80)) if len(rest) else least):
                continue
            apart = one.middles_mm[here] - other.middles_mm[there]
            stretch = (one.steps_mm[here] - other.steps_mm[there]) @ apart / np.linalg.norm(apart)
            if abs(stretch) < STIFF * least and not _by_the_carriage(apart, one.steps_mm[here], other.steps_mm[there]):
                return True
    return False


def _by_the_carriage(apart_mm: Floats, *steps_mm: Floats) -> bool:
    """Tell whether a step straight across the page, and along one of its sides only, may be the scanner's."""
    across = int(np.argmax(np.abs(apart_mm)))
    straight = abs(apart_mm[1 - across]) < DISTURBED_MM
    along = all(abs(step[across]) < ACROSS_MM and abs(step[1 - across]) < CARRIAGE_MM for step in steps_mm)
    return straight and along


def _away_from(side: _Steps, place: np.intp) -> Floats:
    """Return the lengths of all steps but one and those that it disturbs."""
    far = np.abs(side.middles_mm - side.middles_mm[place]).max(axis=1) > DISTURBED_MM
    return np.asarray(side.lengths_mm[far], np.float64)
