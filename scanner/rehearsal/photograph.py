"""A telephone's photograph of a sheet on a table."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from scanner.rehearsal.arrays import Field, Gray, Points, xy
from scanner.rehearsal.desk import desk
from scanner.rehearsal.light import Light, gains
from scanner.rehearsal.optics import (
    blurred,
    dimmed,
    filled,
    grainy,
    lit,
    resized,
    sharpened,
    smeared,
    soft,
    through_jpeg,
    toned,
)
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.pose import Camera, Pose, aimed, rim
from scanner.rehearsal.surface import Surface
from scanner.rehearsal.warp import (
    homography,
    inverse,
    laid_bent,
    laid_flat,
    net_places,
    net_shape,
    shrunk_page,
    through,
)

NET_PX = 16
INVERSION_STEPS = 10


@dataclass(frozen=True, slots=True)
class PhotographSeverity:
    """How a photograph departs from the page. The plain values: from straight above, sharp, in even light.

    The frame has 4:3 sides, `long_px` the longer. What belongs to the pose, the surface and the light is told in
    `Pose`, `Surface` and `Light`; `light_slant` is how much slopes of the paper show, the light coming from where
    `direction_deg` points away. `thumb_mm` is how far a thumb reaches over corner `thumb_corner` (0 … 3 clockwise from
    top left). `glare` are strips of a plastic sleeve's reflections. `white` and `black` are the levels of paper in full
    light and of nothing; `chat_px`, if not 0, is the long side to which a messenger shrinks the photo before it
    compresses it once more.
    """

    long_px: int = 4032
    tilt_deg: float = 0.0
    azimuth_deg: float = 0.0
    rotation_deg: float = 0.0
    fill: float = 0.9
    shift_x: float = 0.0
    shift_y: float = 0.0
    cut_mm: float = 0.0
    cut_side: int = 0
    bend_mm: float = 0.0
    axis_deg: float = 0.0
    fold_top_deg: float = 0.0
    fold_bottom_deg: float = 0.0
    crumple_mm: float = 0.0
    crumple_seed: int = 0
    light_slant: float = 1.0
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
    thumb_mm: float = 0.0
    thumb_corner: int = 2
    glare: int = 0
    table: str = "plain"
    table_level: float = 70.0
    blur_px: float = 0.0
    motion_px: float = 0.0
    motion_deg: float = 0.0
    sharpening: float = 0.0
    white: float = 235.0
    black: float = 12.0
    gamma: float = 1.0
    noise: float = 0.0
    jpeg_quality: int = 100
    chat_px: int = 0
    chat_quality: int = 70


PLAIN = PhotographSeverity()

Part = TypeVar("Part", Pose, Light)


def photograph(page: Gray, px_per_mm: float, rng: np.random.Generator, severity: PhotographSeverity = PLAIN) -> Picture:
    """Return a photograph of the page, 4:3, standing or lying as the page does.

    `rng` draws what has no severity of its own: the table's grain, the sensor's noise.
    """
    height_mm, width_mm = page.shape[0] / px_per_mm, page.shape[1] / px_per_mm
    surface = _surface(severity, width_mm, height_mm)
    camera = aimed(surface, _part(Pose, severity), severity.long_px, severity.long_px * 3 // 4)
    view = _View(surface, camera)
    table = desk(camera.frame, severity.table, severity.table_level, rng)
    image = _laid(page, px_per_mm, view, lit(table, _contact_shadow(view, severity)))
    image, hidden = _with_thumb(image, view, severity)
    image = lit(image, _light(view, severity))
    image = _with_glare(image, view, severity, rng)
    image = _developed(image, rng, severity)
    if not severity.chat_px:
        return Picture(image, view.place, hidden)
    share = severity.chat_px / severity.long_px
    rows, columns = (round(side * share) for side in image.shape)
    image = through_jpeg(resized(image, columns, rows), severity.chat_quality)
    return Picture(image, lambda places: (view.place(places) + 0.5) * share - 0.5, hidden)


@dataclass(frozen=True, slots=True, eq=False)
class _View:
    """A sheet in front of a camera, and the homography that comes nearest."""

    surface: Surface
    camera: Camera

    def place(self, places_mm: Points) -> Points:
        return self.camera.sees(self.surface.over_desk(places_mm))

    def as_if_flat(self) -> NDArray[np.float64]:
        width, height = self.surface.width_mm, self.surface.height_mm
        corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float64)
        level = float(self.surface.over_desk(corners)[:, 2].mean())
        lying = np.column_stack([corners - (width / 2, height / 2), np.full(4, level)])
        return homography(corners, self.camera.sees(lying))

    def net(self) -> Points:
        """Return the places on the sheet, mm, seen at the nodes of a net over the image: places off it lie outside.

        The flat homography is corrected by how far the sheet's true picture is from it, again and again; this
        converges while the paper is not steep against the view.
        """
        flat = self.as_if_flat()
        back = inverse(flat)
        wanted = net_places(self.camera.frame, NET_PX)
        margin, limits = 4.0, (self.surface.width_mm, self.surface.height_mm)
        found = through(back, wanted)
        for _ in range(INVERSION_STEPS):
            near = np.clip(found, -margin, np.array(limits) + margin)
            found = through(back, wanted - (self.place(near) - through(flat, near)))
        return found


def _surface(severity: PhotographSeverity, width_mm: float, height_mm: float) -> Surface:
    return Surface(
        width_mm,
        height_mm,
        bend_mm=severity.bend_mm,
        axis_deg=severity.axis_deg,
        fold_deg=(severity.fold_top_deg, severity.fold_bottom_deg),
        crumple_mm=severity.crumple_mm,
        crumple_seed=severity.crumple_seed,
    )


def _part(kind: type[Part], severity: PhotographSeverity) -> Part:
    return kind(**{field.name: getattr(severity, field.name) for field in fields(kind)})


def _contact_shadow(view: _View, severity: PhotographSeverity) -> Field:
    """The narrow shadow that the sheet's edge throws on the table, away from the light."""
    rows, columns = net_shape(view.camera.frame, NET_PX)
    away = np.deg2rad(severity.direction_deg)
    outline = view.place(rim(view.surface)) + NET_PX * 0.8 * np.array([np.cos(away), np.sin(away)])
    return 1.0 - soft(filled((rows, columns), [outline / NET_PX], 0.55), 0.7)


def _laid(page: Gray, px_per_mm: float, view: _View, table: Gray) -> Gray:
    """The page on the table, in one warp, from a page reduced to the picture's greatest scale."""
    corners = np.array([(x, y) for x in (0.1, 0.9) for y in (0.1, 0.9)])
    corners = corners * (view.surface.width_mm, view.surface.height_mm)
    scale = np.hypot(*(view.place(corners + xy(0.7, 0.7)) - view.place(corners)).T).max() / np.hypot(0.7, 0.7)
    reduced, mm_to_page = shrunk_page(page, px_per_mm, float(scale))
    if view.surface.flat:
        return laid_flat(reduced, view.as_if_flat() @ inverse(mm_to_page), table)
    rows, columns = net_shape(view.camera.frame, NET_PX)
    net = through(mm_to_page, view.net()).reshape(rows, columns, 2)
    return laid_bent(reduced, net.astype(np.float32), NET_PX, table)


def _light(view: _View, severity: PhotographSeverity) -> Field:
    rows, columns = net_shape(view.camera.frame, NET_PX)
    field = gains(_part(Light, severity), view.camera.frame, rows, columns)
    if view.surface.flat:
        return field
    places = view.net()
    size = view.surface.width_mm, view.surface.height_mm
    beyond = np.max(np.abs(places - np.array(size) / 2) - np.array(size) / 2, axis=1, keepdims=True)
    slopes = (view.surface.slopes(places) * (beyond <= 2.0)).reshape(rows, columns, 2)
    toward = np.deg2rad(severity.direction_deg)
    facing = -slopes @ np.array([np.cos(toward), np.sin(toward)]) * severity.light_slant
    shaded: Field = field * np.clip((1.0 + facing) / np.sqrt(1.0 + np.square(slopes).sum(axis=2)), 0.3, 1.25)
    return shaded.astype(np.float32)


def _with_thumb(image: Gray, view: _View, severity: PhotographSeverity) -> tuple[Gray, tuple[Points, ...]]:
    """A thumb laid over one corner from outside, its soft shadow beside it; and what it hides."""
    if severity.thumb_mm <= 0.0:
        return image, ()
    width, height = view.surface.width_mm, view.surface.height_mm
    corner = np.array([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)][severity.thumb_corner])
    inward = np.where(corner > 0, -1.0, 1.0) * (0.62, 0.78)
    side = np.array([-inward[1], inward[0]])
    tip = corner + inward * (severity.thumb_mm - 9.0)
    round_tip = np.deg2rad(np.linspace(-90, 90, 15))
    cap = tip + 9.5 * (np.cos(round_tip)[:, None] * inward * 1.25 + np.sin(round_tip)[:, None] * side)
    outline = np.vstack([corner - inward * 95.0 - side * 15.0, cap, corner - inward * 95.0 + side * 15.0])
    px = view.as_if_flat()
    at = through(px, outline)
    scale = float(np.hypot(*(through(px, np.array([tip + side])) - through(px, np.array([tip])))[0]))
    image = dimmed(image, at + 2.2 * scale, 40.0, 2.2 * scale, through=0.55)
    image = dimmed(image, at, 128.0, 0.5 * scale)
    image = dimmed(image, through(px, tip + (outline - tip) * 0.72), 150.0, 2.5 * scale)
    nail = tip + 4.5 * inward + (cap - tip) * (0.52, 0.52)
    image = dimmed(image, through(px, nail), 172.0, 0.4 * scale)
    return image, (tip + (outline - tip) * 1.12,)


def _with_glare(image: Gray, view: _View, severity: PhotographSeverity, rng: np.random.Generator) -> Gray:
    """Bright strips across the sheet, as a plastic sleeve throws them."""
    width, height = view.surface.width_mm, view.surface.height_mm
    for _ in range(severity.glare):
        middle, lean = rng.uniform(0.1, 0.9, 2) * (width, height), float(rng.uniform(-0.5, 0.5))
        long, wide = float(rng.uniform(30, 140)), float(rng.uniform(1.0, 6.0))
        along = np.array([lean, 1.0]) * long / 2
        strip = np.vstack([middle - along, middle + xy(wide, 0.0), middle + along, middle - xy(wide, 0.0)])
        soft_px = 1.2 * float(np.hypot(*(view.place(middle[None] + xy(1.0, 0.0)) - view.place(middle[None]))[0]))
        image = dimmed(image, view.place(strip), 252.0, soft_px, through=float(rng.uniform(0.35, 0.75)))
    return image


def _developed(image: Gray, rng: np.random.Generator, severity: PhotographSeverity) -> Gray:
    """What lens, sensor and the telephone's own processing make of the light."""
    image = blurred(image, severity.blur_px)
    image = smeared(image, severity.motion_px, severity.motion_deg)
    image = toned(image, severity.black, severity.white, severity.gamma)
    image = grainy(image, severity.noise, rng, clump_px=0.7)
    image = sharpened(image, severity.sharpening, 1.2)
    return through_jpeg(image, severity.jpeg_quality)
