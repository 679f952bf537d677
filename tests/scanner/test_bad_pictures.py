"""What the reader says to bad pictures: one precise sentence each, or a right reading; never a guess.

The pages are those of `tests.scanner.pages`, drawn straight from a layout; each picture is spoilt with NumPy, OpenCV
and SciPy here. What is true of a box is what was drawn there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from kit.sheet_layout import SheetLayout, Square
from scanner.clarity import clarity_of
from scanner.kits import KitOnFile
from scanner.locate import Located, locate
from scanner.one_sheet import are_two_sheets
from scanner.picture_faults import blur_of, equal_squares, light_of, paper_share, print_share
from scanner.read_sheet import Finding, Gray, read_gray, read_sheet
from scanner.reading import Outcome, State
from scanner.rehearsal.trial import Held
from tests.scanner.pages import KIT, cross, draw, form, kit_of, photograph

PX = 6.0
SHEET, OTHER, SECOND = form(), form(taster=2), form(role="notes-2")
STRANGE = form(kit="AAAAAA")
KITS = {KIT: kit_of(SHEET, OTHER, SECOND)}
BOTH = {**KITS, "AAAAAA": kit_of(STRANGE, kit="AAAAAA")}
MARGIN_MM = 14.0

Page = tuple[Gray, SheetLayout, frozenset[int]]


@cache
def page(sheet: str = "first", start: int = 0) -> Page:
    """A page with a cross in every 23rd box from `start` on, and which boxes those are."""
    layout = {"first": SHEET, "other": OTHER, "second": SECOND, "strange": STRANGE}[sheet]
    marked = frozenset(range(start, len(layout.marks), 23))
    strokes = [stroke for index in marked for stroke in cross(layout.marks[index])]
    return draw(layout, px_per_mm=PX, strokes=strokes), layout, marked


def desk(width_mm: float, height_mm: float, level: int = 95) -> Gray:
    """A dark, blotchy table."""
    grain = np.random.default_rng(0).normal(level, 6, (round(height_mm / 5), round(width_mm / 5)))
    blotches = cv2.resize(grain, (round(width_mm * PX), round(height_mm * PX)), interpolation=cv2.INTER_CUBIC)
    return np.clip(blotches, 0, 255).astype(np.uint8)


def laid(canvas: Gray, sheet: Gray, x_mm: float, y_mm: float, turn_deg: float = 0.0) -> Gray:
    """Lay a sheet on a canvas, its shadow beside it."""
    turn = np.deg2rad(turn_deg)
    cosine, sine = np.cos(turn), np.sin(turn)
    view = np.array([[cosine, -sine, x_mm * PX], [sine, cosine, y_mm * PX]])
    size = canvas.shape[1], canvas.shape[0]
    where = cv2.warpAffine(np.full_like(sheet, 255), view, size)
    shadow = cv2.GaussianBlur(np.roll(where, (4, 4), (0, 1)), (0, 0), 4.0)
    shaded = canvas * (1 - 0.3 * shadow.astype(np.float32) / 255)
    there = cv2.warpAffine(sheet, view, size, flags=cv2.INTER_LINEAR)
    return np.where(where > 127, there, shaded).astype(np.uint8)


def taken(scene: Gray, *, white: float = 235, black: float = 15, blur_px: float = 0.6, noise: float = 2.0) -> Gray:
    """A photograph of a scene from straight above."""
    soft = np.asarray(cv2.GaussianBlur(scene, (0, 0), blur_px), np.float64)
    seen = black + soft * (white - black) / 255 + np.random.default_rng(3).normal(0, noise, scene.shape)
    return np.clip(seen, 0, 255).astype(np.uint8)


def on_desk(sheet: Gray, turn_deg: float = 0.5) -> Gray:
    """A sheet alone on the table."""
    height, width = (side / PX + 2 * MARGIN_MM for side in sheet.shape)
    return laid(desk(width, height), sheet, MARGIN_MM, MARGIN_MM, turn_deg)


@cache
def sheet_on_desk(turn_deg: float = 0.5) -> Gray:
    """The first page alone on the table."""
    alone = on_desk(page()[0], turn_deg)
    alone.flags.writeable = False
    return alone


def read(picture: Gray, kits: dict[str, KitOnFile] | None = None) -> Finding:
    return read_gray(np.ascontiguousarray(picture), KITS if kits is None else kits)


def refused(picture: Gray, kits: dict[str, KitOnFile] | None = None) -> str:
    """The sentence of a picture that is not read: one sentence, and no box with it."""
    finding = read(picture, kits)
    assert finding.outcome in (Outcome.UNREADABLE, Outcome.FOREIGN)
    assert finding.marks == ()
    assert finding.reason
    assert ". " not in finding.reason
    assert not finding.reason.endswith(".")
    return finding.reason


def assert_read_as_drawn(finding: Finding, layout: SheetLayout, marked: frozenset[int], doubtful: int = 0) -> None:
    assert finding.outcome is Outcome.READ, finding.reason
    assert finding.code is not None
    assert finding.code.sheet == layout.sheet
    states = [mark.state for mark in finding.marks]
    assert states.count(State.DOUBTFUL) <= doubtful
    for index, state in enumerate(states):
        if state is not State.DOUBTFUL:
            assert state is (State.MARKED if index in marked else State.EMPTY), layout.marks[index]


def without(sheet: Gray, *squares: Square, level: int = 200) -> Gray:
    """The page with slips of paper laid over these squares."""
    spoilt = sheet.copy()
    for square in squares:
        x, y, side = (round(mm * PX) for mm in (square.x_mm - 2, square.y_mm - 2, square.side_mm + 4))
        spoilt[max(0, y) : y + side, max(0, x) : x + side] = level
    return spoilt


def glaring(scene: Gray, *squares: Square, level: float = 255.0) -> Gray:
    """The scene with round, soft spots of light (or of darkness) over these squares of a page `on_desk`."""
    cover = np.zeros(scene.shape, np.float32)
    for square in squares:
        x, y = square.x_mm + square.side_mm / 2 + MARGIN_MM, square.y_mm + square.side_mm / 2 + MARGIN_MM
        cv2.circle(cover, (round(x * PX), round(y * PX)), round(0.85 * square.side_mm * PX), 1.0, -1)
    cover = np.asarray(cv2.GaussianBlur(cover, (0, 0), 2.0 * PX), np.float32)
    return (scene * (1 - cover) + level * cover).astype(np.uint8)


def strangers_page(width_mm: float = 210.0, height_mm: float = 297.0) -> Gray:
    """A page of print that is none of ours."""
    sheet = np.full((round(height_mm * PX), round(width_mm * PX)), 245, np.uint8)
    for line in range(8, round(height_mm) - 8, 7):
        words = "Minutes of the harbour board, page 17: dredging, moorings, herons"
        cv2.putText(sheet, words, (40, round(line * PX)), cv2.FONT_HERSHEY_SIMPLEX, 0.9, 20, 2)
    return sheet


# Two sheets in one picture


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


# The measures behind the sentences


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
