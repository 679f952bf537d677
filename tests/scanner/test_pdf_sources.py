"""The door for PDF piles: the embedded scan where a page is one picture, the rendered page everywhere else."""

from __future__ import annotations

import pickle
import struct
import subprocess
import sys
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from pypdf.annotations import Line
from pypdf.generic import ArrayObject, FloatObject, NameObject, NumberObject, StreamObject
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from scanner.limits import MOST_PAGES
from scanner.page_image import PageError, PageImage
from scanner.pdf_placement import placement
from scanner.pdf_sources import MOST_RENDER_DPI, DrawnPixels, JpegScanPixels, ScanPixels
from scanner.sources import count_pages, open_source
from tests.outside_programs import left_out
from tests.scanner.picture_files import (
    HEIGHT_PX,
    WIDTH_PX,
    Gray,
    decoded_by_opencv,
    exif,
    octets,
    only_failure,
    only_page,
    page_picture,
    stored,
    worst_difference,
    write,
)

ROOT = Path(__file__).parents[2]
FULL = 100_000
PAGE = page_picture()
PICTURE = Image.fromarray(PAGE)
JPEG = octets(PICTURE, "JPEG", quality=90)
AS_DECODED = np.asarray(Image.open(BytesIO(JPEG)))
WIDTH_PT, HEIGHT_PT = WIDTH_PX / 2, HEIGHT_PX / 2
"""The page at 144 dpi."""

FORMS: dict[int, tuple[float, ...]] = {
    1: (1, 0, 0, 1, 0, 0),
    2: (-1, 0, 0, 1, 1, 0),
    3: (-1, 0, 0, -1, 1, 1),
    4: (1, 0, 0, -1, 0, 1),
    5: (0, -1, -1, 0, 1, 1),
    6: (0, -1, 1, 0, 0, 1),
    7: (0, 1, 1, 0, 0, 0),
    8: (0, 1, -1, 0, 1, 0),
}
"""EXIF orientation → the matrix that draws such a picture upright into the unit square (ISO 32000-1, 8.3.4)."""


def pdf_of(
    picture: bytes | Image.Image,
    *,
    before: Callable[[Canvas], object] | None = None,
    after: Callable[[Canvas], object] | None = None,
    matrix: tuple[float, ...] = FORMS[1],
    size_pt: tuple[float, float] = (WIDTH_PT, HEIGHT_PT),
    mask: str | None = None,
) -> bytes:
    """Return a PDF with a page of one picture, drawn over the page after `matrix`."""
    file = BytesIO()
    canvas = Canvas(file, pagesize=size_pt)
    canvas.saveState()
    if before:
        before(canvas)
    canvas.scale(*size_pt)
    canvas.transform(*matrix)
    source = BytesIO(picture) if isinstance(picture, bytes) else picture
    canvas.drawImage(ImageReader(source), 0, 0, 1, 1, mask=mask)
    canvas.restoreState()
    if after:
        after(canvas)
    canvas.showPage()
    canvas.save()
    return file.getvalue()


def edited(content: bytes, edit: Callable[[pypdf.PdfWriter], object]) -> bytes:
    """Return a PDF after pypdf changed something in it."""
    writer = pypdf.PdfWriter(BytesIO(content))
    edit(writer)
    file = BytesIO()
    writer.write(file)
    return file.getvalue()


def picture_entry(key: str, value: Any) -> Callable[[pypdf.PdfWriter], None]:
    """Return an edit that puts an entry into the dictionary of the only picture."""

    def edit(writer: pypdf.PdfWriter) -> None:
        resources: Any = writer.pages[0]["/Resources"]
        (name,) = resources["/XObject"]
        resources["/XObject"][name].get_object()[NameObject(key)] = value

    return edit


def seen_by_poppler(path: Path, dpi: int = 144) -> Gray:
    """Return the first page as poppler shows it: the outside reference for how a page is turned and cut."""
    if left_out("pdftoppm"):
        pytest.skip("pdftoppm is missing: apt install poppler-utils")
    command = ["pdftoppm", "-r", str(dpi), "-gray", "-cropbox", "-singlefile", str(path), str(path.with_suffix(""))]
    subprocess.run(command, check=True, capture_output=True, timeout=30)
    return np.asarray(Image.open(path.with_suffix(".pgm")))


def mean_difference(left: Gray, right: Gray) -> float:
    height, width = min(left.shape[0], right.shape[0]), min(left.shape[1], right.shape[1])
    assert abs(left.shape[0] - right.shape[0]) <= 1
    assert abs(left.shape[1] - right.shape[1]) <= 1
    return float(np.abs(left[:height, :width].astype(int) - right[:height, :width]).mean())


# The embedded scan.


def test_a_page_of_one_jpeg_gives_the_jpeg_itself(tmp_path: Path) -> None:
    page = only_page(write(tmp_path / "scan.pdf", pdf_of(JPEG)))
    assert isinstance(page.pixels, JpegScanPixels)
    assert page.pixels.jpeg == JPEG
    assert page.full_size_px == (WIDTH_PX, HEIGHT_PX)
    assert worst_difference(page.gray(FULL), AS_DECODED) == 0


@pytest.mark.parametrize("rotation_deg", [0, 90, 180, 270, 450, -90])
def test_the_pages_rotation_turns_the_scan_clockwise(rotation_deg: int, tmp_path: Path) -> None:
    """Source: ISO 32000-1, table 30, /Rotate, and poppler's rendering."""
    content = edited(pdf_of(JPEG), lambda writer: writer.pages[0].rotate(rotation_deg))
    path = write(tmp_path / "scan.pdf", content)
    gray = only_page(path).gray(FULL)
    assert worst_difference(gray, np.rot90(AS_DECODED, -rotation_deg // 90)) == 0
    assert only_page(path).full_size_px == gray.shape[::-1]
    assert mean_difference(gray, seen_by_poppler(path)) < 3


@pytest.mark.parametrize("rotation_deg", [0, 90, 180, 270])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_scan_drawn_turned_or_mirrored_comes_out_as_seen(orientation: int, rotation_deg: int, tmp_path: Path) -> None:
    """Source: ISO 32000-1, 8.3.4 and 8.9.5, and poppler's rendering."""
    picture = octets(stored(PAGE, orientation), "JPEG", quality=90)
    content = edited(pdf_of(picture, matrix=FORMS[orientation]), lambda writer: writer.pages[0].rotate(rotation_deg))
    path = write(tmp_path / "scan.pdf", content)
    page = only_page(path)
    assert isinstance(page.pixels, JpegScanPixels)
    upright = np.rot90(PAGE, -rotation_deg // 90)
    assert worst_difference(page.gray(FULL), upright) <= 25
    if orientation in (2, 6):
        assert mean_difference(page.gray(FULL), seen_by_poppler(path)) < 3


def test_an_exif_orientation_inside_a_pdf_does_not_count(tmp_path: Path) -> None:
    """Source: poppler's rendering; ISO 32000-1, 7.4.8, gives DCTDecode no such parameter."""
    path = write(tmp_path / "scan.pdf", pdf_of(octets(PICTURE, "JPEG", quality=90, exif=exif(6))))
    gray = only_page(path).gray(FULL)
    assert worst_difference(gray, AS_DECODED) == 0
    assert mean_difference(gray, seen_by_poppler(path)) < 3


@pytest.mark.parametrize("rotation_deg", [0, 90, 180, 270])
def test_the_crop_box_cuts_the_scan(rotation_deg: int, tmp_path: Path) -> None:
    def crop(writer: pypdf.PdfWriter) -> None:
        page = writer.pages[0]
        page.cropbox.lower_left = (10, 20)
        page.cropbox.upper_right = (WIDTH_PT - 5, HEIGHT_PT - 40)
        page.rotate(rotation_deg)

    path = write(tmp_path / "scan.pdf", edited(pdf_of(JPEG), crop))
    page = only_page(path)
    assert isinstance(page.pixels, JpegScanPixels)
    expected = np.rot90(AS_DECODED[80 : HEIGHT_PX - 40, 20 : WIDTH_PX - 10], -rotation_deg // 90)
    assert worst_difference(page.gray(FULL), expected) == 0
    assert page.full_size_px == expected.shape[::-1]
    assert mean_difference(page.gray(FULL), seen_by_poppler(path)) < 3
    assert max(page.gray(200).shape) >= 200  # half of the whole scan would do, half of what is left would not


def test_a_rectangle_that_clips_cuts_the_scan(tmp_path: Path) -> None:
    def clip(canvas: Canvas) -> None:
        path = canvas.beginPath()
        path.rect(0, 0, WIDTH_PT, HEIGHT_PT / 2)
        canvas.clipPath(path, stroke=0, fill=0)

    page = only_page(write(tmp_path / "scan.pdf", pdf_of(JPEG, before=clip)))
    assert isinstance(page.pixels, JpegScanPixels)
    assert worst_difference(page.gray(FULL), AS_DECODED[HEIGHT_PX // 2 :]) == 0


def test_a_reduced_decode_reaches_into_the_pdf(tmp_path: Path) -> None:
    gray = only_page(write(tmp_path / "scan.pdf", pdf_of(JPEG))).gray(HEIGHT_PX // 2)
    reference = decoded_by_opencv(JPEG, cv2.IMREAD_REDUCED_GRAYSCALE_2)
    assert worst_difference(gray, reference) == 0


BLACK_AND_WHITE = PICTURE.convert("1", dither=Image.Dither.NONE)


@pytest.mark.parametrize(
    "picture",
    [
        pytest.param(PICTURE, id="gray, deflated"),
        pytest.param(PICTURE.convert("RGB"), id="colour, deflated"),
    ],
)
def test_a_scan_of_another_encoding_is_taken_out_too(picture: Image.Image, tmp_path: Path) -> None:
    page = only_page(write(tmp_path / "scan.pdf", pdf_of(octets(picture, "PNG"))))
    assert isinstance(page.pixels, ScanPixels)
    assert worst_difference(page.gray(FULL), PAGE) <= 1


def test_a_fax_in_a_pdf_is_taken_out_pixel_by_pixel(tmp_path: Path) -> None:
    content = octets(BLACK_AND_WHITE, "PDF", resolution=144)
    assert b"CCITTFaxDecode" in content
    page = only_page(write(tmp_path / "fax.pdf", content))
    assert isinstance(page.pixels, ScanPixels)
    assert worst_difference(page.gray(FULL), np.asarray(BLACK_AND_WHITE.convert("L"))) == 0


def test_invisible_text_over_a_scan_is_passed_over(tmp_path: Path) -> None:
    def recognised(canvas: Canvas) -> None:
        text = canvas.beginText(20, 100)
        text.setTextRenderMode(3)
        text.textLine("Heron")
        canvas.drawText(text)

    page = only_page(write(tmp_path / "scan.pdf", pdf_of(JPEG, after=recognised)))
    assert isinstance(page.pixels, JpegScanPixels)


def test_a_pdf_locked_for_its_owner_alone_gives_its_scan(tmp_path: Path) -> None:
    content = edited(pdf_of(JPEG), lambda writer: writer.encrypt("", "owner", algorithm="RC4-128"))
    page = only_page(write(tmp_path / "scan.pdf", content))
    assert isinstance(page.pixels, JpegScanPixels)
    assert page.pixels.jpeg == JPEG


# Pages that must be rendered: taking the picture out would lose or falsify something.


def _text(canvas: Canvas) -> None:
    canvas.drawString(20, 100, "crossed by a program")


def _second_picture(canvas: Canvas) -> None:
    canvas.drawImage(ImageReader(BytesIO(JPEG)), 30, 30, 60, 60)


def _round_clip(canvas: Canvas) -> None:
    path = canvas.beginPath()
    path.circle(WIDTH_PT / 2, HEIGHT_PT / 2, WIDTH_PT / 2.1)
    canvas.clipPath(path, stroke=0, fill=0)


def _slant(canvas: Canvas) -> None:
    canvas.translate(20, 0)
    canvas.rotate(5)


def _shrink(canvas: Canvas) -> None:
    canvas.scale(0.4, 0.4)


def _annotation(writer: pypdf.PdfWriter) -> None:
    cross = Line(rect=(20, 20, 90, 90), p1=(20, 20), p2=(90, 90), text="")
    writer.add_annotation(0, cross)


def _soft_mask(writer: pypdf.PdfWriter) -> None:
    mask = StreamObject()
    mask.set_data(bytes([0] * 8 + [255] * 8))
    mask.update(
        {
            NameObject("/Type"): NameObject("/XObject"),
            NameObject("/Subtype"): NameObject("/Image"),
            NameObject("/Width"): NumberObject(1),
            NameObject("/Height"): NumberObject(16),
            NameObject("/ColorSpace"): NameObject("/DeviceGray"),
            NameObject("/BitsPerComponent"): NumberObject(8),
        }
    )
    picture_entry("/SMask", writer._add_object(mask))(writer)


def _indexed(writer: pypdf.PdfWriter) -> None:
    table = pypdf.generic.ByteStringObject(bytes(255 - level for level in range(256)))
    space = [NameObject("/Indexed"), NameObject("/DeviceGray"), NumberObject(255), table]
    picture_entry("/ColorSpace", ArrayObject(space))(writer)


def _see_through(canvas: Canvas) -> None:
    canvas.setFillAlpha(0.5)


DEFLATED = pdf_of(octets(PICTURE, "PNG"))

RENDERED = {
    "text over it": pdf_of(JPEG, after=_text),
    "text under it": pdf_of(JPEG, before=_text),
    "two pictures": pdf_of(JPEG, after=_second_picture),
    "cut round": pdf_of(JPEG, before=_round_clip),
    "aslant": pdf_of(JPEG, before=_slant),
    "small on the page": pdf_of(JPEG, before=_shrink),
    "stretched": pdf_of(JPEG, size_pt=(WIDTH_PT, HEIGHT_PT * 1.5)),
    "an annotation": edited(pdf_of(JPEG), _annotation),
    "a soft mask": edited(pdf_of(JPEG), _soft_mask),
    "half transparent": pdf_of(JPEG, before=_see_through),
    "indexed colours": edited(DEFLATED, _indexed),
    "alpha": pdf_of(octets(Image.fromarray(np.dstack([PAGE] * 4), "RGBA"), "PNG"), mask="auto"),
    "CMYK": pdf_of(octets(PICTURE.convert("CMYK"), "JPEG", quality=95)),
    "a stencil": edited(
        octets(BLACK_AND_WHITE, "PDF", resolution=144),
        lambda writer: (
            picture_entry("/ImageMask", pypdf.generic.BooleanObject(True))(writer),
            writer.pages[0]["/Resources"]["/XObject"]["/image"].get_object().pop("/ColorSpace"),  # type: ignore[index]
        ),
    ),
}


@pytest.mark.parametrize("content", RENDERED.values(), ids=RENDERED.keys())
def test_what_is_more_than_a_plain_scan_is_rendered_as_others_see_it(content: bytes, tmp_path: Path) -> None:
    """Source: poppler's rendering of the same page, at the 200 dpi of ours."""
    path = write(tmp_path / "page.pdf", content)
    page = only_page(path)
    gray = page.gray(1)
    assert isinstance(page.pixels, DrawnPixels)
    assert page.gray(page.full_size_px[1]).shape == page.full_size_px[::-1]
    assert mean_difference(page.gray(page.full_size_px[1]), seen_by_poppler(path, 200)) < 8
    assert gray.dtype == np.uint8


def test_a_jpeg_of_four_inks_is_left_to_pdfium_whatever_its_colour_space_is_called(tmp_path: Path) -> None:
    """Source: poppler's rendering. A scan of CMYK under an ICC profile says ICCBased, as a gray one may."""

    def profiled(writer: pypdf.PdfWriter) -> None:
        profile = StreamObject()
        profile.set_data(b"not a profile, so that /Alternate counts")
        profile.update({NameObject("/N"): NumberObject(4), NameObject("/Alternate"): NameObject("/DeviceCMYK")})
        space = [NameObject("/ICCBased"), writer._add_object(profile)]
        picture_entry("/ColorSpace", ArrayObject(space))(writer)
        writer.pages[0]["/Resources"]["/XObject"][name].get_object().pop("/Decode")  # type: ignore[index]

    inks = Image.merge("CMYK", [Image.new("L", PICTURE.size)] * 3 + [Image.fromarray(255 - PAGE)])
    content = pdf_of(octets(inks, "JPEG", quality=95))
    (name,) = pypdf.PdfReader(BytesIO(content)).pages[0]["/Resources"]["/XObject"]  # type: ignore[index]
    path = write(tmp_path / "scan.pdf", edited(content, profiled))
    page = only_page(path)
    assert not isinstance(page.pixels, JpegScanPixels)
    assert mean_difference(page.gray(FULL), seen_by_poppler(path)) < 25


def test_a_decode_array_is_obeyed(tmp_path: Path) -> None:
    """A JPEG stored as a negative, made positive by /Decode (ISO 32000-1, 8.9.5.2); poppler as reference."""
    negative = octets(Image.fromarray(255 - PAGE), "JPEG", quality=90)
    decode = ArrayObject([FloatObject(1), FloatObject(0)])
    path = write(tmp_path / "scan.pdf", edited(pdf_of(negative), picture_entry("/Decode", decode)))
    page = only_page(path)
    assert isinstance(page.pixels, ScanPixels)
    assert worst_difference(page.gray(FULL), PAGE) <= 25
    assert mean_difference(page.gray(FULL), seen_by_poppler(path)) < 3


def test_a_drawn_page_is_rendered_at_200_dpi_or_as_fine_as_asked(tmp_path: Path) -> None:
    file = BytesIO()
    canvas = Canvas(file, pagesize=(360, 720))  # 5 by 10 inches
    canvas.rect(36, 36, 72, 72, fill=1)
    canvas.save()
    page = only_page(write(tmp_path / "form.pdf", file.getvalue()))
    assert page.full_size_px == (1000, 2000)
    assert page.gray(2000).shape == (2000, 1000)
    assert page.gray(3000).shape == (3000, 1500)
    assert page.gray(1000).shape == (1000, 500)
    assert max(page.gray(FULL).shape) == 10 * MOST_RENDER_DPI
    black = page.gray(2000) < 128
    assert black[2000 - 300 + 5 : 2000 - 100 - 5, 105:295].all()
    assert black.mean() == pytest.approx(0.02, rel=0.05)


def test_a_poster_is_rendered_within_the_pixel_limit(tmp_path: Path) -> None:
    file = BytesIO()
    canvas = Canvas(file, pagesize=(72 * 100, 72 * 90))
    canvas.showPage()
    canvas.save()
    width_px, height_px = only_page(write(tmp_path / "poster.pdf", file.getvalue())).full_size_px
    assert 95e6 < width_px * height_px <= 100e6


def test_nothing_at_all_is_printed(tmp_path: Path) -> None:
    """In a process of its own: pytest's own handlers would swallow what libraries log."""
    samples = [fax_of_samples(), pdf_of(JPEG), DEFLATED, octets(BLACK_AND_WHITE, "PDF"), *RENDERED.values()]
    paths = [str(write(tmp_path / str(n), content)) for n, content in enumerate(samples)]
    script = (
        "import sys\n"
        "from scanner.sources import PageImage, open_source\n"
        "pages = [page for path in sys.argv[1:] for page in open_source(path)]\n"
        "sys.exit(sum(page.gray(300).size > 0 for page in pages if isinstance(page, PageImage)))"
    )
    result = subprocess.run(
        [sys.executable, "-c", script, *paths], cwd=ROOT, capture_output=True, timeout=60, check=False
    )
    assert (result.returncode, result.stdout, result.stderr) == (len(samples) - 1, b"", b"")


def fax_of_samples() -> bytes:
    """Return a TIFF of so many samples a pixel that Pillow logs an error."""
    content = bytearray(octets(PICTURE, "TIFF", tiffinfo={277: 1}))
    at = content.index(b"\x15\x01\x03\x00")
    content[at + 8 : at + 10] = b"\xff\x00"
    return bytes(content)


# Piles, and what is wrong with them.


def pile_of(count: int, size_pt: float = 144) -> bytes:
    writer = pypdf.PdfWriter()
    for _ in range(count):
        writer.add_blank_page(size_pt, size_pt)
    file = BytesIO()
    writer.write(file)
    return file.getvalue()


def test_a_pile_keeps_its_order_and_a_bad_page_does_not_stop_it(tmp_path: Path) -> None:
    parts = [
        pdf_of(octets(Image.new("L", (300, 300), 40), "JPEG"), size_pt=(150, 150)),
        pdf_of(JPEG.replace(b"\xff\xd9", b"\xff\xd0")),
        pdf_of(octets(Image.new("L", (150, 150), 90), "JPEG"), size_pt=(150, 150)),
        pdf_of(octets(Image.new("L", (300, 300), 200), "PNG"), size_pt=(150, 150)),
    ]
    writer = pypdf.PdfWriter()
    for part in parts:
        writer.append(BytesIO(part))
    file = BytesIO()
    writer.write(file)
    path = write(tmp_path / "pile.pdf", file.getvalue())
    opened = list(open_source(path))
    assert [page.source_page for page in opened] == [1, 2, 3, 4]
    assert count_pages(path) == 4
    levels = [int(page.gray(FULL)[0, 0]) if isinstance(page, PageImage) else page.reason for page in opened]
    assert (levels[0], levels[3]) == (40, 200)
    assert "cut short" in str(levels[1])
    assert "too small to be a page: 150×150 px" in str(levels[2])


def test_pages_outlive_the_iteration_and_travel(tmp_path: Path) -> None:
    contents = (pdf_of(JPEG), DEFLATED, pdf_of(JPEG, after=_text))
    for page in [only_page(write(tmp_path / f"{n}.pdf", content)) for n, content in enumerate(contents)]:
        travelled = pickle.loads(pickle.dumps(page))
        assert worst_difference(travelled.gray(500), page.gray(500)) == 0


def test_two_piles_may_be_read_in_turns(tmp_path: Path) -> None:
    paths = [write(tmp_path / f"{n}.pdf", pile_of(3, 144 + 72 * n)) for n in range(2)]
    for small, large in zip(open_source(paths[0]), open_source(paths[1]), strict=True):
        assert isinstance(small, PageImage)
        assert isinstance(large, PageImage)
        assert (small.gray(1).shape, small.full_size_px, large.full_size_px) == ((1, 1), (400, 400), (600, 600))


def _broken(content: bytes) -> bytes:
    return content.replace(b"/Type /Catalog", b"/Typo /Catalog").replace(b"/Pages", b"/Pagos")


UNREADABLE = {
    "password": (
        edited(pile_of(1), lambda writer: writer.encrypt("tide", algorithm="RC4-128")),
        "locked with a password",
    ),
    "no pages": (pile_of(0), "no pages"),
    "too many pages": (pile_of(MOST_PAGES + 1), "2,001 pages"),
    "cut short": (pile_of(3)[:-300], "cut short"),
    "header alone": (b"%PDF-1.7\n", "cut short"),
    "broken": (_broken(pile_of(1)), "damaged"),
    "header and end": (b"%PDF-1.7\n%%EOF\n", "damaged"),
}


@pytest.mark.parametrize(("content", "words"), UNREADABLE.values(), ids=UNREADABLE.keys())
def test_what_is_wrong_with_a_pdf_is_said_in_words(
    content: bytes, words: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    locked = write(tmp_path / "locked.pdf", UNREADABLE["password"][0])
    assert "password" in only_failure(locked).reason  # pdfium would remember this for the next file
    path = write(tmp_path / "pile.pdf", content)
    failure = only_failure(path)
    assert failure.source_page is None
    assert words in failure.reason
    assert failure.reason.endswith(".")
    assert count_pages(path) == 1
    assert capfd.readouterr().err == ""


def test_an_aes_password_is_told_too(tmp_path: Path) -> None:
    if left_out("qpdf"):
        pytest.skip("qpdf is missing: apt install qpdf")
    plain, locked = write(tmp_path / "plain.pdf", pile_of(1)), tmp_path / "locked.pdf"
    command = ["qpdf", "--encrypt", "tide", "owner", "256", "--", str(plain), str(locked)]
    subprocess.run(command, check=True, timeout=30)
    assert "locked with a password" in only_failure(locked).reason


def test_a_giant_scan_in_a_pdf_is_refused_undecoded(tmp_path: Path) -> None:
    def claim(writer: pypdf.PdfWriter) -> None:
        picture_entry("/Width", NumberObject(30_000))(writer)
        picture_entry("/Height", NumberObject(30_000))(writer)

    square = pdf_of(octets(Image.new("L", (300, 300), 90), "PNG"), size_pt=(150, 150))
    failure = only_failure(write(tmp_path / "giant.pdf", edited(square, claim)))
    assert failure.source_page == 1
    assert "30,000×30,000 px are 900 megapixels" in failure.reason


@pytest.mark.parametrize("drawn", [False, True])
def test_a_jpeg_larger_than_the_pdf_tells_is_refused_undecoded(drawn: bool, tmp_path: Path) -> None:
    """Found by coverage-guided fuzzing. A frame header tells height, then width (ITU-T T.81, B.2.2)."""
    content = octets(PICTURE.convert("RGB"), "PDF")
    content = edited(content, _annotation) if drawn else content
    size, giant = (struct.pack(">HH", height, width) for height, width in ((HEIGHT_PX, WIDTH_PX), (21_065, 17_990)))
    frame = content.index(size, content.index(b"\xff\xc0"))
    path = write(tmp_path / "pile.pdf", content[:frame] + giant + content[frame + 4 :])
    assert "too large: 17,990×21,065 px" in only_failure(path).reason


def test_a_page_without_extent_is_too_small(tmp_path: Path) -> None:
    failure = only_failure(write(tmp_path / "strip.pdf", pile_of(1, 20)))
    assert failure.source_page == 1
    assert "too small" in failure.reason


@pytest.mark.parametrize("content", [pdf_of(JPEG), DEFLATED, pdf_of(JPEG, after=_text)], ids=["jpeg", "png", "drawn"])
def test_damage_anywhere_in_a_pdf_ends_in_a_page_or_in_a_reason(content: bytes, tmp_path: Path) -> None:
    random = np.random.default_rng(5)
    for _ in range(60):
        damaged = bytearray(content)
        for _ in range(random.integers(1, 20)):
            damaged[random.integers(len(damaged))] = random.integers(256)
        path = write(tmp_path / "pile.pdf", bytes(damaged))
        for opened in open_source(path):
            try:
                reason = opened.gray(200).dtype.name if isinstance(opened, PageImage) else opened.reason
            except PageError as error:
                reason = error.failure.reason
            assert reason == "uint8" or reason.endswith(".")


# The geometry alone.


@given(
    rotation_deg=st.sampled_from([0, 90, 180, 270]),
    orientation=st.sampled_from(sorted(FORMS)),
    left=st.floats(-500, 500),
    low=st.floats(-500, 500),
    width=st.floats(100, 900),
    height=st.floats(100, 900),
)
def test_a_picture_that_fills_its_page_is_shown_whole(
    rotation_deg: int, orientation: int, left: float, low: float, width: float, height: float
) -> None:
    a, b, c, d, e, f = FORMS[orientation]
    matrix = (a * width, b * height, c * width, d * height, e * width + left, f * height + low)
    size_px = (round(10 * height), round(10 * width)) if orientation > 4 else (round(10 * width), round(10 * height))
    place = placement(size_px, matrix, (left, low, left + width, low + height), rotation_deg)
    assert place is not None
    assert place.shown == (0, 0, 1, 1)
    turned = size_px if (orientation > 4) == (rotation_deg in (90, 270)) else size_px[::-1]
    assert place.upright_size(*size_px) == turned


@pytest.mark.parametrize(("angle_deg", "taken"), [(0.3, True), (0.7, False), (90.3, True), (89.3, False), (45, False)])
def test_a_picture_that_lies_aslant_is_not_taken(angle_deg: float, taken: bool) -> None:
    across, up = 100 * np.exp(1j * np.radians(angle_deg)), 100j * np.exp(1j * np.radians(angle_deg))
    matrix = (across.real, across.imag, up.real, up.imag, 50, 50)
    assert (placement((100, 100), matrix, (-51, 49, 151, 151), 0) is not None) == taken


def test_a_picture_without_extent_has_no_placement() -> None:
    assert placement((100, 100), (0, 0, 0, 0, 5, 5), (0, 0, 100, 100), 0) is None
    assert placement((100, 100), (100, 0, 100, 0, 0, 0), (0, 0, 100, 100), 0) is None
    assert placement((100, 100), (100, 0, 0, 100, 500, 500), (0, 0, 100, 100), 0) is None
