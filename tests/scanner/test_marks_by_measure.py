"""The decision rule on measures as rehearsals gave them, where a box came out wrong once and no drawing shows it."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from scanner import marks as rule
from scanner.box_ink import BoxInk
from scanner.line_through import LineThrough
from scanner.reading import Mark, State
from scanner.whose_stroke import Followed
from tests.scanner.pages import form

SHEET = form()
SHADOWS_EDGE = {"ink_mm2": 0.38, "density": 0.036, "level": 0.2, "extent_mm": 3.34, "peak": 0.28, "covered": 0.18}
SHADOWS_EDGE |= {"turns": 1.3, "gap_mm": 1.6, "fine_mm2": 0.25, "sharp": 0.69, "touching": 1.0}
STREAK = {"ink_mm2": 1.17, "density": 0.11, "level": 0.57, "extent_mm": 3.3, "peak": 0.74, "covered": 0.18}
STREAK |= {"turns": 1.09, "gap_mm": 1.6, "fine_mm2": 1.08, "sharp": 1.24, "touching": 1.0}
SPECKS = {"ink_mm2": 0.52, "density": 0.05, "level": 0.18, "extent_mm": 4.6, "peak": 0.54, "covered": 0.28}
SPECKS |= {"core_mm2": 0.01, "turns": 1.15, "gap_mm": 1.07, "fine_mm2": 0.23, "sharp": 1.09, "touching": 1.0}
CORNER = {"ink_mm2": 0.82, "density": 0.08, "level": 0.34, "extent_mm": 3.3, "peak": 0.58, "covered": 0.15}
CORNER |= {"core_mm2": 0.51, "turns": 1.1, "gap_mm": 1.6, "fine_mm2": 0.82, "sharp": 1.3}
BAR = {"ink_mm2": 1.06, "density": 0.1, "level": 0.19, "extent_mm": 3.8, "peak": 0.23, "covered": 0.53}
BAR |= {"core_mm2": 0.43, "turns": 1.3, "gap_mm": 1.7, "fine_mm2": 0.09, "sharp": 0.72, "touching": 1.0}
DOTS = {"ink_mm2": 8.1, "density": 0.77, "level": 0.77, "extent_mm": 4.6, "peak": 1.0, "covered": 0.55}
DOTS |= {"core_mm2": 3.7, "turns": 1.3, "gap_mm": 0.51, "fine_mm2": 7.0, "sharp": 1.05}
CROSS = {"ink_mm2": 3.25, "density": 0.31, "level": 0.57, "extent_mm": 4.6, "peak": 0.98, "covered": 0.37}
CROSS |= {"core_mm2": 1.6, "turns": 1.3, "gap_mm": 1.4, "fine_mm2": 2.9, "sharp": 1.1, "touching": 1.0, "lined": 0.24}
FILLED_OVER = CROSS | {
    "ink_mm2": 5.1,
    "density": 0.48,
    "level": 0.65,
    "covered": 0.51,
    "gap_mm": 0.95,
    "fine_mm2": 4.1,
}
EMPTY = dict.fromkeys(DOTS, 0.0)


def page_of(*boxes: dict[str, float], outline: float = 1.0) -> BoxInk:
    """Return a page's measures from those of its boxes; what is not told is 0, all ink is in one piece."""
    bare = {field.name: np.zeros(len(boxes)) for field in fields(BoxInk)}
    told = {name: np.array([box.get(name, 0.0) for box in boxes]) for name in (*DOTS, "lined", "touching")}
    told |= {"piece_mm2": told["ink_mm2"], "outline": np.full(len(boxes), outline)}
    return BoxInk(**bare | told | {"beside_mm": np.zeros((len(boxes), 4))})


def followed(own_mm2: float, *, abroad_mm2: float = 0.0, line: LineThrough | None = None) -> Followed:
    return Followed(own_mm2, 0.0, 0.0, 0.0, (), abroad_mm2, 1, False, 0.0, 0.0, line)


def first_mark(page: BoxInk, seen: dict[int, Followed], *, print_darkness: float, even: bool = False) -> Mark:
    count = len(page.ink_mm2)
    return rule.decide(SHEET.marks[:count], page, seen, np.ones(count, np.bool_), print_darkness, even)[0]


@pytest.mark.parametrize("core_mm2", [0.0, 0.06])
@pytest.mark.parametrize(("abroad_mm2", "reason"), [(46.9, rule.BLURRED), (0.0, None)])
def test_what_only_reaches_into_a_box_from_far_larger_ink_is_no_mark(
    abroad_mm2: float, reason: str | None, core_mm2: float
) -> None:
    """The edge of a window frame's shadow along a box, and of a chair's a little farther in."""
    page = page_of(SHADOWS_EDGE | {"core_mm2": core_mm2}, EMPTY, EMPTY, EMPTY)
    assert first_mark(page, {0: followed(0.38, abroad_mm2=abroad_mm2)}, print_darkness=0.57).reason == reason


@pytest.mark.parametrize(("abroad_mm2", "reason"), [(8.3, rule.PASSING), (1.0, None)])
def test_what_leaves_the_core_bare_and_is_far_larger_outside_is_no_mark(abroad_mm2: float, reason: str | None) -> None:
    """Two specks and the dark line of a fold that stood off the glass, taken for one stroke."""
    page = page_of(SPECKS, EMPTY, EMPTY, EMPTY)
    assert first_mark(page, {0: followed(0.52, abroad_mm2=abroad_mm2)}, print_darkness=0.73).reason == reason


@pytest.mark.parametrize(("rest_mm2", "reason"), [(0.06, rule.SLIGHT), (0.3, None)])
def test_a_straight_line_along_a_box_s_side_is_no_mark(rest_mm2: float, reason: str | None) -> None:
    """A feeder's streak, as dark as the pen, on a one-bit scan."""
    page, line = page_of(STREAK, EMPTY, EMPTY, EMPTY), LineThrough(-0.75, 6.4, True, rest_mm2)
    seen = {0: followed(1.17, abroad_mm2=0.4, line=line)}
    assert first_mark(page, seen, print_darkness=0.8, even=True).reason == reason


@pytest.mark.parametrize(("outline", "reason"), [(0.34, rule.UNPLACED), (0.516, rule.UNPLACED), (0.9, None)])
def test_the_corner_of_an_outline_far_from_its_place_is_no_mark(outline: float, reason: str | None) -> None:
    """A box looked for a millimetre off, on a sheet on somebody's knees; and on one that the wind lifted."""
    page = page_of(CORNER, EMPTY, EMPTY, EMPTY, outline=outline)
    assert first_mark(page, {0: followed(0.82)}, print_darkness=0.63).reason == reason


@pytest.mark.parametrize(("shades", "wanted"), [(4, State.DOUBTFUL), (0, State.MARKED)])
def test_what_is_like_many_shadows_of_its_page_is_no_mark(shades: int, wanted: State) -> None:
    """A bar of a chair's shadow, by a hair too sharp for one."""
    page = page_of(BAR, *[BAR | {"sharp": 0.3}] * shades)
    seen = {index: followed(1.06, abroad_mm2=0.5) for index in range(shades + 1)}
    assert first_mark(page, seen, print_darkness=0.63).state is wanted


@pytest.mark.parametrize(("lined", "wanted"), [(0.6, State.DOUBTFUL), (0.3, State.MARKED)])
def test_a_scribble_in_a_far_thicker_frame_is_looked_at(lined: float, wanted: State) -> None:
    """Dots blacked out, rolled and faxed, among five other marks."""
    page = page_of(DOTS | {"lined": lined}, *[DOTS | {"lined": 0.18}] * 5)
    assert first_mark(page, {}, print_darkness=0.65, even=True).state is wanted


@pytest.mark.parametrize(("more", "wanted"), [(FILLED_OVER, State.DOUBTFUL), (CROSS, State.MARKED)])
def test_a_heavy_cross_in_a_thicker_frame_is_looked_at(more: dict[str, float], wanted: State) -> None:
    """Blacked out with pale ink, of which a fax kept the edges alone; a cross in such a frame is one."""
    page = page_of(more | {"lined": 0.316}, *[CROSS] * 5)
    assert first_mark(page, {}, print_darkness=0.7, even=True).state is wanted
