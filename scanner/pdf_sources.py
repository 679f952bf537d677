"""Page images out of PDF files: the embedded scan where a page is one picture, else the page rendered.

pdfium is not safe for threads: use these from one thread of each process.
"""

from __future__ import annotations

import ctypes
import io
import math
import mmap
import re
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import pypdfium2
import pypdfium2.raw as pdfium
from PIL import Image

from kit.errors import SourceError
from scanner.file_kinds import jpeg_is_whole
from scanner.gray_pixels import Gray, gray_from_channels, reduced
from scanner.image_sources import CUT_SHORT, decode_jpeg
from scanner.kept_open import KeptOpen
from scanner.limits import MOST_PIXELS, NO_PAGES, check_most_pixels, check_page_count, check_size
from scanner.page_image import Pixels, library_errors
from scanner.pdf_placement import Box, Placement, placement

RENDER_DPI = 200
MOST_RENDER_DPI = 400
"""Where more pixels are asked for; beyond this a drawn page shows nothing new."""

DAMAGED = "the PDF is damaged and cannot be opened. Save, print or scan it again."
_PAGE_DAMAGED = "this page of the PDF is damaged. Save, print or scan it again."
_LOCKED = "the PDF is locked with a password. Print it to a new PDF without a password, and give that one."
_POINTS_PER_INCH = 72
_TAIL_BYTES = 4096
_PLAIN_SPACES = frozenset(
    {
        pdfium.FPDF_COLORSPACE_DEVICEGRAY,
        pdfium.FPDF_COLORSPACE_DEVICERGB,
        pdfium.FPDF_COLORSPACE_CALGRAY,
        pdfium.FPDF_COLORSPACE_CALRGB,
        pdfium.FPDF_COLORSPACE_ICCBASED,
    }
)


def pdf_pages(path: Path) -> Iterator[tuple[tuple[int, int], Pixels] | SourceError]:
    """Yield size and pixels-to-be of each page of a PDF, or why that page cannot be read.

    Raises
    ------
    SourceError
        If the file cannot be opened at all.
    """
    try:
        pages = _page_count(path)
        check_page_count(pages)
        for index in range(pages):
            try:
                with library_errors(_PAGE_DAMAGED):
                    opened = _open_page(path, index)
            except SourceError as error:
                yield error
            else:
                yield opened
    finally:
        _pdfs.close()


def open_pdf_page(path: Path, index: int) -> tuple[tuple[int, int], Pixels]:
    """Return size and pixels-to-be of one page of a PDF, counted from 0; SourceError where it cannot be read."""
    with library_errors(_PAGE_DAMAGED):
        return _open_page(path, index)


def count_pdf_pages(path: Path) -> int:
    """Return the number of pages of a PDF; SourceError where it cannot be opened."""
    try:
        return _page_count(path)
    finally:
        _pdfs.close()


@dataclass(frozen=True, slots=True)
class JpegScanPixels:
    """The JPEG file taken out of a page. Its EXIF orientation, if it has one, does not count in a PDF."""

    jpeg: bytes
    placement: Placement

    def gray(self, least_long_px: int) -> Gray:
        """Decode upright; see `PageImage.gray`."""
        gray, _ = decode_jpeg(self.jpeg, math.ceil(least_long_px / self.placement.least_share))
        return reduced(self.placement.apply(gray), least_long_px)


@dataclass(frozen=True, slots=True)
class ScanPixels:
    """A picture that a page consists of, in an encoding that pdfium decodes; `index` counts from 0."""

    path: Path
    index: int
    placement: Placement

    def gray(self, least_long_px: int) -> Gray:
        """Decode upright; see `PageImage.gray`."""
        with closing(_pdfs.get(self.path).document[self.index]) as page:
            image = _only_image(page)
            assert image is not None
            bitmap = image.get_bitmap()  # to be kept while its pixels are looked at
            gray = gray_from_channels(bitmap.to_numpy())
            return reduced(self.placement.apply(gray), least_long_px)


@dataclass(frozen=True, slots=True)
class DrawnPixels:
    """A page that is more, or other, than one picture; `index` counts from 0."""

    path: Path
    index: int

    def gray(self, least_long_px: int) -> Gray:
        """Render at RENDER_DPI, or more where the long side asked for needs it; see `PageImage.gray`."""
        with closing(_pdfs.get(self.path).document[self.index]) as page:
            dpi = _dpi(page.get_size(), least_long_px)
            bitmap = page.render(scale=dpi / _POINTS_PER_INCH, grayscale=True)
            return reduced(gray_from_channels(bitmap.to_numpy()), least_long_px)


@dataclass(frozen=True, slots=True)
class OpenPdf:
    """An open PDF and what its picture dictionaries hold anywhere in the file.

    pdfium hands a picture out without its masks, and a JPEG without its /Decode. Dictionaries of pictures are never
    compressed or encrypted (ISO 32000-1, 7.5.7), so a search through the file's bytes cannot miss one.
    """

    document: pypdfium2.PdfDocument
    has_masks: bool
    has_decode: bool

    def close(self) -> None:
        """Let go of the file."""
        self.document.close()


def _open_pdf(path: Path) -> OpenPdf:
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as content:
        # pdfium mends a PDF cut short, and silently loses the pages that it cannot find.
        if b"%%EOF" not in content[-_TAIL_BYTES:]:
            raise SourceError(CUT_SHORT)
        has_masks = re.search(rb"/S?Mask\b|/SMaskInData\b", content) is not None
        has_decode = re.search(rb"/Decode\b", content) is not None
        try:
            document = pypdfium2.PdfDocument(path)
        except pypdfium2.PdfiumError as error:
            raise SourceError(_why_not(content)) from error
    return OpenPdf(document, has_masks, has_decode)


def _why_not(content: mmap.mmap) -> str:
    # pdfium's own reason may be left over from another file: it sets none where the page tree is wrong.
    if re.search(rb"/Encrypt\b", content):
        return _LOCKED
    if re.search(rb"/Count\s+0\b", content) and not re.search(rb"/Type\s*/Page\b", content):
        return NO_PAGES
    return DAMAGED


_pdfs = KeptOpen(_open_pdf)


def _page_count(path: Path) -> int:
    with library_errors(DAMAGED):
        return len(_pdfs.get(path).document)


def _open_page(path: Path, index: int) -> tuple[tuple[int, int], Pixels]:
    pdf = _pdfs.get(path)
    with closing(pdf.document[index]) as page:
        image = None if pdf.has_masks else _only_image(page)
        place = None if image is None else _placement(page, image)
        if image is None or place is None:
            _check_pictures(page)
            size_px = _rendered_size(page.get_size(), _dpi(page.get_size(), 1))
            check_size(*size_px)
            return size_px, DrawnPixels(path, index)
        check_size(*image.get_px_size())
        size_px = place.upright_size(*image.get_px_size())
        check_size(*size_px)
        if not pdf.has_decode and image.get_filters(skip_simple=True) == ["DCTDecode"]:
            jpeg = bytes(image.get_data(decode_simple=True))
            if _has_plain_colours(jpeg):
                return size_px, JpegScanPixels(jpeg, place)
        return size_px, ScanPixels(path, index, place)


def _check_pictures(page: pypdfium2.PdfPage) -> None:
    """Refuse a page with a picture too large to be decoded, whatever size the PDF itself tells of it.

    pdfium decodes a JPEG whole, in the size that the JPEG tells.
    """
    for shown in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_IMAGE]):
        check_most_pixels(*shown.get_px_size())
        if "DCTDecode" in shown.get_filters():
            with Image.open(io.BytesIO(shown.get_data(decode_simple=True)), formats=["JPEG"]) as jpeg:
                check_most_pixels(*jpeg.size)


def _has_plain_colours(jpeg: bytes) -> bool:
    if not jpeg_is_whole(jpeg):
        raise SourceError("the picture on this page is cut short. Copy or scan it again.")
    with Image.open(io.BytesIO(jpeg), formats=["JPEG"]) as image:
        check_most_pixels(*image.size)
        return image.mode in ("L", "RGB")


def _only_image(page: pypdfium2.PdfPage) -> pypdfium2.PdfImage | None:
    """Return the picture that a page consists of, or None where the page must be rendered to be seen.

    Nothing else may be there but invisible text, which text recognition leaves behind; the picture must be opaque and
    in a plain colour space. (Stencils have none.)
    """
    if pdfium.FPDFPage_GetAnnotCount(page) > 0:
        return None
    image = None
    for shown in page.get_objects(max_depth=1):
        if shown.type == pdfium.FPDF_PAGEOBJ_TEXT and _is_invisible(shown):
            continue
        if shown.type != pdfium.FPDF_PAGEOBJ_IMAGE or image is not None:
            return None
        image = shown
    if image is None or pdfium.FPDFPageObj_HasTransparency(image) or "JPXDecode" in image.get_filters():
        return None
    return image if image.get_metadata().colorspace in _PLAIN_SPACES else None


def _is_invisible(text: pypdfium2.PdfObject) -> bool:
    return bool(pdfium.FPDFTextObj_GetTextRenderMode(text) == pdfium.FPDF_TEXTRENDERMODE_INVISIBLE)


def _placement(page: pypdfium2.PdfPage, image: pypdfium2.PdfImage) -> Placement | None:
    clips = list(_clips(image))
    boxes = [clip for clip in clips if clip is not None]
    if len(boxes) < len(clips):
        return None
    return placement(image.get_px_size(), image.get_matrix().get(), page.get_bbox(), page.get_rotation(), boxes)


def _clips(image: pypdfium2.PdfImage) -> Iterator[Box | None]:
    """Yield each rectangle that the picture is clipped to, in page space; None for a clip of another shape."""
    clip = pdfium.FPDFPageObj_GetClipPath(image)
    for path in range(pdfium.FPDFClipPath_CountPaths(clip)):
        points = set()
        for index in range(pdfium.FPDFClipPath_CountPathSegments(clip, path)):
            x, y = ctypes.c_float(), ctypes.c_float()
            pdfium.FPDFPathSegment_GetPoint(pdfium.FPDFClipPath_GetPathSegment(clip, path, index), x, y)
            points.add((round(x.value, 2), round(y.value, 2)))
        xs, ys = sorted({x for x, _ in points}), sorted({y for _, y in points})
        yield (xs[0], ys[0], xs[1], ys[1]) if len(points) == 4 and len(xs) == len(ys) == 2 else None


def _dpi(size_pt: tuple[float, float], least_long_px: int) -> float:
    """Return the dots an inch to render at: enough for the long side asked for, and no page above MOST_PIXELS."""
    width_in, height_in = (max(side, 1) / _POINTS_PER_INCH for side in size_pt)
    wanted_dpi = min(max(RENDER_DPI, least_long_px / max(width_in, height_in)), MOST_RENDER_DPI)
    most_dpi = (math.sqrt(MOST_PIXELS) - 1) / math.sqrt(width_in * height_in)
    return min(wanted_dpi, most_dpi)


def _rendered_size(size_pt: tuple[float, float], dpi: float) -> tuple[int, int]:
    # pypdfium2 rounds up.
    width_pt, height_pt = size_pt
    return math.ceil(width_pt * dpi / _POINTS_PER_INCH), math.ceil(height_pt * dpi / _POINTS_PER_INCH)
