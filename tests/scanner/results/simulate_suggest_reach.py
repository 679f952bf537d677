"""What could be had: the flights of a made-up cellar nearest to a level, by a taster's own space and by a list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from scanner.results.ability import Floats
from scanner.results.cellar import Bottle
from scanner.results.matching_model import Whole
from tests.scanner.results.simulate_suggest_tasters import BOTTLES, TRAITS, Play, share_correct, space

PAIRS, THREES, FIVES = (np.array(list(combinations(range(BOTTLES), n)), np.intp) for n in (2, 3, 5))
"""The easiest flights are of three drinks, the hardest of five; between the two there are thousands."""
TRIED = 20
SPACES = 16
"""So many spaces that a taster might have, for what a list can tell."""


def in_space(play: Play, points: Floats) -> tuple[float, float]:
    """Return the true share correct of the hardest and of the easiest flight of the cellar.

    Those with most and with fewest confusions of their pairs are tried; the best are judged afresh, so that none is
    counted for its luck.
    """
    confused = _confused(play, points, 60)
    ends = []
    for flights, sign in ((FIVES, -1), (THREES, 1)):
        tried = flights[np.argsort(sign * _sums(confused, flights))[:TRIED]]
        best = tried[np.argsort(-sign * share_correct(play, points[tried], 100))[:4]]
        ends.append(sign * float((sign * share_correct(play, points[best], 800)).max()))
    return ends[0], ends[1]


def by_list(play: Play, listed: Sequence[Bottle], chance: np.random.Generator) -> tuple[float, float]:
    """Return the least and the greatest share correct that anybody could expect of a flight who knows but the list.

    They know this taster's law and sharpness, how spaces are made and how much no list tells, and so choose by the mean
    over all spaces that a taster with this list might have: no suggestion from a list can do better on average.
    """
    spaces = [space([_filled(bottle, listed, chance) for bottle in listed], chance) for _ in range(SPACES)]
    confused = np.mean([_confused(play, points, 20) for points in spaces], axis=0)
    ends = []
    for flights, sign in ((FIVES, -1), (THREES, 1)):
        tried = flights[np.argsort(sign * _sums(confused, flights))[:8]]
        shares = np.mean([share_correct(play, points[tried], 40) for points in spaces], axis=0)
        ends.append(sign * float((sign * shares).max()))
    return ends[0], ends[1]


def nearest(ends: tuple[Floats, Floats], middle: float) -> Floats:
    """Return the share nearest to the middle of the level that lies between the hardest and the easiest flight's."""
    found: Floats = np.clip(middle, *ends)
    return found


def _confused(play: Play, points: Floats, runs: int) -> Floats:
    """Return how often each two drinks are confused when they are a flight of two, (m, m)."""
    confused = np.zeros((len(points), len(points)))
    confused[tuple(PAIRS.T)] = 1 - share_correct(play, points[PAIRS], runs)
    return confused + confused.T


def _sums(confused: Floats, flights: Whole) -> Floats:
    found: Floats = np.sum(
        [confused[flights[:, i], flights[:, j]] for i, j in combinations(range(flights.shape[1]), 2)], axis=0
    )
    return found


def _filled(bottle: Bottle, listed: Sequence[Bottle], chance: np.random.Generator) -> Bottle:
    """Return the bottle with each trait that the list leaves out as another bottle has it."""
    lacking = {}
    for trait in TRAITS:
        if getattr(bottle, trait) is None:
            others = [getattr(other, trait) for other in listed if getattr(other, trait) is not None]
            lacking[trait] = others[chance.integers(len(others))]
    return replace(bottle, **lacking)
