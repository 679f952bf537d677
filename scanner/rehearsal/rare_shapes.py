"""Paths of marks that few people make, for the hands of `rare`.

They are drawn by means of their own, so that a reader gets no help from the usual marks' curves.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from scanner.rehearsal.arrays import Points, xy
from scanner.rehearsal.habits import Hand

STEP_MM = 0.25
"""How far apart the points of a path are, as in `strokes`, which says how pens count along them."""

CUTS = 3
"""Times that corners are cut to make a smooth path of a few knots."""

Shape = Callable[[Hand, float, np.random.Generator], list[Points]]


def _asterisk(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    first = float(rng.uniform(60, 120))
    return [
        _across(hand, half, first + turn + float(rng.uniform(-12, 12)), rng.uniform(-0.12, 0.12, 2) * half, rng)
        for turn in (0.0, 60.0, 120.0)
    ]


def _upright(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    return [_across(hand, half, float(rng.uniform(82, 98)), rng.uniform(-0.2, 0.2, 2) * half, rng)]


def _twin_strokes(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    return _parallel(hand, half, (-0.32, 0.32), rng)


def _three_strokes(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    return _parallel(hand, half, (-0.62, 0.0, 0.62), rng)


def _grid(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    lean = float(rng.uniform(78, 90))
    apart = half * float(rng.uniform(0.36, 0.46))
    ups = [_across(hand, half, lean + float(rng.uniform(-5, 5)), xy(side * apart, 0.0), rng) for side in (-1, 1)]
    levels = [_across(hand, half, float(rng.uniform(-8, 4)), xy(0.0, side * apart), rng) for side in (-1, 1)]
    return ups + levels


def _caret(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    left = half * xy(-rng.uniform(0.7, 1.0), rng.uniform(0.5, 0.9))
    top = half * xy(rng.uniform(-0.15, 0.15), -rng.uniform(0.7, 1.0))
    right = half * xy(rng.uniform(0.7, 1.0), rng.uniform(0.5, 0.9))
    return [_angular([left, top, right], hand.bow, rng)]


def _zed(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A Z, or the same on its side: an N."""
    knots = half * np.array([(-0.8, -0.75), (0.8, -0.8), (-0.8, 0.75), (0.85, 0.8)]) + _about(half, 4, rng)
    return [_angular(list(knots if rng.random() < 0.7 else knots[:, ::-1]), hand.bow, rng)]


def _ess(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A long S, its two bows like commas."""
    knots = half * np.array(
        [(0.6, -0.75), (-0.1, -1.0), (-0.65, -0.5), (0.0, 0.0), (0.65, 0.5), (0.1, 1.0), (-0.6, 0.8)]
    )
    return [_smooth(knots + _about(half, 7, rng))]


def _letter_y(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    fork = half * xy(rng.uniform(-0.1, 0.1), rng.uniform(-0.1, 0.2))
    left, right = half * xy(-rng.uniform(0.6, 0.9), -0.85), half * xy(rng.uniform(0.6, 0.95), -rng.uniform(0.8, 1.0))
    foot = fork + xy(fork[0] - right[0], fork[1] - right[1]) * float(rng.uniform(0.7, 0.95))
    foot = foot + 0.5 * hand.overshoot_mm * xy(-0.3, 1.0)
    return [_bowed(left, fork, hand.bow, rng), _bowed(right, foot, hand.bow, rng)]


def _pigtail(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A written e or l: in from the lower left, round a loop, out to the lower right."""
    tall = float(rng.uniform(0.75, 1.0))
    knots = np.array([(-0.95, 0.6), (0.1, 0.3), (0.55, -0.4), (0.2, -1.1), (-0.35, -0.8), (-0.25, 0.2), (0.3, 0.85)])
    way_out = xy(half * rng.uniform(0.8, 1.0) + 0.3 * hand.tail_mm, half * rng.uniform(0.3, 0.6))
    return [_smooth(np.vstack([half * knots * (1.0, tall) + _about(half, 7, rng), way_out]))]


def _looped_tick(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A tick whose foot is a little loop, as of someone who writes a lot of them."""
    knots = np.array([(-0.85, -0.1), (-0.45, 0.5), (-0.1, 0.9), (0.1, 0.65), (-0.15, 0.4), (-0.3, 0.75), (0.1, 0.35)])
    tip = half * xy(rng.uniform(0.8, 1.0), -rng.uniform(0.7, 1.0)) + hand.tail_mm * xy(0.6, -rng.uniform(0.2, 0.6))
    knots = half * knots + _about(half, 7, rng)
    return [_smooth(np.vstack([knots, (knots[-1] + tip) / 2, tip]))]


def _inner_square(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    corners = half * np.array([(-0.55, -0.5), (-0.55, 0.5), (0.55, 0.5), (0.55, -0.5), (-0.6, -0.5)])
    return [_angular(list(corners + _about(half, 5, rng)), hand.bow, rng)]


def _five_points(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A star of five points in one line."""
    angles = np.deg2rad(-90 + 144 * np.arange(6) + float(rng.uniform(-12, 12)))
    tips = 0.95 * half * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    return [_angular(list(tips + _about(half, 6, rng)), hand.bow, rng)]


def _crossed_ring(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A cross, then a ring about it."""
    arms = [_across(hand, 0.7 * half, angle + float(rng.uniform(-8, 8)), xy(0.0, 0.0), rng) for angle in (45.0, -45.0)]
    angles = np.deg2rad(float(rng.uniform(180, 300)) - np.linspace(0, float(rng.uniform(350, 390)), 14))
    ring = half * np.stack([1.0 * np.cos(angles), float(rng.uniform(0.85, 1.0)) * np.sin(angles)], axis=1)
    return [*arms, _smooth(ring + 0.5 * _about(half, 14, rng))]


def _half_shade(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """One half of the box shaded to and fro below its diagonal, the other left white."""
    gap_mm = float(rng.uniform(0.34, 0.50))
    places = np.arange(-0.9 * half, 0.9 * half, gap_mm)
    reach = 0.9 * half + rng.uniform(-0.15, 0.1, len(places)) * half
    low, high = np.column_stack([places, -places + 0.1 * half]), np.column_stack([places, reach])
    knots = np.where((np.arange(len(places)) % 2 == 0)[:, None], low, high)
    mirrored = float(rng.choice([-1.0, 1.0]))
    return [_spaced(knots * (mirrored, 1.0))]


def _arrow(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """An arrow from the left, its head in the box."""
    tip = half * xy(rng.uniform(0.4, 0.8), rng.uniform(-0.15, 0.15))
    tail = xy(-1.2 * half - 0.5 * hand.overshoot_mm, half * float(rng.uniform(-0.25, 0.25)))
    barbs = [tip + half * xy(-rng.uniform(0.6, 0.85), side * rng.uniform(0.5, 0.75)) for side in (-1.0, 1.0)]
    return [_bowed(tail, tip, hand.bow, rng), _angular([barbs[0], tip, barbs[1]], hand.bow, rng)]


def _face(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Two eyes and a smile."""
    eyes = [half * xy(side * rng.uniform(0.3, 0.45), -rng.uniform(0.35, 0.6)) for side in (-1.0, 1.0)]
    smile = half * np.array([(-0.8, 0.15), (-0.55, 0.65), (0.0, 0.85), (0.55, 0.65), (0.8, 0.1)])
    drawn = [_bowed(eye, eye + half * xy(0.03, 0.28), 0.0, rng) for eye in eyes]
    return [*drawn, _smooth(smile + _about(half, 5, rng))]


RARE_SHAPES: dict[str, Shape] = {
    "asterisk": _asterisk,
    "upright": _upright,
    "twin-strokes": _twin_strokes,
    "three-strokes": _three_strokes,
    "grid": _grid,
    "caret": _caret,
    "zed": _zed,
    "ess": _ess,
    "letter-y": _letter_y,
    "pigtail": _pigtail,
    "looped-tick": _looped_tick,
    "inner-square": _inner_square,
    "five-points": _five_points,
    "crossed-ring": _crossed_ring,
    "half-shade": _half_shade,
    "arrow": _arrow,
    "face": _face,
}


def _across(hand: Hand, half: float, angle_deg: float, through: Points, rng: np.random.Generator) -> Points:
    """A stroke downwards through a place, so long that it would cross a box of that half side."""
    angle = np.deg2rad(angle_deg)
    way = xy(np.cos(angle), np.sin(angle))
    reach = half * rng.uniform(0.85, 1.1, 2) + rng.uniform(0.0, 1.2, 2) * hand.overshoot_mm
    return _bowed(through - reach[0] * way, through + reach[1] * way, hand.bow, rng)


def _parallel(hand: Hand, half: float, places: Sequence[float], rng: np.random.Generator) -> list[Points]:
    lean = float(rng.uniform(98, 125))
    strokes = []
    for place in places:
        middle = half * xy(place, rng.uniform(-0.1, 0.1))
        strokes.append(_across(hand, 0.95 * half, lean + float(rng.uniform(-4, 4)), middle, rng))
    return strokes


def _about(half: float, count: int, rng: np.random.Generator) -> Points:
    return np.asarray(rng.uniform(-0.1, 0.1, (count, 2)) * half, dtype=np.float64)


def _bowed(start: Points, end: Points, bow: float, rng: np.random.Generator) -> Points:
    """A stroke that leaves the straight line by up to that share of its length: a quadratic Bézier curve."""
    span = end - start
    control = (start + end) / 2 + xy(-span[1], span[0]) * bow * float(rng.uniform(-2.0, 2.0))
    t = np.linspace(0.0, 1.0, 24)[:, None]
    return _spaced((1 - t) ** 2 * start + 2 * t * (1 - t) * control + t**2 * end)


def _angular(knots: Sequence[Points], bow: float, rng: np.random.Generator) -> Points:
    """Strokes from knot to knot without lifting the pen, the corners kept sharp."""
    pieces = [_bowed(start, end, bow, rng) for start, end in pairwise(knots)]
    return np.vstack([pieces[0], *(piece[1:] for piece in pieces[1:])])


def _smooth(knots: Points) -> Points:
    """A path without corners past the knots, by Chaikin's corner cutting."""
    path = knots
    for _ in range(CUTS):
        near, far = 0.75 * path[:-1] + 0.25 * path[1:], 0.25 * path[:-1] + 0.75 * path[1:]
        path = np.vstack([path[:1], np.stack([near, far], axis=1).reshape(-1, 2), path[-1:]])
    return _spaced(path)


def _spaced(path: Points) -> Points:
    """The same path by points at even steps."""
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    steps = np.linspace(0.0, run[-1], max(4, int(np.ceil(run[-1] / STEP_MM)) + 1))
    return np.stack([np.interp(steps, run, path[:, axis]) for axis in (0, 1)], axis=1)
