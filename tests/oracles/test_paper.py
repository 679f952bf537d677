"""Paper, fiducials and printed codes against what others publish: ISO 216, the inch, OpenCV's tags, two QR readers."""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np
import pytest

from kit.codes import ROLE_DIGITS, Code, CodeKind, encode
from kit.fiducials import FIDUCIALS
from kit.paper import A4, LETTER, POINTS_PER_MM
from kit.session import Paper, Shuffle
from scanner.code_readers import PYZBAR, READERS, ZXING, read_with
from tests.kit import samples
from tests.kit.rendering import RENDERERS, Gray, by_pdfium, needs_poppler
from tests.scanner.second_reader import require_second_reader

DPI = 200
KITS: list[tuple[Paper, Shuffle]] = [(paper, shuffle) for paper in samples.PAPERS for shuffle in ("host", "hand")]


@pytest.fixture(params=READERS)
def reader(request: pytest.FixtureRequest) -> str:
    """Each QR reader in turn."""
    if request.param == PYZBAR:
        require_second_reader(request.config)
    return str(request.param)


def test_a4_is_a0_halved_four_times() -> None:
    """ISO 216: A0 is 841 × 1189 mm; each size is the one before halved across its length, rounded down to the mm."""
    width, height = 841, 1189
    for _ in range(4):
        width, height = height // 2, width
    assert (A4.width_mm, A4.height_mm) == (width, height) == (210, 297)
    # Sides in the ratio of 1 : √2, as the standard asks, but for the rounding.
    assert A4.height_mm / A4.width_mm == pytest.approx(2**0.5, abs=0.0005)


def test_letter_is_eight_and_a_half_by_eleven_inches() -> None:
    """An inch is 25.4 mm exactly (international yard and pound agreement, 1959)."""
    assert (LETTER.width_mm, LETTER.height_mm) == pytest.approx((8.5 * 25.4, 11 * 25.4))
    assert pytest.approx(72) == POINTS_PER_MM * 25.4


@needs_poppler
@pytest.mark.parametrize("renderer", RENDERERS)
@pytest.mark.parametrize(("paper", "width_px", "height_px"), [("A4", 2480, 3508), ("Letter", 2550, 3300)])
def test_pages_have_the_known_sizes_at_300_dpi(renderer: str, paper: Paper, width_px: int, height_px: int) -> None:
    """SOURCES, F. Renderers round a part of a pixel up (MEASURED, Traps)."""
    for name, pdf in samples.printed(3, paper).pdfs.items():
        for picture in RENDERERS[renderer](pdf, 300):
            assert picture.shape[1] - width_px in (0, 1), name
            assert picture.shape[0] - height_px in (0, 1), name


@pytest.mark.parametrize("number", range(4))
def test_fiducials_are_the_tags_of_the_family_36h11(number: int) -> None:
    """AprilTag 36h11 as OpenCV's aruco module draws it: one pixel a module, six by six and the black border."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    expected = cv2.aruco.generateImageMarker(dictionary, number, 8, borderBits=1) == 0
    assert np.array_equal(np.array(FIDUCIALS[number]), expected)


def test_fiducials_differ_in_every_turn() -> None:
    """The family's least distance is 11 of 36 modules, turns included (its name): no corner is taken for another."""
    turns = [np.rot90(np.array(tag), quarter) for tag in FIDUCIALS for quarter in range(4)]
    for one in range(16):
        for other in range(one):
            assert int((turns[one] != turns[other]).sum()) >= 11


@needs_poppler
@pytest.mark.parametrize(("paper", "shuffle"), KITS)
def test_opencv_finds_the_four_fiducials_of_every_sheet_at_their_corners(paper: Paper, shuffle: Shuffle) -> None:
    printed = samples.printed(5, paper, shuffle)
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11))
    for name in ("forms.pdf", "keys.pdf"):
        pages = [page for page in printed.layout.pages if page.pdf == name and page.taster == 1]
        pictures = by_pdfium(printed.files[name], DPI) if pages else []
        for page in pages:
            corners, ids, _ = detector.detectMarkers(pictures[page.pdf_page - 1])
            found = {int(number): square.reshape(4, 2) for number, square in zip(ids.ravel(), corners, strict=True)}
            assert set(found) == {0, 1, 2, 3}
            for square in page.fiducials:
                # A tag's first corner is its own top left: none of them is printed turned.
                first_mm = (found[square.number][0] + 0.5) / DPI * 25.4
                assert first_mm == pytest.approx((square.x_mm, square.y_mm), abs=0.3)


@pytest.mark.parametrize(("paper", "shuffle"), KITS)
def test_every_printed_code_is_read_by_both_readers_from_200_dpi(paper: Paper, shuffle: Shuffle, reader: str) -> None:
    """Each of the two codes of a sheet for itself, every label and card, straight and upside down."""
    printed = samples.printed(5, paper, shuffle)
    crops = list(code_crops(printed))
    tasters, sheets = len(samples.NAMES), 4
    assert len(crops) == tasters * (2 * sheets + 1) + 5
    for where, expected, crop in crops:
        assert read_with(reader, crop) == (expected,), where
        assert read_with(reader, np.ascontiguousarray(np.rot90(crop, 2))) == (expected,), where


def test_a_reader_finds_no_code_where_none_is_printed(reader: str) -> None:
    """So that the test above can fail: the same crops of a code that lost a quarter of its modules."""
    _, _, crop = next(code_crops(samples.printed(5)))
    broken = crop.copy()
    broken[crop.shape[0] // 3 : 2 * crop.shape[0] // 3] = 255
    assert read_with(reader, broken) == ()


def test_whole_pages_are_read_by_zxing_and_say_one_sheet_twice() -> None:
    printed = samples.printed(5)
    pages = [page for page in printed.layout.pages if page.pdf == "forms.pdf"]
    for page, picture in zip(pages, by_pdfium(printed.files["forms.pdf"], DPI), strict=True):
        code = Code(CodeKind.SHEET, printed.kit.id, page.taster, ROLE_DIGITS[page.role])
        assert read_with(ZXING, picture) == (encode(code, printed.kit.secret),)


def test_the_crops_of_the_readers_test_hold_the_quiet_zone_and_no_more() -> None:
    where, _, crop = next(code_crops(samples.printed(5)))
    assert where.startswith("forms.pdf")
    module_px = 0.8 / 25.4 * DPI
    assert crop.shape[0] == pytest.approx((21 + 2 * 4) * module_px, abs=2)
    crop, edge = crop[1:-1, 1:-1], int(3 * module_px)
    assert min(crop[:edge].min(), crop[-edge:].min(), crop[:, :edge].min(), crop[:, -edge:].min()) == 255


def code_crops(printed: samples.Printed) -> Iterator[tuple[str, str, Gray]]:
    """Yield every code printed with a kit as (where, what it must say, its picture with the quiet zone)."""
    kit = printed.kit
    pictures = {name: by_pdfium(pdf, DPI) for name, pdf in printed.pdfs.items()}
    for page in printed.layout.pages:
        text = encode(Code(CodeKind.SHEET, kit.id, page.taster, ROLE_DIGITS[page.role]), kit.secret)
        for code in page.codes:
            crop = cropped(pictures[page.pdf][page.pdf_page - 1], code.x_mm, code.y_mm, code.side_mm)
            yield f"{page.pdf}, page {page.pdf_page}, code {code.number}", text, crop
    kinds = ((CodeKind.COASTER, printed.layout.coasters), (CodeKind.ROW_END, printed.layout.row_ends))
    for kind, place in ((kind, place) for kind, places in kinds for place in places):
        picture = pictures[place.pdf][place.pdf_page - 1]
        rows = slice(px(place.y_mm) + 2, px(place.y_mm + place.h_mm) - 2)
        columns = slice(px(place.x_mm) + 2, px(place.x_mm + place.w_mm) - 2)
        text = encode(Code(kind, kit.id, place.number), kit.secret)
        yield f"{place.pdf}, page {place.pdf_page}, {kind} {place.number}", text, picture[rows, columns]


def cropped(picture: Gray, x_mm: float, y_mm: float, side_mm: float) -> Gray:
    """Return a code's picture with its quiet zone of four modules (ISO/IEC 18004)."""
    quiet_mm = 4 * side_mm / 21
    return picture[
        px(y_mm - quiet_mm) : px(y_mm + side_mm + quiet_mm), px(x_mm - quiet_mm) : px(x_mm + side_mm + quiet_mm)
    ]


def px(mm: float) -> int:
    return round(mm / 25.4 * DPI)
