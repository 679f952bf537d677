"""Mutations of files of pictures: where their headers are, and so that their checksums agree."""

from __future__ import annotations

import random
import re
import struct
import zlib
from collections.abc import Iterator

from tests.fuzz.mutate import NUMBERS, of_bytes

TIFF_TAGS = (
    254,
    256,
    257,
    258,
    259,
    262,
    273,
    274,
    277,
    278,
    279,
    282,
    284,
    292,
    296,
    317,
    320,
    322,
    324,
    330,
    347,
    34665,
)
"""From the sizes to the tables of a JPEG within (TIFF 6.0; 34665 is Exif's)."""


def of_picture(content: bytes, rng: random.Random) -> bytes:
    """Change bytes, more often near the beginning, where headers are."""
    head = min(len(content), rng.choice((64, 256, 2048, len(content))))
    return of_bytes(content[:head], rng) + content[head:]


def of_png(content: bytes, rng: random.Random) -> bytes:
    """Change a PNG's bytes and then, mostly, make its chunks' checksums right again."""
    octets = bytearray(of_picture(content, rng))
    at = 8
    while rng.random() < 0.995 and at + 12 <= len(octets):
        length = int.from_bytes(octets[at : at + 4], "big")
        if at + 12 + length > len(octets):
            break
        octets[at + 8 + length : at + 12 + length] = zlib.crc32(octets[at + 4 : at + 8 + length]).to_bytes(4, "big")
        at += 12 + length
    return bytes(octets)


def of_tiff(content: bytes, rng: random.Random) -> bytes:
    """Change entries of a TIFF's image directories, or where the next directory is; now and then its bytes."""
    if rng.random() < 0.2:
        return of_picture(content, rng)
    octets = bytearray(content)
    order = "<" if content[:2] == b"II" else ">"
    places = list(_entries_of_tiff(content, order))
    for _ in range(rng.randint(1, 3)):
        at, layout = rng.choice(places)
        match layout:
            case "I":
                fields: list[int] = [rng.choice((0, 1, 8, at, len(content), 2**32 - 1, rng.randrange(len(content))))]
            case _:
                fields = list(struct.unpack_from(order + layout, octets, at))
                place = rng.randrange(4)
                fresh = rng.choice((*TIFF_TAGS, *NUMBERS, len(content), fields[place] + 1))
                fields[place] = fresh & (0xFFFF if place < 2 else 0xFFFFFFFF)
        struct.pack_into(order + layout, octets, at, *fields)
    return bytes(octets)


def _entries_of_tiff(content: bytes, order: str) -> Iterator[tuple[int, str]]:
    """Yield where the entries of all directories are, and where each says where the next is (TIFF 6.0, section 2)."""
    at, seen = 4, set[int]()
    while at not in seen and at + 4 <= len(content):
        seen.add(at)
        yield at, "I"
        (place,) = struct.unpack_from(order + "I", content, at)
        if not 8 <= place <= len(content) - 6:
            return
        (count,) = struct.unpack_from(order + "H", content, place)
        at = place + 2 + 12 * count
        yield from ((entry, "HHII") for entry in range(place + 2, min(at, len(content) - 12), 12))


def of_pdf(content: bytes, rng: random.Random) -> bytes:
    """Change a PDF's numbers and names, now and then its bytes."""
    if rng.random() < 0.4:
        return of_picture(content, rng)
    found = list(re.finditer(rb"(?<![\w.])-?\d+(\.\d+)?|/[A-Za-z]+", content))
    octets = bytearray(content)
    for one in sorted(rng.sample(found, min(len(found), rng.randint(1, 3))), key=lambda one: -one.start()):
        if one[0].startswith(b"/"):
            fresh = rng.choice(found)[0]
        else:
            fresh = str(rng.choice((*NUMBERS, 0.0001, 3.4e38))).encode()
        octets[one.start() : one.end()] = fresh
    return bytes(octets)
