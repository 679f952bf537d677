"""What lies under a photographed sheet: a table of wood, cloth, stone or plain colour, darker than the paper."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from scanner.rehearsal.arrays import Field, Gray
from scanner.rehearsal.optics import soft, stretched

COARSE = 4


def desk(shape: tuple[int, int], kind: str, level: float, rng: np.random.Generator) -> Gray:
    """Return a table top of that shape and kind ("wood", "cloth", "stone", "plain"), its mean near `level`."""
    rows, columns = shape[0] // COARSE + 2, shape[1] // COARSE + 2
    relief = TEXTURES[kind](rows, columns, rng)
    table = level * (1.0 + relief)
    table = np.clip(table, 2, 200).astype(np.uint8)
    return np.rint(stretched(table.astype(np.float32), shape)).astype(np.uint8)


def _wood(rows: int, columns: int, rng: np.random.Generator) -> Field:
    """Planks with a grain along them: noise drawn out along x, joints between."""
    fine = soft(rng.standard_normal((rows, columns), dtype=np.float32), (50.0, 1.1))
    slow = soft(rng.standard_normal((rows, columns), dtype=np.float32), (90.0, 6.0))
    relief = 0.09 * fine / fine.std() + 0.07 * slow / slow.std()
    width = max(20, rows // int(rng.integers(3, 7)))
    start = int(rng.integers(width))
    for joint in range(start, rows, width):
        relief[joint : joint + 2] -= 0.45
        relief[joint : joint + width] += float(rng.uniform(-0.12, 0.12))
    return _turned(relief, rows, columns, rng)


def _cloth(rows: int, columns: int, rng: np.random.Generator) -> Field:
    x, y = np.meshgrid(np.arange(columns), np.arange(rows))
    pitch = float(rng.uniform(3.0, 5.0))
    weave = 0.06 * (np.sin(2 * np.pi * x / pitch) + np.sin(2 * np.pi * y / pitch))
    slow = soft(rng.standard_normal((rows, columns), dtype=np.float32), 45.0)
    folds: Field = (weave + 0.08 * slow / slow.std()).astype(np.float32)
    return folds


def _stone(rows: int, columns: int, rng: np.random.Generator) -> Field:
    fine = soft(rng.standard_normal((rows, columns), dtype=np.float32), 1.0)
    slow = soft(rng.standard_normal((rows, columns), dtype=np.float32), 20.0)
    return np.asarray(0.12 * fine / fine.std() + 0.10 * slow / slow.std(), dtype=np.float32)


def _plain(rows: int, columns: int, rng: np.random.Generator) -> Field:
    slow = soft(rng.standard_normal((rows, columns), dtype=np.float32), 60.0)
    return np.asarray(0.04 * slow / slow.std(), dtype=np.float32)


def _turned(relief: Field, rows: int, columns: int, rng: np.random.Generator) -> Field:
    """The texture along x or, as often, along y."""
    return relief if rng.random() < 0.5 else stretched(np.ascontiguousarray(relief.T), (rows, columns))


TEXTURES: dict[str, Callable[[int, int, np.random.Generator], Field]] = {
    "wood": _wood,
    "cloth": _cloth,
    "stone": _stone,
    "plain": _plain,
}
