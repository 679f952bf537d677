"""Doors of pictures: every kind of file that is read, taken apart into pages and decoded as a worker does it."""

from __future__ import annotations

import contextlib
import io
import random
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pillow_heif
from PIL import Image

from kit.errors import SourceError
from scanner.checked_file import may_hold_many
from scanner.page_image import PageImage
from scanner.sources import open_page, open_source, pages_in
from tests.fuzz.doors import Door, Run
from tests.fuzz.mutate import of_bytes
from tests.fuzz.mutate_pictures import of_pdf, of_picture, of_png, of_tiff

SIZE = (240, 320)
OTHERS = (
    b"PK\x03\x04",
    b"\x1f\x8b\x08",
    b"<svg xmlns=",
    b"<!DOCTYPE html>",
    b"\0asm",
    b"RIFF\0\0\0\0WAVEfmt ",
    b"",
    b"text",
)


def _picture(mode: str = "RGB") -> Image.Image:
    """Return a small picture with something on it."""
    rng = np.random.default_rng(4)
    pixels = np.full((SIZE[1], SIZE[0], 3), 250, np.uint8)
    pixels[60:70], pixels[:, 90:96] = 20, 60
    pixels[200:220, 100:180] = rng.integers(0, 255, (20, 80, 3))
    return Image.fromarray(pixels).convert(mode)


def saved(mode: str, form: str, **options: object) -> bytes:
    """Return the small picture as a file."""
    written = io.BytesIO()
    _picture(mode).save(written, form, **options)
    return written.getvalue()


def _tiffs() -> Sequence[bytes]:
    many = io.BytesIO()
    _picture("1").save(many, "TIFF", save_all=True, append_images=[_picture("L")] * 2, compression="tiff_lzw")
    compressions = (("1", "group4"), ("1", "group3"), ("L", "raw"), ("RGB", "jpeg"), ("RGB", "tiff_adobe_deflate"))
    return [many.getvalue(), *(saved(mode, "TIFF", compression=name) for mode, name in compressions)]


def _heics() -> Sequence[bytes]:
    written = io.BytesIO()
    pillow_heif.from_pillow(_picture()).save(written, quality=40)
    return [written.getvalue()]


def _pdfs() -> Sequence[bytes]:
    many = io.BytesIO()
    _picture().save(many, "PDF", save_all=True, append_images=[_picture("L")])
    drawn = (
        b"%PDF-1.4\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj\n2 0 obj<</Type/Pages/Kids[3 0 R]/Count 1>>endobj\n"
        b"3 0 obj<</Type/Page/Parent 2 0 R/MediaBox[0 0 200 280]/Rotate 90/Contents 4 0 R>>endobj\n"
        b"4 0 obj<</Length 44>>stream\n1 w 10 10 m 90 90 l S 20 20 50 60 re f 0 g\nendstream endobj\n"
        b"trailer<</Root 1 0 R>>\n%%EOF\n"
    )
    return [many.getvalue(), saved("1", "PDF"), drawn]


def _opened(folder: Path, suffix: str) -> Run:
    path = folder / f"picture{suffix}"

    def run(content: bytes) -> None:
        path.write_bytes(content)
        pages = [open_page(path, place, number) for number, place in enumerate(pages_in(path)[:4], start=1)]
        for page in pages:
            if isinstance(page, PageImage):
                gray = page.gray(200)
                assert gray.ndim == 2
                assert gray.dtype == np.uint8
        if len(content) % 16 == 0:
            next(open_source(path))

    return run


def _heads() -> Sequence[bytes]:
    """Return the beginnings of a file of each kind."""
    pictures = [saved("RGB", form) for form in ("JPEG", "PNG", "WEBP", "BMP")]
    return [content[:1024] for content in (*pictures, saved("P", "GIF"), *_tiffs(), *_heics(), *_pdfs())]


def _of_head(content: bytes, rng: random.Random) -> bytes:
    """Change the beginning of a picture, or of something else."""
    return of_bytes(content if rng.random() < 0.7 else rng.choice(OTHERS), rng)


def _first_look(folder: Path) -> Run:
    """Take a folder of files, one of which is the case, and others no files at all, as a pile: no library is asked."""
    path = folder / "pile" / "case"
    path.parent.mkdir()
    (path.parent / "folder").mkdir()
    (path.parent / "link").symlink_to(path)
    (path.parent / "loop").symlink_to("loop")

    def run(content: bytes) -> None:
        path.write_bytes(content)
        for name in ("case", "link", "loop", "folder", "gone", "case/x", "x\0y"):
            with contextlib.suppress(SourceError):
                may_hold_many(path.parent / name)
        may_hold_many(path)

    return run


def _door(name: str, seeds: object, mutation: object, suffix: str) -> Door:
    return Door(name, seeds, mutation, lambda folder: _opened(folder, suffix), 60.0, decodes=True)  # type: ignore[arg-type]


DOORS = (
    _door(
        "jpeg",
        lambda: [saved("RGB", "JPEG"), saved("L", "JPEG", progressive=True), saved("CMYK", "JPEG")],
        of_picture,
        ".jpg",
    ),
    _door(
        "png",
        lambda: [saved("RGB", "PNG"), saved("1", "PNG"), saved("P", "PNG"), saved("RGBA", "PNG")],
        of_png,
        ".png",
    ),
    _door("tiff", _tiffs, of_picture, ".tif"),
    _door("tiff-directories", _tiffs, of_tiff, ".tif"),
    _door("webp", lambda: [saved("RGB", "WEBP"), saved("RGBA", "WEBP", lossless=True)], of_picture, ".webp"),
    _door("heic", _heics, of_picture, ".heic"),
    _door("pdf", _pdfs, of_pdf, ".pdf"),
    _door("bmp", lambda: [saved("RGB", "BMP"), saved("P", "BMP")], of_picture, ".bmp"),
    _door("gif", lambda: [saved("P", "GIF")], of_picture, ".gif"),
    Door("first-look", _heads, _of_head, _first_look),
)
