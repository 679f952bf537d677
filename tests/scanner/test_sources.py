"""The door for picture files: every kind, every orientation, every depth, and what is wrong said in words."""

from __future__ import annotations

import pickle
from io import BytesIO
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms, ImageOps

from scanner.limits import MOST_PAGES
from scanner.page_image import PageError, PageFailure, PageImage
from scanner.sources import count_pages, open_source
from tests.scanner.picture_files import (
    HEIGHT_PX,
    WIDTH_PX,
    decoded_by_opencv,
    exif,
    octets,
    only_failure,
    only_page,
    page_picture,
    pages_of,
    stored,
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


@pytest.mark.parametrize("suffix", KINDS)
def test_every_kind_gives_one_page_in_gray(suffix: str, tmp_path: Path) -> None:
    kind, options, loss = KINDS[suffix]
    page = only_page(write(tmp_path / f"page.{suffix}", octets(PICTURE, kind, **options)))
    gray = page.gray(FULL)
    assert (page.source, page.source_page) == (str(tmp_path / f"page.{suffix}"), 1)
    assert page.full_size_px == (WIDTH_PX, HEIGHT_PX)
    assert gray.dtype == np.uint8
    assert gray.flags.c_contiguous
    assert worst_difference(gray, PAGE) <= loss


@pytest.mark.parametrize("suffix", KINDS)
def test_the_content_decides_and_not_the_name(suffix: str, tmp_path: Path) -> None:
    kind, options, loss = KINDS[suffix]
    page = only_page(write(tmp_path / "scan.pdf", octets(PICTURE, kind, **options)))
    assert worst_difference(page.gray(FULL), PAGE) <= loss


def test_the_source_is_the_path_as_given(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write(tmp_path / "scan.png", octets(PICTURE, "PNG"))
    monkeypatch.chdir(tmp_path)
    assert only_page("./scan.png").source == "./scan.png"
    assert only_page(Path("scan.png")).source == "scan.png"
    assert only_failure("./gone.png").source == "./gone.png"


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("suffix", ["jpg", "png", "webp", "heic", "tif"])
def test_all_eight_orientations_come_out_upright(suffix: str, orientation: int, tmp_path: Path) -> None:
    """Source: Exif 2.32, tag 274, through Pillow's own `exif_transpose` and, for JPEG, OpenCV's decoder as well."""
    kind, options, loss = KINDS[suffix]
    content = octets(stored(PAGE, orientation), kind, exif=exif(orientation), **options)
    if suffix != "heic":  # Pillow's plugin for HEIC turns it itself
        assert Image.open(BytesIO(content)).getexif()[274] == orientation
        reference = np.asarray(ImageOps.exif_transpose(Image.open(BytesIO(content))).convert("L"))
        assert worst_difference(reference, PAGE) <= loss
    if suffix == "jpg":
        reference = decoded_by_opencv(content, cv2.IMREAD_GRAYSCALE)
        assert worst_difference(reference, PAGE) <= loss
    page = only_page(write(tmp_path / f"page.{suffix}", content))
    assert page.full_size_px == (WIDTH_PX, HEIGHT_PX)
    assert worst_difference(page.gray(FULL), PAGE) <= loss


@pytest.mark.parametrize("orientation", range(1, 9))
def test_orientation_holds_in_a_reduced_decode(orientation: int, tmp_path: Path) -> None:
    content = octets(stored(PAGE, orientation), "JPEG", exif=exif(orientation), quality=95)
    gray = only_page(write(tmp_path / "page.jpg", content)).gray(HEIGHT_PX // 2)
    halved = cv2.resize(PAGE, (WIDTH_PX // 2, HEIGHT_PX // 2), interpolation=cv2.INTER_AREA)
    assert worst_difference(gray, halved) <= 20


def test_an_orientation_after_the_picture_data_of_a_png_counts(tmp_path: Path) -> None:
    content = octets(stored(PAGE, 6), "PNG", exif=exif(6))
    at = content.index(b"eXIf") - 4
    length = 12 + int.from_bytes(content[at : at + 4], "big")
    moved = content[:at] + content[at + length : -12] + content[at : at + length] + content[-12:]
    page = only_page(write(tmp_path / "page.png", moved))
    assert page.full_size_px == (WIDTH_PX, HEIGHT_PX)
    assert worst_difference(page.gray(FULL), PAGE) == 0


def test_an_orientation_that_does_not_exist_is_passed_over(tmp_path: Path) -> None:
    content = octets(PICTURE, "PNG", exif=exif(9))
    assert worst_difference(only_page(write(tmp_path / "page.png", content)).gray(FULL), PAGE) == 0


@pytest.mark.parametrize(
    ("least_long_px", "flag"),
    [
        (700, cv2.IMREAD_REDUCED_GRAYSCALE_2),
        (401, cv2.IMREAD_REDUCED_GRAYSCALE_2),
        (400, cv2.IMREAD_REDUCED_GRAYSCALE_4),
    ],
)
def test_a_jpeg_is_reduced_while_it_is_decoded(least_long_px: int, flag: int, tmp_path: Path) -> None:
    """Source: OpenCV's reduced decode of the same file, which scales within the DCT as libjpeg offers."""
    content = octets(Image.fromarray(page_picture(1130, 1600)).convert("RGB"), "JPEG")
    gray = only_page(write(tmp_path / "photo.jpg", content)).gray(least_long_px)
    reference = decoded_by_opencv(content, flag | cv2.IMREAD_IGNORE_ORIENTATION)
    assert worst_difference(gray, reference) == 0


@given(least_long_px=st.integers(10, 3000), width_px=st.integers(200, 900), height_px=st.integers(200, 900))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_the_long_side_is_as_long_as_asked_and_less_than_twice_that(
    kind: str, least_long_px: int, width_px: int, height_px: int, tmp_path: Path
) -> None:
    content = octets(Image.new("L", (width_px, height_px), 200), kind)
    page = only_page(write(tmp_path / "page", content))
    height, width = page.gray(least_long_px).shape
    full = max(width_px, height_px)
    assert page.full_size_px == (width_px, height_px)
    assert max(height, width) >= min(least_long_px, full)
    assert max(height, width) < 2 * least_long_px


def test_reducing_averages_whole_squares_of_pixels(tmp_path: Path) -> None:
    page = only_page(write(tmp_path / "page.png", octets(PICTURE, "PNG")))
    by_hand = PAGE.reshape(HEIGHT_PX // 4, 4, WIDTH_PX // 4, 4).mean(axis=(1, 3))
    assert np.abs(page.gray(HEIGHT_PX // 4) - by_hand).max() <= 0.5


def test_reducing_keeps_the_scale_exact_where_the_size_is_no_multiple(tmp_path: Path) -> None:
    ramp = np.broadcast_to(np.linspace(0, 250, 3 * 203 + 2).astype(np.uint8), (3 * 211 + 1, 3 * 203 + 2))
    page = only_page(write(tmp_path / "page.png", octets(Image.fromarray(ramp), "PNG")))
    by_hand = ramp[: 3 * 211, : 3 * 203].reshape(211, 3, 203, 3).mean(axis=(1, 3))
    assert np.abs(page.gray(211) - by_hand).max() <= 0.5


def _depths() -> dict[str, tuple[bytes, np.ndarray[Any, Any]]]:
    black_and_white = (PAGE > 128).astype(np.uint8) * 255
    deep = PAGE.astype(np.uint16) * 257
    alpha = np.full_like(PAGE, 255)
    alpha[:100] = 0
    on_white = np.where(alpha == 0, 255, PAGE)
    colour = Image.merge("RGB", [PICTURE] * 3)
    half_clear = Image.fromarray(np.dstack([PAGE, np.full_like(PAGE, 128)]), "LA")
    half_on_white = (PAGE.astype(float) * 128 + 255 * 127) / 255
    clear_index = PICTURE.copy()
    clear_index.info["transparency"] = 20
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    reversed_palette = Image.fromarray(255 - PAGE, "P")
    reversed_palette.putpalette([level for index in range(256) for level in [255 - index] * 3])
    return {
        "1-bit PNG": (octets(Image.fromarray(black_and_white).convert("1"), "PNG"), black_and_white),
        "1-bit TIFF": (octets(Image.fromarray(black_and_white).convert("1"), "TIFF"), black_and_white),
        "16-bit PNG": (octets(Image.fromarray(deep), "PNG"), PAGE),
        "16-bit TIFF": (octets(Image.fromarray(deep), "TIFF"), PAGE),
        "16-bit TIFF, packed": (octets(Image.fromarray(deep), "TIFF", compression="tiff_lzw"), PAGE),
        "16-bit TIFF, big end first": (octets(Image.fromarray(deep.astype(">u2")), "TIFF"), PAGE),
        "palette PNG": (octets(reversed_palette, "PNG"), PAGE),
        "palette GIF": (octets(reversed_palette, "GIF"), PAGE),
        "palette TIFF": (octets(reversed_palette, "TIFF"), PAGE),
        "gray with alpha": (octets(Image.fromarray(np.dstack([PAGE, alpha]), "LA"), "PNG"), on_white),
        "half transparent": (octets(half_clear, "PNG"), half_on_white),
        "colour with alpha": (octets(Image.fromarray(np.dstack([PAGE] * 3 + [alpha]), "RGBA"), "PNG"), on_white),
        "WebP with alpha": (
            octets(Image.fromarray(np.dstack([PAGE] * 3 + [alpha]), "RGBA"), "WEBP", lossless=True),
            on_white,
        ),
        "TIFF with alpha": (octets(Image.fromarray(np.dstack([PAGE] * 3 + [alpha]), "RGBA"), "TIFF"), on_white),
        "one gray transparent": (octets(clear_index, "PNG"), np.where(PAGE == 20, 255, PAGE)),
        "colour": (octets(colour, "PNG"), PAGE),
        "colour JPEG": (octets(colour, "JPEG", quality=98), PAGE),
        "CMYK JPEG": (octets(colour.convert("CMYK"), "JPEG", quality=98), PAGE),
        "CMYK TIFF": (octets(colour.convert("CMYK"), "TIFF"), PAGE),
        "JPEG with a colour profile": (octets(colour, "JPEG", quality=98, icc_profile=profile), PAGE),
        "PNG with a colour profile": (octets(PICTURE, "PNG", icc_profile=profile), PAGE),
        "progressive JPEG": (octets(PICTURE, "JPEG", quality=98, progressive=True), PAGE),
    }


@pytest.mark.parametrize(("content", "expected"), _depths().values(), ids=_depths().keys())
def test_every_depth_and_colour_becomes_gray_with_light_paper(
    content: bytes, expected: np.ndarray[Any, Any], tmp_path: Path
) -> None:
    gray = only_page(write(tmp_path / "page", content)).gray(FULL)
    assert gray.dtype == np.uint8
    assert worst_difference(gray, expected) <= (8 if content[:2] == b"\xff\xd8" else 1)


def test_colours_are_weighted_as_itu_r_bt_601_says(tmp_path: Path) -> None:
    """Source: ITU-R BT.601, 0.299 R + 0.587 G + 0.114 B, from memory."""
    for colour, luma in (((255, 0, 0), 76), ((0, 255, 0), 150), ((0, 0, 255), 29)):
        for kind, loss in (("PNG", 1), ("JPEG", 3), ("BMP", 1), ("TIFF", 1)):
            page = only_page(write(tmp_path / "page", octets(Image.new("RGB", (256, 256), colour), kind)))
            assert worst_difference(page.gray(FULL), np.full((256, 256), luma)) <= loss


# Faxes and other TIFF files of many pages.


def tiff_of(pages: list[Image.Image], **options: Any) -> bytes:
    return octets(pages[0], "TIFF", save_all=True, append_images=pages[1:], **options)


def test_a_fax_of_three_pages_gives_three_in_order(tmp_path: Path) -> None:
    pages = [Image.fromarray(page_picture(304 + 16 * n, 432)).convert("1", dither=Image.Dither.NONE) for n in range(3)]
    path = write(tmp_path / "fax.tif", tiff_of(pages, compression="group4"))
    opened = pages_of(path)
    assert [page.source_page for page in opened] == [1, 2, 3]
    assert count_pages(path) == 3
    for page, picture in zip(opened, pages, strict=True):
        assert page.full_size_px == picture.size
        assert worst_difference(page.gray(FULL), np.asarray(picture.convert("L"))) == 0


@pytest.mark.parametrize("compression", ["raw", "group3", "group4", "tiff_lzw"])
def test_paper_is_light_whichever_bit_means_white(compression: str, tmp_path: Path) -> None:
    """Source: TIFF 6.0, tag 262: 0 is WhiteIsZero, 1 is BlackIsZero."""
    black_and_white = Image.fromarray(PAGE).convert("1", dither=Image.Dither.NONE)
    for photometric in (0, 1):
        content = octets(black_and_white, "TIFF", compression=compression, tiffinfo={262: photometric})
        assert Image.open(BytesIO(content)).tag_v2[262] == photometric  # type: ignore[attr-defined]
        gray = only_page(write(tmp_path / "fax.tif", content)).gray(FULL)
        assert worst_difference(gray, np.asarray(black_and_white.convert("L"))) == 0


def test_a_fax_of_half_height_lines_is_stretched_to_square_pixels(tmp_path: Path) -> None:
    """Source: ITU-T T.4, standard resolution: 204 dots an inch across, 98 down."""
    squat = Image.fromarray(page_picture(408, 288)[::2])
    page = only_page(write(tmp_path / "fax.tif", octets(squat, "TIFF", dpi=(204, 98))))
    assert page.full_size_px == (408, 300)
    assert page.gray(FULL).shape == (300, 408)


def test_a_thumbnail_in_a_tiff_is_no_page(tmp_path: Path) -> None:
    file = BytesIO()
    thumbnail = PICTURE.resize((76, 108))
    thumbnail.encoderinfo = {"tiffinfo": {254: 1}}
    PICTURE.save(file, "TIFF", save_all=True, append_images=[thumbnail, PICTURE])
    opened = pages_of(write(tmp_path / "scan.tif", file.getvalue()))
    assert [page.source_page for page in opened] == [1, 2]
    assert {page.full_size_px for page in opened} == {PICTURE.size}


def test_a_damaged_page_of_a_fax_is_told_and_the_others_are_read(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    fax = PICTURE.convert("1", dither=Image.Dither.NONE)
    content = bytearray(tiff_of([fax] * 3, compression="group4"))
    with Image.open(BytesIO(content)) as image:
        image.seek(1)
        (start,) = image.tag_v2[273]  # type: ignore[attr-defined]
    content[start + 40 : start + 60] = bytes(range(100, 120))
    pages = pages_of(write(tmp_path / "fax.tif", bytes(content)))
    for index in (0, 2, 0):
        assert worst_difference(pages[index].gray(FULL), np.asarray(fax.convert("L"))) == 0
    for _ in range(2):
        with pytest.raises(PageError) as raised:
            pages[1].gray(FULL)
        assert raised.value.failure.source_page == 2
        assert "damaged" in raised.value.failure.reason
    assert capfd.readouterr().err == ""


def test_a_tiff_page_of_32_bits_is_refused(tmp_path: Path) -> None:
    path = write(tmp_path / "scan.tif", octets(Image.new("F", (300, 300), 0.5), "TIFF"))
    assert "32 bits" in only_failure(path).reason


def test_a_tiff_of_too_many_pages_is_refused_whole(tmp_path: Path) -> None:
    path = write(tmp_path / "pile.tif", tiff_of([Image.new("1", (200, 200), 1)] * (MOST_PAGES + 1)))
    failure = only_failure(path)
    assert failure.source_page is None
    assert "2,001 pages" in failure.reason
    assert "2,000" in failure.reason
    assert count_pages(path) == 1


# Pages that travel.


@pytest.mark.parametrize("kind", ["JPEG", "TIFF", "HEIF"])
def test_a_page_outlives_its_iteration_and_travels_to_another_process(kind: str, tmp_path: Path) -> None:
    page = only_page(write(tmp_path / "scan", octets(PICTURE, kind)))
    travelled = pickle.loads(pickle.dumps(page))
    assert worst_difference(travelled.gray(FULL), page.gray(FULL)) == 0


def test_two_piles_may_be_read_in_turns(tmp_path: Path) -> None:
    left, right = (Image.fromarray(np.full((300, 300), level, np.uint8)) for level in (50, 200))
    paths = [write(tmp_path / f"{n}.tif", tiff_of([page] * 3)) for n, page in enumerate((left, right))]
    for pair in zip(*(open_source(path) for path in paths), strict=True):
        assert [int(page.gray(FULL)[0, 0]) for page in pair if isinstance(page, PageImage)] == [50, 200]


def test_a_pile_that_vanishes_meanwhile_is_said_in_words(tmp_path: Path) -> None:
    path = write(tmp_path / "scan.tif", octets(PICTURE, "TIFF"))
    page = only_page(path)
    path.unlink()
    with pytest.raises(PageError, match="gone"):
        page.gray(FULL)


def test_a_page_error_names_file_and_page_and_survives_pickling() -> None:
    error = PageError(PageFailure("pile.tif", 3, "the picture is damaged."))
    again = pickle.loads(pickle.dumps(error))
    assert str(again) == "pile.tif, page 3: the picture is damaged."
    assert again.failure == error.failure
