"""The grays of reports against the contrast that WCAG 2.2 asks for."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanner.reports.inks import (
    BLACK,
    GRAPHICS_RATIO,
    LINE,
    QUIET,
    SHADES,
    TEXT_RATIO,
    TINT,
    WHITE,
    contrast,
    ink_on,
    shade,
)


@pytest.mark.parametrize(
    ("level", "ratio"),
    # Widely published pairs on white: #767676 is the lightest gray that passes 4.5:1, #777777 just fails, #949494 is
    # the lightest for 3:1, #595959 for 7:1 (WebAIM's and the W3C's examples, from memory).
    [(0x76, 4.54), (0x77, 4.48), (0x94, 3.03), (0x95, 2.99), (0x59, 7.0), (0x00, 21.0), (0xFF, 1.0)],
)
def test_contrast_is_that_of_published_pairs(level: int, ratio: float) -> None:
    assert contrast(level / 255) == pytest.approx(ratio, abs=0.006)


@pytest.mark.parametrize("gray", [BLACK, QUIET])
@pytest.mark.parametrize("ground", [WHITE, TINT])
def test_every_gray_of_text_is_read_on_every_ground(gray: float, ground: float) -> None:
    assert contrast(gray, ground) >= TEXT_RATIO


@pytest.mark.parametrize("gray", [BLACK, QUIET, LINE])
def test_every_gray_of_lines_and_marks_is_seen(gray: float) -> None:
    assert contrast(gray) >= GRAPHICS_RATIO


@pytest.mark.parametrize("ground", SHADES)
def test_a_number_is_read_on_every_shade(ground: float) -> None:
    assert contrast(ink_on(ground), ground) >= TEXT_RATIO


@given(st.floats(0, 1))
def test_some_ink_is_read_on_any_gray(ground: float) -> None:
    assert contrast(ink_on(ground), ground) >= TEXT_RATIO


@given(st.floats(0, 1), st.floats(0, 1))
def test_more_is_never_lighter_and_nothing_alone_is_white(one: float, other: float) -> None:
    less, more = sorted((one, other))
    assert shade(less) >= shade(more)
    assert (shade(one) == WHITE) == (one == 0)
