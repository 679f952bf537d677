"""Flights that can be made of a cellar, and how many drinks of each are told apart."""

from __future__ import annotations

from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import NDArray

from scanner.results.matching_model import Floats, expected_correct

MOST_FLIGHTS = 6000
"""With more flights than this to be had, as many are drawn by lot, and the best of these bettered drink by drink."""
BETTERED, ROUNDS = 25, 2

Flights = NDArray[np.intp]


def flights_of(sound: Flights, faulty: Flights, glasses: int) -> Flights:
    """Return flights of so many drinks, (F, glasses): of sound ones, and one faulty if there are any to choose.

    All that there are, up to MOST_FLIGHTS; else that many by lot, the same at every call. Drinks are numbers; a flight
    has them in rising order, its faulty one last. None if there are too few sound ones.
    """
    of_sound = glasses - (len(faulty) > 0)
    choices = comb(len(sound), of_sound)
    if not choices:
        return np.empty((0, glasses), np.intp)
    if choices * max(1, len(faulty)) <= MOST_FLIGHTS:
        chosen = np.array(list(combinations(sound.tolist(), of_sound)), np.intp)
        if not len(faulty):
            return chosen
        return np.column_stack([np.repeat(chosen, len(faulty), axis=0), np.tile(faulty, len(chosen))])
    lot = np.random.default_rng(0)
    drawn = np.sort(sound[lot.random((MOST_FLIGHTS, len(sound))).argpartition(of_sound, axis=1)[:, :of_sound]], axis=1)
    if len(faulty):
        drawn = np.column_stack([drawn, lot.choice(faulty, len(drawn))])
    return np.unique(drawn, axis=0)


def scored(flights: Flights, distances: Floats, points: tuple[float, ...]) -> Floats:
    """Return the share correct of each flight, the mean over the points of sharpness."""
    if not len(flights):
        return np.empty(0)
    between = distances[flights[:, :, None], flights[:, None, :]]
    share: Floats = expected_correct(between, points).mean(axis=1) / flights.shape[1]
    return share


def bettered(
    flights: Flights, shares: Floats, sound: Flights, distances: Floats, points: tuple[float, ...], level: float
) -> tuple[Flights, Floats]:
    """Return the flights with those added that come of the nearest to the level by exchanging a sound drink.

    Of a cellar with many drinks the widest and the nearest flights are rare: a lot misses them, exchanges find them.
    """
    for _ in range(ROUNDS):
        best = flights[np.argsort(np.abs(shares - level), kind="stable")[:BETTERED]]
        exchanged = np.concatenate([_exchanged(flight, sound) for flight in best])
        new = np.unique(exchanged, axis=0)
        flights, shares = np.concatenate([flights, new]), np.concatenate([shares, scored(new, distances, points)])
    flights, first = np.unique(flights, axis=0, return_index=True)
    return flights, shares[first]


def _exchanged(flight: Flights, sound: Flights) -> Flights:
    found = []
    for at, drink in enumerate(flight):
        if drink in sound:
            others = sound[~np.isin(sound, flight)]
            changed = np.tile(flight, (len(others), 1))
            changed[:, at] = others
            found.append(changed)
    stacked = np.concatenate(found)
    is_sound = np.isin(stacked, sound)
    # Rising order, the faulty drink last, so that one flight is one row.
    order = np.argsort(np.where(is_sound, stacked, np.iinfo(np.intp).max), axis=1)
    return np.take_along_axis(stacked, order, axis=1)
