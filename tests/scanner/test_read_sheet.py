"""From an image to a page reading: whose sheet it is, and every reason for not reading it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from kit.codes import Code, CodeKind, encode, matrix
from kit.paper import LETTER
from scanner.identify import Identified, Stranger, identify
from scanner.kits import KitOnFile
from scanner.locate import Located, locate
from scanner.read_sheet import Gray, read_gray, read_sheet
from scanner.reading import Outcome, PageReading, State
from scanner.sheet_codes import read_sheet_codes
from tests.scanner.pages import KIT, SECRET, code_of, cross, draw, form, kit_of, photograph

PX_PER_MM = 6.0
SHEET = form()
OTHER = form(taster=2)
KITS = {KIT: kit_of(SHEET, OTHER)}
MARKED = SHEET.marks[::37]
PAGE = draw(SHEET, px_per_mm=PX_PER_MM, strokes=[stroke for box in MARKED for stroke in cross(box)])


@dataclass
class Image:
    """A page image in memory that remembers how it was asked for."""

    pixels: Gray
    source: str = "pile.pdf"
    source_page: int = 3
    asked: list[int] = field(default_factory=list)

    def gray(self, least_long_px: int) -> Gray:
        self.asked.append(least_long_px)
        factor = max(1, max(self.pixels.shape) // least_long_px)
        if factor == 1:
            return self.pixels
        height, width = (side // factor for side in self.pixels.shape)
        whole = self.pixels[: height * factor, : width * factor]
        return np.asarray(cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA), np.uint8)


def read(pixels: Gray, kits: dict[str, KitOnFile] | None = None) -> PageReading:
    return read_sheet(Image(pixels), KITS if kits is None else kits)


def refused(pixels: Gray, kits: dict[str, KitOnFile] | None = None) -> str:
    reading = read(pixels, kits)
    assert reading.outcome in (Outcome.UNREADABLE, Outcome.FOREIGN)
    assert reading.marks == ()
    assert reading.reason
    return reading.reason


def covered(pixels: Gray, *codes: int) -> Gray:
    image = pixels.copy()
    for square in SHEET.codes:
        if square.number in codes:
            x, y, side = (round(value * PX_PER_MM) for value in (square.x_mm, square.y_mm, square.side_mm))
            image[y - 6 : y + side + 6, x - 6 : x + side + 6] = 150
    return image


def with_codes(upper: str, lower: str) -> Gray:
    """Return the page with these texts as its upper and its lower code."""
    page, foot = draw(SHEET, upper, px_per_mm=PX_PER_MM), draw(SHEET, lower, px_per_mm=PX_PER_MM)
    page[-300:] = foot[-300:]
    return page


def test_a_sheet_is_credited_to_its_taster_and_its_marks_are_listed() -> None:
    reading = read(PAGE)
    assert (reading.source, reading.source_page) == ("pile.pdf", 3)
    assert (reading.kit, reading.sheet, reading.taster, reading.role) == (KIT, "K7Q4M2-0001-1", 1, "notes-1")
    assert (reading.outcome, reading.reason) == (Outcome.READ, None)
    marked = [(mark.field, mark.option) for mark in reading.marks if mark.state is State.MARKED]
    assert marked == [(box.field, box.option) for box in MARKED]
    assert len(reading.marks) == len(SHEET.marks)


@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_a_page_that_lies_otherwise_reads_the_same(quarters: int) -> None:
    assert read(np.ascontiguousarray(np.rot90(PAGE, quarters))) == read(PAGE)


def test_one_code_is_enough() -> None:
    assert read(covered(PAGE, 0)) == read(PAGE)
    assert read(covered(PAGE, 1)) == read(PAGE)


def test_without_codes_a_sheet_is_nobodys() -> None:
    reading = read(covered(PAGE, 0, 1))
    assert reading.outcome is Outcome.UNREADABLE
    assert reading.sheet is None
    assert "its two codes are covered or blurred" in (reading.reason or "")


def test_two_codes_that_differ_are_two_sheets() -> None:
    assert "two sheets" in refused(with_codes(code_of(SHEET), code_of(OTHER)))


def test_a_code_astray_in_the_picture_is_not_this_sheets() -> None:
    image = np.full((PAGE.shape[0], PAGE.shape[1] + 400), 240, np.uint8)
    image[:, : PAGE.shape[1]] = covered(PAGE, 0, 1)
    stray = np.where(np.array(matrix(code_of(OTHER))), 0, 255).astype(np.uint8)
    image[600:726, -200:-74] = cv2.resize(stray, (126, 126), interpolation=cv2.INTER_NEAREST)
    assert "two codes are covered" in refused(image)


def test_another_programs_code_beside_the_sheets_own_does_not_matter() -> None:
    sheet = draw(SHEET, px_per_mm=PX_PER_MM)
    stray = np.where(np.array(matrix("HTTPS://EXAMPLE.ORG/")), 0, 255).astype(np.uint8)
    foot = SHEET.codes[1]
    x, y = round(foot.x_mm * PX_PER_MM), round(foot.y_mm * PX_PER_MM)
    sheet[y : y + 101, x : x + 101] = cv2.resize(stray, (101, 101), interpolation=cv2.INTER_NEAREST)
    assert read(sheet).sheet == "K7Q4M2-0001-1"


def test_a_sheet_of_a_kit_that_was_not_given_is_foreign() -> None:
    reading = read(PAGE, {"AAAAAA": kit_of(form(kit="AAAAAA"), kit="AAAAAA")})
    assert reading.outcome is Outcome.FOREIGN
    assert reading.sheet == "K7Q4M2-0001-1"
    assert reading.reason == "it is a sheet of kit K7Q4M2, which was not given"


def test_a_copied_or_edited_code_is_foreign() -> None:
    forged = draw(SHEET, code_of(SHEET, b"another secret"), px_per_mm=PX_PER_MM)
    assert "its check does not match" in refused(forged)


def test_a_sheet_that_the_kit_does_not_have_is_foreign() -> None:
    assert "has no sheet K7Q4M2-0001-1" in refused(PAGE, {KIT: kit_of(OTHER)})


def test_another_programs_page_is_foreign() -> None:
    page = with_codes("HTTPS://EXAMPLE.ORG/", "HTTPS://EXAMPLE.ORG/")
    assert "another program's" in refused(page)


def test_key_sheets_and_rows_of_coasters_are_left_for_later() -> None:
    key = form("key")
    assert "key sheet" in refused(draw(key, px_per_mm=PX_PER_MM), {KIT: kit_of(key)})
    row = np.full((900, 1600), 235, np.uint8)
    for number in range(1, 4):
        text = encode(Code(CodeKind.COASTER, KIT, number), SECRET)
        tile = np.where(np.array(matrix(text)), 0, 255).astype(np.uint8)
        row[300:510, 400 * number - 200 : 400 * number + 10] = cv2.resize(
            tile, (210, 210), interpolation=cv2.INTER_NEAREST
        )
    assert "turned coasters" in refused(row)


def test_a_letter_sheet_among_a4_kits_says_whose_it_is() -> None:
    letter = form(paper=LETTER, kit="BBBBBB")
    page = draw(letter, px_per_mm=PX_PER_MM)
    reading = read(page)
    assert reading.outcome is Outcome.FOREIGN
    assert reading.kit == "BBBBBB"
    both = {**KITS, "BBBBBB": kit_of(letter, kit="BBBBBB")}
    assert read(page, both).outcome is Outcome.READ


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda page: np.full_like(page, 250), "blank"),
        (lambda page: np.ascontiguousarray(page[:, ::-1]), "mirrored"),
        (lambda page: 255 - page, "negative"),
        (lambda page: np.hstack([page, page]), "two sheets"),
        (lambda page: cv2.resize(page, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA), "come closer"),
        (lambda page: page[: page.shape[0] // 2, : page.shape[1] // 2], "corner mark"),
    ],
)
def test_a_bad_picture_gets_a_sentence(spoil: Callable[[Gray], Gray], words: str) -> None:
    assert words in refused(np.ascontiguousarray(spoil(PAGE)))


def test_a_page_half_under_a_cloth_is_not_half_read() -> None:
    image = PAGE.copy()
    image[500:1100, 150:1100] = 110
    assert "covered, cut off or out of focus" in refused(image)


def test_boxes_cut_off_at_the_edge_are_doubtful_and_the_others_are_read() -> None:
    image = np.ascontiguousarray(PAGE[:, : round(150 * PX_PER_MM)])
    reading = read(image)
    assert reading.outcome is Outcome.READ
    by_box = {(mark.field, mark.option): mark.state for mark in reading.marks}
    for box in SHEET.marks:
        right = box.x_mm + box.w_mm
        if right < 147:
            assert by_box[box.field, box.option] is (State.MARKED if box in MARKED else State.EMPTY)
        if right > 150:
            assert by_box[box.field, box.option] is State.DOUBTFUL


def test_the_full_image_is_asked_for_only_where_the_reduced_one_does_not_do() -> None:
    large = np.asarray(cv2.resize(PAGE, None, fx=2, fy=2, interpolation=cv2.INTER_LINEAR), np.uint8)
    image = Image(large)
    assert read_sheet(image, KITS).outcome is Outcome.READ
    assert len(image.asked) == 1
    far = photograph(PAGE, [(1000, 900), (2000, 950), (1950, 2350), (980, 2300)], (3600, 2700))
    image = Image(far)
    assert read_sheet(image, KITS).outcome is Outcome.READ
    assert len(image.asked) == 2


@settings(max_examples=40, deadline=None)
@given(
    st.one_of(
        arrays.arrays(np.uint8, st.tuples(st.integers(1, 90), st.integers(1, 90))),
        st.integers(0, 255).map(lambda level: np.full((400, 300), level, np.uint8)),
    )
)
def test_nothing_that_an_image_shows_raises(pixels: Gray) -> None:
    assert read_gray(pixels, KITS).outcome in (Outcome.UNREADABLE, Outcome.FOREIGN)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_a_sheet_torn_and_stained_at_random_never_raises_nor_changes_its_owner(seed: int) -> None:
    rng = np.random.default_rng(seed)
    image = PAGE.copy()
    for _ in range(int(rng.integers(1, 8))):
        x, y = int(rng.integers(0, image.shape[1])), int(rng.integers(0, image.shape[0]))
        cv2.ellipse(
            image,
            (x, y),
            (int(rng.integers(5, 260)), int(rng.integers(5, 260))),
            float(rng.uniform(0, 360)),
            0,
            360,
            float(rng.integers(0, 256)),
            -1,
        )
    reading = read(image)
    assert reading.sheet in (None, "K7Q4M2-0001-1")
    if reading.outcome is Outcome.READ:
        marked = {(box.field, box.option) for box in MARKED}
        hidden = image != PAGE
        for box, mark in zip(SHEET.marks, reading.marks, strict=True):
            left, top = round((box.x_mm - 2.0) * PX_PER_MM), round((box.y_mm - 2.0) * PX_PER_MM)
            around = hidden[top : top + 51, left : left + 51]
            if not around.any() and mark.state is not State.DOUBTFUL:
                assert (mark.state is State.MARKED) == ((box.field, box.option) in marked)


def test_no_kits_give_no_readings() -> None:
    assert read(PAGE, {}).outcome is Outcome.FOREIGN


def test_both_codes_of_a_blurred_page_are_read_where_they_are_printed() -> None:
    blurred = np.asarray(cv2.GaussianBlur(PAGE, (0, 0), 2.2), np.uint8)
    located = locate(blurred, (SHEET,))
    assert isinstance(located, Located)
    assert read_sheet_codes(blurred, located) == (code_of(SHEET),)


def test_a_code_counts_only_if_check_value_mac_and_record_agree() -> None:
    text = code_of(SHEET)
    assert isinstance(identify([text], KITS), Identified)
    assert isinstance(identify([text, "SOMETHING ELSE"], KITS), Identified)
    for place in range(len(text)):
        slip = text[:place] + ("0" if text[place] != "0" else "1") + text[place + 1 :]
        assert isinstance(identify([slip], KITS), Stranger)
    other = {KIT: replace(KITS[KIT], secret=b"another")}
    assert isinstance(identify([text], other), Stranger)
