"""What a picture adds to a page, and what is taken out of it again: streaks, grain, stains; and what must be kept."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from scanner.grain import without_grain
from scanner.read_sheet import SURROUNDED
from scanner.reading import State
from scanner.sampling import Gray
from scanner.streaks import without_streaks
from tests.scanner.pages import cross, draw
from tests.scanner.test_marks import (
    BOX,
    LONE,
    ONE,
    PX_PER_MM,
    SHEET,
    USUAL,
    centre,
    crosses,
    mark_of,
    others,
    page_of,
    read,
    state,
)


def streaked(page: Gray, x_mm: float, darker: float = 0.3, width_px: int = 2) -> Gray:
    page = page.copy()
    column = round(x_mm * PX_PER_MM)
    page[:, column : column + width_px] = (page[:, column : column + width_px] * (1 - darker)).astype(np.uint8)
    return page


@pytest.mark.parametrize("across", [False, True])
@pytest.mark.parametrize("darker", [0.05, 0.3, 0.45])
def test_a_streak_through_boxes_is_taken_out(darker: float, across: bool) -> None:
    page = page_of(crosses())
    x_mm, y_mm = centre(ONE)
    spoilt = streaked(page.T, y_mm, darker).T if across else streaked(page, x_mm, darker)
    assert np.abs(without_streaks(np.ascontiguousarray(spoilt)).astype(int) - page).mean() < 0.2
    assert others(np.ascontiguousarray(spoilt)) == {State.EMPTY}
    assert {read(page)[box.field, box.option].state for box in USUAL} == {State.MARKED}


def test_a_picture_without_streaks_is_left_as_it_is() -> None:
    page = page_of(crosses())
    assert without_streaks(page) is page


def test_a_line_that_does_not_run_through_the_whole_picture_is_no_streak() -> None:
    page = page_of(crosses())
    page[: page.shape[0] * 3 // 4, 700:702] = 90
    assert without_streaks(page) is page


def test_marks_that_a_streak_crosses_are_kept() -> None:
    page = streaked(page_of([*crosses(), *cross(ONE)]), centre(ONE)[0] - 0.6)
    assert state(page, ONE) is State.MARKED


def test_a_stroke_along_a_streak_is_kept() -> None:
    """An upright mark that lies exactly where the streak does: darker than the streak, so it is no part of it."""
    x, y = centre(ONE)
    page = page_of([*crosses(), [(x, y - 2.0), (x, y + 2.0)]], pen_mm=0.3)
    for darker in (0.05, 0.2, 0.4):
        assert state(streaked(page, x - 0.1, darker), ONE) in (State.MARKED, State.DOUBTFUL)


def test_a_black_streak_is_never_a_mark() -> None:
    assert State.MARKED not in others(streaked(page_of(crosses()), centre(ONE)[0], 1.0))


def grainy(page: Gray, deviation: float, level: float = 80.0) -> Gray:
    """Return the page in poor light: paper at that level, with grain."""
    rng = np.random.default_rng(4)
    dim = page * (level / 255.0) + cv2.GaussianBlur(rng.normal(0.0, deviation * 2.2, page.shape), (0, 0), 0.6)
    return np.asarray(np.clip(dim, 0, 255), np.uint8)


def test_grain_is_taken_out_and_strokes_are_kept() -> None:
    page = page_of([*crosses(), *cross(ONE)], pen_mm=0.35)
    dim = grainy(page, 14.0)
    everywhere = np.array([[0.0, 0.0], [page.shape[1], page.shape[0]]])
    clean = without_grain(dim, everywhere)
    bare = (slice(20, 60), slice(700, 760))
    assert clean[bare].std() < 0.4 * dim[bare].std()
    assert np.corrcoef(clean.ravel(), page.ravel())[0, 1] > np.corrcoef(dim.ravel(), page.ravel())[0, 1]


def test_only_the_surroundings_of_the_places_are_cleaned() -> None:
    dim = grainy(page_of([]), 14.0)
    clean = without_grain(dim, np.array([[500.0, 500.0], [600.0, 700.0]]))
    changed = np.argwhere(clean != dim)
    assert len(changed)
    assert changed.min(axis=0).tolist() >= [450, 450]
    assert (changed.max(axis=0) <= [750, 650]).all()


def test_no_mark_is_lost_or_made_by_grain() -> None:
    """Whatever the grain, a mark is never read as nothing, nor nothing as a mark."""
    marked = {(box.field, box.option) for box in (*USUAL, ONE)}
    for deviation in (6.0, 14.0):
        page = grainy(page_of([*crosses(), *cross(ONE)], pen_mm=0.35), deviation)
        for name, mark in read(page).items():
            assert mark.state in (State.DOUBTFUL, State.MARKED if name in marked else State.EMPTY)


@pytest.mark.parametrize("radius_mm", [1.2, 2.5, 6.0])
@pytest.mark.parametrize("darkness", [0.1, 0.25, 0.5])
def test_a_soft_stain_is_never_a_mark(radius_mm: float, darkness: float) -> None:
    page = page_of(crosses(), pen_mm=0.3, pen_gray=150)
    x, y = (value * PX_PER_MM for value in centre(ONE))
    rows, columns = np.mgrid[0 : page.shape[0], 0 : page.shape[1]]
    stain = darkness * np.exp(-((columns - x) ** 2 + (rows - y) ** 2) / (2 * (radius_mm / 2 * PX_PER_MM) ** 2))
    spoilt = np.clip(page * (1 - stain), 0, 255).astype(np.uint8)
    assert state(spoilt, ONE) in (State.EMPTY, State.DOUBTFUL)
    assert {read(spoilt)[box.field, box.option].state for box in USUAL} == {State.MARKED}


def test_pale_print_and_pale_marks_are_read_as_dark_ones_are() -> None:
    """A copy with hardly any toner: everything on the page comes out at a third of its darkness."""
    page = page_of([*crosses(), *cross(ONE)])
    pale = (255 - (255 - page.astype(np.float32)) / 3.5).astype(np.uint8)
    assert state(pale, ONE) is State.MARKED
    assert others(pale, ONE) == {State.EMPTY}


@pytest.mark.parametrize("size_px", [2, 3, 4])
@pytest.mark.parametrize("off_mm", [0.0, 0.9, 1.5])
def test_specks_are_nothing_wherever_in_the_box_they_lie(size_px: int, off_mm: float) -> None:
    page = page_of(crosses())
    x, y = (round((value + off_mm) * PX_PER_MM) for value in centre(LONE))
    page[y : y + size_px, x : x + size_px] = 20
    assert state(page, LONE) in (State.EMPTY, State.DOUBTFUL)
    assert size_px > 3 or state(page, LONE) is State.EMPTY


def test_half_blacked_boxes_among_crosses_are_looked_at() -> None:
    """Grainy blacking out, as a one-bit scan of pencil gives it, covers two thirds of the box."""
    rng = np.random.default_rng(8)
    page = page_of(crosses())
    left, top = round(ONE.x_mm * PX_PER_MM), round(ONE.y_mm * PX_PER_MM)
    side = round(ONE.w_mm * PX_PER_MM)
    part = page[top : top + side, left : left + side]
    part[rng.random(part.shape) < 0.68] = 0
    assert mark_of(page, ONE).state is State.DOUBTFUL


def test_a_box_whose_outline_lies_in_it_is_not_marked_by_it() -> None:
    """One box printed where none should be, half a box aside: its lines cross the place of the empty box."""
    page = draw(SHEET, px_per_mm=PX_PER_MM, strokes=crosses())
    box = BOX["words.1", "word-4-1"]
    left, top = (round(value * PX_PER_MM) for value in (box.x_mm, box.y_mm))
    side = round(box.w_mm * PX_PER_MM)
    margin = 4
    cutout = page[top - margin : top + side + margin, left - margin : left + side + margin].copy()
    page[top - margin : top + side + margin, left - margin : left + side + margin] = 255
    shift = round(0.8 * PX_PER_MM)
    place = page[
        top - margin + shift : top + side + margin + shift, left - margin + shift : left + side + margin + shift
    ]
    np.minimum(place, cutout, out=place)
    assert state(page, box) is not State.MARKED


def sharpened(page: Gray, deviation: float, strength: float) -> Gray:
    """Return the page gray, grainy and over-sharpened: bright rims along all that is printed, hard grain."""
    rng = np.random.default_rng(4)
    dull = 0.75 * page + rng.normal(0.0, deviation, page.shape)
    return np.clip(dull + strength * (dull - cv2.GaussianBlur(dull, (0, 0), 1.5)), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("strength", [0.5, 1.0, 2.0])
def test_the_bright_rims_of_a_sharpened_picture_are_not_taken_for_its_paper(strength: float) -> None:
    page = sharpened(page_of(crosses()), 4.0, strength)
    assert others(page) == {State.EMPTY}
    assert {read(page)[box.field, box.option].state for box in USUAL} == {State.MARKED}


@pytest.mark.parametrize("cell_mm", [3.5, 5.0, 7.0])
def test_a_mesh_of_soft_shade_around_boxes_is_no_grain_that_hides_them(cell_mm: float) -> None:
    page = page_of(crosses())
    y, x = np.mgrid[: page.shape[0], : page.shape[1]] / (cell_mm * PX_PER_MM)
    beside = np.maximum(np.abs(x % 1.0 - 0.5), np.abs(y % 1.0 - 0.5))
    shade = cv2.GaussianBlur((beside > 0.35).astype(np.float32), (0, 0), 0.8 * PX_PER_MM)
    shaded = (page * (1.0 - 0.2 * shade)).astype(np.uint8)
    assert SURROUNDED not in {mark.reason for mark in read(shaded).values()}
    assert {read(shaded)[box.field, box.option].state for box in USUAL} == {State.MARKED}


def test_a_broad_trace_far_paler_than_the_marks_is_no_faint_mark() -> None:
    """As a scanner's lid or a dull desk leaves it; a fine stroke as faint is still looked at."""
    page = page_of(crosses(), pen_mm=0.9, pen_gray=20)
    x, y = (round(value * PX_PER_MM) for value in centre(ONE))
    trace, line = np.zeros((2, *page.shape), np.float32)
    cv2.circle(trace, (x, y), round(1.4 * PX_PER_MM), 1.0, -1)
    cv2.line(line, (x - 10, y - 10), (x + 10, y + 10), 1.0, 4)
    seen = {"broad": 0.16 * cv2.GaussianBlur(trace, (0, 0), 0.7), "fine": 0.19 * cv2.GaussianBlur(line, (0, 0), 1.0)}
    states = {name: state(np.rint(page * (1 - darker)).astype(np.uint8), ONE) for name, darker in seen.items()}
    assert states == {"broad": State.EMPTY, "fine": State.DOUBTFUL}
