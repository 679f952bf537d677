"""The table's plane out of squares of one size, and the order along a row: laws of geometry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanner.rehearsal.arrays import Points
from scanner.rehearsal.photograph import PhotographSeverity
from scanner.rehearsal.pose import Pose, aimed
from scanner.rehearsal.surface import Surface
from scanner.row_geometry import along_row, fit_plane, turn_deg

SIDE_MM = 33.6


def squares(centres: Points, turns_deg: list[float]) -> Points:
    half = SIDE_MM / 2 * np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)])
    radians = np.deg2rad(turns_deg)
    turns = np.array([[np.cos(radians), -np.sin(radians)], [np.sin(radians), np.cos(radians)]]).transpose(2, 0, 1)
    return np.asarray(centres[:, None] + half @ turns.transpose(0, 2, 1), np.float64)


@given(
    st.lists(st.floats(0.0, 360.0), min_size=6, max_size=6),
    st.floats(0.0, 35.0),
    st.floats(0.0, 360.0),
    st.floats(0.0, 360.0),
)
def test_the_plane_gives_distances_back_whatever_the_view(
    turns_deg: list[float], tilt_deg: float, azimuth_deg: float, rotation_deg: float
) -> None:
    """The view is that of the simulator's pinhole camera, which knows nothing of the fit."""
    centres = np.column_stack([60.0 + 100.0 * np.arange(6), np.full(6, 60.0)])
    surface = Surface(620.0, 120.0)
    pose = Pose(tilt_deg=tilt_deg, azimuth_deg=azimuth_deg, rotation_deg=rotation_deg, fill=0.9)
    camera = aimed(surface, pose, PhotographSeverity().long_px, 3024)
    corners = squares(centres, turns_deg)
    seen = camera.sees(surface.over_desk(corners.reshape(-1, 2))).reshape(6, 4, 2)
    plane = fit_plane(list(seen), SIDE_MM)
    found = plane.to_mm(seen.reshape(-1, 2)).reshape(6, 4, 2).mean(axis=1)
    apart = np.linalg.norm(found[:, None] - found[None], axis=2)
    assert apart == pytest.approx(np.linalg.norm(centres[:, None] - centres[None], axis=2), abs=2.5)


def test_the_plane_leads_there_and_back() -> None:
    seen = [np.array([(100.0, 90.0), (190.0, 100.0), (185.0, 200.0), (95.0, 180.0)])]
    plane = fit_plane(seen, SIDE_MM)
    assert plane.to_px(plane.to_mm(seen[0])) == pytest.approx(seen[0], abs=1e-6)


@given(st.permutations(range(5)), st.floats(0.0, 360.0), st.lists(st.floats(-8.0, 8.0), min_size=6, max_size=6))
def test_the_order_along_a_row_begins_at_its_first(order: list[int], turn: float, off_mm: list[float]) -> None:
    places = np.column_stack([np.arange(6) * 95.0, off_mm])
    radians = np.deg2rad(turn)
    places = places @ np.array([[np.cos(radians), np.sin(radians)], [-np.sin(radians), np.cos(radians)]])
    shuffled = np.vstack([places[:1], places[1:][order]])
    row = along_row(shuffled, 0)
    assert [order[index - 1] if index else -1 for index in row.order] == [-1, 0, 1, 2, 3, 4]
    assert row.bends_deg.max() < 20.0
    assert row.off_mm.max() < 16.0


def test_a_square_s_turn_is_the_angle_of_its_upper_side() -> None:
    [square] = squares(np.zeros((1, 2)), [30.0])
    assert turn_deg(square, np.array([1.0, 0.0])) == pytest.approx(30.0)
    assert turn_deg(square, np.array([-1.0, 0.0])) == pytest.approx(150.0)
