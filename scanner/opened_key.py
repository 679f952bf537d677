"""Reads an opened key sheet: its own codes say whose it is, the code beside the key tells the key.

A key counts only if it is the one that was sealed: its seal code must be the one in the kit's record.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from kit.codes import sheet_id
from kit.key_code import key_in
from kit.keys import PLACES, grouped, is_sealed
from kit.sheet_layout import SheetLayout
from scanner.code_readers import find_codes
from scanner.kits import KitOnFile
from scanner.locate import Located, locate
from scanner.sheet_codes import code_crops

Gray = NDArray[np.uint8]

KEY_DIGIT = 5
SMALL_PX = 2500
"""Below this long side the whole picture is looked at in twice its size as well."""

NO_KEY_CODE = (
    "it is an opened key sheet of a kit that was printed without a code beside the key; compare its seal code by "
    "`facedown seal`, with the key and the salt typed in"
)
KEY_CODE_UNREADABLE = (
    "it is an opened key sheet, but the code beside the key cannot be read; unfold it, lay it flat, and photograph the "
    "whole sheet again from above, near enough to fill the picture"
)
NOT_SEALED = (
    "it is not the key that was sealed: key and salt on it do not give the seal code {seal} that the sheets of {name} "
    "(taster {taster}) were printed with; was it changed, or is it of a kit printed anew?"
)


@dataclass(frozen=True, slots=True)
class OpenedSheet:
    """What an opened key sheet tells, in two ways of which one is there: the key and its salt, or why not."""

    places: dict[str, int] | None = None
    salt: str | None = None
    reason: str | None = None


def read_opened(gray: Gray, kit: KitOnFile, taster: int) -> OpenedSheet:
    """Read the key sheet of a taster of a kit in an image in full size, in any orientation.

    Parameters
    ----------
    gray : (height, width) array of uint8
    """
    sheet = kit.sheets[sheet_id(kit.id, taster, KEY_DIGIT)]
    if sheet.key_code is None or taster not in kit.seals:
        return OpenedSheet(reason=NO_KEY_CODE)
    reason, seal = KEY_CODE_UNREADABLE, kit.seals[taster]
    for picture in _pictures(gray, sheet):
        for code in find_codes(picture, all_readers=True):
            told = key_in(code.text)
            if told is None:
                continue
            key, salt = told
            if is_sealed(kit.id, taster, kit.glasses, key, salt, seal):
                return OpenedSheet(dict(zip(PLACES, key, strict=False)), salt.hex())
            reason = NOT_SEALED.format(seal=grouped(seal), name=kit.tasters[taster], taster=taster)
    return OpenedSheet(reason=reason)


def _pictures(gray: Gray, sheet: SheetLayout) -> Iterator[Gray]:
    """Yield the pictures that may show the key's code: where it is printed first, then the whole."""
    located = locate(gray, [sheet])
    if isinstance(located, Located) and sheet.key_code is not None:
        for crop, _ in code_crops(gray, located, sheet.key_code):
            yield crop
    yield gray
    if max(gray.shape) < SMALL_PX:
        yield np.asarray(cv2.resize(gray, None, fx=2.0, fy=2.0, interpolation=cv2.INTER_CUBIC), np.uint8)
