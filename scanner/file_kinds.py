"""What kind of file this is, told by its first bytes and never by its name, and whether its end is there."""

from __future__ import annotations

from enum import StrEnum

HEAD_BYTES = 1024
"""Enough of a file's beginning to tell its kind; a PDF's header may come as late as this (ISO 32000-1, annex H)."""


class FileKind(StrEnum):
    """The kinds that are read; each value is also Pillow's name of the format, but for HEIF and PDF."""

    JPEG = "JPEG"
    PNG = "PNG"
    WEBP = "WEBP"
    HEIF = "HEIF"
    TIFF = "TIFF"
    BMP = "BMP"
    GIF = "GIF"
    PDF = "PDF"


READABLE = "JPEG, PNG, WebP, HEIC, TIFF, BMP, GIF and PDF"

_SIGNATURES = (
    (b"\xff\xd8\xff", FileKind.JPEG),
    (b"\x89PNG\r\n\x1a\n", FileKind.PNG),
    (b"II*\0", FileKind.TIFF),
    (b"MM\0*", FileKind.TIFF),
    (b"II+\0", FileKind.TIFF),
    (b"MM\0+", FileKind.TIFF),
    (b"GIF87a", FileKind.GIF),
    (b"GIF89a", FileKind.GIF),
)

_HEIF_BRANDS = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"})

_OTHER_SIGNATURES = (
    (b"PK\x03\x04", "a ZIP archive or an office document"),
    (b"PK\x05\x06", "a ZIP archive"),
    (b"\xd0\xcf\x11\xe0", "an old office document"),
    (b"7z\xbc\xaf\x27\x1c", "a 7-Zip archive"),
    (b"Rar!", "a RAR archive"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"\0\0\0\x0cjP  ", "a JPEG 2000 image"),
    (b"\0\0\0\x0cJXL ", "a JPEG XL image"),
    (b"\xff\x0a", "a JPEG XL image"),
    (b"%!PS", "a PostScript file"),
    (b"{\\rtf", "a rich-text document"),
)


def kind_of(head: bytes) -> FileKind | None:
    """Return the kind of the file that begins with `head` (HEAD_BYTES of it), or None where it is none that is read."""
    for signature, kind in _SIGNATURES:
        if head.startswith(signature):
            return kind
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return FileKind.WEBP
    if head[:2] == b"BM" and int.from_bytes(head[14:18], "little") in (12, 40, 52, 56, 64, 108, 124):
        return FileKind.BMP  # two letters alone could begin a text: the length of the second header must fit too
    if head[4:8] == b"ftyp":
        length = int.from_bytes(head[:4], "big")
        brands = {head[8:12], *(head[at : at + 4] for at in range(16, min(length, len(head)), 4))}
        avif = head[8:12] in (b"avif", b"avis")
        return FileKind.HEIF if brands & _HEIF_BRANDS and not avif else None
    return FileKind.PDF if b"%PDF-" in head else None


def describe_other(head: bytes) -> str:
    """Say in words what a file that is not read seems to be."""
    for signature, words in _OTHER_SIGNATURES:
        if head.startswith(signature):
            return words
    if head[4:8] == b"ftyp":
        return "an AVIF image" if head[8:12] in (b"avif", b"avis") else "a video or a picture of another kind"
    text = head.removeprefix(b"\xef\xbb\xbf")
    if head[:2] in (b"\xff\xfe", b"\xfe\xff") or all(byte >= 32 or byte in b"\t\n\r\f" for byte in text):
        return "text"
    return "a file of an unknown kind"


def is_whole(kind: FileKind, content: bytes) -> bool:
    """Tell whether the file's end is there, as far as its structure shows without decoding.

    Kinds whose structure does not show it count as whole.
    """
    match kind:
        case FileKind.JPEG:
            return jpeg_is_whole(content)
        case FileKind.PNG:
            return b"IEND" in dict(png_chunks(content))
        case FileKind.WEBP:
            return len(content) >= 8 + int.from_bytes(content[4:8], "little")
        case FileKind.HEIF:
            return _boxes_are_whole(content)
        case _:
            return True


def jpeg_is_whole(content: bytes) -> bool:
    """Tell whether a JPEG has its end-of-image marker after its picture data (ITU-T T.81, annex B).

    The marker of a thumbnail inside a header segment does not count.
    """
    at = 2
    while at + 4 <= len(content) and content[at] == 0xFF:
        marker = content[at + 1]
        if marker == 0xFF:
            at += 1
        elif marker == 0xDA:
            return content.rfind(b"\xff\xd9", at) >= 0
        else:
            at += 2 + int.from_bytes(content[at + 2 : at + 4], "big")
    return False


def png_chunks(content: bytes) -> list[tuple[bytes, bytes]]:
    """Return a PNG's chunks as (type, data), up to IEND or to where the file is cut short (PNG, third edition, 5.3).

    Picture data are left out.
    """
    chunks = []
    at = 8
    while at + 12 <= len(content):
        length = int.from_bytes(content[at : at + 4], "big")
        kind = content[at + 4 : at + 8]
        if at + 12 + length > len(content):
            break
        chunks.append((kind, b"" if kind == b"IDAT" else content[at + 8 : at + 8 + length]))
        if kind == b"IEND":
            break
        at += 12 + length
    return chunks


def _boxes_are_whole(content: bytes) -> bool:
    # Top-level boxes of ISO/IEC 14496-12: only the two that hold the picture are looked at, for phones append others.
    at = 0
    while at + 16 <= len(content):
        length = int.from_bytes(content[at : at + 4], "big")
        kind = content[at + 4 : at + 8]
        if length == 1:
            length = int.from_bytes(content[at + 8 : at + 16], "big")
        if length == 0:
            return True
        if at + length > len(content):
            return kind not in (b"mdat", b"meta")
        at += max(length, 8)
    return True
