"""One sheet's way through hand, camera and reader, and how the reading compares with what was drawn."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from kit.sheet_layout import SheetLayout
from scanner.kits import KitOnFile
from scanner.read_sheet import read_sheet
from scanner.reading import Mark, Outcome, State
from scanner.rehearsal.camera import Shot, as_seen
from scanner.rehearsal.hand import Hand, Pen, Tag, mark_sheet, random_answers, write_remarks
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.truth import BoxTruth

Gray = NDArray[np.uint8]

TOO_FAR_PX_PER_MM = 4.0
"""Below this a sheet may be refused with "come closer" (the reader's limit is a little lower)."""


@dataclass(frozen=True, slots=True)
class Miss:
    """A box that was read otherwise than it was drawn, with a picture of its surroundings."""

    truth: BoxTruth
    read: Mark
    cutout: Gray


@dataclass(frozen=True, slots=True)
class Trial:
    """What came of one sheet.

    `counts` says, by (true state, tag, state read), how many boxes there were; nothing is in it for a sheet that was
    not read. `reason` is the reader's where it refused; `too_far` that it had the right to say "come closer"; `stolen`
    that the sheet was credited to another.
    """

    positions: int
    outcome: Outcome
    reason: str | None
    too_far: bool
    stolen: bool
    counts: Counter[tuple[str, str, str]]
    misses: tuple[Miss, ...]
    doubts: tuple[Miss, ...]

    @property
    def told_to_come_closer(self) -> bool:
        """Whether the sheet was rightly refused for having too few pixels."""
        return self.too_far and "pixels a millimetre" in (self.reason or "")


@dataclass(frozen=True, slots=True)
class Held:
    """A picture in memory in the place of a file, reduced as a file would be."""

    image: Gray
    source: str = "rehearsal"
    source_page: int = 1

    def gray(self, least_long_px: int) -> Gray:
        """Return the picture reduced by a whole factor, its long side at least that."""
        factor = max(1, min(4, max(self.image.shape) // least_long_px))
        if factor == 1:
            return self.image
        height, width = (side // factor for side in self.image.shape)
        whole = self.image[: height * factor, : width * factor]
        return np.asarray(cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA), np.uint8)


def try_sheet(
    layout: SheetLayout,
    page: Gray,
    px_per_mm: float,
    hand: Hand,
    pen: Pen,
    shot: Shot,
    kits: Mapping[str, KitOnFile],
    rng: np.random.Generator,
) -> Trial:
    """Fill a printed page, take a picture of it, read it, and compare.

    Parameters
    ----------
    page : (H, W) array of uint8
        The printed page at `px_per_mm`.
    """
    marked = mark_sheet(page, layout, random_answers(layout, rng), hand, pen, rng, px_per_mm)
    if rng.random() < 0.5:
        marked = write_remarks(marked, layout, rng, px_per_mm, pen)
    picture = shot(marked.page, px_per_mm, rng)
    truth = as_seen(marked.boxes, layout, picture)
    reading = read_sheet(Held(picture.image), kits)
    too_far = picture.px_per_mm(layout) < TOO_FAR_PX_PER_MM
    stolen = reading.sheet not in (None, layout.sheet)
    if reading.outcome is not Outcome.READ or stolen:
        return Trial(len(truth), reading.outcome, reading.reason, too_far, stolen, Counter(), (), ())
    counts: Counter[tuple[str, str, str]] = Counter()
    misses, doubts = [], []
    for place, (box, mark) in enumerate(zip(truth, reading.marks, strict=True)):
        counts[box.state.value, box.tag.value, mark.state.value] += 1
        if mark.state is State.DOUBTFUL and box.tag is Tag.PLAIN:
            doubts.append(Miss(box, mark, _cutout(picture, layout, place)))
        elif mark.state not in (State.DOUBTFUL, box.state):
            misses.append(Miss(box, mark, _cutout(picture, layout, place)))
    return Trial(len(truth), reading.outcome, None, too_far, stolen, counts, tuple(misses), tuple(doubts))


def _cutout(picture: Picture, layout: SheetLayout, place: int, around_mm: float = 6.0) -> Gray:
    """Return the picture around one box, upright, 10 px a millimetre."""
    box = layout.marks[place]
    side = 10 * round(box.w_mm + 2 * around_mm)
    steps = np.arange(side) / 10 - around_mm
    x, y = np.meshgrid(box.x_mm + steps, box.y_mm + steps)
    places = picture.place(np.stack([x.ravel(), y.ravel()], axis=1)).astype(np.float32).reshape(side, side, 2)
    return np.asarray(
        cv2.remap(picture.image, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderValue=128), np.uint8
    )
