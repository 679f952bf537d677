"""Paths of marks that hardly anybody makes, for `seldom_hands`; drawn by means of their own, like `rare_shapes`."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from scanner.rehearsal.arrays import Points, xy
from scanner.rehearsal.habits import Hand

STEP_MM = 0.25
"""How far apart the points of a path are, as in `strokes`, which says how pens count along them."""

Shape = Callable[[Hand, float, np.random.Generator], list[Points]]


def _vee(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A V, its right arm at times drawn out."""
    left = half * xy(-rng.uniform(0.6, 0.95), -rng.uniform(0.6, 0.95))
    foot = half * xy(rng.uniform(-0.15, 0.12), rng.uniform(0.7, 0.95))
    out = 0.6 * hand.tail_mm * float(rng.uniform(0.2, 1.0))
    right = half * xy(rng.uniform(0.6, 0.95), -rng.uniform(0.65, 1.0)) + out * xy(0.5, -0.8)
    return [_joined(_stroke(left, foot, hand.bow, rng), _stroke(foot, right, hand.bow, rng))]


def _ribbon(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A cross in one line whose two right ends are a wide loop: a fish, or the Greek alpha."""
    past = hand.overshoot_mm * rng.uniform(0.2, 1.0, 2)
    knots = half * np.array([(-0.85, -0.75), (-0.1, -0.05), (0.5, 0.6), (0.95, 0.1), (0.55, -0.6), (-0.1, 0.1)])
    first = half * xy(-0.85, -0.75) - past[0] * xy(0.7, 0.6)
    last = half * xy(-0.85, 0.8) + past[1] * xy(-0.7, 0.6)
    turned = float(rng.choice([-1.0, 1.0]))
    path = np.vstack([first, knots[1:] + _off(half, 5, rng), last])
    return [_flowing(path if turned > 0 else path * (1.0, -1.0))]


def _re_mark(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The katakana re: straight down at the left, a sharp corner, a long rise to the right."""
    x = -half * float(rng.uniform(0.45, 0.75))
    top, foot = xy(x, -half * rng.uniform(0.75, 1.0)), xy(x + half * rng.uniform(0.0, 0.12), half * 0.85)
    tip = half * xy(rng.uniform(0.75, 1.0), -rng.uniform(0.1, 0.5)) + 0.7 * hand.tail_mm * xy(0.8, -0.55)
    return [_joined(_stroke(top, foot, hand.bow, rng), _stroke(foot, tip, hand.bow, rng))]


def _double_ring(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Two rings, one in the other."""
    inner = float(rng.uniform(0.32, 0.45))
    return [_ring(half * 0.85, half, rng), _ring(half * inner, half, rng)]


def _triangle(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    knots = half * np.array([(0.0, -0.85), (-0.85, 0.7), (0.85, 0.72), (0.05, -0.8)]) + _off(half, 4, rng)
    return [_joined(*(_stroke(knots[i], knots[i + 1], hand.bow, rng) for i in range(3)))]


def _heart(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    side = np.array([(0.0, -0.35), (0.35, -0.85), (0.85, -0.6), (0.75, 0.0), (0.35, 0.5), (0.0, 0.9)])
    knots = half * np.vstack([side, side[-2::-1] * (-1.0, 1.0)])
    return [_flowing(knots + 0.6 * _off(half, len(knots), rng))]


def _figure_one(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A 1 with its flag, on a foot now and then."""
    lean = half * float(rng.uniform(-0.1, 0.2))
    top, foot = xy(lean, -half * 0.95), xy(-lean, half * 0.9 + 0.5 * hand.overshoot_mm)
    flag = top + half * xy(-rng.uniform(0.45, 0.75), rng.uniform(0.4, 0.65))
    paths = [_joined(_stroke(flag, top, hand.bow, rng), _stroke(top, foot, hand.bow, rng))]
    if rng.random() < 0.4:
        wide = half * rng.uniform(0.4, 0.6, 2)
        paths.append(_stroke(foot - xy(wide[0], 0.0), foot + xy(wide[1], 0.0), hand.bow, rng))
    return paths


def _okay(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The letters o and k."""
    o = _ring(half * 0.36, half, rng) * (1.0, 1.25) + half * xy(-0.55, 0.25)
    stem = half * xy(rng.uniform(0.1, 0.2), 0.0)
    up = _stroke(stem + half * xy(0.05, -0.9), stem + half * xy(0.0, 0.75), hand.bow, rng)
    fork = stem + half * xy(0.08, rng.uniform(0.1, 0.25))
    arm = _stroke(half * xy(0.85, -rng.uniform(0.1, 0.35)), fork, hand.bow, rng)
    leg = _stroke(fork, half * xy(0.9, rng.uniform(0.65, 0.85)), hand.bow, rng)
    return [o, up, _joined(arm, leg)]


def _letter_k(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A capital K that stands for a name."""
    x = -half * float(rng.uniform(0.4, 0.65))
    past = hand.overshoot_mm * rng.uniform(0.1, 0.9, 3)
    stem = _stroke(xy(x, -0.85 * half - past[0]), xy(x - 0.05 * half, 0.85 * half + past[1]), hand.bow, rng)
    fork = xy(x + 0.15 * half, half * float(rng.uniform(-0.1, 0.15)))
    arm = _stroke(half * xy(rng.uniform(0.6, 0.9), -0.9), fork, hand.bow, rng)
    leg = _stroke(fork, half * xy(rng.uniform(0.65, 0.95), 0.85) + past[2] * xy(0.7, 0.7), hand.bow, rng)
    return [stem, _joined(arm, leg)]


def _letter_a(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A capital A."""
    top = half * xy(rng.uniform(-0.1, 0.15), -0.95)
    feet = [half * xy(side * rng.uniform(0.65, 0.9), rng.uniform(0.75, 0.95)) for side in (-1.0, 1.0)]
    bar = half * float(rng.uniform(0.1, 0.35))
    across = _stroke(xy(-0.55 * half, bar), xy(0.6 * half + 0.3 * hand.overshoot_mm, bar), hand.bow, rng)
    return [_joined(_stroke(feet[0], top, hand.bow, rng), _stroke(top, feet[1], hand.bow, rng)), across]


def _crossed_tick(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A tick whose long arm is struck through, as of one who checks twice."""
    start, foot = half * xy(-rng.uniform(0.7, 0.95), 0.0), half * xy(-0.25, rng.uniform(0.65, 0.9))
    tip = half * xy(rng.uniform(0.75, 1.0), -rng.uniform(0.75, 1.0)) + 0.5 * hand.tail_mm * xy(0.7, -0.7)
    middle = foot + (tip - foot) * float(rng.uniform(0.45, 0.6))
    reach = half * float(rng.uniform(0.35, 0.5))
    return [
        _joined(_stroke(start, foot, hand.bow, rng), _stroke(foot, tip, hand.bow, rng)),
        _stroke(middle - reach * xy(0.8, 0.6), middle + reach * xy(0.8, 0.6), hand.bow, rng),
    ]


def _ringed_tick(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A tick, then a ring about it."""
    start, foot = half * xy(-0.55, -0.05), half * xy(-0.15, rng.uniform(0.4, 0.55))
    tip = half * xy(rng.uniform(0.5, 0.65), -rng.uniform(0.45, 0.65))
    check = _joined(_stroke(start, foot, hand.bow, rng), _stroke(foot, tip, hand.bow, rng))
    return [check, _ring(half * 0.95, half, rng)]


def _coil(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Loop after loop from left to right, as a cable hangs."""
    loops = float(rng.uniform(2.2, 3.2))
    turns = np.linspace(0.0, 2 * np.pi * loops, round(14 * loops))
    onward = np.linspace(-0.6, 0.6, len(turns)) * half
    wide, tall = half * float(rng.uniform(0.28, 0.38)), half * float(rng.uniform(0.55, 0.8))
    swell = 1.0 + 0.12 * np.sin(0.5 * turns + float(rng.uniform(0.0, 6.0)))
    return [_even(np.column_stack([onward + wide * np.sin(turns), tall * swell * np.cos(turns)]))]


def _hatched(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Strokes side by side from corner to corner, the pen lifted between them."""
    count = int(rng.integers(4, 6))
    way = _unit(float(rng.uniform(-62.0, -38.0)))
    beside = xy(-way[1], way[0])
    paths = []
    for place in np.linspace(-0.85, 0.85, count) + rng.uniform(-0.07, 0.07, count):
        reach = half * (1.15 - 0.55 * abs(float(place))) * rng.uniform(0.85, 1.1, 2) + 0.3 * hand.overshoot_mm
        middle = half * float(place) * beside
        paths.append(_stroke(middle - reach[0] * way, middle + reach[1] * way, hand.bow, rng))
    return paths


def _exclamation(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    top, foot = half * xy(rng.uniform(-0.1, 0.2), -0.95), half * xy(0.0, rng.uniform(0.3, 0.45))
    point = half * xy(rng.uniform(-0.1, 0.05), rng.uniform(0.8, 0.9))
    return [
        _stroke(top - xy(0.0, 0.5 * hand.overshoot_mm), foot, hand.bow, rng),
        _stroke(point, point + half * xy(0.06, 0.1), 0.0, rng),
    ]


def _figure_eight(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    turns = np.linspace(0.0, 2 * np.pi * float(rng.uniform(0.98, 1.08)), 30) + np.pi / 2
    wide = half * float(rng.uniform(0.45, 0.65))
    eight = np.column_stack([wide * np.sin(2 * turns), -0.9 * half * np.sin(turns)])
    lying = rng.random() < 0.15
    return [_even(eight[:, ::-1] if lying else eight)]


def _rice(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A cross with a point in each of its four quarters."""
    arms = [_unit(angle + float(rng.uniform(-7, 7))) * half * 0.95 for angle in (45.0, 135.0)]
    crossed = [_stroke(-arm, arm * float(rng.uniform(0.9, 1.1)), hand.bow, rng) for arm in arms]
    quarters = half * np.array([(0.0, -0.7), (0.7, 0.0), (0.0, 0.7), (-0.7, 0.0)]) + _off(half, 4, rng)
    return crossed + [_stroke(place, place + half * xy(0.08, 0.08), 0.0, rng) for place in quarters]


def _cup(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A round bow open above."""
    knots = half * np.array([(-0.8, -0.8), (-0.8, 0.1), (-0.4, 0.8), (0.3, 0.85), (0.75, 0.2), (0.85, -0.8)])
    tail = 0.4 * hand.tail_mm * float(rng.uniform(0.0, 1.0))
    return [_flowing(np.vstack([knots + _off(half, 6, rng), half * xy(0.9, -0.95) + tail * xy(0.4, -0.9)]))]


SELDOM_SHAPES: dict[str, Shape] = {
    "vee": _vee,
    "ribbon": _ribbon,
    "re-mark": _re_mark,
    "double-ring": _double_ring,
    "triangle": _triangle,
    "heart": _heart,
    "figure-one": _figure_one,
    "okay": _okay,
    "letter-k": _letter_k,
    "letter-a": _letter_a,
    "crossed-tick": _crossed_tick,
    "ringed-tick": _ringed_tick,
    "coil": _coil,
    "hatched": _hatched,
    "exclamation": _exclamation,
    "figure-eight": _figure_eight,
    "rice": _rice,
    "cup": _cup,
}


def _unit(degrees: float) -> Points:
    angle = np.deg2rad(degrees)
    return xy(np.cos(angle), np.sin(angle))


def _off(half: float, count: int, rng: np.random.Generator) -> Points:
    """By how much a hand misses that many places."""
    return np.asarray(np.clip(0.06 * rng.standard_normal((count, 2)), -0.14, 0.14) * half, dtype=np.float64)


def _stroke(start: Points, end: Points, bow: float, rng: np.random.Generator) -> Points:
    """A stroke that sways from the straight line: half a wave, and a little of a whole one."""
    span = end - start
    side = xy(-span[1], span[0])
    share = np.linspace(0.0, 1.0, max(4, int(np.ceil(np.hypot(*span) / STEP_MM)) + 1))[:, None]
    one, two = rng.uniform(-1.0, 1.0, 2) * bow
    sway: Points = start + share * span + side * (one * np.sin(np.pi * share) + 0.4 * two * np.sin(2 * np.pi * share))
    return sway


def _joined(*paths: Points) -> Points:
    """One path through all of these without lifting the pen."""
    return np.vstack(paths)


def _ring(radius: float, half: float, rng: np.random.Generator) -> Points:
    """Nearly a circle, begun somewhere above and closed with more or less luck."""
    begun = float(rng.uniform(-2.6, -0.6))
    turns = np.linspace(0.0, 2 * np.pi * float(rng.uniform(0.96, 1.1)), 24)
    sway = 1.0 + 0.07 * np.sin(turns + rng.uniform(0, 6)) + 0.04 * np.sin(2 * turns + rng.uniform(0, 6))
    ring = np.column_stack([np.cos(begun - turns), float(rng.uniform(0.88, 1.0)) * np.sin(begun - turns)])
    return _even(radius * sway[:, None] * ring + 0.5 * _off(half, 1, rng))


def _flowing(knots: Points) -> Points:
    """A path without corners past the knots, its ends at the first and last: a uniform cubic B-spline.

    References
    ----------
    .. [1] C. de Boor, "A Practical Guide to Splines" (1978); the uniform basis from memory.
    """
    held = np.vstack([2 * knots[0] - knots[1], knots, 2 * knots[-1] - knots[-2]])
    t = np.linspace(0.0, 1.0, 8, endpoint=False)[:, None]
    basis = np.hstack([(1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, -3 * t**3 + 3 * t**2 + 3 * t + 1, t**3]) / 6
    pieces: Sequence[Points] = [basis @ held[i : i + 4] for i in range(len(held) - 3)]
    return _even(np.vstack([*pieces, knots[-1:]]))


def _even(path: Points) -> Points:
    """The same path by points at even steps."""
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    steps = np.linspace(0.0, run[-1], max(4, int(np.ceil(run[-1] / STEP_MM)) + 1))
    return np.column_stack([np.interp(steps, run, path[:, 0]), np.interp(steps, run, path[:, 1])])
