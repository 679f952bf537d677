"""The two fits behind a sheet's place in an image: a homography, and a smooth bend on top of it.

Points are (N, 2) arrays of (x, y), y down: mm on the printed page, or px with a pixel's centre at whole numbers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def fit_homography(points_mm: Floats, points_px: Floats, weights: Floats | None = None) -> Floats:
    """Return the (3, 3) homography, h[2, 2] == 1, that takes the points in mm nearest to those in px.

    Parameters
    ----------
    points_mm, points_px : (N, 2) array of float
        N >= 4, not all but one on a line.
    weights : (N,) array of float, optional
        How much each point counts.

    Notes
    -----
    The normalised direct linear transform [1]_; twice reweighted by the projective depth, so that the error that is
    made small is the distance in px.

    References
    ----------
    .. [1] R. Hartley and A. Zisserman, Multiple View Geometry in Computer Vision, 2nd ed., 2004, algorithm 4.2.
    """
    to_unit_mm, to_unit_px = _normaliser(points_mm), _normaliser(points_px)
    source, target = _homogeneous(points_mm) @ to_unit_mm.T, _homogeneous(points_px) @ to_unit_px.T
    nought = np.zeros_like(source)
    rows = np.concatenate(
        [
            np.concatenate([source, nought, -target[:, :1] * source], axis=1),
            np.concatenate([nought, source, -target[:, 1:2] * source], axis=1),
        ]
    )
    scale = np.ones(len(source)) if weights is None else np.asarray(weights, np.float64)
    unit = np.eye(3)
    depth = np.ones(len(source))
    for _ in range(3):
        weight = np.tile(scale / depth, 2)
        unit = np.linalg.svd(rows * weight[:, None], full_matrices=len(rows) < 9)[2][-1].reshape(3, 3)
        unit = unit / unit[2, 2]
        depth = np.maximum(np.abs(source @ unit[2]), 1e-9)
    homography = np.linalg.inv(to_unit_px) @ unit @ to_unit_mm
    return np.asarray(homography / homography[2, 2], np.float64)


def apply_homography(homography: Floats, points: Floats) -> Floats:
    """Return where the homography takes the (N, 2) points."""
    mapped = _homogeneous(points) @ homography.T
    return np.asarray(mapped[:, :2] / mapped[:, 2:], np.float64)


def local_scale(homography: Floats, points: Floats) -> Floats:
    """Return the (N, 2) least and greatest length, px, of a millimetre drawn at each of the points."""
    homogeneous = _homogeneous(points)
    depth = homogeneous @ homography[2]
    mapped = apply_homography(homography, points)
    jacobian = (homography[:2, :2] - mapped[:, :, None] * homography[2, :2]) / depth[:, None, None]
    return np.asarray(np.linalg.svd(jacobian, compute_uv=False)[:, ::-1], np.float64)


@dataclass(frozen=True, slots=True)
class Bend:
    """A smooth field of displacements over the page, mm: a polynomial in both directions.

    `covariance` is that of one direction's coefficients for errors of 1 mm; `scatter_mm` the spread found.
    """

    degree: int
    centre_mm: Floats
    reach_mm: Floats
    coefficients: Floats
    covariance: Floats
    scatter_mm: float

    def at(self, points_mm: Floats) -> Floats:
        """Return the (N, 2) displacements at the points, mm."""
        return np.asarray(self._terms(points_mm) @ self.coefficients, np.float64)

    def uncertainty_mm(self, points_mm: Floats) -> Floats:
        """Return the (N,) standard errors of the displacements, mm: large where no point was near."""
        terms = self._terms(points_mm)
        variance = np.einsum("ni,ij,nj->n", terms, self.covariance, terms)
        return np.asarray(self.scatter_mm * np.sqrt(variance), np.float64)

    def _terms(self, points_mm: Floats) -> Floats:
        return _terms((points_mm - self.centre_mm) / self.reach_mm, self.degree)


def no_bend() -> Bend:
    """Return the bend of a flat sheet."""
    return Bend(0, np.zeros(2), np.ones(2), np.zeros((1, 2)), np.zeros((1, 1)), 0.0)


def fit_bend(points_mm: Floats, offsets_mm: Floats, degree: int, *, least_scatter_mm: float = 0.01) -> Bend:
    """Return the polynomial of `degree` that follows most of the offsets and lets stray ones be.

    Parameters
    ----------
    points_mm, offsets_mm : (N, 2) array of float
        N must be at least the number of terms, (degree + 1)(degree + 2) / 2.

    Notes
    -----
    Iteratively reweighted least squares with Tukey's biweight at 4.685 robust standard deviations [1]_, started from
    least absolute deviations.

    References
    ----------
    .. [1] P. J. Huber and E. M. Ronchetti, Robust Statistics, 2nd ed., 2009, ch. 7.
    """
    low, high = points_mm.min(axis=0), points_mm.max(axis=0)
    centre, reach = (low + high) / 2, np.maximum((high - low) / 2, 1e-6)
    terms = _terms((points_mm - centre) / reach, degree)
    weight = np.ones(len(points_mm))
    coefficients: Floats = np.zeros((terms.shape[1], 2))
    scatter = least_scatter_mm
    for turn in range(12):
        root = np.sqrt(weight)[:, None]
        coefficients = np.asarray(np.linalg.lstsq(terms * root, offsets_mm * root, rcond=None)[0], np.float64)
        distance = np.linalg.norm(offsets_mm - terms @ coefficients, axis=1)
        # The median of a two-dimensional normal error's length is 1.1774 standard deviations of one direction.
        scatter = max(least_scatter_mm, float(np.median(distance)) / 1.1774)
        if turn < 4:
            weight = 1.0 / np.maximum(distance, scatter)
            weight = weight / weight.max()
        else:
            weight = np.clip(1.0 - (distance / (4.685 * 1.4142 * scatter)) ** 2, 0.0, None) ** 2
    covariance = np.asarray(np.linalg.pinv((terms * weight[:, None]).T @ terms), np.float64)
    return Bend(degree, centre, reach, coefficients, covariance, scatter)


@dataclass(frozen=True, slots=True)
class Rim:
    """Displacements found along the four edges of a rectangle, mm, blended over its inside.

    `low_mm` and `high_mm` are the rectangle's corners. `sides` are above, right, below and left: for each, places along
    it in rising order and the (N, 2) displacements there.

    Notes
    -----
    The bilinearly blended Coons patch [1]_, linear between the places: it follows a fold that no polynomial does.

    References
    ----------
    .. [1] S. A. Coons, Surfaces for Computer-Aided Design of Space Forms, MIT Project MAC TR-41, 1967 (from memory).
    """

    low_mm: Floats
    high_mm: Floats
    sides: tuple[tuple[Floats, Floats], ...]

    def at(self, points_mm: Floats) -> Floats:
        """Return the (N, 2) displacements at the points, mm; outside of the rectangle those of its nearest edge."""
        share = np.clip((points_mm - self.low_mm) / (self.high_mm - self.low_mm), 0.0, 1.0)
        x, y = (self.low_mm + share * (self.high_mm - self.low_mm)).T
        u, v = share[:, :1], share[:, 1:]
        above, right, below, left = (_along(side, place) for side, place in zip(self.sides, (x, y, x, y), strict=True))
        corners = [
            (1 - u) * (1 - v) * self._corner(0, 0, 3, 0),
            u * (1 - v) * self._corner(0, -1, 1, 0),
            u * v * self._corner(2, -1, 1, -1),
            (1 - u) * v * self._corner(2, 0, 3, -1),
        ]
        return np.asarray((1 - v) * above + v * below + (1 - u) * left + u * right - sum(corners), np.float64)

    def _corner(self, one: int, one_end: int, other: int, other_end: int) -> Floats:
        return np.asarray((self.sides[one][1][one_end] + self.sides[other][1][other_end]) / 2, np.float64)


def no_rim() -> Rim:
    """Return the rim that displaces nothing."""
    still = (np.zeros(1), np.zeros((1, 2)))
    return Rim(np.zeros(2), np.ones(2), (still, still, still, still))


def _along(side: tuple[Floats, Floats], place: Floats) -> Floats:
    places, values = side
    return np.stack([np.interp(place, places, values[:, axis]) for axis in (0, 1)], axis=1)


def _terms(unit: Floats, degree: int) -> Floats:
    x, y = unit[:, 0], unit[:, 1]
    return np.stack([x**i * y**j for i in range(degree + 1) for j in range(degree + 1 - i)], axis=1)


def _homogeneous(points: Floats) -> Floats:
    return np.concatenate([points, np.ones((len(points), 1))], axis=1)


def _normaliser(points: Floats) -> Floats:
    """Return the similarity that moves the points' mean to the origin, their mean distance to the root of two."""
    mean = points.mean(axis=0)
    distance = float(np.mean(np.linalg.norm(points - mean, axis=1)))
    scale = 2**0.5 / max(distance, 1e-12)
    return np.array([[scale, 0.0, -scale * mean[0]], [0.0, scale, -scale * mean[1]], [0.0, 0.0, 1.0]])
