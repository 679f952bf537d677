"""Flatbed and sheet-fed scanners: nearly flat, nearly straight, with failings of their own."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from scanner.rehearsal.arrays import Gray, xy
from scanner.rehearsal.optics import blurred, grainy, lit, sharpened, soft, through_jpeg, toned
from scanner.rehearsal.paper import specked
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.warp import Matrix, inverse, laid_flat, shrunk_page, through

MM_PER_INCH = 25.4


@dataclass(frozen=True, slots=True)
class ScanSeverity:
    """How a scan departs from the page; the plain values are a perfect scanner's.

    `rotation_deg` turns the sheet clockwise; `offset_…_mm` shifts it on the glass; `stretch_…` are scales across and
    along the feed. `white` and `black` are the levels of bare paper and of print. `streaks` are lines along the feed
    from dust on the sensor, `surround` is the level of what lies beyond the sheet. `bits` is "gray", or how a one-bit
    image is made: "threshold" (one level for all), "adaptive" (against the neighbourhood) or "dither". `threshold` is
    the level below which a pixel turns black, as a share of paper white. A `jpeg_quality` of 100 leaves the image
    uncompressed.
    """

    rotation_deg: float = 0.0
    offset_x_mm: float = 0.0
    offset_y_mm: float = 0.0
    stretch_x: float = 1.0
    stretch_y: float = 1.0
    upside_down: bool = False
    blur_px: float = 0.0
    sharpening: float = 0.0
    white: float = 255.0
    black: float = 0.0
    gamma: float = 1.0
    noise: float = 0.0
    dust: int = 0
    streaks: int = 0
    streak_darkness: float = 0.0
    uneven: float = 0.0
    surround: float = 255.0
    bits: str = "gray"
    threshold: float = 0.75
    jpeg_quality: int = 100


PLAIN = ScanSeverity()
DARK_ANYWHERE = 0.45
"""Share of white below which a threshold that follows the surroundings gives black all the same."""


def flatbed(
    page: Gray, px_per_mm: float, dpi: float, rng: np.random.Generator, severity: ScanSeverity = PLAIN
) -> Picture:
    """Return the page as a flatbed scans it: gray, the lid behind it, a shadow along the sheet's edge.

    The image is as large as the sheet; what the sheet's turn and shift put outside it is cut off.
    """
    return _scanned(page, px_per_mm, (dpi, dpi), rng, severity)


def feeder(
    page: Gray, px_per_mm: float, dpi: float, rng: np.random.Generator, severity: ScanSeverity = PLAIN
) -> Picture:
    """Return the page as a sheet feeder scans it: skewed and stretched in its feed, streaked; gray or one-bit."""
    return _scanned(page, px_per_mm, (dpi, dpi), rng, severity)


def fax(page: Gray, px_per_mm: float, rng: np.random.Generator, severity: ScanSeverity = PLAIN) -> Picture:
    """Return the page as a fax sends it in fine mode: one bit, 8.04 pixels a mm across and 7.7 lines a mm down.

    References
    ----------
    .. [1] ITU-T Recommendation T.4: 1728 pixels along 215 mm, 7.7 lines a mm (values from memory).
    """
    one_bit = severity if severity.bits != "gray" else replace(severity, bits="threshold")
    return _scanned(page, px_per_mm, (1728 / 215 * MM_PER_INCH, 7.7 * MM_PER_INCH), rng, one_bit)


def _scanned(
    page: Gray, px_per_mm: float, dpi: tuple[float, float], rng: np.random.Generator, severity: ScanSeverity
) -> Picture:
    scale = dpi[0] / MM_PER_INCH, dpi[1] / MM_PER_INCH
    mm_to_image = _lie(page, px_per_mm, scale, severity)
    reduced, mm_to_page = shrunk_page(page, px_per_mm, max(scale))
    rows, columns = (round(side / px_per_mm * scale[1 - axis]) for axis, side in enumerate(page.shape))
    glass = np.full((rows, columns), severity.surround, dtype=np.uint8)
    image = laid_flat(_edged(reduced), mm_to_image @ inverse(mm_to_page), glass)
    image = blurred(image, severity.blur_px)
    image = specked(image, scale[0], severity.dust, rng, darkness=0.7)
    image = _streaked(image, rng, severity)
    image = toned(image, severity.black, severity.white, severity.gamma)
    image = grainy(image, severity.noise, rng)
    image = sharpened(image, severity.sharpening, 1.0)
    faintest = faintest_area = 0.0
    if severity.bits != "gray":
        image = _one_bit(image, rng, severity)
        # A thin stroke loses up to half of its contrast to the blur before the threshold.
        faintest = min(1.0, 2.0 * (1.0 - severity.threshold))
    if severity.bits == "adaptive":
        faintest_area = 1.15 * (1.0 - DARK_ANYWHERE)
    image = through_jpeg(image, severity.jpeg_quality)
    return Picture(image, lambda places: through(mm_to_image, places), (), faintest, faintest_area)


def _lie(page: Gray, px_per_mm: float, scale: tuple[float, float], severity: ScanSeverity) -> Matrix:
    """How the sheet lies on the glass: the matrix from mm on the page to pixels of the scan."""
    centre = np.array([page.shape[1], page.shape[0]]) / px_per_mm / 2
    angle = np.deg2rad(severity.rotation_deg + (180.0 if severity.upside_down else 0.0))
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    linear = np.diag(scale) @ np.diag([severity.stretch_x, severity.stretch_y]) @ turn
    spot = np.array(scale) * (centre + xy(severity.offset_x_mm, severity.offset_y_mm)) - 0.5
    return np.vstack([np.hstack([linear, (spot - linear @ centre)[:, None]]), [0.0, 0.0, 1.0]])


def _edged(page: Gray) -> Gray:
    """The page with the thin grey line that its edge throws on the lid."""
    page = page.copy()
    for edge in (page[:2], page[-2:], page[:, :2], page[:, -2:]):
        edge[...] = edge * 0.82
    return page


def _streaked(image: Gray, rng: np.random.Generator, severity: ScanSeverity) -> Gray:
    """Lines down the whole scan from dirt on the sensor; the lamp's unevenness across it."""
    width = image.shape[1]
    gain = np.ones(width, dtype=np.float32)
    if severity.uneven > 0.0:
        slow = soft(rng.standard_normal((1, 12)).astype(np.float32), (1.5, 0.1))[0]
        gain *= 1.0 - severity.uneven * np.interp(np.linspace(0, 11, width), np.arange(12), np.abs(slow).clip(0, 1))
    for _ in range(severity.streaks):
        column, wide = int(rng.integers(width)), int(rng.integers(1, 4))
        gain[column : column + wide] *= 1.0 - severity.streak_darkness * float(rng.uniform(0.4, 1.0))
    return image if (gain == 1.0).all() else lit(image, np.stack([gain, gain]).astype(np.float32))


def _one_bit(image: Gray, rng: np.random.Generator, severity: ScanSeverity) -> Gray:
    level = severity.black + severity.threshold * (severity.white - severity.black)
    if severity.bits == "dither":
        return _dithered(image, severity)
    if severity.bits == "adaptive":
        around = blurred(image, 12.0).astype(np.float32)
        limit = np.maximum(around * severity.threshold, DARK_ANYWHERE * severity.white)
        return np.where(image < limit, 0, 255).astype(np.uint8)
    return np.where(image < level, 0, 255).astype(np.uint8)


def _dithered(image: Gray, severity: ScanSeverity) -> Gray:
    """Ordered dithering by the 8 × 8 Bayer matrix; near-white is kept clean, as scanners do.

    References
    ----------
    .. [1] B. E. Bayer, "An optimum method for two-level rendition of continuous-tone pictures", IEEE ICC (1973).
    """
    matrix = np.zeros((1, 1))
    for _ in range(3):
        matrix = np.block([[4 * matrix, 4 * matrix + 2], [4 * matrix + 3, 4 * matrix + 1]])
    rows, columns = image.shape
    tile = np.tile((matrix + 0.5) / 64.0, (rows // 8 + 1, columns // 8 + 1))[:rows, :columns]
    share = (image - severity.black) / (0.92 * severity.white - severity.black)
    return np.where(share.clip(0.0, 1.0) > tile, 255, 0).astype(np.uint8)
