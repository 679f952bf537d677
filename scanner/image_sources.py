"""Page images out of picture files: JPEG, PNG, WebP, HEIC, BMP, GIF (one page each) and TIFF (many pages)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import BinaryIO

import numpy as np
from PIL import ExifTags, Image
from PIL.TiffImagePlugin import TiffImageFile

from kit.errors import SourceError
from scanner.captured_stderr import captured_stderr
from scanner.file_kinds import FileKind, is_whole, png_chunks
from scanner.gray_pixels import (
    DEEP_MODES,
    Gray,
    reduced,
    square_pixels,
    stretched_size,
    to_gray,
    upright,
    upright_size,
)
from scanner.kept_open import KeptOpen
from scanner.limits import check_page_count, check_size
from scanner.page_image import Pixels, library_errors

# Our own limit, checked before any pixel is decoded, stands in for Pillow's.
Image.MAX_IMAGE_PIXELS = None

CUT_SHORT = "the file is cut short or damaged: its end is missing. Copy it again from where it came."
DAMAGED = "the file is damaged and cannot be opened. Copy, scan or photograph it again."

PAGE_DAMAGED = "this page is damaged. Copy or scan it again."

_DCT_REDUCTIONS = (4, 2)
_ORIENTATION = ExifTags.Base.Orientation
_REDUCED_COPY = 1  # bit of tag 254, NewSubfileType (TIFF 6.0, section 8): a thumbnail of another page
_SUBFILE_TYPE, _STRIP_OFFSETS, _STRIP_BYTES, _TILE_OFFSETS, _TILE_BYTES = 254, 273, 279, 324, 325


def open_picture(kind: FileKind, content: bytes) -> tuple[tuple[int, int], Pixels]:
    """Return the upright size and the pixels-to-be of a file that holds one picture; of an animation the first.

    Raises
    ------
    SourceError
        If it is cut short, damaged, too small or too large. No pixel is decoded.
    """
    if not is_whole(kind, content):
        raise SourceError(CUT_SHORT)
    with library_errors(DAMAGED):
        if kind is FileKind.HEIF:
            width_px, height_px = _heif_size(content)
            orientation = 1
        else:
            with Image.open(BytesIO(content), formats=[kind.value]) as image:
                width_px, height_px = image.size
                orientation = _png_orientation(content) if kind is FileKind.PNG else _orientation(image)
                _check_depth(image)
    check_size(width_px, height_px)
    return upright_size(width_px, height_px, orientation), PicturePixels(kind, content)


@dataclass(frozen=True, slots=True)
class PicturePixels:
    """The whole content of a file that holds one picture."""

    kind: FileKind
    content: bytes

    def gray(self, least_long_px: int) -> Gray:
        """Decode upright; see `PageImage.gray`."""
        if self.kind is FileKind.HEIF:
            return reduced(to_gray(_heif_picture(self.content)), least_long_px)
        if self.kind is FileKind.JPEG:
            gray, orientation = decode_jpeg(self.content, least_long_px)
        else:
            with Image.open(BytesIO(self.content), formats=[self.kind.value]) as image:
                image.load()
                orientation = _orientation(image)
                gray = to_gray(image)
        return reduced(upright(gray, orientation), least_long_px)


def decode_jpeg(content: bytes, least_long_px: int) -> tuple[Gray, int]:
    """Decode a JPEG to gray at 1/4, 1/2 or full size, whichever is the least with a long side of `least_long_px`.

    Returns
    -------
    tuple
        The picture as stored, and the EXIF orientation that would put it upright.

    Notes
    -----
    Pillow and OpenCV both use libjpeg-turbo and give the same pixels in the same time. Pillow prints nothing about
    damaged files, notices those that end in the middle, and reads CMYK.
    """
    with Image.open(BytesIO(content), formats=["JPEG"]) as image:
        long_px = max(image.size)
        reduction = next((k for k in _DCT_REDUCTIONS if -(-long_px // k) >= least_long_px), 1)
        image.draft("L", (image.width // reduction, image.height // reduction))
        image.decodermaxblock = len(content)  # all in one go: two per cent faster
        image.load()
        gray = to_gray(image)
        _refuse_flat_end(gray, 8 // reduction)
        return gray, _orientation(image)


def _refuse_flat_end(gray: Gray, rows: int) -> None:
    # Where a JPEG's data stop before the picture does, libjpeg fills the rest with 128: never in a scan or photograph.
    if np.all(gray[-rows:] == 128):
        raise SourceError("the picture breaks off before its end. Copy it again from where it came.")


def _check_depth(image: Image.Image) -> None:
    if image.mode in DEEP_MODES:
        raise SourceError("it has 32 bits a pixel, and 8 or 16 are read.", "Save it as 8-bit gray.")


def _orientation(image: Image.Image) -> int:
    return _as_orientation(image.getexif().get(_ORIENTATION, 1))


def _png_orientation(content: bytes) -> int:
    # Pillow decodes the whole PNG before it tells, because the chunk may stand at the end.
    exif = Image.Exif()
    exif.load(dict(png_chunks(content)).get(b"eXIf", b""))
    return _as_orientation(exif.get(_ORIENTATION, 1))


def _as_orientation(value: object) -> int:
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _heif_size(content: bytes) -> tuple[int, int]:
    import pillow_heif  # a twentieth of a second that only HEIC piles pay for

    width_px, height_px = pillow_heif.open_heif(BytesIO(content)).size
    return width_px, height_px


def _heif_picture(content: bytes) -> Image.Image:
    import pillow_heif

    # libheif turns the picture upright itself; an EXIF orientation in a HEIC only repeats that.
    return pillow_heif.open_heif(BytesIO(content)).to_pillow()


def tiff_pages(path: Path) -> Iterator[tuple[tuple[int, int], Pixels] | SourceError]:
    """Yield size and pixels-to-be of each page of a TIFF, or why that page cannot be read; thumbnails are passed over.

    Raises
    ------
    SourceError
        If the file cannot be opened at all.
    """
    try:
        with library_errors(DAMAGED):
            frames = _tiffs.get(path).image.n_frames
        check_page_count(frames)
        for frame in range(frames):
            try:
                with library_errors(PAGE_DAMAGED):
                    opened = _open_frame(path, frame)
            except SourceError as error:
                yield error
            else:
                if opened is not None:
                    yield opened
    finally:
        _tiffs.close()


def tiff_places(path: Path) -> tuple[int, ...]:
    """Return the frames of a TIFF that are pages and no thumbnails, counted from 0; damaged ones are among them.

    Raises
    ------
    SourceError
        If the file cannot be opened at all.
    """
    with library_errors(DAMAGED):
        frames = _tiffs.get(path).image.n_frames
    check_page_count(frames)
    places = tuple(frame for frame in range(frames) if not _is_thumbnail(path, frame))
    check_page_count(len(places))
    return places


def open_tiff_page(path: Path, frame: int) -> tuple[tuple[int, int], Pixels]:
    """Return size and pixels-to-be of one frame of a TIFF; SourceError where it cannot be read."""
    with library_errors(PAGE_DAMAGED):
        opened = _open_frame(path, frame)
    if opened is None:
        raise SourceError("the file changed while it was read. Read it again.")
    return opened


def _is_thumbnail(path: Path, frame: int) -> bool:
    try:
        with library_errors(PAGE_DAMAGED):
            image = _tiffs.get(path).image
            image.seek(frame)
            return bool(image.tag_v2.get(_SUBFILE_TYPE, 0) & _REDUCED_COPY)
    except SourceError:
        return False


def count_tiff_pages(path: Path) -> int:
    """Return the number of pictures in a TIFF, thumbnails included; SourceError where it cannot be opened."""
    try:
        with library_errors(DAMAGED):
            return _tiffs.get(path).image.n_frames
    finally:
        _tiffs.close()


@dataclass(frozen=True, slots=True)
class TiffPixels:
    """One frame of a TIFF, counted from 0, and the stretch that makes its pixels square."""

    path: Path
    frame: int
    stretch: tuple[float, float]

    def gray(self, least_long_px: int) -> Gray:
        """Decode upright; see `PageImage.gray`."""
        try:
            image = _tiffs.get(self.path).image
            image.seek(self.frame)
            with captured_stderr() as caught:
                image.load()
                if caught():  # libtiff prints its errors, and gives the rest of a damaged fax as a jumble of lines
                    raise SourceError(PAGE_DAMAGED)
        except Exception:
            _tiffs.close()  # asked again, Pillow would hand out what it had decoded before it failed
            raise
        # Pillow has turned the picture upright and taken the orientation away.
        return reduced(square_pixels(to_gray(image), *self.stretch), least_long_px)


@dataclass(frozen=True, slots=True)
class OpenTiff:
    """An open TIFF at whichever frame was asked for last."""

    image: TiffImageFile
    file: BinaryIO

    def close(self) -> None:
        """Let go of the file."""
        self.image.close()
        self.file.close()


def _open_tiff(path: Path) -> OpenTiff:
    # Given a path, Pillow 13 maps uncompressed pictures into memory and jumbles those that lie on their side.
    file = path.open("rb")
    try:
        image = Image.open(file, formats=["TIFF"])
        assert isinstance(image, TiffImageFile)
        return OpenTiff(image, file)
    except BaseException:
        file.close()
        raise


_tiffs = KeptOpen(_open_tiff)


def _open_frame(path: Path, frame: int) -> tuple[tuple[int, int], Pixels] | None:
    image = _tiffs.get(path).image
    image.seek(frame)
    tags = image.tag_v2
    if tags.get(_SUBFILE_TYPE, 0) & _REDUCED_COPY:
        return None
    _check_depth(image)
    _check_strips(image, path.stat().st_size)
    stretch = _stretch(image)
    size = stretched_size(*image.size, *stretch)
    check_size(*size)
    return size, TiffPixels(path, frame, stretch)


def _check_strips(image: TiffImageFile, file_bytes: int) -> None:
    tags = image.tag_v2
    offsets, lengths = (
        (tags.get(_STRIP_OFFSETS, ()), tags.get(_STRIP_BYTES, ()))
        if _STRIP_OFFSETS in tags
        else (tags.get(_TILE_OFFSETS, ()), tags.get(_TILE_BYTES, ()))
    )
    if any(offset + length > file_bytes for offset, length in zip(offsets, lengths, strict=False)):
        raise SourceError(CUT_SHORT)


def _stretch(image: TiffImageFile) -> tuple[float, float]:
    # Faxes have 204 dots an inch across and 98 or 196 down (ITU-T T.4): the lesser direction is stretched.
    x_dpi, y_dpi = (float(dpi) for dpi in image.info.get("dpi", (1, 1)))
    if image.tag_v2.get(_ORIENTATION, 1) in (5, 6, 7, 8):
        x_dpi, y_dpi = y_dpi, x_dpi
    if not (x_dpi > 0 and y_dpi > 0 and 0.25 < x_dpi / y_dpi < 4):
        return 1.0, 1.0
    most_dpi = max(x_dpi, y_dpi)
    return most_dpi / x_dpi, most_dpi / y_dpi
