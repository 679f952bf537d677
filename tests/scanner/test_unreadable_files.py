"""Picture files that cannot be read: each is told in words, and none is half read."""

from __future__ import annotations

import os
import struct
import warnings
import zipfile
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

import scanner.image_sources
from scanner.limits import MOST_BYTES
from scanner.page_image import PageError, PageFailure, PageImage
from scanner.sources import count_pages, open_source
from tests.scanner.picture_files import (
    octets,
    only_failure,
    only_page,
    page_picture,
    png_of_header,
    worst_difference,
    write,
)

FULL = 100_000
PAGE = page_picture()
PICTURE = Image.fromarray(PAGE)

KINDS: dict[str, tuple[str, dict[str, Any], int]] = {
    "jpg": ("JPEG", {"quality": 95}, 12),
    "png": ("PNG", {}, 0),
    "webp": ("WEBP", {"lossless": True}, 0),
    "heic": ("HEIF", {"quality": 90}, 40),
    "tif": ("TIFF", {}, 0),
    "bmp": ("BMP", {}, 0),
    "gif": ("GIF", {}, 0),
}
"""Suffix → Pillow's name, options, and how many gray levels the encoding may lose."""


def _office_document() -> bytes:
    file = BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("word/document.xml", "<w:document/>")
    return file.getvalue()


def _oversized_webp_canvas() -> bytes:
    canvas = b"VP8X" + struct.pack("<I", 10) + b"\0\0\0\0" + b"\xff\x3f\0" + b"\xff\x3f\0"
    return b"RIFF" + struct.pack("<I", 4 + len(canvas)) + b"WEBP" + canvas


UNREADABLE = {
    "empty": (b"", "empty"),
    "text": (b"Dear Ines,\nthe sheets are in the post.\n", "this is text"),
    "UTF-16 text": ("Heron Marsh".encode("utf-16"), "this is text"),
    "office document": (_office_document(), "ZIP archive or an office document"),
    "bytes": (b"\x00\x01\x02" * 99, "unknown kind"),
    "video": (b"\0\0\0\x18ftypisom\0\0\2\0isomiso2" + bytes(99), "a video"),
    "AVIF": (b"\0\0\0\x1cftypavif\0\0\0\0avifmif1miaf" + bytes(99), "an AVIF image"),
    "JPEG of a header": (b"\xff\xd8\xff\xe0", "cut short"),
    "JPEG of nothing": (b"\xff\xd8\xff\xd9", "cut short"),
    "PNG of a signature": (b"\x89PNG\r\n\x1a\n", "cut short"),
    "PNG of an end": (b"\x89PNG\r\n\x1a\n\0\0\0\0IEND\xaeB`\x82", "damaged"),
    "TIFF of a header": (b"II*\0\x08\0\0\0", "damaged"),
    "TIFF pointing at itself": (b"II*\0\x08\0\0\0\0\0\x08\0\0\0", "damaged"),
    "WebP of a header": (b"RIFF\x04\0\0\0WEBP", "damaged"),
    "WebP of a canvas": (_oversized_webp_canvas(), "damaged"),
    "HEIC of a header": (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "damaged"),
    "GIF of a header": (b"GIF89a", "damaged"),
    "BMP of a header": (b"BM" + bytes(12) + b"\x28\0\0\0", "damaged"),
    "letter that begins with BM": (b"BMW cars are not facedown's business.\n", "this is text"),
}


@pytest.mark.parametrize(("content", "words"), UNREADABLE.values(), ids=UNREADABLE.keys())
def test_what_is_not_a_picture_is_said_in_words(
    content: bytes, words: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    path = write(tmp_path / "scan.jpg", content)
    failure = only_failure(path)
    assert failure.source_page is None
    assert words in failure.reason
    assert failure.reason.count(".") >= 2  # what was found, and what to do
    assert count_pages(path) == 1
    assert capfd.readouterr().err == ""


def test_what_is_not_there_is_said_in_words(tmp_path: Path) -> None:
    assert only_failure(tmp_path / "gone.jpg").reason.startswith("no such file")
    assert only_failure(write(tmp_path / "file", b"x") / "page.jpg").reason.startswith("no such file")
    assert "folder" in only_failure(tmp_path).reason
    assert "no file can have such a name" in only_failure("scan\0.jpg").reason
    assert {only_failure(path).source_page for path in (tmp_path, "gone.jpg", "scan\0.jpg")} == {None}


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert "not a file" in only_failure(tmp_path / "pipe").reason


def test_a_file_that_may_not_be_read_is_said_in_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: Any, **__: Any) -> None:
        raise PermissionError(13, "Permission denied")

    path = write(tmp_path / "scan.png", octets(PICTURE, "PNG"))
    monkeypatch.setattr(Path, "open", refuse)  # whoever runs the tests as root may read everything
    assert "may not be read" in only_failure(path).reason


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF", "TIFF", "BMP", "GIF"])
@pytest.mark.parametrize("share", [0.3, 0.7, 0.98])
def test_a_picture_cut_short_is_never_half_read(
    kind: str, share: float, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    content = octets(PICTURE, kind)
    path = write(tmp_path / "scan", content[: int(len(content) * share)])
    (opened,) = open_source(path)
    if isinstance(opened, PageImage):
        with pytest.raises(PageError) as raised:
            opened.gray(FULL)
        opened = raised.value.failure
    assert "damaged" in opened.reason
    assert capfd.readouterr().err == ""


@pytest.mark.parametrize("kind", ["PNG", "WEBP", "HEIF", "TIFF"])
def test_a_cut_that_shows_without_decoding_is_told_at_the_door(kind: str, tmp_path: Path) -> None:
    content = octets(PICTURE, kind)
    assert "cut short" in only_failure(write(tmp_path / "scan", content[:-200])).reason


@pytest.mark.parametrize("missing", [1, 2, 3, 1000])
def test_a_jpeg_is_told_to_be_cut_short_before_it_is_decoded(missing: int, tmp_path: Path) -> None:
    thumbnail = octets(PICTURE.resize((80, 120)), "JPEG")  # a whole JPEG with an end of its own inside the header
    content = octets(PICTURE, "JPEG", exif=b"Exif\0\0" + thumbnail)
    assert "cut short" in only_failure(write(tmp_path / "scan.jpg", content[:-missing])).reason


def test_a_jpeg_that_breaks_off_and_was_given_an_end_is_not_half_read(tmp_path: Path) -> None:
    content = octets(PICTURE, "JPEG")
    page = only_page(write(tmp_path / "scan.jpg", content[: len(content) // 2] + b"\xff\xd9"))
    for least_long_px in (FULL, 1):
        with pytest.raises(PageError, match="breaks off"):
            page.gray(least_long_px)


def test_what_a_phone_appends_to_a_jpeg_does_no_harm(tmp_path: Path) -> None:
    content = octets(PICTURE, "JPEG", quality=95)
    page = only_page(write(tmp_path / "photo.jpg", content + b"SEFH" + bytes(500)))
    assert worst_difference(page.gray(FULL), PAGE) <= 12


@pytest.mark.parametrize("size_px", [(1, 1), (199, 3000), (3000, 199)])
def test_a_speck_is_too_small_to_be_a_page(size_px: tuple[int, int], tmp_path: Path) -> None:
    failure = only_failure(write(tmp_path / "dot.png", octets(Image.new("L", size_px), "PNG")))
    assert failure.reason.startswith(f"too small to be a page: {size_px[0]:,}×{size_px[1]:,} px")
    assert "200 px" in failure.reason


def test_a_giant_is_refused_undecoded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def decode(*_: Any) -> None:
        raise AssertionError("decoded")

    monkeypatch.setattr(scanner.image_sources, "to_gray", decode)
    failure = only_failure(write(tmp_path / "giant.png", png_of_header(30_000, 30_000)))
    assert "30,000×30,000 px are 900 megapixels" in failure.reason
    assert "100" in failure.reason
    only_page(write(tmp_path / "large.png", png_of_header(10_000, 10_000)))


def test_a_file_of_too_many_bytes_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "scan.jpg"
    with path.open("wb") as file:
        file.write(b"\xff\xd8\xff\xe0")
        file.truncate(MOST_BYTES + 5_000_000)
    assert "205 MB" in only_failure(path).reason
    assert "200 MB are allowed" in only_failure(path).reason


def test_too_little_memory_is_said_in_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def run_out(*_: Any) -> None:
        raise MemoryError

    monkeypatch.setattr(scanner.image_sources, "to_gray", run_out)
    page = only_page(write(tmp_path / "scan.png", octets(PICTURE, "PNG")))
    with pytest.raises(PageError, match="more than 900 MB of memory"):
        page.gray(FULL)


def test_library_warnings_stay_inside(tmp_path: Path) -> None:
    content = octets(PICTURE, "JPEG", exif=b"Exif\0\0II*\0\x08\0\0\0\x09\0" + bytes(40))
    with warnings.catch_warnings(record=True) as bare:
        warnings.simplefilter("always")
        Image.open(BytesIO(content)).getexif().get(274)
    assert bare  # this file does make Pillow warn
    only_page(write(tmp_path / "scan.jpg", content)).gray(FULL)


@given(kind=st.sampled_from(["JPEG", "PNG", "WEBP", "TIFF", "GIF", "BMP"]), seed=st.integers(0, 2**32))
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_damage_anywhere_ends_in_a_page_or_in_a_reason(kind: str, seed: int, tmp_path: Path) -> None:
    random = np.random.default_rng(seed)
    content = bytearray(octets(PICTURE, kind))
    for _ in range(random.integers(1, 6)):
        content[random.integers(len(content[: random.choice([64, 10_000])]))] = random.integers(256)
    path = write(tmp_path / "scan", bytes(content))
    for opened in open_source(path):
        reason = opened.reason if isinstance(opened, PageFailure) else _reason_of_decoding(opened)
        assert reason is None or reason.endswith(".")
    assert count_pages(path) >= 1


def _reason_of_decoding(page: PageImage) -> str | None:
    try:
        gray = page.gray(250)
    except PageError as error:
        return error.failure.reason
    assert gray.ndim == 2
    return None
