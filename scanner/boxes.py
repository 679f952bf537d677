"""How dark the ink is in and around every box: patches of darkness relative to the paper right there.

Darkness is 0 on bare paper and 1 on a perfect black, whatever the light: 1 − brightness / paper brightness.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from kit.sheet_layout import MarkBox
from scanner.locate import Located
from scanner.sampling import Floats, Gray, ToPx, along_mm, sample_patches

Darkness = NDArray[np.float32]

PX_PER_MM = 8.0
AROUND_MM = 1.5
"""How much of a box's surroundings a patch shows."""
PAPER_PX_PER_MM = 3.0
HALO_MM = 1.4
"""What is bright over less than half of this is no paper: sharpening puts such rims around print."""
WIDEST_INK_MM = 12.0
"""What is dark over more than this both ways is shadow, not ink: twice the largest box."""
SMOOTHING_MM, SHADE_MM = 0.1, 0.5
"""Standard deviation of the smoothing before darkness is held against a threshold; and of one that keeps but shades."""
MEDIAN, DOTTED = (0.5, 0.6745), (0.85, 1.4395)
"""A share of a normal error's lengths, and how many standard deviations it is less than."""
FULL = 0.55
"""How dark a printed outline is at least, where print comes out as it should."""
PROFILE_MM = np.arange(-0.45, 0.6, 0.05)
SKIRT = 0.1
"""Share of a printed line's darkness below which its skirt ends."""
MOST_OFF = 0.04
"""How far a patch's own paper may differ from the paper of the surroundings; more is ink around the box."""


@dataclass(frozen=True, slots=True)
class Paper:
    """The brightness that bare paper has all over an image, at a reduced scale: shadows in, ink out."""

    levels: Gray
    factor: int


@dataclass(frozen=True, slots=True)
class BoxPatches:
    """Every box's patch, in the layout's order.

    Attributes
    ----------
    darkness : (N, P, P) array of float32
        A box's centre is the patch's middle.
    widths_mm : (N, 2) array of float
        The boxes' width and height.
    noise : float
        Standard deviation of the smoothed darkness of bare paper on this page.
    own_noise : (N,) array of float
        The same around each box.
    print_darkness : float
        How dark a printed outline is on this page, at its middle.
    skirt_mm : float
        How far outside of a box its printed outline still darkens the paper: blur, and ink that spread.
    full : float
        What counts as perfect black: 1, less where even print comes out pale.
    """

    darkness: Darkness
    widths_mm: Floats
    px_per_mm: float
    noise: float
    own_noise: Floats
    print_darkness: float
    skirt_mm: float
    full: float

    @property
    def along_mm(self) -> Floats:
        """The (P,) positions of a patch's pixels from its middle, mm."""
        return along_mm(self.darkness.shape[1], self.px_per_mm)


def paper_of(gray: Gray, px_per_mm: float) -> Paper:
    """Return the paper's brightness all over an image: what remains when everything of a mark's size is closed."""
    factor = max(1, int(px_per_mm / PAPER_PX_PER_MM))
    height, width = gray.shape[0] // factor, gray.shape[1] // factor
    small = gray[: height * factor, : width * factor]
    if factor > 1:
        small = np.asarray(cv2.resize(small, (width, height), interpolation=cv2.INTER_AREA), np.uint8)
    halo, reach = (round(mm * px_per_mm / factor) | 1 for mm in (HALO_MM, WIDEST_INK_MM))
    usual = cv2.medianBlur(np.ascontiguousarray(small), halo)
    closed = cv2.morphologyEx(usual, cv2.MORPH_CLOSE, np.ones((reach, reach), np.uint8))
    return Paper(np.asarray(cv2.blur(closed, (3, 3)), np.uint8), factor)


def sample_darkness(
    gray: Gray, paper: Paper, to_px: ToPx, centres_mm: Floats, half_mm: float, px_per_mm: float = PX_PER_MM
) -> Darkness:
    """Return (N, P, P) patches of darkness around the centres."""
    patches = sample_patches(gray, to_px, centres_mm, half_mm, px_per_mm).astype(np.float32)
    coarse = sample_patches(
        paper.levels, lambda points: (to_px(points) + 0.5) / paper.factor - 0.5, centres_mm, half_mm, px_per_mm / 3
    )
    spread = _spread(coarse.shape[1], patches.shape[1])
    levels = spread @ coarse.astype(np.float32) @ spread.T
    return np.asarray(1.0 - patches / np.maximum(levels, 1.0), np.float32)


def smoothed(darkness: Darkness, px_per_mm: float, by_mm: float = SMOOTHING_MM) -> Darkness:
    """Return (N, P, P) patches smoothed each by itself, by a standard deviation of `by_mm`."""
    count, side, _ = darkness.shape
    stacked = np.ascontiguousarray(darkness).reshape(count * side, side)
    return np.asarray(cv2.GaussianBlur(stacked, (0, 0), by_mm * px_per_mm), np.float32).reshape(darkness.shape)


def sample_boxes(
    gray: Gray,
    paper: Paper,
    located: Located,
    boxes: Sequence[MarkBox],
    centres_mm: Floats,
    *,
    dotted: bool = False,
) -> BoxPatches:
    """Return the patches of all boxes, whose centres lie at `centres_mm` in the located sheet's millimetres.

    `dotted` says that the paper's greys are dots, which are noise in few places and strong.
    """
    widths = np.array([(box.w_mm, box.h_mm) for box in boxes]).reshape(-1, 2)
    half_mm = float(widths.max()) / 2 + AROUND_MM
    darkness = sample_darkness(gray, paper, located.to_px, centres_mm, half_mm)
    along = along_mm(darkness.shape[1], PX_PER_MM)
    _settle_paper(darkness, along, widths)
    noise, own_noise = _noise(smoothed(darkness, PX_PER_MM), along, widths, DOTTED if dotted else MEDIAN)
    profile = _outline_profile(darkness, along, widths)
    full = min(1.0, max(float(profile.max()), 0.01) / FULL)
    darkness, profile, noise, own_noise = darkness / np.float32(full), profile / full, noise / full, own_noise / full
    faint = np.flatnonzero(profile < SKIRT * profile.max())
    outer = faint[faint > profile.argmax()]
    skirt_mm = float(PROFILE_MM[outer[0]]) if len(outer) else float(PROFILE_MM[-1])
    return BoxPatches(darkness, widths, PX_PER_MM, noise, own_noise, float(profile.max()), skirt_mm, full)


def _settle_paper(darkness: Darkness, along: Floats, widths: Floats) -> None:
    """Take each patch, in place, from its own paper on: the median of what lies outside of the box."""
    for group, bare in _bare(darkness, along, widths):
        own = np.clip(np.median(bare, axis=1), -MOST_OFF, MOST_OFF)
        darkness[group] -= own[:, None, None]


def _noise(smooth: Darkness, along: Floats, widths: Floats, share: tuple[float, float]) -> tuple[float, Floats]:
    """Return the noise of bare paper on the page, and around each box."""
    everywhere = [bare[:, ::7].ravel() for _, bare in _bare(smooth, along, widths)]
    own = np.full(len(smooth), np.inf)
    # The lesser of two: a shade all around misleads the one, the edges of broad ink near the box the other.
    for seen in (smooth, smooth - smoothed(smooth, PX_PER_MM, SHADE_MM)):
        for group, bare in _bare(seen, along, widths):
            own[group] = np.minimum(own[group], np.median(np.abs(bare), axis=1) / MEDIAN[1])
    return float(np.quantile(np.abs(np.concatenate(everywhere)), share[0])) / share[1], own


def _bare(darkness: Darkness, along: Floats, widths: Floats) -> Iterator[tuple[NDArray[np.int_], Darkness]]:
    """Yield groups of boxes and what lies outside of them, every other pixel each way: ink covers less than half."""
    thin = along[::2]
    for size in np.unique(widths, axis=0):
        group = np.flatnonzero((widths == size).all(axis=1))
        outside = (np.abs(thin) > size[1] / 2 + 0.3)[:, None] | (np.abs(thin) > size[0] / 2 + 0.3)[None, :]
        yield group, darkness[group, ::2, ::2][:, outside]


def _outline_profile(darkness: Darkness, along: Floats, widths: Floats) -> Floats:
    """Return the usual darkness across an outline, at `PROFILE_MM` outwards from its outer edge: the sides' median."""
    sides = []
    for size in np.unique(widths, axis=0):
        group = darkness[(widths == size).all(axis=1)]
        for axis, half in enumerate(size / 2):
            inner = np.flatnonzero(np.abs(along) < size[1 - axis] / 2 - 0.6)[::2]
            profiles = group[:, inner].mean(axis=1) if axis == 0 else group[:, :, inner].mean(axis=2)
            for sign in (-1.0, 1.0):
                place = np.interp(sign * (half + PROFILE_MM), along, np.arange(len(along)))
                low = np.minimum(place.astype(int), len(along) - 2)
                share = place - low
                sides.append(profiles[:, low] * (1 - share) + profiles[:, low + 1] * share)
    return np.asarray(np.median(np.concatenate(sides), axis=0), np.float64)


def _spread(few: int, many: int) -> Darkness:
    """Return the (many, few) matrix that interpolates linearly between pixel centres."""
    place = np.clip((np.arange(many) + 0.5) * few / many - 0.5, 0, few - 1)
    low = np.minimum(place.astype(int), few - 2)
    matrix = np.zeros((many, few), np.float32)
    rows = np.arange(many)
    matrix[rows, low] = 1 - (place - low)
    matrix[rows, low + 1] = place - low
    return matrix
