"""One sheet as a searchable PDF/A-2b: its picture, and over it, unseen, the words that were read of it.

What PDF/A asks for beyond a plain PDF: an output intent with its profile, metadata as XMP that say what the file is,
every font embedded, no transparency, no character without a shape.

References
----------
.. [1] ISO 19005-2:2011, Document management – Electronic document file format for long-term preservation, Part 2: file
   structure 6.1, output intent 6.2.3, device colour spaces 6.2.4.3, fonts 6.2.11, metadata 6.6.
.. [2] ISO 32000-1:2008, Document management – Portable document format: text rendering modes 9.3.6.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from xml.sax.saxutils import escape

from kit.fonts import runs, shapeless
from kit.paper import POINTS_PER_MM
from kit.pdf_file import PdfFile, Sink, number_text, packed
from kit.pdf_fonts import RESOURCE_NAMES, PdfFonts, coded
from scanner.archive.gray_profile import PROFILE_NAME, gray_profile
from scanner.archive.sheet_picture import SheetPicture

UNSEEN, SEEN = 3, 0
"""Text rendering modes [2]."""
CREATED = "2000-01-01T00:00:00Z"
"""As `PdfFile` writes it into the document's information: a date that no clock made."""


@dataclass(frozen=True, slots=True)
class PlacedText:
    """A line of text; x and y, mm from the page's top left corner, are where its baseline begins."""

    text: str
    x_mm: float
    y_mm: float
    size_pt: float


@dataclass(frozen=True, slots=True)
class SheetPage:
    """What a sheet's PDF shows: without a picture its texts are seen, else they lie unseen over it."""

    title: str
    subject: str
    width_mm: float
    height_mm: float
    picture: SheetPicture | None
    texts: tuple[PlacedText, ...]


def write_sheet_pdf(file: Sink, page: SheetPage, language: str = "en") -> None:
    """Write the PDF of one sheet; the same page gives the same bytes."""
    pdf = PdfFile(file)
    fonts = PdfFonts(pdf)
    size_pt = (page.width_mm * POINTS_PER_MM, page.height_mm * POINTS_PER_MM)
    shown, resources = b"", fonts.resource
    if page.picture is not None:
        shown = b"q %b 0 0 %b 0 0 cm /Picture Do Q\n" % tuple(map(number_text, size_pt))
        resources += b" /XObject << /Picture %d 0 R >>" % _put_picture(pdf, page.picture)
    texts = b"\n".join(_text_operators(page.texts, page.height_mm, fonts, SEEN if page.picture is None else UNSEEN))
    pdf.put_page(size_pt, b"<< %b >>" % resources, pdf.put_stream(packed(shown + texts)))
    fonts.close()
    about = {"Title": page.title, "Subject": page.subject, "Author": "facedown", "Creator": "facedown"}
    entries = b"/Metadata %d 0 R /OutputIntents [%d 0 R] " % (_put_metadata(pdf, about, language), _put_intent(pdf))
    pdf.close(about, language, entries)


def _put_picture(pdf: PdfFile, picture: SheetPicture) -> int:
    return _put_unpacked(
        pdf,
        b"/Type /XObject /Subtype /Image /Width %d /Height %d /ColorSpace /DeviceGray /BitsPerComponent 8 "
        b"/Filter /DCTDecode" % (picture.width_px, picture.height_px),
        picture.jpeg,
    )


def _text_operators(texts: Iterable[PlacedText], height_mm: float, fonts: PdfFonts, mode: int) -> Iterable[bytes]:
    yield b"BT %d Tr 0 g" % mode
    for placed in texts:
        x, y = placed.x_mm * POINTS_PER_MM, (height_mm - placed.y_mm) * POINTS_PER_MM
        yield b"1 0 0 1 %b %b Tm" % (number_text(x), number_text(y))
        for name, run in runs(with_shapes(placed.text), "regular"):
            fonts.use({name: frozenset(run)})
            yield b"/%b %b Tf %b Tj" % (RESOURCE_NAMES[name], number_text(placed.size_pt), coded(name, run))
    yield b"ET"


def with_shapes(text: str) -> str:
    """Return a text in which a question mark stands for every character that no font has a shape for."""
    missing = shapeless(text)
    return text.translate({ord(character): "?" for character in missing}) if missing else text


def _put_intent(pdf: PdfFile) -> int:
    profile = pdf.put_stream(packed(gray_profile()), b"/N 1 ")
    return pdf.put(
        b"<< /Type /OutputIntent /S /GTS_PDFA1 /OutputConditionIdentifier (Custom) /Info (%b) "
        b"/DestOutputProfile %d 0 R >>" % (PROFILE_NAME.encode(), profile)
    )


def _put_metadata(pdf: PdfFile, about: dict[str, str], language: str) -> int:
    title, subject, author, creator = (escape(about[name]) for name in ("Title", "Subject", "Author", "Creator"))
    alternative = '<rdf:Alt><rdf:li xml:lang="x-default">{}</rdf:li></rdf:Alt>'
    properties = "\n".join(
        [
            "<pdfaid:part>2</pdfaid:part>",
            "<pdfaid:conformance>B</pdfaid:conformance>",
            "<dc:format>application/pdf</dc:format>",
            f"<dc:title>{alternative.format(title)}</dc:title>",
            f"<dc:description>{alternative.format(subject)}</dc:description>",
            f"<dc:creator><rdf:Seq><rdf:li>{author}</rdf:li></rdf:Seq></dc:creator>",
            f"<dc:language><rdf:Bag><rdf:li>{escape(language)}</rdf:li></rdf:Bag></dc:language>",
            f"<xmp:CreatorTool>{creator}</xmp:CreatorTool>",
            f"<xmp:CreateDate>{CREATED}</xmp:CreateDate>",
        ]
    )
    spaces = " ".join(
        f'xmlns:{name}="{uri}"'
        for name, uri in (
            ("pdfaid", "http://www.aiim.org/pdfa/ns/id/"),
            ("dc", "http://purl.org/dc/elements/1.1/"),
            ("xmp", "http://ns.adobe.com/xap/1.0/"),
        )
    )
    packet = (
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
        '<x:xmpmeta xmlns:x="adobe:ns:meta/">\n'
        '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">\n'
        f'<rdf:Description rdf:about="" {spaces}>\n{properties}\n</rdf:Description>\n'
        '</rdf:RDF>\n</x:xmpmeta>\n<?xpacket end="w"?>'
    )
    return _put_unpacked(pdf, b"/Type /Metadata /Subtype /XML", packet.encode())


def _put_unpacked(pdf: PdfFile, entries: bytes, octets: bytes) -> int:
    """Write a stream as it is: a JPEG is packed already, and metadata are to be found without unpacking."""
    return pdf.put(b"<< %b /Length %d >>\nstream\n%b\nendstream" % (entries, len(octets), octets))
