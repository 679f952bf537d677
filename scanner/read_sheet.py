"""From one page image to one page reading: find the sheet, know whose it is, place its boxes, decide its marks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from kit.codes import ROLE_DIGITS, Code
from kit.sheet_layout import SheetLayout
from scanner.box_ink import ink_threshold, measure_boxes
from scanner.boxes import paper_of, sample_boxes
from scanner.code_readers import read_codes
from scanner.identify import NOT_OURS, Stranger, identify
from scanner.kits import KitOnFile, distinct_frames
from scanner.locate import Located, Refusal, locate
from scanner.marks import UNPLACED, UNSEEN, boxes_to_follow, boxes_to_follow_next, decide
from scanner.reading import Mark, Outcome, PageReading
from scanner.register import register
from scanner.sheet_codes import read_sheet_codes
from scanner.whose_stroke import Followed, follow_strokes

Gray = NDArray[np.uint8]

WORKING_PX = 1700
"""Long side at which an image is read first: 150 dpi of A4, half of a 300-dpi scan."""
FULL_PX = 1_000_000
AMPLE_PX_PER_MM = 5.5
"""Below this the full image is read, where it has more."""
UNSEEN_SHARE = 0.25
"""A page with a greater share of its boxes out of sight is not read."""

ROLES = {digit: role for role, digit in ROLE_DIGITS.items()}

CODES_HIDDEN = (
    "its two codes are covered or blurred; photograph it again with nothing over the squares at the top right and "
    "bottom left"
)
BOXES_HIDDEN = "too much of it is covered, cut off or out of focus; photograph the whole sheet again, flat and sharp"


class GrayPage(Protocol):
    """A page image as `scanner.sources` gives it."""

    @property
    def source(self) -> str: ...
    @property
    def source_page(self) -> int: ...
    def gray(self, least_long_px: int) -> Gray: ...


@dataclass(frozen=True, slots=True)
class Finding:
    """What one gray image of a page gave; `ample` is False where more pixels might give more."""

    outcome: Outcome
    reason: str | None = None
    code: Code | None = None
    marks: tuple[Mark, ...] = ()
    ample: bool = False


def read_sheet(image: GrayPage, kits: Mapping[str, KitOnFile]) -> PageReading:
    """Read one page image against the kits given.

    Parameters
    ----------
    image : GrayPage
        Decoded at a reduced scale first; in full only where that does not do.
    kits : mapping of str to KitOnFile
        By kit id.

    Returns
    -------
    PageReading
        `read`, `foreign` or `unreadable`, the last two with a reason that helps to take a better picture. Nothing that
        an image shows raises.

    Raises
    ------
    PageError
        From `image.gray` alone, where the file turns out damaged.
    """
    gray = image.gray(WORKING_PX)
    finding = read_gray(gray, kits)
    if not finding.ample:
        full = image.gray(FULL_PX)
        if max(full.shape) > 1.1 * max(gray.shape):
            finding = read_gray(full, kits)
    code = finding.code
    return PageReading(
        source=image.source,
        source_page=image.source_page,
        kit=code.kit if code else None,
        sheet=code.sheet if code else None,
        taster=code.number if code else None,
        role=ROLES.get(code.role_digit) if code else None,
        outcome=finding.outcome,
        reason=finding.reason,
        marks=finding.marks,
    )


def read_gray(gray: Gray, kits: Mapping[str, KitOnFile]) -> Finding:
    """Read one gray image of a page."""
    located = locate(gray, distinct_frames(frame for kit in kits.values() for frame in kit.frames))
    if isinstance(located, Refusal):
        return _not_located(gray, located, kits)
    texts = read_sheet_codes(gray, located)
    if not texts:
        return Finding(Outcome.UNREADABLE, CODES_HIDDEN)
    sheet = identify(texts, kits)
    if isinstance(sheet, Stranger):
        return Finding(sheet.outcome, sheet.reason, sheet.code, ample=True)
    if located.frame.fiducials != sheet.layout.fiducials:
        again = locate(gray, [sheet.layout])
        if isinstance(again, Refusal):
            return Finding(Outcome.UNREADABLE, again.reason, sheet.code)
        located = again
    marks = read_marks(gray, located, sheet.layout)
    unseen = sum(mark.reason in (UNPLACED, UNSEEN) for mark in marks)
    if unseen > UNSEEN_SHARE * len(marks):
        return Finding(Outcome.UNREADABLE, BOXES_HIDDEN, sheet.code)
    return Finding(Outcome.READ, None, sheet.code, marks, ample=located.px_per_mm >= AMPLE_PX_PER_MM)


def read_marks(gray: Gray, located: Located, layout: SheetLayout) -> tuple[Mark, ...]:
    """Decide every box of a located sheet, in the layout's order."""
    if not layout.marks:
        return ()
    placed = register(gray, located, layout.marks)
    paper = paper_of(gray, located.px_per_mm)
    patches = sample_boxes(gray, paper, located, layout.marks, placed.centres_mm)
    ink = measure_boxes(patches)

    def follow(which: Sequence[int]) -> dict[int, Followed]:
        return follow_strokes(
            gray,
            paper,
            located.to_px,
            placed.centres_mm,
            patches.widths_mm,
            which,
            ink_threshold(patches),
            patches.skirt_mm,
        )

    followed = follow(boxes_to_follow(ink, placed.centres_mm, patches.print_darkness))
    followed |= follow(boxes_to_follow_next(ink, followed))
    return decide(layout.marks, ink, followed, placed.certain, patches.print_darkness)


def _not_located(gray: Gray, refusal: Refusal, kits: Mapping[str, KitOnFile]) -> Finding:
    """A sheet of another paper, a row of coasters or a stranger's page may still have a code that says what it is."""
    if refusal.is_final:
        return Finding(Outcome.UNREADABLE, refusal.reason)
    texts = read_codes(gray)
    if not texts:
        return Finding(Outcome.UNREADABLE, refusal.reason)
    sheet = identify(texts, kits)
    if isinstance(sheet, Stranger) and sheet.reason != NOT_OURS:
        return Finding(sheet.outcome, sheet.reason, sheet.code)
    if isinstance(sheet, Stranger):
        return Finding(sheet.outcome, sheet.reason)
    return Finding(Outcome.UNREADABLE, refusal.reason, sheet.code)
