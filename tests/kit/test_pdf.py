"""The printed PDFs: whole in two programs, fonts embedded, names right, the same bytes for the same seed."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable
from hashlib import sha256
from importlib.resources import as_file, files
from io import BytesIO
from pathlib import Path

import numpy as np
import pypdf
import pypdfium2
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from reportlab.pdfgen.canvas import Canvas

from kit.drawing import Element, Face, Modules, Page, Rect, Rule, Text
from kit.fonts import FACE_FILES, FALLBACK_FILE, fitted, runs, shapeless, width_mm
from kit.paper import A4
from kit.pdf import render
from kit.session import Paper, Shuffle
from tests.kit import samples
from tests.kit.rendering import (
    RENDERERS,
    Gray,
    by_pdfium,
    by_poppler,
    checked_by_qpdf,
    fonts_of,
    needs_poppler,
    needs_qpdf,
    text_of,
)

ROOT = Path(__file__).parents[2]
KITS: list[tuple[Paper, Shuffle]] = [
    (paper, shuffle) for paper in samples.PAPERS for shuffle in ("host", "hand", "twin")
]
NAMES = samples.NAMES
FACES: tuple[Face, ...] = ("regular", "semibold", "black")
Draw = Callable[[bytes, float], list[Gray]]


@needs_poppler
@pytest.mark.parametrize(("paper", "shuffle"), KITS)
def test_all_fonts_are_embedded(paper: Paper, shuffle: Shuffle) -> None:
    """Poppler's pdffonts: each row ends in emb, sub, uni and the object's two numbers."""
    for name, pdf in samples.printed(5, paper, shuffle).pdfs.items():
        rows = fonts_of(pdf)
        assert len(rows) >= 3
        for row in rows:
            assert re.search(r" yes yes yes +\d+ +\d+$", row), f"{name}: {row}"


@needs_poppler
def test_the_font_check_sees_a_font_that_is_not_embedded() -> None:
    buffer = BytesIO()
    canvas = Canvas(buffer)
    canvas.drawString(100, 100, "Helvetica is left to the printer")
    canvas.save()
    assert not re.search(r" yes yes yes +\d+ +\d+$", fonts_of(buffer.getvalue())[0])


@needs_qpdf
@needs_poppler
@pytest.mark.parametrize(("paper", "shuffle"), KITS)
def test_every_pdf_opens_without_a_warning_in_three_programs(paper: Paper, shuffle: Shuffle) -> None:
    """qpdf, poppler and pdfium; the helpers fail at a word on stderr."""
    for name, pdf in samples.printed(5, paper, shuffle).pdfs.items():
        assert "No syntax or stream encoding errors found" in checked_by_qpdf(pdf), name
        document = pypdfium2.PdfDocument(pdf)
        pages = len(document)
        document.close()
        assert pages == len(by_pdfium(pdf, 36)) == len(by_poppler(pdf, 36)) == len(text_of(pdf))
        assert pages == len(pypdf.PdfReader(BytesIO(pdf), strict=True).pages)


@needs_qpdf
def test_the_syntax_check_sees_a_damaged_file() -> None:
    pdf = samples.printed().files["host.pdf"]
    with pytest.raises(AssertionError):
        checked_by_qpdf(pdf[: len(pdf) // 2])


@needs_poppler
@pytest.mark.parametrize(("paper", "shuffle"), KITS)
def test_names_come_out_as_they_went_in(paper: Paper, shuffle: Shuffle) -> None:
    printed = samples.printed(5, paper, shuffle)
    for page, text in zip(printed.layout.pages, text_of(printed.files["forms.pdf"]), strict=False):
        assert NAMES[page.taster - 1] in text
        assert page.sheet in text
        assert "First flight of winter, 5 December 2026" in text
    pour_sheet = text_of(printed.files["host.pdf"])[0]
    assert all(pour in pour_sheet for pour in samples.POURS)
    named = {
        "host": ("coasters.pdf", "keys.pdf"),
        "hand": ("coasters.pdf",),
        "twin": ("keys.pdf", "vials.pdf", "packing.pdf", "letters.pdf"),
    }
    for file in named[shuffle]:
        for name, text in zip(NAMES, text_of(printed.files[file]), strict=True):
            assert name in text


@needs_poppler
@pytest.mark.parametrize("draw", RENDERERS.values(), ids=RENDERERS)
def test_every_letter_of_a_name_looks_like_itself(draw: Draw) -> None:
    """Pillow's own picture of each letter is the measure: of all of them, the printed one is nearest to its own."""
    letters = "éeøoßBåaÖO純米大吟醸太"
    measures = [_shape(_by_pillow(letter)) for letter in letters]
    for place, letter in enumerate(letters):
        shown = _shape(draw(_one_line(letter), 300)[0])
        distances = [float(np.abs(shown - measure).mean()) for measure in measures]
        assert int(np.argmin(distances)) == place, f"{letter} looks like {letters[int(np.argmin(distances))]}"
        assert distances[place] < 0.05


def test_a_character_without_a_shape_is_found_out() -> None:
    assert shapeless("Zoé Søgård-Weiß 純米大吟醸 “’…–×") == ""
    assert shapeless("a🍶b🍶م") == "🍶م"


@pytest.mark.parametrize("face", FACES)
def test_a_line_of_two_scripts_is_as_wide_as_its_runs(face: Face) -> None:
    assert [text for _, text in runs("Kura 純米 No 5", face)] == ["Kura ", "純米", " No 5"]
    parts = sum(width_mm(part, face, 10.0) for part in ("Kura ", "純米", " No 5"))
    assert width_mm("Kura 純米 No 5", face, 10.0) == pytest.approx(parts)


@pytest.mark.parametrize("name", [*samples.LONG_NAMES, "Ines", "i" * 60, "純 " * 20])
@pytest.mark.parametrize("room_mm", [12.0, 54.0, 90.0])
def test_a_name_is_made_to_fit_its_room(name: str, room_mm: float) -> None:
    text, size_pt = fitted(name, "semibold", 12.5, room_mm, 7.4)
    assert width_mm(text, "semibold", size_pt) <= room_mm + 1e-6
    assert 7.4 <= size_pt <= 12.5
    assert text == name or (text.endswith("…") and name.startswith(text[:-1].rstrip()))


@pytest.mark.parametrize("shuffle", ["host", "hand", "twin"])
def test_the_same_seed_prints_the_same_bytes_twice_in_one_process(shuffle: Shuffle) -> None:
    session = samples.a_session(5, "A4", shuffle)
    assert samples.print_of(session).files == samples.print_of(session).files


def test_the_same_seed_prints_the_same_bytes_in_another_process() -> None:
    """No order of sets or addresses in it: PYTHONHASHSEED differs from process to process."""
    script = (
        "from hashlib import sha256\nfrom tests.kit import samples\n"
        "print(*(sha256(content).hexdigest() for content in samples.print_of(samples.a_session(5)).files.values()))"
    )
    command = [sys.executable, "-c", script]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.split() == [sha256(content).hexdigest() for content in samples.printed(5).files.values()]


def test_metadata_names_the_sitting_and_nobody_else() -> None:
    for pdf in samples.printed(5).pdfs.values():
        about = pypdf.PdfReader(BytesIO(pdf)).metadata
        assert about is not None
        assert about.title == f"First flight of winter ({samples.printed(5).kit.id})"
        assert about.author == "facedown"
        assert about.creation_date is not None
        assert about.creation_date.year == 2000, "the clock must not enter: the same input gives the same bytes"


def test_pages_are_of_the_paper_asked_for_and_not_turned() -> None:
    """ISO 216 A4 and 8.5 × 11 inches, in points of 1/72 inch."""
    for paper, width_pt, height_pt in (("A4", 210 / 25.4 * 72, 297 / 25.4 * 72), ("Letter", 8.5 * 72, 11 * 72)):
        for pdf in samples.printed(5, "A4" if paper == "A4" else "Letter").pdfs.values():
            for page in pypdf.PdfReader(BytesIO(pdf)).pages:
                box = [float(side) for side in page.mediabox]
                assert box == pytest.approx([0, 0, width_pt, height_pt], abs=0.01)
                assert page.rotation == 0


def test_what_pages_share_is_stored_once() -> None:
    """MEASURED, Printing: the unchanging part as a form object. A hundred more pages add little."""
    few, many = samples.printed(5).files["forms.pdf"], samples.printed_for_forty().files["forms.pdf"]
    assert (len(many) - len(few)) / (120 - 9) < 4000


@pytest.mark.parametrize(
    ("element", "left_mm", "top_mm", "right_mm", "bottom_mm"),
    [
        (Rect(50, 60, 20, 10, outline_gray=None, fill=0.0), 50, 60, 70, 70),
        (Rect(50, 60, 20, 10, outline_mm=1.0), 50, 60, 70, 70),
        (Rule(50, 60, 70, 60, 1.0), 50, 59.5, 70, 60.5),
        (Modules(50, 60, 21, ((True,) * 21,) * 21), 50, 60, 71, 81),
        (Modules(50, 60, 8, (((True, False) * 4), ((False,) * 8), *((False,) * 8 for _ in range(6)))), 50, 60, 57, 61),
        (Text(50, 60, "HH", 72.0, align="right"), None, None, 50, 60),
    ],
)
def test_ink_lands_where_an_element_says(
    element: Element, left_mm: float | None, top_mm: float | None, right_mm: float, bottom_mm: float
) -> None:
    """The page's axes: mm from the top left corner, y down. Within a pixel at 300 dpi; letters keep a little air."""
    picture = by_pdfium(render([Page(A4, "one", (element,))], "one"), 300)[0]
    rows, columns = np.nonzero(picture < 128)
    found = (columns.min(), rows.min(), columns.max() + 1, rows.max() + 1)
    slack_mm = 2.5 if isinstance(element, Text) else 0.1
    for pixel, expected_mm in zip(found, (left_mm, top_mm, right_mm, bottom_mm), strict=True):
        if expected_mm is not None:
            assert pixel / 300 * 25.4 == pytest.approx(expected_mm, abs=slack_mm)


def _one_line(text: str) -> bytes:
    return render([Page(A4, "line", (), (Text(30.0, 60.0, text, 72.0),))], "line")


def _by_pillow(letter: str) -> Gray:
    file = FACE_FILES["regular"] if ord(letter) < 0x3000 else FALLBACK_FILE
    with as_file(files("templates") / "fonts" / file) as path:
        font = ImageFont.truetype(str(path), 300)
    picture = Image.new("L", (400, 400), 255)
    ImageDraw.Draw(picture).text((50, 350), letter, fill=0, font=font, anchor="ls")
    return np.asarray(picture)


def _shape(picture: Gray) -> NDArray[np.float64]:
    """Return the ink cut out and brought to 64 by 64 pixels, 1 where black."""
    rows, columns = np.nonzero(picture < 128)
    cut = Image.fromarray(picture[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1])
    return 1.0 - np.asarray(cut.resize((64, 64), Image.Resampling.BOX), dtype=np.float64) / 255.0
