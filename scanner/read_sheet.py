"""From one page image to one page reading: find the sheet, know whose it is, place its boxes, decide its marks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from kit.codes import ROLE_DIGITS, Code
from kit.sheet_layout import SheetLayout
from scanner.box_ink import hidden_by_grain, ink_threshold, is_grainy, measure_boxes
from scanner.boxes import paper_of, sample_boxes
from scanner.code_readers import read_codes
from scanner.grain import is_dotted, without_dots, without_grain
from scanner.identify import NOT_OURS, Stranger, identify
from scanner.kits import KitOnFile, distinct_frames
from scanner.locate import Located, Refusal, locate
from scanner.marks import (
    FAINTEST_AROUND,
    OUTLINE_WHOLE,
    UNPLACED,
    UNSEEN,
    boxes_to_follow,
    boxes_to_follow_next,
    decide,
)
from scanner.page_habits import BLACK
from scanner.reading import Mark, Outcome, PageReading, State
from scanner.register import register
from scanner.sheet_codes import read_sheet_codes
from scanner.streaks import without_streaks
from scanner.whose_stroke import Followed, follow_strokes
from scanner.why_not_found import BLANK, CORNERS_HIDDEN, STRANGER
from scanner.why_not_read import picture_fault, too_unclear, why_boxes_unseen, why_no_code

Gray = NDArray[np.uint8]

WORKING_PX = 1700
"""Long side at which an image is read first: 150 dpi of A4, half of a 300-dpi scan."""
FULL_PX = 1_000_000
AMPLE_PX_PER_MM = 5.5
"""Below this the full image is read, where it has more."""
UNSEEN_SHARE = 0.25
"""A page with a greater share of its boxes out of sight is not read."""

ROLES = {digit: role for role, digit in ROLE_DIGITS.items()}

SURROUNDED = "specks, or ink all around the box, may hide what is in it"
DOUBTFUL_SHARE = 0.5
"""With more of its boxes doubtful, a page of a bad picture is better photographed again than asked about."""


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
        return Finding(Outcome.UNREADABLE, why_no_code(gray, located))
    sheet = identify(texts, kits)
    if isinstance(sheet, Stranger):
        return Finding(sheet.outcome, sheet.reason, sheet.code, ample=True)
    if located.frame.fiducials != sheet.layout.fiducials:
        again = locate(gray, [sheet.layout])
        if isinstance(again, Refusal):
            return Finding(Outcome.UNREADABLE, again.reason, sheet.code)
        located = again
    if unclear := too_unclear(located):
        return Finding(Outcome.UNREADABLE, unclear, sheet.code)
    marks = read_marks(gray, located, sheet.layout)
    unseen = np.array([mark.reason in (UNPLACED, UNSEEN) for mark in marks], np.bool_)
    if unseen.sum() > UNSEEN_SHARE * len(marks):
        reason = why_boxes_unseen(gray, located, sheet.layout.marks, unseen)
        return Finding(Outcome.UNREADABLE, reason, sheet.code)
    doubtful = sum(mark.state is State.DOUBTFUL for mark in marks)
    if doubtful > DOUBTFUL_SHARE * len(marks) and (fault := picture_fault(gray, located)):
        return Finding(Outcome.UNREADABLE, fault, sheet.code)
    return Finding(Outcome.READ, None, sheet.code, marks, ample=located.px_per_mm >= AMPLE_PX_PER_MM)


def read_marks(gray: Gray, located: Located, layout: SheetLayout) -> tuple[Mark, ...]:
    """Decide every box of a located sheet, in the layout's order."""
    if not layout.marks:
        return ()
    placed = register(gray, located, layout.marks)
    gray = without_streaks(gray)
    dotted = is_dotted(gray)
    if dotted:
        gray = without_dots(gray, located.px_per_mm)
    paper = paper_of(gray, located.px_per_mm)
    patches = sample_boxes(gray, paper, located, layout.marks, placed.centres_mm, dotted=dotted)
    if not dotted and is_grainy(patches):
        gray = without_grain(gray, located.to_px(placed.centres_mm))
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
            FAINTEST_AROUND * patches.print_darkness,
            patches.skirt_mm,
            patches.full,
        )

    followed = follow(boxes_to_follow(ink, placed.centres_mm, patches.print_darkness))
    followed |= follow(boxes_to_follow_next(ink, followed))
    marks = decide(layout.marks, ink, followed, placed.certain, patches.print_darkness, placed.is_even)
    hidden, outlined = hidden_by_grain(patches) & (ink.covered < BLACK), ink.outline >= OUTLINE_WHOLE
    return tuple(
        replace(mark, state=State.DOUBTFUL, reason=SURROUNDED if outlined[place] else UNSEEN) if hidden[place] else mark
        for place, mark in enumerate(marks)
    )


def _not_located(gray: Gray, refusal: Refusal, kits: Mapping[str, KitOnFile]) -> Finding:
    """A sheet of another paper, a row of coasters or a stranger's page may still have a code that says what it is."""
    texts = read_codes(gray)
    sheet = identify(texts, kits) if texts else None
    if isinstance(sheet, Stranger) and sheet.is_row:
        return Finding(sheet.outcome, sheet.reason, ample=True)
    if refusal.is_final or sheet is None:
        return Finding(Outcome.UNREADABLE, refusal.reason, ample=refusal.is_final)
    if isinstance(sheet, Stranger) and sheet.reason != NOT_OURS:
        return Finding(sheet.outcome, sheet.reason, sheet.code)
    if isinstance(sheet, Stranger):
        return Finding(sheet.outcome, sheet.reason)
    reason = CORNERS_HIDDEN if refusal.reason in (STRANGER, BLANK) else refusal.reason
    return Finding(Outcome.UNREADABLE, reason, sheet.code)
