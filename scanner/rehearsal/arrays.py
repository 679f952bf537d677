"""The kinds of arrays that the simulated hand and camera pass around."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Gray = NDArray[np.uint8]
"""A page or picture, (height, width), 0 black … 255 white."""

Field = NDArray[np.float32]
"""One number for each place of a coarse or fine grid, (height, width)."""

Points = NDArray[np.float64]
"""Places as (x, y), (N, 2), y down: millimetres on the page, or pixels with whole numbers at pixel centres."""


def xy(x: float, y: float) -> Points:
    """Return one place, or one step, (2,)."""
    return np.array([x, y], dtype=np.float64)
