"""The paths a pen takes: crosses, ticks, dots and the rest, as curves in millimetres around a box's centre."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from scanner.rehearsal.arrays import Points, xy
from scanner.rehearsal.habits import Hand
from scanner.rehearsal.held_out_shapes import HELD_OUT_SHAPES
from scanner.rehearsal.odd_shapes import ODD_SHAPES
from scanner.rehearsal.rare_shapes import RARE_SHAPES
from scanner.rehearsal.seldom_shapes import SELDOM_SHAPES
from scanner.rehearsal.sundry_shapes import SUNDRY_SHAPES
from scanner.rehearsal.uncommon_shapes import UNCOMMON_SHAPES
from scanner.rehearsal.unusual_shapes import UNUSUAL_SHAPES

STEP_MM = 0.25
"""About how far apart the points of a path are: close enough to show a tremor."""


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """One path of the pen on the paper: points in mm, (N, 2), and the pressure at each, (N,), 1 being usual."""

    points_mm: Points
    pressure: NDArray[np.float64]

    def moved(self, x_mm: float, y_mm: float) -> Stroke:
        """Return the stroke shifted."""
        return Stroke(self.points_mm + xy(x_mm, y_mm), self.pressure)


Shape = Callable[[Hand, float, np.random.Generator], list[Points]]


def mark(style: str, hand: Hand, half_mm: float, rng: np.random.Generator) -> tuple[Stroke, ...]:
    """Return the strokes of one mark, its box's centre at (0, 0) and the box's half side `half_mm`.

    KeyError where no such style exists.
    """
    size = hand.size * float(np.clip(1.0 + hand.size_spread * rng.standard_normal(), 0.6, 1.5))
    paths = SHAPES[style](hand, half_mm * size, rng)
    slant = np.deg2rad(hand.slant_deg + hand.slant_spread_deg * float(np.clip(rng.standard_normal(), -2.5, 2.5)))
    turn = np.array([[np.cos(slant), np.sin(slant)], [-np.sin(slant), np.cos(slant)]])
    spot = np.clip(rng.standard_normal(2), -2.0, 2.0) * hand.scatter_mm + xy(hand.bias_x_mm, hand.bias_y_mm)
    return tuple(inked(path @ turn + spot, hand, rng) for path in paths)


def taken_back(hand: Hand, half_mm: float, rng: np.random.Generator) -> tuple[Stroke, ...]:
    """Return the strokes that black out a box's mark in this hand's way."""
    spot = np.clip(rng.standard_normal(2), -1.5, 1.5) * 0.15
    size, angle = rng.uniform(1.0, 1.2, 2) * half_mm, rng.uniform(-10.0, 10.0, 2)
    if hand.take_back == "scrub":
        paths = [
            _hatching(1.2 * size[0], 0.30, 42 + 2 * angle[0], 0.5, rng),
            _hatching(1.1 * size[1], 0.32, -35 + 2 * angle[1], 0.5, rng),
        ]
    elif hand.take_back == "solid":
        paths = [
            _hatching(half_mm * 1.02, 0.21, angle[0], 0.12, rng),
            _hatching(half_mm * 1.02, 0.24, 90 + angle[1], 0.12, rng),
        ]
    else:
        paths = [_hatching(size[0], 0.26, 45 + angle[0], 0.3, rng), _hatching(size[1], 0.30, angle[1], 0.3, rng)]
    return tuple(inked(path + spot, hand, rng, press=1.15) for path in paths)


def touch(hand: Hand, half_mm: float, rng: np.random.Generator) -> tuple[Stroke, ...]:
    """Return a stray touch of the pen: a speck or a short skid somewhere in the box."""
    start = rng.uniform(-0.8, 0.8, 2) * half_mm
    length = float(rng.choice([0.0, 0.3, 0.9], p=[0.5, 0.3, 0.2])) * float(rng.uniform(0.6, 1.6))
    angle = float(rng.uniform(0, 2 * np.pi))
    end = start + np.array([np.cos(angle), np.sin(angle)]) * (length + 0.02)
    return (inked(_line(start, end, 0.03, rng), hand, rng, press=0.8),)


def underline(hand: Hand, half_mm: float, rng: np.random.Generator) -> tuple[Stroke, ...]:
    """Return a line under the word to the right of the box."""
    y = half_mm * float(rng.uniform(0.75, 1.0))
    start = np.array([half_mm + float(rng.uniform(1.2, 2.0)), y + float(rng.uniform(-0.2, 0.2))])
    end = start + xy(rng.uniform(5.0, 11.0), rng.uniform(-0.6, 0.4))
    return (inked(_line(start, end, 0.02, rng), hand, rng),)


def inked(path: Points, hand: Hand, rng: np.random.Generator, press: float = 1.0) -> Stroke:
    """Return a path as this hand's pen goes it: with its tremor, and its pressure along the way."""
    count = len(path)
    drift, phase, waves = rng.uniform(-1, 1), rng.uniform(0, 2 * np.pi), rng.uniform(0.6, 1.6)
    along = shares(count)
    slow = 0.10 * np.sin(2 * np.pi * waves * along + phase) + 0.06 * drift
    lift = hand.flick * float(rng.uniform(0.3, 1.0)) * 0.75
    pressure = (hand.pressure * press + slow) * (1.0 - lift * _ease((along - 0.65) / 0.35))
    pressure = pressure * (1.0 - 0.3 * hand.flick * (1.0 - _ease(along / 0.12)))
    if hand.shake_mm > 0.0 and count > 3:
        path = path + _tremor(count, hand.shake_mm, rng)
    return Stroke(path, np.minimum(np.maximum(pressure, 0.12), 1.6))


def curve(knots: Points, step_mm: float = STEP_MM) -> Points:
    """Return a smooth path through the knots, (N, 2), as a Catmull–Rom spline.

    References
    ----------
    .. [1] E. Catmull and R. Rom, "A class of local interpolating splines", Computer Aided Geometric Design (1974).
    """
    gaps = np.hypot(*np.diff(knots, axis=0).T)
    each = int(np.clip(np.ceil(float(np.mean(gaps)) / step_mm), 2, 24))
    ends = np.vstack([2 * knots[0] - knots[1], knots, 2 * knots[-1] - knots[-2]])
    spans = np.stack([ends[:-3], ends[1:-2], ends[2:-1], ends[3:]], axis=1)  # (K-1, 4, 2)
    path = np.einsum("tk,skd->std", _catmull_rom(each), spans).reshape(-1, 2)
    return np.vstack([path, knots[-1:]])


@cache
def shares(count: int) -> NDArray[np.float64]:
    """Return that many even steps from 0 to 1, both included."""
    steps = np.linspace(0.0, 1.0, count)
    steps.setflags(write=False)
    return steps


def join(strokes: Sequence[Stroke]) -> Points:
    """Return all points of the strokes, (N, 2), in mm."""
    return np.vstack([stroke.points_mm for stroke in strokes])


def _cross(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    far = half + rng.uniform(0.0, 1.4, 4) * hand.overshoot_mm + rng.uniform(-0.12, 0.12, 4) * half
    tall = half * float(rng.uniform(0.85, 1.1)) / half
    down = _line(np.array([-far[0], -far[0] * tall]), np.array([far[1], far[1] * tall]), hand.bow, rng)
    up = _line(np.array([far[2], -far[2] * tall]), np.array([-far[3], far[3] * tall]), hand.bow, rng)
    if rng.random() >= hand.linked:
        return [down, up]
    bulge = (down[-1] + up[0]) / 2 + half * xy(rng.uniform(0.02, 0.28), rng.uniform(-0.2, 0.2))
    knots = np.vstack([down[0], down[len(down) // 2], down[-1], bulge, up[0], up[len(up) // 2], up[-1]])
    return [curve(knots)]


def _tick(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    start = np.array([-half * rng.uniform(0.6, 1.0), -half * rng.uniform(-0.15, 0.35)])
    foot = np.array([-half * rng.uniform(0.05, 0.35), half * rng.uniform(0.6, 0.95)])
    reach = half * rng.uniform(0.8, 1.05) + hand.tail_mm * rng.uniform(0.3, 1.0)
    rise = half * rng.uniform(0.8, 1.0) + hand.tail_mm * rng.uniform(0.25, 0.8)
    end = np.array([reach, -rise])
    turn = foot + xy(0.06, 0.0)
    first = _line(start, foot, hand.bow, rng)
    second = _line(turn, end, hand.bow * float(rng.choice([-1.0, 1.0])), rng)
    return [np.vstack([first, second])]


def _slash(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    far = half + rng.uniform(0.0, 1.4, 2) * hand.overshoot_mm
    lean = float(rng.uniform(0.7, 1.1))
    ends = np.array([[far[0] * lean, -far[0]], [-far[1] * lean, far[1]]])
    return [_line(ends[0], ends[1], hand.bow, rng)]


def _backslash(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    return [path * (-1.0, 1.0) for path in _slash(hand, half, rng)]


def _dot(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    radius = half * 0.55
    turns = np.arange(0.0, 2.4 * 2 * np.pi, 0.5)
    spin = radius * np.linspace(0.15, 1.0, len(turns)) * rng.uniform(0.85, 1.15, len(turns))
    return [np.stack([spin * np.cos(turns), spin * np.sin(turns)], axis=1)]


def _scribble(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    gap = float(rng.uniform(0.28, 0.6))
    return [_hatching(half + hand.overshoot_mm * 0.3, gap, float(rng.uniform(20, 60)), 0.25, rng)]


def _fill(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    first = _hatching(half, 0.20, float(rng.uniform(-15, 45)), 0.2, rng)
    second = _hatching(half * 0.96, 0.26, float(rng.uniform(60, 110)), 0.2, rng)
    return [first, second]


def _ring(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    start = float(rng.uniform(-2.4, -1.2))
    turns = np.linspace(start, start - 2 * np.pi * float(rng.uniform(0.97, 1.12)), 12)
    wide, tall = half * float(rng.uniform(0.95, 1.2)), half * float(rng.uniform(0.85, 1.05))
    swell = 1.0 + np.linspace(0.0, float(rng.uniform(-0.12, 0.12)), 12) + rng.uniform(-0.03, 0.03, 12)
    return [curve(np.stack([wide * swell * np.cos(turns), tall * swell * np.sin(turns)], axis=1))]


def _wave(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    count = int(rng.integers(4, 7))
    x = np.linspace(-half, half, count) + rng.uniform(-0.1, 0.1, count) * half
    y = np.where(np.arange(count) % 2 == 0, 1.0, -1.0) * half * rng.uniform(0.35, 0.75, count)
    return [curve(np.stack([x, y], axis=1))]


def _hook(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A tick's mirror image, begun at the upper left: a long fall to the right, a short rounded hook back up left."""
    top = np.array([-half * rng.uniform(0.9, 1.2) - hand.tail_mm * 0.4, -half * rng.uniform(0.9, 1.1)])
    foot = np.array([half * rng.uniform(0.2, 0.5), half * rng.uniform(0.5, 0.9)])
    end = foot + np.array([half * rng.uniform(0.35, 0.6), -half * rng.uniform(0.5, 1.0)])
    middle = (top + foot) / 2 + rng.uniform(-0.15, 0.15, 2) * half
    bend = foot + np.array([half * 0.3, half * 0.05])
    return [curve(np.vstack([top, middle, foot, bend, end]))]


def _double_tick(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    first, second = _tick(hand, half * 0.8, rng)[0], _tick(hand, half * 0.75, rng)[0]
    apart = half * float(rng.uniform(0.3, 0.5))
    return [first - xy(apart, 0.0), second + xy(apart, 0.1 * half)]


def _spiral(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    turns = np.linspace(0.0, 2 * np.pi * float(rng.uniform(2.0, 3.2)), 22)
    radius = half * np.linspace(0.1, 1.0, 22) * rng.uniform(0.94, 1.06, 22)
    return [curve(np.stack([radius * np.cos(turns), radius * np.sin(turns)], axis=1))]


def _plus(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    far = half + rng.uniform(0.0, 1.2, 4) * hand.overshoot_mm
    off = rng.uniform(-0.15, 0.15, 2) * half
    return [
        _line(np.array([off[0], -far[0]]), np.array([off[0], far[1]]), hand.bow, rng),
        _line(np.array([-far[2], off[1]]), np.array([far[3], off[1]]), hand.bow, rng),
    ]


def _dash(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    far = half + rng.uniform(0.0, 1.2, 2) * hand.overshoot_mm
    y = rng.uniform(-0.2, 0.2, 2) * half
    return [_line(np.array([-far[0], y[0]]), np.array([far[1], y[1]]), hand.bow, rng)]


SHAPES: dict[str, Shape] = {
    "cross": _cross,
    "tick": _tick,
    "slash": _slash,
    "backslash": _backslash,
    "dot": _dot,
    "scribble": _scribble,
    "fill": _fill,
    "ring": _ring,
    "circle": _ring,
    "wave": _wave,
    "hook": _hook,
    "double-tick": _double_tick,
    "spiral": _spiral,
    "plus": _plus,
    "dash": _dash,
} | {
    **RARE_SHAPES,
    **SELDOM_SHAPES,
    **UNUSUAL_SHAPES,
    **UNCOMMON_SHAPES,
    **ODD_SHAPES,
    **SUNDRY_SHAPES,
    **HELD_OUT_SHAPES,
}


def _line(start: Points, end: Points, bow: float, rng: np.random.Generator) -> Points:
    """A stroke from start to end, bowed to one side by up to that share of its length."""
    span = end - start
    length = float(np.hypot(span[0], span[1]))
    side = np.array([-span[1], span[0]]) * float(rng.uniform(-1.0, 1.0)) * bow * 2
    share = shares(max(4, int(length / STEP_MM)))[:, None]
    return start + share * span + 2 * share * (1 - share) * side


def _hatching(half: float, gap_mm: float, angle_deg: float, loose: float, rng: np.random.Generator) -> Points:
    """A to-and-fro over a square of half side `half`, its lines `gap_mm` apart, at an angle; `loose` roughens it."""
    angle = np.deg2rad(angle_deg)
    across = np.array([np.cos(angle), np.sin(angle)])
    onward = np.array([-across[1], across[0]])
    reach = half * (abs(across[0]) + abs(across[1]))
    places = np.arange(-reach + float(rng.uniform(0.2, 1.0)) * gap_mm, reach, gap_mm)
    places = places + rng.uniform(-0.4, 0.4, len(places)) * gap_mm
    low, high = _chord(places, across, onward, half)
    places, low, high = places[low < high], low[low < high], high[low < high]
    ends = np.where(np.arange(len(places)) % 2 == 0, low, high)
    ends = np.clip(ends, -1.22 * half, 1.22 * half) * (1.0 + loose * rng.uniform(-0.5, 0.4, len(places)))
    knots = places[:, None] * onward + ends[:, None] * across
    return knots if half < 0.8 else _rounded(knots)


def _chord(places: NDArray[np.float64], across: Points, onward: Points, half: float) -> tuple[Points, Points]:
    """Where the hatching line at each place enters and leaves the square |x|, |y| <= half: low < high if it does."""
    low, high = np.full(len(places), -np.inf), np.full(len(places), np.inf)
    for axis in (0, 1):
        if abs(across[axis]) < 1e-3:
            continue
        one = (-half - places * onward[axis]) / across[axis]
        other = (half - places * onward[axis]) / across[axis]
        low, high = np.maximum(low, np.minimum(one, other)), np.minimum(high, np.maximum(one, other))
    return low, high


def _rounded(knots: Points) -> Points:
    """The zigzag through the knots with its corners rounded a little (Chaikin's corner cutting, once)."""
    first, second = 0.88 * knots[:-1] + 0.12 * knots[1:], 0.12 * knots[:-1] + 0.88 * knots[1:]
    middle = np.stack([first, second], axis=1).reshape(-1, 2)
    return np.vstack([knots[:1], middle, knots[-1:]])


def _tremor(count: int, shake_mm: float, rng: np.random.Generator) -> Points:
    """A smooth unrest of that root mean square, its bends about three steps apart."""
    knots = rng.standard_normal((count // 3 + 2, 2)) * shake_mm
    places = shares(count) * (len(knots) - 1)
    index = np.arange(len(knots))
    return np.stack([np.interp(places, index, knots[:, 0]), np.interp(places, index, knots[:, 1])], axis=1)


def _ease(share: NDArray[np.float64]) -> NDArray[np.float64]:
    bounded = np.minimum(np.maximum(share, 0.0), 1.0)
    return bounded * bounded * (3.0 - 2.0 * bounded)


@cache
def _catmull_rom(count: int) -> NDArray[np.float64]:
    t = np.linspace(0.0, 1.0, count, endpoint=False)
    return 0.5 * np.stack(
        [-t + 2 * t**2 - t**3, 2 - 5 * t**2 + 3 * t**3, t + 4 * t**2 - 3 * t**3, -(t**2) + t**3], axis=1
    )
