"""Paper that is not flat: how high each place of a sheet stands over the desk, and where it is seen from above."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scanner.rehearsal.arrays import Points, xy

CRUMPLE_GRID_MM = 28.0


@dataclass(frozen=True, slots=True)
class Surface:
    """The shape of one sheet, (width, height) in mm.

    `bend_mm` is the sagitta of a cylinder over the whole sheet (above 0 a hump, below 0 the ends stand up), its axis
    turned `axis_deg` from upright. `fold_deg` are the angles by which the upper and the lower third of a
    letter's folding stand up. `crumple_mm` is the height of the random facets of a crumpled sheet, drawn from
    `crumple_seed`.
    """

    width_mm: float
    height_mm: float
    bend_mm: float = 0.0
    axis_deg: float = 0.0
    fold_deg: tuple[float, float] = (0.0, 0.0)
    crumple_mm: float = 0.0
    crumple_seed: int = 0

    @property
    def flat(self) -> bool:
        """Whether the sheet lies flat."""
        return self.bend_mm == 0.0 and self.fold_deg == (0.0, 0.0) and self.crumple_mm == 0.0

    def over_desk(self, places_mm: Points) -> NDArray[np.float64]:
        """Return (x, y, height) in mm, (N, 3), the sheet's centre at x = y = 0, for places on the sheet, (N, 2).

        Lengths along a bend or a fold are kept, as paper keeps them; crumpling only lifts.
        """
        centred = places_mm - (self.width_mm / 2, self.height_mm / 2)
        moved, height = self._bent(centred)
        moved, folded = self._folded(centred, moved)
        return np.column_stack([moved, height + folded + self._crumpled(places_mm)])

    def slopes(self, places_mm: Points) -> NDArray[np.float64]:
        """Return the slopes of the height along x and y, (N, 2)."""
        step = 1.5
        x = self.over_desk(places_mm + xy(step, 0.0))[:, 2] - self.over_desk(places_mm - xy(step, 0.0))[:, 2]
        y = self.over_desk(places_mm + xy(0.0, step))[:, 2] - self.over_desk(places_mm - xy(0.0, step))[:, 2]
        return np.column_stack([x, y]) / (2 * step)

    def _bent(self, centred: Points) -> tuple[Points, NDArray[np.float64]]:
        if self.bend_mm == 0.0:
            return centred, np.zeros(len(centred))
        angle = np.deg2rad(self.axis_deg)
        across = np.array([np.cos(angle), np.sin(angle)])
        half = (abs(across[0]) * self.width_mm + abs(across[1]) * self.height_mm) / 2
        sagitta = abs(self.bend_mm)
        radius = (half**2 + sagitta**2) / (2 * sagitta)  # of a circle with that sagitta over the chord 2·half
        along = centred @ across
        turn = np.clip(along / radius, -1.4, 1.4)
        height = radius * (np.cos(turn) - np.cos(half / radius))
        if self.bend_mm < 0.0:
            height = radius * (1.0 - np.cos(turn))
        return centred + (radius * np.sin(turn) - along)[:, None] * across, height

    def _folded(self, centred: Points, moved: Points) -> tuple[Points, NDArray[np.float64]]:
        height = np.zeros(len(centred))
        shift = np.zeros(len(centred))
        crease = self.height_mm / 6
        for sign, degrees in ((-1.0, self.fold_deg[0]), (1.0, self.fold_deg[1])):
            past = np.maximum(sign * centred[:, 1] - crease, 0.0)
            height += past * np.sin(np.deg2rad(degrees))
            shift -= sign * past * (1.0 - np.cos(np.deg2rad(degrees)))
        return moved + np.column_stack([np.zeros(len(shift)), shift]), height

    def _crumpled(self, places_mm: Points) -> NDArray[np.float64]:
        if self.crumple_mm == 0.0:
            return np.zeros(len(places_mm))
        columns, rows = (int(side / CRUMPLE_GRID_MM) + 3 for side in (self.width_mm, self.height_mm))
        rng = np.random.default_rng(self.crumple_seed)
        knots = rng.uniform(0.0, self.crumple_mm, (rows, columns))
        x = np.clip(places_mm[:, 0] / CRUMPLE_GRID_MM + 0.5, 0, columns - 1.001)
        y = np.clip(places_mm[:, 1] / CRUMPLE_GRID_MM + 0.5, 0, rows - 1.001)
        column, row = x.astype(int), y.astype(int)
        x, y = x - column, y - row
        corners = knots[row, column], knots[row, column + 1], knots[row + 1, column], knots[row + 1, column + 1]
        upper = x + y < 1.0  # each mesh is two triangles: facets with sharp ridges between
        first = corners[0] + x * (corners[1] - corners[0]) + y * (corners[2] - corners[0])
        second = corners[3] + (1 - x) * (corners[2] - corners[3]) + (1 - y) * (corners[1] - corners[3])
        return np.asarray(np.where(upper, first, second), dtype=np.float64)
