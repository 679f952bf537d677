"""What there is of ink in every box of a page, in numbers; `scanner/marks.py` decides what that means.

A box's *inner box* is the box less `INSET_MM` along each side: clear of its printed outline even where the box is found
a quarter of a millimetre off. Its *core* is the middle of that, three fifths each way.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.boxes import BoxPatches, smoothed

Floats = NDArray[np.float64]
Darkness = NDArray[np.float32]

INSET_MM = 0.6
CORE = 0.6
BROAD_MM = 1.6
BESIDE_MM = (0.6, 1.3)
"""Past the outline's blur, short of the next row of boxes."""
LINE_MM, LINED_MM = 0.25, 0.45
"""Breadth of a printed outline; from its middle inwards and outwards, past its own breadth and blur."""
NEAR_MM = 0.4
"""Pieces of ink no farther apart are one."""
ABOVE_NOISE, SURELY_INK = 4.0, 0.24
"""In standard deviations of the noise; but what is darker than this share of a printed line is ink on any page."""
GRAINY, HIDING = 1.2, 2.5
"""How many times as strong as ink noise may be on the page; around a box."""
FAINTEST, FAINTEST_AT_ALL = 0.06, 0.05
"""No stroke is sought below this darkness, however clean the page; however pale the print."""


@dataclass(frozen=True, slots=True)
class BoxInk:
    """Measures of N boxes, each an (N,) array but for `beside_mm`.

    Attributes
    ----------
    ink_mm2
        Darkness summed over the inked part of the inner box: so much area of perfect black.
    piece_mm2
        `ink_mm2` of its greatest piece alone.
    density
        The mean darkness of the inner box: `ink_mm2` by its area.
    level
        The mean darkness of what is inked in the inner box; 0 without ink.
    extent_mm
        From corner to corner of what is inked in the inner box.
    peak
        The greatest smoothed darkness in the inner box.
    covered
        The share of the inner box that is at least half as dark as its ink; 0 without ink.
    core_mm2
        `ink_mm2` in the core alone.
    touching
        Whether the ink reaches the inner box's border.
    turns
        The strokes' length against the diagonal of what they cover: 1 for a straight stroke, up to 1.4 for a tick and
        2 for a cross. 0 without ink.
    gap_mm
        The radius of the widest bare spot left in the inner box.
    fine_mm2
        `ink_mm2` but for what is broader than any pen draws, such as a stain.
    sharp
        How steep its darkest edge is against the printed outline's edges, each by its own darkness; 0 without ink. A
        pen's stroke comes out at 0.7 to 1.5, wherever in the picture's focus the box lies.
    sharp_beside
        The same for what lies just above and below the box, where nothing is printed; 0 without ink there.
    outline
        The share of the printed outline that can be seen.
    lined
        The share of the way around, just inside of the printed outline, that is dark as if the outline were thicker.
    beside_mm : (N, 4) array
        The length along the box's side on which ink lies just outside of it: above, right, below, left.
    """

    ink_mm2: Floats
    piece_mm2: Floats
    density: Floats
    level: Floats
    extent_mm: Floats
    peak: Floats
    covered: Floats
    core_mm2: Floats
    touching: NDArray[np.bool_]
    turns: Floats
    gap_mm: Floats
    fine_mm2: Floats
    sharp: Floats
    sharp_beside: Floats
    outline: Floats
    lined: Floats
    beside_mm: Floats


def ink_threshold(patches: BoxPatches) -> float:
    """Return the smoothed darkness from which on a place counts as inked on this page.

    Above what most of the noise comes to, and a fifth of a printed line where print comes out strong.
    """
    clean = max(FAINTEST, FAINTEST_AT_ALL / patches.full, 0.12 * patches.print_darkness)
    return max(clean, min(ABOVE_NOISE * patches.noise, SURELY_INK * patches.print_darkness))


def is_grainy(patches: BoxPatches) -> bool:
    """Tell whether the noise of the page comes out stronger than what is surely ink."""
    return ABOVE_NOISE * patches.noise > GRAINY * SURELY_INK * patches.print_darkness


def hidden_by_grain(patches: BoxPatches) -> NDArray[np.bool_]:
    """Tell for every box whether the noise around it would hide a pen's strokes, or look like them."""
    return np.asarray(ABOVE_NOISE * patches.own_noise > HIDING * SURELY_INK * patches.print_darkness, np.bool_)


def stroke_turns(inked: NDArray[np.bool_]) -> float:
    """Return how long the strokes are against the diagonal of what they cover.

    Notes
    -----
    Over a strip of width w the mean distance to its edge is w/4, so length = area / (4 · mean distance).
    """
    solid = cv2.morphologyEx(np.pad(inked, 2).astype(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    left, top, width, height = cv2.boundingRect(solid)
    cut = solid[top - 1 : top + height + 1, left - 1 : left + width + 1]
    # A pixel on the edge is half a pixel from it.
    distance = float(cv2.mean(cv2.distanceTransform(cut, cv2.DIST_L2, 3), cut)[0]) - 0.5
    return cv2.countNonZero(cut) / (4 * max(distance, 0.25)) / float(np.hypot(width, height))


def measure_boxes(patches: BoxPatches) -> BoxInk:
    """Measure the ink in all boxes of a page."""
    count = len(patches.darkness)
    smooth = smoothed(patches.darkness, patches.px_per_mm)
    threshold = ink_threshold(patches)
    blank: dict[str, Any] = {field.name: np.zeros(count) for field in fields(BoxInk)}
    whole = BoxInk(**blank | {"beside_mm": np.zeros((count, 4)), "touching": np.zeros(count, np.bool_)})
    for size in np.unique(patches.widths_mm, axis=0):
        group = np.flatnonzero((patches.widths_mm == size).all(axis=1))
        alike = _Alike(patches.darkness[group], smooth[group], patches.along_mm, size, threshold, patches.px_per_mm)
        for field in fields(BoxInk):
            if field.name not in ("outline", "lined", "beside_mm"):
                getattr(whole, field.name)[group] = getattr(alike, field.name)()
        whole.outline[group] = alike.outline(0.4 * patches.print_darkness)
        whole.lined[group] = alike.lined(0.5 * patches.print_darkness)
        whole.beside_mm[group] = alike.beside_mm()
    return whole


class _Alike:
    """The patches of boxes of one size."""

    def __init__(
        self, darkness: Darkness, smooth: Darkness, along: Floats, size: Floats, threshold: float, px_per_mm: float
    ) -> None:
        self.smooth, self.along, self.size = smooth, along, size
        self.threshold, self.px_per_mm = threshold, px_per_mm
        x, y = (np.abs(along) < half - INSET_MM for half in size / 2)
        self.inner = np.ascontiguousarray(smooth[:, y][:, :, x])
        self.raw = darkness[:, y][:, :, x]
        self.on = self.inner > threshold
        self.inked = np.where(self.on, self.raw, 0.0)
        self.half_ink = np.full(len(smooth), threshold)
        some = np.flatnonzero(self.on.any(axis=(1, 2)))
        if len(some):
            dark = np.quantile(self.inner[some].reshape(len(some), -1), 0.9, axis=1)
            self.half_ink[some] = np.maximum(0.5 * dark, threshold)

    def ink_mm2(self) -> Floats:
        return np.asarray(self.inked.sum(axis=(1, 2), dtype=np.float64) / self.px_per_mm**2)

    def density(self) -> Floats:
        return np.asarray(self.inked.mean(axis=(1, 2), dtype=np.float64))

    def level(self) -> Floats:
        area = self.on.sum(axis=(1, 2))
        return np.asarray(self.inked.sum(axis=(1, 2), dtype=np.float64) / np.maximum(area, 1))

    def core_mm2(self) -> Floats:
        rows, columns = (slice(round(n * (0.5 - CORE / 2)), round(n * (0.5 + CORE / 2))) for n in self.on.shape[1:])
        return np.asarray(self.inked[:, rows, columns].sum(axis=(1, 2), dtype=np.float64) / self.px_per_mm**2)

    def peak(self) -> Floats:
        return np.asarray(self.inner.max(axis=(1, 2)), np.float64)

    def extent_mm(self) -> Floats:
        spans = []
        for axis in (1, 2):
            some: NDArray[np.bool_] = np.asarray(np.any(self.on, axis=axis), np.bool_)
            first, last = some.argmax(axis=1), some.shape[1] - some[:, ::-1].argmax(axis=1)
            spans.append(np.where(some.any(axis=1), last - first, 0))
        return np.asarray(np.hypot(*spans) / self.px_per_mm)

    def piece_mm2(self) -> Floats:
        most = np.zeros(len(self.on))
        near = np.ones((round(NEAR_MM * self.px_per_mm) | 1,) * 2, np.uint8)
        for index in np.flatnonzero(self.on.any(axis=(1, 2))):
            pieces = cv2.connectedComponents(cv2.dilate(self.on[index].astype(np.uint8), near))[1]
            most[index] = np.bincount(pieces.ravel(), self.inked[index].ravel()).max() / self.px_per_mm**2
        return most

    def covered(self) -> Floats:
        return np.asarray((self.inner > self.half_ink[:, None, None]).mean(axis=(1, 2)), np.float64)

    def touching(self) -> NDArray[np.bool_]:
        on = self.on
        return np.asarray(on[:, 0].any(1) | on[:, -1].any(1) | on[:, :, 0].any(1) | on[:, :, -1].any(1), np.bool_)

    def turns(self) -> Floats:
        return np.array([stroke_turns(on) if on.any() else 0.0 for on in self.on])

    def gap_mm(self) -> Floats:
        """Return the widest bare spots, where a quarter of the box or more is inked; else the box's own half side."""
        full = np.full(len(self.on), min(self.on.shape[1:]) / 2 / self.px_per_mm)
        for index in np.flatnonzero(self.on.mean(axis=(1, 2)) > 0.25):
            bare = np.pad(self.inner[index] <= 0.8 * self.half_ink[index], 1, mode="edge").astype(np.uint8)
            full[index] = cv2.distanceTransform(bare, cv2.DIST_L2, 3).max() / self.px_per_mm
        return full

    def fine_mm2(self) -> Floats:
        """Return the ink that an opening by `BROAD_MM` takes away."""
        fine = np.zeros(len(self.on))
        broad = round(BROAD_MM * self.px_per_mm) | 1
        round_kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (broad, broad))
        for index in np.flatnonzero(self.on.any(axis=(1, 2))):
            left = cv2.morphologyEx(self.inner[index], cv2.MORPH_TOPHAT, round_kernel)
            fine[index] = left[self.on[index]].sum(dtype=np.float64) / self.px_per_mm**2
        return fine

    def sharp(self) -> Floats:
        """Return the steepest slope within, by the greatest darkness there, against the same of the outline."""
        away_x, away_y = self._away()
        return self._steepness(np.maximum(away_y[:, None], away_x[None, :]) < -INSET_MM)

    def sharp_beside(self) -> Floats:
        away_x, away_y = self._away()
        strips = (np.abs(away_y - sum(BESIDE_MM) / 2) < np.ptp(BESIDE_MM) / 2)[:, None] & (away_x < 0)[None, :]
        return np.where(self.smooth[:, strips].max(axis=1) > self.threshold, self._steepness(strips), 0.0)

    def _away(self) -> tuple[Floats, Floats]:
        x, y = (np.abs(self.along) - half for half in self.size / 2)
        return x, y

    def _steepness(self, place: NDArray[np.bool_]) -> Floats:
        some, steep, printed = self._edges
        found = np.zeros(len(self.on))
        if len(some):
            own = steep[:, place].max(axis=1) / np.maximum(self.smooth[some][:, place].max(axis=1), FAINTEST)
            found[some] = own / np.maximum(printed, 1e-6)
        return found

    @cached_property
    def _edges(self) -> tuple[NDArray[np.intp], Darkness, Darkness]:
        """The boxes with ink, how steep they are everywhere, and their printed outlines by their own darkness."""
        some = np.flatnonzero(self.on.any(axis=(1, 2)))
        smooth = self.smooth[some]
        steep = np.hypot(*np.gradient(smooth, axis=(1, 2)))
        away_x, away_y = self._away()
        rim = np.abs(np.maximum(away_y[:, None], away_x[None, :])) < 0.4
        if not len(some):
            return some, steep, np.zeros(0, np.float32)
        printed = np.quantile(steep[:, rim], 0.9, axis=1) / np.maximum(smooth[:, rim].max(axis=1), FAINTEST)
        return some, steep, printed

    def outline(self, least: float) -> Floats:
        """Return the share of the outline's length where something is darker by `least` than the box within."""
        inside = np.minimum(np.median(self.inner[:, ::2, ::2], axis=(1, 2)), 0.5)
        seen = []
        for axis, half in enumerate(self.size / 2):
            along = np.abs(self.along) < self.size[1 - axis] / 2 - 0.3
            for edge in (-half, half):
                inwards = -np.sign(edge) * (self.along - edge)
                across = (inwards > -0.3) & (inwards < 0.5)
                strip = self.smooth[:, along][:, :, across] if axis == 0 else self.smooth[:, across][:, :, along]
                darkest = strip.max(axis=2 - axis)
                seen.append(darkest > (inside + least)[:, None])
        return np.asarray(np.concatenate(seen, axis=1).mean(axis=1), np.float64)

    def lined(self, least: float) -> Floats:
        away_x, away_y = self._away()
        away = np.maximum(away_y[:, None], away_x[None, :])
        close = np.abs(np.abs(away + LINE_MM / 2) - LINED_MM) < 0.1
        return np.asarray((self.smooth[:, close] > least).mean(axis=1), np.float64)

    def beside_mm(self) -> Floats:
        """Return how much of each side has ink between 0.35 and 1.3 mm outside of it."""
        found = np.zeros((len(self.smooth), 4))
        for place, (axis, sign) in enumerate([(1, -1), (0, 1), (1, 1), (0, -1)]):
            along = np.abs(self.along) < self.size[1 - axis] / 2
            outwards = sign * self.along - self.size[axis] / 2
            across = (outwards > 0.35) & (outwards < 1.3)
            strip = self.smooth[:, along][:, :, across] if axis == 0 else self.smooth[:, across][:, :, along]
            found[:, place] = (strip.max(axis=2 - axis) > self.threshold).sum(axis=1) / self.px_per_mm
        return found
