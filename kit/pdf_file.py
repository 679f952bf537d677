"""A PDF file written object by object as the pages come, so that a file of any length needs no memory to speak of.

References
----------
.. [1] ISO 32000-1:2008, Document management – Portable document format: file structure 7.5, page tree 7.7.3.
"""

from __future__ import annotations

import zlib
from array import array
from collections.abc import Iterable
from functools import lru_cache
from hashlib import sha256
from typing import Protocol

LEAF_PAGES = 64
"""Pages under one node of the page tree, so that a reader finds page 3,000 without going through all before it."""


class Sink(Protocol):
    """Whatever bytes can be written to."""

    def write(self, octets: bytes, /) -> object:
        """Write the next bytes."""


class PdfFile:
    """Writes numbered objects in any order, then the tables by which a reader finds them.

    Nothing of it depends on the clock: the same objects give the same bytes.
    """

    def __init__(self, file: Sink) -> None:
        self._file = file
        self._digest = sha256()
        self._length = 0
        self._offsets = array("Q")
        self._leaves: list[int] = []
        self._leaf_pages: list[int] = []
        self._pages = 0
        # The second line's bytes above 127 tell programs that pass the file on that it is not text [1, 7.5.2].
        self._write(b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n")
        self._tree = self.reserve()

    def reserve(self) -> int:
        """Return the number of an object that is written later."""
        self._offsets.append(0)
        return len(self._offsets)

    def put(self, body: bytes, number: int | None = None) -> int:
        """Write an object, under a number reserved before or a new one; return the number."""
        number = self.reserve() if number is None else number
        self._offsets[number - 1] = self._length
        self._write(b"%d 0 obj\n" % number)
        self._write(body)
        self._write(b"\nendobj\n")
        return number

    def put_stream(self, packed: bytes, entries: bytes = b"", number: int | None = None) -> int:
        """Write a stream of deflated bytes; `entries` are added to its dictionary."""
        head = b"<< /Length %d /Filter /FlateDecode %b>>\nstream\n" % (len(packed), entries)
        return self.put(head + packed + b"\nendstream", number)

    def put_page(
        self,
        size_pt: tuple[float, float],
        resources: bytes,
        content: int,
        entries: bytes = b"",
        number: int | None = None,
    ) -> None:
        """Write the next page, which shows the stream numbered `content`; `entries` are added to its dictionary."""
        if not self._leaf_pages:
            self._leaves.append(self.reserve())
        self._leaf_pages.append(
            self.put(
                b"<< /Type /Page /Parent %d 0 R /MediaBox [0 0 %b %b] /Resources %b /Contents %d 0 R %b>>"
                % (self._leaves[-1], number_text(size_pt[0]), number_text(size_pt[1]), resources, content, entries),
                number,
            )
        )
        self._pages += 1
        if len(self._leaf_pages) == LEAF_PAGES:
            self._end_leaf()

    def close(self, about: dict[str, str], language: str, entries: bytes = b"") -> None:
        """Write what is left: the page tree, the catalogue, `about` as the document's information, the tables.

        `entries` are added to the catalogue.
        """
        self._end_leaf()
        self.put(_node(self._leaves, self._pages, parent=None), self._tree)
        catalogue = self.put(
            b"<< /Type /Catalog /Pages %d 0 R /Lang %b %b>>" % (self._tree, text_string(language), entries)
        )
        told = b" ".join(b"/%b %b" % (name.encode(), text_string(text)) for name, text in about.items())
        # A date that no clock made: the same input must give the same bytes.
        info = self.put(b"<< %b /CreationDate (D:20000101000000Z) >>" % told)
        name = self._digest.hexdigest()[:32].encode()
        start = self._length
        self._write(b"xref\n0 %d\n0000000000 65535 f \n" % (len(self._offsets) + 1))
        for offset in self._offsets:
            self._write(b"%010d 00000 n \n" % offset)
        self._write(
            b"trailer\n<< /Size %d /Root %d 0 R /Info %d 0 R /ID [<%b> <%b>] >>\nstartxref\n%d\n%%%%EOF\n"
            % (len(self._offsets) + 1, catalogue, info, name, name, start)
        )

    def _end_leaf(self) -> None:
        if self._leaf_pages:
            self.put(_node(self._leaf_pages, len(self._leaf_pages), parent=self._tree), self._leaves[-1])
            self._leaf_pages = []

    def _write(self, octets: bytes) -> None:
        self._file.write(octets)
        self._digest.update(octets)
        self._length += len(octets)


def packed(octets: bytes) -> bytes:
    """Return the bytes deflated, as `put_stream` takes them."""
    return zlib.compress(octets)


@lru_cache(8192)
def number_text(value: float) -> bytes:
    """Return a number as a PDF spells it: seven digits, at most six of them behind the point, never an exponent.

    >>> number_text(12.3456789), number_text(-0.0000001), number_text(7.0)
    (b'12.34568', b'0', b'7')
    """
    behind = 7 - len(str(int(abs(value))))
    return (b"%.*f" % (behind, round(value, 6) + 0.0)).rstrip(b"0").rstrip(b".")


def text_string(text: str) -> bytes:
    """Return a text for people as a PDF string: UTF-16 with its mark, in hexadecimal digits [1, 7.9.2.2].

    >>> text_string("é")
    b'<feff00e9>'
    """
    return b"<%b>" % ("\ufeff" + text).encode("utf-16-be").hex().encode()


def _node(kids: Iterable[int], pages: int, *, parent: int | None) -> bytes:
    up = b"/Parent %d 0 R " % parent if parent else b""
    return b"<< /Type /Pages %b/Count %d /Kids [%b] >>" % (up, pages, b" ".join(b"%d 0 R" % kid for kid in kids))
