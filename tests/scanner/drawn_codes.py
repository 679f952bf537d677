"""Codes drawn into images, for the tests of the readers."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from kit import codes
from kit.codes import Code, CodeKind

SECRET = b"sealed beside the tide tables"
TEXT = codes.encode(Code(CodeKind.SHEET, "K7Q4M2", 1, 1), SECRET)


def modules_of(text: str) -> NDArray[np.bool_]:
    """Return the code's modules, True where dark."""
    return np.array(codes.matrix(text))


def drawn(modules: NDArray[np.bool_], module_px: int = 6, quiet_modules: int = 4) -> NDArray[np.uint8]:
    """Return an image of a code with its quiet zone."""
    paper = np.where(np.pad(modules, quiet_modules), 0, 255).astype(np.uint8)
    return paper.repeat(module_px, axis=0).repeat(module_px, axis=1)
