"""The reader's fits against reference implementations: OpenCV's homography, NumPy's and SciPy's least squares."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.polynomial import polynomial
from scipy.interpolate import RegularGridInterpolator
from scipy.optimize import least_squares

from scanner.geometry import Floats, Rim, apply_homography, fit_bend, fit_homography, local_scale

PAGE = np.array([(x, y) for x in (10.0, 60.0, 150.0, 200.0) for y in (8.0, 100.0, 200.0, 290.0)])
SLIGHT = st.floats(-1.0, 1.0)


def view(numbers: list[float]) -> Floats:
    """Return a photograph-like homography from eight numbers between -1 and 1."""
    a, b, c, d, e, f, g, h = numbers
    return np.array([[7 + a, 2 * b, 200 + 90 * c], [2 * d, 7 + e, 300 + 90 * f], [g * 4e-4, h * 4e-4, 1.0]], np.float64)


@given(st.lists(SLIGHT, min_size=8, max_size=8))
def test_points_without_error_give_back_the_homography_they_came_from(numbers: list[float]) -> None:
    truth = view(numbers)
    assert fit_homography(PAGE, apply_homography(truth, PAGE)) == pytest.approx(truth, rel=1e-6, abs=1e-6)


@given(st.lists(SLIGHT, min_size=8, max_size=8))
def test_points_are_mapped_as_opencv_maps_them(numbers: list[float]) -> None:
    """OpenCV: cv2.perspectiveTransform."""
    truth = view(numbers)
    assert apply_homography(truth, PAGE) == pytest.approx(cv2.perspectiveTransform(PAGE[None], truth)[0], abs=1e-9)


@settings(max_examples=25)
@given(st.lists(SLIGHT, min_size=8, max_size=8), st.integers(0, 1000))
def test_noisy_points_are_fitted_as_well_as_by_least_squares_on_the_distance(numbers: list[float], seed: int) -> None:
    """SciPy: scipy.optimize.least_squares (Levenberg–Marquardt) on the distances; OpenCV: cv2.findHomography."""
    noisy = apply_homography(view(numbers), PAGE) + np.random.default_rng(seed).normal(0, 0.5, PAGE.shape)

    def distances(eight: Floats) -> Floats:
        return np.asarray((apply_homography(np.append(eight, 1.0).reshape(3, 3), PAGE) - noisy).ravel(), np.float64)

    def error(homography: Floats) -> float:
        return float(np.sqrt(np.mean(distances((homography / homography[2, 2]).ravel()[:8]) ** 2)))

    ours = fit_homography(PAGE, noisy)
    best = least_squares(distances, ours.ravel()[:8], method="lm", x_scale=np.abs(ours.ravel()[:8]) + 1e-9)
    by_opencv = np.asarray(cv2.findHomography(PAGE, noisy, 0)[0], np.float64)
    assert error(ours) <= 1.02 * error(np.append(best.x, 1.0).reshape(3, 3)) + 1e-9
    assert error(ours) <= 1.02 * error(by_opencv) + 1e-9


def test_a_point_of_no_weight_changes_nothing() -> None:
    truth = view([0.3, -0.2, 0.1, 0.5, -0.4, 0.2, 0.9, -0.7])
    points_px = apply_homography(truth, PAGE)
    points_px[5] += 40.0
    weights = np.ones(len(PAGE))
    weights[5] = 0.0
    assert fit_homography(PAGE, points_px, weights) == pytest.approx(truth, rel=1e-6, abs=1e-6)
    assert not np.allclose(fit_homography(PAGE, points_px), truth, atol=1e-2)


@given(st.lists(SLIGHT, min_size=8, max_size=8))
def test_local_scale_is_the_stretch_of_a_small_step(numbers: list[float]) -> None:
    """NumPy: singular values of a central difference, numpy.linalg.svd."""
    truth = view(numbers)
    step = 1e-4
    right = (
        apply_homography(truth, PAGE + np.array([step, 0])) - apply_homography(truth, PAGE - np.array([step, 0]))
    ) / (2 * step)
    down = (
        apply_homography(truth, PAGE + np.array([0, step])) - apply_homography(truth, PAGE - np.array([0, step]))
    ) / (2 * step)
    expected = np.linalg.svd(np.stack([right, down], axis=2), compute_uv=False)[:, ::-1]
    assert local_scale(truth, PAGE) == pytest.approx(expected, rel=1e-5)


@settings(max_examples=25)
@given(st.integers(0, 10_000), st.integers(1, 3))
def test_a_bend_is_the_least_squares_polynomial_where_nothing_strays(seed: int, degree: int) -> None:
    """NumPy: numpy.polynomial.polynomial.polyvander2d and numpy.linalg.lstsq, with terms up to the total degree."""
    rng = np.random.default_rng(seed)
    points = rng.uniform((0, 0), (210, 297), (60, 2))
    unit = points / (210, 297)
    full = polynomial.polyvander2d(unit[:, 0], unit[:, 1], [degree, degree])
    kept = [i * (degree + 1) + j for i in range(degree + 1) for j in range(degree + 1) if i + j <= degree]
    terms = full[:, kept]
    offsets = terms @ rng.normal(0, 2, (terms.shape[1], 2))
    bend = fit_bend(points, offsets, degree)
    reference = terms @ np.linalg.lstsq(terms, offsets, rcond=None)[0]
    assert bend.at(points) == pytest.approx(reference, abs=1e-6)


def test_stray_marks_do_not_bend_the_page() -> None:
    """SciPy: scipy.optimize.least_squares with loss "cauchy" agrees; plain least squares does not."""
    rng = np.random.default_rng(4)
    points = rng.uniform((0, 0), (210, 297), (50, 2))
    truth = 2.0 * (points[:, :1] / 210 - 0.5) ** 2 * np.array([1.0, -1.0])
    offsets = truth + rng.normal(0, 0.02, truth.shape)
    offsets[:8] += 3.0
    unit = points / (210, 297) - 0.5
    terms = np.stack([unit[:, 0] ** i * unit[:, 1] ** j for i in range(3) for j in range(3 - i)], axis=1)
    robust = np.stack(
        [
            terms @ least_squares(lambda c, v=values: terms @ c - v, np.zeros(6), loss="cauchy", f_scale=0.02).x
            for values in offsets.T
        ],
        axis=1,
    )
    bend = fit_bend(points, offsets, 2)
    assert np.abs(bend.at(points) - robust)[8:].max() < 0.03
    assert np.abs(bend.at(points) - truth).max() < 0.05
    plain = terms @ np.linalg.lstsq(terms, offsets, rcond=None)[0]
    assert np.abs(plain - truth).max() > 0.3


def test_a_bend_is_unsure_where_no_mark_was() -> None:
    points = np.array([(x, y) for x in np.linspace(0, 100, 8) for y in np.linspace(0, 100, 8)])
    offsets = np.random.default_rng(1).normal(0, 0.1, points.shape)
    bend = fit_bend(points, offsets, 3)
    inside, outside = bend.uncertainty_mm(np.array([[50.0, 50.0], [50.0, 250.0]]))
    assert inside < 0.06
    assert outside > 1.0


RIM_PLACES = np.linspace(0.0, 1.0, 6)


@settings(max_examples=25)
@given(st.integers(0, 10_000))
def test_a_rim_follows_its_edges_and_blends_between_them(seed: int) -> None:
    """SciPy: scipy.interpolate.RegularGridInterpolator reproduces a bilinear field from the rectangle's corners."""
    corners = np.random.default_rng(seed).normal(0, 2, (2, 2, 2))
    field = RegularGridInterpolator(((0.0, 210.0), (0.0, 297.0)), corners)

    def edge(x: Floats, y: Floats) -> Floats:
        return np.asarray(field(np.stack([np.broadcast_to(x, 6), np.broadcast_to(y, 6)], axis=1)), np.float64)

    across, down = RIM_PLACES * 210, RIM_PLACES * 297
    rim = Rim(
        np.zeros(2),
        np.array([210.0, 297.0]),
        (
            (across, edge(across, np.array(0.0))),
            (down, edge(np.array(210.0), down)),
            (across, edge(across, np.array(297.0))),
            (down, edge(np.array(0.0), down)),
        ),
    )
    points = np.random.default_rng(seed + 1).uniform((0, 0), (210, 297), (40, 2))
    assert rim.at(points) == pytest.approx(field(points), abs=1e-9)


def test_a_rim_keeps_a_kink_that_runs_across_the_page() -> None:
    def sag(y: Floats) -> Floats:
        return np.stack([np.zeros_like(y), 3.0 * (1 - np.abs(y - 99.0) / 99.0).clip(0)], axis=1)

    places = np.linspace(0, 297, 16)
    level = np.linspace(0, 210, 6)
    still = (level, np.tile(sag(np.zeros(1)), (6, 1)))
    foot = (level, np.tile(sag(np.array([297.0])), (6, 1)))
    rim = Rim(np.zeros(2), np.array([210.0, 297.0]), (still, (places, sag(places)), foot, (places, sag(places))))
    middle = np.stack([np.full(30, 105.0), np.linspace(1, 296, 30)], axis=1)
    # Linear between places 19.8 mm apart, of which 99 mm is one.
    assert np.abs(rim.at(middle) - sag(middle[:, 1])).max() < 1e-9
