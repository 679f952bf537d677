"""How a taster's ability moved from sitting to sitting: a filter and a smoother on a grid, with a band."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scanner.results.ability import CONFIDENCE, faces, padded
from scanner.results.counted import Counts

Floats = NDArray[np.float64]

SPACING = 0.1
GRID: Floats = np.arange(-20.0, 51.0) * SPACING
"""The abilities θ looked at: from .1 to 5.0 correct of five."""
STEP_WIDTHS: Floats = np.array([0.0, 0.02, 0.04, 0.08, 0.16])
"""By how much the ability may move from one sitting to the next: the standard deviation of θ's step."""
WEIGHTS: Floats = np.array([0.0, 0.3, 0.6, 1.0, 1.5, 2.0])
"""How much a flight's difficulty may weigh: nought, a part of what the difficulty's own scale says, all of it, more."""
BEFOREHAND_SD = 1.5
"""Before any sitting the ability is normal about a guesser's, nought, with this standard deviation."""
SHRINKAGE = 0.5
"""Before any sitting a difficulty's weight w has a density in proportion to e^(−w/SHRINKAGE)."""

PLAUSIBLE = 1.92
"""Weights whose log likelihood is less than the best by no more than half of χ²'s 95 % point, one degree of freedom."""


@dataclass(frozen=True, slots=True)
class Course:
    """The ability at every sitting, as correct of five on a middling flight, and what was learnt on the way.

    `smoothed` knows all sittings, `filtered` only those up to each: rows of low end, median, high end, an (m, 3) array
    each. `step_width` and `weight` are the likeliest; the bands average over all of them. `weights_chance` is how
    probable each of `WEIGHTS` is (nought for certain where no difficulties were given), `plausible_weights` the ends of
    those that the sittings do not speak against.
    """

    smoothed: Floats
    filtered: Floats
    step_width: float
    weight: float
    weights_chance: Floats
    plausible_weights: tuple[float, float]


def course(
    counts: Sequence[Counts],
    correct: Sequence[int],
    difficulties: Sequence[float] | None = None,
    confidence: float = CONFIDENCE,
) -> Course:
    """Follow a taster's ability over sittings in the order of their dates.

    Parameters
    ----------
    counts : sequence of m laws of guessing, one or more
    correct : sequence of m int
    difficulties : sequence of m float
        What each flight takes off the ability if its difficulty has weight one; left out, all flights are middling.
    confidence : float
        Of the bands, at each sitting by itself.

    Raises
    ------
    ValueError
        If a number correct cannot be, or lengths differ.

    Notes
    -----
    Ability a_i at sitting i, a_1 ~ N(0, BEFOREHAND_SD²), a_(i+1) = a_i + a step of standard deviation s; the number
    correct follows P_θ(k) ∝ P_0(k)·e^{θk} with θ = a_i − w·d_i. For every s of STEP_WIDTHS and w of WEIGHTS the forward
    pass gives the filter and the marginal likelihood, the backward pass the smoother [1]_, on the same grid. A step
    goes up or down by whole grid spacings, or not at all, with the chances that give it the variance s²; the grid's
    ends reflect. Then s (all equally likely beforehand) and w (shrunk to nought) are averaged out by their marginal
    likelihood, so that a band also knows how little is known of them.

    References
    ----------
    .. [1] G. Kitagawa, "Non-Gaussian state-space modeling of nonstationary time series", J. Am. Stat. Assoc. 82 (1987)
       1032–1041 [memory].
    """
    weights = WEIGHTS[:1] if difficulties is None else WEIGHTS
    likelihood = _likelihood(padded(counts), np.asarray(correct), difficulties, weights)
    laws, evidence = _forward(likelihood)
    # How probable each step width and weight is after each sitting, (m, S, W).
    logs = np.cumsum(evidence, axis=0) - weights / SHRINKAGE
    chances = np.exp(logs - logs.max(axis=(1, 2), keepdims=True))
    chances /= chances.sum(axis=(1, 2), keepdims=True)
    last = chances[-1]
    best = np.cumsum(evidence, axis=0)[-1].max(axis=0)
    borne_out = weights[best >= best.max() - PLAUSIBLE]
    of_weights = np.zeros(len(WEIGHTS))
    of_weights[: len(weights)] = last.sum(axis=0)
    filtered = np.einsum("mswg,msw->mg", laws, chances)
    _smooth(laws, likelihood)
    return Course(
        smoothed=_band(np.einsum("mswg,sw->mg", laws, last), confidence),
        filtered=_band(filtered, confidence),
        step_width=float(STEP_WIDTHS[last.sum(axis=1).argmax()]),
        weight=float(weights[last.sum(axis=0).argmax()]),
        weights_chance=of_weights,
        plausible_weights=(float(borne_out[0]), float(borne_out[-1])),
    )


def _likelihood(
    table: Floats, correct: NDArray[np.intp], difficulties: Sequence[float] | None, weights: Floats
) -> Floats:
    """Return the chance of the number correct at each sitting, for each weight and ability: (m, W, G)."""
    offsets = np.zeros(len(table)) if difficulties is None else np.asarray(difficulties, float)
    thetas = GRID - offsets[:, None, None] * weights[:, None]
    t = np.exp(thetas)
    total = np.zeros_like(t)
    for column in table.T[::-1]:
        total *= t
        total += column[:, None, None]
    seen = np.pad(table, ((0, 0), (0, 1)))[np.arange(len(table)), np.minimum(correct, table.shape[1])][:, None, None]
    if not seen.all():
        raise ValueError("a number correct that the claims cannot have")
    chances: Floats = seen * np.exp(thetas * correct[:, None, None]) / total
    return chances


def _forward(likelihood: Floats) -> tuple[Floats, Floats]:
    """Return the filtered law at each sitting, (m, S, W, G), and the log likelihood of each, (m, S, W)."""
    sittings, weights, _ = likelihood.shape
    filtered = np.empty((sittings, len(STEP_WIDTHS), weights, len(GRID)))
    norms = np.empty((sittings, len(STEP_WIDTHS), weights))
    beforehand = np.exp(-0.5 * (GRID / BEFOREHAND_SD) ** 2)
    law = np.broadcast_to(beforehand / beforehand.sum(), filtered.shape[1:])
    for at in range(sittings):
        if at:
            law = _moved(law)
        np.multiply(law, likelihood[at], out=filtered[at])
        norms[at] = filtered[at].sum(axis=-1)
        filtered[at] /= norms[at][..., None]
        law = filtered[at]
    return filtered, np.log(norms)


def _smooth(laws: Floats, likelihood: Floats) -> None:
    """Turn the filtered laws, (m, S, W, G), into the smoothed ones, in place: a year of them fills megabytes."""
    later = np.ones(laws.shape[1:])
    for at in range(len(laws) - 2, -1, -1):
        # What the later sittings say of this one's ability; a step is as likely either way, so it moves alike.
        later = _moved(later * likelihood[at + 1])
        later /= later.max(axis=-1, keepdims=True)
        laws[at] *= later
    laws /= laws.sum(axis=-1, keepdims=True)


def _steps() -> tuple[tuple[slice, int, Floats], ...]:
    """Return, for each run of step widths that move by equally many spacings, these and the chance of moving up."""
    runs = []
    spacings = np.maximum(1, np.round(np.sqrt(3) * STEP_WIDTHS / SPACING).astype(int))
    for lag in np.unique(spacings):
        first, last = np.flatnonzero(spacings == lag)[[0, -1]]
        chosen = slice(int(first), int(last) + 1)
        runs.append((chosen, int(lag), (0.5 * (STEP_WIDTHS[chosen] / (lag * SPACING)) ** 2)[:, None, None]))
    return tuple(runs)


STEPS = _steps()


def _moved(law: Floats) -> Floats:
    """Return the law after one step, (S, W, G) as before it."""
    moved = np.empty_like(law)
    for widths, lag, up in STEPS:
        before = law[widths]
        part = before * up
        after = moved[widths]
        np.subtract(before, 2 * part, out=after)
        after[..., lag:] += part[..., :-lag]
        after[..., :-lag] += part[..., lag:]
        after[..., :lag] += part[..., lag - 1 :: -1]
        after[..., -lag:] += part[..., : -lag - 1 : -1]
    return moved


def _band(law: Floats, confidence: float) -> Floats:
    """Return low end, median and high end of each row of a law on the grid, as correct of five."""
    reached = np.cumsum(law, axis=1)
    reached /= reached[:, -1:]
    rows = np.arange(len(law))
    ends = []
    for share in ((1 - confidence) / 2, 0.5, (1 + confidence) / 2):
        # A grid point's mass is spread evenly over its cell.
        cell = np.minimum((reached < share).sum(axis=1), len(GRID) - 1)
        before = np.where(cell > 0, reached[rows, cell - 1], 0.0)
        within = (share - before) / np.maximum(reached[rows, cell] - before, 1e-300)
        ends.append(GRID[cell] + (within - 0.5) * SPACING)
    return faces(np.stack(ends, axis=1))
