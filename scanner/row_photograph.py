"""Reads a photograph of turned coasters: the order of their numbers after the taster's row-end card, or why not.

The order is told by the codes alone, and only where everything agrees: one card, at the row's end, its arrow towards
the row; each of the sitting's coasters once; all in one line, at even steps. A row that could be read two ways is
refused: what would be wrong in silence is worse than one more photograph.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.coasters import code_on_label
from kit.codes import CodeKind, decode
from scanner.code_readers import FoundCode
from scanner.kits import KitOnFile
from scanner.reading import Outcome
from scanner.row_geometry import Floats, Row, along_row, fit_plane, turn_deg
from scanner.row_labels import find_labels, is_bare, is_mirrored, seek_labels
from scanner.row_owner import AGAIN, NotOwned, Owned, labels_among, owner_of, possible_texts

Gray = NDArray[np.uint8]
IsBare = Callable[[Floats, Sequence[Floats]], bool]
"""Whether the table shows at a place between two labels, mm."""

MOST_BEND_DEG = 32.0
MOST_OFF_SHARE = 0.45
"""A label may lie this far beside the row's line, as a share of the usual step."""
ROOMY_SHARE, MOST_STEP_SHARE, LEAST_PITCH_MM = 1.55, 1.9, 75.0
"""A step longer than this many of the shortest has room for a coaster that was not found: from the first on if anything
can be seen in the gap, from the second on in any case.

A card laid close to its row makes no short step: what counts is at least the third.
"""
LEAST_STEP_MM = 50.0
"""Nearer than this two labels of 60 mm lie upon each other."""
MOST_ARROW_DEG = 100.0
"""Turned farther, the card's arrow points away from the row: it lies at the right end, or is a neighbour's."""

SHEET_TOO = "it shows a sheet and coasters; photograph the sheet alone, and the row alone"
MIRRORED = "the picture is mirrored, so the row runs the wrong way round; switch mirroring off, and " + AGAIN
NOT_TOLD = "whether the picture is mirrored cannot be told; come closer, and " + AGAIN
CARD_INSIDE = f"the row-end card does not lie at an end of the row; lay it at the row's left end, and {AGAIN}"
ARROW = (
    "the arrow on the row-end card points away from the coasters: the card lies at the row's right end, or is a "
    f"neighbour's; lay the taster's own card at the left end, its arrow towards the coasters, and {AGAIN}"
)
APART = f"coaster {{number}} does not lie in one line with the others; push the row straight as it stands, and {AGAIN}"
GAP = (
    "between {before} and {after} there is room for one more coaster, which may belong there; close the gap without "
    f"changing the order, or take a neighbour's coaster away, and {AGAIN}"
)
UPON = f"{{before}} and {{after}} lie upon each other; push them apart without changing the order, and {AGAIN}"


@dataclass(frozen=True, slots=True)
class RowFinding:
    """What one photograph of turned coasters gave; `order` is None where it is refused, `reason` says why."""

    outcome: Outcome
    reason: str | None = None
    kit: str | None = None
    taster: int | None = None
    order: tuple[int, ...] | None = None


def read_row(gray: Gray, kits: Mapping[str, KitOnFile]) -> RowFinding | None:
    """Read one photograph in full size, in any orientation; None where it shows no coaster and no card at all.

    Parameters
    ----------
    gray : (height, width) array of uint8
    kits : mapping of str to KitOnFile
        By kit id.
    """
    codes = find_labels(gray)
    labels = labels_among(codes)
    if not labels.coasters and not labels.cards:
        return None
    if any(code.kind is CodeKind.SHEET for code in map(decode, (found.text for found in codes)) if code):
        return RowFinding(Outcome.UNREADABLE, SHEET_TOO)
    owner = owner_of(labels, kits)
    if isinstance(owner, NotOwned) and owner.is_short:
        found = [code for _, code in (*labels.coasters, *labels.cards)]
        texts = possible_texts(labels, kits)
        wanted = 1 + (owner.kit.glasses if owner.kit else max(kit.glasses for kit in kits.values()))
        owner = owner_of(labels_among(seek_labels(gray, found, _code_mm(), texts, wanted)), kits)
    if isinstance(owner, NotOwned):
        return RowFinding(owner.outcome, owner.reason, owner.kit.id if owner.kit else None, owner.taster)
    order = order_of(owner, gray)
    if not isinstance(order, str):
        order = _not_mirrored(gray, owner) or order
    if isinstance(order, str):
        return RowFinding(Outcome.UNREADABLE, order, owner.kit.id, owner.taster)
    return RowFinding(Outcome.READ, None, owner.kit.id, owner.taster, order)


def order_of(owned: Owned, gray: Gray) -> tuple[int, ...] | str:
    """Return the coaster numbers from the card on, or why the labels as they lie do not tell their order."""
    numbers = tuple(owned.coasters)
    corners_px = [_corners(owned.card), *(_corners(owned.coasters[number]) for number in numbers)]
    plane = fit_plane(corners_px, _code_mm())
    corners_mm = np.stack([plane.to_mm(corners) for corners in corners_px])
    centres_mm = np.stack([_label_centre(corners) for corners in corners_mm])
    row = along_row(centres_mm, 0)
    names = {0: "the card"} | {place: f"coaster {number}" for place, number in enumerate(numbers, start=1)}
    reason = _fault_of(row, names)
    if reason is None and turn_deg(corners_mm[0], row.along) > MOST_ARROW_DEG:
        reason = ARROW
    if reason is None:
        reason = _gap_in(row, names, centres_mm, lambda place, beside: is_bare(gray, plane, place, beside, _code_mm()))
    return tuple(numbers[place - 1] for place in row.order[1:]) if reason is None else reason


def _fault_of(row: Row, names: Mapping[int, str]) -> str | None:
    usual_mm = float(np.median(row.steps_mm))
    if row.off_mm.max() > MOST_OFF_SHARE * usual_mm or row.bends_deg.max() > MOST_BEND_DEG:
        off = row.off_mm.copy()
        off[0] = -1.0
        return APART.format(number=names[int(off.argmax())].removeprefix("coaster "))
    if row.order[0] != 0:
        return CARD_INSIDE
    shortest = int(row.steps_mm.argmin())
    if row.steps_mm[shortest] < LEAST_STEP_MM:
        return UPON.format(before=names[row.order[shortest]], after=names[row.order[shortest + 1]])
    return None


def _gap_in(row: Row, names: Mapping[int, str], centres_mm: Floats, is_bare_at: IsBare) -> str | None:
    """Return the reason of the first gap in which one more coaster may lie."""
    pitch_mm = max(float(row.steps_mm.min()), LEAST_PITCH_MM)
    for step_mm, one, other in zip(row.steps_mm, row.order, row.order[1:], strict=False):
        beside = centres_mm[one], centres_mm[other]
        if step_mm > MOST_STEP_SHARE * pitch_mm or (
            step_mm > ROOMY_SHARE * pitch_mm and not is_bare_at((beside[0] + beside[1]) / 2, beside)
        ):
            return GAP.format(before=names[one], after=names[other])
    return None


def _not_mirrored(gray: Gray, owned: Owned) -> str | None:
    told = [is_mirrored(gray, code) for code in (owned.card, *owned.coasters.values())]
    if True in told:
        return MIRRORED
    return None if False in told else NOT_TOLD


def _corners(code: FoundCode) -> NDArray[np.float64]:
    return np.array(code.corners_px, np.float64)


def _label_centre(corners_mm: Floats) -> Floats:
    """Return the middle of the label that bears a code, which is printed above it."""
    down = (corners_mm[3] - corners_mm[0]) + (corners_mm[2] - corners_mm[1])
    middle = corners_mm.mean(axis=0) + code_on_label().above_middle_mm * down / np.linalg.norm(down)
    return np.asarray(middle, np.float64)


def _code_mm() -> float:
    return code_on_label().side_mm
