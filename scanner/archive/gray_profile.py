"""The colour profile of the sheets' PDFs: gray with the tone curve of sRGB, in a version that all readers know.

References
----------
.. [1] ICC.1:2001-04, File Format for Color Profiles: header 6.1, tag table 6.2, monochrome display profiles 6.3.1.1,
   types 6.5.
.. [2] IEC 61966-2-1:1999, sRGB: its tone curve.
"""

from __future__ import annotations

import struct
from functools import cache

PROFILE_NAME = "Gray with the tone curve of sRGB"
_VERSION = 0x02100000
_D50 = struct.pack(">3i", 0xF6D6, 0x10000, 0xD32D)
"""The white of the profile connection space, in 65536ths [1, 6.1.11]."""
_STEPS = 1024
_HEADER_BYTES, _ENTRY_BYTES = 128, 12


@cache
def gray_profile() -> bytes:
    """Return the profile; it is the same on every day."""
    tags = {
        b"desc": _description(PROFILE_NAME.encode()),
        b"cprt": b"text" + bytes(4) + b"No copyright, use freely\0",
        b"wtpt": b"XYZ " + bytes(4) + _D50,
        b"kTRC": b"curv" + struct.pack(">4xI", _STEPS) + b"".join(map(_step, range(_STEPS))),
    }
    table, content = struct.pack(">I", len(tags)), b""
    begin = _HEADER_BYTES + 4 + _ENTRY_BYTES * len(tags)
    for signature, body in tags.items():
        table += signature + struct.pack(">2I", begin + len(content), len(body))
        content += body + bytes(-len(body) % 4)
    header = struct.pack(
        ">2I I 4s4s4s 6H 4s 4s 5I I 12s 48x".replace(" ", ""),
        begin + len(content),
        0,
        _VERSION,
        b"mntr",
        b"GRAY",
        b"XYZ ",
        *(2000, 1, 1, 0, 0, 0),
        b"acsp",
        bytes(4),
        *(0, 0, 0, 0, 0),
        0,
        _D50,
    )
    return header + table + content


def _step(number: int) -> bytes:
    """Return one value of the tone curve, how much light a gray stands for [2]."""
    gray = number / (_STEPS - 1)
    light = gray / 12.92 if gray <= 0.04045 else ((gray + 0.055) / 1.055) ** 2.4
    return struct.pack(">H", round(light * 0xFFFF))


def _description(name: bytes) -> bytes:
    """Return a text in ASCII alone; the Unicode and Macintosh texts are empty [1, 6.5.17]."""
    return b"desc" + struct.pack(">4xI", len(name) + 1) + name + b"\0" + bytes(4 + 4 + 2 + 1 + 67)
