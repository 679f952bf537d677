"""Cut-outs of handwriting made fit to print: the paper white, the pen dark; none of an area that was left empty."""

from __future__ import annotations

import cv2
import numpy as np

PAPER_PERCENTILE = 70
CAPTION_SHARE = 0.14
"""Of the area's height, what its printed caption takes at the top."""
PEN_SHARE = 0.62
"""A pen's stroke is darker than this share of the paper, also where its edge is blurred; the ruled lines are not."""
LEAST_WRITTEN = 0.004
"""Of the area's pixels, the share that the shortest word covers; what the sheet has printed there stays far below."""


def printable_hand(png: bytes) -> bytes | None:
    """Return a writing area's picture with white paper, as a gray PNG; None where nothing is written on it."""
    gray = cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_GRAYSCALE)
    if gray is None:
        return None
    paper = max(float(np.percentile(gray, PAPER_PERCENTILE)), 1.0)
    smooth = cv2.blur(gray, (3, 3))
    written = smooth[round(gray.shape[0] * CAPTION_SHARE) :] < PEN_SHARE * paper
    if written.mean() < LEAST_WRITTEN:
        return None
    # A tenth below the paper's own gray is white too: its grain costs toner and tells nothing.
    bright = np.clip(gray.astype(np.float32) * (255.0 / (0.9 * paper)), 0, 255).astype(np.uint8)
    done, encoded = cv2.imencode(".png", bright, [cv2.IMWRITE_PNG_COMPRESSION, 6])
    assert done
    return bytes(encoded)
