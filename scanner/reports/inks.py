"""The grays that reports are printed in, and whether they can be told from what is around them.

Gray 0 is black, 1 white paper. Meaning is carried by shapes, numbers and words; a gray only makes it quicker to see.

References
----------
.. [1] W3C, Web Content Accessibility Guidelines (WCAG) 2.2, 2023: relative luminance and contrast ratio, section 6;
   success criteria 1.4.3 (text, 4.5:1) and 1.4.11 (graphics, 3:1).
"""

from __future__ import annotations

BLACK = 0.0
WHITE = 1.0
QUIET = 0.38
"""For text of the second rank."""
LINE = 0.55
"""For lines, axes and outlines of the second rank."""
TINT = 0.93
"""A ground under black or quiet text; carries no meaning by itself."""
SHADES = (1.0, 0.9, 0.78, 0.55, 0.38, 0.2, 0.0)
"""A heat map's steps, light to dark. Each cell has its number too, in `ink_on` its shade."""

TEXT_RATIO, GRAPHICS_RATIO = 4.5, 3.0


def contrast(gray: float, ground: float = WHITE) -> float:
    """Return the contrast ratio of two grays, 1 to 21 [1].

    >>> contrast(BLACK), contrast(WHITE)
    (21.0, 1.0)
    """
    light, dark = sorted((_luminance(gray), _luminance(ground)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def ink_on(ground: float) -> float:
    """Return black or white, whichever is read better on that ground."""
    return BLACK if contrast(BLACK, ground) >= contrast(WHITE, ground) else WHITE


def shade(share: float) -> float:
    """Return the step of SHADES for a share from 0 to 1; only 0 itself is white."""
    if share <= 0:
        return SHADES[0]
    return SHADES[min(len(SHADES) - 1, 1 + int(share * (len(SHADES) - 1)))]


def _luminance(gray: float) -> float:
    # All three channels are alike, so their weights add up to one.
    return gray / 12.92 if gray <= 0.04045 else ((gray + 0.055) / 1.055) ** 2.4
