"""Putting boxes in their places by their outlines, and saying how certain a place is."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from kit.sheet_layout import MarkBox
from scanner.geometry import Floats, no_bend, no_rim
from scanner.locate import Gray, Located, locate
from scanner.register import CERTAIN_MM, Placement, register
from scanner.sampling import along_mm, sample_patches
from tests.scanner.pages import blackout, cross, draw, form

PX_PER_MM = 7.0
SHEET = form()
PAGE = draw(SHEET, px_per_mm=PX_PER_MM)
CENTRES = np.array([(box.x_mm + box.w_mm / 2, box.y_mm + box.h_mm / 2) for box in SHEET.marks])


def located(page: Gray = PAGE) -> Located:
    sheet = locate(page, (SHEET,))
    assert isinstance(sheet, Located)
    return sheet


def error_mm(sheet: Located, placed: Placement, truth_mm: Floats = CENTRES) -> Floats:
    found_px = sheet.to_px(placed.centres_mm)
    return np.asarray(np.linalg.norm(found_px - (truth_mm * PX_PER_MM - 0.5), axis=1) / PX_PER_MM, np.float64)


def moved(shift_mm: Floats, page: Gray = PAGE) -> Gray:
    """Return the page with every point moved by what `shift_mm` (H, W, 2) says of the place where it arrives."""
    rows, columns = np.mgrid[0 : page.shape[0], 0 : page.shape[1]]
    maps = [(place - PX_PER_MM * shift_mm[..., axis]).astype(np.float32) for axis, place in enumerate((columns, rows))]
    return np.asarray(cv2.remap(page, maps[0], maps[1], cv2.INTER_LINEAR, borderValue=255), np.uint8)


def test_boxes_of_a_flat_page_are_placed_to_a_twentieth_of_a_millimetre() -> None:
    sheet = located()
    placed = register(PAGE, sheet, SHEET.marks)
    assert placed.outline_seen.all()
    assert placed.certain.all()
    assert error_mm(sheet, placed).max() < 0.05


def test_outlines_put_right_what_fiducials_and_edge_marks_do_not_show() -> None:
    sheet = located()
    off = replace(
        sheet, mm_to_px=np.array([[1, 0, 0.5 * PX_PER_MM], [0, 1, -0.4 * PX_PER_MM], [0, 0, 1]]) @ sheet.mm_to_px
    )
    placed = register(PAGE, off, SHEET.marks)
    assert placed.certain.all()
    assert error_mm(off, placed).max() < 0.08


def test_marks_in_the_boxes_do_not_move_them() -> None:
    rng = np.random.default_rng(5)
    strokes = []
    for box in SHEET.marks:
        kind = rng.random()
        if kind < 0.25:
            strokes += cross(box, float(rng.uniform(0.6, 1.3)))
        elif kind < 0.3:
            strokes += blackout(box)
    page = draw(SHEET, px_per_mm=PX_PER_MM, strokes=strokes)
    sheet = located(page)
    placed = register(page, sheet, SHEET.marks)
    assert placed.certain.all()
    assert error_mm(sheet, placed).max() < 0.12


@pytest.mark.parametrize("off_mm", [1.5, 1.7, 3.1])
def test_a_box_is_never_taken_for_its_neighbour(off_mm: float) -> None:
    """Even where the edge marks are wrong by the full gap between two rows, 1.7 mm: no place is certain then."""
    sheet = located()
    down = np.array([[1, 0, 0], [0, 1, off_mm * PX_PER_MM], [0, 0, 1]])
    assert not register(PAGE, replace(sheet, mm_to_px=down @ sheet.mm_to_px), SHEET.marks).certain.any()


def test_boxes_along_a_fold_move_together() -> None:
    """A kink that lies between two edge marks is seen by the boxes alone."""
    height, width = PAGE.shape
    y_mm = (np.arange(height) + 0.5) / PX_PER_MM
    dip = 0.7 * (1 - np.abs(y_mm - 110.0) / 8.0).clip(0)
    shift = np.zeros((height, width, 2))
    shift[..., 1] = dip[:, None]
    page = moved(shift)
    sheet = located(page)
    flat = replace(sheet, bend=no_bend(), rim=no_rim())
    placed = register(page, flat, SHEET.marks)
    truth = CENTRES + np.stack(
        [np.zeros(len(CENTRES)), 0.7 * (1 - np.abs(CENTRES[:, 1] - 110.0) / 8.0).clip(0)], axis=1
    )
    error = error_mm(flat, placed, truth)
    assert error[placed.certain].max() < 0.35
    assert placed.certain.mean() > 0.97


def test_a_box_whose_outline_is_elsewhere_is_not_certain() -> None:
    lone = SHEET.marks[40]
    page = PAGE.copy()
    top, left = round((lone.y_mm - 0.6) * PX_PER_MM), round((lone.x_mm - 0.6) * PX_PER_MM)
    side = round((lone.w_mm + 1.2) * PX_PER_MM)
    cut = page[top : top + side, left : left + side].copy()
    page[top : top + side, left : left + side] = 255
    down = round(0.8 * PX_PER_MM)
    page[top + down : top + down + side, left : left + side] = np.minimum(
        page[top + down : top + down + side, left : left + side], cut
    )
    placed = register(page, located(page), SHEET.marks)
    assert not placed.certain[40]
    assert placed.certain.sum() == len(SHEET.marks) - 1


def test_a_page_without_any_outline_has_no_certain_box() -> None:
    blank = draw(replace(SHEET, marks=()), px_per_mm=PX_PER_MM)
    placed = register(blank, located(blank), SHEET.marks)
    assert not placed.certain.any()
    assert (placed.residual_mm > CERTAIN_MM).all()


def test_no_boxes_have_no_places() -> None:
    assert register(PAGE, located(), ()).centres_mm.shape == (0, 2)


def test_boxes_of_two_sizes_are_placed_on_one_page() -> None:
    large = tuple(
        MarkBox("match.A", str(number), "one", 20.0 + 14.0 * number, 240.0, 6.0, 6.0) for number in range(1, 6)
    )
    sheet = replace(SHEET, marks=SHEET.marks + large)
    page = draw(sheet, px_per_mm=PX_PER_MM)
    found = locate(page, (sheet,))
    assert isinstance(found, Located)
    centres = np.array([(box.x_mm + box.w_mm / 2, box.y_mm + box.h_mm / 2) for box in sheet.marks])
    placed = register(page, found, sheet.marks)
    assert placed.certain.all()
    assert error_mm(found, placed, centres).max() < 0.06


@pytest.mark.parametrize("half_mm", [3.75, 3.95])
def test_a_patch_is_upright_and_to_scale_whatever_its_size(half_mm: float) -> None:
    ramp = np.tile(np.arange(0, 250, dtype=np.uint8), (250, 1))
    [patch] = sample_patches(ramp, lambda points: points * 10.0 - 0.5, np.array([[12.0, 12.0]]), half_mm, 8.0)
    along = along_mm(len(patch), 8.0)
    assert patch.mean(axis=0) == pytest.approx((12.0 + along) * 10.0 - 0.5, abs=0.6)
    assert along[-1] + 1 / 16 >= half_mm
