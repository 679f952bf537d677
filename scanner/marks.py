"""The decision rule: what the ink in a page's boxes says, box by box, or that a person must look.

The rule, in the order in which it is applied. Measures are those of `scanner/box_ink.py` and `scanner/whose_stroke.py`;
lengths and areas are on paper; darkness is held against the page's own printed lines and the page's own marks, so that
a pale photograph or copy needs no other limits than a good scan.

1. *Place.* A box whose place is uncertain by more than 0.4 mm is doubtful.
2. *Nothing.* Less ink in the inner box than `NOTHING_MM2` is empty; so is a speck all of which lies in the box, on a
   page whose marks are far larger; a straight trace fainter than any pen's; and a faint stain broader than any stroke,
   most of which lies outside of the box. But the box is doubtful where its printed outline is not there for at least
   two thirds of its length (something lies on it, or glare, or it is cut off), where ink goes around it, and where
   a stroke that is no other box's runs close by it.
3. *Flaws.* Ink on a straight line that runs on past the box both ways is a crease or a streak where it runs far and is
   faint, or as dark outside as inside and paler than the page's marks: empty if there is nothing else. Else it is
   doubtful.
4. *Faint.* What is nowhere darker than `FAINT` printed lines, or `PALE` of the page's marks, is doubtful: an erased
   mark, a faint one, or a stain.
5. *Blacked out.* Ink over more than `BLACK` of the inner box is an answer taken back where the page's marks are open
   ones, and a mark where the taster fills boxes to mark them. It is doubtful where the page does not tell which; where
   it covers less than `BLACK` and more than open marks do; where a pick-one field has nothing else than what was
   taken back; and on a page of filled boxes where one filled box is blacker than the others, or two stand in one
   pick-one field: either may be taken back. Wide bare spots make a mark open where all are drawn with a broad pen.
6. *Whose.* Strokes are followed out of the box. Where most of the ink lies in another box it is that box's; then this
   one is empty if the stroke only touches it, doubtful if it comes in far without turning. Two boxes with like amounts
   of one stroke are each marked if what lies in them turns as a mark does, or all is straight on that page, else
   doubtful. What lies mostly outside of all boxes needs a turn, or two ends not far outside, else it is doubtful.
7. *Mark.* What is left is marked if it has `MARK_MM2` of ink, stretches over `MARK_EXTENT_MM` and comes through the
   core, or covers twice that extent; else doubtful: a speck, or a mark beside the box.
8. *Unlike.* A mark that is far smaller than the page's other marks is doubtful; so is a straight stroke among marks
   that turn, where it comes close to another inked box.

Between every two limits lies a doubtful band; no single limit parts empty from marked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.sheet_layout import MarkBox
from scanner.box_ink import BoxInk
from scanner.line_through import LineThrough
from scanner.reading import Mark, State
from scanner.whose_stroke import Followed

NOTHING_MM2 = 0.04
"""Of perfect black: a spot a quarter of a millimetre across, or what a blurred outline leaves in the inner box."""
SPECK_MM2, SPECK_EXTENT_MM = 0.30, 1.30
SPECK, SPECK_EXTENT = 0.3, 0.5
"""A speck is smaller than this, and than these shares of the page's usual ink and least extent of a mark."""
SOFT = 0.6
"""Of the outline's sharpness."""
COARSE, COARSE_PEAK = 0.15, 0.95
"""Share of a mark's ink that is in fine strokes, at least, on a page where three times that is usual."""
HAIR_MM, HAIR_EXTENT_MM = 0.05, 2.0
"""A line is no pen's if it leaves less than this width of perfect black, over this length at least."""
OUTLINE_SEEN, OUTLINE_WHOLE = 0.65, 0.90
AROUND = 0.55
"""Share of directions in which one stroke lies around a box: rings, also open ones; not an arc of a neighbour's."""
FAINTEST_AROUND = 0.25
"""Of a printed outline's darkness: a ring, or a stroke beside a box, is darker."""
BESIDE_MM2 = 0.25
RUNS_ON_MM, FAR_ON_MM, ENDS_MM = 3.0, 6.0, 1.2
"""Past the box at both ends. A stroke through a box ends close by it, at one end at least."""
REST_MM2 = 0.06
FAINT = 0.36
"""Of a printed outline's darkness; pens come out at 0.45 and more of it, erased pencil at 0.3 and less."""
PALER, PALE = 0.75, 0.62
"""Of the median darkness of the page's marks; one pen in one hand stays above 0.65."""
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
TOUCH_EXTENT_MM = 1.8
TURNS, STRAIGHT, TURNS_OF_ITS_OWN = 1.08, 1.10, 1.2
UNLIKE, UNLIKE_SMALLEST = 0.55, 0.78
"""Of the median extent of a page's marks; of the tenth smallest in a hundred, where there are enough."""
CROWDED_MM = 10.5
"""Centres of boxes nearer than this may share a stroke."""

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]

UNPLACED = "its place on the page is not certain"
UNSEEN = "the box cannot be seen"
RINGED = "a ring around the box, nothing in it"
BESIDE = "a stroke beside the box, nothing in it"
LINED = "a line that runs through the box"
FAINT_MARK = "a very faint mark, or an erased one"
HALF_BLACK = "heavily marked: an answer, or one taken back"
FILLED = "filled on a page of filled boxes: an answer, or one taken back"
NEIGHBOURS = "a stroke that may belong to the neighbouring box"
PASSING = "a stroke that runs into the box from outside"
SLIGHT = "a speck, or a mark too small to tell"
BLURRED = "a stain, or a mark out of focus"
UNLIKELY = "unlike the other marks on the page"
WITHDRAWN_ALONE = "blacked out, and nothing else chosen"


@dataclass(frozen=True, slots=True)
class Verdict:
    """A box's state, with a reason where it is doubtful."""

    state: State
    reason: str | None = None


EMPTY, MARKED, WITHDRAWN = (Verdict(state) for state in (State.EMPTY, State.MARKED, State.WITHDRAWN))


def boxes_to_follow(ink: BoxInk, centres_mm: Floats, print_darkness: float) -> list[int]:
    """Return the boxes whose strokes must be followed outwards before they can be decided."""
    inked = ink.ink_mm2 >= NOTHING_MM2
    apart = np.linalg.norm(centres_mm[:, None] - centres_mm[None], axis=2)
    crowded = ((apart < CROWDED_MM) & (apart > 0) & inked[None, :]).any(axis=1)
    slight = (ink.core_mm2 < 0.1) | (ink.extent_mm < 2 * MARK_EXTENT_MM)
    straight = ink.turns < TURNS_OF_ITS_OWN
    faint = ink.peak < FAINT * print_darkness
    follow = inked & (faint | (ink.touching & (crowded | slight | straight) & (ink.covered < BLACK)))
    touched = ~inked & ((ink.beside_mm[:, 0] > 0.4) | (ink.beside_mm[:, 2] > 0.4))
    return [int(index) for index in np.flatnonzero(follow | touched)]


def boxes_to_follow_next(ink: BoxInk, followed: Mapping[int, Followed]) -> list[int]:
    """Return the empty boxes still to be followed where the page shows that its taster marks around boxes."""
    if not _rings(ink, followed):
        return []
    return [int(index) for index in np.flatnonzero(ink.ink_mm2 < NOTHING_MM2) if index not in followed]


def decide(
    boxes: Sequence[MarkBox], ink: BoxInk, followed: Mapping[int, Followed], certain: Bools, print_darkness: float
) -> tuple[Mark, ...]:
    """Return every box's mark, in the boxes' order."""
    page = _page_of(ink, followed, print_darkness)
    verdicts = [
        _verdict(_Box(ink, index, followed.get(index), page), bool(certain[index])) for index in range(len(boxes))
    ]
    verdicts = _seen_together(boxes, ink, verdicts, page)
    return tuple(
        Mark(box.field, box.option, verdict.state, None, verdict.reason)
        for box, verdict in zip(boxes, verdicts, strict=True)
    )


@dataclass(frozen=True, slots=True)
class _Page:
    """How a page comes out and how its taster marks.

    `fills` is None where the page does not tell; a box of which more is covered than `open` is not openly marked, and a
    filled box above `most_dense` stands out from the others. `rings` says that marks go around boxes, `straight` that
    the open ones are single straight strokes. `ink_mm2` and `peak` are the marks' medians, `fine` the share of their
    ink in fine strokes, `least_extent_mm` the extent below which a mark is unlike them; all 0 with too few.
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


def _page_of(ink: BoxInk, followed: Mapping[int, Followed], print_darkness: float) -> _Page:
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
    return _Page(
        print_darkness,
        fills,
        most_open,
        _most_dense(ink, heavy | black),
        _rings(ink, followed),
        straight=bool(count >= 4 and np.median(ink.turns[opened]) < STRAIGHT),
        ink_mm2=float(np.median(ink.ink_mm2[marks])) if marks.sum() >= 4 else 0.0,
        least_extent_mm=_least_extent(ink.extent_mm[marks]),
        peak=float(np.median(ink.peak[marks])) if marks.sum() >= 4 else 0.0,
        fine=float(np.median(fine[opened])) if count >= 4 else 0.0,
    )


def _rings(ink: BoxInk, followed: Mapping[int, Followed]) -> bool:
    """Tell whether two empty boxes at least have a ring around them."""
    return sum(seen.around >= AROUND for index, seen in followed.items() if ink.ink_mm2[index] < NOTHING_MM2) >= 2


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


@dataclass(frozen=True, slots=True)
class _Box:
    """One box's measures."""

    ink: BoxInk
    index: int
    followed: Followed | None
    page: _Page

    @property
    def ink_mm2(self) -> float:
        return float(self.ink.ink_mm2[self.index])

    @property
    def extent_mm(self) -> float:
        return float(self.ink.extent_mm[self.index])

    @property
    def covered(self) -> float:
        return float(self.ink.covered[self.index])

    @property
    def is_faint(self) -> bool:
        return bool(self.ink.peak[self.index] < FAINT * self.page.print_darkness)

    @property
    def is_paler(self) -> bool:
        """Whether it is paler than what the taster wrote with."""
        return self.is_faint or bool(self.ink.peak[self.index] < PALER * self.page.peak)

    @property
    def is_pale(self) -> bool:
        """Whether it is far paler than what the taster wrote with."""
        return bool(self.ink.peak[self.index] < PALE * self.page.peak)

    @property
    def is_central(self) -> bool:
        return bool(self.ink.core_mm2[self.index] >= NOTHING_MM2)

    @property
    def is_well_within(self) -> bool:
        """Whether so much of it is in the core that it cannot be an outline in the wrong place."""
        return bool(self.ink.core_mm2[self.index] >= WITHIN_MM2)

    @property
    def is_full(self) -> bool:
        gapless = self.ink.gap_mm[self.index] < OPEN_GAP_MM or self.page.fills is False
        return bool(self.covered >= self.page.open and gapless)

    @property
    def has_turns(self) -> bool:
        return bool(self.ink.turns[self.index] >= TURNS)

    @property
    def line(self) -> LineThrough | None:
        return self.followed.line if self.followed is not None else None

    @property
    def is_flanked(self) -> bool:
        """Whether ink lies on opposite sides of it: more than a word at one side gives."""
        above, right, below, left = self.ink.beside_mm[self.index]
        return bool(min(left, right) > 2.0 or min(above, below) > 0.7)

    @property
    def is_one_of_straight(self) -> bool:
        """Whether it is a stroke from side to side that is shared with no box but such, on a page of straight marks."""
        shared = self.followed.sharers if self.followed is not None else ()
        turning = any(self.ink.turns[index] >= TURNS for index in shared)
        ends = self.followed.exits if self.followed is not None else 0
        return self.page.straight and not turning and ends >= 2

    @property
    def is_speck(self) -> bool:
        small = self.ink_mm2 < min(SPECK_MM2, SPECK * self.page.ink_mm2) and self.extent_mm < min(
            SPECK_EXTENT_MM, SPECK_EXTENT * self.page.least_extent_mm
        )
        alone = not self.ink.touching[self.index]
        if (seen := self.followed) is not None and not alone:
            alone = (
                seen.own_mm2 > 0
                and seen.shared_mm2 + seen.foreign_mm2 + seen.passing_mm2 < 0.01
                and seen.abroad_mm2 < 0.12
            )
        return bool(small and alone)

    @property
    def is_hair(self) -> bool:
        """Whether all its ink lies on a straight line too thin for a pen."""
        straight = self.line is not None and self.line.rest_mm2 < 0.01
        thin = self.ink_mm2 < HAIR_MM * self.extent_mm and self.extent_mm > HAIR_EXTENT_MM
        return bool(straight and thin and self.is_paler)

    @property
    def is_stain(self) -> bool:
        """Whether its ink is no stroke: soft, and faint or mostly outside; or broad and faint and mostly outside."""
        spreads = self.followed is not None and self.followed.abroad_mm2 >= self.ink_mm2
        is_broad = self.fine_mm2 < max(NOTHING_MM2, 0.25 * self.ink_mm2)
        return (self.is_soft and (spreads or self.is_faint)) or (self.is_faint and spreads and is_broad)

    @property
    def fine_mm2(self) -> float:
        return float(self.ink.fine_mm2[self.index])

    @property
    def is_soft(self) -> bool:
        """Whether it has no edge as a pen's stroke has."""
        return bool(self.ink.sharp[self.index] < SOFT)

    @property
    def is_coarse(self) -> bool:
        """Whether it is far broader than the strokes on a page of fine ones, and no darker than they are."""
        dark = bool(self.ink.peak[self.index] > COARSE_PEAK * self.page.peak)
        return self.page.fine > 3 * COARSE and self.fine_mm2 < COARSE * self.ink_mm2 and not dark


def _verdict(box: _Box, certain: bool) -> Verdict:
    if not certain:
        return _doubtful(UNPLACED)
    if box.ink_mm2 < NOTHING_MM2 or box.is_speck or box.is_hair or box.is_stain:
        return _nothing(box)
    most_rest = 2 * REST_MM2 if box.is_faint else REST_MM2
    if (line := box.line) is not None and line.near_mm > RUNS_ON_MM and line.rest_mm2 < most_rest:
        is_flaw = line.near_mm > FAR_ON_MM and (box.is_faint or (line.alike and box.is_paler))
        return _nothing(box) if is_flaw else _doubtful(LINED)
    if box.is_faint or box.is_pale:
        return _doubtful(FAINT_MARK)
    if box.is_full:
        return _covered(box)
    if not box.is_well_within and box.ink.outline[box.index] < OUTLINE_SEEN:
        return _doubtful(UNSEEN)
    if box.is_soft:
        return _doubtful(BLURRED)
    if box.is_coarse:
        return _doubtful(UNLIKELY)
    if box.followed is not None and (verdict := _not_own(box, box.followed)) is not None:
        return verdict
    return _own(box)


def _nothing(box: _Box) -> Verdict:
    if box.ink.outline[box.index] < OUTLINE_SEEN:
        return _doubtful(UNSEEN)
    if box.followed is not None and box.followed.around >= AROUND:
        return _doubtful(RINGED)
    if box.page.rings and box.is_flanked:
        return _doubtful(RINGED)
    if box.followed is not None and box.followed.beside_mm2 >= BESIDE_MM2 * (0.6 if box.page.rings else 1.0):
        return _doubtful(BESIDE)
    return EMPTY


def _covered(box: _Box) -> Verdict:
    if box.page.fills is None:
        return _doubtful(HALF_BLACK)
    if not box.page.fills:
        return WITHDRAWN if box.covered >= BLACK else _doubtful(HALF_BLACK)
    density = box.ink.density[box.index]
    denser = box.covered > ALL_BLACK and density > box.page.most_dense
    far_denser = box.covered > MOSTLY_BLACK and density > FAR_DENSER * box.page.most_dense
    return _doubtful(FILLED) if denser or far_denser else MARKED


def _not_own(box: _Box, followed: Followed) -> Verdict | None:
    """Decide a box that has strokes of others; None where what is its own decides."""
    others = followed.shared_mm2 + followed.foreign_mm2 + followed.passing_mm2
    mark_like = box.is_central or box.extent_mm >= 2 * MARK_EXTENT_MM
    if others < NOTHING_MM2 or (followed.own_mm2 >= MARK_MM2 and mark_like):
        return None
    if followed.shared_mm2 >= MARK_MM2 and mark_like and (box.has_turns or box.is_one_of_straight):
        return None
    line = followed.line
    long = line is not None and line.far_mm > RUNS_ON_MM
    turns = box.has_turns and (line is None or not long or line.rest_mm2 >= REST_MM2)
    ends = line is None or not long or (line.near_mm < ENDS_MM and not box.is_paler)
    if followed.passing_mm2 >= MARK_MM2 and mark_like and (turns or (followed.exits >= 2 and ends)):
        return None
    if followed.foreign_mm2 >= MARK_MM2 and box.is_central and box.ink.turns[box.index] >= TURNS_OF_ITS_OWN:
        return None
    touches = not box.is_central and box.extent_mm < TOUCH_EXTENT_MM
    if touches and followed.foreign_mm2 > 0.9 * (others + followed.own_mm2):
        return EMPTY
    return _doubtful(PASSING if followed.passing_mm2 > 0.5 * others else NEIGHBOURS)


def _own(box: _Box) -> Verdict:
    enough = box.ink_mm2 >= MARK_MM2 and box.extent_mm >= MARK_EXTENT_MM
    turns = box.ink.turns[box.index] >= TURNS_OF_ITS_OWN or box.ink.outline[box.index] >= OUTLINE_WHOLE
    around = box.extent_mm >= 2 * MARK_EXTENT_MM and turns
    if not enough or not (box.is_central or around):
        return _doubtful(SLIGHT)
    astray = box.followed is not None and box.followed.reaches and not (box.has_turns or box.page.straight)
    return _doubtful(UNLIKELY) if astray or box.extent_mm < box.page.least_extent_mm else MARKED


def _seen_together(boxes: Sequence[MarkBox], ink: BoxInk, verdicts: Sequence[Verdict], page: _Page) -> list[Verdict]:
    """Doubt what was blacked out where nothing else is chosen, and two filled boxes in one pick-one field."""
    fields: dict[str, list[int]] = {}
    for index, box in enumerate(boxes):
        if box.pick == "one":
            fields.setdefault(box.field, []).append(index)
    together = list(verdicts)
    for indices in fields.values():
        marked = [i for i in indices if verdicts[i].state is State.MARKED and ink.covered[i] >= OPEN]
        withdrawn = [index for index in indices if verdicts[index].state is State.WITHDRAWN]
        if page.fills and len(marked) > 1:
            together = [_doubtful(FILLED) if index in marked else verdict for index, verdict in enumerate(together)]
        if withdrawn and all(verdicts[index].state is State.EMPTY for index in indices if index not in withdrawn):
            for index in withdrawn:
                together[index] = _doubtful(WITHDRAWN_ALONE)
    return together


def _doubtful(reason: str) -> Verdict:
    return Verdict(State.DOUBTFUL, reason)
