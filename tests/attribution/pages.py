"""Whole pages: a sheet is printed, filled, injured at its codes, shot and read, and the reading's owner compared."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from kit.sheet_layout import SheetLayout
from scanner.read_sheet import read_sheet
from scanner.reading import Outcome, PageReading
from scanner.rehearsal.arrays import Gray
from scanner.rehearsal.camera import SHOTS
from scanner.rehearsal.habits import random_hand
from scanner.rehearsal.hand import mark_sheet, random_answers
from scanner.rehearsal.pens import PENS
from scanner.rehearsal.trial import Held
from tests.attribution.injuries import INJURIES, injured, laid_over, slip
from tests.attribution.kits import PX_PER_MM, Printed, on_file, sheets, strangers

SLIP, EXCHANGED, STRANGER = "another's corner over it", "another's code exactly in place", "of no kit on file"
KINDS = (*INJURIES, SLIP, SLIP, SLIP, SLIP, EXCHANGED, STRANGER)
"""What the pages go through in turn; a corner of another's sheet is the gravest, so it comes oftenest."""
CUTTING = {"dog-eared", "photo-cut", "photo-thumb", "photo-sleeve", "stained", "photo-stained"}
"""Conditions that can take a code away."""


class Verdict(StrEnum):
    """What came of a page: credited to its sheet, to none, or to one that it is not."""

    RIGHT = "right"
    REFUSED = "refused"
    WRONG = "WRONG"


@dataclass(frozen=True, slots=True)
class PageTried:
    """A page of a run; `picture` is there where it was credited wrong."""

    number: int
    kind: str
    condition: str
    sheet: str
    credited: str | None
    outcome: Outcome
    reason: str
    verdict: Verdict
    picture: Gray | None = None


def try_page(seed: int, number: int) -> PageTried:
    """Try the page of that number; everything about it is drawn from the seed and the number."""
    rng = np.random.default_rng([seed, 1, number])
    kind = KINDS[number % len(KINDS)]
    own = _drawn(strangers() if kind == STRANGER else sheets(), rng)
    hand, pen = random_hand(rng), PENS[int(rng.integers(len(PENS)))]
    page = mark_sheet(own.page(), own.layout, random_answers(own.layout, rng), hand, pen, rng, PX_PER_MM).page
    page, others = _injured(page, own, kind, rng)
    conditions = [name for name in SHOTS if kind != EXCHANGED or name not in CUTTING]
    condition = conditions[int(rng.integers(len(conditions)))]
    image = SHOTS[condition](page, PX_PER_MM, rng).image
    reading = read_sheet(Held(image), on_file())
    verdict = judged(own.layout if own.on_file else None, reading, {own.layout.sheet, *others})
    return PageTried(
        number,
        kind,
        condition,
        own.layout.sheet,
        reading.sheet,
        reading.outcome,
        (reading.reason or "").partition(" (")[0],
        verdict,
        image if verdict is Verdict.WRONG else None,
    )


def judged(truth: SheetLayout | None, reading: PageReading, in_picture: set[str]) -> Verdict:
    """Judge a reading of a sheet of a kit on file, or of none where `truth` is None.

    A page that is not read may be said to be one of the sheets that are in the picture, and no other.
    """
    if reading.outcome is not Outcome.READ:
        return Verdict.REFUSED if reading.sheet is None or reading.sheet in in_picture else Verdict.WRONG
    credited = (reading.kit, reading.sheet, reading.taster, reading.role)
    if truth is None or credited != (truth.sheet.partition("-")[0], truth.sheet, truth.taster, truth.role):
        return Verdict.WRONG
    return Verdict.RIGHT


def _injured(page: Gray, own: Printed, kind: str, rng: np.random.Generator) -> tuple[Gray, set[str]]:
    """Return the page with one code injured, and often the other; and whose sheets lie over it."""
    codes = own.layout.codes
    first = int(rng.integers(2))
    if kind in INJURIES:
        page = injured(page, PX_PER_MM, codes[first], kind, rng)
        if kind != "none" and rng.random() < 0.5:
            page = injured(page, PX_PER_MM, codes[1 - first], _any_injury(rng), rng)
        return page, set()
    if kind == STRANGER:
        return injured(page, PX_PER_MM, codes[first], _any_injury(rng), rng), set()
    other = _neighbour(own, rng)
    theirs = other.layout.codes[first if kind == EXCHANGED or rng.random() < 0.6 else 1 - first]
    if kind == SLIP and rng.random() < 0.7:
        # Where nothing can be read of the sheet's own two codes, the other's alone is left to be credited.
        worst = "hidden" if rng.random() < 0.6 else _any_injury(rng)
        page = injured(page, PX_PER_MM, codes[1 - first], worst, rng)
    if kind == EXCHANGED:
        exactly, around = np.zeros(2), np.asarray(rng.uniform(2.0, 40.0, 4), np.float64)
        page = laid_over(page, other.page(), PX_PER_MM, codes[first], theirs, 0.0, exactly, around)
    else:
        page = slip(page, other.page(), PX_PER_MM, codes[first], theirs, rng)
    return page, {other.layout.sheet}


def _neighbour(own: Printed, rng: np.random.Generator) -> Printed:
    """Return another sheet: the same form of the same kit mostly, else one of the same taster, else any.

    Two sheets of one form are the gravest: their boxes lie in the same places.
    """
    kin = rng.random()
    near = [
        sheet
        for sheet in sheets()
        if sheet.layout.sheet != own.layout.sheet
        and (kin > 0.8 or sheet.layout.sheet[:6] == own.layout.sheet[:6])
        and (kin > 0.6 or sheet.layout.role == own.layout.role)
        and (not 0.6 < kin < 0.8 or sheet.layout.taster == own.layout.taster)
    ]
    return _drawn(near, rng)


def _any_injury(rng: np.random.Generator) -> str:
    return str(rng.choice(list(INJURIES)))


def _drawn(among: tuple[Printed, ...] | list[Printed], rng: np.random.Generator) -> Printed:
    return among[int(rng.integers(len(among)))]
