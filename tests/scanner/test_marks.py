"""The decision rule, on drawn pages: what each way of marking is read as, and what is left to a person."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
import pytest

from kit.sheet_layout import MarkBox, SheetLayout
from scanner import marks as rule
from scanner.locate import Gray, Located, locate
from scanner.read_sheet import read_marks
from scanner.reading import Mark, State
from tests.scanner.pages import Stroke, blackout, cross, draw, form, photograph, tick

PX_PER_MM = 7.0
SHEET = form()
BOX = {(box.field, box.option): box for box in SHEET.marks}
USUAL = [BOX[f"scale.{scale}.{glass}", "2"] for scale in range(6) for glass in (4, 5)]
"""Boxes that are marked to show the taster's way of marking."""
ONE = BOX["words.1", "word-4-0"]
LONE = BOX["words.2", "word-5-1"]
MIDDLE = BOX["scale.3.2", "4"]
RIGHT = BOX["scale.3.2", "5"]


def read(page: Gray, sheet: SheetLayout = SHEET) -> dict[tuple[str, str], Mark]:
    located = locate(page, (sheet,))
    assert isinstance(located, Located), located
    return {(mark.field, mark.option): mark for mark in read_marks(page, located, sheet)}


def page_of(strokes: Sequence[Stroke], pen_mm: float = 0.45, pen_gray: int = 40) -> Gray:
    return draw(SHEET, px_per_mm=PX_PER_MM, strokes=strokes, pen_mm=pen_mm, pen_gray=pen_gray)


def crosses(boxes: Sequence[MarkBox] = USUAL) -> list[Stroke]:
    return [stroke for box in boxes for stroke in cross(box)]


def state(page: Gray, box: MarkBox) -> State:
    return mark_of(page, box).state


def mark_of(page: Gray, box: MarkBox) -> Mark:
    return read(page)[box.field, box.option]


def others(page: Gray, *boxes: MarkBox) -> set[State]:
    apart = {(box.field, box.option) for box in (*boxes, *USUAL)}
    return {mark.state for name, mark in read(page).items() if name not in apart}


def centre(box: MarkBox) -> tuple[float, float]:
    return box.x_mm + box.w_mm / 2, box.y_mm + box.h_mm / 2


def circle(box: MarkBox, radius_mm: float) -> Stroke:
    x, y = centre(box)
    return [(x + radius_mm * np.cos(turn), y + radius_mm * np.sin(turn)) for turn in np.linspace(0, 6.3, 40)]


def dashes(box: MarkBox, gap_mm: float, from_mm: float = 0.3) -> list[Stroke]:
    return [
        [(box.x_mm + 0.3, box.y_mm + y), (box.x_mm + box.w_mm - 0.3, box.y_mm + y)]
        for y in np.arange(from_mm, box.h_mm - 0.2, gap_mm)
    ]


def test_an_unmarked_page_is_empty_throughout() -> None:
    assert {mark.state for mark in read(page_of([])).values()} == {State.EMPTY}


@pytest.mark.parametrize(
    ("kind", "strokes"),
    [
        ("cross", cross(ONE)),
        ("small cross", cross(ONE, 0.5)),
        ("large cross", cross(ONE, 1.3)),
        ("tick", tick(ONE)),
        ("tick with a tail", tick(ONE, tail_mm=3.0)),
        ("slash", cross(ONE)[:1]),
        ("backslash", cross(ONE)[1:]),
        ("little circle", [circle(ONE, 1.4)]),
        ("wave", [[(ONE.x_mm + 0.5 + 0.6 * n, ONE.y_mm + 1.2 + 2.0 * (n % 2)) for n in range(7)]]),
        ("scribble", dashes(ONE, 1.0)),
    ],
)
def test_people_mark_in_many_ways(kind: str, strokes: list[Stroke]) -> None:
    page = page_of(crosses() + strokes)
    assert state(page, ONE) is State.MARKED, kind
    assert others(page, ONE) == {State.EMPTY}


@pytest.mark.parametrize(("pen_mm", "pen_gray"), [(0.3, 60), (0.3, 130), (0.9, 50), (1.2, 30)])
def test_pens_from_pale_ballpoint_to_broad_felt_tip_are_read(pen_mm: float, pen_gray: int) -> None:
    page = page_of(crosses([*USUAL, ONE]), pen_mm, pen_gray)
    assert {read(page)[box.field, box.option].state for box in (*USUAL, ONE)} == {State.MARKED}
    assert others(page, ONE) == {State.EMPTY}


def test_a_page_of_dots_is_read_and_a_dot_among_crosses_is_looked_at() -> None:
    dots = [[centre(box), (centre(box)[0] + 0.05, centre(box)[1])] for box in [*USUAL, ONE]]
    assert state(page_of(dots, pen_mm=1.5), ONE) is State.MARKED
    mixed = draw(SHEET, px_per_mm=PX_PER_MM, strokes=crosses())
    x, y = (round(value * PX_PER_MM) for value in centre(ONE))
    cv2.circle(mixed, (x, y), 6, 40, -1)
    assert state(mixed, ONE) is State.DOUBTFUL


def test_an_answer_blacked_out_among_crosses_is_taken_back() -> None:
    page = page_of([*crosses(), *blackout(ONE)])
    assert state(page, ONE) is State.WITHDRAWN


def test_an_answer_blacked_out_in_a_pick_one_field_needs_another_choice_beside_it() -> None:
    assert state(page_of([*crosses(), *blackout(MIDDLE), *cross(RIGHT)]), MIDDLE) is State.WITHDRAWN
    alone = mark_of(page_of([*crosses(), *blackout(MIDDLE)]), MIDDLE)
    assert (alone.state, alone.reason) == (State.DOUBTFUL, rule.WITHDRAWN_ALONE)


def test_a_blacked_out_box_is_not_guessed_where_the_page_has_no_other_marks() -> None:
    only = mark_of(page_of(blackout(ONE)), ONE)
    assert (only.state, only.reason) == (State.DOUBTFUL, rule.HALF_BLACK)


def test_a_mark_blacked_out_in_a_paler_tone_than_its_own_is_no_mark() -> None:
    fill = draw(SHEET, px_per_mm=PX_PER_MM, strokes=blackout(ONE), pen_gray=165)
    page = np.minimum(page_of(crosses([*USUAL, ONE]), pen_mm=0.7, pen_gray=20), fill)
    assert mark_of(page, ONE).reason == rule.HALF_BLACK
    assert {read(page)[box.field, box.option].state for box in USUAL} == {State.MARKED}


def test_a_half_blacked_box_among_crosses_is_looked_at() -> None:
    strokes = [stroke for stroke in blackout(ONE) if stroke[0][1] < ONE.y_mm + 0.75 * ONE.h_mm]
    page = page_of([*crosses(), *strokes])
    assert state(page, ONE) is State.DOUBTFUL


def test_on_a_page_of_filled_boxes_filling_is_marking() -> None:
    filled = [stroke for box in [*USUAL, ONE] for stroke in blackout(box)]
    page = page_of(filled, pen_gray=90)
    assert {read(page)[box.field, box.option].state for box in (*USUAL, ONE)} == {State.MARKED}
    assert others(page, ONE) == {State.EMPTY}


def test_two_filled_boxes_in_one_pick_one_field_are_looked_at() -> None:
    page = page_of([stroke for box in [*USUAL, MIDDLE, RIGHT] for stroke in blackout(box)], pen_gray=90)
    assert {state(page, MIDDLE), state(page, RIGHT)} == {State.DOUBTFUL}
    assert state(page, USUAL[0]) is State.MARKED


def test_a_blacker_box_on_a_page_of_filled_boxes_is_looked_at() -> None:
    page = page_of([stroke for box in USUAL for stroke in blackout(box)], pen_gray=90)
    blacker = draw(SHEET, px_per_mm=PX_PER_MM, strokes=blackout(ONE), pen_gray=30)
    assert state(np.minimum(page, blacker), ONE) is State.DOUBTFUL


def test_two_open_marks_in_a_pick_one_field_stay_two_marks() -> None:
    page = page_of(crosses([*USUAL, MIDDLE, RIGHT]))
    assert {state(page, MIDDLE), state(page, RIGHT)} == {State.MARKED}


def test_a_tail_that_touches_the_neighbour_leaves_it_empty() -> None:
    end = (RIGHT.x_mm + 1.4, RIGHT.y_mm + 1.0)
    strokes = [[(MIDDLE.x_mm + 0.7, MIDDLE.y_mm + 2.2), (MIDDLE.x_mm + 1.8, MIDDLE.y_mm + 3.8), end]]
    page = page_of([*crosses(), *strokes])
    assert state(page, MIDDLE) is State.MARKED
    assert state(page, RIGHT) is State.EMPTY


def test_a_tail_that_runs_through_the_neighbour_is_looked_at_there() -> None:
    end = (RIGHT.x_mm + 4.0, RIGHT.y_mm + 0.8)
    strokes = [[(MIDDLE.x_mm + 0.7, MIDDLE.y_mm + 1.8), (MIDDLE.x_mm + 1.8, MIDDLE.y_mm + 3.8), end]]
    page = page_of([*crosses(), *strokes])
    assert state(page, MIDDLE) is State.MARKED
    assert state(page, RIGHT) is State.DOUBTFUL


def test_two_crosses_that_touch_each_other_are_two_marks() -> None:
    page = page_of(crosses(USUAL) + cross(MIDDLE, 1.7) + cross(RIGHT, 1.7))
    assert {state(page, MIDDLE), state(page, RIGHT)} == {State.MARKED}


def test_an_underlined_word_does_not_mark_the_box_that_its_line_runs_into() -> None:
    y = LONE.y_mm + 3.9
    page = page_of([*crosses(), [(LONE.x_mm - 9.0, y), (LONE.x_mm + 2.2, y)]])
    assert state(page, LONE) in (State.EMPTY, State.DOUBTFUL)


@pytest.mark.parametrize("radius_mm", [3.0, 3.3, 3.8])
def test_a_ring_around_an_empty_box_is_looked_at(radius_mm: float) -> None:
    page = page_of([*crosses(), circle(LONE, radius_mm)])
    assert state(page, LONE) is State.DOUBTFUL
    assert others(page, LONE) == {State.EMPTY}


def test_a_faint_mark_is_looked_at() -> None:
    page = draw(SHEET, px_per_mm=PX_PER_MM, strokes=cross(ONE), pen_gray=215)
    faint = mark_of(page, ONE)
    assert (faint.state, faint.reason) == (State.DOUBTFUL, rule.FAINT_MARK)


def test_a_mark_far_paler_than_the_others_is_looked_at() -> None:
    pale = draw(SHEET, px_per_mm=PX_PER_MM, strokes=cross(ONE), pen_gray=150)
    assert state(np.minimum(page_of(crosses()), pale), ONE) is State.DOUBTFUL
    assert state(pale, ONE) is State.MARKED


def test_a_speck_is_nothing_and_a_larger_spot_is_looked_at() -> None:
    page = page_of(crosses())
    x, y = (round(value * PX_PER_MM) for value in centre(ONE))
    page[y : y + 2, x : x + 2] = 30
    assert state(page, ONE) is State.EMPTY
    page[y : y + 5, x : x + 5] = 30
    assert state(page, ONE) is State.DOUBTFUL


def test_a_line_along_one_side_of_a_box_is_no_mark() -> None:
    """As is left of a scanner's streak between the printed lines."""
    x = LONE.x_mm + 0.9
    page = page_of([*crosses(USUAL[:3]), [(x, LONE.y_mm + 0.4), (x - 0.1, LONE.y_mm + LONE.h_mm - 0.4)]])
    assert state(page, LONE) is State.DOUBTFUL


def test_two_spots_in_one_box_are_no_mark() -> None:
    page = page_of([])
    x, y = (round(value * PX_PER_MM) for value in centre(MIDDLE))
    for away in (-7, 4):
        cv2.circle(page, (x + away, y + away), 2, 20, -1)
    assert mark_of(page, MIDDLE).reason == rule.SLIGHT


@pytest.mark.parametrize("level", [True, False])
def test_a_crease_through_many_boxes_marks_none(level: bool) -> None:
    strokes: list[Stroke] = [[(8.0, MIDDLE.y_mm + 2.0), (200.0, MIDDLE.y_mm + 2.6)]]
    if not level:
        strokes = [[(MIDDLE.x_mm + 1.8, 30.0), (MIDDLE.x_mm + 2.4, 250.0)]]
    crease = draw(SHEET, px_per_mm=PX_PER_MM, strokes=strokes, pen_mm=0.3, pen_gray=170)
    page = np.minimum(page_of(crosses()), crease)
    assert others(page) == {State.EMPTY}
    assert {read(page)[box.field, box.option].state for box in USUAL} == {State.MARKED}


def test_a_dark_line_through_boxes_is_looked_at() -> None:
    page = page_of([*crosses(), [(8.0, LONE.y_mm + 2.0), (100.0, LONE.y_mm + 2.2)]])
    assert state(page, LONE) is State.DOUBTFUL


def test_a_hard_shadow_across_boxes_is_not_ink() -> None:
    page = page_of(crosses())
    shadow = np.asarray(np.ones(page.shape), np.float64)
    shadow[:, round((MIDDLE.x_mm + 2.0) * PX_PER_MM) :] = 0.55
    shadow = np.asarray(cv2.GaussianBlur(shadow, (0, 0), 0.8 * PX_PER_MM), np.float64)
    assert others((page * shadow).astype(np.uint8)) <= {State.EMPTY, State.DOUBTFUL}
    assert state((page * shadow).astype(np.uint8), USUAL[0]) is State.MARKED


@pytest.mark.parametrize("pen_mm", [0.45, 1.2])
@pytest.mark.parametrize("wide_mm", [2.0, 3.5, 5.0])
def test_soft_crossing_shadows_are_no_marks(pen_mm: float, wide_mm: float) -> None:
    """As of a chair's cane, or of leaves: narrower than a box, darkest where they cross, nowhere sharp."""
    page = page_of(crosses(), pen_mm)
    y, x = (np.arange(length) / PX_PER_MM for length in page.shape)
    light = np.ones(page.shape)
    for turn in (0.9, 2.3):
        across = (x[None] * np.cos(turn) + y[:, None] * np.sin(turn)) % 23.0 - 11.5
        light *= 1.0 - 0.3 / (1.0 + np.exp((np.abs(across) - wide_mm / 2) / 0.35))
    assert others((page * light).astype(np.uint8)) <= {State.EMPTY, State.DOUBTFUL}


@pytest.mark.parametrize(("frame_mm", "wanted"), [(1.2, State.DOUBTFUL), (0.25, State.MARKED)])
def test_a_mark_in_a_thick_frame_is_looked_at(frame_mm: float, wanted: State) -> None:
    """As a copier leaves of a tick blacked out when it keeps only the edges of what is black."""
    rim = [(0.0, 0.0), (ONE.w_mm, 0.0), (ONE.w_mm, ONE.h_mm), (0.0, ONE.h_mm), (0.0, 0.0)]
    frame = page_of([[(ONE.x_mm + x, ONE.y_mm + y) for x, y in rim]], pen_mm=frame_mm)
    assert state(np.minimum(page_of(crosses() + tick(ONE)), frame), ONE) is wanted


@pytest.mark.parametrize("gray", [255, 140])
def test_a_covered_box_is_looked_at(gray: int) -> None:
    """By glare or by a thumb: a box that cannot be seen is not empty."""
    page = page_of(crosses())
    x, y = (round(value * PX_PER_MM) for value in centre(LONE))
    cv2.circle(page, (x, y), round(6 * PX_PER_MM), gray, -1)
    assert mark_of(page, LONE).state is State.DOUBTFUL


def test_a_photograph_says_the_same_as_the_page() -> None:
    page = page_of([*crosses([*USUAL, ONE]), *blackout(LONE)])
    photo = photograph(page, [(200.0, 150.0), (1500.0, 190.0), (1450.0, 2060.0), (170.0, 1950.0)], (1700, 2200))
    assert read(photo) == read(page)


@pytest.mark.parametrize("blur_mm", [0.24, 0.27, 0.30, 0.33, 0.36])
def test_the_blurred_flanks_of_an_outline_are_no_mark(blur_mm: float) -> None:
    small = cv2.resize(page_of(crosses()), None, fx=4 / PX_PER_MM, fy=4 / PX_PER_MM, interpolation=cv2.INTER_AREA)
    page = np.asarray(cv2.GaussianBlur(small, (0, 0), 4 * blur_mm), np.uint8)
    assert others(page) <= {State.EMPTY, State.DOUBTFUL}


def test_on_crumpled_paper_an_outline_out_of_its_place_is_no_mark() -> None:
    """A box is found anywhere within 1.1 mm (`register`); this one lies farther off, and others show the crumpling."""
    astray = {(MIDDLE.field, MIDDLE.option): 1.45} | {(box.field, box.option): 0.45 for box in SHEET.marks[::9]}
    crumpled = replace(SHEET, marks=tuple(_moved(box, astray.get((box.field, box.option), 0.0)) for box in SHEET.marks))
    assert mark_of(draw(crumpled, px_per_mm=PX_PER_MM, strokes=crosses()), MIDDLE).state is State.DOUBTFUL


def _moved(box: MarkBox, by_mm: float) -> MarkBox:
    return replace(box, x_mm=box.x_mm + by_mm, y_mm=box.y_mm + by_mm)


def test_a_box_without_neighbours_is_read() -> None:
    lone = replace(SHEET, marks=(*(BOX[f"words.{glass}", "word-0-1"] for glass in (1, 2, 3)), MIDDLE))
    page = draw(lone, px_per_mm=PX_PER_MM, strokes=tick(MIDDLE, tail_mm=2.0))
    assert [mark.state for mark in read(page, lone).values()] == [State.EMPTY] * 3 + [State.MARKED]


def test_every_box_is_listed_once_in_the_layouts_order() -> None:
    assert list(read(page_of([]))) == [(box.field, box.option) for box in SHEET.marks]
