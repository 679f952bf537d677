"""Finding a sheet in an image: any way up, tilted, bent, with fiducials missing; and what is refused, in a sentence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
import pytest

from kit.paper import LETTER
from kit.sheet_layout import SheetLayout
from scanner.edge_marks import find_edge_marks
from scanner.fiducials import find_fiducials
from scanner.geometry import no_bend, no_rim
from scanner.locate import Floats, Gray, Located, Refusal, locate
from tests.scanner.pages import draw, form, photograph

PX_PER_MM = 6.0
SHEET = form()
PAGE = draw(SHEET, px_per_mm=PX_PER_MM, labels=False)
GRID = np.array([(x, y) for x in np.arange(20.0, 200.0, 20.0) for y in np.arange(35.0, 270.0, 20.0)])
TILTED = [(300.0, 160.0), (1700.0, 230.0), (1620.0, 2100.0), (240.0, 1980.0)]


def found(image: Gray, frames: tuple[SheetLayout, ...] = (SHEET,)) -> Located:
    located = locate(image, frames)
    assert isinstance(located, Located), located
    return located


def refused(image: Gray) -> str:
    refusal = locate(image, (SHEET,))
    assert isinstance(refusal, Refusal)
    return refusal.reason


def worst_mm(located: Located, truth: Callable[[Floats], Floats]) -> float:
    return float(np.linalg.norm(located.to_px(GRID) - truth(GRID), axis=1).max() / located.px_per_mm)


def upright(points_mm: Floats) -> Floats:
    return points_mm * PX_PER_MM - 0.5


def tilted(points_mm: Floats) -> Floats:
    corners = np.array([(0, 0), (SHEET.width_mm, 0), (SHEET.width_mm, SHEET.height_mm), (0, SHEET.height_mm)])
    view = cv2.getPerspectiveTransform(corners.astype(np.float32), np.array(TILTED, np.float32))
    return np.asarray(cv2.perspectiveTransform(points_mm[None], view)[0], np.float64)


def without(image: Gray, *numbers: int, place: Callable[[Floats], Floats] = upright) -> Gray:
    covered = image.copy()
    for square in SHEET.fiducials:
        if square.number in numbers:
            centre = place(np.array([[square.x_mm + 5.0, square.y_mm + 5.0]]))[0]
            cv2.circle(covered, (round(centre[0]), round(centre[1])), 45, 120, -1)
    return covered


def without_codes(image: Gray) -> Gray:
    covered = image.copy()
    for square in SHEET.codes:
        left, top, side = (round(PX_PER_MM * mm) for mm in (square.x_mm, square.y_mm, square.side_mm))
        covered[top : top + side, left : left + side] = 120
    return covered


def bent(sag_mm: float) -> tuple[Gray, Callable[[Floats], Floats]]:
    """Return the page lying over a cylinder, seen from 450 mm, and where its places are."""
    height, width = PAGE.shape

    def nearer(y_mm: Floats) -> Floats:
        return np.asarray(450.0 / (450.0 - sag_mm * (1 - (2 * y_mm / 297 - 1) ** 2)), np.float64)

    def truth(points_mm: Floats) -> Floats:
        centre = np.array([105.0, 148.5])
        return upright(centre + (points_mm - centre) * nearer(points_mm[:, 1])[:, None])

    rows, columns = np.mgrid[0:height, 0:width] + 0.5
    x, y = columns / PX_PER_MM, rows / PX_PER_MM
    seen_y = y.copy()
    for _ in range(15):
        seen_y = 148.5 + (y - 148.5) / nearer(seen_y)
    seen_x = 105.0 + (x - 105.0) / nearer(seen_y)
    maps = ((seen_x * PX_PER_MM - 0.5).astype(np.float32), (seen_y * PX_PER_MM - 0.5).astype(np.float32))
    return np.asarray(cv2.remap(PAGE, *maps, cv2.INTER_LINEAR, borderValue=90), np.uint8), truth


@pytest.mark.parametrize("quarters", range(4))
def test_a_scan_is_found_in_each_of_four_rotations(quarters: int) -> None:
    located = found(np.ascontiguousarray(np.rot90(PAGE, quarters)))
    corner = located.to_px(np.array([[0.0, 0.0]]))[0]
    height, width = PAGE.shape
    expected = [(0, 0), (0, width), (width, height), (height, 0)][quarters]
    assert corner == pytest.approx(expected, abs=1.5)
    assert located.fiducials == 4
    assert located.edge_marks_seen == 1.0


def test_a_tilted_photograph_is_found_to_a_tenth_of_a_millimetre() -> None:
    located = found(photograph(PAGE, TILTED, (2000, 2300)))
    assert worst_mm(located, tilted) < 0.1
    assert 5.0 < located.px_per_mm < 7.0


@pytest.mark.parametrize("missing", [(0,), (2,), (0, 1), (1, 2), (0, 2), (1, 3)])
def test_two_or_three_fiducials_and_the_edge_marks_do(missing: tuple[int, ...]) -> None:
    assert worst_mm(found(without(PAGE, *missing)), upright) < 0.08
    photo = without(photograph(PAGE, TILTED, (2000, 2300)), *missing, place=tilted)
    assert worst_mm(found(photo), tilted) < 0.08


@pytest.mark.parametrize("seen", range(4))
def test_one_fiducial_and_the_codes_do(seen: int) -> None:
    located = found(without(PAGE, *({0, 1, 2, 3} - {seen})))
    assert located.fiducials == 1
    assert worst_mm(located, upright) < 0.1


def test_a_second_look_finds_fiducials_far_smaller_than_those_known() -> None:
    low_down = photograph(PAGE, [(950.0, 260.0), (1950.0, 260.0), (2950.0, 2350.0), (50.0, 2350.0)], (3000, 2450))
    known = find_fiducials(low_down)
    assert [fiducial.number for fiducial in known] == [2, 3]
    assert [fiducial.number for fiducial in find_fiducials(low_down, known=known)] == [0, 1, 2, 3]


@pytest.mark.parametrize("sag_mm", [-8.0, 5.0, 12.0])
def test_a_bent_page_is_put_right_by_its_edge_marks(sag_mm: float) -> None:
    image, truth = bent(sag_mm)
    located = found(image)
    assert worst_mm(located, truth) < 0.1
    flat = replace(located, bend=no_bend(), rim=no_rim())
    assert worst_mm(flat, truth) > 0.5


def test_a_page_folded_in_thirds_is_followed_over_its_folds() -> None:
    def sag(y_mm: Floats) -> Floats:
        return np.asarray(2.5 * (1 - np.abs(y_mm - 99.0) / 99.0).clip(0, None), np.float64)

    rows, columns = np.mgrid[0 : PAGE.shape[0], 0 : PAGE.shape[1]].astype(np.float32)
    shift = sag((rows + 0.5) / PX_PER_MM) * PX_PER_MM
    image = np.asarray(cv2.remap(PAGE, columns, (rows - shift).astype(np.float32), cv2.INTER_LINEAR), np.uint8)

    def truth(points_mm: Floats) -> Floats:
        y = points_mm[:, 1].copy()
        for _ in range(30):
            y = points_mm[:, 1] + sag(y)
        return upright(np.stack([points_mm[:, 0], y], axis=1))

    # Between two marks, 19 mm apart, the kink is cut off.
    assert worst_mm(found(image), truth) < 0.6


def test_the_paper_size_is_told_by_the_fiducials() -> None:
    letter = form(paper=LETTER)
    page = draw(letter, px_per_mm=5.0, labels=False)
    assert found(page, (SHEET, letter)).frame is letter
    assert found(PAGE, (letter, SHEET)).frame is SHEET


def test_a_print_scaled_to_fit_is_found() -> None:
    height, width = PAGE.shape
    small = np.asarray(cv2.resize(PAGE, None, fx=0.95, fy=0.95, interpolation=cv2.INTER_AREA), np.uint8)
    top, left = (height - small.shape[0]) // 2, (width - small.shape[1]) // 2
    image = np.full_like(PAGE, 255)
    image[top : top + small.shape[0], left : left + small.shape[1]] = small
    assert worst_mm(found(image), lambda points: (upright(points) + 0.5) * 0.95 - 0.5 + (left, top)) < 0.1


def test_covered_edge_marks_are_not_invented() -> None:
    image = PAGE.copy()
    image[600:1300, :110] = 130
    located = found(image)
    assert 0.7 < located.edge_marks_seen < 0.95
    assert worst_mm(located, upright) < 0.1


def test_an_edge_mark_is_found_where_it_is_and_not_where_a_letter_is() -> None:
    image = np.full((200, 200), 250, np.uint8)
    cv2.putText(image, "M", (90, 120), cv2.FONT_HERSHEY_SIMPLEX, 1.0, 10, 3)
    nothing = find_edge_marks(image, lambda p: p * 10, np.array([[10.0, 10.0]]), 2.0, 3.0)
    assert np.isnan(nothing).all()
    image[60:80, 120:140] = 20
    offset = find_edge_marks(image, lambda p: p * 10, np.array([[11.0, 9.0]]), 2.0, 4.0)
    assert offset[0] == pytest.approx((1.95, -2.05), abs=0.06)


def test_fiducials_carry_their_number_and_run_clockwise_from_their_own_top_left() -> None:
    fiducials = find_fiducials(PAGE)
    assert [fiducial.number for fiducial in fiducials] == [0, 1, 2, 3]
    for fiducial, square in zip(fiducials, SHEET.fiducials, strict=True):
        x, y, side = square.x_mm, square.y_mm, square.side_mm
        printed = np.array([(x, y), (x + side, y), (x + side, y + side), (x, y + side)])
        assert fiducial.corners_px == pytest.approx(upright(printed), abs=0.4)


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda page: np.ascontiguousarray(page[:, ::-1]), "mirrored"),
        (lambda page: 255 - page, "negative"),
        (lambda page: np.ascontiguousarray(255 - page[:, ::-1]), "mirrored negative"),
        (lambda page: np.full_like(page, 243), "blank"),
        (lambda page: np.hstack([page, page]), "two sheets"),
        (lambda page: without_codes(without(page, 0, 1, 2)), "only one of its four corner marks"),
        (lambda page: without(page, 0, 1, 2, 3), "none of its corner marks"),
        (lambda page: cv2.resize(page, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA), "come closer"),
    ],
)
def test_what_cannot_be_read_is_refused_with_a_reason(spoil: Callable[[Gray], Gray], words: str) -> None:
    assert words in refused(spoil(PAGE))


@pytest.mark.parametrize(("strength", "is_found"), [(0.15, True), (0.9, False)])
def test_a_copier_s_ghost_of_the_sheet_is_no_second_sheet(strength: float, is_found: bool) -> None:
    """A drum that was not wiped clean prints the page again farther down, far paler."""
    page = draw(SHEET, px_per_mm=PX_PER_MM)
    ghost = 255 - strength * (255.0 - np.roll(page, round(75 * PX_PER_MM), axis=0))
    assert isinstance(locate(np.minimum(page, ghost).astype(np.uint8), (SHEET,)), Located) is is_found


def test_fiducials_of_two_overlapping_sheets_are_no_sheet() -> None:
    other = photograph(PAGE, [(150.0, -100.0), (1300.0, 200.0), (1000.0, 1700.0), (-100.0, 1500.0)], (1260, 1782))
    image = PAGE.copy()
    image[900:] = other[900:]
    assert [fiducial.number for fiducial in find_fiducials(image)] == [0, 1, 2]
    assert "two sheets overlap" in refused(image)
