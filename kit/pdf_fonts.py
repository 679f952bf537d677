"""The fonts of one PDF file: the characters that its pages use, embedded as subsets when the last page is done.

A character's code is its place among all characters of its font, so it is the same in every file: what is drawn once
can be shown in many files.

References
----------
.. [1] ISO 32000-1:2008, Document management – Portable document format: composite fonts 9.7, ToUnicode maps 9.10.3.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from hashlib import sha256

from kit.fonts import FACE_FILES, FALLBACK, advance, font
from kit.pdf_file import PdfFile, number_text, packed

RESOURCE_NAMES = {name: b"F%d" % number for number, name in enumerate((*FACE_FILES, FALLBACK), start=1)}
"""What the pages call each font."""
_SYMBOLIC, _NONSYMBOLIC = 1 << 2, 1 << 5
"""Flags of a font descriptor [1, table 123]: a subset is symbolic, whatever its font says."""
_MAP_BLOCK = 100
"""The most entries that a block of a ToUnicode map may have."""

Characters = Mapping[str, frozenset[str]]
"""By font name, the characters shown."""


def coded(name: str, run: str) -> bytes:
    """Return a run of one font as the PDF string that shows it."""
    codes = _codes(name)
    return b"<%b>" % "".join(f"{codes.get(character, 0):04x}" for character in run).encode()


class PdfFonts:
    """What one file has used of each font so far."""

    def __init__(self, file: PdfFile) -> None:
        self._file = file
        self._used: dict[str, set[str]] = {}
        self._dictionary = file.reserve()

    @property
    def resource(self) -> bytes:
        """What a page's resources say of the fonts."""
        return b"/Font %d 0 R" % self._dictionary

    def use(self, characters: Characters) -> None:
        """Note what a page shows."""
        for name, shown in characters.items():
            self._used.setdefault(name, set()).update(shown & _codes(name).keys())

    def close(self) -> None:
        """Write all fonts into the file."""
        entries = [
            b"/%b %d 0 R" % (RESOURCE_NAMES[name], _embed(self._file, name, "".join(sorted(self._used[name]))))
            for name in RESOURCE_NAMES
            if self._used.get(name)
        ]
        self._file.put(b"<< %b >>" % b" ".join(entries), self._dictionary)


@cache
def _codes(name: str) -> dict[str, int]:
    """Return the two-byte code of each character of a font; 0 is for what it has no shape for."""
    return {chr(point): code for code, point in enumerate(sorted(font(name).charToGlyph), start=1)}


def _embed(file: PdfFile, name: str, characters: str) -> int:
    """Write a font that has these characters, in order, and return its object's number."""
    face, codes = font(name), _codes(name)
    subset = face.makeSubset([ord(character) for character in characters])
    tag = "".join(chr(ord("A") + octet % 26) for octet in sha256(characters.encode()).digest()[:6])
    base_font = f"{tag}+{face.name.decode('ascii')}".encode()
    program = file.put_stream(packed(subset), b"/Length1 %d " % len(subset))
    descriptor = file.put(
        b"<< /Type /FontDescriptor /FontName /%b /Flags %d /FontBBox [%b] /ItalicAngle %b /Ascent %b /Descent %b "
        b"/CapHeight %b /StemV %b /FontFile2 %d 0 R >>"
        % (
            base_font,
            face.flags & ~_NONSYMBOLIC | _SYMBOLIC,
            b" ".join(number_text(side) for side in face.bbox),
            *map(number_text, (face.italicAngle, face.ascent, face.descent, face.capHeight, face.stemV)),
            program,
        )
    )
    glyphs = file.put_stream(packed(_glyph_map(name, characters)))
    widths = b" ".join(
        b"%d [%b]" % (codes[character], number_text(advance(name, character))) for character in characters
    )
    descendant = file.put(
        b"<< /Type /Font /Subtype /CIDFontType2 /BaseFont /%b /CIDSystemInfo "
        b"<< /Registry (Adobe) /Ordering (Identity) /Supplement 0 >> /FontDescriptor %d 0 R /DW %b /W [%b] "
        b"/CIDToGIDMap %d 0 R >>" % (base_font, descriptor, number_text(face.defaultWidth), widths, glyphs)
    )
    unicodes = file.put_stream(packed(_unicode_map({codes[character]: character for character in characters})))
    return file.put(
        b"<< /Type /Font /Subtype /Type0 /BaseFont /%b /Encoding /Identity-H /DescendantFonts [%d 0 R] "
        b"/ToUnicode %d 0 R >>" % (base_font, descendant, unicodes)
    )


def _glyph_map(name: str, characters: str) -> bytes:
    """Return the subset's glyph for each code, two bytes each [1, table 117].

    The subset has glyph 0, then those of the characters in their order, each glyph once.
    """
    glyphs, codes = font(name).charToGlyph, _codes(name)
    places = {0: 0}
    for character in characters:
        places.setdefault(glyphs[ord(character)], len(places))
    mapped = bytearray(2 * (max(codes[character] for character in characters) + 1))
    for character in characters:
        code = codes[character]
        mapped[2 * code : 2 * code + 2] = places[glyphs[ord(character)]].to_bytes(2, "big")
    return bytes(mapped)


def _unicode_map(characters: Mapping[int, str]) -> bytes:
    """Return the map by which programs find the text again [1, 9.10.3]."""
    entries = [f"<{code:04x}> <{text.encode('utf-16-be').hex()}>" for code, text in sorted(characters.items())]
    blocks = [entries[first : first + _MAP_BLOCK] for first in range(0, len(entries), _MAP_BLOCK)]
    return "\n".join(
        [
            "/CIDInit /ProcSet findresource begin 12 dict begin begincmap",
            "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def",
            "/CMapName /Adobe-Identity-UCS def /CMapType 2 def",
            "1 begincodespacerange <0000> <ffff> endcodespacerange",
            *(f"{len(block)} beginbfchar\n" + "\n".join(block) + "\nendbfchar" for block in blocks),
            "endcmap CMapName currentdict /CMap defineresource pop end end",
        ]
    ).encode()
