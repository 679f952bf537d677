"""The measures of a picture behind the sentences on what is wrong with it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from scipy import ndimage

from scanner.clarity import clarity_of
from scanner.locate import Located, locate
from scanner.picture_faults import blur_of, equal_squares, light_of, paper_share, print_share
from scanner.read_sheet import read_sheet
from scanner.rehearsal.trial import Held
from tests.scanner.scenes import (
    KITS,
    PX,
    SHEET,
    on_desk,
    page,
    read,
    sheet_on_desk,
    strangers_page,
    taken,
)


@pytest.mark.parametrize("sigma_px", [1.5, 2.0, 3.0, 5.0])
def test_blur_is_measured_as_scipy_blurs(sigma_px: float) -> None:
    """The reference is SciPy's Gaussian filter."""
    scene = ndimage.gaussian_filter(on_desk(strangers_page()).astype(np.float64), sigma_px).astype(np.uint8)
    blur = blur_of(scene)
    assert blur is not None
    assert blur.overall_px == pytest.approx(sigma_px, rel=0.25)
    assert blur.most_px < 1.7 * blur.least_px


@pytest.mark.parametrize("sigma_px", [0.0, 1.0, 1.5, 2.0, 3.0])
def test_a_sheets_blur_is_measured_in_mm_as_scipy_blurs(sigma_px: float) -> None:
    """The reference is SciPy's Gaussian filter; what the measuring adds of its own is below 0.1 mm at 6 px a mm."""
    blurred = ndimage.gaussian_filter(page()[0].astype(np.float64), sigma_px).astype(np.uint8)
    middles = np.array([(square.x_mm + 5.0, square.y_mm + 5.0) for square in SHEET.fiducials])
    clarity = clarity_of(blurred, lambda points: points * PX - 0.5, middles, 10.0)
    true_mm = sigma_px / PX
    assert 0.95 * true_mm - 0.03 < clarity.least_blur_mm <= clarity.most_blur_mm < np.hypot(true_mm, 0.11) + 0.03
    if sigma_px <= 1.5:
        assert clarity.contrast > 0.9


def test_light_paper_and_print_are_measured() -> None:
    light = light_of(np.hstack([np.full((400, 300), 20, np.uint8), np.full((400, 300), 255, np.uint8)]))
    assert (light.darkest, light.lightest) == (20, 255)
    assert light.white == pytest.approx(0.5, abs=0.01)
    table = np.full((1000, 800), 60, np.uint8)
    table[200:600, 100:500] = 230
    assert paper_share(table) == pytest.approx(0.2, abs=0.01)
    assert print_share(table) == 0.0
    assert print_share(taken(on_desk(strangers_page()))) > 0.02


def test_a_forms_boxes_are_counted_and_a_letter_has_none() -> None:
    squares = equal_squares(taken(page()[0]))
    centres = np.array([(box.x_mm + box.w_mm / 2, box.y_mm + box.h_mm / 2) for box in SHEET.marks]) * PX - 0.5
    nearest = np.linalg.norm(centres[:, None] - squares[None], axis=2).min(axis=1)
    assert np.mean(nearest < 3.0) > 0.85
    assert len(equal_squares(taken(on_desk(strangers_page())))) < 15


def test_a_sheet_found_says_how_clear_it_is() -> None:
    located = locate(taken(sheet_on_desk()), [SHEET])
    assert isinstance(located, Located)
    assert located.clarity.contrast == pytest.approx(1 - 15 / 235, abs=0.08)
    assert located.clarity.most_blur_mm < 0.25


def test_a_final_refusal_asks_for_no_more_pixels() -> None:
    large = np.asarray(cv2.resize(taken(sheet_on_desk()), None, fx=2, fy=2), np.uint8)
    mirrored = read_sheet(Held(np.ascontiguousarray(large[:, ::-1])), KITS)
    assert mirrored.reason is not None
    assert mirrored.reason.startswith("the sheet is mirrored")
    assert read(np.ascontiguousarray(large[::2, ::-2])).ample
