"""PDF piles: their order, and what is wrong with them said in words."""

from __future__ import annotations

import pickle
import struct
import subprocess
from io import BytesIO
from pathlib import Path

import numpy as np
import pypdf
import pytest
from PIL import Image
from pypdf.generic import NumberObject

from scanner.limits import MOST_PAGES
from scanner.page_image import PageError, PageImage
from scanner.sources import count_pages, open_source
from tests.outside_programs import left_out
from tests.scanner.pdf_files import (
    DEFLATED,
    FULL,
    JPEG,
    PICTURE,
    edited,
    pdf_of,
    picture_entry,
    with_annotation,
    with_text,
)
from tests.scanner.picture_files import (
    HEIGHT_PX,
    WIDTH_PX,
    octets,
    only_failure,
    only_page,
    worst_difference,
    write,
)


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
    contents = (pdf_of(JPEG), DEFLATED, pdf_of(JPEG, after=with_text))
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
    content = edited(content, with_annotation) if drawn else content
    size, giant = (struct.pack(">HH", height, width) for height, width in ((HEIGHT_PX, WIDTH_PX), (21_065, 17_990)))
    frame = content.index(size, content.index(b"\xff\xc0"))
    path = write(tmp_path / "pile.pdf", content[:frame] + giant + content[frame + 4 :])
    assert "too large: 17,990×21,065 px" in only_failure(path).reason


def test_a_page_without_extent_is_too_small(tmp_path: Path) -> None:
    failure = only_failure(write(tmp_path / "strip.pdf", pile_of(1, 20)))
    assert failure.source_page == 1
    assert "too small" in failure.reason


@pytest.mark.parametrize(
    "content", [pdf_of(JPEG), DEFLATED, pdf_of(JPEG, after=with_text)], ids=["jpeg", "png", "drawn"]
)
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
