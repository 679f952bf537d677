"""A rehearsal with a camera: pictures of the filled sheet, read as any sheet is and held against the pattern."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from kit.sheet_layout import MarkBox, SheetLayout
from scanner.kits import KitOnFile
from scanner.locate import Refusal, locate
from scanner.page_image import PageError, PageImage
from scanner.page_tasks import Listed, ListPages, Task, unreadable
from scanner.read_pile import each_page
from scanner.read_sheet import read_sheet
from scanner.reading import Mark, Outcome, PageReading, State
from scanner.register import CERTAIN_MM, register
from scanner.rehearsal.own_kit import OwnKit
from scanner.rehearsal.pattern import Pattern, pattern
from scanner.rehearsal.print_scale import PrintScale, print_scale
from scanner.rehearsal.tally import Rate, rate

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


def grades_of(files: Sequence[Path], own: OwnKit) -> Iterator[Graded]:
    """Yield the grade of every page image of every file, in order; nothing that a file holds raises."""
    layout = own.to_fill.layout
    kits = {own.kit.id: replace(own.on_file, sheets={layout.sheet: layout})}
    yield from each_page(files, 1, _GradeWork(layout, pattern(layout, own.chance), kits), _not_graded)


def together(graded: Sequence[Graded]) -> tuple[Rate, Rate]:
    """Return silent errors per box and the doubtful share over all pictures graded."""
    boxes = sum(one.boxes for one in graded)
    return rate(sum(len(one.silent) for one in graded), boxes), rate(sum(len(one.doubtful) for one in graded), boxes)


@dataclass(frozen=True, slots=True)
class _GradeWork:
    """What a worker does: of a file its pages, of a page its grade."""

    layout: SheetLayout
    asked: Pattern
    kits: dict[str, KitOnFile]

    def __call__(self, task: Task) -> Listed | Graded:
        from scanner.page_worker import listed, look_at

        if isinstance(task, ListPages):
            return listed(task)
        return look_at(task, lambda image: _graded(image, self.layout, self.asked, self.kits), _not_graded)


def _not_graded(source: str, source_page: int | None, reason: str) -> Graded:
    return Graded(unreadable(source, source_page, reason), reason)


def _graded(image: PageImage, layout: SheetLayout, asked: Pattern, kits: dict[str, KitOnFile]) -> Graded:
    reading = read_sheet(image, kits)
    if reading.outcome is not Outcome.READ:
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
