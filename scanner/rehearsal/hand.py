"""The simulated hand: marks a printed page as a person with a pen does, and tells what is true of every box."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from kit.sheet_layout import MarkBox, SheetLayout
from scanner.rehearsal.answers import random_answers
from scanner.rehearsal.arrays import Field, Gray
from scanner.rehearsal.habits import HANDS, Hand, random_hand
from scanner.rehearsal.ink import Deposit, deposit, lay, rubbed_out
from scanner.rehearsal.pens import PENS, Pen
from scanner.rehearsal.remarks import write_remarks
from scanner.rehearsal.strokes import Stroke, mark, taken_back, touch, underline
from scanner.rehearsal.truth import BoxTruth, InnerBoxes, Intent, MarkedSheet, Place, Tag, measured, told

__all__ = [
    "HANDS",
    "PENS",
    "BoxTruth",
    "Hand",
    "Intent",
    "MarkedSheet",
    "Pen",
    "Tag",
    "mark_sheet",
    "random_answers",
    "random_hand",
    "write_remarks",
]

REACH_MM = 8.0
"""No part of a mark lies further than this from its box (an underline excepted: it runs 15 mm to the right)."""

_PENCIL = next(pen for pen in PENS if pen.name == "pencil-hb")


def mark_sheet(
    page: Gray,
    layout: SheetLayout,
    intents: Mapping[Place, Intent],
    hand: Hand,
    pen: Pen,
    rng: np.random.Generator,
    px_per_mm: float,
) -> MarkedSheet:
    """Mark a printed page.

    Parameters
    ----------
    page : (H, W) array of uint8
        The printed page, its top left corner the layout's origin. Left as it is.
    intents
        What is done at which box, by (field, option). Boxes not named stay empty. A rubbed-out mark is the pen's where
        it can be rubbed out, else an HB pencil's.
    px_per_mm
        The page's scale. From 8 up strokes look right; the camera wants about 12.

    Returns
    -------
    MarkedSheet
        The marked page and every box's state and tag; `scanner.rehearsal.truth` defines them.

    Raises
    ------
    KeyError
        Where an intent names a box that the layout does not have.
    """
    known = {(box.field, box.option) for box in layout.marks}
    strangers = [place for place in intents if place not in known]
    if strangers:
        raise KeyError(f"the sheet {layout.sheet} has no box {strangers[0]}")
    inking = _Inking(page.copy(), layout, px_per_mm, rng)
    for index, box in enumerate(layout.marks):
        intent = intents.get((box.field, box.option))
        if intent is not None:
            inking.work(index, box, intent, hand, pen)
    return MarkedSheet(inking.page, inking.truth(intents))


class _Inking:
    """A page while it is being marked, with the ink added so far inside the boxes."""

    def __init__(self, page: Gray, layout: SheetLayout, px_per_mm: float, rng: np.random.Generator) -> None:
        self.page, self.layout, self.px_per_mm, self.rng = page, layout, px_per_mm, rng
        self.shape = (page.shape[0], page.shape[1])
        self.inner = InnerBoxes(layout, self.shape, px_per_mm)
        self.clear: dict[int, Field] = {}
        self.spilt: set[int] = set()
        self.disturbed: set[int] = set()

    def work(self, index: int, box: MarkBox, intent: Intent, hand: Hand, pen: Pen) -> None:
        half_mm = min(box.w_mm, box.h_mm) / 2
        if intent is Intent.STRAY:
            self.disturbed.add(index)
            self._lay(index, self._drawn(box, touch(hand, half_mm, self.rng), pen))
            return
        strokes = mark(_style(hand, self.rng), hand, half_mm, self.rng)
        if intent is Intent.ERASED:
            self.disturbed.add(index)
            traces = self._drawn(box, strokes, pen if pen.erasable else _PENCIL)
            self._lay(index, rubbed_out(traces, self.px_per_mm, self.rng) if traces else None)
            return
        self._lay(index, self._drawn(box, strokes, pen))
        if intent is Intent.TAKE_BACK:
            self._lay(index, self._drawn(box, taken_back(hand, half_mm, self.rng), pen))
        elif hand.underline and box.field.startswith("words.") and self.rng.random() < hand.underline:
            self._lay(index, self._drawn(box, underline(hand, half_mm, self.rng), pen, reach_mm=15.0), beside=True)

    def truth(self, intents: Mapping[Place, Intent]) -> tuple[BoxTruth, ...]:
        inked = {index: measured(1.0 - clear, self.px_per_mm) for index, clear in self.clear.items()}
        return told(self.layout.marks, intents, inked, frozenset(self.spilt), frozenset(self.disturbed))

    def _drawn(self, box: MarkBox, strokes: tuple[Stroke, ...], pen: Pen, reach_mm: float = REACH_MM) -> Deposit | None:
        reach = min(box.w_mm, box.h_mm) / 2 + reach_mm - pen.width_mm[1]
        centre = np.array([box.x_mm + box.w_mm / 2, box.y_mm + box.h_mm / 2])
        placed = [Stroke(np.clip(s.points_mm, -reach, reach) + centre, s.pressure) for s in strokes]
        return deposit(placed, pen, self.shape, self.px_per_mm, self.rng)

    def _lay(self, own: int, ink: Deposit | None, beside: bool = False) -> None:
        if ink is None:
            return
        lay(self.page, ink)
        amounts: dict[int, float] = {}
        for index in self.inner.touched(ink.column, ink.row, ink.contrast.shape):
            part = self.inner.ink(int(index), ink.contrast, ink.column, ink.row)
            amounts[int(index)] = float(part.sum())
            if amounts[int(index)] > 0.0:
                self._collect(int(index), ink)
        rival = max((amount for index, amount in amounts.items() if index != own), default=0.0)
        if not beside and rival > amounts.get(own, 0.0) / 3:
            self.spilt.add(own)

    def _collect(self, index: int, ink: Deposit) -> None:
        left, top, right, bottom = self.inner.ranges[index]
        clear = self.clear.setdefault(index, np.ones((bottom - top, right - left), dtype=np.float32))
        rows, columns = ink.contrast.shape
        x0, x1 = max(left, ink.column), min(right, ink.column + columns)
        y0, y1 = max(top, ink.row), min(bottom, ink.row + rows)
        part = ink.contrast[y0 - ink.row : y1 - ink.row, x0 - ink.column : x1 - ink.column]
        clear[y0 - top : y1 - top, x0 - left : x1 - left] *= 1.0 - part


def _style(hand: Hand, rng: np.random.Generator) -> str:
    names = [name for name, _ in hand.styles]
    weights = np.cumsum([weight for _, weight in hand.styles])
    return names[int(np.searchsorted(weights, rng.random() * weights[-1], side="right"))]
