"""What happens to a sheet of paper before any device sees it: print scale, photocopying, stains, creases."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scanner.rehearsal.arrays import Field, Gray, Points, xy
from scanner.rehearsal.optics import (
    blurred,
    dimmed,
    filled,
    grainy,
    lit,
    soft,
    thickened,
    toned,
    traced,
)
from scanner.rehearsal.warp import Matrix, inverse, laid_flat, mm_to_px

STAIN_PX_PER_MM = 4.0


@dataclass(frozen=True, slots=True)
class StainSeverity:
    """What a table leaves on a sheet: how many of each, and how dark (0 … 1, the share of light taken away)."""

    wet_rings: int = 0
    ring_darkness: float = 0.0
    spots: int = 0
    spot_darkness: float = 0.0
    creases: int = 0
    crease_darkness: float = 0.0


@dataclass(frozen=True, slots=True)
class CopySeverity:
    """A photocopier's failings: `white_point` is the level, as a share of white, that comes out blank."""

    black: float = 0.0
    white_point: float = 1.0
    spread_mm: float = 0.0
    blur_mm: float = 0.0
    specks: int = 0
    banding: float = 0.0


def print_scaled(page: Gray, factor: float) -> Gray:
    """Return the page as printed at that scale about the centre of the sheet; `print_scale` is the way of a place."""
    height, width = page.shape
    about_centre = mm_to_px(1.0) @ print_scale(width, height, factor) @ inverse(mm_to_px(1.0))
    return laid_flat(page, about_centre, np.full_like(page, 255))


def print_scale(width_mm: float, height_mm: float, factor: float) -> Matrix:
    """Return the matrix, (3, 3), from a place on the layout to where `print_scaled` puts it, in mm."""
    return np.array(
        [
            [factor, 0.0, width_mm / 2 * (1 - factor)],
            [0.0, factor, height_mm / 2 * (1 - factor)],
            [0.0, 0.0, 1.0],
        ]
    )


def photocopied(page: Gray, px_per_mm: float, rng: np.random.Generator, severity: CopySeverity) -> Gray:
    """Return a photocopy of the page: harder, toner spread or starved, with specks and faint bands."""
    copy = blurred(page, severity.blur_mm * px_per_mm)
    copy = toned(copy, 0.0, 255.0 / max(severity.white_point, 0.05))
    copy = thickened(copy, severity.spread_mm, px_per_mm)
    copy = toned(copy, severity.black, 255.0)
    if severity.banding > 0.0:
        rows = rng.standard_normal((48, 1)).astype(np.float32)
        copy = lit(
            copy,
            1.0 - np.float32(severity.banding) * np.abs(np.repeat(rows, 2, axis=1)).clip(0.0, 1.0).astype(np.float32),
        )
    return specked(copy, px_per_mm, severity.specks, rng, darkness=0.9)


def specked(page: Gray, px_per_mm: float, count: int, rng: np.random.Generator, darkness: float) -> Gray:
    """Return the page with that many specks of dust or toner, 0.1 to 0.5 mm across, anywhere."""
    page = page.copy()
    height, width = page.shape
    for _ in range(count):
        x, y = rng.uniform(0, width), rng.uniform(0, height)
        radius = 0.5 * float(0.1 + 0.4 * rng.random() ** 3) * px_per_mm
        angles = np.linspace(0, 2 * np.pi, 7, endpoint=False)
        blob = radius * rng.uniform(0.5, 1.3, 7)[:, None] * np.stack([np.cos(angles), np.sin(angles)], axis=1)
        reach = int(np.ceil(radius * 1.4)) + 1
        column, row = int(x) - reach, int(y) - reach
        patch = page[max(row, 0) : row + 2 * reach, max(column, 0) : column + 2 * reach]
        speck = filled((patch.shape[0], patch.shape[1]), [blob + reach], darkness) if patch.size else patch
        patch[...] = np.rint(patch * (1.0 - speck)).astype(np.uint8)
    return page


def stained(page: Gray, px_per_mm: float, rng: np.random.Generator, severity: StainSeverity) -> Gray:
    """Return the page with a table's traces: rings of wet glass feet, spots of coffee and sake, creases."""
    rows, columns = (round(side / px_per_mm * STAIN_PX_PER_MM) for side in page.shape)
    taken = np.zeros((rows, columns), dtype=np.float32)
    for _ in range(severity.wet_rings):
        taken += _ring(taken.shape, severity.ring_darkness, rng)
    for _ in range(severity.spots):
        taken += _spot(taken.shape, severity.spot_darkness, rng)
    page = lit(page, (1.0 - np.clip(taken, 0.0, 0.9)).astype(np.float32))
    for _ in range(severity.creases):
        page = _creased(page, px_per_mm, _wandering(page.shape, rng), severity.crease_darkness, rng)
    return page


def thirds_creased(page: Gray, px_per_mm: float, darkness: float, rng: np.random.Generator) -> Gray:
    """Return the page with the two creases of a letter folded in thirds."""
    height, width = page.shape
    for share in (1 / 3, 2 / 3):
        y = height * share + rng.normal(0.0, 1.5) * px_per_mm + np.array([0.0, rng.normal(0.0, 0.6) * px_per_mm])
        path = np.stack([np.array([0.0, width - 1.0]), y], axis=1)
        page = _creased(page, px_per_mm, path, darkness, rng)
    return page


def dog_eared(page: Gray, px_per_mm: float, corner: int, leg_mm: float, desk: float) -> tuple[Gray, Points]:
    """Return the page with one corner (0 … 3 clockwise from top left) folded over, and what is then hidden, in mm."""
    height_mm, width_mm = page.shape[0] / px_per_mm, page.shape[1] / px_per_mm
    tip = np.array([(0.0, 0.0), (width_mm, 0.0), (width_mm, height_mm), (0.0, height_mm)][corner])
    inward = np.where(tip > 0, -1.0, 1.0)
    one, other = tip + xy(inward[0] * leg_mm, 0.0), tip + xy(0.0, inward[1] * leg_mm)
    back = np.vstack([one, other, tip + inward * leg_mm])
    page = dimmed(page, back * px_per_mm + 2.0, 120.0, 3.0, through=0.4)
    page = dimmed(page, back * px_per_mm, 236.0, 0.5)
    page = dimmed(page, np.vstack([one, other, tip]) * px_per_mm, desk, 0.5)
    return page, np.vstack([one, tip, other, tip + inward * leg_mm])


def papery(page: Gray, px_per_mm: float, tone: float, rng: np.random.Generator, fibre: float = 1.0) -> Gray:
    """Return the page on paper of that tone (255 white), a little cloudy and with its grain."""
    rows, columns = (max(4, round(side / px_per_mm / 6)) for side in page.shape)
    clouds = np.float32(1.0) + np.float32(0.006 * fibre) * rng.standard_normal((rows, columns), dtype=np.float32)
    toned_clouds = (clouds * (tone / 255.0)).astype(np.float32)
    return grainy(lit(page, toned_clouds), 0.8 * fibre, rng, clump_px=0.6)


def _ring(shape: tuple[int, ...], darkness: float, rng: np.random.Generator) -> Field:
    """A glass foot's wet ring, 50 to 70 mm across, its rims darker, broken here and there."""
    scale = STAIN_PX_PER_MM
    centre = rng.uniform(0.1, 0.9, 2) * (shape[1], shape[0])
    radius, width = rng.uniform(25, 35) * scale, rng.uniform(1.0, 3.5) * scale
    angles = np.linspace(0, 2 * np.pi, 90)
    wobble = radius * (1 + 0.006 * np.sin(3 * angles + rng.uniform(0, 6)))
    path = centre + np.stack([wobble * np.cos(angles), wobble * np.sin(angles)], axis=1)
    size = shape[0], shape[1]
    ring = traced(size, path, width, [0.55 * darkness] * (len(path) - 1))
    for rim in (-0.5, 0.5):
        edge = centre + (path - centre) * (1 + rim * width / radius)
        ring += traced(size, edge, 0.35 * scale, [0.6 * darkness] * (len(path) - 1))
    patches = soft(rng.random((shape[0] // 16 + 1, shape[1] // 16 + 1), dtype=np.float32), 1.5)
    field: Field = soft(ring, 0.8) * _spread(patches, shape)
    return field


def _spot(shape: tuple[int, ...], darkness: float, rng: np.random.Generator) -> Field:
    """A dried drop, 2 to 18 mm across, paler inside than at its rim."""
    scale = STAIN_PX_PER_MM
    centre = rng.uniform(0.05, 0.95, 2) * (shape[1], shape[0])
    radius = 0.5 * float(2.0 + 16.0 * rng.random() ** 2) * scale
    angles = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    wobble = 1 + 0.10 * np.sin(2 * angles + rng.uniform(0, 6)) + 0.05 * np.sin(5 * angles + rng.uniform(0, 6))
    outline = centre + radius * wobble[:, None] * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    spot = filled((shape[0], shape[1]), [outline], 0.6 * darkness)
    rim = traced((shape[0], shape[1]), np.vstack([outline, outline[:1]]), 0.5 * scale, [0.4 * darkness] * len(outline))
    return soft(spot + rim, 0.9)


def _spread(patches: Field, shape: tuple[int, ...]) -> Field:
    spread = (patches - patches.min()) / max(float(np.ptp(patches)), 1e-6)
    rows = np.minimum(np.arange(shape[0]) // 16, patches.shape[0] - 1)
    columns = np.minimum(np.arange(shape[1]) // 16, patches.shape[1] - 1)
    field: Field = soft((0.35 + 0.65 * spread)[np.ix_(rows, columns)].astype(np.float32), 8.0)
    return field


def _wandering(shape: tuple[int, ...], rng: np.random.Generator) -> Points:
    """A crease from one edge of the page towards another, nearly straight."""
    height, width = shape
    start = np.array([0.0, rng.uniform(0.1, 0.9) * height])
    end = np.array([rng.uniform(0.4, 1.0) * width, rng.uniform(0.1, 0.9) * height])
    if rng.random() < 0.5:
        start, end = start[::-1] * (width / height, height / width), end[::-1] * (width / height, height / width)
    share = np.linspace(0, 1, 9)[:, None]
    bumps = rng.normal(0.0, 0.004, (9, 2)) * (width, height)
    path: Points = start + share * (end - start) + bumps
    return path


def _creased(page: Gray, px_per_mm: float, path: Points, darkness: float, rng: np.random.Generator) -> Gray:
    """The page with one crease: a thin broken dark line, a light one beside it, where toner has flaked off."""
    top = np.maximum(np.floor(path.min(axis=0) - 2 * px_per_mm), 0).astype(int)
    low = np.ceil(path.max(axis=0) + 2 * px_per_mm).astype(int)
    patch = page[top[1] : low[1], top[0] : low[0]]
    pieces = np.linspace(0, len(path) - 1, 160)
    fine = np.stack([np.interp(pieces, np.arange(len(path)), path[:, axis]) for axis in (0, 1)], axis=1) - top
    fine = fine + rng.normal(0.0, 0.03 * px_per_mm, fine.shape)
    width = max(1.0, float(rng.uniform(0.12, 0.35)) * px_per_mm)
    strengths = darkness * np.interp(np.arange(159), np.linspace(0, 158, 24), rng.uniform(0.1, 1.0, 24))
    size = patch.shape[0], patch.shape[1]
    line = soft(traced(size, fine, width, strengths.tolist()), 0.5)
    ridge = soft(traced(size, fine + xy(width, width), width, (0.5 * strengths).tolist()), 0.5)
    changed = patch * (1.0 - np.clip(line, 0, 1)) + (250.0 - patch) * np.clip(ridge, 0, 0.6)
    out = page.copy()
    out[top[1] : low[1], top[0] : low[0]] = np.clip(np.rint(changed), 0, 255).astype(np.uint8)
    return out
