"""Paths of odd marks, for `odd_hands`; held out once, tuned upon since. Means of their own, like `rare_shapes`."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from scanner.rehearsal.arrays import Points, xy
from scanner.rehearsal.habits import Hand

STEP_MM = 0.25
"""How far apart the points of a path are, as in `strokes`, which says how pens count along them."""

Shape = Callable[[Hand, float, np.random.Generator], list[Points]]


def _stipple(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Many dabs of the pen, as somebody taps who cannot decide to draw."""
    dabs = []
    for spot in half * _sown(int(rng.integers(9, 16)), 0.72, 0.3, rng):
        way, long = _way(rng.uniform(0.0, 360.0)), half * float(rng.uniform(0.05, 0.16))
        dabs.append(_pull(spot - long * way, spot + long * way, hand, rng))
    return dabs


def _trident(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A fork: a bow open above, and a stem down through its middle."""
    knots = [(-0.8, -0.75), (-0.75, -0.1), (-0.4, 0.3), (0.0, 0.38), (0.4, 0.3), (0.75, -0.15), (0.8, -0.85)]
    foot = xy(rng.uniform(-0.08, 0.08) * half, 0.95 * half + 0.5 * hand.overshoot_mm)
    stem = _pull(half * xy(rng.uniform(-0.06, 0.06), -0.95), foot, hand, rng)
    return [_wound(_astray(half * np.array(knots), half, rng)), stem]


def _envelope(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A letter: an oblong, and its flap."""
    wide, tall = half * float(rng.uniform(0.8, 0.95)), half * float(rng.uniform(0.55, 0.75))
    corners = _astray(np.array([(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -0.95)]) * xy(wide, tall), half, rng)
    flap = np.vstack([corners[0], xy(rng.uniform(-0.1, 0.1), rng.uniform(0.0, 0.25)) * half, corners[1]])
    return [_bent(corners, hand, rng), _bent(flap, hand, rng)]


def _not_equal(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Two level strokes, and a third struck through both."""
    past = hand.overshoot_mm * rng.uniform(0.0, 0.8, 2)
    paths = []
    for y in (-0.32, 0.32):
        start, end = _astray(half * np.array([(-0.8, y), (0.8, y)]), half, rng)
        paths.append(_pull(start, end, hand, rng))
    high, low = half * xy(0.55, -0.9) + past[0] * xy(0.5, -0.8), half * xy(-0.55, 0.9) + past[1] * xy(-0.5, 0.8)
    return [*paths, _pull(high, low, hand, rng)]


def _euro(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A coin's sign: a bow open to the right, two short bars through its back."""
    knots = [(0.75, -0.65), (0.25, -0.95), (-0.35, -0.75), (-0.6, 0.0), (-0.35, 0.75), (0.25, 0.95), (0.75, 0.65)]
    paths = [_wound(_astray(half * np.array(knots), half, rng))]
    for y in (-0.2, 0.2):
        start, end = _astray(half * np.array([(-0.9, y), (0.35, y)]), 0.7 * half, rng)
        paths.append(_pull(start, end, hand, rng))
    return paths


def _ampoule(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A small flask: neck, shoulders, belly, in one line, open above."""
    knots = [(-0.25, -0.95), (-0.22, -0.35), (-0.75, 0.2), (-0.6, 0.85), (0.0, 0.92), (0.6, 0.85), (0.75, 0.2)]
    path = np.array([*knots, (0.22, -0.35), (0.25, -0.95)])
    return [_wound(_astray(half * path, 0.8 * half, rng))]


def _lying_eight(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The sign for what has no end: an eight on its side, in one line from the middle back past it."""
    right = [(0.0, 0.0), (0.45, -0.5), (0.9, -0.3), (0.9, 0.35), (0.45, 0.5)]
    left = [(0.0, 0.0), (-0.45, -0.5), (-0.9, -0.3), (-0.9, 0.35), (-0.45, 0.5), (0.1, -0.1)]
    tall = float(rng.uniform(0.85, 1.2))
    return [_wound(_astray(half * np.array([*right, *left]) * (1.0, tall), half, rng))]


def _above_sign(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The character for "above": an upright, a short bar to its right, a long one under both."""
    x = half * float(rng.uniform(-0.2, 0.05))
    foot = half * float(rng.uniform(0.72, 0.88))
    middle = half * float(rng.uniform(-0.25, 0.05))
    past = 0.5 * hand.overshoot_mm * rng.uniform(0.0, 1.0, 2)
    upright = _pull(xy(x, -0.95 * half), xy(x + 0.04 * half, foot), hand, rng)
    short = _pull(xy(x, middle), xy(0.65 * half, middle - 0.08 * half), hand, rng)
    long = _pull(
        xy(-0.85 * half - past[0], foot + 0.04 * half), xy(0.9 * half + past[1], foot - 0.06 * half), hand, rng
    )
    return [upright, short, long]


def _run_in_tick(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A tick begun with a run from outside the box, rounded where it turns, and drawn out."""
    start = half * xy(-1.05, rng.uniform(-0.35, 0.05)) - hand.overshoot_mm * rng.uniform(0.0, 0.7) * xy(1.0, 0.25)
    turn = half * _astray(np.array([(-0.6, 0.1), (-0.25, 0.72), (-0.05, 0.74)]), 1.0, rng)
    end = half * xy(0.85, -0.75) + hand.tail_mm * float(rng.uniform(0.1, 0.9)) * xy(0.75, -0.5)
    return [_wound(np.vstack([start, turn, half * xy(0.3, 0.1), end]))]


def _yes_in_short(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A j with its dot, and an a joined to it: a yes in a good many tongues."""
    hook = [(-0.35, -0.45), (-0.35, 0.6), (-0.65, 0.92), (-0.85, 0.6), (-0.3, 0.1)]
    loop = [(0.5, -0.3), (0.1, -0.35), (-0.05, 0.15), (0.3, 0.45), (0.6, 0.0), (0.62, -0.35), (0.62, 0.3), (0.95, 0.4)]
    path = _astray(half * np.array([*hook, *loop]), 0.8 * half, rng)
    spot = half * _astray(np.array([(-0.3, -0.85)]), 1.0, rng)[0]
    return [_wound(path), _pull(spot, spot + half * xy(0.1, 0.08), hand, rng)]


ODD_SHAPES: dict[str, Shape] = {
    "stipple": _stipple,
    "trident": _trident,
    "envelope": _envelope,
    "not-equal": _not_equal,
    "euro": _euro,
    "ampoule": _ampoule,
    "lying-eight": _lying_eight,
    "above-sign": _above_sign,
    "run-in-tick": _run_in_tick,
    "yes-in-short": _yes_in_short,
}


def _sown(count: int, reach: float, apart: float, rng: np.random.Generator) -> Points:
    """So many places within (-reach … reach), none much nearer to another than that."""
    spots: list[Points] = []
    for _ in range(12 * count):
        spot = rng.uniform(-reach, reach, 2)
        if all(np.hypot(*(spot - other)) >= apart for other in spots):
            spots.append(spot)
        if len(spots) == count:
            break
    return np.array(spots)


def _way(degrees: float) -> Points:
    angle = np.deg2rad(degrees)
    return xy(np.cos(angle), np.sin(angle))


def _astray(knots: Points, half: float, rng: np.random.Generator) -> Points:
    """The knots as a hand comes near them: all a little to one side, and each by itself."""
    together, each = rng.uniform(-0.05, 0.05, 2), rng.beta(3.0, 3.0, knots.shape) - 0.5
    return np.asarray(knots + half * (together + 0.2 * each), dtype=np.float64)


def _pull(start: Points, end: Points, hand: Hand, rng: np.random.Generator) -> Points:
    """A stroke that leaves its way most near its start or its end, by up to the hand's bow: a cubic Bézier curve."""
    span = end - start
    side = 1.4 * hand.bow * rng.uniform(-1.0, 1.0, 2)[:, None] * xy(-span[1], span[0])
    near, far = start + 0.35 * span + side[0], start + 0.7 * span + side[1]
    t = np.linspace(0.0, 1.0, max(5, int(np.ceil(float(np.hypot(*span)) / STEP_MM)) + 1))[:, None]
    path: Points = (1 - t) ** 3 * start + 3 * t * (1 - t) ** 2 * near + 3 * t**2 * (1 - t) * far + t**3 * end
    return path


def _bent(knots: Points, hand: Hand, rng: np.random.Generator) -> Points:
    """Strokes from knot to knot without lifting the pen."""
    pieces = [_pull(knots[i], knots[i + 1], hand, rng) for i in range(len(knots) - 1)]
    return np.vstack([pieces[0], *(piece[1:] for piece in pieces[1:])])


def _wound(knots: Points) -> Points:
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
    return _spread(np.vstack([*pieces, middles[-1:]]))


def _spread(path: Points) -> Points:
    """The same path by points at even steps."""
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    steps = np.linspace(0.0, run[-1], max(5, int(np.ceil(run[-1] / STEP_MM)) + 1))
    return np.column_stack([np.interp(steps, run, path[:, axis]) for axis in (0, 1)])
