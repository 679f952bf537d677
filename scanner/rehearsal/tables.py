"""Table tops for photographs of turned coasters, beyond those of `desk`: a white one, and four kept for the last."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from scanner.rehearsal.arrays import Field, Gray
from scanner.rehearsal.desk import TEXTURES, desk
from scanner.rehearsal.optics import soft, stretched

COARSE = 3


def table_top(shape: tuple[int, int], kind: str, level: float, rng: np.random.Generator) -> Gray:
    """Return a table top of that shape and kind, its mean near `level`: a kind of `desk`, or of this module.

    A "white" table is as near to white as another of that level is to black.
    """
    if kind in TEXTURES:
        return desk(shape, kind, level, rng)
    if kind == "white":
        return np.asarray(255 - desk(shape, "plain", min(level, 60.0), rng), np.uint8)
    relief = PATTERNS[kind](shape[0] // COARSE + 2, shape[1] // COARSE + 2, rng)
    top = np.clip(level * (1.0 + relief), 3, 252).astype(np.float32)
    return np.rint(stretched(top, shape)).astype(np.uint8)


def _tiles(rows: int, columns: int, rng: np.random.Generator) -> Field:
    """Square tiles with pale joints, their tones apart."""
    side = int(rng.integers(60, 180))
    tones = rng.normal(0.0, 0.10, (rows // side + 2, columns // side + 2)).astype(np.float32)
    relief = np.kron(tones, np.ones((side, side), np.float32))[:rows, :columns]
    relief[::side], relief[1::side] = 0.5, 0.5
    relief[:, ::side], relief[:, 1::side] = 0.5, 0.5
    return np.asarray(relief + _mottle(rows, columns, rng, 2.0, 0.03), np.float32)


def _newsprint(rows: int, columns: int, rng: np.random.Generator) -> Field:
    """Lines of dark words on paper: fine, high contrast all over."""
    relief = np.full((rows, columns), 0.25, np.float32)
    pitch, height = int(rng.integers(7, 16)), int(rng.integers(3, 6))
    for top in range(0, rows, pitch):
        x = 0
        while x < columns:
            word = int(rng.integers(4, 30))
            for letter in range(x, min(x + word, columns), 2):
                if rng.random() < 0.75:
                    relief[top : top + height, letter : letter + 1] = -0.7
            x += word + int(rng.integers(2, 6))
    return relief


def _slats(rows: int, columns: int, rng: np.random.Generator) -> Field:
    """Bamboo slats with dark gaps between."""
    pitch = int(rng.integers(14, 50))
    across = np.abs((np.arange(columns) % pitch) / pitch - 0.5)
    relief = np.tile((0.25 - across**2).astype(np.float32), (rows, 1))
    relief[:, ::pitch] = -0.8
    relief = relief + _mottle(rows, columns, rng, 8.0, 0.05)
    return np.asarray(relief if rng.random() < 0.5 else stretched(np.ascontiguousarray(relief.T), (rows, columns)))


def _checked(rows: int, columns: int, rng: np.random.Generator) -> Field:
    """A checked cloth: squares about as large as a code's eyes, or larger, as black and white as one."""
    side = int(rng.integers(8, 60))
    x, y = np.meshgrid(np.arange(columns) // side % 2, np.arange(rows) // side % 2)
    relief = 0.55 * (x + y - 1.0).astype(np.float32)
    return np.asarray(relief + _mottle(rows, columns, rng, 1.0, 0.04), np.float32)


def _mottle(rows: int, columns: int, rng: np.random.Generator, reach: float, strength: float) -> Field:
    noise = soft(rng.standard_normal((rows, columns), dtype=np.float32), reach)
    return np.asarray(noise * (strength / float(noise.std())), np.float32)


PATTERNS: dict[str, Callable[[int, int, np.random.Generator], Field]] = {
    "tiles": _tiles,
    "newsprint": _newsprint,
    "slats": _slats,
    "checked": _checked,
}
