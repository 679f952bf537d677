"""Why no sheet was found in a picture, in a sentence that helps to take a better one.

Asked only after a refusal. What a picture shows for certain comes first; where nothing tells, the sentence says so.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.fiducials import GLANCES, Fiducial, find_fiducials
from scanner.picture_faults import Light, blur_of, equal_squares, light_of, paper_share, print_share

Gray = NDArray[np.uint8]

UNIFORM, DARK, PALE = 25, 45, 0.16
"""Gray levels of contrast below which nothing is printed; level of the brightest part; contrast as a share of it."""
ALL_WHITE, NO_BLACK = 0.9, 110
"""The share of an overexposed picture that is white, and the level of its print; a white scan has black print."""
FAR_SHARE, SMALLEST_LONG_PX = 0.12, 1000
BLURRED, MOVED = 0.0012, 2.0
"""Blur as a share of the page's length, from which no code can be read; blur in one direction over that in another."""
SHINES_THROUGH = 0.4
"""Contrast of print seen from the paper's other side; of any printer's it is more."""
FORM_SQUARES = 20
NO_PRINT = 0.002

CORNERS = {0: "top left", 1: "top right", 2: "bottom right", 3: "bottom left"}

MIRRORED = (
    "the sheet is mirrored; switch off mirroring in the camera, the scanner or the printer, and photograph or print it "
    "again"
)
NEGATIVE = "the picture is a negative (light on dark); scan or photograph it again in normal colours"
MIRRORED_NEGATIVE = "the picture is a mirrored negative; scan it again as it lies, in normal colours"
BACK = "it is the back of a sheet, its print shining through mirrored; turn it over"
BLANK = "no print can be seen: the page is blank, or its back is up; turn it over"
WHITE = "the picture is white all over: the page is blank, or the picture overexposed; take it again with less light"
TOO_DARK = "the picture is too dark; photograph it again in more light"
TOO_PALE = (
    "the print is too pale against the paper; photograph it again with no light shining into the lens, or scan it "
    "darker"
)
SMALL = "what looks like a page is too small in the picture; come closer, until the sheet fills it"
FEW_PIXELS = "the picture has too few pixels; send the original file instead of a reduced copy"
OUT_OF_FOCUS = "the picture is out of focus; let the camera focus on the sheet, and take it again"
SHAKEN = "the camera moved while it took the picture; hold it still, or find more light, and take it again"
CORNERS_HIDDEN = (
    "none of its corner marks can be seen; photograph it again with the whole sheet in the picture and nothing "
    "over its corners"
)
STRANGER = "it is not a sheet of facedown, or none of its corner marks can be seen"


def why_not_found(gray: Gray, seen: Sequence[int]) -> tuple[str, bool]:
    """Return the reason, and whether it is final: whether more pixels, or a code, would tell nothing more.

    Parameters
    ----------
    gray : (H, W) array of uint8
    seen : sequence of int
        The numbers of the fiducials that were found; fewer than two.
    """
    light = light_of(gray)
    if light.contrast < UNIFORM:
        return _nothing_there(gray, light), True
    turned = _mirrored_or_negative(gray)
    if turned:
        return turned, True
    return _fault(gray, light) or _what_is_missing(gray, seen), False


def light_sentence(light: Light) -> str | None:
    """Return the sentence for a picture too dark, too pale or too bright to be read; None where it is not the light."""
    if light.lightest < DARK:
        return TOO_DARK
    if light.white > ALL_WHITE and light.darkest > NO_BLACK:
        return WHITE
    return TOO_PALE if light.contrast < PALE * light.lightest else None


def _nothing_there(gray: Gray, light: Light) -> str:
    if light.lightest < DARK:
        return TOO_DARK
    if light.white > ALL_WHITE:
        return WHITE
    # A page so far away that it is less than a two-hundredth of the picture.
    return SMALL if int(cv2.blur(gray, (9, 9)).max()) - light.lightest > 2 * UNIFORM else BLANK


def _mirrored_or_negative(gray: Gray) -> str | None:
    factor = max(1, round(max(gray.shape) / 2000))
    height, width = gray.shape[0] // factor, gray.shape[1] // factor
    whole = gray[: height * factor, : width * factor]
    small = np.asarray(cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA), np.uint8)
    flipped = np.ascontiguousarray(small[:, ::-1])
    fiducials = find_fiducials(flipped, GLANCES[:2])
    if len(fiducials) >= 2:
        return BACK if _contrast(flipped, fiducials) < SHINES_THROUGH else MIRRORED
    if len(find_fiducials(np.asarray(255 - small, np.uint8), GLANCES[:2])) >= 2:
        return NEGATIVE
    if len(find_fiducials(np.asarray(255 - flipped, np.uint8), GLANCES[:2])) >= 2:
        return MIRRORED_NEGATIVE
    return None


def _contrast(gray: Gray, fiducials: Sequence[Fiducial]) -> float:
    """Return how much darker than the paper fiducials are, as a share: the median of those given."""
    shares = []
    for fiducial in fiducials:
        left, top = np.maximum(fiducial.corners_px.min(axis=0), 0).astype(int)
        right, foot = fiducial.corners_px.max(axis=0).astype(int) + 1
        dark, paper = np.percentile(gray[top:foot, left:right], (10, 90))
        shares.append(1 - dark / max(paper, 1.0))
    return float(np.median(shares))


def _fault(gray: Gray, light: Light) -> str | None:
    if sentence := light_sentence(light):
        return sentence
    paper = paper_share(gray)
    if paper < FAR_SHARE:
        return SMALL
    return _blurred(gray, max(gray.shape) * float(np.sqrt(paper))) if light.contrast > 2 * UNIFORM else None


def _blurred(gray: Gray, page_long_px: float) -> str | None:
    blur = blur_of(gray)
    if blur is None or blur.most_px < max(1.5, BLURRED * page_long_px):
        return None
    return SHAKEN if blur.most_px > MOVED * blur.least_px else OUT_OF_FOCUS


def _what_is_missing(gray: Gray, seen: Sequence[int]) -> str:
    if len(seen) == 1:
        return (
            f"only one of its four corner marks can be seen, that at the {CORNERS[seen[0]]}; photograph it again with "
            "the whole sheet in the picture and nothing over its corners"
        )
    if len(equal_squares(gray)) >= FORM_SQUARES:
        return CORNERS_HIDDEN
    if max(gray.shape) < SMALLEST_LONG_PX:
        return FEW_PIXELS
    return BLANK if print_share(gray) < NO_PRINT else STRANGER
