"""How a telephone is held over a sheet: a pinhole camera, aimed so that the page fills the frame as far as asked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scanner.rehearsal.arrays import Points
from scanner.rehearsal.surface import Surface

FOCAL_DIAGONALS = 26.0 / 43.27
"""Focal length over the frame's diagonal: 26 mm against a 24 × 36 mm frame, a common telephone lens (from memory)."""


STEPS, MOST_STEPS, NEAR = 11, 60, 0.005
"""The camera is moved so many times at least, and on while the share of the frame is not this near to its aim."""
LATE_GAIN = 0.6
"""Of a move, once it has been moved so often: seen from low down, whole moves go to and fro for ever."""


@dataclass(frozen=True, slots=True)
class Pose:
    """`tilt_deg` is the angle between the camera's axis and the desk's normal, leaning towards `azimuth_deg`;
    `rotation_deg` turns the page clockwise in the picture. `fill` is the share of the frame that the page's outline
    spans, in the direction where it spans more. `shift_x` and `shift_y` (−1 … 1) use up the room left beside it.
    `cut_mm` pushes the page over the frame's side `cut_side` (0 … 3: left, top, right, bottom) by so much."""

    tilt_deg: float = 0.0
    azimuth_deg: float = 0.0
    rotation_deg: float = 0.0
    fill: float = 0.8
    shift_x: float = 0.0
    shift_y: float = 0.0
    cut_mm: float = 0.0
    cut_side: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """A pinhole camera: places over the desk in mm go to pixels of a frame (rows, columns)."""

    frame: tuple[int, int]
    focal_px: float
    turn: NDArray[np.float64]
    shift_mm: NDArray[np.float64]

    def sees(self, over_desk: NDArray[np.float64]) -> Points:
        """Return the pixels, (N, 2), of places (x, y, height), (N, 3)."""
        ahead = (over_desk * (1.0, 1.0, -1.0)) @ self.turn.T + self.shift_mm
        centre = np.array([self.frame[1] - 1, self.frame[0] - 1]) / 2
        return np.asarray(self.focal_px * ahead[:, :2] / ahead[:, 2:] + centre, dtype=np.float64)


def aimed(surface: Surface, pose: Pose, long_px: int, short_px: int) -> Camera:
    """Return the camera that sees the sheet as the pose says; the frame stands upright or lies, as suits the page."""
    turn = _turned(pose)
    edge = surface.over_desk(rim(surface))
    spread = np.ptp((edge * (1.0, 1.0, -1.0)) @ turn.T, axis=0)
    frame = (short_px, long_px) if spread[0] > spread[1] else (long_px, short_px)
    focal_px = FOCAL_DIAGONALS * float(np.hypot(long_px, short_px))
    camera = Camera(frame, focal_px, turn, np.array([0.0, 0.0, focal_px * spread[1] / frame[0] + spread[2]]))
    size = np.array([frame[1], frame[0]])
    for step in range(MOST_STEPS):
        low, high = _span(camera, edge)
        share = float(((high - low) / size).max()) / pose.fill
        room = (size - (high - low) / share) / 2 * 0.98
        wanted = (size - 1) / 2 + room.clip(0.0) * (pose.shift_x, pose.shift_y)
        gain = 1.0 if step < STEPS else LATE_GAIN
        camera = _moved(camera, share**gain, gain * (wanted - (low + high) / 2))
        if step >= STEPS and abs(share - 1.0) < NEAR:
            break
    if pose.cut_mm > 0.0:
        low, high = _span(camera, edge)
        scale = float((high - low).max()) / float(np.hypot(*spread[:2]))
        camera = _moved(camera, 1.0, _over_the_side(pose, low, high, size, scale))
    return camera


def rim(surface: Surface) -> Points:
    """Return places along the sheet's edge, (52, 2), mm, clockwise from its top left corner."""
    share = np.linspace(0.0, 1.0, 13)
    nought, whole = np.zeros(13), np.ones(13)
    sides = [(share, nought), (whole, share), (share[::-1], whole), (nought, share[::-1])]
    points = np.vstack([np.column_stack(side) for side in sides])
    return np.asarray(points * (surface.width_mm, surface.height_mm), dtype=np.float64)


def _turned(pose: Pose) -> NDArray[np.float64]:
    spin, lean = np.deg2rad(pose.rotation_deg), np.deg2rad(pose.tilt_deg)
    in_plane = np.array([[np.cos(spin), -np.sin(spin), 0], [np.sin(spin), np.cos(spin), 0], [0, 0, 1.0]])
    x, y = np.cos(np.deg2rad(pose.azimuth_deg)), np.sin(np.deg2rad(pose.azimuth_deg))
    axis = np.array([[0, 0, y], [0, 0, -x], [-y, x, 0]])  # Rodrigues' formula about the axis (x, y, 0)
    leaning = np.eye(3) + np.sin(lean) * axis + (1 - np.cos(lean)) * axis @ axis
    return np.asarray(leaning @ in_plane, dtype=np.float64)


def _span(camera: Camera, edge: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    px = camera.sees(edge)
    return px.min(axis=0), px.max(axis=0)


def _moved(camera: Camera, farther: float, step_px: NDArray[np.float64]) -> Camera:
    """The camera so many times farther away, and moved so that the picture shifts by about that step."""
    distance = camera.shift_mm[2] * farther
    sideways = camera.shift_mm[:2] * farther + step_px * distance / camera.focal_px
    return Camera(camera.frame, camera.focal_px, camera.turn, np.array([*sideways, distance]))


def _over_the_side(
    pose: Pose, low: NDArray[np.float64], high: NDArray[np.float64], size: NDArray[np.int_], scale: float
) -> NDArray[np.float64]:
    cut_px = pose.cut_mm * scale
    steps = (
        (-low[0] - cut_px, 0.0),
        (0.0, -low[1] - cut_px),
        (size[0] - high[0] + cut_px, 0.0),
        (0.0, size[1] - high[1] + cut_px),
    )
    return np.array(steps[pose.cut_side])
