"""A page-like picture that looks different from every side, and files made of it, for the tests of the sources."""

from __future__ import annotations

import struct
import zlib
from io import BytesIO
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pillow_heif
from numpy.typing import NDArray
from PIL import ExifTags, Image

from scanner.sources import PageFailure, PageImage, open_source

Gray = NDArray[np.uint8]

WIDTH_PX, HEIGHT_PX = 304, 432
"""Multiples of 16, so that no encoder pads."""

STORED = {
    1: lambda a: a,
    2: lambda a: a[:, ::-1],
    3: lambda a: a[::-1, ::-1],
    4: lambda a: a[::-1],
    5: lambda a: a.T,
    6: lambda a: np.rot90(a, 1),
    7: lambda a: a[::-1, ::-1].T,
    8: lambda a: np.rot90(a, -1),
}
"""Orientation → how an upright picture is stored under it: the inverse of what Exif 2.32, tag 274, asks of a viewer."""

pillow_heif.register_heif_opener()


def page_picture(width_px: int = WIDTH_PX, height_px: int = HEIGHT_PX) -> Gray:
    """Return light paper with a black corner, a grey edge and a word."""
    paper = np.full((height_px, width_px), 236, np.uint8)
    paper[: height_px // 6, : width_px // 4] = 20
    paper[:, -width_px // 10 :] = 150
    cv2.putText(paper, "Heron", (20, height_px // 2), cv2.FONT_HERSHEY_SIMPLEX, width_px / 150, 40, 3)
    return paper


def stored(upright: Gray, orientation: int) -> Image.Image:
    """Return an upright picture turned the way a camera stores it under this orientation."""
    return Image.fromarray(np.ascontiguousarray(STORED[orientation](upright)))


def exif(orientation: int) -> Image.Exif:
    """Return EXIF data that hold this orientation and nothing else."""
    tags = Image.Exif()
    tags[ExifTags.Base.Orientation] = orientation
    return tags


def octets(picture: Image.Image, kind: str, **options: Any) -> bytes:
    """Return a picture as the content of a file."""
    file = BytesIO()
    if kind == "HEIF" and "exif" in options:
        options["exif"] = options["exif"].tobytes()  # only from bytes does the plugin write the file's own rotation
    picture.save(file, kind, **options)
    return file.getvalue()


def write(path: Path, content: bytes) -> Path:
    """Write a file and return its path."""
    path.write_bytes(content)
    return path


def png_of_header(width_px: int, height_px: int) -> bytes:
    """Return a PNG that claims a size and has next to no picture data, put together by hand."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", width_px, height_px, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0")) + chunk(b"IEND", b"")


def pages_of(path: Path | str) -> list[PageImage]:
    """Return the pages of a file all of which can be opened."""
    pages = list(open_source(path))
    assert all(isinstance(page, PageImage) for page in pages), pages
    return [page for page in pages if isinstance(page, PageImage)]


def only_page(path: Path | str) -> PageImage:
    """Return the page of a file that has one."""
    (page,) = pages_of(path)
    return page


def only_failure(path: Path | str) -> PageFailure:
    """Return the failure of a file that yields nothing else."""
    (failure,) = open_source(path)
    assert isinstance(failure, PageFailure), failure
    return failure


def worst_difference(left: NDArray[Any], right: NDArray[Any]) -> int:
    """Return the largest difference of two pictures of one size, in gray levels."""
    assert left.shape == right.shape
    return int(np.abs(left.astype(int) - right.astype(int)).max())


def decoded_by_opencv(content: bytes, flags: int) -> Gray:
    """Return a file's content as OpenCV decodes it: the outside reference for JPEG."""
    decoded = cv2.imdecode(np.frombuffer(content, np.uint8), flags)
    assert decoded is not None
    return np.asarray(decoded, np.uint8)
