"""Finding the codes of turned coasters in a photograph: at several scales, then where one seems to be missing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from kit.codes import MODULES, matrix
from scanner.code_readers import READERS, ZXING, FoundCode, find_with
from scanner.row_geometry import Floats, Plane, along_row, fit_plane
from scanner.ruined_codes import recognise, softened

Gray = NDArray[np.uint8]

LARGE_PX = 2000
"""From this long side on a picture is looked at in half its size as well, below it in twice its size."""
SEEK_PX_PER_MM = 6.0
BARE_MM = 14.0
"""How far around its middle a gap is looked at: a label in it covers that, those beside it do not reach so far."""
PAPERY, BARE_SHARE, ROUGH = 0.65, 0.15, 0.25
"""Lightness as a share of the labels' paper, the share of a gap that may have it, and how rough a table top may be."""
RECOGNISED = "recognised"
"""In the place of a reader's name."""
LIKE = 0.2
"""By how much more of a code's modules must agree with it one way than mirrored, to tell that it is not or is."""


def find_labels(gray: Gray) -> tuple[FoundCode, ...]:
    """Return the codes in a photograph, each place once, in no order."""
    return _each_once(
        _scaled_back(code, scale) for picture, scale in _scales(gray) for code in find_with(ZXING, picture)
    )


def seek_labels(
    gray: Gray, found: Sequence[FoundCode], side_mm: float, texts: Sequence[str], wanted: int
) -> tuple[FoundCode, ...]:
    """Look harder where codes may lie that were not found: all over, then beside and between those that were.

    Parameters
    ----------
    found : sequence of FoundCode
        What `find_labels` found of this row.
    side_mm : float
        The printed side of a code.
    texts : sequence of str
        All that a code of this row can say.
    wanted : int
        How many codes there should be.

    Returns
    -------
    tuple of FoundCode
        Those found before and since.
    """
    codes = tuple(found)
    for picture, scale in _variants(gray):
        if len(codes) >= wanted:
            return codes
        codes = _each_once([*codes, *(_scaled_back(code, scale) for code in find_with(ZXING, picture))])
    if codes and len(codes) < wanted:
        plane = fit_plane([np.array(code.corners_px) for code in codes], side_mm)
        for place_mm, reach_mm in _gaps(codes, plane, wanted):
            if len(codes) >= wanted:
                return codes
            crop = _Crop(gray, plane, place_mm, reach_mm)
            codes = _each_once([*codes, *crop.read()])
            if len(codes) < wanted:
                codes = _each_once([*codes, *crop.recognised(texts, side_mm)])
    return codes


def is_mirrored(gray: Gray, code: FoundCode) -> bool | None:
    """Tell whether a code is seen in a mirror; None where its modules do not tell.

    Both readers read a mirrored code as gladly as another, and a mirrored row has another order.
    """
    seen = _modules(gray, np.array(code.corners_px))
    printed = np.array(matrix(code.text), np.bool_)
    upright, mirrored = (seen == printed).mean(), (seen == printed.T).mean()
    if abs(upright - mirrored) < LIKE:
        return None
    return bool(mirrored > upright)


def is_bare(gray: Gray, plane: Plane, place_mm: Floats, beside_mm: Sequence[Floats], side_mm: float) -> bool:
    """Tell whether the table shows at a place: nothing as light as the labels beside it, and no print."""
    paper = min(float(np.percentile(_Crop(gray, plane, one, side_mm / 2).image, 90)) for one in beside_mm)
    there = _Crop(gray, plane, place_mm, BARE_MM).image
    return bool((there > PAPERY * paper).mean() < BARE_SHARE and there.std() < ROUGH * there.mean())


def _scales(gray: Gray) -> Iterator[tuple[Gray, float]]:
    yield gray, 1.0
    large = max(gray.shape) >= LARGE_PX
    yield (_resized(gray, 0.5), 0.5) if large else (_resized(gray, 2.0), 2.0)


def _variants(gray: Gray) -> Iterator[tuple[Gray, float]]:
    """Yield the picture as other codes are read in it: its light evened out, its edges stressed, its grain blurred."""
    for picture, scale in _scales(gray):
        yield np.asarray(cv2.createCLAHE(3.0, (12, 12)).apply(picture), np.uint8), scale
        yield _sharper(picture, 2.0), scale
        yield np.asarray(cv2.GaussianBlur(picture, (0, 0), 1.2), np.uint8), scale


def _gaps(codes: Sequence[FoundCode], plane: Plane, wanted: int) -> list[tuple[Floats, float]]:
    """Return where on the table a missing code may lie, and how far around, mm: between others first."""
    centres = plane.to_mm(np.array([code.centre_px for code in codes]))
    if len(codes) < 2:
        return [(centres[0], 200.0)]
    row = along_row(centres, 0)
    places = centres[list(row.order)]
    step_mm = float(np.median(row.steps_mm)) if len(codes) > 2 else float(row.steps_mm[0]) / max(1, wanted - 1)
    step_mm = float(np.clip(min(step_mm, row.steps_mm.min()), 62.0, 180.0))
    missing = wanted - len(codes)
    between, reach_mm = [], 0.75 * step_mm + 30.0
    for start, end, length in zip(places, places[1:], row.steps_mm, strict=False):
        parts = round(float(length) / step_mm)
        between += [start + (end - start) * part / parts for part in range(1, parts)]
    ends = [
        end + sign * row.along * step_mm * part
        for part in range(1, missing + 1)
        for end, sign in ((places[0], -1.0), (places[-1], 1.0))
    ]
    return [(place, reach_mm) for place in (*between[:12], *ends)]


class _Crop:
    """The surroundings of a place on the table, seen from straight above and large."""

    def __init__(self, gray: Gray, plane: Plane, place_mm: Floats, reach_mm: float) -> None:
        self.px_per_mm = min(SEEK_PX_PER_MM, 900.0 / reach_mm)
        side = round(2 * reach_mm * self.px_per_mm)
        self._plane, self._first_mm = plane, place_mm - (side - 1) / 2 / self.px_per_mm
        to_mm = np.array(
            [[1 / self.px_per_mm, 0, self._first_mm[0]], [0, 1 / self.px_per_mm, self._first_mm[1]], [0, 0, 1]]
        )
        back = np.linalg.inv(plane.px_to_mm) @ to_mm
        how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        self.image = np.asarray(cv2.warpPerspective(gray, back, (side, side), flags=how), np.uint8)

    def read(self) -> Iterator[FoundCode]:
        """Yield the codes that a reader reads in it, however it is brightened or softened."""
        for picture in _crop_variants(self.image, self.px_per_mm):
            for reader in READERS:
                for code in find_with(reader, picture):
                    yield self._placed(code.text, np.array(code.corners_px), code.reader)

    def recognised(self, texts: Sequence[str], side_mm: float) -> Iterator[FoundCode]:
        """Yield the codes that can be nothing but one of these texts."""
        for text, corners in recognise(self.image, texts, side_mm / MODULES * self.px_per_mm):
            yield self._placed(text, corners, RECOGNISED)

    def _placed(self, text: str, corners: Floats, reader: str) -> FoundCode:
        corners_px = self._plane.to_px(self._first_mm + corners / self.px_per_mm)
        return FoundCode(text, tuple((float(x), float(y)) for x, y in corners_px), reader)


def _crop_variants(crop: Gray, px_per_mm: float) -> Iterator[Gray]:
    yield crop
    yield _sharper(crop, 0.4 * px_per_mm)
    yield np.asarray(cv2.createCLAHE(4.0, (6, 6)).apply(crop), np.uint8)
    yield np.asarray(cv2.GaussianBlur(crop, (0, 0), 0.25 * px_per_mm), np.uint8)
    light = softened(crop.astype(np.float32), 9.0 * px_per_mm)
    yield np.asarray(np.clip(crop / np.maximum(light, 1.0) * 140.0, 0, 255), np.uint8)


def _modules(gray: Gray, corners_px: Floats) -> NDArray[np.bool_]:
    """Return a code's modules as seen, True where dark, by the levels at their middles."""
    square = np.array([(0, 0), (MODULES, 0), (MODULES, MODULES), (0, MODULES)], np.float32)
    back = cv2.getPerspectiveTransform(square * 4 - 0.5, corners_px.astype(np.float32))
    size = (MODULES * 4, MODULES * 4)
    straight = cv2.warpPerspective(gray, back, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
    levels = straight.reshape(MODULES, 4, MODULES, 4)[:, 1:3, :, 1:3].mean(axis=(1, 3))
    around = cv2.blur(levels, (9, 9), borderType=cv2.BORDER_REFLECT)
    return np.asarray(levels < around, np.bool_)


def _each_once(codes: Iterable[FoundCode]) -> tuple[FoundCode, ...]:
    """Return the codes without those of a text already found at the same place."""
    kept: list[FoundCode] = []
    for code in codes:
        if len(code.corners_px) == 4 and not any(_is_same(code, other) for other in kept):
            kept.append(code)
    return tuple(kept)


def _is_same(code: FoundCode, other: FoundCode) -> bool:
    apart = np.linalg.norm(np.subtract(code.centre_px, other.centre_px))
    side = np.linalg.norm(np.subtract(other.corners_px[0], other.corners_px[2])) / np.sqrt(2)
    return code.text == other.text and bool(apart < 0.5 * side)


def _scaled_back(code: FoundCode, scale: float) -> FoundCode:
    if scale == 1.0:
        return code
    corners = tuple(((x + 0.5) / scale - 0.5, (y + 0.5) / scale - 0.5) for x, y in code.corners_px)
    return FoundCode(code.text, corners, code.reader)


def _resized(gray: Gray, scale: float) -> Gray:
    how = cv2.INTER_AREA if scale < 1.0 else cv2.INTER_CUBIC
    return np.asarray(cv2.resize(gray, None, fx=scale, fy=scale, interpolation=how), np.uint8)


def _sharper(gray: Gray, sigma_px: float) -> Gray:
    soft = cv2.GaussianBlur(gray, (0, 0), max(sigma_px, 0.5))
    return np.asarray(cv2.addWeighted(gray, 2.2, soft, -1.2, 0.0), np.uint8)
