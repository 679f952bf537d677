"""The decision rule: what the ink in a page's boxes says, box by box, or that a person must look.

The rule, in the order in which it is applied. Measures are those of `scanner/box_ink.py` and `scanner/whose_stroke.py`,
limits those of `scanner/page_habits.py` and `scanner/box_traits.py`; lengths and areas are on paper; darkness is held
against the page's own printed lines and the page's own marks, so that a pale photograph or copy needs no other limits
than a good scan.

1. *Place.* A box whose place is uncertain by more than 0.4 mm is doubtful.
2. *Nothing.* Less ink in the inner box than `NOTHING_MM2` is empty; so is what a blurred outline leaves along its rim,
   as in many boxes of the page; so is a speck all of which lies in the box, on a
   page whose marks are far larger; a straight trace fainter than any pen's; and a stain, which has no edge as sharp as
   the box's own outline, or is faint and broader than any stroke and lies mostly outside. But the box is doubtful where
   its printed outline is not there for at least two thirds of its length (something lies on it, or glare, or it is cut
   off), where ink goes around it, and where a stroke that is no other box's runs close by it.
3. *Flaws.* Ink on a straight line that runs on past the box both ways is a crease or a streak where it runs far and is
   faint, or as dark outside as inside and paler than the page's marks: empty if there is nothing else. Else it is
   doubtful.
4. *Faint.* What is nowhere darker than `FAINT` printed lines, or `PALE` of the page's marks, is doubtful: an erased
   mark, a faint one, or a stain. So is what has no sharp edge or only the outline's own, what spreads out of the box
   without a stroke or a sharp edge in it or beside it, as a shadow does, what is broad and no darker on a page of fine
   strokes, and, on crumpled paper, what keeps to the rim of a box whose outline is not where it should be.
5. *Blacked out.* Ink over more than `BLACK` of the inner box is an answer taken back where the page's marks are open
   ones, and a mark where the taster fills boxes to mark them. It is doubtful where the page does not tell which; where
   it covers less than `BLACK` and more than open marks do with a pen as broad as this page's, or leaves hardly any
   paper bare where they do, as a fill paler than the mark beneath it, or stands in a frame thicker than theirs, as what
   a copier leaves of a fill; where a pick-one field has nothing else than what was taken back; where the black goes on
   far around the box, as a stain; and on a page of filled boxes where one filled box is blacker than the others, or two
   stand in one pick-one field: either may be taken back.
6. *Whose.* Strokes are followed out of the box. Where most of the ink lies in another box it is that box's; then this
   one is empty if the stroke only touches it, doubtful if it comes in far without turning. Two boxes with like amounts
   of one stroke are each marked if what lies in them turns as a mark does, or all is straight on that page, else
   doubtful. What lies mostly outside of all boxes needs a turn, or two ends not far outside, or the usual ink of the
   page's marks and one end in the box; else it is doubtful.
7. *Mark.* What is left is marked if a piece of it has `MARK_MM2` of ink, and it stretches over `MARK_EXTENT_MM` and
   comes through the core, or turns and covers twice that extent with strokes that lie mostly here; else doubtful:
   specks, or a line along one side, also one as dark as the pen.
8. *Unlike.* A mark that is as broad and no darker than shadows or stains, of which its page has many more, is doubtful.
   A mark that is far smaller than the page's other marks is doubtful; so is a straight stroke of less ink than theirs
   among marks that turn, where it comes close to another inked box.

Between every two limits lies a doubtful band; no single limit parts empty from marked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.sheet_layout import MarkBox
from scanner.box_ink import BoxInk
from scanner.box_traits import OUTLINE_SEEN, Traits
from scanner.page_habits import (
    ALL_BLACK,
    AROUND,
    BLACK,
    FAINT,
    FAR_DENSER,
    MARK_EXTENT_MM,
    MARK_MM2,
    MOSTLY_BLACK,
    NOTHING_MM2,
    OPEN,
    TURNS_OF_ITS_OWN,
    Habits,
    habits_of,
    marks_around,
)
from scanner.reading import Mark, State
from scanner.whose_stroke import Followed

OUTLINE_WHOLE = 0.90
FAINTEST_AROUND = 0.25
"""Of a printed outline's darkness: a ring, or a stroke beside a box, is darker."""
BESIDE_MM2 = 0.25
RUNS_ON_MM, FAR_ON_MM, ENDS_MM = 3.0, 5.0, 1.2
"""Past the box at both ends. A stroke through a box ends close by it, at one end at least."""
REST_MM2 = 0.06
TOUCH_EXTENT_MM = 1.8
FAR_SPREAD = 2.0
"""Times as much ink as in the box, outside of all boxes: a stain that covers it, not a blacking out."""
MANY_SHADES, AS_DARK, BROADLY = 4, 1.1, 0.4
"""Shadows or stains for each mark that is like them; times as dark as they; share of ink, at most, in fine strokes."""
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
    follow = inked & (faint | (ink.covered >= BLACK) | (ink.touching & (crowded | slight | straight)))
    touched = ~inked & ((ink.beside_mm[:, 0] > 0.4) | (ink.beside_mm[:, 2] > 0.4))
    return [int(index) for index in np.flatnonzero(follow | touched)]


def boxes_to_follow_next(ink: BoxInk, followed: Mapping[int, Followed]) -> list[int]:
    """Return the empty boxes still to be followed where the page shows that its taster marks around boxes."""
    if not marks_around(ink, followed):
        return []
    return [int(index) for index in np.flatnonzero(ink.ink_mm2 < NOTHING_MM2) if index not in followed]


def decide(
    boxes: Sequence[MarkBox],
    ink: BoxInk,
    followed: Mapping[int, Followed],
    certain: Bools,
    print_darkness: float,
    even: bool = False,
) -> tuple[Mark, ...]:
    """Return every box's mark, in the boxes' order; `even` says that none of the outlines seen is out of its place."""
    page = habits_of(ink, followed, print_darkness, even)
    verdicts = [
        _verdict(Traits(ink, index, followed.get(index), page), bool(certain[index])) for index in range(len(boxes))
    ]
    verdicts = _seen_together(boxes, ink, verdicts, page)
    return tuple(
        Mark(box.field, box.option, verdict.state, None, verdict.reason)
        for box, verdict in zip(boxes, verdicts, strict=True)
    )


def _verdict(box: Traits, certain: bool) -> Verdict:
    if not certain:
        return _doubtful(UNPLACED)
    if box.ink_mm2 < NOTHING_MM2 or box.is_speck or box.is_hair or box.is_stain or box.is_flank:
        return _nothing(box)
    most_rest = 2 * REST_MM2 if box.is_faint else REST_MM2
    if (line := box.line) is not None and line.near_mm > RUNS_ON_MM and line.rest_mm2 < most_rest:
        is_flaw = line.near_mm > FAR_ON_MM and (box.is_faint or (line.alike and box.is_paler))
        return _nothing(box) if is_flaw else _doubtful(LINED)
    if box.is_faint or box.is_pale:
        return _doubtful(FAINT_MARK)
    if box.is_shade:
        return _doubtful(BLURRED)
    if box.is_full:
        return _covered(box)
    if not box.is_well_within and box.ink.outline[box.index] < OUTLINE_SEEN:
        return _doubtful(UNSEEN)
    if box.may_be_outline:
        return _doubtful(UNPLACED)
    if box.is_heavy:
        return _doubtful(HALF_BLACK)
    if box.is_soft or box.is_skirt:
        return _doubtful(BLURRED)
    if box.is_coarse:
        return _doubtful(UNLIKELY)
    if box.followed is not None and (verdict := _not_own(box, box.followed)) is not None:
        return verdict
    return _own(box)


def _nothing(box: Traits) -> Verdict:
    if box.ink.outline[box.index] < OUTLINE_SEEN:
        return _doubtful(UNSEEN)
    if box.followed is not None and box.followed.around >= AROUND:
        return _doubtful(RINGED)
    if box.page.rings and box.is_flanked:
        return _doubtful(RINGED)
    if box.followed is not None and box.followed.beside_mm2 >= BESIDE_MM2 * (0.6 if box.page.rings else 1.0):
        return _doubtful(BESIDE)
    return EMPTY


def _covered(box: Traits) -> Verdict:
    spreads = box.followed is not None and box.followed.abroad_mm2 > FAR_SPREAD * box.ink_mm2
    if spreads and (not box.page.fills or box.is_paler):
        return _doubtful(BLURRED)
    if box.page.fills is None:
        return _doubtful(HALF_BLACK)
    if not box.page.fills:
        return WITHDRAWN if box.covered >= BLACK else _doubtful(HALF_BLACK)
    density = box.ink.density[box.index]
    denser = box.covered > ALL_BLACK and density > box.page.most_dense
    far_denser = box.covered > MOSTLY_BLACK and density > FAR_DENSER * box.page.most_dense
    return _doubtful(FILLED) if denser or far_denser else MARKED


def _not_own(box: Traits, followed: Followed) -> Verdict | None:
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
    ends_mm = RUNS_ON_MM if box.page.straight and box.is_usual else ENDS_MM
    ends = line is None or not long or (line.near_mm < ends_mm and not box.is_paler)
    ends_within = followed.exits < 2 and box.is_usual
    passes_for_mark = turns or ends_within or (followed.exits >= 2 and ends)
    if followed.passing_mm2 >= MARK_MM2 and mark_like and not box.is_paler and passes_for_mark:
        return None
    if followed.foreign_mm2 >= MARK_MM2 and box.is_central and box.ink.turns[box.index] >= TURNS_OF_ITS_OWN:
        return None
    touches = not box.is_central and box.extent_mm < TOUCH_EXTENT_MM
    if touches and followed.foreign_mm2 > 0.9 * (others + followed.own_mm2):
        return EMPTY
    return _doubtful(PASSING if followed.passing_mm2 > 0.5 * others else NEIGHBOURS)


def _own(box: Traits) -> Verdict:
    enough = box.piece_mm2 >= MARK_MM2 and box.extent_mm >= MARK_EXTENT_MM
    on_a_line = box.line is not None and box.line.rest_mm2 < 2 * REST_MM2
    whole = box.ink.outline[box.index] >= OUTLINE_WHOLE and (box.page.straight or (box.has_turns and not on_a_line))
    turns = box.ink.turns[box.index] >= TURNS_OF_ITS_OWN
    around = box.extent_mm >= 2 * MARK_EXTENT_MM and (turns or whole)
    if not enough or not (box.is_central or around):
        return _doubtful(SLIGHT)
    if box.is_outlying:
        return _doubtful(PASSING)
    return _doubtful(UNLIKELY) if box.may_be_astray or box.extent_mm < box.page.least_extent_mm else MARKED


def _seen_together(boxes: Sequence[MarkBox], ink: BoxInk, verdicts: Sequence[Verdict], page: Habits) -> list[Verdict]:
    """Doubt what was blacked out where nothing else is chosen, and two filled boxes in one pick-one field."""
    fields: dict[str, list[int]] = {}
    for index, box in enumerate(boxes):
        if box.pick == "one":
            fields.setdefault(box.field, []).append(index)
    together = _like_the_shades(ink, verdicts)
    for indices in fields.values():
        marked = [i for i in indices if verdicts[i].state is State.MARKED and ink.covered[i] >= OPEN]
        withdrawn = [index for index in indices if verdicts[index].state is State.WITHDRAWN]
        if page.fills and len(marked) > 1:
            together = [_doubtful(FILLED) if index in marked else verdict for index, verdict in enumerate(together)]
        if withdrawn and all(verdicts[index].state is State.EMPTY for index in indices if index not in withdrawn):
            for index in withdrawn:
                together[index] = _doubtful(WITHDRAWN_ALONE)
    return together


def _like_the_shades(ink: BoxInk, verdicts: Sequence[Verdict]) -> list[Verdict]:
    """Doubt what is as broad and no darker than many a shadow or stain on its page."""
    shades = [index for index, verdict in enumerate(verdicts) if verdict.reason == BLURRED]
    if not shades:
        return list(verdicts)
    darkest = float(np.quantile(ink.peak[shades], 0.9))
    is_like = (ink.peak < AS_DARK * darkest) & (ink.fine_mm2 < BROADLY * ink.ink_mm2)
    alike = {index for index in np.flatnonzero(is_like).tolist() if verdicts[index].state is State.MARKED}
    if len(shades) < MANY_SHADES * len(alike):
        return list(verdicts)
    return [_doubtful(BLURRED) if index in alike else verdict for index, verdict in enumerate(verdicts)]


def _doubtful(reason: str) -> Verdict:
    return Verdict(State.DOUBTFUL, reason)
