"""The door for PDF piles: the embedded scan where a page is one picture, the rendered page everywhere else."""

from __future__ import annotations

import subprocess
import sys
from io import BytesIO
from pathlib import Path

import cv2
import numpy as np
import pypdf
import pytest
from PIL import Image
from pypdf.generic import ArrayObject, FloatObject, NameObject, NumberObject, StreamObject
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from scanner.pdf_sources import MOST_RENDER_DPI, DrawnPixels, JpegScanPixels, ScanPixels
from tests.scanner.pdf_files import (
    AS_DECODED,
    DEFLATED,
    FORMS,
    FULL,
    HEIGHT_PT,
    JPEG,
    PAGE,
    PICTURE,
    ROOT,
    WIDTH_PT,
    edited,
    mean_difference,
    pdf_of,
    picture_entry,
    seen_by_poppler,
    with_annotation,
    with_text,
)
from tests.scanner.picture_files import (
    HEIGHT_PX,
    WIDTH_PX,
    decoded_by_opencv,
    exif,
    octets,
    only_page,
    stored,
    worst_difference,
    write,
)

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


RENDERED = {
    "text over it": pdf_of(JPEG, after=with_text),
    "text under it": pdf_of(JPEG, before=with_text),
    "two pictures": pdf_of(JPEG, after=_second_picture),
    "cut round": pdf_of(JPEG, before=_round_clip),
    "aslant": pdf_of(JPEG, before=_slant),
    "small on the page": pdf_of(JPEG, before=_shrink),
    "stretched": pdf_of(JPEG, size_pt=(WIDTH_PT, HEIGHT_PT * 1.5)),
    "an annotation": edited(pdf_of(JPEG), with_annotation),
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
