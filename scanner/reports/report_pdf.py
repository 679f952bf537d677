"""Reports as PDF files: page by page to the disk, fonts embedded, tagged, with outline and metadata.

References
----------
.. [1] ISO 32000-1:2008, Document management – Portable document format: outlines 12.3.3, metadata 14.3, marked content
   14.6, logical structure 14.7, tagged PDF 14.8.
.. [2] ISO 16684-1:2012, Extensible metadata platform (XMP).
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from xml.sax.saxutils import escape

from kit.paper import POINTS_PER_MM
from kit.pdf import Pen
from kit.pdf_file import PdfFile, Sink, number_text, packed, text_string
from kit.pdf_fonts import PdfFonts
from kit.wording import Wording
from scanner.reports.chart_pdf import drawn
from scanner.reports.foot import foot_block
from scanner.reports.page import Block, Part, Picture, Placed, ReportPage
from scanner.reports.pictures import image_stream

AUTHOR = "facedown"


@dataclass(frozen=True, slots=True)
class About:
    """What a report says of itself as a whole; `pages` is how many it will have, None where that is not known yet."""

    title: str
    subject: str
    pages: int | None = None


def write_report(file: Sink, pages: Iterable[ReportPage], about: About, words: Wording) -> int:
    """Write pages as they come, and keep none; return how many there were.

    Raises
    ------
    ValueError
        If there is no page, or there are not as many as `about` says.
    """
    report = ReportPdf(file, about, words)
    for page in pages:
        report.add(page)
    report.close()
    return report.pages


class ReportPdf:
    """A report that grows by a page at a time; a few numbers of each page are all that stays in memory."""

    def __init__(self, file: Sink, about: About, words: Wording) -> None:
        self.pages = 0
        self._about = about
        self._words = words
        self._file = PdfFile(file)
        self._fonts = PdfFonts(self._file)
        self._structure = _Structure(self._file)
        self._outline = _Outline(self._file)

    def add(self, page: ReportPage) -> None:
        """Write the next page."""
        self.pages += 1
        paper = page.frame.paper
        pen = Pen(paper.height_mm)
        images: list[int] = []
        foot = foot_block(page, self.pages, self._about.pages, self._words)
        blocks = (*page.blocks, foot)
        operators = [line for number, block in enumerate(blocks) for line in self._marked(block, number, pen, images)]
        self._fonts.use({name: frozenset(shown) for name, shown in pen.characters.items()})
        content = self._file.put_stream(packed(b"\n".join(operators)))
        named = b" ".join(b"/I%d %d 0 R" % (place, image) for place, image in enumerate(images))
        number = self._file.reserve()
        self._file.put_page(
            (paper.width_mm * POINTS_PER_MM, paper.height_mm * POINTS_PER_MM),
            b"<< %b /XObject << %b >> >>" % (self._fonts.resource, named),
            content,
            b"/StructParents %d /Tabs /S " % (self.pages - 1),
            number,
        )
        self._structure.add_page(number, blocks)
        if page.outline is not None:
            self._outline.add(page.outline, number)

    def close(self) -> None:
        """Write what is left once all pages are there."""
        if not self.pages:
            raise ValueError("a report has a page at least")
        if self._about.pages not in (None, self.pages):
            raise ValueError(f"the report has {self.pages} pages, not {self._about.pages}")
        self._fonts.close()
        about, language = self._about, self._words.language
        metadata = _xmp(about, language)
        entries = (
            b"/MarkInfo << /Marked true >> /StructTreeRoot %d 0 R /Metadata %d 0 R "
            b"/ViewerPreferences << /DisplayDocTitle true >> %b"
            % (
                self._structure.close(),
                self._file.put(
                    b"<< /Type /Metadata /Subtype /XML /Length %d >>\nstream\n%b\nendstream" % (len(metadata), metadata)
                ),
                self._outline.close(),
            )
        )
        told = {"Title": about.title, "Subject": about.subject, "Author": AUTHOR, "Creator": AUTHOR}
        self._file.close(told, language, entries)

    def _marked(self, block: Block, number: int, pen: Pen, images: list[int]) -> Iterator[bytes]:
        """Yield a block's operators between the marks by which the structure finds them [1, 14.7.4.2]."""
        tagged = block.role != "Artifact"
        yield b"/%b << /MCID %d >> BDC" % (block.role.encode(), number) if tagged else b"/Artifact BMC"
        for part in block.parts:
            yield from self._part(part, pen, images)
        yield b"EMC"

    def _part(self, part: Part, pen: Pen, images: list[int]) -> Iterator[bytes]:
        match part:
            case Placed():
                bottom_mm = pen.height_mm - part.y_mm - part.chart.height_mm
                left, bottom = part.x_mm * POINTS_PER_MM, bottom_mm * POINTS_PER_MM
                yield from drawn(part.chart.drawing, left, bottom, pen.characters)
            case Picture():
                images.append(self._file.put_stream(*image_stream(part.png)))
                bottom_mm = pen.height_mm - part.y_mm - part.h_mm
                sides = (part.w_mm, part.h_mm, part.x_mm, bottom_mm)
                w, h, x, y = (number_text(round(side * POINTS_PER_MM, 3)) for side in sides)
                yield b"q %b 0 0 %b %b %b cm /I%d Do Q" % (w, h, x, y, len(images) - 1)
            case _:
                yield from pen.draw(part)


class _Structure:
    """What the document is made of, for programs that read it out: a section for each page, its blocks in order."""

    def __init__(self, file: PdfFile) -> None:
        self._file = file
        self._root, self._document = file.reserve(), file.reserve()
        self._sections = array("Q")
        self._parents = array("Q")

    def add_page(self, page: int, blocks: Iterable[Block]) -> None:
        """Write a page's part of the structure."""
        section = self._file.reserve()
        elements = [
            self._file.put(_element(block, section, page, number)) if block.role != "Artifact" else None
            for number, block in enumerate(blocks)
        ]
        kids = b" ".join(b"%d 0 R" % element for element in elements if element is not None)
        self._file.put(
            b"<< /Type /StructElem /S /Sect /P %d 0 R /K [%b] >>" % (self._document, kids),
            section,
        )
        self._sections.append(section)
        by_mark = b" ".join(b"null" if element is None else b"%d 0 R" % element for element in elements)
        self._parents.append(self._file.put(b"[%b]" % by_mark))

    def close(self) -> int:
        """Write the roots; return the number of the structure's."""
        sections = b" ".join(b"%d 0 R" % section for section in self._sections)
        self._file.put(
            b"<< /Type /StructElem /S /Document /P %d 0 R /K [%b] >>" % (self._root, sections), self._document
        )
        numbers = b" ".join(b"%d %d 0 R" % pair for pair in enumerate(self._parents))
        tree = self._file.put(b"<< /Nums [%b] >>" % numbers)
        self._file.put(
            b"<< /Type /StructTreeRoot /K [%d 0 R] /ParentTree %d 0 R /ParentTreeNextKey %d >>"
            % (self._document, tree, len(self._parents)),
            self._root,
        )
        return self._root


class _Outline:
    """The list of pages that a reader shows beside the document; each entry is written when the next one is known."""

    def __init__(self, file: PdfFile) -> None:
        self._file = file
        self._root = file.reserve()
        self._first: int | None = None
        self._last: tuple[int, bytes] | None = None
        self._count = 0

    def add(self, title: str, page: int) -> None:
        """Add an entry for a page."""
        number = self._file.reserve()
        previous = b""
        if self._last is not None:
            self._file.put(b"<< %b/Next %d 0 R >>" % (self._last[1], number), self._last[0])
            previous = b"/Prev %d 0 R " % self._last[0]
        self._first = self._first or number
        entry = b"/Title %b /Parent %d 0 R /Dest [%d 0 R /Fit] %b" % (text_string(title), self._root, page, previous)
        self._last = (number, entry)
        self._count += 1

    def close(self) -> bytes:
        """Write the last entry and the root; return what the catalogue says of them."""
        if self._last is None or self._first is None:
            self._file.put(b"<< /Type /Outlines /Count 0 >>", self._root)
            return b""
        self._file.put(b"<< %b>>" % self._last[1], self._last[0])
        self._file.put(
            b"<< /Type /Outlines /First %d 0 R /Last %d 0 R /Count %d >>" % (self._first, self._last[0], self._count),
            self._root,
        )
        return b"/Outlines %d 0 R /PageMode /UseOutlines " % self._root


def _element(block: Block, section: int, page: int, mark: int) -> bytes:
    alt = b"" if block.alt is None else b"/Alt %b " % text_string(block.alt)
    return b"<< /Type /StructElem /S /%b /P %d 0 R /Pg %d 0 R /K %d %b>>" % (
        block.role.encode(),
        section,
        page,
        mark,
        alt,
    )


def _xmp(about: About, language: str) -> bytes:
    """Return title, author, subject and language as an XMP packet [2]."""
    return f"""<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/">
<dc:format>application/pdf</dc:format>
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{escape(about.title)}</rdf:li></rdf:Alt></dc:title>
<dc:description><rdf:Alt><rdf:li xml:lang="x-default">{escape(about.subject)}</rdf:li></rdf:Alt></dc:description>
<dc:creator><rdf:Seq><rdf:li>{AUTHOR}</rdf:li></rdf:Seq></dc:creator>
<dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language>
<xmp:CreatorTool>{AUTHOR}</xmp:CreatorTool>
</rdf:Description>
</rdf:RDF>
</x:xmpmeta>
<?xpacket end="r"?>""".encode()
