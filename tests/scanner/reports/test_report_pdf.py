"""Reports as PDF files: structure, fonts, tags, outline, metadata, and that pages leave memory as they come."""

from __future__ import annotations

import gc
import io
import tracemalloc
import xml.etree.ElementTree as ElementTree
from itertools import pairwise
from typing import Any

import numpy as np
import pypdf
import pytest
from reportlab.graphics.shapes import Drawing, Ellipse, Group, Rect
from reportlab.lib.colors import red

from kit.drawing import Text
from kit.fonts import width_mm
from kit.paper import A4, LETTER
from scanner.reports.chart import Chart
from scanner.reports.chart_pdf import drawn
from scanner.reports.page import Block, Foot, Frame, Picture, ReportPage
from scanner.reports.pictures import image_stream
from scanner.reports.report_pdf import About, ReportPdf, write_report
from scanner.reports.setter import Setter, broken
from tests.kit.rendering import by_pdfium, checked_by_qpdf, text_of
from tests.outside_programs import left_out
from tests.scanner.reports.made import ENGLISH, page_of, slip_of, taster, writing

KIT, SEAL = "K7Q4M2", "QZVG-ZBEZ-7280-VS5B"


def plain(number: int, *, print_safe: bool = False) -> ReportPage:
    """Return a page with a heading, a paragraph and a chart."""
    setter = Setter(Frame(LETTER if print_safe else A4, print_safe))
    setter.title(f"Taster {number}", "First flight & more", "5 December 2026")
    setter.paragraph("The words of both rounds. " * 20)
    chart = Chart(40.0, 10.0)
    chart.circle(5.0, 5.0, 3.0, fill=0.5)
    setter.figure(chart, f"circle {number}")
    return ReportPage(setter.frame, Foot((KIT,), (SEAL,), "5 December 2026"), tuple(setter.blocks), f"Taster {number}")


def written(*pages: ReportPage, about: About | None = None) -> bytes:
    file = io.BytesIO()
    write_report(file, pages, about or About("Slips <1>", "Results", len(pages)), ENGLISH)
    return file.getvalue()


@pytest.fixture(scope="module")
def pdf() -> bytes:
    slip = slip_of(taster((3, 1, 5, 2, 4), (3, 1, 5, 4, 2)))
    return written(plain(1), plain(2, print_safe=True), page_of(slip, hands=writing()))


@pytest.mark.skipif(left_out("qpdf"), reason="qpdf is not installed")
def test_qpdf_finds_no_fault(pdf: bytes) -> None:
    assert "No syntax or stream encoding errors found" in checked_by_qpdf(pdf)


@pytest.mark.skipif(left_out("pdftotext"), reason="poppler is not installed")
def test_poppler_finds_every_page_named_by_kit_seal_date_and_number(pdf: bytes) -> None:
    for number, text in enumerate(text_of(pdf)[:3], start=1):
        line = " ".join(text.split())
        assert f"Kit {KIT} Seal code {SEAL} Printed by facedown" in line
        assert f"5 December 2026 page {number} of 3" in line


def test_all_fonts_are_embedded(pdf: bytes) -> None:
    fonts = {}
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        for name, font in page["/Resources"]["/Font"].items():  # type: ignore[index]
            fonts[name] = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"]
    assert len(fonts) >= 3
    assert all("/FontFile2" in descriptor for descriptor in fonts.values())


def test_the_document_says_what_it_is(pdf: bytes) -> None:
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    catalogue: Any = reader.trailer["/Root"]
    assert reader.metadata is not None
    assert (reader.metadata.title, reader.metadata.author) == ("Slips <1>", "facedown")
    assert catalogue["/Lang"] == "en"
    assert catalogue["/MarkInfo"]["/Marked"]
    assert catalogue["/ViewerPreferences"]["/DisplayDocTitle"]
    tree = ElementTree.fromstring(catalogue["/Metadata"].get_data())
    names = {"dc": "http://purl.org/dc/elements/1.1/", "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#"}
    [title] = tree.iterfind(".//dc:title/rdf:Alt/rdf:li", names)
    assert title.text == "Slips <1>"


def test_the_outline_leads_to_every_page(pdf: bytes) -> None:
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    entries = [entry for entry in reader.outline if not isinstance(entry, list)]
    assert [entry.title for entry in entries] == ["Taster 1", "Taster 2", "Ines"]
    assert [reader.get_destination_page_number(entry) for entry in entries] == [0, 1, 2]


def test_every_marked_part_of_a_page_is_found_from_the_structure_and_back(pdf: bytes) -> None:
    # ISO 32000-1, 14.7.4.4: the parent tree has, by a page's number and a part's mark, the element that the part is of.
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    root: Any = reader.trailer["/Root"]["/StructTreeRoot"]  # type: ignore[index]
    numbers = root["/ParentTree"]["/Nums"]
    by_page = {numbers[place]: numbers[place + 1].get_object() for place in range(0, len(numbers), 2)}
    roles = []
    for page in reader.pages:
        content = page.get_contents()
        assert content is not None
        marks = [
            (str(operands[0]), operands[1]["/MCID"])
            for operands, operator in pypdf.generic.ContentStream(content, reader).operations
            if operator == b"BDC"
        ]
        parents = by_page[page["/StructParents"]]
        for role, mark in marks:
            element = parents[mark].get_object()
            assert (element["/S"], element["/K"]) == (role, mark)
            assert element["/Pg"] == page
            assert ("/Alt" in element) == (role == "/Figure")
            roles.append(role)
    assert roles.count("/H1") == 3
    assert {"/H1", "/H2", "/P", "/Figure"} == set(roles)


def test_pages_are_on_the_disk_as_soon_as_they_come() -> None:
    file = io.BytesIO()
    report = ReportPdf(file, About("a", "a"), ENGLISH)
    lengths = []
    for number in range(4):
        report.add(plain(number))
        lengths.append(len(file.getvalue()))
    assert all(after - before > 800 for before, after in pairwise(lengths))


class Bin:
    """A file that keeps nothing."""

    def write(self, octets: bytes, /) -> None:
        pass


def test_memory_does_not_grow_with_the_pages() -> None:
    slip = slip_of(taster((3, 1, 5, 2, 4), (3, 1, 5, 4, 2)))

    report, kept = ReportPdf(Bin(), About("a", "a"), ENGLISH), []
    tracemalloc.start()
    try:
        for number in range(1, 37):
            report.add(page_of(slip, hands=writing(number % 2)))
            if number in (12, 36):
                gc.collect()
                kept.append(tracemalloc.get_traced_memory()[0])
    finally:
        tracemalloc.stop()
    # Of 24 pages, 80 kB each, stays what the tables will have of them: 8 bytes for each of some 70 objects.
    assert kept[1] - kept[0] < 24 * 2_000


def test_the_same_pages_give_the_same_bytes() -> None:
    assert written(plain(1)) == written(plain(1))


def test_a_report_without_pages_or_with_others_than_it_says_is_refused() -> None:
    with pytest.raises(ValueError, match="a page at least"):
        written()
    with pytest.raises(ValueError, match="1 pages, not 2"):
        written(plain(1), about=About("a", "a", 2))


def test_a_figure_alone_has_words_in_its_place() -> None:
    with pytest.raises(ValueError, match="figure"):
        Block("Figure", (Text(0, 0, "a", 9),))
    with pytest.raises(ValueError, match="figure"):
        Block("P", (Text(0, 0, "a", 9),), "words")


def test_colours_and_unknown_shapes_are_refused() -> None:
    coloured = Drawing(10, 10)
    square = Rect(0, 0, 5, 5)
    square.fillColor = red
    coloured.add(square)
    with pytest.raises(ValueError, match="no gray"):
        list(drawn(coloured, 0, 0, {}))
    unknown = Drawing(10, 10)
    unknown.add(Ellipse(5, 5, 4, 2))
    with pytest.raises(ValueError, match="Ellipse"):
        list(drawn(unknown, 0, 0, {}))


def test_a_picture_that_is_no_gray_png_is_refused() -> None:
    with pytest.raises(ValueError, match="no PNG"):
        image_stream(b"GIF89a")


def test_a_chart_stands_where_it_was_placed_and_groups_are_moved() -> None:
    # Looked at by pdfium: a black square of 10 mm with its corner at (30, 40), one moved there by a group at (80, 40).
    chart = Chart(100.0, 20.0)
    chart.rect(0.0, 0.0, 10.0, 10.0, fill=0.0, outline=None)
    side = 10 * 72 / 25.4
    moved = Group(Rect(0, chart.drawing.height - side, side, side))
    moved.translate(50 * 72 / 25.4, 0)
    chart.drawing.add(moved)
    setter = Setter(Frame(A4))
    setter.y = 40.0
    setter.figure(chart, "squares", x_mm=30.0)
    [image] = by_pdfium(written(ReportPage(setter.frame, Foot((), (), ""), tuple(setter.blocks))), 25.4)
    dark = image < 100
    assert dark[41:49, 31:39].all()
    assert dark[41:49, 81:89].all()
    assert not dark[36:54, 42:78].any()


def test_a_picture_is_shown_as_it_is() -> None:
    png = writing()[1][0]
    assert png is not None
    setter = Setter(Frame(A4))
    setter.blocks.append(Block("Figure", (Picture(50.0, 50.0, 38.0, 45.0, png),), "hand"))
    [image] = by_pdfium(written(ReportPage(setter.frame, Foot((), (), ""), tuple(setter.blocks))), 127.0)
    shown = image[250:475, 250:440]
    # 235 is the paper of the picture, 30 its ink (tests/scanner/reports/made.py).
    assert abs(float(np.median(shown)) - 235) <= 2
    assert 0.02 < (shown < 90).mean() < 0.5


@pytest.mark.parametrize(
    "text", ["W" * 90, "one two three four five six seven " * 3, "特別純米大吟醸生酛仕込み" * 6, ""]
)
def test_broken_lines_fit_and_lose_nothing(text: str) -> None:
    lines = broken(text, "semibold", 9.0, 42.0)
    assert all(width_mm(line, "semibold", 9.0) <= 42.0 for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())
