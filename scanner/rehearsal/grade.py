"""A rehearsal with a camera: pictures of the filled sheet, read as any sheet is and held against the pattern."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from kit.sheet_layout import MarkBox, SheetLayout
from scanner.kits import KitOnFile
from scanner.locate import Refusal, locate
from scanner.page_image import PageError, PageFailure, PageImage
from scanner.read_pile import read_page
from scanner.reading import Mark, Outcome, PageReading, State
from scanner.register import CERTAIN_MM, register
from scanner.rehearsal.own_kit import OwnKit
from scanner.rehearsal.pattern import Pattern, pattern
from scanner.rehearsal.print_scale import PrintScale, print_scale
from scanner.rehearsal.tally import Rate, rate
from scanner.sources import open_source

LOOK_PX = 3000
"""Long side at which a picture is looked at for its own sake."""
AMPLE_PX_PER_MM = 5.5
"""Below this thin lines begin to run into each other."""


@dataclass(frozen=True, slots=True)
class Look:
    """What a picture is like: pixels a millimetre of the sheet at the least, the print's scale where that is known, the
    corner marks seen of four, and the estimated error of the least certain box's place (infinite where not seen)."""

    px_per_mm: float
    scale: PrintScale | None
    corner_marks: int
    worst_residual_mm: float
    boxes_out_of_place: int


@dataclass(frozen=True, slots=True)
class Difference:
    """A box that was not read as the pattern has it; `mark` is the reading, `asked` the pattern."""

    mark: Mark
    asked: State
    box: MarkBox


@dataclass(frozen=True, slots=True)
class Graded:
    """One picture: what was read, and where that differs from the pattern.

    `reason` says why a picture is not graded; then nothing is counted.
    """

    reading: PageReading
    reason: str | None
    right: int = 0
    silent: tuple[Difference, ...] = ()
    doubtful: tuple[Difference, ...] = ()
    look: Look | None = None

    @property
    def boxes(self) -> int:
        """The boxes graded."""
        return self.right + len(self.silent) + len(self.doubtful)

    @property
    def silent_rate(self) -> Rate:
        """Silent errors per box."""
        return rate(len(self.silent), self.boxes)

    @property
    def doubtful_rate(self) -> Rate:
        """The share of boxes left to a person."""
        return rate(len(self.doubtful), self.boxes)


def grades_of(files: Iterable[Path], own: OwnKit) -> Iterator[Graded]:
    """Yield the grade of every page image of every file, in order; nothing that a file holds raises."""
    layout = own.to_fill.layout
    asked = pattern(layout, own.chance)
    kits = {own.kit.id: replace(own.on_file, sheets={layout.sheet: layout})}
    for file in files:
        for image in open_source(file):
            yield _graded(image, layout, asked, kits)


def together(graded: Sequence[Graded]) -> tuple[Rate, Rate]:
    """Return silent errors per box and the doubtful share over all pictures graded."""
    boxes = sum(one.boxes for one in graded)
    return rate(sum(len(one.silent) for one in graded), boxes), rate(sum(len(one.doubtful) for one in graded), boxes)


def _graded(image: PageImage | PageFailure, layout: SheetLayout, asked: Pattern, kits: dict[str, KitOnFile]) -> Graded:
    reading = read_page(image, kits)
    if isinstance(image, PageFailure) or reading.outcome is not Outcome.READ:
        return Graded(reading, _why_not_read(reading, kits))
    differences = [
        Difference(mark, state, box)
        for mark, box in zip(reading.marks, layout.marks, strict=True)
        if mark.state is not (state := asked.get((mark.field, mark.option), State.EMPTY))
    ]
    crosses = sum(state is State.MARKED for state in asked.values())
    missed = sum(one.asked is State.MARKED and one.mark.state is not State.DOUBTFUL for one in differences)
    if 2 * missed > crosses:
        return Graded(reading, _not_filled_in(crosses - missed, crosses))
    doubtful = tuple(one for one in differences if one.mark.state is State.DOUBTFUL)
    silent = tuple(one for one in differences if one.mark.state is not State.DOUBTFUL)
    return Graded(reading, None, len(reading.marks) - len(differences), silent, doubtful, _look(image, layout))


def _why_not_read(reading: PageReading, kits: dict[str, KitOnFile]) -> str:
    [kit] = kits
    if reading.outcome is Outcome.FOREIGN and reading.kit not in (None, kit):
        return (
            f"it is sheet {reading.sheet}, and this session's rehearsal sheet is of kit {kit}: another session's, or "
            "this one's before it was changed; grade it with the session that it was printed from"
        )
    return reading.reason or reading.outcome.value


def _not_filled_in(found: int, crosses: int) -> str:
    return (
        f"{found} of the pattern's {crosses} crosses were found on it; fill the sheet in as the page printed with "
        "it shows, and grade it again (if it is filled in so, the reader failed on it: report it)"
    )


def _look(image: PageImage, layout: SheetLayout) -> Look | None:
    try:
        gray = image.gray(LOOK_PX)
    except PageError:
        return None
    located = locate(gray, [layout])
    if isinstance(located, Refusal):
        return None
    residuals = register(gray, located, layout.marks).residual_mm
    return Look(
        px_per_mm=located.px_per_mm * max(image.full_size_px) / max(gray.shape),
        scale=print_scale(image, gray, located),
        corner_marks=located.fiducials,
        worst_residual_mm=float(np.max(residuals)),
        boxes_out_of_place=int(np.count_nonzero(residuals >= CERTAIN_MM)),
    )
