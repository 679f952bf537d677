"""The traits of one box's ink, as it is by itself and against the habits of its page."""

from __future__ import annotations

from dataclasses import dataclass

from scanner.box_ink import BoxInk
from scanner.line_through import LineThrough
from scanner.page_habits import FAINT, NOTHING_MM2, OPEN_BROAD, OPEN_GAP_MM, TURNS, WITHIN_MM2, Habits
from scanner.whose_stroke import Followed

SPECK_MM2, SPECK_EXTENT_MM = 0.30, 1.30
SPECK, SPECK_EXTENT = 0.3, 0.5
"""A speck is smaller than this, and than these shares of the page's usual ink and least extent of a mark."""
OUTLINE_SEEN, OUTLINE_LOST, HALF_OPEN, OPEN_WIDE = 0.65, 0.45, 0.30, 0.20
"""Shares of the outline that can be seen; of the inner box, of which marks leave most or nearly all open."""
WHOLE_SIDE_MM, BARE_SIDE_MM = 4.3, 0.3
PALE_THROUGHOUT = 0.5
MANY_TIMES = 2.5
MORE_FLANK = 1.6
"""Of the ink that blurred outlines leave in the page's boxes."""
INKED, MORE_INKED, INKED_ALONE = 0.75, 0.1, 0.85
"""Share of the inner box that has ink, however pale, as where a mark is blacked out in a paler tone than its own; how
much more than that of the page's marks; and where there are too few of these."""
WASHED = 0.7
"""Share of a box's ink, at most, that is in fine strokes where it was blacked out."""
LINED, MORE_LINED, HEAVY_LINED, HOLLOW_MM, FAR_LINED, FAR_MORE_LINED = 0.2, 1.6, 1.25, 0.8, 0.4, 2.5
"""Share of the outline that is thicker than printed where a copy hollowed out what was blacked out; times the share of
the page's marks, and where it has more ink than these too; the bare spots within; both where these are smaller."""
SOFT = 0.6
"""Of the outline's sharpness."""
A_WORD_MM = 2.3
"""A word beside a box lies along less of its side than this."""
ONE_ARM, MORE_THAN_USUAL = 0.85, 1.5
"""Of a page's usual ink; the tail of a neighbour's tick has less."""
SHADE, SHADE_SHARP = 0.25, 0.9
"""Share of a shadow's ink that is fine, by grain; its steepest edge against the outline's. Pens have sharper ones."""
FAR_LARGER, FAR_SHADE, FAR_SHADE_SHARP = 4.0, 0.4, 1.6
"""The same of what has so many times the box's ink outside of all boxes, as no mark has."""
BEYOND_MARKS = 20.0
"""The same of what only reaches into a box, as the edge of a shadow does."""
STEEPEST = 1.9
"""Of the outline's sharpness; pens stay below 1.8."""
MOSTLY_FINE = 0.6
"""Of a page's ink; a broad pen's strokes are less."""
COARSE, COARSE_PEAK = 0.30, 0.95
"""Share of a mark's ink that is in fine strokes, at least, on a page where twice that is usual."""
HAIR_MM, HAIR_EXTENT_MM = 0.05, 2.0
"""A line is no pen's if it leaves less than this width of perfect black, over this length at least."""
PALER, PALE, TRACE = 0.75, 0.62, 0.2
"""Of the median darkness of the page's marks; one pen in one hand stays above 0.65."""


@dataclass(frozen=True, slots=True)
class Traits:
    """One box's measures."""

    ink: BoxInk
    index: int
    followed: Followed | None
    page: Habits

    @property
    def ink_mm2(self) -> float:
        return float(self.ink.ink_mm2[self.index])

    @property
    def extent_mm(self) -> float:
        return float(self.ink.extent_mm[self.index])

    @property
    def piece_mm2(self) -> float:
        return float(self.ink.piece_mm2[self.index])

    @property
    def covered(self) -> float:
        return float(self.ink.covered[self.index])

    @property
    def inked(self) -> float:
        """The share of the inner box that has ink, however pale."""
        return float(self.ink.density[self.index] / max(self.ink.level[self.index], 1e-6))

    @property
    def is_faint(self) -> bool:
        return bool(self.ink.peak[self.index] < FAINT * self.page.print_darkness)

    @property
    def is_paler(self) -> bool:
        """Whether it is paler than what the taster wrote with."""
        return self.is_faint or bool(self.ink.peak[self.index] < PALER * self.page.peak)

    @property
    def is_pale(self) -> bool:
        """Whether it is far paler than what the taster wrote with, at its darkest or throughout."""
        pale = self.ink.peak[self.index] < PALE * self.page.peak
        return bool(pale or self.ink.level[self.index] < PALE_THROUGHOUT * self.page.level)

    @property
    def is_heavy(self) -> bool:
        """Whether it has far more ink than the page's open marks, over much of the box, or lies under a paler fill."""
        many = self.page.fills is False and self.ink_mm2 > MANY_TIMES * self.page.ink_mm2 > 0
        return bool(many and self.covered > HALF_OPEN) or (not self.page.fills and (self.is_washed or self.is_framed))

    @property
    def is_framed(self) -> bool:
        """Whether its outline is thick beside those of the page's marks: a fill's edges, its middle lost in copying."""
        hollow = self.ink.gap_mm[self.index] > HOLLOW_MM
        least, more = (LINED, MORE_LINED) if hollow else (FAR_LINED, FAR_MORE_LINED)
        if hollow and self.ink_mm2 > MORE_THAN_USUAL * self.page.ink_mm2:
            more = HEAVY_LINED
        return bool(self.page.lined > 0 and self.ink.lined[self.index] > max(least, more * self.page.lined))

    @property
    def is_washed(self) -> bool:
        """Whether hardly any paper is left bare, by ink that is broader than a stroke."""
        share = max(INKED, self.page.inked + MORE_INKED) if self.page.inked > 0 else INKED_ALONE
        return self.inked > share and self.fine_mm2 < WASHED * self.ink_mm2

    @property
    def is_central(self) -> bool:
        return bool(self.ink.core_mm2[self.index] >= NOTHING_MM2)

    @property
    def is_outlying(self) -> bool:
        """Whether next to nothing of it comes into the core, and its strokes are far larger outside of all boxes."""
        return (
            self.followed is not None and not self.is_central and self.followed.abroad_mm2 > FAR_LARGER * self.ink_mm2
        )

    @property
    def is_well_within(self) -> bool:
        """Whether so much of it is in the core that it cannot be an outline in the wrong place."""
        return bool(self.ink.core_mm2[self.index] >= WITHIN_MM2)

    @property
    def may_be_outline(self) -> bool:
        """Whether it may be the box's own outline in a wrong place: seen nowhere, or like a line along one side."""
        if self.page.even:
            return False
        beside = self.ink.beside_mm[self.index]
        along = beside.argmax()
        shifted = bool(beside[along] > WHOLE_SIDE_MM and beside[(along + 2) % 4] < BARE_SIDE_MM)
        outline = self.ink.outline[self.index]
        least = OUTLINE_SEEN if self.covered < OPEN_WIDE else OUTLINE_LOST
        lost = bool(outline < least and self.covered < HALF_OPEN)
        return lost or (shifted and not self.is_well_within)

    @property
    def is_full(self) -> bool:
        gapless = self.ink.gap_mm[self.index] < OPEN_GAP_MM or self.page.fills is False
        return bool(self.covered >= self.page.open and gapless)

    @property
    def has_turns(self) -> bool:
        return bool(self.ink.turns[self.index] >= TURNS)

    @property
    def may_be_astray(self) -> bool:
        """Whether it may be the tail of a mark in another box: a straight stroke on a page of others, near that box."""
        near = self.followed is not None and self.followed.reaches
        slight = self.ink_mm2 < ONE_ARM * self.page.ink_mm2 or self.page.ink_mm2 == 0
        return near and slight and not (self.has_turns or self.page.straight)

    @property
    def is_usual(self) -> bool:
        """Whether it has about as much ink as the page's marks, and passes through the core as they do."""
        usual = ONE_ARM * self.page.ink_mm2 <= self.ink_mm2 <= MORE_THAN_USUAL * self.page.ink_mm2
        return usual and self.is_well_within

    @property
    def line(self) -> LineThrough | None:
        return self.followed.line if self.followed is not None else None

    @property
    def is_flanked(self) -> bool:
        """Whether ink lies on opposite sides of it: more than a word at one side, or rings above and below, give."""
        above, right, below, left = self.ink.beside_mm[self.index]
        sideways = max(left, right) > A_WORD_MM and min(above, below) > 0.7
        return bool(min(left, right) > A_WORD_MM or sideways)

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
        """Whether its ink is no stroke: pale and soft, or faint and broad, and part of something mostly outside or
        next to nothing beside what the taster wrote with."""
        spreads = self.followed is not None and self.followed.abroad_mm2 >= self.ink_mm2
        is_broad = self.fine_mm2 < max(NOTHING_MM2, 0.25 * self.ink_mm2)
        is_wash = self.is_soft and self.is_paler and (spreads or self.is_faint)
        is_trace = bool(self.ink.peak[self.index] < TRACE * self.page.peak)
        return is_wash or (self.is_faint and is_broad and (spreads or is_trace))

    @property
    def is_shade(self) -> bool:
        """Whether it is part of something larger with neither a stroke nor a stroke's edge, as of a soft shadow."""
        abroad_mm2 = self.followed.abroad_mm2 if self.followed is not None else 0.0
        far = abroad_mm2 > FAR_LARGER * self.ink_mm2
        most_fine, most_sharp = (FAR_SHADE, FAR_SHADE_SHARP) if far else (SHADE, SHADE_SHARP)
        is_broad = self.fine_mm2 < most_fine * self.ink_mm2 < most_fine * abroad_mm2
        is_rim = abroad_mm2 > BEYOND_MARKS * self.ink_mm2 and not self.is_well_within
        sharp = max(self.ink.sharp[self.index], self.ink.sharp_beside[self.index])
        return (is_broad or is_rim) and bool(sharp < most_sharp)

    @property
    def fine_mm2(self) -> float:
        return float(self.ink.fine_mm2[self.index])

    @property
    def is_soft(self) -> bool:
        """Whether it has no edge as a pen's stroke has; a broad pen's own may lie outside of the box."""
        soft = bool(self.ink.sharp[self.index] < SOFT)
        is_broad = self.page.open >= OPEN_BROAD and self.page.fine < MOSTLY_FINE
        return soft and (not is_broad or self.is_paler)

    @property
    def is_skirt(self) -> bool:
        """Whether it keeps to the rim, as in many boxes or steeper than a pen's: it may be the outline's flank."""
        return (self.page.skirt_mm2 > 0 or bool(self.ink.sharp[self.index] > STEEPEST)) and not self.is_central

    @property
    def is_flank(self) -> bool:
        """Whether it is pale, keeps to the rim and is no more than what the outlines' blur leaves in many boxes."""
        return (
            (self.is_faint or self.is_pale) and not self.is_central and self.ink_mm2 < MORE_FLANK * self.page.skirt_mm2
        )

    @property
    def is_coarse(self) -> bool:
        """Whether it is far broader than the strokes on a page of fine ones, and no darker than they are."""
        dark = bool(self.ink.peak[self.index] > COARSE_PEAK * self.page.peak)
        return self.page.fine > MOSTLY_FINE and self.fine_mm2 < COARSE * self.ink_mm2 and not dark
