"""Two sheets in one picture, one over another or beside it: never read as one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanner.one_sheet import are_two_sheets
from tests.scanner.scenes import (
    BOTH,
    MARGIN_MM,
    OTHER,
    PX,
    SHEET,
    assert_read_as_drawn,
    desk,
    laid,
    page,
    read,
    refused,
    sheet_on_desk,
    taken,
    without,
)


@pytest.mark.parametrize("second", ["other", "first", "strange"])
@pytest.mark.parametrize(
    ("x_mm", "y_mm", "turn_deg", "wide_mm", "tall_mm"),
    [(228.0, 12.0, 2.0, 450.0, 330.0), (180.0, 240.0, 3.0, 410.0, 560.0), (222.0, 10.0, 0.0, 270.0, 320.0)],
    ids=["side by side", "overlapping by a corner", "a strip of another at the edge"],
)
def test_two_sheets_in_one_picture_are_told(
    second: str, x_mm: float, y_mm: float, turn_deg: float, wide_mm: float, tall_mm: float
) -> None:
    scene = laid(desk(wide_mm, tall_mm), page()[0], 8.0, 8.0)
    scene = laid(scene, page(second, 5)[0], x_mm, y_mm, turn_deg)
    assert "two sheets in one picture" in refused(taken(scene), BOTH)


@pytest.mark.parametrize("second", ["other", "first", "strange", "second"])
@pytest.mark.parametrize(("x_mm", "y_mm", "turn_deg"), [(2.0, 1.5, 0.0), (-4.0, 6.0, -1.0)])
def test_of_two_sheets_the_one_that_hides_the_other_is_read_alone(
    second: str, x_mm: float, y_mm: float, turn_deg: float
) -> None:
    scene = laid(sheet_on_desk(0.0), page(second, 5)[0], MARGIN_MM + x_mm, MARGIN_MM + y_mm, turn_deg)
    _, layout, marked = page(second, 5)
    assert_read_as_drawn(read(taken(scene), BOTH), layout, marked)


STEPS = [(0.5, 0.4, 0.0), (2.0, 1.0, 0.3), (-1.5, 3.0, -0.5)]


@pytest.mark.parametrize(("x_mm", "y_mm", "turn_deg"), STEPS)
@pytest.mark.parametrize("cut_mm", [70.0, 150.0, 235.0])
def test_the_lower_part_of_another_copy_of_the_same_sheet_is_not_read_into_it(
    cut_mm: float, x_mm: float, y_mm: float, turn_deg: float
) -> None:
    part = page("first", 5)[0][round(cut_mm * PX) :]
    scene = laid(sheet_on_desk(0.0), part, MARGIN_MM + x_mm, MARGIN_MM + y_mm + cut_mm, turn_deg)
    assert "two sheets overlap" in refused(taken(scene))


@pytest.mark.parametrize(("x_mm", "y_mm", "turn_deg"), STEPS)
def test_a_part_of_another_tasters_sheet_is_not_read_into_a_sheet_whose_code_alone_is_seen(
    x_mm: float, y_mm: float, turn_deg: float
) -> None:
    foot = without(page("other", 5)[0], OTHER.codes[1])[round(150 * PX) :]
    scene = laid(sheet_on_desk(0.0), foot, MARGIN_MM + x_mm, MARGIN_MM + y_mm + 150.0, turn_deg)
    assert "two sheets overlap" in refused(taken(scene))
    half = without(page("other", 5)[0], OTHER.codes[0])[:, round(105 * PX) :]
    scene = laid(sheet_on_desk(0.0), half, MARGIN_MM + x_mm + 105.0, MARGIN_MM + y_mm, turn_deg)
    assert "two sheets overlap" in refused(taken(scene))


EDGES = np.array(SHEET.edge_marks)


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.floats(-1.5, 1.5), min_size=20, max_size=20),
    st.floats(60.0, 240.0),
    st.floats(-0.03, 0.03),
    st.integers(0, 10_000),
)
def test_bent_and_folded_paper_is_one_sheet(bends: list[float], fold_mm: float, kink: float, seed: int) -> None:
    """A cubic bend of up to some mm, a fold that shortens one part by up to 3 %, and 0.05 mm of crumpling."""
    unit = EDGES / (105.0, 148.5) - 1.0
    terms = [unit[:, 0] ** i * unit[:, 1] ** j for i in range(4) for j in range(4 - i)]
    moved = np.stack([np.dot(np.array(bends[:10]), terms), np.dot(np.array(bends[10:]), terms)], axis=1)
    moved[:, 1] += kink * np.clip(EDGES[:, 1] - fold_mm, 0.0, None)
    moved += np.random.default_rng(seed).normal(0.0, 0.05, moved.shape)
    assert not are_two_sheets(EDGES, moved)


@settings(max_examples=80, deadline=None)
@given(
    st.floats(1.2, 4.0),
    st.floats(0.0, 2 * np.pi),
    st.floats(-0.1, 0.1),
    st.floats(0.0, 1.0),
    st.booleans(),
    st.integers(0, 10_000),
)
def test_a_part_that_is_moved_as_a_whole_is_another_sheet(
    step_mm: float, direction: float, turn_deg: float, place: float, across: bool, seed: int
) -> None:
    beyond = EDGES[:, 0] > 85.0 + 40.0 * place if across else EDGES[:, 1] > 75.0 + 145.0 * place
    moved = np.random.default_rng(seed).normal(0.0, 0.01, EDGES.shape)
    turn = np.deg2rad(turn_deg)
    x, y = (EDGES[beyond] - EDGES[beyond].mean(axis=0)).T
    moved[beyond] += step_mm * np.array([np.cos(direction), np.sin(direction)])
    moved[beyond] += np.stack([-np.sin(turn) * y, np.sin(turn) * x], axis=1)
    assert are_two_sheets(EDGES, moved)


@pytest.mark.parametrize("lines_mm", [0.4, -0.55])
def test_lines_that_a_scanner_lost_or_took_twice_are_not_another_sheet(lines_mm: float) -> None:
    """Its carriage waits now and then for the computer: common practice, no published source."""
    moved = np.random.default_rng(1).normal(0.0, 0.01, EDGES.shape)
    below = EDGES[:, 1] > 140.0
    moved[below, 1] += lines_mm
    assert not are_two_sheets(EDGES, moved)
    moved[below, 0] += lines_mm
    assert are_two_sheets(EDGES, moved)
