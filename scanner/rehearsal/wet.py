"""What drink and light do to a label on a table: wet rings, soaked patches, drops, reflections, the rims of glasses.

Each takes a gray patch and returns one of the same size; places and lengths are pixels of the patch.
"""

from __future__ import annotations

import cv2
import numpy as np

from scanner.rehearsal.arrays import Field, Gray, Points
from scanner.rehearsal.optics import dimmed, soft


def with_ring(
    patch: Gray, centre: Points, radius: float, width: float, darkness: float, rng: np.random.Generator
) -> Gray:
    """Return the patch with the ring that a wet foot of a glass left, stronger here and weaker there."""
    x, y = _offsets(patch, centre)
    apart, angle = np.hypot(x, y), np.arctan2(y, x)
    strength = 0.65 + 0.35 * np.sin(angle * int(rng.integers(1, 4)) + rng.uniform(0, 6.3))
    ring = np.exp(-(((apart - radius) / max(width / 2, 0.5)) ** 4)) * strength
    return _darkened(patch, darkness * ring.astype(np.float32))


def with_soaked_patch(patch: Gray, centre: Points, radius: float, darkness: float, rng: np.random.Generator) -> Gray:
    """Return the patch with an area through which the wet paper lets the black half behind it show."""
    x, y = _offsets(patch, centre)
    angle = np.arctan2(y, x)
    edge = radius * (
        1.0 + 0.18 * np.sin(2 * angle + rng.uniform(0, 6.3)) + 0.1 * np.sin(5 * angle + rng.uniform(0, 6.3))
    )
    inside = 1.0 / (1.0 + np.exp(np.clip((np.hypot(x, y) - edge) / max(0.06 * radius, 0.5), -30, 30)))
    return _darkened(patch, darkness * inside.astype(np.float32))


def with_drop(patch: Gray, centre: Points, radius: float) -> Gray:
    """Return the patch with a drop on it: a small lens, with a dark rim and a bright spot."""
    rows, columns = patch.shape
    first = np.maximum(np.floor(centre - radius - 2).astype(int), 0)
    last = np.minimum(np.ceil(centre + radius + 2).astype(int), (columns, rows))
    if radius < 1.0 or (last <= first).any():
        return patch
    x, y = np.meshgrid(np.arange(first[0], last[0]), np.arange(first[1], last[1]))
    dx, dy = x - centre[0], y - centre[1]
    share = np.clip(np.hypot(dx, dy) / radius, 0.0, 1.0)
    bend = (1.0 - 0.45 * np.sqrt(1.0 - share**2)).astype(np.float32)
    map_x, map_y = (centre[0] + dx * bend).astype(np.float32), (centre[1] + dy * bend).astype(np.float32)
    seen = cv2.remap(patch, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE).astype(np.float32)
    lean = (dx + dy) / (1.42 * radius)
    seen *= 1.0 - 0.45 * np.clip(share - 0.75, 0.0, 1.0) * 4.0 * np.clip(0.6 - lean, 0.0, 1.0)
    seen += 45.0 * np.clip(lean, 0.0, 1.0) * (share < 1.0)
    seen += 190.0 * np.exp(-((dx + 0.4 * radius) ** 2 + (dy + 0.4 * radius) ** 2) / (0.22 * radius) ** 2)
    inside = np.clip((radius - np.hypot(dx, dy)) + 0.5, 0.0, 1.0)
    out = patch.copy()
    place = out[first[1] : last[1], first[0] : last[0]]
    place[...] = np.clip(np.rint(place * (1.0 - inside) + seen * inside), 0, 255).astype(np.uint8)
    return out


def with_reflection(patch: Gray, centre: Points, long: float, clear: float, rng: np.random.Generator) -> Gray:
    """Return the patch with a lamp's or a window's image on its wet or glossy face; `clear` is what shows through."""
    angle, ratio = float(rng.uniform(0, np.pi)), float(rng.uniform(0.25, 0.9))
    turn = np.deg2rad(np.arange(0, 360, 10))
    if rng.random() < 0.4:  # a window: four corners
        turn = np.deg2rad(np.array([35.0, 145.0, 215.0, 325.0]))
    outline = np.column_stack([np.cos(turn), ratio * np.sin(turn)]) * long / 2
    along = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return dimmed(patch, centre + outline @ along.T, 252.0, 0.08 * long, through=clear)


def with_rim(patch: Gray, centre: Points, radius: float, width: float, rng: np.random.Generator) -> Gray:
    """Return the patch as seen past the foot of a glass: a bright arc, a dark one beside it, a little haze inside."""
    mask = np.zeros(patch.shape, np.uint8)
    place = (round(float(centre[0])), round(float(centre[1])))
    first = float(rng.uniform(0, 360))
    axes = (max(1, round(radius)), max(1, round(radius * float(rng.uniform(0.75, 1.0)))))
    wide = max(1, round(width))
    cv2.ellipse(mask, place, axes, 0, first, first + float(rng.uniform(120, 360)), 255, wide, cv2.LINE_AA)
    bright = mask.astype(np.float32) / 255.0 * float(rng.uniform(0.3, 0.75))
    inner = np.zeros(patch.shape, np.uint8)
    smaller = (max(1, axes[0] - 2 * wide), max(1, axes[1] - 2 * wide))
    cv2.ellipse(inner, place, smaller, 0, first, first + 200, 255, wide, cv2.LINE_AA)
    dark = soft(inner.astype(np.float32) / 255.0, max(0.5, width / 3)) * float(rng.uniform(0.2, 0.5))
    shown = patch * (1.0 - dark)
    return np.asarray(np.clip(np.rint(shown * (1.0 - bright) + 245.0 * bright), 0, 255), np.uint8)


def _offsets(patch: Gray, centre: Points) -> tuple[Field, Field]:
    x, y = np.meshgrid(np.arange(patch.shape[1]) - centre[0], np.arange(patch.shape[0]) - centre[1])
    return x.astype(np.float32), y.astype(np.float32)


def _darkened(patch: Gray, share: Field) -> Gray:
    return np.asarray(np.rint(patch * (1.0 - share)), np.uint8)
