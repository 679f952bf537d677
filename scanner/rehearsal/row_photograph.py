"""Simulated photographs of turned coasters: labels in a row after the row-end card, on a table that was drunk at."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np

from kit.coasters import coaster_pages
from kit.record import Kit
from kit.sheet_layout import LabelPlace
from scanner.rehearsal.arrays import Gray, Points, xy
from scanner.rehearsal.light import Light, gains
from scanner.rehearsal.optics import (
    blurred,
    dimmed,
    grainy,
    lit,
    resized,
    sharpened,
    smeared,
    through_jpeg,
    toned,
)
from scanner.rehearsal.photograph import PhotographSeverity
from scanner.rehearsal.pose import Camera, Pose, aimed
from scanner.rehearsal.prints import PX_PER_MM, rendered
from scanner.rehearsal.severities import draw
from scanner.rehearsal.surface import Surface
from scanner.rehearsal.tables import table_top
from scanner.rehearsal.warp import Matrix, homography, through
from scanner.rehearsal.wet import with_drop, with_reflection, with_rim, with_ring, with_soaked_patch

Coaster = Literal["round", "square", "octagon", "none"]
Pixels = Literal["12", "chat"]

MARGIN_MM = 8.0
GLASS_MM = (48.0, 72.0)
"""The foot of a tasting glass across: wet rings are of that size."""


@dataclass(frozen=True, slots=True)
class Lie:
    """How a row lies, and what lies on it: see `rows.toml`. Counts of wet things are for the whole row."""

    pitch_mm: float = 100.0
    pitch_jitter: float = 0.0
    offline_mm: float = 0.0
    arc_mm: float = 0.0
    card_gap: float = 1.0
    card_turn_deg: float = 0.0
    coaster: Coaster = "none"
    coaster_mm: float = 84.0
    coaster_level: float = 120.0
    cut_mm: float = 0.0
    wet_rings: int = 0
    ring_darkness: float = 0.2
    soaked: int = 0
    soaked_darkness: float = 0.2
    drops: int = 0
    drop_mm: float = 4.0
    reflections: int = 0
    reflection_mm: float = 15.0
    reflection_clear: float = 0.4
    rims: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Faces:
    """The printed faces of a kit's labels by coaster number, and of its row-end cards by taster."""

    coasters: Mapping[int, Gray]
    cards: Mapping[int, Gray]


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """A face on the table: where its centre is, and by how much it is turned clockwise."""

    face: Gray
    centre_mm: tuple[float, float]
    turn_deg: float
    is_card: bool = False


def faces_of(kit: Kit) -> Faces:
    """Return every label and card of the kit as the printer prints it, cut out along its outline."""
    pages = coaster_pages(kit)
    pictures = list(rendered(pages.pages))
    return Faces(
        {place.number: _cut_out(pictures, place) for place in pages.coasters},
        {place.number: _cut_out(pictures, place) for place in pages.row_ends},
    )


def severities_of(pixels: Pixels, rng: np.random.Generator, *, kept: bool = False) -> tuple[Lie, PhotographSeverity]:
    """Return a row and a camera drawn from `rows.toml`: 12 megapixels, or a chat's 1,600 px; `kept` for the last."""
    tables = {("12", False): "photo", ("chat", False): "photo.chat", ("12", True): "photo.kept"}
    table = tables.get((pixels, kept), "photo.kept_chat")
    lie = draw(Lie, "rows.lie.kept" if kept else "rows.lie", rng)
    return lie, draw(PhotographSeverity, f"rows.{table}", rng)


def laid_in_a_row(card: Gray | None, labels: Sequence[Gray], lie: Lie, rng: np.random.Generator) -> tuple[Piece, ...]:
    """Lay the card, if any, and the labels from left to right; each label is turned by any angle."""
    pitch_mm = lie.pitch_mm if lie.coaster == "none" else max(lie.pitch_mm, lie.coaster_mm + 2.0)
    count = len(labels) + 1
    at = np.arange(count) * pitch_mm
    at[0] -= (max(lie.card_gap, 64.0 / pitch_mm) - 1.0) * pitch_mm
    slack_mm = min(lie.pitch_jitter * pitch_mm, (pitch_mm - (62.0 if lie.coaster == "none" else lie.coaster_mm)) / 2)
    at[1:] += rng.uniform(-1.0, 1.0, count - 1) * max(slack_mm, 0.0)
    share = np.linspace(-1.0, 1.0, count)
    off = rng.uniform(-1.0, 1.0, count) * lie.offline_mm + lie.arc_mm * (1.0 - share**2)
    pieces = [
        Piece(face, (float(at[place]), float(off[place])), float(rng.uniform(0.0, 360.0)))
        for place, face in enumerate(labels, start=1)
    ]
    return tuple(
        ([] if card is None else [Piece(card, (float(at[0]), float(off[0])), lie.card_turn_deg, True)]) + pieces
    )


def photographed(pieces: Sequence[Piece], lie: Lie, camera: PhotographSeverity, rng: np.random.Generator) -> Gray:
    """Return a photograph of the pieces on a table, as a telephone or, with `chat_px`, a messenger keeps it."""
    centres = np.array([piece.centre_mm for piece in pieces])
    reach = max(lie.coaster_mm, 62.0) / 2 + MARGIN_MM
    origin, far = centres.min(axis=0) - reach, centres.max(axis=0) + reach
    surface = Surface(*(far - origin).tolist())
    pose = Pose(camera.tilt_deg, camera.azimuth_deg, camera.rotation_deg, camera.fill, camera.shift_x, camera.shift_y)
    view = aimed(surface, pose, camera.long_px, camera.long_px * 3 // 4)
    to_px = _plane_to_px(surface, view, origin)
    image = table_top(view.frame, camera.table, camera.table_level, rng)
    shares = _shared_out(lie, len(pieces), rng)
    for piece, share in zip(pieces, shares, strict=True):
        image = _laid(image, piece, share, camera, to_px, rng)
    return _developed(image, camera, rng)


def _cut_out(pictures: Sequence[Gray], place: LabelPlace) -> Gray:
    x, y, w, h = (round(mm * PX_PER_MM) for mm in (place.x_mm, place.y_mm, place.w_mm, place.h_mm))
    return np.ascontiguousarray(pictures[place.pdf_page - 1][y : y + h, x : x + w])


def _plane_to_px(surface: Surface, view: Camera, origin: Points) -> Matrix:
    """Return the homography from millimetres on the table to pixels: the table is flat."""
    width, height = surface.width_mm, surface.height_mm
    corners = np.array([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)])
    return homography(corners + origin, view.sees(surface.over_desk(corners)))


def _shared_out(lie: Lie, pieces: int, rng: np.random.Generator) -> list[Lie]:
    """Return the lie of each piece alone, with what of the row's wetness falls on it."""
    counts = (lie.wet_rings, lie.soaked, lie.drops, lie.reflections, lie.rims)
    falls = [np.bincount(rng.integers(pieces, size=count), minlength=pieces).tolist() for count in counts]
    return [
        replace(lie, wet_rings=rings, soaked=soaked, drops=drops, reflections=reflections, rims=rims)
        for rings, soaked, drops, reflections, rims in zip(*falls, strict=True)
    ]


def _laid(
    image: Gray, piece: Piece, lie: Lie, camera: PhotographSeverity, to_px: Matrix, rng: np.random.Generator
) -> Gray:
    """Lay one label, on its coaster, upon the picture."""
    centre = np.array(piece.centre_mm)
    near = through(to_px, centre + np.array([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)]))
    scale = float(np.clip(np.hypot(*(near[1:] - near[0]).T).max(), 0.3, PX_PER_MM))
    tile, mask = _tile(piece, lie, scale, rng)
    tile = _wetted(tile, lie, scale, rng)
    angle = np.deg2rad(piece.turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1.0]])
    half = (tile.shape[0] - 1) / 2
    from_tile = np.array([[1 / scale, 0, -half / scale], [0, 1 / scale, -half / scale], [0, 0, 1.0]])
    place = np.array([[1, 0, centre[0]], [0, 1, centre[1]], [0, 0, 1.0]])
    tile_to_px = to_px @ place @ turn @ from_tile
    if lie.coaster != "none" and not piece.is_card:
        image = _with_shadow(image, tile_to_px, mask, camera, scale)
    return _pasted(image, tile, mask, tile_to_px)


def _tile(piece: Piece, lie: Lie, scale: float, rng: np.random.Generator) -> tuple[Gray, Gray]:
    """Return one label on its coaster, seen from straight above, and where it is (255)."""
    coaster: Coaster = "none" if piece.is_card else lie.coaster
    label = max(8, round((60.0 + lie.cut_mm) * scale))
    side = label if coaster == "none" else max(label + 2, round(lie.coaster_mm * scale))
    tile = np.full((side, side), round(lie.coaster_level), np.uint8)
    mask = np.zeros((side, side), np.uint8)
    middle = (side - 1) / 2
    if coaster == "round":
        cv2.circle(mask, (round(middle * 16), round(middle * 16)), round((middle - 1) * 16), 255, -1, cv2.LINE_AA, 4)
    elif coaster == "octagon":
        turn = np.deg2rad(np.arange(22.5, 360, 45))
        outline = middle + (middle - 1) * np.column_stack([np.cos(turn), np.sin(turn)])
        cv2.fillPoly(mask, [np.rint(outline * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    else:
        mask[...] = 255
    slip = np.array([0, 0]) if coaster == "none" else np.rint(rng.uniform(-2.0, 2.0, 2) * scale).astype(int)
    first = np.clip((side - label) // 2 + slip, 0, side - label)
    place = slice(int(first[1]), int(first[1]) + label), slice(int(first[0]), int(first[0]) + label)
    tile[place] = _trimmed(piece.face, lie.cut_mm, label)
    mask[place] = 255
    return tile, mask


def _trimmed(face: Gray, cut_mm: float, label_px: int) -> Gray:
    """The face as cut out, inside its outline or with some paper around it."""
    cut_px = round(abs(cut_mm) / 2 * PX_PER_MM)
    if cut_mm < 0.0:
        cut = face[cut_px : face.shape[0] - cut_px, cut_px : face.shape[1] - cut_px]
    else:
        cut = np.asarray(cv2.copyMakeBorder(face, *(cut_px,) * 4, cv2.BORDER_CONSTANT, value=255), np.uint8)
    return resized(cut, label_px, label_px)


def _wetted(tile: Gray, lie: Lie, scale: float, rng: np.random.Generator) -> Gray:
    side = len(tile)

    def somewhere(reach: float = 0.5) -> Points:
        return side / 2 + rng.uniform(-reach, reach, 2) * side

    for _ in range(lie.soaked):
        radius = float(rng.uniform(8.0, 26.0)) * scale
        tile = with_soaked_patch(tile, somewhere(), radius, lie.soaked_darkness, rng)
    for _ in range(lie.wet_rings):
        radius = float(rng.uniform(*GLASS_MM)) / 2 * scale
        width = float(rng.uniform(1.5, 6.0)) * scale
        tile = with_ring(tile, somewhere(0.35), radius, width, lie.ring_darkness, rng)
    for _ in range(lie.drops):
        tile = with_drop(tile, somewhere(), float(rng.uniform(0.4, 1.0)) * lie.drop_mm * scale)
    for _ in range(lie.rims):
        radius = float(rng.uniform(*GLASS_MM)) / 2 * scale
        tile = with_rim(tile, somewhere(0.6), radius, float(rng.uniform(0.6, 2.0)) * scale, rng)
    for _ in range(lie.reflections):
        tile = with_reflection(tile, somewhere(), lie.reflection_mm * scale, lie.reflection_clear, rng)
    return tile


def _with_shadow(image: Gray, tile_to_px: Matrix, mask: Gray, camera: PhotographSeverity, scale: float) -> Gray:
    """The narrow shadow that a coaster's edge throws on the table, away from the light."""
    middle = (len(mask) - 1) / 2
    turn = np.deg2rad(np.arange(0, 360, 15))
    reach = np.maximum(np.abs(np.cos(turn)), np.abs(np.sin(turn))) if mask[0, 0] else np.ones(len(turn))
    outline = middle + middle * np.column_stack([np.cos(turn), np.sin(turn)]) / reach[:, None]
    away = np.deg2rad(camera.direction_deg)
    step = 1.5 * scale * xy(float(np.cos(away)), float(np.sin(away)))
    return dimmed(image, through(tile_to_px, outline) + step, 0.0, 1.2 * scale, through=0.6)


def _pasted(image: Gray, tile: Gray, mask: Gray, tile_to_px: Matrix) -> Gray:
    side = len(tile)
    corners = through(tile_to_px, np.array([(0.0, 0.0), (side, 0.0), (side, side), (0.0, side)]))
    first = np.maximum(np.floor(corners.min(axis=0)).astype(int) - 2, 0)
    last = np.minimum(np.ceil(corners.max(axis=0)).astype(int) + 3, (image.shape[1], image.shape[0]))
    if (last <= first).any():
        return image
    shift = np.array([[1.0, 0.0, -first[0]], [0.0, 1.0, -first[1]], [0.0, 0.0, 1.0]])
    size = tuple(int(length) for length in last - first)
    face = cv2.warpPerspective(tile, shift @ tile_to_px, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    cover = cv2.warpPerspective(mask, shift @ tile_to_px, size, flags=cv2.INTER_LINEAR).astype(np.float32) / 255.0
    out = image.copy()
    place = out[first[1] : last[1], first[0] : last[0]]
    place[...] = np.rint(place * (1.0 - cover) + face * cover).astype(np.uint8)
    return out


def _developed(image: Gray, camera: PhotographSeverity, rng: np.random.Generator) -> Gray:
    """What light, lens, sensor and the telephone's own processing make of the table."""
    light = Light(**{name: getattr(camera, name) for name in Light.__dataclass_fields__})
    image = lit(image, gains(light, image.shape, 60, 60))
    image = smeared(blurred(image, camera.blur_px), camera.motion_px, camera.motion_deg)
    image = toned(image, camera.black, camera.white, camera.gamma)
    image = sharpened(grainy(image, camera.noise, rng, clump_px=0.7), camera.sharpening, 1.2)
    image = through_jpeg(image, camera.jpeg_quality)
    if not camera.chat_px:
        return image
    rows, columns = (round(side * camera.chat_px / max(image.shape)) for side in image.shape)
    return through_jpeg(resized(image, columns, rows), camera.chat_quality)
