"""Paths of marks kept for the last, for `held_out_hands`; drawn by means of their own, like `rare_shapes`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from scanner.rehearsal.arrays import Points, xy
from scanner.rehearsal.habits import Hand

STEP_MM = 0.25
"""How far apart the points of a path are, as in `strokes`, which says how pens count along them."""

Shape = Callable[[Hand, float, np.random.Generator], list[Points]]


def _radical(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A root sign: a short run-in, a tick, its tail laid flat to the right."""
    knots = _near(half * np.array([(-0.95, 0.15), (-0.6, -0.1), (-0.2, 0.85), (0.25, -0.8), (0.9, -0.82)]), half, rng)
    knots[4] = knots[4] + hand.tail_mm * float(rng.uniform(0.1, 0.8)) * xy(1.0, rng.uniform(-0.06, 0.06))
    return [_joined(list(knots), hand, rng)]


def _kisses(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Two small crosses side by side."""
    paths = []
    for middle in (-0.5, 0.5):
        spot = half * xy(middle, rng.uniform(-0.15, 0.15))
        corners = _near(half * 0.42 * np.array([(-1.0, -1.1), (1.0, 1.1), (1.0, -1.1), (-1.0, 1.1)]), 0.8 * half, rng)
        past = hand.overshoot_mm * float(rng.uniform(0.0, 0.4)) * xy(0.6, -0.7)
        paths.append(spot + _drawn(corners[0], corners[1], hand, rng))
        paths.append(spot + _drawn(corners[2] + past, corners[3], hand, rng))
    return paths


def _approval_curl(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The curl that a Dutch teacher puts beside what is right: a loop above, a fall, a loop below, and out."""
    loops = [(-0.25, -0.45), (0.1, -0.92), (0.48, -0.62), (0.02, 0.15), (-0.45, 0.82), (-0.75, 0.5), (-0.25, 0.2)]
    path = _near(half * np.array(loops), half, rng)
    end = half * xy(0.9, rng.uniform(-0.25, 0.1)) + hand.tail_mm * float(rng.uniform(0.0, 0.6)) * xy(0.9, -0.35)
    return [_threaded(np.vstack([path, end]))]


def _at_sign(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The sign of mail addresses: a small round letter, its stem swung all around it."""
    radius = half * rng.uniform(0.28, 0.36, 2)
    outer = [(0.34, -0.36), (0.36, 0.28), (0.68, 0.36), (0.95, -0.1), (0.55, -0.8), (-0.3, -0.95), (-0.92, -0.2)]
    outer += [(-0.75, 0.62), (0.0, 0.96), (0.62, 0.8)]
    return [_loop(radius, rng), _threaded(_near(half * np.array(outer), 0.6 * half, rng))]


def _letter_em(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A capital M in one line."""
    knots = [(-0.82, 0.9), (-0.6, -0.85), (0.0, 0.3), (0.62, -0.85), (0.82, 0.9)]
    return [_joined(list(_near(half * np.array(knots), half, rng)), hand, rng)]


def _letter_dee(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A capital D: a stem, and a bow from its head to its foot."""
    bow = [(-0.65, -0.85), (0.2, -0.78), (0.75, 0.0), (0.2, 0.8), (-0.65, 0.85)]
    stem = _near(half * np.array([(-0.5, -0.92), (-0.5, 0.92)]), half, rng)
    return [_drawn(stem[0], stem[1], hand, rng), _threaded(_near(half * np.array(bow), 0.7 * half, rng))]


def _letter_jay(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A capital J, a bar on its head."""
    hook = [(0.32, -0.85), (0.34, 0.1), (0.22, 0.75), (-0.22, 0.95), (-0.65, 0.55)]
    bar = _near(half * np.array([(-0.3, -0.88), (0.85, -0.88)]), half, rng)
    return [_threaded(_near(half * np.array(hook), 0.7 * half, rng)), _drawn(bar[0], bar[1], hand, rng)]


def _letter_pea(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A capital P: a stem, and a bow in its upper half."""
    bow = [(-0.55, -0.82), (0.25, -0.8), (0.62, -0.4), (0.2, 0.05), (-0.5, 0.08)]
    stem = _near(half * np.array([(-0.42, -0.9), (-0.45, 0.98)]), half, rng)
    return [_drawn(stem[0], stem[1], hand, rng), _threaded(_near(half * np.array(bow), 0.7 * half, rng))]


def _middle_sign(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The Japanese sign for the middle: a low frame, and a stroke down through it."""
    low = [(-0.72, -0.5), (-0.66, 0.38), (0.66, 0.36), (0.74, -0.5)]
    frame = _near(half * np.array(low), 0.8 * half, rng)
    past = hand.overshoot_mm * rng.uniform(0.0, 0.7, 2)
    top, foot = _near(half * np.array([(0.0, -0.98), (0.0, 0.98)]), 0.8 * half, rng)
    return [
        _drawn(frame[0], frame[1], hand, rng),
        _joined([frame[0], frame[3], frame[2]], hand, rng),
        _drawn(frame[1], frame[2], hand, rng),
        _drawn(top, foot + xy(0.0, past[1]), hand, rng),
    ]


def _ruled_tick(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A tick that stands on a line."""
    knots = _near(half * np.array([(-0.65, -0.2), (-0.2, 0.5), (0.7, -0.8)]), half, rng)
    knots[2] = knots[2] + hand.tail_mm * float(rng.uniform(0.0, 0.7)) * xy(0.75, -0.65)
    line = _near(half * np.array([(-0.85, 0.8), (0.9, 0.78)]), 0.8 * half, rng)
    past = hand.overshoot_mm * float(rng.uniform(0.0, 1.0))
    return [_joined(list(knots), hand, rng), _drawn(line[0], line[1] + xy(past, 0.0), hand, rng)]


def _lame_cross(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A cross made carelessly: its second stroke begins only near the middle of the first."""
    past = hand.overshoot_mm * rng.uniform(0.0, 0.9, 2)
    turn = float(rng.choice([-1.0, 1.0]))
    top, foot = _near(half * np.array([(-0.85, -0.95), (0.88, 0.95)]), half, rng)
    leg = top + float(rng.uniform(0.36, 0.55)) * (foot - top)
    end = _near(half * np.array([(-0.75, 0.92)]), half, rng)[0] + past[1] * xy(-0.6, 0.6)
    long = _drawn(top - past[0] * xy(0.6, 0.7), foot, hand, rng)
    return [path * (turn, 1.0) for path in (long, _drawn(leg, end, hand, rng))]


def _windblown_tick(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A round-footed tick, its tail bent over to the level as by a wind."""
    foot = [(-0.75, -0.1), (-0.42, 0.55), (-0.12, 0.72), (0.22, -0.1), (0.65, -0.68)]
    path = _near(half * np.array(foot), 0.8 * half, rng)
    tail = hand.tail_mm * float(rng.uniform(0.2, 0.9))
    end = path[-1] + xy(0.3 * half + tail, -0.12 * half - 0.15 * tail)
    return [_threaded(np.vstack([path, end]))]


def _bolt(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A flash of lightning in three strokes."""
    knots = [(0.4, -0.98), (-0.5, 0.12), (0.45, -0.08), (-0.35, 0.98)]
    return [_joined(list(_near(half * np.array(knots), half, rng)), hand, rng)]


HELD_OUT_SHAPES: dict[str, Shape] = {
    "radical": _radical,
    "kisses": _kisses,
    "approval-curl": _approval_curl,
    "at-sign": _at_sign,
    "letter-em": _letter_em,
    "letter-dee": _letter_dee,
    "letter-jay": _letter_jay,
    "letter-pea": _letter_pea,
    "middle-sign": _middle_sign,
    "ruled-tick": _ruled_tick,
    "lame-cross": _lame_cross,
    "windblown-tick": _windblown_tick,
    "bolt": _bolt,
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
    return _evenly(drift * radii * np.column_stack([np.cos(turns), np.sin(turns)]))


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
    return _evenly(np.vstack([pieces[0], *(piece[1:] for piece in pieces[1:])]))


def _evenly(path: Points) -> Points:
    """The same path by points at even steps."""
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    steps = np.linspace(0.0, run[-1], max(5, int(np.ceil(run[-1] / STEP_MM)) + 1))
    return np.column_stack([np.interp(steps, run, path[:, axis]) for axis in (0, 1)])
