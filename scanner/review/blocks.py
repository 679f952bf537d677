"""A picture in a terminal: half blocks in grays where it has colours, block characters of four shades elsewhere."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Gray = NDArray[np.uint8]
SHADES = "█▓▒░ "
"""From ink to paper."""
ASPECT = 2.0
"""A character is so much higher than wide."""
_FIRST_GRAY, _GRAYS = 232, 24
"""Of the 256 colours of terminals after xterm."""
_CORNERS = "┌┐└┘"


def block_picture(
    gray: Gray, columns: int, lines: int, *, box: tuple[float, float, float, float], colours: bool
) -> tuple[str, ...]:
    """Return the picture as lines of text, as large as it fits, with corners around a box.

    Parameters
    ----------
    gray : (height, width) array of uint8
    columns, lines
        The room that there is.
    box
        x, y, width, height of what is asked about, px of `gray`.
    colours
        Whether the terminal shows 256 colours.
    """
    gray = _stretched(gray)
    height, width = gray.shape
    scale = min(columns / width, lines * ASPECT / height)
    size = max(1, round(width * scale)), max(1, round(height * scale / ASPECT))
    corners = _corners(box, scale, size)
    if colours:
        return _half_blocks(gray, size, corners)
    cells = _resized(gray, size[0], size[1])
    shades = np.minimum(cells.astype(int) * len(SHADES) // 256, len(SHADES) - 1)
    return tuple(
        "".join(corners.get((x, y), SHADES[shade]) for x, shade in enumerate(line)).rstrip()
        for y, line in enumerate(shades)
    )


def _stretched(gray: Gray) -> Gray:
    """Return the picture from black ink to white paper: a photograph in dim light would drown in so few shades."""
    dark, light = np.percentile(gray, (1, 90))
    if light - dark < 1:
        return gray
    return np.asarray(np.clip((gray - dark) * (255 / (light - dark)), 0, 255), np.uint8)


def _half_blocks(gray: Gray, size: tuple[int, int], corners: dict[tuple[int, int], str]) -> tuple[str, ...]:
    """Each character shows two pixels, the upper in its own colour and the lower in that of its ground."""
    cells = _FIRST_GRAY + _resized(gray, size[0], 2 * size[1]).astype(int) * (_GRAYS - 1) // 255
    lines = []
    for y in range(size[1]):
        upper, lower = cells[2 * y], cells[2 * y + 1]
        blocks = (
            f"\x1b[1;38;5;160;48;5;{lower[x]}m{corners[x, y]}\x1b[22m"
            if (x, y) in corners
            else f"\x1b[38;5;{upper[x]};48;5;{lower[x]}m▀"
            for x in range(size[0])
        )
        lines.append("".join(blocks) + "\x1b[0m")
    return tuple(lines)


def _corners(box: tuple[float, float, float, float], scale: float, size: tuple[int, int]) -> dict[tuple[int, int], str]:
    """Return where the corners stand, one character outside the box."""
    left, top = int(box[0] * scale) - 1, int(box[1] * scale / ASPECT) - 1
    right, foot = int((box[0] + box[2]) * scale) + 1, int((box[1] + box[3]) * scale / ASPECT) + 1
    places = ((left, top), (right, top), (left, foot), (right, foot))
    return {
        (x, y): character
        for (x, y), character in zip(places, _CORNERS, strict=True)
        if 0 <= x < size[0] and 0 <= y < size[1]
    }


def _resized(gray: Gray, width: int, height: int) -> Gray:
    is_smaller = width < gray.shape[1]
    how = cv2.INTER_AREA if is_smaller else cv2.INTER_CUBIC
    return np.asarray(cv2.resize(gray, (width, height), interpolation=how), np.uint8)
