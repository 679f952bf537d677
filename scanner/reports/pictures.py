"""A PNG's pixels put into a PDF as they are: both deflate them, and know the same filters.

References
----------
.. [1] ISO 32000-1:2008: FlateDecode and its predictors, 7.4.4; image dictionaries, 8.9.5.
.. [2] W3C, Portable Network Graphics (PNG) Specification, 2nd ed., 2003: chunks, section 5; IHDR, 11.2.2.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_PLAIN = (8, 0, 0, 0, 0)
"""Eight bits a pixel, gray, the one way to deflate and to filter, not interlaced [2]."""


def image_stream(png: bytes) -> tuple[bytes, bytes]:
    """Return a gray PNG as a PDF image's stream, and what its dictionary has to say.

    Raises
    ------
    ValueError
        If it is no PNG file, or not one of 8 bits of gray without interlacing.
    """
    chunks = list(_chunks(png))
    width, height = pixel_size(png)
    entries = (
        b"/Type /XObject /Subtype /Image /Width %d /Height %d /ColorSpace /DeviceGray /BitsPerComponent 8 "
        b"/DecodeParms << /Predictor 15 /Colors 1 /BitsPerComponent 8 /Columns %d >> " % (width, height, width)
    )
    return b"".join(content for kind, content in chunks if kind == b"IDAT"), entries


def pixel_size(png: bytes) -> tuple[int, int]:
    """Return width and height of a gray PNG, in pixels.

    Raises
    ------
    ValueError
        As for `image_stream`.
    """
    if not png.startswith(_SIGNATURE):
        raise ValueError("the picture is no PNG file")
    kind, header = next(_chunks(png), (b"", b""))
    if kind != b"IHDR" or len(header) != 13 or tuple(header[8:]) != _PLAIN:
        raise ValueError("the picture is no gray PNG of 8 bits without interlacing")
    width, height = struct.unpack(">II", header[:8])
    return width, height


def _chunks(png: bytes) -> Iterator[tuple[bytes, bytes]]:
    place = len(_SIGNATURE)
    while place + 8 <= len(png):
        (length,) = struct.unpack(">I", png[place : place + 4])
        yield png[place + 4 : place + 8], png[place + 8 : place + 8 + length]
        place += length + 12
