"""What is true of every box of a marked page, and how plainly: told from the strokes drawn, never from a reading.

All measures are taken in a box's *inner box*: the box less 0.6 mm (`INNER_INSET_MM`) along each side, so clear of its
printed outline. Ink counts by its contrast c: 0 bare paper, 1 black.

A box in which nothing was meant is *empty*. It is plainly empty when no ink at all lies in its inner box: a tail or an
underline that comes in further than 0.6 mm makes it marginal. A stray touch or a rubbed-out mark is empty and marginal.

A box that was chosen is *marked*. It is plainly marked when, in its inner box,

- the ink amounts to 0.5 mm² of black or more (the sum of c over the area),
- it stretches over 1.2 mm or more, corner to corner of what is inked (c of a tenth or more),
- its tone, Σc² / Σc, is 0.30 or darker,
- no other box's inner box holds more than a third as much of the same mark's ink, and
- it leaves at least 40 % of the inner box uncovered (c below a tenth), or else the page is a filler's: at least three
  of its marks, and two thirds of them all, cover more. A filled box among crosses may be an answer taken back: where a
  mark covers 90 %, half of the page's marks must cover 85 %.

So a ring round a box, a mark beside it, a faint or a tiny one is marked and marginal.

A box whose mark was taken back is *withdrawn*: plainly when the blacking out covers 90 % of the inner box (c of a tenth
or more) in a tone of 0.30 or darker, on a page of which at least three plain marks, and half of all, leave 40 % of
their boxes uncovered.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from kit.sheet_layout import MarkBox, SheetLayout
from scanner.reading import State
from scanner.rehearsal.arrays import Field, Gray

INNER_INSET_MM = 0.6
PLAIN_INK_MM2 = 0.5
PLAIN_EXTENT_MM = 1.2
PLAIN_TONE = 0.30
PLAIN_SPILL = 1 / 3
COVERING = 0.60
BLACKED_OUT = 0.90
NEARLY_BLACK = 0.85
INKED = 0.10

Place = tuple[str, str]
"""A box's name: its field and its option."""


class Intent(StrEnum):
    """What the taster does at a box; where nothing is said, nothing."""

    MARK = "mark"
    TAKE_BACK = "take-back"
    ERASED = "erased"
    STRAY = "stray"


class Tag(StrEnum):
    """Whether a careful person could doubt the state."""

    PLAIN = "plain"
    MARGINAL = "marginal"


@dataclass(frozen=True, slots=True)
class BoxTruth:
    """One box as it was drawn: never `State.DOUBTFUL`. `tone` 0 where no ink is in the inner box."""

    field: str
    option: str
    state: State
    tag: Tag
    ink_mm2: float = 0.0
    extent_mm: float = 0.0
    tone: float = 0.0
    covered: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class MarkedSheet:
    """A marked page and what is true of each of its boxes, in the layout's order."""

    page: Gray
    boxes: tuple[BoxTruth, ...]

    def box(self, field: str, option: str) -> BoxTruth:
        """Return that box's truth; KeyError where the page has no such box."""
        for box in self.boxes:
            if (box.field, box.option) == (field, option):
                return box
        raise KeyError((field, option))


class InnerBoxes:
    """The inner boxes of one layout as pixel ranges of a page at that scale."""

    def __init__(self, layout: SheetLayout, shape: tuple[int, int], px_per_mm: float) -> None:
        marks = layout.marks
        corners = np.array([(m.x_mm, m.y_mm, m.x_mm + m.w_mm, m.y_mm + m.h_mm) for m in marks]).reshape(-1, 4)
        inner = corners + np.array([1, 1, -1, -1]) * INNER_INSET_MM
        limits = [shape[1], shape[0], shape[1], shape[0]]
        self.px_per_mm = px_per_mm
        self.ranges: NDArray[np.int_] = np.clip(np.rint(inner * px_per_mm), 0, limits).astype(int)

    def touched(self, column: int, row: int, shape: tuple[int, ...]) -> NDArray[np.int_]:
        """Return the indices of the boxes that overlap a patch whose top left pixel is at (column, row)."""
        left, top, right, bottom = self.ranges.T
        return np.flatnonzero((left < column + shape[1]) & (right > column) & (top < row + shape[0]) & (bottom > row))

    def ink(self, index: int, contrast: Field, column: int = 0, row: int = 0) -> Field:
        """Return the part of a patch of contrast that lies in one inner box."""
        left, top, right, bottom = self.ranges[index] - (column, row, column, row)
        return contrast[max(top, 0) : max(bottom, 0), max(left, 0) : max(right, 0)]


@dataclass(frozen=True, slots=True)
class Inked:
    """The measures of one inner box."""

    ink_mm2: float
    extent_mm: float
    tone: float
    covered: float


NO_INK = Inked(0.0, 0.0, 0.0, 0.0)


def measured(contrast: Field, px_per_mm: float) -> Inked:
    """Return the measures of an inner box's contrast (0 … 1)."""
    total = float(contrast.sum())
    if total <= 0.0:
        return NO_INK
    inked = contrast >= INKED
    columns, rows = np.flatnonzero(inked.any(axis=0)), np.flatnonzero(inked.any(axis=1))
    extent_px = float(np.hypot(np.ptp(columns) + 1, np.ptp(rows) + 1)) if len(columns) else 0.0
    return Inked(
        ink_mm2=total / px_per_mm**2,
        extent_mm=extent_px / px_per_mm,
        tone=float(np.square(contrast).sum()) / total,
        covered=float(np.count_nonzero(inked)) / contrast.size,
    )


def told(
    marks: Sequence[MarkBox],
    intents: Mapping[Place, Intent],
    inked: Mapping[int, Inked],
    spilt: frozenset[int],
    disturbed: frozenset[int],
) -> tuple[BoxTruth, ...]:
    """Return what is true of each box, in order.

    `inked` measures the inner boxes that got ink, by index; `spilt` are the boxes whose mark lies largely in another's
    inner box; `disturbed` those that got a stray touch or a rubbed-out mark.
    """
    first = [
        _box(mark, intents.get((mark.field, mark.option)), inked.get(index, NO_INK), index in spilt, index in disturbed)
        for index, mark in enumerate(marks)
    ]
    drawn = [box for box in first if box.state is State.MARKED]
    covering = [box for box in drawn if box.covered > COVERING]
    filler = len(covering) >= 3 and 3 * len(covering) >= 2 * len(drawn)
    opened = sum(box.covered <= COVERING and box.tag is Tag.PLAIN for box in drawn)
    crosser = opened >= 3 and 2 * opened >= len(drawn)
    blackens = 2 * sum(box.covered >= NEARLY_BLACK for box in drawn) >= len(drawn)
    return tuple(_seen_on_its_page(box, filler, blackens, crosser) for box in first)


def retagged(sheet: MarkedSheet, page: Gray, inked: frozenset[int]) -> MarkedSheet:
    """Return the sheet on its further written page, with the empty boxes at these indices marginal."""
    boxes = tuple(
        replace(box, tag=Tag.MARGINAL) if index in inked and box.state is State.EMPTY else box
        for index, box in enumerate(sheet.boxes)
    )
    return MarkedSheet(page, boxes)


def _box(mark: MarkBox, intent: Intent | None, ink: Inked, spilt: bool, disturbed: bool) -> BoxTruth:
    if intent is Intent.MARK:
        state = State.MARKED
        plain = (
            ink.ink_mm2 >= PLAIN_INK_MM2 and ink.extent_mm >= PLAIN_EXTENT_MM and ink.tone >= PLAIN_TONE and not spilt
        )
    elif intent is Intent.TAKE_BACK:
        state = State.WITHDRAWN
        plain = ink.covered >= BLACKED_OUT and ink.tone >= PLAIN_TONE
    else:
        state = State.EMPTY
        plain = ink.ink_mm2 == 0.0 and not disturbed
    tag = Tag.PLAIN if plain else Tag.MARGINAL
    return BoxTruth(mark.field, mark.option, state, tag, ink.ink_mm2, ink.extent_mm, ink.tone, ink.covered)


def _seen_on_its_page(box: BoxTruth, filler: bool, blackens: bool, crosser: bool) -> BoxTruth:
    covers_unlike_the_page = box.state is State.MARKED and (
        (box.covered > COVERING and not filler) or (box.covered >= BLACKED_OUT and not blackens)
    )
    withdrawn_in_doubt = box.state is State.WITHDRAWN and not crosser
    return replace(box, tag=Tag.MARGINAL) if covers_unlike_the_page or withdrawn_in_doubt else box
