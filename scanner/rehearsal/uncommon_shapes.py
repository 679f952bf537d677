"""Paths of marks that are uncommon, for `uncommon_hands`; once held out, tuned upon since."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from scanner.rehearsal.arrays import Points, xy
from scanner.rehearsal.habits import Hand
from scanner.rehearsal.sheet_marks import direction
from scanner.rehearsal.stroke_paths import astray, bent, pull, spread, wound

Shape = Callable[[Hand, float, np.random.Generator], list[Points]]


def _struck_ring(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A ring, and a stroke through it from below to above."""
    reach = half * rng.uniform(0.95, 1.15, 2) + 0.4 * hand.overshoot_mm
    way = direction(rng.uniform(-62.0, -35.0))
    return [
        _oval(xy(0.0, 0.0), half * rng.uniform(0.62, 0.82, 2), rng),
        pull(-reach[0] * way, reach[1] * way, hand, rng),
    ]


def _crossed_square(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A square with a cross in it, as a box drawn in the box."""
    side = half * float(rng.uniform(0.6, 0.8))
    square = astray(side * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -0.95)]), half, rng)
    falling, rising = ([(-0.85, -0.85), (0.85, 0.85)], [(-0.85, 0.85), (0.85, -0.85)])
    crossed = [bent(astray(side * np.array(ends), half, rng), hand, rng) for ends in (falling, rising)]
    return [bent(square, hand, rng), *crossed]


def _and_sign(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The sign for "and", begun and ended below at the right."""
    knots = [(0.8, 0.85), (-0.1, -0.1), (-0.45, -0.6), (-0.05, -0.95), (0.3, -0.6), (-0.3, 0.05), (-0.65, 0.5)]
    path = np.array([*knots, (-0.2, 0.9), (0.4, 0.6), (0.85, 0.05)])
    return [wound(astray(half * path, half, rng))]


def _quaver(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A note: its head filled, a stem, a flag."""
    turns = np.linspace(0.0, 2 * np.pi * 2.6, 40)
    spin = np.linspace(0.15, 1.0, 40)[:, None] * np.column_stack([np.cos(turns), 0.75 * np.sin(turns)])
    middle = astray(half * np.array([(-0.35, 0.6)]), half, rng)[0]
    head = middle + half * 0.36 * spin
    foot, top = middle + half * xy(0.34, -0.05), half * xy(0.05, -rng.uniform(0.85, 1.0))
    flag = np.vstack([top, half * astray(np.array([(0.35, -0.55), (0.7, -0.35), (0.6, 0.1)]), 1.0, rng)])
    return [spread(head), pull(foot, top, hand, rng), wound(flag)]


def _leaf(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A leaf: two bows from tip to tip, and its rib."""
    tips = astray(half * np.array([(-0.85, 0.8), (0.85, -0.85)]), half, rng)
    side = half * float(rng.uniform(0.4, 0.6)) * xy(0.7, 0.7)
    bows = [wound(np.vstack([tips[0], tips.mean(axis=0) + way * side, tips[1]])) for way in (-1.0, 1.0)]
    return [*bows, pull(tips[0] * 1.1, 0.7 * tips[1], hand, rng)]


def _sun(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A small ring with rays."""
    inner, count = half * float(rng.uniform(0.32, 0.42)), int(rng.integers(6, 9))
    rays = []
    for angle in np.linspace(0.0, 360.0, count, endpoint=False) + rng.uniform(-7.0, 7.0, count):
        way = direction(float(angle))
        rays.append(pull(1.3 * inner * way, half * rng.uniform(0.85, 1.02) * way, hand, rng))
    return [_oval(xy(0.0, 0.0), inner * np.ones(2), rng), *rays]


def _crown(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    knots = [(-0.75, 0.7), (-0.9, -0.6), (-0.4, 0.1), (0.0, -0.85), (0.4, 0.1), (0.9, -0.65), (0.75, 0.7)]
    return [bent(astray(half * np.array([*knots, (-0.8, 0.72)]), half, rng), hand, rng)]


def _house(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The house that children draw in one line, its diagonals crossed."""
    knots = [(-0.7, 0.85), (0.7, 0.85), (0.7, -0.2), (-0.7, -0.2), (0.0, -0.95), (0.7, -0.2), (-0.7, 0.85)]
    return [bent(astray(half * np.array([*knots, (-0.7, -0.2), (0.7, 0.85)]), 0.7 * half, rng), hand, rng)]


def _cherries(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Two little rings on stems that meet above."""
    spots = astray(half * np.array([(-0.5, 0.5), (0.5, 0.45)]), half, rng)
    top = half * xy(rng.uniform(0.0, 0.3), -0.95)
    rings = [_oval(spot, half * rng.uniform(0.3, 0.42, 2), rng) for spot in spots]
    return [*rings, *(pull(top, spot - half * xy(0.0, 0.35), hand, rng) for spot in spots)]


def _great(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The character for "great": a level stroke, and two legs that part from under it."""
    fork = half * xy(rng.uniform(-0.08, 0.1), rng.uniform(-0.3, -0.1))
    level = pull(half * xy(-0.85, fork[1] / half + 0.05), half * xy(0.9, fork[1] / half - 0.1), hand, rng)
    left = np.vstack([xy(fork[0], -0.95 * half), fork, half * xy(-0.35, 0.4), half * xy(-0.85, 0.85)])
    right = np.vstack([fork, half * xy(0.3, 0.4), half * xy(0.9, 0.85) + 0.4 * hand.overshoot_mm * xy(0.8, 0.6)])
    return [level, wound(left), wound(right)]


def _short_cross(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The katakana me: a long stroke down to the left, a short one across its middle."""
    past = hand.overshoot_mm * rng.uniform(0.0, 0.8, 2)
    high, low = half * xy(0.7, -0.95) + past[0] * xy(0.5, -0.8), half * xy(-0.85, 0.9) + past[1] * xy(-0.6, 0.7)
    long = np.vstack([high, half * astray(np.array([(0.15, 0.1)]), 1.0, rng), low])
    start, end = astray(half * np.array([(-0.55, -0.4), (0.6, 0.55)]), half, rng)
    return [wound(long), pull(start, end, hand, rng)]


def _swirl(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """The hiragana no: down through the middle, then once around."""
    knots = [(0.1, -0.55), (-0.05, 0.2), (-0.5, 0.65), (-0.85, 0.1), (-0.5, -0.65), (0.15, -0.85), (0.8, -0.35)]
    path = np.array([*knots, (0.75, 0.4), (0.2, 0.85)])
    return [wound(astray(half * path, half, rng))]


def _letter_r(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A capital R, for "right"."""
    x = -half * float(rng.uniform(0.4, 0.6))
    stem = pull(xy(x, -0.9 * half), xy(x, 0.85 * half + 0.4 * hand.overshoot_mm), hand, rng)
    bowl = half * np.array([(-0.55, -0.85), (0.3, -0.9), (0.65, -0.5), (0.3, -0.05), (-0.45, 0.0)])
    leg = pull(half * xy(-0.1, 0.0), half * xy(0.75, 0.85) + 0.4 * hand.overshoot_mm * xy(0.7, 0.7), hand, rng)
    return [stem, wound(astray(bowl, half, rng)), leg]


def _letter_e(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A written E: two bows open to the right."""
    knots = [(0.65, -0.7), (0.1, -0.95), (-0.45, -0.65), (-0.25, -0.2), (0.25, -0.05), (-0.4, 0.1), (-0.65, 0.5)]
    path = np.array([*knots, (-0.2, 0.9), (0.4, 0.85), (0.8, 0.5)])
    return [wound(astray(half * path, half, rng))]


def _arches(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A small m: a stem and two arches."""
    knots = [(-0.85, -0.6), (-0.8, 0.75), (-0.75, -0.2), (-0.4, -0.65), (-0.05, -0.2), (0.0, 0.75), (0.05, -0.2)]
    path = astray(half * np.array([*knots, (0.4, -0.65), (0.75, -0.1), (0.8, 0.75)]), half, rng)
    return [wound(np.vstack([path, path[-1] + 0.3 * hand.tail_mm * xy(0.8, -0.3) + half * xy(0.12, 0.0)]))]


def _double_dagger(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """An upright with two bars across it."""
    past = 0.5 * hand.overshoot_mm * rng.uniform(0.0, 1.0, 2)
    paths = [pull(xy(0.0, -0.95 * half - past[0]), xy(0.0, 0.95 * half + past[1]), hand, rng)]
    for y in half * (np.array([-0.4, 0.35]) + rng.uniform(-0.1, 0.1, 2)):
        wide = half * rng.uniform(0.55, 0.85, 2)
        paths.append(pull(xy(-wide[0], y + 0.08 * half), xy(wide[1], y - 0.08 * half), hand, rng))
    return paths


def _crescent(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A half moon."""
    way = float(rng.choice([-1.0, 1.0], p=[0.3, 0.7]))
    outer = [(0.25, -0.95), (-0.5, -0.7), (-0.85, 0.0), (-0.5, 0.7), (0.3, 0.95)]
    inner = [(0.05, 0.55), (-0.15, 0.0), (0.0, -0.55), (0.3, -0.9)]
    path = astray(half * np.array([*outer, *inner]) * (way, 1.0), half, rng)
    return [np.vstack([wound(path[:5]), wound(path[4:])])]


def _rubbed_bar(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """One thick bar, made by rubbing to and fro along the same way."""
    way = direction(float(rng.uniform(-55.0, 20.0)))
    side, count = xy(-way[1], way[0]), int(rng.integers(5, 9))
    wide = half * float(rng.uniform(0.14, 0.26))
    across = np.linspace(-wide, wide, count) + rng.uniform(-0.06, 0.06, count) * half
    reach = half * rng.uniform(0.75, 1.0, count) * np.where(np.arange(count) % 2 == 0, -1.0, 1.0)
    return [spread(across[:, None] * side + reach[:, None] * way)]


def _goblet(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A glass: a bowl, a stem, a foot."""
    bowl = half * np.array([(-0.65, -0.9), (-0.6, -0.25), (0.0, 0.15), (0.6, -0.25), (0.65, -0.9)])
    stem = pull(half * xy(0.0, 0.12), half * xy(rng.uniform(-0.06, 0.06), 0.85), hand, rng)
    foot = pull(half * xy(-rng.uniform(0.4, 0.6), 0.87), half * xy(rng.uniform(0.4, 0.6), 0.85), hand, rng)
    return [wound(astray(bowl, 0.7 * half, rng)), stem, foot]


def _gull(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """Two bows side by side, as a bird far away is drawn, the second at times drawn out."""
    left = astray(half * np.array([(-0.95, 0.4), (-0.75, -0.35), (-0.35, -0.5), (0.0, 0.45)]), half, rng)
    right = astray(half * np.array([(0.0, 0.45), (0.3, -0.5), (0.7, -0.45), (0.95, 0.2)]), half, rng)
    right[0] = left[-1]
    right[-1] += 0.25 * hand.tail_mm * float(rng.uniform(0.0, 1.0)) * xy(0.8, 0.4)
    return [np.vstack([wound(left), wound(right)])]


def _percent(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A slash between two little rings."""
    past = hand.overshoot_mm * rng.uniform(0.0, 0.7, 2)
    high, low = half * xy(0.75, -0.9) + past[0] * xy(0.6, -0.7), half * xy(-0.75, 0.9) - past[1] * xy(0.6, -0.7)
    spots = astray(half * np.array([(-0.55, -0.5), (0.55, 0.5)]), half, rng)
    rings = [_oval(spot, half * rng.uniform(0.22, 0.34, 2), rng) for spot in spots]
    return [pull(high, low, hand, rng), *rings]


def _figure_three(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    upper = astray(half * np.array([(-0.6, -0.7), (0.0, -0.95), (0.5, -0.6), (0.15, -0.1), (-0.2, 0.0)]), half, rng)
    lower = astray(half * np.array([(0.0, 0.0), (0.6, 0.25), (0.55, 0.7), (0.0, 0.95), (-0.65, 0.7)]), half, rng)
    lower[0] = upper[-1]
    return [np.vstack([wound(upper), wound(lower)])]


def _figure_five(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    knots = [(-0.45, -0.85), (-0.5, -0.1), (0.1, -0.25), (0.6, 0.2), (0.35, 0.8), (-0.2, 0.95), (-0.65, 0.7)]
    path = astray(half * np.array(knots), half, rng)
    top = pull(path[0], half * xy(rng.uniform(0.5, 0.8), -0.9), hand, rng)
    return [np.vstack([pull(path[0], path[1], hand, rng), wound(path[1:])]), top]


def _figure_nine(hand: Hand, half: float, rng: np.random.Generator) -> list[Points]:
    """A 9, or a 6 by who holds the page otherwise."""
    knots = [(0.5, -0.5), (0.0, -0.95), (-0.5, -0.6), (-0.3, -0.1), (0.2, -0.15), (0.5, -0.6), (0.45, 0.2), (0.1, 0.95)]
    path = astray(half * np.array(knots), 0.8 * half, rng)
    return [wound(path if rng.random() < 0.6 else -path)]


UNCOMMON_SHAPES: dict[str, Shape] = {
    "struck-ring": _struck_ring,
    "crossed-square": _crossed_square,
    "and-sign": _and_sign,
    "quaver": _quaver,
    "leaf": _leaf,
    "sun": _sun,
    "crown": _crown,
    "house": _house,
    "cherries": _cherries,
    "great": _great,
    "short-cross": _short_cross,
    "swirl": _swirl,
    "letter-r": _letter_r,
    "letter-e": _letter_e,
    "arches": _arches,
    "double-dagger": _double_dagger,
    "crescent": _crescent,
    "rubbed-bar": _rubbed_bar,
    "goblet": _goblet,
    "gull": _gull,
    "percent": _percent,
    "figure-three": _figure_three,
    "figure-five": _figure_five,
    "figure-nine": _figure_nine,
}


def _oval(middle: Points, radii: Points, rng: np.random.Generator) -> Points:
    """Nearly an ellipse, begun anywhere on its upper side, its end not quite where it began."""
    turns = float(rng.uniform(-2.8, -0.4)) + np.linspace(0.0, 2 * np.pi * float(rng.uniform(0.95, 1.12)), 22)
    drift = np.linspace(1.0, float(rng.uniform(0.88, 1.12)), 22)[:, None]
    return spread(middle + drift * radii * np.column_stack([np.cos(turns), np.sin(turns)]))
