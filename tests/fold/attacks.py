"""Attacks on a folded key sheet by someone who knows its design: which glyphs, and where they stand.

Each takes one picture of every outer face, the key upright, and the best of them counts. Whatever the pictures, an
attack on a key that they do not show is right by chance: 1/n for one digit, 1/n! for the whole order.
"""

from __future__ import annotations

import io
import os
import shutil
import subprocess
from collections.abc import Sequence
from functools import cache
from itertools import permutations

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import gaussian_filter

from kit.forms.frame import Area
from kit.paper import PAPERS
from kit.session import Paper
from scanner.code_readers import READERS, ZXING, read_with
from tests.fold.key_papers import PX_PER_MM, Order, code_area, digit_areas, glyphs
from tests.fold.packet import EDGE_MM, Levels
from tests.kit.paper_optics import SPREAD_MM

SHIFT_MM = 3.0
"""How far about its place a glyph is sought: a fold lies up to 2 mm off, and is askew."""
PLIES_OVER_KEY = 2
OCR_PROGRAM = "tesseract"
GAP_DEPTH = 0.05
"""Of white: darker by more than this, a place has print on the ply above; print two plies down makes 0.047."""
_SMOOTH_PX = 1.0
_OCR_SCALE = 2
"""150 dpi twice: OCR programs are made for 300."""

Scores = NDArray[np.float32]
"""(places, numbers, shifts down, shifts right): the normalised correlation with each glyph."""


def digits_by_template(pictures: Sequence[Levels], glasses: int, paper: Paper) -> Order:
    """Return the number that fits best at each place, wherever within 3 mm and from whichever face it does."""
    best = np.max([_scores(picture, glasses, paper).max(axis=(2, 3)) for picture in pictures], axis=0)
    return tuple(int(number) + 1 for number in best.argmax(axis=1))


def order_by_template(pictures: Sequence[Levels], glasses: int, paper: Paper) -> Order:
    """Return the order whose digits, all shifted alike, fit best from one of the faces."""
    return _best_order([_scores(picture, glasses, paper) for picture in pictures])


def order_between_scramble(pictures: Sequence[Levels], glasses: int, paper: Paper) -> Order:
    """Return the order that fits best where the outermost ply's print, which is seen, leaves a gap.

    More than a template match: it knows how the sheet is folded, and looks at no place that is dark.
    """
    return _best_order([_scores(picture, glasses, paper, _gaps(picture)) for picture in pictures])


def digits_by_ocr(pictures: Sequence[Levels], glasses: int, paper: Paper) -> tuple[int | None, ...]:
    """Return the digit that an OCR program finds at each place from the first face that shows one, else None."""
    areas = digit_areas(glasses, paper)
    pitch = areas[1].top - areas[0].top
    column = Area(areas[0].left - 4.0, areas[0].top - SHIFT_MM, areas[0].right + 4.0, areas[-1].bottom + SHIFT_MM)
    found: list[int | None] = [None] * glasses
    for picture in pictures:
        answers: dict[int, tuple[float, int]] = {}
        for digit, y_px, height_px in _ocr(_plain(_cut(picture, column, paper)), "12345"[:glasses]):
            y_mm = column.top + y_px / PX_PER_MM - (areas[0].top + areas[0].bottom) / 2
            place = round(y_mm / pitch)
            # The words beside the key are smaller than its numbers.
            answers[place] = max(answers.get(place, (0.0, 0)), (height_px, digit))
        for place in range(glasses):
            if place in answers and found[place] is None:
                found[place] = answers[place][1]
    return tuple(found)


def texts_of_codes(pictures: Sequence[Levels], glasses: int, paper: Paper, reader: str = ZXING) -> set[str]:
    """Return what a QR reader reads where the key's code stands, as photographed and with its contrast stretched."""
    assert reader in READERS
    found: set[str] = set()
    for picture in pictures:
        area = code_area(paper, glasses)
        cut = _cut(picture, Area(area.left - 5.0, area.top - 5.0, area.right + 5.0, area.bottom + 5.0), paper)
        for smoothed_px in (0.0, 1.0, 2.0):
            found |= set(read_with(reader, _plain(gaussian_filter(cut, smoothed_px))))
    return found


def has_ocr() -> bool:
    """Tell whether the OCR program is installed."""
    return shutil.which(OCR_PROGRAM) is not None


def _best_order(every_face: Sequence[Scores]) -> Order:
    orders = np.array(list(permutations(range(every_face[0].shape[1]))))
    places = np.arange(orders.shape[1])
    fits = np.max([scores[places, orders].sum(axis=1).max(axis=(1, 2)) for scores in every_face], axis=0)
    return tuple(int(number) + 1 for number in orders[fits.argmax()])


def _scores(picture: Levels, glasses: int, paper: Paper, weights: Levels | None = None) -> Scores:
    window = []
    for area, shapes in zip(digit_areas(glasses, paper), _templates(glasses, paper), strict=True):
        height_mm, width_mm = (side / PX_PER_MM for side in shapes[0].shape)
        left, top = area.left - 0.5, area.top - 0.5
        around = Area(left - SHIFT_MM, top - SHIFT_MM, left + width_mm + SHIFT_MM, top + height_mm + SHIFT_MM)
        cut = _cut(picture, around, paper).astype(np.float32)
        if weights is None:
            window.append([cv2.matchTemplate(cut, shape, cv2.TM_CCOEFF_NORMED) for shape in shapes])
        else:
            weight = _cut(weights, around, paper).astype(np.float32)
            window.append([_weighted_correlation(cut, weight, shape) for shape in shapes])
    return np.array(window)


def _weighted_correlation(
    cut: NDArray[np.float32], weight: NDArray[np.float32], shape: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Return the correlation coefficient of a shape with every place of a cut, whose pixels count by their weight."""
    ones = np.ones_like(shape)

    def summed(image: NDArray[np.float32], kernel: NDArray[np.float32]) -> NDArray[np.float32]:
        return np.asarray(cv2.matchTemplate(image, kernel, cv2.TM_CCORR), np.float32)

    total = np.maximum(summed(weight, ones), 1e-3)
    mean, mean_of_shape = summed(weight * cut, ones) / total, summed(weight, shape) / total
    covariance = summed(weight * cut, shape) / total - mean * mean_of_shape
    spread = summed(weight * cut * cut, ones) / total - mean**2
    spread_of_shape = summed(weight, shape**2) / total - mean_of_shape**2
    return np.asarray(covariance / np.sqrt(np.maximum(spread * spread_of_shape, 1e-9)), np.float32)


def _gaps(picture: Levels) -> Levels:
    """Return 1 where nothing is printed on the outermost ply, 0 where it is: paper over print is darker."""
    smooth = gaussian_filter(picture, _SMOOTH_PX)
    return np.asarray(smooth > np.percentile(smooth, 98) - GAP_DEPTH, np.float64)


@cache
def _templates(glasses: int, paper: Paper) -> tuple[tuple[NDArray[np.float32], ...], ...]:
    """Return the glyphs as they would look through two plies: darker, and blurred in each."""
    blur_px = SPREAD_MM * np.sqrt(PLIES_OVER_KEY) * PX_PER_MM
    return tuple(
        tuple((-gaussian_filter(glyph, blur_px)).astype(np.float32) for glyph in place)
        for place in glyphs(glasses, paper)
    )


def _cut(picture: Levels, area: Area, paper: Paper) -> Levels:
    """Return the part of a face's picture in which that area of the sheet's bottom third should lie."""
    fold_mm = 2 * PAPERS[paper].height_mm / 3
    left, top = (round(PX_PER_MM * mm) for mm in (area.left - EDGE_MM, area.top - fold_mm - EDGE_MM))
    height, width = (round(PX_PER_MM * mm) for mm in (area.height, area.width))
    return picture[max(top, 0) : top + height, max(left, 0) : left + width]


def _plain(picture: Levels) -> NDArray[np.uint8]:
    """Return a picture of 300 dpi, stretched from its darkest to its brightest hundredth."""
    dark, bright = np.percentile(picture, (1, 99))
    stretched = np.clip((picture - dark) / max(bright - dark, 1e-9), 0, 1)
    large = cv2.resize(stretched, None, fx=_OCR_SCALE, fy=_OCR_SCALE, interpolation=cv2.INTER_CUBIC)
    return np.asarray(np.clip(np.rint(255 * large), 0, 255), np.uint8)


def _ocr(picture: NDArray[np.uint8], characters: str) -> list[tuple[int, float, float]]:
    """Return the digits that the OCR program finds, how far down and how high each is, px of 150 dpi."""
    buffer = io.BytesIO()
    Image.fromarray(cv2.copyMakeBorder(picture, 20, 20, 20, 20, cv2.BORDER_REPLICATE)).save(buffer, "PNG")
    command = [OCR_PROGRAM, "-", "-", "--dpi", "300", "--psm", "6", "-c", f"tessedit_char_whitelist={characters}"]
    done = subprocess.run(
        [*command, "makebox"],
        input=buffer.getvalue(),
        capture_output=True,
        check=True,
        timeout=60,
        # Its threads hinder each other on so small a picture.
        env={**os.environ, "OMP_THREAD_LIMIT": "1"},
    )
    height = picture.shape[0] + 40
    found = []
    for line in done.stdout.decode().splitlines():
        # A box file counts from the bottom: character, left, bottom, right, top, page.
        character, _, bottom, _, top, _ = line.split()
        if character in characters:
            middle = (int(bottom) + int(top)) / 2
            found.append((int(character), (height - middle - 20) / _OCR_SCALE, (int(top) - int(bottom)) / _OCR_SCALE))
    return found
