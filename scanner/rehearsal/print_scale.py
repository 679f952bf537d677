"""At what scale a sheet was printed, as far as a picture of it can tell: printers shrink pages to “fit”."""

from __future__ import annotations

import re
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from kit.errors import SourceError
from kit.paper import POINTS_PER_MM
from scanner.geometry import local_scale
from scanner.locate import Located
from scanner.page_image import PageImage, library_errors

Gray = NDArray[np.uint8]
Floats = NDArray[np.float64]

MM_PER_INCH = 25.4
PLAUSIBLE = (0.88, 1.08)
"""Beyond this the picture tells something else: telephones write down any number of dots an inch."""
MOST_PERSPECTIVE = 1.03
"""Greatest scale on the page over the least, in a scan."""
START_MM = 6.8
"""From the designed edge inwards: just outside of everything printed."""
STEP_MM = 0.2
BESIDE_MM = 1.2
"""Paper and what lies beside it are compared over this much on either side of the edge."""
LEAST_STEP = 30.0
"""Gray levels between the paper and what lies beside it."""
LEAST_SEEN = 0.6
"""Share of the lines across the page on which both of its edges have to be seen."""
MOST_SPREAD_MM = 1.0


@dataclass(frozen=True, slots=True)
class PrintScale:
    """The size of the print over its designed size; `told_by` is "resolution" (to 0.5 %) or "paper" (to 2 %)."""

    scale: float
    told_by: str

    @property
    def is_off(self) -> bool:
        """Whether the printer changed the size, beyond what this way of measuring errs by."""
        return abs(self.scale - 1.0) > (0.01 if self.told_by == "resolution" else 0.02)


def print_scale(image: PageImage, gray: Gray, located: Located) -> PrintScale | None:
    """Return the scale that the sheet was printed at, or None where the picture does not tell.

    A scan tells it by its resolution, where the file states one; a photograph by the edges of the paper, where they
    show against the table.

    Parameters
    ----------
    gray : (H, W) array of uint8
        The image at any reduction; `located` is the sheet in it.
    """
    stated = _stated_px_per_mm(image, gray)
    found = None if stated is None else _by_resolution(located, stated)
    return found or by_paper(gray, located)


def by_paper(gray: Gray, located: Located) -> PrintScale | None:
    """Return the scale by which the paper, as far apart as its edges are seen, is as large as its kind is."""
    page = np.array([located.frame.width_mm, located.frame.height_mm])
    scales = [
        size / span for axis, size in enumerate(page) if (span := _span_mm(gray, located, page, axis)) is not None
    ]
    if not scales or max(scales) - min(scales) > 0.03:
        return None
    scale = float(np.mean(scales))
    return PrintScale(scale, "paper") if PLAUSIBLE[0] < scale < PLAUSIBLE[1] else None


def _by_resolution(located: Located, px_per_mm: float) -> PrintScale | None:
    width, height = located.frame.width_mm, located.frame.height_mm
    places = np.array([(x * width, y * height) for x in (0.1, 0.5, 0.9) for y in (0.1, 0.5, 0.9)])
    scales = local_scale(located.mm_to_px, places)
    if scales.max() > MOST_PERSPECTIVE * scales.min():
        return None
    scale = float(np.median(scales)) / px_per_mm
    return PrintScale(scale, "resolution") if PLAUSIBLE[0] < scale < PLAUSIBLE[1] else None


def _stated_px_per_mm(image: PageImage, gray: Gray) -> float | None:
    """The resolution that the file states, in pixels of `gray` a millimetre of paper."""
    reduction = max(image.full_size_px) / max(gray.shape)
    try:
        with library_errors("it states no resolution"):
            content = Path(image.source).read_bytes()
            if b"%PDF-" in content[:1024]:
                long_mm = _pdf_long_side_mm(content)
                return None if long_mm is None else max(image.full_size_px) / long_mm / reduction
            with Image.open(BytesIO(content)) as picture:
                x_dpi, y_dpi = (float(dpi) for dpi in picture.info["dpi"])
    except SourceError:
        return None
    is_square = min(x_dpi, y_dpi) > 0 and 0.99 < x_dpi / y_dpi < 1.01
    return x_dpi / MM_PER_INCH / reduction if is_square else None


def _pdf_long_side_mm(content: bytes) -> float | None:
    """The pages' long side, where all are of one size and say so openly (ISO 32000-1, 7.7.3.3)."""
    number = rb"\s*(-?[\d.]+)"
    boxes = set(re.findall(rb"/MediaBox\s*\[" + number * 4, content))
    sides = {round(max(float(x1) - float(x0), float(y1) - float(y0)), 1) for x0, y0, x1, y1 in boxes}
    return sides.pop() / POINTS_PER_MM if len(sides) == 1 else None


def _span_mm(gray: Gray, located: Located, page: Floats, axis: int) -> float | None:
    """How far apart the paper's two edges across this axis lie, in the layout's millimetres; None where not seen."""
    reach = 0.08 * page[axis]
    first, last = (
        _edges_mm(gray, located, page, axis, np.arange(edge, edge + away * reach, away * STEP_MM))
        for edge, away in ((START_MM, -1.0), (page[axis] - START_MM, 1.0))
    )
    spans = last - first
    seen = spans[~np.isnan(spans)]
    if len(seen) < LEAST_SEEN * len(spans):
        return None
    spread = float(np.median(np.abs(seen - np.median(seen))))
    return float(np.median(seen)) if spread < MOST_SPREAD_MM else None


def _edges_mm(gray: Gray, located: Located, page: Floats, axis: int, outward_mm: Floats) -> Floats:
    """Where, on each of many lines outward from the print, the paper ends; NaN where that is not seen."""
    across = np.linspace(0.15, 0.85, 41) * page[1 - axis]
    places = np.empty((len(across), len(outward_mm), 2))
    places[..., axis], places[..., 1 - axis] = outward_mm, across[:, None]
    px = located.to_px(places.reshape(-1, 2))
    height, width = gray.shape
    within = np.asarray((px >= 0) & (px <= (width - 1, height - 1)), np.bool_)
    inside = (within[:, 0] & within[:, 1]).reshape(places.shape[:2])
    column, row = np.clip(np.rint(px), 0, (width - 1, height - 1)).astype(int).T
    levels = gray[row, column].astype(np.float64).reshape(places.shape[:2])
    return np.array([_end_of_paper(line, seen, outward_mm) for line, seen in zip(levels, inside, strict=True)])


def _end_of_paper(levels: Floats, seen: NDArray[np.bool_], outward_mm: Floats) -> float:
    """The steepest fall from bright to dark on one line outward."""
    beside = round(BESIDE_MM / STEP_MM)
    length = len(levels) if seen.all() else int(np.argmin(seen))
    if length < 2 * beside + 2:
        return float("nan")
    sums = np.concatenate([[0.0], np.cumsum(levels[:length])])
    means = (sums[beside:] - sums[:-beside]) / beside
    falls = means[:-beside] - means[beside:]
    best = int(np.argmax(falls))
    return float(outward_mm[best + beside]) if falls[best] > LEAST_STEP else float("nan")
