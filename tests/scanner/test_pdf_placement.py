"""How a picture lies on a PDF's page: the geometry alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanner.pdf_placement import placement
from tests.scanner.pdf_files import (
    FORMS,
)


@given(
    rotation_deg=st.sampled_from([0, 90, 180, 270]),
    orientation=st.sampled_from(sorted(FORMS)),
    left=st.floats(-500, 500),
    low=st.floats(-500, 500),
    width=st.floats(100, 900),
    height=st.floats(100, 900),
)
def test_a_picture_that_fills_its_page_is_shown_whole(
    rotation_deg: int, orientation: int, left: float, low: float, width: float, height: float
) -> None:
    a, b, c, d, e, f = FORMS[orientation]
    matrix = (a * width, b * height, c * width, d * height, e * width + left, f * height + low)
    size_px = (round(10 * height), round(10 * width)) if orientation > 4 else (round(10 * width), round(10 * height))
    place = placement(size_px, matrix, (left, low, left + width, low + height), rotation_deg)
    assert place is not None
    assert place.shown == (0, 0, 1, 1)
    turned = size_px if (orientation > 4) == (rotation_deg in (90, 270)) else size_px[::-1]
    assert place.upright_size(*size_px) == turned


@pytest.mark.parametrize(("angle_deg", "taken"), [(0.3, True), (0.7, False), (90.3, True), (89.3, False), (45, False)])
def test_a_picture_that_lies_aslant_is_not_taken(angle_deg: float, taken: bool) -> None:
    across, up = 100 * np.exp(1j * np.radians(angle_deg)), 100j * np.exp(1j * np.radians(angle_deg))
    matrix = (across.real, across.imag, up.real, up.imag, 50, 50)
    assert (placement((100, 100), matrix, (-51, 49, 151, 151), 0) is not None) == taken


def test_a_picture_without_extent_has_no_placement() -> None:
    assert placement((100, 100), (0, 0, 0, 0, 5, 5), (0, 0, 100, 100), 0) is None
    assert placement((100, 100), (100, 0, 100, 0, 0, 0), (0, 0, 100, 100), 0) is None
    assert placement((100, 100), (100, 0, 0, 100, 500, 500), (0, 0, 100, 100), 0) is None
