"""The simulated camera: places are where it says, severities keep to their ranges, failings look as named."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import fields, replace
from importlib.resources import files

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image
from scipy.stats import norm

from kit.sheet_layout import MarkBox, SheetLayout
from scanner.reading import State
from scanner.rehearsal.camera import (
    CONDITIONS,
    SHOTS,
    CopySeverity,
    PhotographSeverity,
    Picture,
    ScanSeverity,
    StainSeverity,
    as_jpeg,
    as_seen,
    fax,
    feeder,
    flatbed,
    photocopied,
    photograph,
    scaled,
    stained,
)
from scanner.rehearsal.catalogue import TUNED_PHOTOGRAPHS, TUNED_SCANS
from scanner.rehearsal.habits import Hand
from scanner.rehearsal.held_out import HELD_OUT_PHOTOGRAPHS, HELD_OUT_SCANS
from scanner.rehearsal.optics import grainy, lit, smeared, toned
from scanner.rehearsal.pose import Pose, aimed, rim
from scanner.rehearsal.severities import WITHIN, draw, ranges, severities
from scanner.rehearsal.surface import Surface
from scanner.rehearsal.truth import BoxTruth, Tag

A4_MM = (210.0, 297.0)
PX_PER_MM = 6.0
DOT_MM = 4.0
TUNED_SHOTS = TUNED_SCANS | TUNED_PHOTOGRAPHS
ALL_SHOTS = TUNED_SHOTS | HELD_OUT_SCANS | HELD_OUT_PHOTOGRAPHS

SMALL = PhotographSeverity(long_px=2016)
"""A plain photograph of a quarter of the pixels: enough to measure places on."""


def dots_mm() -> NDArray[np.float64]:
    x, y = np.meshgrid(np.linspace(25, 185, 5), np.linspace(25, 271, 7))
    return np.stack([x.ravel(), y.ravel()], axis=1)


def dotted_page(px_per_mm: float = PX_PER_MM) -> NDArray[np.uint8]:
    """A white A4 page with black squares of 4 mm, their centres at `dots_mm`."""
    page = np.full((round(A4_MM[1] * px_per_mm), round(A4_MM[0] * px_per_mm)), 255, dtype=np.uint8)
    for x, y in dots_mm():
        half = DOT_MM / 2
        rows = slice(round((y - half) * px_per_mm), round((y + half) * px_per_mm))
        page[rows, round((x - half) * px_per_mm) : round((x + half) * px_per_mm)] = 0
    return page


def layout_of(boxes: NDArray[np.float64]) -> SheetLayout:
    marks = tuple(MarkBox("words.1", str(i), "many", x - 2.25, y - 2.25, 4.5, 4.5) for i, (x, y) in enumerate(boxes))
    return SheetLayout("forms.pdf", 1, *A4_MM, sheet="K7Q4M2-0001-1", taster=1, role="notes-1", marks=marks)


def misses_mm(picture: Picture) -> NDArray[np.float64]:
    """How far each dot's dark centre lies from where the picture says it is, in mm on the page."""
    misses = []
    for centre in dots_mm():
        px = picture.place(centre[None])[0]
        frame = picture.place(centre + np.array([[3.4, 0], [0, 3.4], [-3.4, 0], [0, -3.4]]))
        low, high = np.floor(frame.min(axis=0)).astype(int), np.ceil(frame.max(axis=0)).astype(int) + 1
        patch = picture.image[low[1] : high[1], low[0] : high[0]].astype(float)
        dark = np.clip(patch.max() - patch - 0.15 * np.ptp(patch), 0, None)
        rows, columns = np.mgrid[low[1] : high[1], low[0] : high[0]]
        found = np.array([(dark * columns).sum(), (dark * rows).sum()]) / dark.sum()
        misses.append(np.hypot(*(found - px)) / (np.hypot(*(frame[0] - frame[2])) / 6.8))
    return np.array(misses)


def rng(seed: int = 1) -> np.random.Generator:
    return np.random.default_rng(seed)


# ---- the same again ----


@pytest.mark.parametrize("name", sorted(ALL_SHOTS))
def test_one_seed_gives_one_picture(name: str) -> None:
    page = dotted_page(4.0)
    first, second = ALL_SHOTS[name](page, 4.0, rng(3)), ALL_SHOTS[name](page, 4.0, rng(3))
    assert first.image.dtype == np.uint8
    assert np.array_equal(first.image, second.image)
    assert (page == dotted_page(4.0)).all()


def test_conditions_give_the_shots_images() -> None:
    assert CONDITIONS.keys() == SHOTS.keys()
    page = dotted_page(4.0)
    assert np.array_equal(CONDITIONS["feeder-150"](page, 4.0, rng(2)), SHOTS["feeder-150"](page, 4.0, rng(2)).image)
    assert not np.array_equal(CONDITIONS["feeder-150"](page, 4.0, rng(2)), CONDITIONS["feeder-150"](page, 4.0, rng(3)))


# ---- where things lie ----

POSED: dict[str, PhotographSeverity] = {
    "straight": SMALL,
    "turned": replace(SMALL, rotation_deg=217.0),
    "tilted": replace(SMALL, tilt_deg=40.0, azimuth_deg=70.0, rotation_deg=20.0),
    "humped": replace(SMALL, bend_mm=15.0, axis_deg=25.0, tilt_deg=30.0),
    "curled": replace(SMALL, bend_mm=-15.0, axis_deg=80.0, tilt_deg=25.0, azimuth_deg=200.0),
    "folded": replace(SMALL, fold_top_deg=11.0, fold_bottom_deg=9.0, tilt_deg=30.0, azimuth_deg=10.0),
    "crumpled": replace(SMALL, crumple_mm=4.0, tilt_deg=10.0),
    "chat": replace(SMALL, chat_px=1600, tilt_deg=15.0),
}


@pytest.mark.parametrize("pose", sorted(POSED))
def test_places_on_a_photograph_are_where_it_says(pose: str) -> None:
    picture = photograph(dotted_page(), PX_PER_MM, rng(), POSED[pose])
    # A crumpled sheet's ridges run through some of the squares and bend their centres.
    assert misses_mm(picture).max() < (0.15 if pose == "crumpled" else 0.06)


SCANNED: dict[str, ScanSeverity] = {
    "perfect": ScanSeverity(),
    "skewed": ScanSeverity(rotation_deg=3.0, offset_x_mm=2.0, offset_y_mm=-1.0),
    "upside-down": ScanSeverity(upside_down=True, rotation_deg=-1.5),
    "stretched": ScanSeverity(stretch_y=1.01, stretch_x=0.997, rotation_deg=2.0),
}


@pytest.mark.parametrize("dpi", [150.0, 300.0])
@pytest.mark.parametrize("lie", sorted(SCANNED))
def test_places_on_a_scan_are_where_it_says(lie: str, dpi: float) -> None:
    picture = feeder(dotted_page(), PX_PER_MM, dpi, rng(), SCANNED[lie])
    assert misses_mm(picture).max() < 0.015


def test_a_skew_is_as_large_as_asked_and_clockwise() -> None:
    picture = flatbed(dotted_page(), PX_PER_MM, 200.0, rng(), ScanSeverity(rotation_deg=2.0))
    left, right = picture.place(np.array([[20.0, 150.0], [190.0, 150.0]]))
    assert np.rad2deg(np.arctan2(right[1] - left[1], right[0] - left[0])) == pytest.approx(2.0)
    stretched = feeder(dotted_page(), PX_PER_MM, 200.0, rng(), ScanSeverity(stretch_y=1.01))
    top, low = stretched.place(np.array([[100.0, 50.0], [100.0, 150.0]]))
    assert low[1] - top[1] == pytest.approx(1.01 * 100.0 * 200 / 25.4)


def test_a_sheet_off_its_place_on_the_glass_is_off_by_as_much() -> None:
    shifted = flatbed(dotted_page(), PX_PER_MM, 254.0, rng(), ScanSeverity(offset_x_mm=2.0, offset_y_mm=-1.0))
    assert shifted.place(np.array([[50.0, 60.0]]))[0] == pytest.approx([519.5, 589.5])


def test_a_flat_photograph_is_one_homography_that_leads_back_to_the_page() -> None:
    """Against OpenCV's own estimate from all dots, and its warp of the picture back onto the page."""
    page = dotted_page()
    picture = photograph(page, PX_PER_MM, rng(), POSED["tilted"])
    px = picture.place(dots_mm())
    matrix, _ = cv2.findHomography(dots_mm() * PX_PER_MM - 0.5, px)
    again = cv2.perspectiveTransform((dots_mm() * PX_PER_MM - 0.5)[None], matrix)[0]
    assert np.abs(again - px).max() < 1e-3
    back = cv2.warpPerspective(
        picture.image, matrix, (page.shape[1], page.shape[0]), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    )
    black, white = back[page == 0], back[page == 255]
    assert np.percentile(black, 80) < 60
    assert np.percentile(white, 5) > 200


@given(
    tilt=st.floats(0, 40),
    azimuth=st.floats(0, 360),
    turn=st.floats(0, 360),
    fill=st.floats(0.4, 1.0),
    shift=st.tuples(st.floats(-1, 1), st.floats(-1, 1)),
)
@settings(max_examples=50, deadline=None)
def test_the_camera_stands_as_the_pose_says(
    tilt: float, azimuth: float, turn: float, fill: float, shift: tuple[float, float]
) -> None:
    """The tilt against OpenCV's solvePnP; the page's outline spans `fill` of the frame and lies inside it."""
    surface = Surface(*A4_MM)
    camera = aimed(surface, Pose(tilt, azimuth, turn, fill, *shift), 4032, 3024)
    outline = camera.sees(surface.over_desk(rim(surface)))
    size = np.array([camera.frame[1], camera.frame[0]])
    assert (np.ptp(outline, axis=0) / size).max() == pytest.approx(fill, abs=0.015)
    assert outline.min() > -0.011 * 4032
    assert (outline < size + 0.011 * 4032).all()
    flat = np.column_stack([dots_mm() - np.array(A4_MM) / 2, np.zeros(len(dots_mm()))])
    middle = (size - 1) / 2
    lens = np.array([[camera.focal_px, 0, middle[0]], [0, camera.focal_px, middle[1]], [0, 0, 1.0]])
    found, rotation, _ = cv2.solvePnP(flat, camera.sees(surface.over_desk(dots_mm())), lens, None)
    normal = cv2.Rodrigues(rotation)[0][:, 2]
    assert found
    assert np.rad2deg(np.arccos(np.clip(normal[2], -1, 1))) == pytest.approx(tilt, abs=0.1)


def test_a_corner_is_cut_off_where_asked_and_only_there() -> None:
    for side in range(4):
        severity = replace(SMALL, rotation_deg=7.0, fill=0.95, cut_mm=15.0, cut_side=side)
        picture = photograph(dotted_page(), PX_PER_MM, rng(), severity)
        corners = picture.place(np.array([[0, 0], [A4_MM[0], 0], [A4_MM[0], A4_MM[1]], [0, A4_MM[1]]], dtype=float))
        height, width = picture.image.shape
        outside = (corners < -1).any(axis=1) | (corners[:, 0] > width) | (corners[:, 1] > height)
        assert outside.sum() == 1


@given(bend=st.floats(0.5, 15.0), axis=st.floats(-90, 90))
@settings(max_examples=40, deadline=None)
def test_bent_paper_keeps_its_lengths_and_its_sagitta(bend: float, axis: float) -> None:
    surface = Surface(*A4_MM, bend_mm=bend, axis_deg=axis)
    angle = np.deg2rad(axis)
    along = np.linspace(-100, 100, 2001)[:, None] * np.array([np.cos(angle), np.sin(angle)]) + np.array(A4_MM) / 2
    steps = np.diff(surface.over_desk(along), axis=0)
    assert np.linalg.norm(steps, axis=1).sum() == pytest.approx(200.0, rel=1e-5)
    x, y = np.meshgrid(np.linspace(0, 210, 43), np.linspace(0, 297, 61))
    heights = surface.over_desk(np.stack([x.ravel(), y.ravel()], axis=1))[:, 2]
    assert np.ptp(heights) == pytest.approx(bend, rel=0.03)


def test_folds_stand_up_at_their_angles_and_keep_lengths() -> None:
    surface = Surface(*A4_MM, fold_deg=(10.0, 5.0))
    line = np.column_stack([np.full(298, 100.0), np.arange(298.0)])
    places = surface.over_desk(line)
    assert np.linalg.norm(np.diff(places, axis=0), axis=1) == pytest.approx(np.ones(297), rel=0.01)
    top, low = places[1] - places[40], places[290] - places[250]
    assert np.rad2deg(np.arctan2(top[2], abs(top[1]))) == pytest.approx(10.0)
    assert np.rad2deg(np.arctan2(low[2], abs(low[1]))) == pytest.approx(5.0)


@pytest.mark.parametrize("factor", [0.9, 0.94, 1.0, 1.05])
def test_a_page_printed_at_another_scale_shrinks_about_its_centre(factor: float) -> None:
    picture = scaled(dotted_page(), PX_PER_MM, factor, lambda page, scale: flatbed(page, scale, 200.0, rng()))
    assert misses_mm(picture).max() < 0.04
    centre = picture.place(np.array([[105.0, 148.5]]))[0]
    assert centre == pytest.approx([1654 / 2 - 0.5, 2339 / 2 - 0.5], abs=1.0)
    steps = picture.place(np.array([[105.0, 100.0], [105.0, 200.0]]))
    assert steps[1, 1] - steps[0, 1] == pytest.approx(factor * 100.0 * 200 / 25.4)


# ---- sizes and kinds of images ----


def test_scans_have_the_pixels_of_their_resolution() -> None:
    """A4 at 300 dpi is 2480 × 3508 px (SOURCES, F); a fax line of 215 mm has 1728 px (ITU-T T.4, from memory)."""
    assert flatbed(dotted_page(), PX_PER_MM, 300.0, rng()).image.shape == (3508, 2480)
    assert feeder(dotted_page(), PX_PER_MM, 150.0, rng()).image.shape == (1754, 1240)
    wide = np.full((round(297 * PX_PER_MM), round(215 * PX_PER_MM)), 255, dtype=np.uint8)
    faxed = fax(wide, PX_PER_MM, rng()).image
    assert faxed.shape[1] == 1728
    assert faxed.shape[0] == pytest.approx(297 * 7.7, abs=1)


def test_photographs_have_four_to_three_sides_and_chats_are_small() -> None:
    assert photograph(dotted_page(4.0), 4.0, rng()).image.shape == (4032, 3024)
    lying = photograph(dotted_page(4.0), 4.0, rng(), replace(SMALL, rotation_deg=90.0)).image
    assert lying.shape == (1512, 2016)
    chat = photograph(dotted_page(4.0), 4.0, rng(), replace(SMALL, long_px=3200, chat_px=1600, chat_quality=60))
    assert chat.image.shape == (1600, 1200)
    assert chat.px_per_mm(layout_of(dots_mm())) == pytest.approx(0.9 * 1600 / 297, rel=0.02)


@pytest.mark.parametrize("bits", ["threshold", "adaptive", "dither"])
def test_one_bit_scans_are_black_and_white_alone(bits: str) -> None:
    severity = ScanSeverity(bits=bits, noise=3.0, white=240.0, black=20.0)
    image = feeder(dotted_page(), PX_PER_MM, 200.0, rng(), severity).image
    assert set(np.unique(image)) == {0, 255}
    assert (image == 0).mean() == pytest.approx(35 * DOT_MM**2 / (210 * 297), rel=0.15)


def test_dithering_shows_grey_by_its_share_of_black() -> None:
    page = np.full((600, 600), 150, dtype=np.uint8)
    image = feeder(page, PX_PER_MM, 6 * 25.4, rng(), ScanSeverity(bits="dither")).image
    assert (image[20:-20, 20:-20] == 255).mean() == pytest.approx(150 / (0.92 * 255), abs=0.02)


def test_jpeg_bytes_open_elsewhere() -> None:
    """Pillow's decoder as the other program."""
    image = photograph(dotted_page(), PX_PER_MM, rng(), SMALL).image
    data = as_jpeg(image, 92)
    opened = Image.open(io.BytesIO(data))
    assert (opened.format, opened.size) == ("JPEG", (image.shape[1], image.shape[0]))
    assert np.abs(np.asarray(opened).astype(int) - image).mean() < 2.0
    assert len(as_jpeg(image, 50)) < len(data)


# ---- light, noise, tone ----


def test_noise_is_normal_and_as_strong_as_asked() -> None:
    """Quantiles against SciPy's normal distribution."""
    flat = np.full((700, 700), 128, dtype=np.uint8)
    plain = grainy(flat, 6.0, rng()).astype(float) - 128
    assert plain.std() == pytest.approx(6.0, rel=0.03)
    for share in (0.05, 0.25, 0.75, 0.95):
        assert np.quantile(plain, share) == pytest.approx(6.0 * norm.ppf(share), abs=0.6)
    clumped = grainy(flat, 6.0, rng(), clump_px=0.7).astype(float) - 128
    assert clumped.std() == pytest.approx(6.0, rel=0.1)
    beside = (clumped[:, 1:] * clumped[:, :-1]).mean() / clumped.var()
    assert beside > 0.3
    assert grainy(flat, 0.0, rng()) is flat


def test_light_multiplies_and_tone_sets_the_ends() -> None:
    image = np.full((64, 64), 200, dtype=np.uint8)
    image[:32] = 0
    dim = lit(image, np.full((4, 4), 0.5, dtype=np.float32))
    assert np.unique(dim).tolist() == [0, 100]
    ends = toned(np.array([[0, 255]], dtype=np.uint8), 30.0, 220.0, 1.3)
    assert ends.tolist() == [[30, 220]]


def test_a_moving_camera_smears_along_its_way_alone() -> None:
    dot = np.zeros((41, 41), dtype=np.uint8)
    dot[20, 20] = 255
    smear = smeared(dot, 8.0, 0.0).astype(float)
    columns = np.flatnonzero(smear.sum(axis=0) > 5)
    rows = np.flatnonzero(smear.sum(axis=1) > 5)
    assert np.ptp(columns) in (7, 8)
    assert rows.tolist() == [20]


def test_a_shadow_darkens_one_side() -> None:
    severity = replace(SMALL, shadow=0.5, shadow_deg=0.0, shadow_at=0.5, shadow_soft=0.01)
    picture = photograph(dotted_page(), PX_PER_MM, rng(), severity)
    x, y = picture.place(np.array([[45.0, 45.0], [165.0, 45.0]])).round().astype(int).T
    bright, dark = picture.image[y, x].astype(float)
    assert dark / bright == pytest.approx(0.53, abs=0.05)


def test_the_table_is_darker_than_the_paper() -> None:
    for kind in ("wood", "cloth", "stone", "plain"):
        severity = replace(SMALL, table=kind, table_level=150.0, fill=0.6)
        image = photograph(dotted_page(), PX_PER_MM, rng(), severity).image
        corner, paper = image[:200, :200].astype(float), np.percentile(image, 95)
        assert corner.mean() < 0.8 * paper


# ---- paper ----


def test_stains_only_darken_and_only_in_part() -> None:
    page = dotted_page()
    dirty = stained(page, PX_PER_MM, rng(), StainSeverity(wet_rings=2, ring_darkness=0.2, spots=4, spot_darkness=0.3))
    assert (dirty <= page).all()
    changed = (page.astype(int) - dirty) > 8
    assert 0.001 < changed.mean() < 0.3
    assert dirty[page == 255].min() > 255 * (1 - 0.95)


def test_creases_are_thin() -> None:
    page = dotted_page()
    creased = stained(page, PX_PER_MM, rng(), StainSeverity(creases=3, crease_darkness=0.5))
    assert 0 < (np.abs(page.astype(int) - creased) > 10).mean() < 0.01


def test_a_photocopy_drops_pale_greys_and_keeps_dark_ones() -> None:
    page = np.full((120, 360), 255, dtype=np.uint8)
    page[:, 120:240], page[:, 240:] = 235, 90
    copy = photocopied(page, PX_PER_MM, rng(), CopySeverity(white_point=0.88, black=20.0))
    assert copy[60, 180] == 255
    assert 60 < copy[60, 300] < 130


# ---- what a picture cannot show ----


def truths(layout: SheetLayout, state: State, tone: float) -> tuple[BoxTruth, ...]:
    return tuple(BoxTruth(mark.field, mark.option, state, Tag.PLAIN, 2.0, 4.0, tone, 0.3) for mark in layout.marks)


def test_boxes_under_a_thumb_or_out_of_the_frame_are_marginal() -> None:
    layout = layout_of(np.array([[205.0, 290.0], [105.0, 148.0], [6.0, 6.0]]))
    boxes = truths(layout, State.EMPTY, 0.0)
    page = dotted_page()
    thumbed = photograph(page, PX_PER_MM, rng(), replace(SMALL, thumb_mm=30.0, thumb_corner=2))
    assert [box.tag for box in as_seen(boxes, layout, thumbed)] == [Tag.MARGINAL, Tag.PLAIN, Tag.PLAIN]
    whole = photograph(page, PX_PER_MM, rng(), SMALL)
    x, y = thumbed.place(np.array([[200.0, 285.0]])).round().astype(int)[0]
    assert abs(int(thumbed.image[y, x]) - int(whole.image[y, x])) > 40
    assert as_seen(boxes, layout, whole) == boxes
    cut = photograph(page, PX_PER_MM, rng(), replace(SMALL, rotation_deg=7.0, cut_mm=15.0, cut_side=1))
    assert [box.tag for box in as_seen(boxes, layout, cut)] == [Tag.PLAIN, Tag.PLAIN, Tag.MARGINAL]


def test_marks_too_light_for_one_bit_are_marginal_and_empty_boxes_are_not() -> None:
    layout = layout_of(dots_mm())
    scan = feeder(dotted_page(), PX_PER_MM, 200.0, rng(), ScanSeverity(bits="threshold", threshold=0.7))
    light, dark = truths(layout, State.MARKED, 0.35), truths(layout, State.MARKED, 0.7)
    assert {box.tag for box in as_seen(light, layout, scan)} == {Tag.MARGINAL}
    assert {box.tag for box in as_seen(dark, layout, scan)} == {Tag.PLAIN}
    assert {box.tag for box in as_seen(truths(layout, State.EMPTY, 0.0), layout, scan)} == {Tag.PLAIN}
    gray = feeder(dotted_page(), PX_PER_MM, 200.0, rng())
    assert {box.tag for box in as_seen(light, layout, gray)} == {Tag.PLAIN}


def test_a_pictures_scale_is_its_least() -> None:
    layout = layout_of(dots_mm())
    assert flatbed(dotted_page(), PX_PER_MM, 200.0, rng()).px_per_mm(layout) == pytest.approx(200 / 25.4)
    tilted = photograph(dotted_page(), PX_PER_MM, rng(), replace(SMALL, tilt_deg=40.0))
    straight = photograph(dotted_page(), PX_PER_MM, rng(), SMALL)
    assert tilted.px_per_mm(layout) < 0.8 * straight.px_per_mm(layout)


# ---- severities ----

TABLES: dict[str, type] = {
    "hand": Hand,
    "stains": StainSeverity,
    "copy": CopySeverity,
    "copy.starved": CopySeverity,
    **dict.fromkeys(("flatbed", "feeder", "fax", "dithered"), ScanSeverity),
    **dict.fromkeys(
        ["photo"] + [f"photo.{name}" for name, entry in severities()["photo"].items() if isinstance(entry, dict)],
        PhotographSeverity,
    ),
}


@pytest.mark.parametrize("table", sorted(TABLES))
def test_every_severity_is_drawn_within_its_range(table: str) -> None:
    kind, limits = TABLES[table], ranges(table)
    defaults: dict[str, object] = {"name": "drawn", "styles": (("cross", 1.0),)} if kind is Hand else {}
    assert limits.keys() <= {field.name for field in fields(kind)}
    drawn: list[object] = [draw(kind, table, rng(seed), **defaults) for seed in range(60)]
    for name, entry in limits.items():
        values = [getattr(one, name) for one in drawn]
        if isinstance(entry, list) and not isinstance(entry[0], str):
            assert entry[0] <= min(values) <= max(values) <= entry[1]
            assert max(values) - min(values) >= 0.5 * (entry[1] - entry[0])
        elif isinstance(entry, list):
            assert set(values) == set(entry)
        elif isinstance(entry, dict):
            happened = sum(value != getattr(plain(kind, defaults), name) for value in values)
            assert happened == pytest.approx(60 * entry["chance"], abs=14)
        else:
            assert set(values) == {entry}


def plain(kind: Callable[..., object], defaults: dict[str, object]) -> object:
    return kind(**defaults)


def test_a_table_takes_over_what_it_does_not_say() -> None:
    assert ranges("photo.tilted")["white"] == ranges("photo")["white"]
    assert ranges("photo.tilted")["tilt_deg"] != ranges("photo")["tilt_deg"]
    assert ranges("dithered")["stretch_y"] == ranges("feeder")["stretch_y"]
    with pytest.raises(KeyError):
        ranges("photo.underwater")


def test_the_limits_of_the_job_are_covered() -> None:
    """The ranges asked of photographs and prints: tilt to 40°, any turn, 40–100 % of the frame, 94–97 % prints."""
    tilted = ranges("photo.tilted")
    assert tilted["tilt_deg"][1] == 40.0
    assert tilted["rotation_deg"] == [0.0, 360.0]
    assert tilted["fill"] == [0.4, 1.0]
    assert ranges("print_scale")["fit_to_page"] == [0.94, 0.97]
    assert ranges("print_scale")["any"] == [0.9, 1.05]
    assert ranges("photo.chat")["chat_px"][0] == 1600


def test_what_is_held_out_is_kept_apart() -> None:
    assert HELD_OUT_SCANS
    assert HELD_OUT_PHOTOGRAPHS
    assert not (HELD_OUT_SCANS | HELD_OUT_PHOTOGRAPHS).keys() & TUNED_SHOTS.keys()
    for name in set(WITHIN) - {"held_out"}:
        assert "held_out." not in (files("scanner.rehearsal") / f"{name}.toml").read_text(encoding="utf-8")
