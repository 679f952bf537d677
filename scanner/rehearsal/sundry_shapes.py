"""Paths of marks for `sundry_hands`; held out once, tuned upon since. Means of their own, like `rare_shapes`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from scanner.rehearsal.arrays import Points, xy
from scanner.rehearsal.habits import Hand
from scanner.rehearsal.stroke_paths import spread

STEP_MM = 0.25
"""How far apart the points of a path are, as in `strokes`, which says how pens count along them."""

Shape = Callable[[Hand, float, np.random.Generator], list[Points]]


def _shime_sign(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The sign that closes an envelope: a loop whose ends cross, one drawn out below at the left, one at the right."""
    knots = [(0.75, -0.75), (0.0, 0.15), (-0.55, 0.75), (-0.75, 0.35), (-0.4, -0.05), (0.2, 0.3)]
    path = _near(half * np.array(knots), half, rng)
    start = path[0] + hand.overshoot_mm * float(rng.uniform(0.0, 0.9)) * xy(0.6, -0.7)
    end = half * xy(0.85, rng.uniform(0.6, 0.8)) + hand.tail_mm * float(rng.uniform(0.05, 0.7)) * xy(0.85, 0.4)
    return [_threaded(np.vstack([start, path[1:], end]))]


def _manikin(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A head, a trunk, arms and legs."""
    radius = half * float(rng.uniform(0.24, 0.32))
    head = half * xy(rng.uniform(-0.08, 0.08), -0.66)
    neck, hip = head + xy(0.0, radius), half * xy(rng.uniform(-0.08, 0.08), 0.32)
    shoulder = neck + 0.28 * (hip - neck)
    hands, feet = _near(half * np.array([(-0.75, -0.2), (0.75, -0.25), (-0.6, 0.95), (0.6, 0.95)]), half, rng).reshape(
        2, 2, 2
    )
    arms = _joined([hands[0], shoulder, hands[1]], hand, rng)
    legs = _joined([feet[0], hip, feet[1]], hand, rng)
    return [head + _loop(xy(radius, radius), rng), _drawn(neck, hip, hand, rng), arms, legs]


def _section_sign(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The sign of paragraphs: an S, and half an S hung into it."""
    upper = [(0.45, -0.75), (0.05, -0.98), (-0.4, -0.7), (-0.2, -0.35), (0.35, -0.02), (0.4, 0.3), (0.05, 0.45)]
    lower = [(-0.05, -0.45), (-0.42, -0.28), (-0.35, 0.05), (0.2, 0.38), (0.42, 0.7), (-0.02, 0.98), (-0.48, 0.75)]
    wide = float(rng.uniform(1.05, 1.35))
    return [_threaded(_near(half * np.array(knots) * (wide, 1.0), 0.5 * half, rng)) for knots in (upper, lower)]


def _obelus(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The sign of division: a bar, a blob above it and one below."""
    past = hand.overshoot_mm * rng.uniform(0.0, 0.7, 2)
    start, end = _near(half * np.array([(-0.85, 0.0), (0.85, 0.0)]), half, rng)
    paths = [_drawn(start - xy(past[0], 0.0), end + xy(past[1], 0.0), hand, rng)]
    for y in (-0.55, 0.55):
        spot = _near(half * np.array([(0.0, y)]), half, rng)[0]
        paths.append(spot + _loop(half * rng.uniform(0.07, 0.14, 2), rng))
    return paths


def _clover(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Three leaves in one line, and the stalk."""
    turns = np.linspace(0.0, 2 * np.pi, 40) + np.deg2rad(90.0)
    radius = half * (0.5 + 0.4 * np.cos(3.0 * (turns + np.pi / 2)))
    lobes = radius[:, None] * np.column_stack([np.cos(turns), np.sin(turns)]) - half * xy(0.0, 0.08)
    bumps = np.interp(np.arange(40), np.linspace(0, 39, 7), rng.uniform(0.88, 1.12, 7))
    foot = half * xy(rng.uniform(-0.1, 0.35), 0.98)
    return [spread(lobes * bumps[:, None]), _drawn(half * xy(0.02, 0.1), foot, hand, rng)]


def _fir(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A trunk, and three pairs of boughs."""
    foot = half * xy(rng.uniform(-0.06, 0.06), 0.95) + xy(0.0, 0.4 * hand.overshoot_mm * float(rng.random()))
    paths = [_drawn(half * xy(rng.uniform(-0.06, 0.06), -0.98), foot, hand, rng)]
    for y, wide in ((-0.6, 0.42), (-0.15, 0.62), (0.32, 0.85)):
        fork = half * xy(rng.uniform(-0.04, 0.04), y + float(rng.uniform(-0.06, 0.06)))
        ends = [fork + half * xy(side * wide * rng.uniform(0.85, 1.1), rng.uniform(0.3, 0.45)) for side in (-1.0, 1.0)]
        paths.append(_joined([ends[0], fork, ends[1]], hand, rng))
    return paths


def _plus_minus(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A plus, and a bar under it."""
    past = hand.overshoot_mm * rng.uniform(0.0, 0.5, 2)
    middle = half * xy(rng.uniform(-0.1, 0.1), rng.uniform(-0.35, -0.2))
    upright = _drawn(middle - xy(0.0, 0.65 * half + past[0]), middle + xy(0.0, 0.68 * half), hand, rng)
    paths = [upright, _drawn(middle - xy(0.72 * half, 0.0), middle + xy(0.75 * half, 0.0), hand, rng)]
    start, end = _near(half * np.array([(-0.75, 0.75), (0.8, 0.72)]), 0.7 * half, rng)
    return [*paths, _drawn(start, end + xy(past[1], 0.0), hand, rng)]


def _stairs(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Three steps up to the right, the last tread drawn out."""
    rises = np.linspace(0.85, -0.85, 4) + rng.uniform(-0.06, 0.06, 4)
    treads = np.linspace(-0.9, 0.85, 4) + rng.uniform(-0.06, 0.06, 4)
    knots = [xy(treads[0] - 0.05, rises[0])]
    for step in range(3):
        knots += [xy(treads[step] + 0.28, rises[step]), xy(treads[step] + 0.3, rises[step + 1])]
    out = xy(half * rng.uniform(0.85, 1.0) + hand.tail_mm * rng.uniform(0.0, 0.8), half * rises[3])
    return [_joined([*(half * knot for knot in knots), out - xy(0.0, 0.05 * half)], hand, rng)]


def _fishbone(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A spine from corner to corner, short ribs across it."""
    side = float(rng.choice([-1.0, 1.0]))
    past = hand.overshoot_mm * rng.uniform(0.0, 0.6, 2)
    way = xy(side, -1.0) / np.sqrt(2.0)
    low, high = -(1.1 * half + past[0]) * way, (1.1 * half + past[1]) * way
    paths = [_drawn(low, high, hand, rng)]
    across = xy(-way[1], way[0])
    for share in (-0.5, 0.0, 0.5):
        spot = half * (share + float(rng.uniform(-0.08, 0.08))) * 1.1 * way
        reach = half * rng.uniform(0.38, 0.58, 2)
        lean = half * float(rng.uniform(-0.12, 0.12)) * way
        paths.append(_drawn(spot - reach[0] * across - lean, spot + reach[1] * across + lean, hand, rng))
    return paths


def _watching_eye(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Two lids that meet at the corners, and a pupil between them."""
    tall = half * float(rng.uniform(0.55, 0.78))
    corners = _near(half * np.array([(-0.95, 0.0), (0.95, 0.0)]), 0.6 * half, rng)
    lids = [
        _threaded(np.vstack([corners[0], xy(-0.4 * half, y), xy(0.4 * half, y), corners[1]])) for y in (-tall, tall)
    ]
    pupil = half * rng.uniform(0.14, 0.24, 2)
    return [*lids, half * xy(rng.uniform(-0.12, 0.12), 0.0) + _loop(pupil, rng, times=1.8)]


SUNDRY_SHAPES: dict[str, Shape] = {
    "shime-sign": _shime_sign,
    "manikin": _manikin,
    "section-sign": _section_sign,
    "obelus": _obelus,
    "clover": _clover,
    "fir": _fir,
    "plus-minus": _plus_minus,
    "stairs": _stairs,
    "fishbone": _fishbone,
    "watching-eye": _watching_eye,
}


def _near(knots: Points, half: float, rng: np.random.Generator) -> Points:
    """The knots as a hand comes near them: each off by its own step, all by a common one."""
    common = 0.06 * half * rng.standard_normal(2).clip(-1.5, 1.5)
    own = 0.06 * half * rng.standard_normal(knots.shape).clip(-1.8, 1.8)
    return np.asarray(knots + common + own, dtype=np.float64)


def _loop(radii: Points, rng: np.random.Generator, times: float = 1.06) -> Points:
    """A round line that closes, wound so many times about its middle."""
    begun = float(rng.uniform(0.0, 2 * np.pi))
    turns = begun + float(rng.choice([-1.0, 1.0])) * np.linspace(0.0, 2 * np.pi * times, round(20 * times))
    drift = np.linspace(float(rng.uniform(0.82, 1.0)), float(rng.uniform(0.95, 1.12)), len(turns))[:, None]
    return spread(drift * radii * np.column_stack([np.cos(turns), np.sin(turns)]))


def _drawn(start: Points, end: Points, hand: Hand, rng: np.random.Generator) -> Points:
    """A stroke that sags to one side by up to the hand's bow, most before or after its middle."""
    span = end - start
    count = max(5, int(np.ceil(float(np.hypot(*span)) / STEP_MM)) + 1)
    share = np.linspace(0.0, 1.0, count)[:, None]
    peak = float(rng.uniform(0.7, 1.4))
    sag = hand.bow * float(rng.uniform(-1.2, 1.2)) * np.sin(np.pi * share**peak)
    return np.asarray(start + share * span + sag * xy(-span[1], span[0]))


def _joined(knots: Sequence[Points], hand: Hand, rng: np.random.Generator) -> Points:
    """Strokes from knot to knot, the pen not lifted."""
    pieces = [_drawn(start, end, hand, rng) for start, end in pairwise(knots)]
    return np.vstack([pieces[0], *(piece[1:] for piece in pieces[1:])])


def _threaded(knots: Points) -> Points:
    """A smooth path through all knots: the natural cubic spline over their chord lengths."""
    run = np.concatenate([[0.0], np.cumsum(np.sqrt(np.hypot(*np.diff(knots, axis=0).T)))])
    gaps = np.diff(run)
    system, wanted = np.eye(len(knots)), np.zeros_like(knots)
    for i in range(1, len(knots) - 1):
        system[i, i - 1 : i + 2] = gaps[i - 1], 2.0 * (gaps[i - 1] + gaps[i]), gaps[i]
        wanted[i] = 6.0 * ((knots[i + 1] - knots[i]) / gaps[i] - (knots[i] - knots[i - 1]) / gaps[i - 1])
    bends = np.linalg.solve(system, wanted)
    pieces = []
    for i, gap in enumerate(gaps):
        t = np.linspace(0.0, gap, 12)[:, None]
        slope = (knots[i + 1] - knots[i]) / gap - gap / 6.0 * (2.0 * bends[i] + bends[i + 1])
        pieces.append(knots[i] + t * slope + t**2 / 2.0 * bends[i] + t**3 / (6.0 * gap) * (bends[i + 1] - bends[i]))
    return spread(np.vstack([pieces[0], *(piece[1:] for piece in pieces[1:])]))
