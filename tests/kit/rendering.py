"""Printed PDFs as pictures and text, by programs that share nothing: pdfium and poppler; and the checkers of both."""

from __future__ import annotations

import subprocess
import tempfile
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray

from tests.outside_programs import left_out

Gray = NDArray[np.uint8]

needs_poppler = pytest.mark.skipif(
    left_out("pdftoppm"), reason="poppler-utils is not installed: the second renderer's checks are left out"
)
needs_qpdf = pytest.mark.skipif(
    left_out("qpdf"), reason="qpdf is not installed: its checks of the printed files are left out"
)


def by_pdfium(pdf: bytes, dpi: float, *, pages: range | None = None) -> list[Gray]:
    """Return the pages as (height, width) gray pictures."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [
            np.array(document[page].render(scale=dpi / 72, grayscale=True).to_numpy()).squeeze()
            for page in (pages or range(len(document)))
        ]
    finally:
        document.close()


def by_poppler(pdf: bytes, dpi: float) -> list[Gray]:
    """Return the pages as (height, width) gray pictures; a word of complaint from poppler fails."""
    with tempfile.TemporaryDirectory() as folder:
        _run(["pdftoppm", "-gray", "-r", f"{dpi:g}", "-", f"{folder}/page"], pdf)
        return [_pgm(path.read_bytes()) for path in sorted(Path(folder).glob("page*.pgm"))]


RENDERERS = {"pdfium": by_pdfium, "poppler": by_poppler}


def text_of(pdf: bytes) -> list[str]:
    """Return each page's text as poppler finds it."""
    return _run(["pdftotext", "-layout", "-enc", "UTF-8", "-", "-"], pdf).decode().split("\f")[:-1]


def fonts_of(pdf: bytes) -> list[str]:
    """Return poppler's lines about the fonts of a PDF, without the table's head."""
    return _run_on_file(["pdffonts"], pdf).decode().splitlines()[2:]


def checked_by_qpdf(pdf: bytes) -> str:
    """Return what qpdf says of a PDF's syntax; a warning fails."""
    return _run_on_file(["qpdf", "--check"], pdf).decode()


def unpacked_by_qpdf(pdf: bytes) -> bytes:
    """Return the PDF with all streams in the clear."""
    return _run_on_file(["qpdf", "--qdf", "--object-streams=disable"], pdf, last="-")


def _run(command: list[str], given: bytes = b"") -> bytes:
    done = subprocess.run(command, input=given, capture_output=True, check=False, timeout=60)
    assert done.returncode == 0, f"{command[0]} ended with {done.returncode}: {done.stderr.decode(errors='replace')}"
    assert done.stderr == b"", f"{command[0]} complained: {done.stderr.decode(errors='replace')}"
    return done.stdout


def _run_on_file(command: list[str], pdf: bytes, last: str | None = None) -> bytes:
    with tempfile.NamedTemporaryFile(suffix=".pdf") as file:
        file.write(pdf)
        file.flush()
        return _run([*command, file.name, *([last] if last else [])])


def _pgm(content: bytes) -> Gray:
    """Return the picture of a binary portable graymap (netpbm's P5)."""
    magic, size, most, pixels = content.split(b"\n", 3)
    assert (magic, most) == (b"P5", b"255")
    width, height = map(int, size.split())
    return np.frombuffer(pixels, np.uint8).reshape(height, width)
