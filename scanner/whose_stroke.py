"""Following strokes out of a box: whose they are, what runs through, and what goes around or beside it.

Ink is followed from the box outwards, over the printed outlines, as far as `AROUND_MM`. A stroke belongs to the box in
whose inner box most of it lies.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.box_ink import INSET_MM
from scanner.boxes import Paper, sample_darkness, smoothed
from scanner.line_through import LineThrough, line_through
from scanner.sampling import Floats, Gray, ToPx, along_mm

Darkness = NDArray[np.float32]
Bools = NDArray[np.bool_]
Regions = NDArray[np.int32]

AROUND_MM = 6.5
PX_PER_MM = 6.0
LINE_MM = 0.25
SLACK_MM = 0.12
"""How far from its place a printed line may be."""
BRIDGE_MM = 2.0
"""Ink on both sides of a printed line is one stroke when it is no further apart."""
MOSTLY = 0.4
"""A box with less than this share of another's ink in the same stroke is not the stroke's owner."""
ABROAD = 2.0
"""A stroke with more than this many times its ink outside of all boxes may only pass through."""
CLOSE_MM = 1.0
"""A pen skips less than this between one box and the next."""
NEAR_MM = 1.5
"""How much of a stroke around the box tells its direction."""
RIM_MM = 2.6
"""How far outside of a box a ring around it may run."""
SECTORS = 36


@dataclass(frozen=True, slots=True)
class Followed:
    """What following the strokes in and around one box showed. Areas are mm² of perfect black.

    Attributes
    ----------
    own_mm2, shared_mm2, foreign_mm2, passing_mm2
        The ink in its inner box, by strokes: its own; those that another box has a like share of; those that are mostly
        in another box; those that are mostly outside of all boxes.
    sharers
        The other boxes that have a like share of a stroke in it.
    abroad_mm2
        The ink of its strokes that lies in no box at all.
    exits
        At how many places its ink reaches the border of the inner box.
    reaches
        Whether a stroke in it comes close to a neighbouring box that is inked.
    around
        The share of directions, as seen from the box's centre, in which one single stroke lies just outside of the box.
    beside_mm2
        Ink of strokes that run close above or below the box and through no box at all.
    line
        The line on which all that is in the inner box lies, if it does.
    """

    own_mm2: float
    shared_mm2: float
    foreign_mm2: float
    passing_mm2: float
    sharers: tuple[int, ...]
    abroad_mm2: float
    exits: int
    reaches: bool
    around: float
    beside_mm2: float
    line: LineThrough | None


def follow_strokes(
    gray: Gray,
    paper: Paper,
    to_px: ToPx,
    centres_mm: Floats,
    widths_mm: Floats,
    which: Sequence[int],
    threshold: float,
    faintest: float,
    skirt_mm: float,
    full: float = 1.0,
) -> dict[int, Followed]:
    """Follow the strokes in and around some of a page's boxes.

    Parameters
    ----------
    centres_mm, widths_mm : (N, 2) array of float
        All boxes of the page, in the located sheet's millimetres.
    which : sequence of int
        The boxes in question.
    threshold : float
        The smoothed darkness from which on a place is inked.
    faintest : float
        What is lighter than this is no stroke around or beside a box.
    skirt_mm : float
        How far a printed outline darkens the paper outside of its outer edge.
    full : float
        What counts as perfect black on this page.
    """
    if not len(which):
        return {}
    chosen = np.asarray(which)
    half_mm = float(widths_mm.max()) / 2 + AROUND_MM
    darkness = sample_darkness(gray, paper, to_px, centres_mm[chosen], half_mm, PX_PER_MM) / np.float32(full)
    smooth = smoothed(darkness, PX_PER_MM)
    along = along_mm(darkness.shape[1], PX_PER_MM)
    sectors = (np.floor(np.arctan2(along[:, None], along[None, :]) / (2 * np.pi) * SECTORS) % SECTORS).astype(int)
    followed = {}
    for place, index in enumerate(chosen):
        near = np.flatnonzero((np.abs(centres_mm - centres_mm[index]) < half_mm + widths_mm / 2).all(axis=1))
        near = np.concatenate([[index], near[near != index]])
        around = _Around(
            darkness[place],
            smooth[place],
            threshold,
            faintest,
            along,
            centres_mm[near] - centres_mm[index],
            widths_mm[near],
            skirt_mm,
        )
        seen = around.followed(sectors)
        followed[int(index)] = replace(seen, sharers=tuple(int(near[number + 1]) for number in seen.sharers))
    return followed


@dataclass(frozen=True, slots=True)
class _Spread:
    """Which strokes spread around the middle of another box and not of this one; which run from edge to edge."""

    around_another: Bools
    crosses_all: Bools


class _Around:
    """One box's surroundings."""

    def __init__(
        self,
        darkness: Darkness,
        smooth: Darkness,
        threshold: float,
        faintest: float,
        along: Floats,
        places_mm: Floats,
        widths_mm: Floats,
        skirt_mm: float,
    ) -> None:
        self.darkness, self.smooth, self.threshold = darkness, smooth, threshold
        self.boxes, self.places_mm, self.widths_mm, self.along = len(places_mm), places_mm, widths_mm, along
        self.region, self.outline = _regions(along, places_mm, widths_mm, skirt_mm + SLACK_MM)
        self.away_x, self.away_y = np.abs(along) - widths_mm[0, 0] / 2, np.abs(along) - widths_mm[0, 1] / 2
        self.inked = smooth > threshold
        self.free = self.inked & ~self.outline
        self.dark = smooth > faintest

    def followed(self, sectors: NDArray[np.int_]) -> Followed:
        strokes, amounts = self._strokes()
        own, abroad = amounts[:, 1], amounts[:, 0]
        rival = amounts[:, 2:].max(axis=1, initial=0.0)
        foreign = own < MOSTLY * rival
        shared = ~foreign & (rival > MOSTLY * own)
        passing = ~foreign & ~shared & (abroad > ABROAD * own)
        mine = ~(foreign | shared | passing)
        around, spread = self._around(strokes, sectors), self._spread(strokes)
        # Marks that touch each other, and creases, go around a box as well, but not as far around.
        around -= np.where(rival > 0.5, 0.2, 0.0) + np.where(spread.crosses_all, 0.1, 0.0)
        homeless = (own < 0.05) & (rival < 0.05) & (abroad > 0.05) & ~spread.around_another & ~spread.crosses_all
        return Followed(
            own_mm2=float(own[mine].sum()),
            shared_mm2=float(own[shared].sum()),
            foreign_mm2=float(own[foreign].sum()),
            passing_mm2=float(own[passing].sum()),
            sharers=tuple(np.unique(amounts[shared, 2:].argmax(axis=1)).tolist()) if shared.any() else (),
            abroad_mm2=float(abroad[own > 0.01].sum()),
            exits=self._exits(),
            reaches=self._reaches(strokes, np.flatnonzero(own > 0.04), amounts[:, 2:].sum(axis=0) > 0.05),
            around=float(around.max(initial=0.0)),
            beside_mm2=self._beside(strokes, np.flatnonzero(homeless)),
            line=self._line(strokes, np.flatnonzero(own > 0.01)),
        )

    def _strokes(self) -> tuple[Regions, Floats]:
        """Return the strokes, numbered from 1, and (S, boxes + 1) how much of each lies in which box; 0 is in none."""
        free = self.free.astype(np.uint8)
        reach = round(BRIDGE_MM * PX_PER_MM) | 1
        round_kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
        bridge = cv2.morphologyEx(free, cv2.MORPH_CLOSE, round_kernel)
        count, strokes = cv2.connectedComponents(np.where(self.outline, bridge, free), connectivity=8)
        kinds = self.boxes + 1
        ink = np.where(self.free, self.darkness, 0.0)
        amounts = np.bincount((strokes * kinds + self.region).ravel(), ink.ravel(), count * kinds)
        return np.asarray(strokes, np.int32), amounts.reshape(count, kinds)[1:] / PX_PER_MM**2

    def _exits(self) -> int:
        rows, columns = np.flatnonzero(self.away_y < -INSET_MM), np.flatnonzero(self.away_x < -INSET_MM)
        inside = self.inked[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
        border = np.concatenate([inside[0], inside[1:, -1], inside[-1, -2::-1], inside[-2:0:-1, 0]])
        return int(np.count_nonzero(border & ~np.roll(border, 1)))

    def _reaches(self, strokes: Regions, own: NDArray[np.int_], inked: Bools) -> bool:
        if not len(own) or not inked.any():
            return False
        mine = np.isin(strokes, own + 1) & self.free
        for (x, y), (width, height) in zip(self.places_mm[1:][inked], self.widths_mm[1:][inked], strict=True):
            close = np.ix_(
                np.abs(self.along - y) < height / 2 + CLOSE_MM, np.abs(self.along - x) < width / 2 + CLOSE_MM
            )
            if mine[close].any():
                return True
        return False

    def _around(self, strokes: Regions, sectors: NDArray[np.int_]) -> Floats:
        """Return for each stroke the share of directions in which it lies just outside of the box."""
        away = np.maximum(self.away_y[:, None], self.away_x[None, :])
        rim = (away > -INSET_MM) & (away < RIM_MM) & (strokes > 0) & self.free & self.dark
        pairs = np.unique(strokes[rim].astype(np.int64) * SECTORS + sectors[rim])
        return np.bincount(pairs // SECTORS, minlength=int(strokes.max()) + 1)[1:] / SECTORS

    def _spread(self, strokes: Regions) -> _Spread:
        count = int(strokes.max())
        rows, columns = np.nonzero(strokes)
        numbers = strokes[rows, columns] - 1
        low, high = np.full((count, 2), np.inf), np.full((count, 2), -np.inf)
        for axis, places in enumerate((self.along[columns], self.along[rows])):
            np.minimum.at(low[:, axis], numbers, places)
            np.maximum.at(high[:, axis], numbers, places)
        here = ((low < 0) & (high > 0)).all(axis=1)
        another = np.zeros(count, np.bool_)
        for place in self.places_mm[1:]:
            another |= ((low < place) & (high > place)).all(axis=1)
        edge = self.along[-1] - 0.5
        return _Spread(another & ~here, ((low < -edge) & (high > edge)).any(axis=1))

    def _beside(self, strokes: Regions, homeless: NDArray[np.int_]) -> float:
        if not len(homeless):
            return 0.0
        over = (self.away_x < 0)[None, :] & (self.away_y > -INSET_MM)[:, None] & (self.away_y < 1.2)[:, None]
        close = np.isin(strokes, homeless + 1) & over & self.free & self.dark
        return float(self.darkness[close].sum()) / PX_PER_MM**2

    def _line(self, strokes: Regions, own: NDArray[np.int_]) -> LineThrough | None:
        away = np.maximum(self.away_y[:, None], self.away_x[None, :])
        near = np.isin(strokes, own + 1) & self.free & (away < NEAR_MM)
        inside = self.inked & (self.region == 1)
        # Long ink in the box tells its own direction best; of a short piece the stroke around the box does.
        lines = (
            line_through(self.darkness, self.smooth, ink, inside, self.outline, away, self.threshold, PX_PER_MM)
            for ink in (inside, near)
        )
        return max((line for line in lines if line), key=lambda line: line.near_mm, default=None)


def _regions(along: Floats, places_mm: Floats, widths_mm: Floats, slack_mm: float) -> tuple[Regions, Bools]:
    """Return which inner box each pixel lies in, 1 for the first (0: none), and where printed outlines are."""
    region = np.zeros((len(along), len(along)), np.int32)
    outline = np.zeros(region.shape, np.bool_)
    first = -along[0] + 0.5 / PX_PER_MM

    def span(centre: float, half: float) -> slice:
        ends = np.clip(np.rint((np.array([centre - half, centre + half]) + first) * PX_PER_MM), 0, len(along))
        return slice(int(ends[0]), int(ends[1]))

    for number, ((x, y), (width, height)) in enumerate(zip(places_mm, widths_mm, strict=True), start=1):
        outer, bare, inner = (
            (span(y, height / 2 + by), span(x, width / 2 + by)) for by in (slack_mm, -LINE_MM - slack_mm, -INSET_MM)
        )
        outline[outer] = True
        outline[bare] = False
        region[inner] = number
    return region, outline
