"""Uneven light as a coarse field of gains over a picture: a falling-off lamp, shadows, the lens's dark corners."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scanner.rehearsal.arrays import Field

Grid = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Light:
    """How the light falls on a picture, as shares of the full light taken away.

    `fall_off` from one side of the picture to the other, towards `direction_deg`; `vignetting` in the corners; `shadow`
    beyond a straight edge that is `shadow_soft` of the frame's length wide, passes at `shadow_at` (0 … 1 across) and
    lies at `shadow_deg`; `phone_shadow` under the telephone and the arm that holds it; `lamp` far from a lamp's bright
    spot, `lamp_width` wide and centred at `lamp_x`, `lamp_y` (shares of the frame's length).
    """

    fall_off: float = 0.0
    direction_deg: float = 0.0
    vignetting: float = 0.0
    shadow: float = 0.0
    shadow_soft: float = 0.02
    shadow_at: float = 0.5
    shadow_deg: float = 30.0
    phone_shadow: float = 0.0
    lamp: float = 0.0
    lamp_width: float = 0.6
    lamp_x: float = 0.5
    lamp_y: float = 0.5


def gains(light: Light, shape: tuple[int, int], rows: int, columns: int) -> Field:
    """Return the gain (1 full light) on a grid over an image of that shape."""
    length = max(shape)
    x, y = np.meshgrid(
        (np.arange(columns) + 0.5) / columns * shape[1] / length, (np.arange(rows) + 0.5) / rows * shape[0] / length
    )
    middle_x, middle_y = shape[1] / length / 2, shape[0] / length / 2
    gain = np.ones_like(x)
    gain *= 1.0 - light.fall_off * np.clip(0.5 + _along(x - middle_x, y - middle_y, light.direction_deg), 0.0, 1.0)
    gain *= 1.0 - light.vignetting * ((x - middle_x) ** 2 + (y - middle_y) ** 2) / (middle_x**2 + middle_y**2)
    if light.shadow > 0.0:
        across = _along(x - middle_x, y - middle_y, light.shadow_deg) - (light.shadow_at - 0.5)
        edge = 0.008 * np.sin(9.0 * _along(x, y, light.shadow_deg + 90.0))
        gain *= 1.0 - light.shadow * _step(across + edge, light.shadow_soft)
    if light.phone_shadow > 0.0:
        gain *= 1.0 - light.phone_shadow * _telephone(x, y, light)
    if light.lamp > 0.0:
        apart = np.hypot(x - light.lamp_x, y - light.lamp_y) / light.lamp_width
        gain *= 1.0 - light.lamp * (1.0 - 1.0 / (1.0 + apart**2) ** 1.5)
    return gain.astype(np.float32)


def _along(x: Grid, y: Grid, degrees: float) -> Grid:
    angle = np.deg2rad(degrees)
    along: Grid = x * np.cos(angle) + y * np.sin(angle)
    return along


def _step(across: Grid, wide: float) -> Grid:
    share = np.clip(across / max(wide, 1e-4) + 0.5, 0.0, 1.0)
    step: Grid = share * share * (3.0 - 2.0 * share)
    return step


def _telephone(x: Grid, y: Grid, light: Light) -> Grid:
    """The soft shadow of a telephone held over the page: a rounded bar of two by one, and an arm from the edge."""
    centre_x, centre_y = 0.25 + 0.3 * light.shadow_at, 0.5
    along = _along(x - centre_x, y - centre_y, light.shadow_deg)
    beside = _along(x - centre_x, y - centre_y, light.shadow_deg + 90.0)
    body = np.maximum(np.abs(along) - 0.16, np.abs(beside) - 0.32)
    arm = np.maximum(np.abs(along - 0.05) - 0.09, -beside)
    shadow: Grid = _step(-np.minimum(body, arm), 0.05 + light.shadow_soft)
    return shadow
