"""Paths of unusual marks, for `unusual_hands`; drawn by means of their own, like `rare_shapes`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from scanner.rehearsal.arrays import Points, xy
from scanner.rehearsal.habits import Hand

STEP_MM = 0.25
"""How far apart the points of a path are, as in `strokes`, which says how pens count along them."""

Shape = Callable[[Hand, float, np.random.Generator], list[Points]]


def _diamond(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    knots = half * np.array([(0.0, -0.95), (0.8, 0.0), (0.0, 0.95), (-0.8, 0.0), (0.05, -0.9)])
    return [_cornered(_missed(knots, half, rng), hand, rng)]


def _level_pair(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Two level strokes, one below the other, as a sign of equality."""
    reach = half * rng.uniform(0.75, 0.95, 4) + hand.overshoot_mm * rng.uniform(0.0, 0.8, 4)
    apart = half * float(rng.uniform(0.3, 0.5))
    lean = half * rng.uniform(-0.12, 0.12, 2)
    upper = _arc(xy(-reach[0], -apart + lean[0]), xy(reach[1], -apart - lean[0]), hand, rng)
    lower = _arc(xy(-reach[2], apart + lean[1]), xy(reach[3], apart - lean[1]), hand, rng)
    return [upper, lower]


def _tee(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A capital T."""
    top = -half * float(rng.uniform(0.7, 0.9))
    wide = half * rng.uniform(0.7, 0.95, 2) + hand.overshoot_mm * rng.uniform(0.0, 0.6, 2)
    foot = xy(half * rng.uniform(-0.1, 0.1), half * 0.9 + hand.overshoot_mm * rng.uniform(0.0, 0.6))
    return [_arc(xy(-wide[0], top), xy(wide[1], top), hand, rng), _arc(xy(0.0, top), foot, hand, rng)]


def _aitch(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A capital H."""
    x = half * rng.uniform(0.5, 0.75, 2)
    past = hand.overshoot_mm * rng.uniform(0.0, 0.6, 4)
    left = _arc(xy(-x[0], -0.85 * half - past[0]), xy(-x[0], 0.85 * half + past[1]), hand, rng)
    right = _arc(xy(x[1], -0.85 * half - past[2]), xy(x[1], 0.85 * half + past[3]), hand, rng)
    y = half * rng.uniform(-0.2, 0.2, 2)
    return [left, right, _arc(xy(-1.05 * x[0], y[0]), xy(1.05 * x[1], y[1]), hand, rng)]


def _double_vee(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A W, or an M by those who begin below."""
    knots = half * np.array([(-0.95, -0.8), (-0.5, 0.85), (0.0, -0.45), (0.5, 0.85), (0.95, -0.85)])
    upright = 1.0 if rng.random() < 0.7 else -1.0
    return [_cornered(_missed(knots, half, rng) * (1.0, upright), hand, rng)]


def _gee(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Most of a ring, open to the right, with a spur inwards: a capital G."""
    turns = np.deg2rad(np.linspace(-rng.uniform(35, 55), -rng.uniform(335, 350), 26))
    bow = half * np.column_stack([rng.uniform(0.75, 0.9) * np.cos(turns), 0.88 * np.sin(turns)])
    spur = np.array([bow[-1], xy(0.8 * half, half * rng.uniform(0.0, 0.15)), half * xy(rng.uniform(0.0, 0.25), 0.12)])
    return [np.vstack([_through(bow), _cornered(spur, hand, rng)])]


def _chevron(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """An angle that points to the right, or, for a few, to the left."""
    way = 1.0 if rng.random() < 0.8 else -1.0
    knots = half * np.array([(-0.7, -0.85), (0.8, 0.0), (-0.7, 0.85)])
    path = _missed(knots, half, rng)
    path[2] += xy(-0.7, 0.6) * hand.overshoot_mm * float(rng.uniform(0.0, 0.8))
    return [_cornered(path * (way, 1.0), hand, rng)]


def _hourglass(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A cross whose ends are joined above and below, or at both sides, in one line."""
    knots = half * np.array([(-0.8, -0.85), (0.8, 0.85), (-0.8, 0.85), (0.8, -0.85), (-0.85, -0.85)])
    path = _missed(knots, half, rng)
    return [_cornered(path if rng.random() < 0.6 else path[:, ::-1], hand, rng)]


def _hexagram(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A star of two triangles."""
    paths = []
    for upside in (-1.0, 1.0):
        knots = half * np.array([(0.0, 0.98), (-0.85, -0.5), (0.85, -0.5), (0.04, 0.95)]) * (1.0, upside)
        paths.append(_cornered(_missed(knots, half, rng), hand, rng))
    return paths


def _flower(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Petals about a heart, as a teacher draws for work well done."""
    petals = int(rng.integers(5, 7))
    turns = np.linspace(0.0, 2 * np.pi * float(rng.uniform(1.0, 1.06)), 14 * petals)
    radius = half * (0.72 + 0.26 * np.abs(np.sin(0.5 * petals * turns + float(rng.uniform(0.0, 3.0)))))
    begun = float(rng.uniform(0.0, 6.3))
    rim = radius[:, None] * np.column_stack([np.cos(turns + begun), np.sin(turns + begun)])
    inner = np.linspace(0.0, 2 * np.pi * float(rng.uniform(1.1, 1.5)), 16)
    grown = half * np.linspace(0.1, 0.34, 16)
    heart = grown[:, None] * np.column_stack([np.cos(inner), np.sin(inner)])
    return [_paced(heart), _paced(rim)]


def _gate(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Four strokes side by side and a fifth across them, as one counts."""
    paths = []
    for x in half * (np.linspace(-0.72, 0.72, 4) + rng.uniform(-0.06, 0.06, 4)):
        tall = half * rng.uniform(0.75, 0.95, 2)
        paths.append(_arc(xy(x + 0.06 * half, -tall[0]), xy(x - 0.06 * half, tall[1]), hand, rng))
    reach = half * float(rng.uniform(0.85, 1.0)) + 0.5 * hand.overshoot_mm
    return [*paths, _arc(xy(-reach, 0.55 * half), xy(reach, -0.55 * half), hand, rng)]


def _figure_two(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    bow = half * np.array([(-0.6, -0.5), (-0.3, -0.9), (0.3, -0.88), (0.55, -0.45), (0.15, 0.15), (-0.65, 0.85)])
    foot = half * np.array([(-0.65, 0.85), (0.75, 0.8)])
    return [np.vstack([_through(_missed(bow, half, rng)), _cornered(foot, hand, rng)])]


def _figure_four(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    angle = half * np.array([(-0.2, -0.9), (-0.7, 0.25), (0.75, 0.2)])
    x = half * float(rng.uniform(0.15, 0.35))
    stem = _arc(xy(x, -half * rng.uniform(0.3, 0.8)), xy(x - 0.05 * half, half * 0.95), hand, rng)
    return [_cornered(_missed(angle, half, rng), hand, rng), stem]


def _figure_seven(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A 7 with the bar through its stem."""
    knots = _missed(half * np.array([(-0.7, -0.8), (0.7, -0.85), (-0.2, 0.95)]), half, rng)
    middle = 0.5 * (knots[1] + knots[2])
    reach = half * float(rng.uniform(0.35, 0.5))
    return [_cornered(knots, hand, rng), _arc(middle - xy(reach, 0.0), middle + xy(reach, -0.1 * half), hand, rng)]


def _script_x(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A written x: two bows, back to back, that touch in the middle."""
    paths = []
    for side in (-1.0, 1.0):
        x = half * rng.uniform(0.65, 0.95, 2)
        waist = half * float(rng.uniform(-0.12, 0.06))
        bow = np.array(
            [(x[0], -0.85 * half), (x[0] * 0.45, -0.75 * half), (waist, 0.0), (x[1] * 0.45, 0.75 * half), (x[1], 0.0)]
        )
        bow[-1, 1] = half * float(rng.uniform(0.7, 0.9)) + 0.4 * hand.overshoot_mm * (side > 0)
        paths.append(_through(bow * (side, 1.0)))
    return paths


def _five_strokes(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The character of five strokes by which votes are counted in Japan."""
    strokes = (
        ((-0.8, -0.8), (0.8, -0.85)),
        ((0.05, -0.8), (0.05, 0.8)),
        ((0.05, -0.05), (0.65, -0.1)),
        ((-0.5, -0.15), (-0.5, 0.8)),
        ((-0.9, 0.85), (0.9, 0.8)),
    )
    return [_cornered(_missed(half * np.array(ends), half, rng), hand, rng) for ends in strokes]


def _three_dabs(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Three short fat dabs of the pen in the corners of a triangle."""
    places = _missed(half * np.array([(0.0, -0.5), (-0.55, 0.45), (0.55, 0.45)]), half, rng)
    turns = np.linspace(0.0, 2 * np.pi * 1.4, 12)
    whirl = 0.17 * half * np.linspace(0.3, 1.0, 12)[:, None] * np.column_stack([np.cos(turns), np.sin(turns)])
    return [place + whirl * float(rng.uniform(0.8, 1.2)) for place in places]


def _drop(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A drop, its point above, closed with more or less luck."""
    turns = np.linspace(-0.5 * np.pi, 1.5 * np.pi, 22)
    belly = half * np.column_stack([0.62 * np.cos(turns), 0.3 + 0.6 * np.sin(turns)])
    tip = half * xy(rng.uniform(-0.12, 0.12), -1.0)
    sides = belly[np.abs(np.arange(22) - 10.5) < 8.0]
    return [_through(np.vstack([tip, sides, tip + half * rng.uniform(-0.15, 0.15, 2)]))]


def _scrawl(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Somebody's initials, run together, with a stroke that trails off."""
    count = int(rng.integers(4, 6))
    x = half * np.linspace(-0.95, 0.55, 2 * count) + half * rng.uniform(-0.08, 0.08, 2 * count)
    y = half * rng.uniform(0.25, 0.85, 2 * count) * np.tile([-1.0, 1.0], count)
    y[0] = -half * float(rng.uniform(0.85, 1.0))
    lean = np.column_stack([x - 0.2 * y, y])
    last = lean[-1] + xy(half * 0.55 + 0.4 * hand.tail_mm, half * rng.uniform(-0.7, -0.2))
    return [_through(np.vstack([lean, last]))]


def _dotted_ring(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A ring with a dot in its middle, as a target."""
    turns = np.linspace(0.0, 2 * np.pi * float(rng.uniform(0.97, 1.08)), 24) + float(rng.uniform(0.0, 6.3))
    wide, tall = half * rng.uniform(0.78, 0.95, 2)
    ring = np.column_stack([wide * np.cos(turns), tall * np.sin(turns)])
    whirl = 0.14 * half * np.linspace(0.3, 1.0, 24)[:, None] * np.column_stack([np.cos(2 * turns), np.sin(2 * turns)])
    return [_through(_missed(ring, 0.4 * half, rng)), whirl + half * rng.uniform(-0.1, 0.1, 2)]


def _restruck_cross(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A cross whose arms are gone over two or three times without lifting the pen."""
    paths = []
    for side in (-1.0, 1.0):
        ends = np.array([(-0.85 * side, -0.85), (0.85 * side, 0.85)])
        knots = np.vstack([ends, ends, ends])[: int(rng.integers(3, 6))]
        path = half * knots + rng.uniform(-0.14, 0.14, knots.shape) * half
        paths.append(_cornered(path, hand, rng))
    return paths


def _restruck_tick(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A tick gone over, up and down its long arm, by somebody very sure."""
    start, foot = half * xy(-0.75, rng.uniform(-0.15, 0.15)), half * xy(-0.3, 0.8)
    tip = half * xy(0.8, -0.85) + 0.4 * hand.tail_mm * xy(0.6, -0.75)
    again = [tip, foot + half * xy(0.1, -0.1), 0.9 * tip, foot, tip][: int(rng.integers(3, 6))]
    path = np.vstack([start, foot, *again])
    return [_cornered(path + rng.uniform(-0.1, 0.1, path.shape) * half, hand, rng)]


def _round_fill(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The box filled by little loops, row below row, as one shades with a ballpoint."""
    rows = int(rng.integers(4, 6))
    loops: list[Points] = []
    for row, y in enumerate(np.linspace(-0.72, 0.72, rows) * half):
        turns = np.linspace(0.0, 2 * np.pi * 9, 108)
        along = half * np.linspace(-0.78, 0.78, 108) * (1.0 if row % 2 == 0 else -1.0)
        wide = half * rng.uniform(0.2, 0.3)
        loops.append(np.column_stack([along + wide * np.cos(turns), y + 1.1 * wide * np.sin(turns)]))
    return [_paced(np.vstack(loops))]


UNUSUAL_SHAPES: dict[str, Shape] = {
    "diamond": _diamond,
    "level-pair": _level_pair,
    "tee": _tee,
    "aitch": _aitch,
    "double-vee": _double_vee,
    "gee": _gee,
    "chevron": _chevron,
    "hourglass": _hourglass,
    "hexagram": _hexagram,
    "flower": _flower,
    "gate": _gate,
    "figure-two": _figure_two,
    "figure-four": _figure_four,
    "figure-seven": _figure_seven,
    "script-x": _script_x,
    "five-strokes": _five_strokes,
    "three-dabs": _three_dabs,
    "drop": _drop,
    "scrawl": _scrawl,
    "dotted-ring": _dotted_ring,
    "restruck-cross": _restruck_cross,
    "restruck-tick": _restruck_tick,
    "round-fill": _round_fill,
}


def _missed(knots: Points, half: float, rng: np.random.Generator) -> Points:
    """The knots as a hand hits them."""
    return np.asarray(knots + half * rng.triangular(-0.13, 0.0, 0.13, knots.shape), dtype=np.float64)


def _arc(start: Points, end: Points, hand: Hand, rng: np.random.Generator) -> Points:
    """A stroke as a piece of a wide circle, its bow a share of its length."""
    span = end - start
    sagitta = float(rng.uniform(-1.0, 1.0)) * hand.bow
    share = np.linspace(0.0, 1.0, max(4, int(np.ceil(float(np.hypot(*span)) / STEP_MM)) + 1))[:, None]
    path: Points = start + share * span + 4.0 * sagitta * share * (1.0 - share) * xy(-span[1], span[0])
    return path


def _cornered(knots: Points, hand: Hand, rng: np.random.Generator) -> Points:
    """Strokes from knot to knot without lifting the pen."""
    pieces: Sequence[Points] = [_arc(start, end, hand, rng) for start, end in pairwise(knots)]
    return np.vstack([pieces[0], *(piece[1:] for piece in pieces[1:])])


def _through(knots: Points) -> Points:
    """A smooth path through the knots: cubic Hermite pieces, their slopes from the neighbours' chord."""
    slopes = np.vstack([knots[1] - knots[0], (knots[2:] - knots[:-2]) / 2, knots[-1] - knots[-2]])
    t = np.linspace(0.0, 1.0, 8, endpoint=False)[:, None]
    first, second = 2 * t**3 - 3 * t**2 + 1, t**3 - 2 * t**2 + t
    pieces = [
        first * knots[i] + second * slopes[i] + (1 - first) * knots[i + 1] + (t**3 - t**2) * slopes[i + 1]
        for i in range(len(knots) - 1)
    ]
    return _paced(np.vstack([*pieces, knots[-1:]]))


def _paced(path: Points) -> Points:
    """The same path by points at even steps."""
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    steps = np.linspace(0.0, run[-1], max(4, int(np.ceil(run[-1] / STEP_MM)) + 1))
    return np.column_stack([np.interp(steps, run, path[:, 0]), np.interp(steps, run, path[:, 1])])
