"""Reading QR codes: zxing-cpp first, pyzbar as the independent second reader. Nothing else imports either.

pyzbar needs the zbar system library, which pip does not bring on Linux and macOS; without it zxing-cpp reads alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from types import ModuleType

import numpy as np
import zxingcpp
from numpy.typing import NDArray

Gray = NDArray[np.uint8]

ZXING = "zxing-cpp"
PYZBAR = "pyzbar"
READERS = (ZXING, PYZBAR)
"""The names of the readers, in the order in which they are asked."""

QUARTER_TURNS = ("UP", "RIGHT", "DOWN", "LEFT")
"""zbar's words for how a code is turned, each a quarter clockwise from the last; an old zbar says nothing."""

# Without the small kinds: a Micro QR code of five digits corrects no error, and zxing-cpp sees some in ruined codes.
_QR_ONLY = zxingcpp.barcode_formats_from_str("QRCodeModel2")


@dataclass(frozen=True, slots=True)
class FoundCode:
    """A code's text and where it lies: its four corners (x, y), px, y down.

    The corners run clockwise from the code's own top left, which tells how the code is turned. Both readers read a code
    seen in a mirror as well, and neither says so.
    """

    text: str
    corners_px: tuple[tuple[float, float], ...]
    reader: str

    @property
    def centre_px(self) -> tuple[float, float]:
        """The mean of the corners (x, y)."""
        xs, ys = zip(*self.corners_px, strict=True)
        return sum(xs) / len(xs), sum(ys) / len(ys)


@dataclass(frozen=True, slots=True)
class ReaderStatus:
    """A reader, its version where it is installed, and whether it is in use; `reason` says why not."""

    name: str
    version: str | None
    in_use: bool
    reason: str = ""


def read_codes(gray: Gray, *, all_readers: bool = False) -> tuple[str, ...]:
    """Return the texts of the QR codes in an image, each once, in the order found.

    Parameters
    ----------
    gray : (height, width) array of uint8
        Dark codes on a light ground with their quiet zone, in any rotation.
    all_readers : bool
        Ask the second reader even if the first found something.
    """
    return tuple(dict.fromkeys(code.text for code in find_codes(gray, all_readers=all_readers)))


def find_codes(gray: Gray, *, all_readers: bool = False) -> tuple[FoundCode, ...]:
    """Return the QR codes in an image and where they lie; with `all_readers` a code may be there from either.

    Two codes of one text are two codes. Nothing is raised: what cannot be an image has no codes.
    """
    found: tuple[FoundCode, ...] = ()
    for reader in READERS:
        if all_readers or not found:
            found += find_with(reader, gray)
    return found


def read_with(reader: str, gray: Gray) -> tuple[str, ...]:
    """Return the texts that one reader of READERS finds, each once; none where it is not in use."""
    return tuple(dict.fromkeys(code.text for code in find_with(reader, gray)))


def find_with(reader: str, gray: Gray) -> tuple[FoundCode, ...]:
    """Return the codes that one reader of READERS finds; none where it is not in use."""
    if gray.ndim != 2 or gray.dtype != np.uint8 or 0 in gray.shape:
        return ()
    find = {ZXING: _find_with_zxing, PYZBAR: _find_with_pyzbar}[reader]
    try:
        found = find(gray)
    except Exception:  # whatever a reader stumbles over in an image, it found no code there
        return ()
    return tuple(code for code in found if code.text)


def readers_in_use() -> tuple[ReaderStatus, ...]:
    """Return both readers and whether each can be used here."""
    return (
        ReaderStatus(ZXING, _version(ZXING), in_use=True),
        ReaderStatus(PYZBAR, _version(PYZBAR), in_use=_pyzbar()[0] is not None, reason=_pyzbar()[1]),
    )


def _find_with_zxing(gray: Gray) -> list[FoundCode]:
    # Rotation is about bar codes of one dimension: a QR code is found at any angle without it, and much faster.
    codes = zxingcpp.read_barcodes(gray, formats=_QR_ONLY, try_rotate=False, try_invert=False)
    return [
        FoundCode(
            code.text,
            tuple(
                (float(corner.x), float(corner.y))
                for corner in (
                    code.position.top_left,
                    code.position.top_right,
                    code.position.bottom_right,
                    code.position.bottom_left,
                )
            ),
            ZXING,
        )
        for code in codes
    ]


def _find_with_pyzbar(gray: Gray) -> list[FoundCode]:
    pyzbar, _ = _pyzbar()
    if pyzbar is None:
        return []
    # Only QR codes: zbar prints warnings when it tries the other kinds.
    return [
        FoundCode(text, _from_own_top_left(code.polygon, code.orientation), PYZBAR)
        for code in pyzbar.decode(gray, symbols=[pyzbar.ZBarSymbol.QRCODE])
        if (text := _text(code.data)) is not None
    ]


def _from_own_top_left(polygon: Sequence[tuple[int, int]], orientation: str | None) -> tuple[tuple[float, float], ...]:
    """Return zbar's corners, which are in no order, clockwise from the one that its word for the quarter turn means."""
    x, y = (sum(places) / len(polygon) for places in zip(*polygon, strict=True))
    clockwise = sorted(polygon, key=lambda corner: math.atan2(corner[1] - y, corner[0] - x))
    turns = QUARTER_TURNS.index(orientation) if orientation in QUARTER_TURNS else 0
    return tuple((float(x), float(y)) for x, y in clockwise[turns:] + clockwise[:turns])


def _text(octets: bytes) -> str | None:
    try:
        return octets.decode()
    except UnicodeDecodeError:
        return None


@cache
def _pyzbar() -> tuple[ModuleType | None, str]:
    """Return pyzbar, or None and the reason; it looks for the zbar library when it is imported."""
    try:
        from pyzbar import pyzbar
    except ModuleNotFoundError:
        return None, "the package pyzbar is not installed"
    except (ImportError, OSError):
        return None, "the zbar system library is missing"
    return pyzbar, ""


def _version(distribution: str) -> str | None:
    try:
        return version(distribution)
    except PackageNotFoundError:
        return None
