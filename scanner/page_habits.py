"""The habits of a page: how it comes out and how its taster marks, told from all of its boxes together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scanner.box_ink import BoxInk
from scanner.whose_stroke import Followed

NOTHING_MM2 = 0.04
"""Of perfect black: a spot a quarter of a millimetre across, or what a blurred outline leaves in the inner box."""
AROUND = 0.55
"""Share of directions in which one stroke lies around a box: rings, also open ones; not an arc of a neighbour's."""
FAINT = 0.36
"""Of a printed outline's darkness; pens come out at 0.45 and more of it, erased pencil at 0.3 and less."""
HEAVY, OPEN, OPEN_GAP_MM = 0.58, 0.72, 0.45
"""Covered share from which a mark tells nothing of open marks; is not open; but for bare spots of this radius."""
OPEN_THIN, OPEN_BROAD = 0.60, 0.85
"""Covered share from which a mark is not open on a page of open marks, drawn with a thin pen and with a broad one."""
BROAD_MOST = 0.78
"""Most open marks of a broad pen, nine in ten, cover less."""
BLACK, ALL_BLACK, MOSTLY_BLACK = 0.96, 0.99, 0.90
DENSER, FAR_DENSER = 1.08, 1.2
"""Blacking out over a filled mark makes it darker by 9 % at least."""
MARK_MM2, MARK_EXTENT_MM, WITHIN_MM2 = 0.30, 1.2, 0.10
TURNS, STRAIGHT, TURNS_OF_ITS_OWN = 1.08, 1.10, 1.2
RIMMED = 0.4
"""Share of a page's boxes; marks that keep to the rim are never so many."""
UNLIKE, UNLIKE_SMALLEST = 0.55, 0.78
"""Of the median extent of a page's marks; of the tenth smallest in a hundred, where there are enough."""

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Habits:
    """How a page comes out and how its taster marks.

    `fills` is None where the page does not tell; a box of which more is covered than `open` is not openly marked, and a
    filled box above `most_dense` stands out from the others. `rings` says that marks go around boxes, `straight` that
    the open ones are single straight strokes. `ink_mm2`, `level` and `peak` are the marks' medians, `fine` the share of
    their ink in fine strokes, `inked` the share of the box that nine in ten of them ink at most, `lined` the same of
    their outlines' surroundings, `least_extent_mm` the extent below which a mark is unlike them; all 0 with too few.
    `even` says that paper is not crumpled, no outline seen is out of its place; `skirt_mm2` is the usual ink along the
    rim alone, where so many boxes have such that it is their outlines' blur, else 0.
    """

    print_darkness: float
    fills: bool | None
    open: float
    most_dense: float
    rings: bool
    straight: bool
    ink_mm2: float
    least_extent_mm: float
    peak: float
    fine: float
    inked: float
    lined: float
    level: float
    even: bool
    skirt_mm2: float


def habits_of(ink: BoxInk, followed: Mapping[int, Followed], print_darkness: float, even: bool = False) -> Habits:
    fine = ink.fine_mm2 / np.maximum(ink.ink_mm2, NOTHING_MM2)
    marks = (ink.ink_mm2 >= MARK_MM2) & (ink.peak >= FAINT * print_darkness) & (ink.extent_mm >= MARK_EXTENT_MM)
    black = marks & (ink.covered >= BLACK)
    heavy = marks & (ink.covered >= HEAVY) & ~black
    opened = marks & (ink.covered < HEAVY)
    count, heavies, blacks = int(opened.sum()), int(heavy.sum()), int(black.sum())
    few_blacks = blacks <= max(3, 0.15 * (count + heavies))
    fills, most_open = None, OPEN
    if count >= 3 and heavies <= 0.1 * count and few_blacks:
        fills, most_open = False, OPEN_THIN
    elif (
        few_blacks
        and count >= 3
        and count + heavies >= 6
        and np.quantile(ink.covered[opened | heavy], 0.9) < BROAD_MOST
    ):
        fills, most_open = False, OPEN_BROAD
    elif heavies + blacks >= 3 and heavies + blacks >= 2 * count:
        fills = True
    skirts = (ink.ink_mm2 >= NOTHING_MM2) & (ink.core_mm2 < NOTHING_MM2)
    return Habits(
        print_darkness,
        fills,
        most_open,
        _most_dense(ink, heavy | black),
        marks_around(ink, followed),
        straight=bool(count >= 4 and np.median(ink.turns[opened]) < STRAIGHT),
        ink_mm2=float(np.median(ink.ink_mm2[marks])) if marks.sum() >= 4 else 0.0,
        least_extent_mm=_least_extent(ink.extent_mm[marks]),
        peak=float(np.median(ink.peak[marks])) if marks.sum() >= 4 else 0.0,
        fine=float(np.median(fine[opened])) if count >= 4 else 0.0,
        inked=_most(ink.density[marks & ~black] / ink.level[marks & ~black]),
        lined=_most(ink.lined[marks & ~black]),
        level=float(np.median(ink.level[marks])) if marks.sum() >= 4 else 0.0,
        even=even,
        skirt_mm2=float(np.median(ink.ink_mm2[skirts])) if skirts.mean() > RIMMED else 0.0,
    )


def marks_around(ink: BoxInk, followed: Mapping[int, Followed]) -> bool:
    """Tell whether two empty boxes at least have a ring around them."""
    return sum(seen.around >= AROUND for index, seen in followed.items() if ink.ink_mm2[index] < NOTHING_MM2) >= 2


def _most(shares: Floats) -> float:
    return float(np.quantile(shares, 0.9, method="lower")) if len(shares) >= 3 else 0.0


def _least_extent(extents_mm: Floats) -> float:
    if len(extents_mm) < 4:
        return 0.0
    if len(extents_mm) < 10:
        return UNLIKE * float(np.median(extents_mm))
    return UNLIKE_SMALLEST * float(np.quantile(extents_mm, 0.1))


def _most_dense(ink: BoxInk, full: Bools) -> float:
    """Return the density above which a filled box stands out from the page's others."""
    if not full.any():
        return 1.0
    usual = float(np.median(ink.density[full]))
    spread = float(np.median(np.abs(ink.density[full] - usual)))
    return usual + max(2 * spread, (DENSER - 1) * usual)
