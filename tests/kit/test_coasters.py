"""Coaster labels: alike but for number and code, all sets alike, and shut off from above."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, maximum_filter, minimum_filter
from scipy.stats import binomtest

from kit.coasters import coaster_pages
from kit.codes import Code, CodeKind, encode
from kit.drawing import Element, Modules, Rect, Text
from kit.forms.frame import Area
from kit.paper import PAPERS as PAPER_SIZES
from kit.session import Paper
from scanner.code_readers import PYZBAR, ZXING, read_with
from tests.kit import samples
from tests.kit.collisions import collisions, outside
from tests.kit.extents import grown, ink_of
from tests.kit.paper_optics import (
    FOLDED,
    OPACITY,
    PILE_REFLECTANCE,
    UNFOLDED,
    WITHOUT_BLACK,
    Gray,
    Label,
    over,
    photographed,
    seen_from_above,
)
from tests.kit.rendering import by_pdfium
from tests.scanner.second_reader import require_second_reader

PX_PER_MM = 4.0
"""101.6 dpi: every label of 60 mm begins at a whole pixel."""
LABEL_MM = 60.0
NUMBERS = (1, 2, 3, 4, 5)
PICTURES_EACH = 20
BARELY = 0.001
"""A true chance rate shows a smaller p-value once in a thousand; seeds are fixed, so a passing test stays one."""
KITS = [(paper, glasses) for paper in samples.PAPERS for glasses in samples.GLASSES]

DIGIT, FACE = "a single digit by its template", "the nearest of the five faces"
OBSERVERS = (DIGIT, FACE, ZXING, PYZBAR)
Observer = Callable[[Gray], int | None]


@pytest.mark.parametrize(("paper", "glasses"), KITS)
@pytest.mark.parametrize("long", [False, True], ids=["short-names", "long-names"])
def test_nothing_on_a_coaster_page_lies_upon_another_thing(paper: Paper, glasses: int, long: bool) -> None:
    """The code's quiet zone of four modules (ISO/IEC 18004) counted in."""
    make = samples.a_session_with_long_names if long else samples.a_session
    for page in coaster_pages(samples.print_of(make(glasses, paper)).kit).pages:
        assert outside(page) == []
        assert collisions(page) == []


@pytest.mark.parametrize(("paper", "glasses"), KITS)
def test_labels_of_a_set_differ_only_in_number_and_code(paper: Paper, glasses: int) -> None:
    labels = labels_of(samples.printed(glasses, paper), page=0, side="both")
    assert len(labels) == glasses
    for label in labels:
        assert are_alike(without_number_and_code(labels[0]), without_number_and_code(label))
    assert all(not np.array_equal(labels[0], label) for label in labels[1:])


@pytest.mark.parametrize(("paper", "glasses"), KITS)
def test_labels_of_a_set_are_drawn_alike_to_the_outline(paper: Paper, glasses: int) -> None:
    """The same as drawn: every element at the same place of its label, but for the code's modules and the number."""
    printed = samples.printed(glasses, paper)
    common = coaster_pages(printed.kit).pages[0].common
    drawn = []
    for place in printed.layout.coasters:
        label = Area(place.x_mm, place.y_mm - LABEL_MM, place.x_mm + LABEL_MM, place.y_mm + LABEL_MM)
        elements = [element for element in common if _is_within(ink_of(element), label)]
        drawn.append([_without_what_may_differ(element, place.number, label) for element in elements])
    assert all(len(elements) == 6 for elements in drawn)
    assert all(elements == drawn[0] for elements in drawn)


def test_that_comparison_sees_a_speck_on_one_label() -> None:
    labels = labels_of(samples.printed(5), page=0, side="both")
    specked = labels[3].copy()
    assert are_alike(without_number_and_code(labels[0]), without_number_and_code(specked))
    for row, column in ((30, 30), (250, 20), (470, 60)):
        specked[row, column] ^= 255
        assert not are_alike(without_number_and_code(labels[0]), without_number_and_code(specked))
        specked[row, column] ^= 255


@pytest.mark.parametrize("paper", samples.PAPERS)
def test_all_sets_are_alike_and_only_the_row_end_card_is_a_tasters_own(paper: Paper) -> None:
    printed = samples.printed(5, paper)
    pages = by_pdfium(printed.files["coasters.pdf"], PX_PER_MM * 25.4)
    assert len(pages) == len(samples.NAMES)
    blanked = []
    for page, card in zip(pages, printed.layout.row_ends, strict=True):
        kept = page.copy()
        kept[_px(card.y_mm) : _px(card.y_mm + card.h_mm), _px(card.x_mm) : _px(card.x_mm + card.w_mm)] = 255
        blanked.append(kept)
    assert all(np.array_equal(blanked[0], other) for other in blanked[1:])
    assert not np.array_equal(pages[0], pages[1])


@pytest.mark.parametrize(("paper", "glasses"), KITS)
def test_labels_and_cards_lie_where_the_layout_says(paper: Paper, glasses: int) -> None:
    printed = samples.printed(glasses, paper)
    layout, size = printed.layout, PAPER_SIZES[paper]
    assert [label.number for label in layout.coasters] == list(range(1, glasses + 1))
    assert [(card.number, card.pdf_page) for card in layout.row_ends] == [(1, 1), (2, 2), (3, 3)]
    pages = by_pdfium(printed.files["coasters.pdf"], PX_PER_MM * 25.4)
    for place in (*layout.coasters, *layout.row_ends):
        assert (place.w_mm, place.h_mm) == (LABEL_MM, LABEL_MM)
        assert place.x_mm + place.w_mm <= size.width_mm - 7
        kind = CodeKind.COASTER if place in layout.coasters else CodeKind.ROW_END
        expected = encode(Code(kind, printed.kit.id, place.number), printed.kit.secret)
        top, left = _px(place.y_mm), _px(place.x_mm)
        assert read_with(ZXING, pages[place.pdf_page - 1][top : top + 240, left : left + 240]) == (expected,)


def test_a_label_alone_is_read_by_both_readers_from_a_photograph_of_a_row(pytestconfig: pytest.Config) -> None:
    """DESIGN, Paper: a code readable in a photograph of the whole row; here at four px a mm, noise and all."""
    require_second_reader(pytestconfig)
    rng = np.random.default_rng(1)
    printed = samples.printed(5)
    for number, label in zip(NUMBERS, labels_of(printed), strict=True):
        picture = photographed(PILE_REFLECTANCE * label.astype(np.float64) / 255.0, rng)
        expected = encode(Code(CodeKind.COASTER, printed.kit.id, number), printed.kit.secret)
        assert read_with(ZXING, picture) == read_with(PYZBAR, picture) == (expected,)


def test_the_model_of_paper_has_the_opacity_asked_for() -> None:
    """ISO 2471: over black it reflects the opacity's share of what a pile does; and a pile is as bright as a pile."""
    black, pile = np.array([0.0]), np.array([PILE_REFLECTANCE])
    assert over(black)[0] / PILE_REFLECTANCE == pytest.approx(OPACITY)
    assert over(pile)[0] == pytest.approx(PILE_REFLECTANCE)


@pytest.mark.parametrize("name", OBSERVERS)
def test_a_label_folded_as_told_does_not_show_its_number(name: str) -> None:
    hits, tries, answers = tally(observer_named(name), FOLDED)
    assert binomtest(hits, tries, 1 / len(NUMBERS), alternative="greater").pvalue > BARELY
    if name in (ZXING, PYZBAR):
        assert answers == 0


@pytest.mark.parametrize("name", OBSERVERS)
def test_the_same_observers_do_see_the_number_through_a_single_ply(name: str, pytestconfig: pytest.Config) -> None:
    """The test above can fail: without the black half one ply of this paper hides nothing."""
    if name == PYZBAR:
        require_second_reader(pytestconfig)
    hits, tries, _ = tally(observer_named(name), UNFOLDED)
    assert hits >= 0.9 * tries


@pytest.mark.parametrize("name", [DIGIT, FACE])
def test_it_is_the_black_half_that_hides_not_the_second_ply(name: str) -> None:
    hits, tries, _ = tally(observer_named(name), WITHOUT_BLACK)
    assert hits >= 0.9 * tries


def test_what_is_left_of_the_number_is_far_below_one_level_of_gray() -> None:
    """So that the verdict does not hang on the noise: 255 levels, a print's whole contrast a twentieth of one."""
    for label in labels_of(samples.printed(5)):
        seen = 255 * seen_from_above(label, FOLDED, PX_PER_MM) / PILE_REFLECTANCE
        assert np.ptp(seen) < 0.05
        assert np.ptp(255 * seen_from_above(label, UNFOLDED, PX_PER_MM) / PILE_REFLECTANCE) > 20


@pytest.mark.parametrize("paper", samples.PAPERS)
def test_the_black_half_covers_its_number_side_whole(paper: Paper) -> None:
    for half in labels_of(samples.printed(5, paper), side="black"):
        inner = half[2:-2, 2:-2]
        assert inner.max() == 0


def observer_named(name: str) -> Observer:
    if name in (ZXING, PYZBAR):
        return lambda picture: by_reader(name, picture)
    return by_digit if name == DIGIT else by_face


def tally(observer: Observer, label: Label) -> tuple[int, int, int]:
    """Return right answers, pictures taken, and how often the observer gave any; without one it guesses."""
    rng = np.random.default_rng(20261205)
    hits = tries = answers = 0
    for number, face in zip(NUMBERS, labels_of(samples.printed(5)), strict=True):
        seen = seen_from_above(face, label, PX_PER_MM)
        for _ in range(PICTURES_EACH):
            answer = observer(photographed(seen, rng))
            answers += answer is not None
            hits += (rng.choice(NUMBERS) if answer is None else answer) == number
            tries += 1
    return hits, tries, answers


def by_digit(picture: Gray) -> int:
    """Tell the digit by the template that the picture's foot goes best with, sought two pixels each way."""
    return best_match(picture[_px(42.0) :, _px(18.0) : -_px(18.0)], templates("digits"))


def by_face(picture: Gray) -> int:
    """Tell the label by the nearest of the five known faces, code and all, sought two pixels each way."""
    return best_match(picture, templates("faces"))


def by_reader(reader: str, picture: Gray) -> int | None:
    """Tell the number by a QR reader, mirrored too, once noise is smoothed and contrast stretched to the full range."""
    printed = samples.printed(5)
    texts = {encode(Code(CodeKind.COASTER, printed.kit.id, n), printed.kit.secret): n for n in NUMBERS}
    smooth = gaussian_filter(picture.astype(np.float64), 0.4 * PX_PER_MM)
    low, high = np.percentile(smooth, (1, 99))
    stretched = np.clip((smooth - low) * (255.0 / (high - low)), 0, 255).astype(np.uint8)
    for turned in (stretched, np.ascontiguousarray(np.fliplr(stretched))):
        for text in read_with(reader, turned):
            if text in texts:
                return texts[text]
    return None


def best_match(picture: Gray, known: NDArray[np.float32]) -> int:
    """Return the number whose template has the highest correlation with the picture at any shift."""
    values = picture.astype(np.float32).ravel()
    scores = known @ (values - values.mean())
    return NUMBERS[int(np.argmax(scores) // (len(known) // len(NUMBERS)))]


@cache
def templates(what: str) -> NDArray[np.float32]:
    """Return the five numbers' patterns as seen through one ply, at 25 shifts each, of mean 0 and length 1."""
    rows = []
    for face in labels_of(samples.printed(5)):
        seen = seen_from_above(face, UNFOLDED, PX_PER_MM)
        for dy in range(-2, 3):
            for dx in range(-2, 3):
                moved = np.roll(seen, (dy, dx), axis=(0, 1))
                if what == "digits":
                    moved = moved[_px(42.0) :, _px(18.0) : -_px(18.0)]
                pattern = (moved - moved.mean()).ravel()
                rows.append(pattern / np.linalg.norm(pattern))
    return np.array(rows, dtype=np.float32)


def labels_of(printed: samples.Printed, *, page: int = 0, side: str = "number") -> list[Gray]:
    """Return the pictures of a set's number sides, black halves, or both as they are printed, one above the other."""
    picture = _coaster_pictures(printed.files["coasters.pdf"])[page]
    first_mm, last_mm = {"number": (0, LABEL_MM), "black": (-LABEL_MM, 0), "both": (-LABEL_MM, LABEL_MM)}[side]
    return [
        picture[_px(place.y_mm + first_mm) : _px(place.y_mm + last_mm), _px(place.x_mm) : _px(place.x_mm + LABEL_MM)]
        for place in printed.layout.coasters
    ]


@cache
def _coaster_pictures(pdf: bytes) -> list[Gray]:
    return by_pdfium(pdf, PX_PER_MM * 25.4)


def are_alike(one: Gray, other: Gray) -> bool:
    """Tell whether two pictures show the same to a fraction of a pixel: each within the other's next neighbours.

    The renderer rounds a page's pixels up, so that edges fall a hair differently on each label. The outermost half
    millimetre, where the next label's outline shows, is left out.
    """
    slack = 100
    one, other = one[2:-2, 2:-2], other[2:-2, 2:-2]
    return all(
        bool(np.all((a >= minimum_filter(b, 3) - slack) & (a <= maximum_filter(b, 3) + slack)))
        for a, b in ((one.astype(int), other.astype(int)), (other.astype(int), one.astype(int)))
    )


def without_number_and_code(label: Gray) -> Gray:
    """Return a label's picture with the places of its number and code made white."""
    blanked = label.copy()
    for top, bottom, left, right in _number_and_code():
        blanked[top:bottom, left:right] = 255
    return blanked


@cache
def _number_and_code() -> tuple[tuple[int, int, int, int], ...]:
    """Return where code and number lie on a label of both halves, px, taken from the design of the first label."""
    printed = samples.printed(5)
    first = printed.layout.coasters[0]
    page = coaster_pages(printed.kit).pages[0]
    code = next(element for element in page.common if isinstance(element, Modules))
    digits = [e for e in page.common if isinstance(e, Text) and e.text in map(str, NUMBERS)]
    middle = first.x_mm + LABEL_MM / 2
    areas = [grown(ink_of(code), 0.25)]
    areas += [grown(ink_of(replace(digit, x_mm=middle, y_mm=digits[0].y_mm)), 0.25) for digit in digits]
    return tuple(
        (
            _px(area.top - first.y_mm + LABEL_MM),
            _px(area.bottom - first.y_mm + LABEL_MM) + 1,
            _px(area.left - first.x_mm),
            _px(area.right - first.x_mm) + 1,
        )
        for area in areas
    )


def _is_within(inner: Area, outer: Area) -> bool:
    within = grown(outer, 0.001)
    return (
        inner.left >= within.left
        and inner.right <= within.right
        and inner.top >= within.top
        and inner.bottom <= within.bottom
    )


def _without_what_may_differ(element: Element, number: int, label: Area) -> Element:
    """Return an element as it would lie on a label at the page's corner, with code and number left blank."""
    match element:
        case Modules():
            element = replace(element, rows=())
        case Text() if element.text == str(number):
            element = replace(element, text="")
        case Rect() | Text():
            pass
        case _:
            raise AssertionError(f"{element}: a kind of element that this comparison does not know")
    return replace(element, x_mm=round(element.x_mm - label.left, 6), y_mm=round(element.y_mm - label.top, 6))


def _px(mm: float) -> int:
    return round(mm * PX_PER_MM)
