"""Paths of odd marks, for `odd_hands`; held out once, tuned upon since."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from scanner.rehearsal.arrays import Points, xy
from scanner.rehearsal.habits import Hand
from scanner.rehearsal.sheet_marks import direction
from scanner.rehearsal.stroke_paths import astray, bent, pull, wound

Shape = Callable[[Hand, float, np.random.Generator], list[Points]]


def _stipple(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Many dabs of the pen, as somebody taps who cannot decide to draw."""
    dabs = []
    for spot in half * _sown(int(rng.integers(9, 16)), 0.72, 0.3, rng):
        way, long = direction(rng.uniform(0.0, 360.0)), half * float(rng.uniform(0.05, 0.16))
        dabs.append(pull(spot - long * way, spot + long * way, hand, rng))
    return dabs


def _trident(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A fork: a bow open above, and a stem down through its middle."""
    knots = [(-0.8, -0.75), (-0.75, -0.1), (-0.4, 0.3), (0.0, 0.38), (0.4, 0.3), (0.75, -0.15), (0.8, -0.85)]
    foot = xy(rng.uniform(-0.08, 0.08) * half, 0.95 * half + 0.5 * hand.overshoot_mm)
    stem = pull(half * xy(rng.uniform(-0.06, 0.06), -0.95), foot, hand, rng)
    return [wound(astray(half * np.array(knots), half, rng)), stem]


def _envelope(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A letter: an oblong, and its flap."""
    wide, tall = half * float(rng.uniform(0.8, 0.95)), half * float(rng.uniform(0.55, 0.75))
    corners = astray(np.array([(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -0.95)]) * xy(wide, tall), half, rng)
    flap = np.vstack([corners[0], xy(rng.uniform(-0.1, 0.1), rng.uniform(0.0, 0.25)) * half, corners[1]])
    return [bent(corners, hand, rng), bent(flap, hand, rng)]


def _not_equal(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Two level strokes, and a third struck through both."""
    past = hand.overshoot_mm * rng.uniform(0.0, 0.8, 2)
    paths = []
    for y in (-0.32, 0.32):
        start, end = astray(half * np.array([(-0.8, y), (0.8, y)]), half, rng)
        paths.append(pull(start, end, hand, rng))
    high, low = half * xy(0.55, -0.9) + past[0] * xy(0.5, -0.8), half * xy(-0.55, 0.9) + past[1] * xy(-0.5, 0.8)
    return [*paths, pull(high, low, hand, rng)]


def _euro(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A coin's sign: a bow open to the right, two short bars through its back."""
    knots = [(0.75, -0.65), (0.25, -0.95), (-0.35, -0.75), (-0.6, 0.0), (-0.35, 0.75), (0.25, 0.95), (0.75, 0.65)]
    paths = [wound(astray(half * np.array(knots), half, rng))]
    for y in (-0.2, 0.2):
        start, end = astray(half * np.array([(-0.9, y), (0.35, y)]), 0.7 * half, rng)
        paths.append(pull(start, end, hand, rng))
    return paths


def _ampoule(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A small flask: neck, shoulders, belly, in one line, open above."""
    knots = [(-0.25, -0.95), (-0.22, -0.35), (-0.75, 0.2), (-0.6, 0.85), (0.0, 0.92), (0.6, 0.85), (0.75, 0.2)]
    path = np.array([*knots, (0.22, -0.35), (0.25, -0.95)])
    return [wound(astray(half * path, 0.8 * half, rng))]


def _lying_eight(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The sign for what has no end: an eight on its side, in one line from the middle back past it."""
    right = [(0.0, 0.0), (0.45, -0.5), (0.9, -0.3), (0.9, 0.35), (0.45, 0.5)]
    left = [(0.0, 0.0), (-0.45, -0.5), (-0.9, -0.3), (-0.9, 0.35), (-0.45, 0.5), (0.1, -0.1)]
    tall = float(rng.uniform(0.85, 1.2))
    return [wound(astray(half * np.array([*right, *left]) * (1.0, tall), half, rng))]


def _above_sign(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The character for "above": an upright, a short bar to its right, a long one under both."""
    x = half * float(rng.uniform(-0.2, 0.05))
    foot = half * float(rng.uniform(0.72, 0.88))
    middle = half * float(rng.uniform(-0.25, 0.05))
    past = 0.5 * hand.overshoot_mm * rng.uniform(0.0, 1.0, 2)
    upright = pull(xy(x, -0.95 * half), xy(x + 0.04 * half, foot), hand, rng)
    short = pull(xy(x, middle), xy(0.65 * half, middle - 0.08 * half), hand, rng)
    long = pull(xy(-0.85 * half - past[0], foot + 0.04 * half), xy(0.9 * half + past[1], foot - 0.06 * half), hand, rng)
    return [upright, short, long]


def _run_in_tick(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A tick begun with a run from outside the box, rounded where it turns, and drawn out."""
    start = half * xy(-1.05, rng.uniform(-0.35, 0.05)) - hand.overshoot_mm * rng.uniform(0.0, 0.7) * xy(1.0, 0.25)
    turn = half * astray(np.array([(-0.6, 0.1), (-0.25, 0.72), (-0.05, 0.74)]), 1.0, rng)
    end = half * xy(0.85, -0.75) + hand.tail_mm * float(rng.uniform(0.1, 0.9)) * xy(0.75, -0.5)
    return [wound(np.vstack([start, turn, half * xy(0.3, 0.1), end]))]


def _yes_in_short(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A j with its dot, and an a joined to it: a yes in a good many tongues."""
    hook = [(-0.35, -0.45), (-0.35, 0.6), (-0.65, 0.92), (-0.85, 0.6), (-0.3, 0.1)]
    loop = [(0.5, -0.3), (0.1, -0.35), (-0.05, 0.15), (0.3, 0.45), (0.6, 0.0), (0.62, -0.35), (0.62, 0.3), (0.95, 0.4)]
    path = astray(half * np.array([*hook, *loop]), 0.8 * half, rng)
    spot = half * astray(np.array([(-0.3, -0.85)]), 1.0, rng)[0]
    return [wound(path), pull(spot, spot + half * xy(0.1, 0.08), hand, rng)]


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
