"""The ways that a pen goes from knot to knot, for the shapes that were held out once."""

from __future__ import annotations

import numpy as np

from scanner.rehearsal.arrays import Points, xy
from scanner.rehearsal.habits import Hand

STEP_MM = 0.25
"""How far apart the points of a path are, as in `strokes`, which says how pens count along them."""


def astray(knots: Points, half: float, rng: np.random.Generator) -> Points:
    """The knots as a hand comes near them: all a little to one side, and each by itself."""
    together, each = rng.uniform(-0.05, 0.05, 2), rng.beta(3.0, 3.0, knots.shape) - 0.5
    return np.asarray(knots + half * (together + 0.2 * each), dtype=np.float64)


def pull(start: Points, end: Points, hand: Hand, rng: np.random.Generator) -> Points:
    """A stroke that leaves its way most near its start or its end, by up to the hand's bow: a cubic Bézier curve."""
    span = end - start
    side = 1.4 * hand.bow * rng.uniform(-1.0, 1.0, 2)[:, None] * xy(-span[1], span[0])
    near, far = start + 0.35 * span + side[0], start + 0.7 * span + side[1]
    t = np.linspace(0.0, 1.0, max(5, int(np.ceil(float(np.hypot(*span)) / STEP_MM)) + 1))[:, None]
    path: Points = (1 - t) ** 3 * start + 3 * t * (1 - t) ** 2 * near + 3 * t**2 * (1 - t) * far + t**3 * end
    return path


def bent(knots: Points, hand: Hand, rng: np.random.Generator) -> Points:
    """Strokes from knot to knot without lifting the pen."""
    pieces = [pull(knots[i], knots[i + 1], hand, rng) for i in range(len(knots) - 1)]
    return np.vstack([pieces[0], *(piece[1:] for piece in pieces[1:])])


def wound(knots: Points) -> Points:
    """A smooth path from the first knot to the last, near all others: the curve through the middles of its sides.

    Quadratic Bézier pieces from middle to middle, the knots their controls; the outer ones are reached.
    """
    knots = np.vstack([2.0 * knots[0] - knots[1], knots, 2.0 * knots[-1] - knots[-2]])
    stressed = knots.copy()
    stressed[2:-2] = 1.3 * knots[2:-2] - 0.15 * (knots[1:-3] + knots[3:-1])  # or bows would come out too flat
    middles = (stressed[:-1] + stressed[1:]) / 2
    middles[0], middles[-1] = knots[1], knots[-2]
    t = np.linspace(0.0, 1.0, 9)[:-1, None]
    pieces = [
        (1 - t) ** 2 * middles[i] + 2 * t * (1 - t) * stressed[i + 1] + t**2 * middles[i + 1]
        for i in range(len(middles) - 1)
    ]
    return spread(np.vstack([*pieces, middles[-1:]]))


def spread(path: Points) -> Points:
    """The same path by points at even steps."""
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    steps = np.linspace(0.0, run[-1], max(5, int(np.ceil(run[-1] / STEP_MM)) + 1))
    return np.column_stack([np.interp(steps, run, path[:, axis]) for axis in (0, 1)])
