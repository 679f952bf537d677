"""The taster's own hand: found for the right drink, white paper, nothing where nothing was written."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from kit.codes import sheet_id
from scanner.reading import Outcome, PageReading, Reading
from scanner.reports.hand_pictures import printable_hand
from scanner.reports.handwriting import hands_of, writing_in_pictures
from scanner.reports.pictures import image_stream, pixel_size
from tests.scanner.reports.made import slip_of, taster, written


def blank(paper: int = 225, w_px: int = 190, h_px: int = 225) -> bytes:
    """Return an area with ruled lines and the grain of a scan, and nothing written on it."""
    area = np.random.default_rng(1).normal(paper, 6.0, (h_px, w_px))
    area[:: h_px // 6] -= 50
    return encoded(area)


def encoded(area: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> bytes:
    done, png = cv2.imencode(".png", np.clip(area, 0, 255).astype(np.uint8))
    assert done
    return bytes(png)


def test_each_drink_has_what_was_written_of_it_in_both_rounds() -> None:
    one, two = (written(np.random.default_rng(seed)) for seed in (1, 2))
    found = slip_of(taster((3, 1, 2), (3, 1, 2)))
    sheets = {
        sheet_id("K7Q4M2", 1, 1): {"remarks.1": one},
        sheet_id("K7Q4M2", 1, 2): {"remarks.B": two, "remarks.C": blank()},
    }
    hands = hands_of(found, lambda sheet: sheets.get(sheet, {}))
    # The key puts coaster 1 at B, coaster 2 at C.
    assert hands == {1: (printable_hand(one), printable_hand(two)), 2: (None, None), 3: (None, None)}


def test_round_two_is_left_out_where_it_is_not_shown_where_it_stood() -> None:
    png = written(np.random.default_rng(1))
    found = slip_of(taster((3, 1, 2), None))
    hands = hands_of(found, lambda _: dict.fromkeys(("remarks.1", "remarks.A", "remarks.B", "remarks.C"), png))
    assert hands[1] == (printable_hand(png), None)
    assert all(second is None for _, second in hands.values())


@pytest.mark.parametrize("paper", [140, 190, 250])
def test_paper_comes_out_white_and_ink_dark(paper: int) -> None:
    area = np.frombuffer(written(np.random.default_rng(3)), np.uint8)
    gray = cv2.imdecode(area, cv2.IMREAD_GRAYSCALE)
    assert gray is not None
    found = printable_hand(encoded(gray.astype(float) * paper / 235))
    assert found is not None
    shown = cv2.imdecode(np.frombuffer(found, np.uint8), cv2.IMREAD_UNCHANGED)
    assert shown is not None
    assert np.median(shown) == 255
    assert (shown < 90).mean() > 0.02
    assert pixel_size(found) == (190, 225)
    image_stream(found)  # a PNG that goes into a PDF as it is


@pytest.mark.parametrize("paper", [140, 190, 250])
def test_an_area_that_was_left_empty_has_no_picture(paper: int) -> None:
    assert printable_hand(blank(paper)) is None


def test_what_is_no_picture_has_none() -> None:
    assert printable_hand(b"no picture") is None


def test_pictures_that_are_gone_leave_no_room() -> None:
    page = PageReading("gone.jpg", 1, "K7Q4M2", "K7Q4M2-0001-1", 1, "notes-1", Outcome.READ, None, ())
    writing = writing_in_pictures({"somewhere/reading.json": Reading((page,))}, {})
    assert writing("K7Q4M2-0001-1") == {}
