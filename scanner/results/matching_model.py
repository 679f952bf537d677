"""The model behind `facedown suggest`: what is taken for what, by how far apart the drinks are.

A taster of sharpness s matches the glasses of round two to those of round one in one of the n! ways, with a chance in
proportion to e^(−s · sum of the distances between each drink and what it is taken for). If all drinks are at distance
one from each other this is the Mallows model with Hamming distance and θ = s: the sharpness is the ability on a
middling flight, and drinks d times as far apart count for d times the ability.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Whole = NDArray[np.intp]


def expected_correct(distances: Floats, sharpness: Sequence[float] | Floats) -> Floats:
    """Return the mean number correct of flights, for tasters.

    Parameters
    ----------
    distances : (F, n, n) array of float
        Between the n drinks of each of F flights; symmetric, noughts on the diagonal.
    sharpness : sequence of S float

    Returns
    -------
    (F, S) array of float

    Notes
    -----
    By enumeration of the n! ways to match.

    Examples
    --------
    >>> apart = np.ones((1, 5, 5)) - np.eye(5)
    >>> expected_correct(apart, [0.0, 1.0]).round(6).tolist()
    [[1.0, 2.656904]]
    """
    n = distances.shape[1]
    costs = np.stack([distances[:, np.arange(n), order].sum(axis=1) for order in orders(n)], axis=1)
    right = (orders(n) == np.arange(n)).sum(axis=1)
    found = np.empty((len(distances), len(sharpness)))
    for at, sharp in enumerate(sharpness):
        ways = np.exp(-sharp * costs)
        found[:, at] = ways @ right / ways.sum(axis=1)
    return found


def key_costs(distances: Floats, claims: Sequence[int | None]) -> Floats:
    """Return the sum of the distances between what was claimed and what stood there, for each of the n! keys.

    `distances` is (n, n), `claims` has a coaster number 1 … n for each place, None where it is left blank.
    """
    costs = np.zeros(len(orders(len(claims))))
    for stood, claim in zip(orders(len(claims)).T, claims, strict=True):
        if claim is not None:
            costs += distances[stood, claim - 1]
    return costs


def key_number(key: Sequence[int]) -> int:
    """Return the place of a key, coaster numbers 1 … n, among `orders`."""
    return _numbers(len(key))[tuple(key)]


@lru_cache(maxsize=8)
def orders(n: int) -> Whole:
    """Return the n! orders of n things, (n!, n), things counted from nought."""
    return np.array(list(permutations(range(n))), dtype=np.intp)


@lru_cache(maxsize=8)
def _numbers(n: int) -> dict[tuple[int, ...], int]:
    return {tuple(int(thing) + 1 for thing in order): at for at, order in enumerate(orders(n))}
