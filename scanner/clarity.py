"""How clear a located sheet is in its picture: how dark its print and how blurred, told by its fiducials.

A fiducial is large, black on white and has sharp edges both ways, so that blur can be measured on every page alike,
whatever its taster wrote on it.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from scanner.sampling import Floats, Gray, ToPx, sample_patches

PX_PER_MM = 7.0
AROUND_MM = 1.0


@dataclass(frozen=True, slots=True)
class Clarity:
    """How a sheet's print comes out, the median over its fiducials.

    `contrast` is by what share of the paper's brightness the black is darker. `least_blur_mm` and `most_blur_mm` are
    the blur's standard deviations across and along the sheet, the smaller first: 0.12 to 0.16 in a good scan or
    photograph, part of which is the measuring's own.
    """

    contrast: float
    least_blur_mm: float
    most_blur_mm: float


def clarity_of(gray: Gray, to_px: ToPx, middles_mm: Floats, side_mm: float) -> Clarity:
    """Measure the clarity of the fiducials of that side around these (N, 2) middles.

    Notes
    -----
    A step of contrast C, blurred by a Gaussian of standard deviation σ, is C / (σ√(2π)) steep at its middle.
    """
    patches = sample_patches(gray, to_px, middles_mm, side_mm / 2 + AROUND_MM, PX_PER_MM)
    count, side, _ = patches.shape
    stacked = patches.reshape(count * side, side)
    # Every third pixel each way gives levels as well as all do.
    dark, paper = np.percentile(patches[:, ::3, ::3].reshape(count, -1), (8, 92), axis=1)
    step = np.maximum(paper - dark, 1.0)
    blurs = []
    for across, down in ((1, 0), (0, 1)):
        steep = np.abs(cv2.Sobel(stacked, cv2.CV_16S, across, down)).reshape(patches.shape)[:, 1:-1].reshape(count, -1)
        # The steepest hundredth: there is that much of edges across either way in each fiducial.
        steepest = np.partition(steep, -(steep.shape[1] // 100), axis=1)[:, -(steep.shape[1] // 100)]
        slope_per_mm = np.maximum(steepest, 1) / 8 * PX_PER_MM
        blurs.append(float(np.median(step / slope_per_mm / np.sqrt(2 * np.pi))))
    return Clarity(float(np.median(1.0 - dark / np.maximum(paper, 1.0))), min(blurs), max(blurs))
