"""What the reader says to bad pictures: one precise sentence each, or a right reading; never a guess.

The pages are those of `tests.scanner.pages`, drawn straight from a layout; each picture is spoilt with NumPy, OpenCV
and SciPy here. What is true of a box is what was drawn there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
import pytest

from scanner.read_sheet import Gray
from scanner.reading import Outcome, State
from tests.scanner.pages import KIT, kit_of, photograph
from tests.scanner.scenes import (
    MARGIN_MM,
    OTHER,
    PX,
    SHEET,
    STRANGE,
    assert_read_as_drawn,
    desk,
    glaring,
    laid,
    on_desk,
    page,
    read,
    refused,
    sheet_on_desk,
    strangers_page,
    taken,
    without,
)

# Other paper over the sheet


def test_a_strangers_page_beneath_does_not_matter() -> None:
    under = laid(desk(250.0, 340.0), strangers_page(), 12.0, 25.0, 1.0)
    _, layout, marked = page()
    assert_read_as_drawn(read(taken(laid(under, page()[0], 25.0, 15.0, -1.0))), layout, marked)


@pytest.mark.parametrize(("x_mm", "y_mm", "where"), [(110.0, 5.0, "at the right"), (3.0, 150.0, "at the bottom")])
def test_a_page_half_under_other_print_is_not_read(x_mm: float, y_mm: float, where: str) -> None:
    scene = laid(sheet_on_desk(), strangers_page(), MARGIN_MM + x_mm, MARGIN_MM + y_mm, 2.0)
    reason = refused(taken(scene))
    assert "covered" in reason
    assert where in reason


@pytest.mark.parametrize(("x_mm", "y_mm"), [(40.0, 60.0), (120.0, 130.0)])
def test_what_a_slip_of_other_print_hides_is_doubtful(x_mm: float, y_mm: float) -> None:
    scene = laid(sheet_on_desk(0.0), strangers_page(60.0, 40.0), MARGIN_MM + x_mm, MARGIN_MM + y_mm)
    finding = read(taken(scene))
    assert finding.outcome is Outcome.READ
    for index, (box, mark) in enumerate(zip(SHEET.marks, finding.marks, strict=True)):
        if x_mm < box.x_mm < x_mm + 55 and y_mm < box.y_mm < y_mm + 35:
            assert mark.state is State.DOUBTFUL
        elif mark.state is not State.DOUBTFUL:
            assert (mark.state is State.MARKED) == (index in page()[2])


# A screen, another print run


@pytest.mark.parametrize(("pitch_mm", "deep", "glare"), [(0.25, 0.7, 0.0), (0.30, 0.9, 0.6), (0.10, 0.5, 0.4)])
def test_what_is_photographed_from_a_screen_reads_as_drawn_or_is_refused(
    pitch_mm: float, deep: float, glare: float
) -> None:
    """The screen's own grid, sampled by the camera's, beats with it as a moiré; bands and a reflection besides."""
    sheet, layout, marked = page()
    shown = on_desk(sheet).astype(np.float32)
    rows, columns = np.mgrid[0 : shown.shape[0], 0 : shown.shape[1]].astype(np.float32)
    turn = np.deg2rad(1.3)
    lit = np.zeros_like(shown)
    for down, right in ((-0.25, -0.25), (-0.25, 0.25), (0.25, -0.25), (0.25, 0.25)):
        u = ((columns + right) * np.cos(turn) - (rows + down) * np.sin(turn)) / PX / pitch_mm
        v = ((columns + right) * np.sin(turn) + (rows + down) * np.cos(turn)) / PX / pitch_mm
        lit += np.where((u % 1.0 < 0.12) | (v % 1.0 < 0.15), 1.0 - deep, 1.0) / 4
    picture = shown * lit * (0.9 + 0.1 * np.sin(rows / 250.0)) * (0.8 + 0.2 * columns / shown.shape[1])
    spot = np.exp(-(((columns - 800) / 150) ** 2) - ((rows - 700) / 130) ** 2)
    picture = picture * (1 - glare * spot) + 255 * glare * spot
    finding = read(taken(np.clip(picture, 0, 255).astype(np.uint8)))
    if finding.outcome is Outcome.UNREADABLE:
        assert finding.reason
        assert "striped as on a screen" in finding.reason
    else:
        assert_read_as_drawn(finding, layout, marked, doubtful=len(layout.marks))


def test_a_sheet_of_another_print_run_is_foreign() -> None:
    picture = taken(on_desk(page("strange")[0]))
    assert "kit AAAAAA, which was not given" in refused(picture)
    again = {"AAAAAA": replace(kit_of(STRANGE, kit="AAAAAA"), secret=b"printed once more")}
    assert read(picture, again).outcome is Outcome.FOREIGN
    assert "check does not match" in refused(picture, again)


@pytest.mark.parametrize(
    ("x_mm", "y_mm", "below_mm"),
    [(3.0, 1.0, 0.0), (0.0, 3.1, 0.0), (0.0, 2.2, 130.0), (7.0, 0.0, 0.0)],
    ids=["beside", "half a row lower", "the lower half", "a column on"],
)
def test_a_layout_that_is_not_the_printed_one_is_not_read(x_mm: float, y_mm: float, below_mm: float) -> None:
    marks = tuple(
        replace(box, x_mm=box.x_mm + x_mm, y_mm=box.y_mm + y_mm) if box.y_mm > below_mm else box for box in SHEET.marks
    )
    kits = {KIT: kit_of(replace(SHEET, marks=marks), OTHER)}
    assert "not where this kit's layout.json has them" in refused(taken(sheet_on_desk()), kits)


# Fiducials and codes out of sight


@pytest.mark.parametrize("hidden", [(0,), (2,), (1, 2), (0, 2), (2, 3)])
def test_two_fiducials_and_one_code_are_enough(hidden: tuple[int, ...]) -> None:
    sheet, layout, marked = page()
    covered = without(sheet, *(SHEET.fiducials[number] for number in hidden), SHEET.codes[0])
    assert_read_as_drawn(read(taken(on_desk(covered))), layout, marked)


@pytest.mark.parametrize(
    ("left", "place"), [(0, "top left"), (1, "top right"), (2, "bottom right"), (3, "bottom left")]
)
def test_the_one_fiducial_that_is_seen_is_named(left: int, place: str) -> None:
    covered = without(page()[0], *(square for square in SHEET.fiducials if square.number != left), *SHEET.codes)
    assert f"only one of its four corner marks can be seen, that at the {place}" in refused(taken(on_desk(covered)))


@pytest.mark.parametrize("codes", [0, 2])
def test_without_fiducials_a_sheet_is_told_by_its_codes_or_by_its_boxes(codes: int) -> None:
    covered = without(page()[0], *SHEET.fiducials, *SHEET.codes[codes:])
    finding = read(taken(on_desk(covered)))
    assert finding.reason is not None
    assert finding.reason.startswith("none of its corner marks can be seen")
    assert (finding.code is not None) == (codes > 0)
    assert "none of its corner marks" in refused(taken(page()[0])[200:1500, 150:1150])


def test_glare_over_one_code_costs_nothing_and_over_both_is_named() -> None:
    _, layout, marked = page()
    flat = sheet_on_desk(0.0)
    assert_read_as_drawn(read(taken(glaring(flat, SHEET.codes[0]))), layout, marked)
    assert_read_as_drawn(read(taken(glaring(flat, SHEET.codes[1]))), layout, marked)
    assert "white all over, as under glare" in refused(taken(glaring(flat, *SHEET.codes)))


def test_why_neither_code_can_be_read_is_told_of_each() -> None:
    flat = sheet_on_desk(0.0)
    assert "in the dark" in refused(taken(glaring(flat, *SHEET.codes, level=8.0)))
    slips = on_desk(without(page()[0], *SHEET.codes), 0.0)
    assert "covered" in refused(taken(slips))
    mixed = glaring(on_desk(without(page()[0], SHEET.codes[1]), 0.0), SHEET.codes[0])
    reason = refused(taken(mixed))
    assert "that at the top right is white all over" in reason
    assert "that at the bottom left is covered" in reason
    head = round((MARGIN_MM + 25.0) * PX)
    cropped = on_desk(without(page()[0], SHEET.codes[1]), 0.0)[head:]
    assert "that at the top right is cut off" in refused(taken(cropped))


@pytest.mark.parametrize("count", [1, 2])
def test_glare_over_fiducials_is_no_guess(count: int) -> None:
    sheet, layout, marked = page()
    picture = taken(glaring(on_desk(sheet, 0.0), *SHEET.fiducials[:count]))
    assert_read_as_drawn(read(picture), layout, marked)


# Mirrored, negative, the wrong side


def test_a_sheet_printed_mirrored_or_in_negative_is_told_from_one_another() -> None:
    mirrored = np.ascontiguousarray(page()[0][:, ::-1])
    negative = np.asarray(255 - page()[0], np.uint8)
    both = np.asarray(255 - mirrored, np.uint8)
    assert refused(taken(on_desk(mirrored))).startswith("the sheet is mirrored")
    assert refused(taken(on_desk(negative))).startswith("the picture is a negative")
    assert refused(taken(on_desk(both))).startswith("the picture is a mirrored negative")
    assert refused(np.asarray(255 - taken(sheet_on_desk()), np.uint8)).startswith("the picture is a negative")


def test_a_page_that_stands_on_its_head_reads_as_drawn() -> None:
    _, layout, marked = page()
    assert_read_as_drawn(read(np.ascontiguousarray(np.rot90(taken(sheet_on_desk()), 2))), layout, marked)


@pytest.mark.parametrize(("shines", "words"), [(0.0, "its back is up"), (0.05, "its back is up"), (0.2, "is the back")])
def test_the_back_of_a_sheet_is_not_taken_for_a_mirrored_one(shines: float, words: str) -> None:
    through = cv2.GaussianBlur(np.ascontiguousarray(page()[0][:, ::-1]), (0, 0), 3.0).astype(np.float32) / 255
    back = (250 * (1 - shines * (1 - through))).astype(np.uint8)
    assert words in refused(taken(on_desk(back)))


def test_a_strangers_page_and_a_bare_table_are_not_sheets() -> None:
    assert "not a sheet of facedown" in refused(taken(on_desk(strangers_page())))
    assert "no print can be seen" in refused(taken(desk(230.0, 320.0)))


# Light, sharpness, size


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda scene: taken(scene, white=14, black=2), "too dark"),
        (lambda scene: taken(scene, white=6, black=2), "too dark"),
        (lambda scene: np.full_like(scene, 3), "too dark"),
        (lambda scene: np.full_like(scene, 255), "white all over"),
        (lambda scene: np.clip(taken(scene) * 18.0, 0, 255).astype(np.uint8), "white all over"),
        (lambda scene: np.clip(taken(scene) * 8.0, 0, 255).astype(np.uint8), "vanished in white"),
        (lambda scene: taken(scene, white=240, black=222), "too pale"),
        (lambda scene: taken(scene, white=120, black=106), "too pale"),
        (lambda scene: taken(scene, blur_px=2.4), "out of focus"),
        (lambda scene: taken(scene, blur_px=4.0), "out of focus"),
        (lambda scene: taken(scene, blur_px=9.0), "out of focus"),
        (lambda scene: taken(moved(scene, 8, 15.0)), "the camera moved"),
        (lambda scene: taken(moved(scene, 20, 100.0)), "the camera moved"),
        (lambda scene: taken(moved(scene, 30, -10.0)), "the camera moved"),
        (lambda scene: taken(shadowed(scene, 0.02)), "in deep shadow at the right"),
        (lambda scene: far(scene, 0.4), "come closer"),
        (lambda scene: far(scene, 0.2), "come closer"),
        (lambda scene: far(scene, 0.06), "come closer"),
        (lambda scene: taken(scene)[::2, ::2], "too few pixels"),
        (lambda scene: taken(smaller(scene, 0.3)), "few pixels"),
        (lambda scene: aslant(scene, 62.0), "flat angle"),
        (lambda scene: aslant(scene, 70.0), "flat angle"),
    ],
)
def test_a_fault_of_the_picture_is_called_by_its_name(spoil: Callable[[Gray], Gray], words: str) -> None:
    assert words in refused(spoil(sheet_on_desk()))


@pytest.mark.parametrize(
    "spoil",
    [
        lambda scene: taken(scene, white=40, black=3, noise=1.0),
        lambda scene: taken(scene, white=245, black=190),
        lambda scene: taken(shadowed(scene, 0.35)),
        lambda scene: np.clip(taken(scene) * 1.5, 0, 255).astype(np.uint8),
    ],
    ids=["dim", "washed out", "half in shadow", "overexposed a little"],
)
def test_a_poor_picture_that_shows_enough_reads_as_drawn(spoil: Callable[[Gray], Gray]) -> None:
    _, layout, marked = page()
    assert_read_as_drawn(read(spoil(sheet_on_desk())), layout, marked, doubtful=30)


@pytest.mark.parametrize("blur_px", [0.5, 1.0, 1.5, 2.0, 2.3, 2.6, 3.0, 3.5])
def test_from_sharp_to_blurred_no_box_is_ever_read_otherwise_than_drawn(blur_px: float) -> None:
    finding = read(taken(sheet_on_desk(), blur_px=blur_px))
    if finding.outcome is Outcome.READ:
        _, layout, marked = page()
        assert_read_as_drawn(finding, layout, marked, doubtful=len(layout.marks))
    else:
        assert "out of focus" in (finding.reason or "")


@pytest.mark.parametrize("contrast", [0.06, 0.09, 0.12, 0.15, 0.18, 0.25])
def test_from_pale_to_black_no_box_is_ever_read_otherwise_than_drawn(contrast: float) -> None:
    finding = read(taken(sheet_on_desk(), white=240, black=240 * (1 - contrast)))
    if finding.outcome is Outcome.READ:
        _, layout, marked = page()
        assert_read_as_drawn(finding, layout, marked, doubtful=len(layout.marks))
        assert contrast > 0.12
    else:
        assert "too pale" in (finding.reason or "")


def smaller(scene: Gray, share: float) -> Gray:
    return np.asarray(cv2.resize(scene, None, fx=share, fy=share, interpolation=cv2.INTER_AREA), np.uint8)


def moved(scene: Gray, length_px: int, angle_deg: float) -> Gray:
    """The scene smeared along a straight line."""
    kernel = np.zeros((length_px * 2 + 1,) * 2, np.float32)
    angle = np.deg2rad(angle_deg)
    for step in np.linspace(-length_px / 2, length_px / 2, 8 * length_px):
        kernel[round(length_px + step * np.sin(angle)), round(length_px + step * np.cos(angle))] += 1.0
    return np.asarray(cv2.filter2D(scene, -1, kernel / kernel.sum()), np.uint8)


def shadowed(scene: Gray, light: float) -> Gray:
    """The scene with its right half in a hard shadow."""
    dark = scene.copy()
    middle = scene.shape[1] // 2
    dark[:, middle:] = (dark[:, middle:] * light).astype(np.uint8)
    return dark


def far(scene: Gray, share: float) -> Gray:
    """A picture of 1,500 × 2,000 px whose width the scene fills to that share."""
    width = round(1500 * share)
    height = round(width * scene.shape[0] / scene.shape[1])
    table = np.asarray(cv2.resize(desk(60.0, 80.0), (1500, 2000), interpolation=cv2.INTER_CUBIC), np.uint8)
    top, left = 900 - height // 3, 700 - width // 3
    table[top : top + height, left : left + width] = cv2.resize(scene, (width, height), interpolation=cv2.INTER_AREA)
    return taken(table)


def aslant(scene: Gray, tilt_deg: float) -> Gray:
    """A picture of the scene from that far off the vertical, 1,600 × 1,200 px."""
    tilt = np.deg2rad(tilt_deg)
    corners = np.array([(-119.0, -162.5), (119.0, -162.5), (119.0, 162.5), (-119.0, 162.5)])
    ahead = 420.0 - corners[:, 1] * np.sin(tilt)
    seen = np.stack([corners[:, 0], corners[:, 1] * np.cos(tilt)], axis=1) / ahead[:, None]
    low, high = seen.min(axis=0), seen.max(axis=0)
    scale = 0.96 * float((np.array([1600.0, 1200.0]) / (high - low)).min())
    places = (seen - (low + high) / 2) * scale + (800.0, 600.0)
    return photograph(scene, [(float(x), float(y)) for x, y in places], (1600, 1200))
