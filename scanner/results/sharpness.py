"""How sharp tasters are, and which pairs are nearer to them than stated, learnt from sittings by the matching model."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from scanner.results.ability import FACE_GLASSES, face_of, theta_of_face
from scanner.results.counted import counted
from scanner.results.difficulty import MIDDLING, Traits, distance, traits_of
from scanner.results.matching_model import Floats, expected_correct, key_costs, key_number, orders
from scanner.results.sitting import Drink, TasterSitting

GRID: Floats = np.geomspace(0.05, 8.0, 61)
"""The sharpness looked at: from 1.05 to all but 5.0 correct of five on a middling flight."""
BEFOREHAND_FACE, BEFOREHAND_SPREAD = 1.7, 0.7
"""Before any sitting the logarithm of the sharpness is normal, about that of a taster with so many correct of five."""
KEPT = 0.97
"""A sitting counts for so much of the one after it: abilities change."""
SHARES = (0.1, 0.3, 0.5, 0.7, 0.9)
RELIANCE = 0.4
"""How much of what sets a stated distance off the middling one is believed: chosen on simulated tasters."""
RANDOM_FLIGHTS = 100
PAIR_WEIGHT = 12.0
"""A pair's nearness is as stated until about so many confusions say otherwise."""

PairKey = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Sharpness:
    """What is known of one taster: points of equal probability, the nearer to each other the more is known."""

    name: str
    sittings: int
    points: tuple[float, ...]

    @property
    def face(self) -> float:
        """The number correct of five on a middling flight, at the middle point."""
        return face_of(self.points[len(self.points) // 2])


def stated(correct_of_five: float, drinks: Sequence[Drink], known: Mapping[str, Traits], name: str = "") -> Sharpness:
    """Return the sharpness of a taster who is said to have so many right of five drinks taken at random from these.

    `correct_of_five` lies between 1 and 5, both left out.
    """
    if not drinks:
        return Sharpness(name, 0, (theta_of_face(correct_of_five),))
    glasses = min(FACE_GLASSES, len(drinks))
    lot = np.random.default_rng(0)
    flights = lot.random((RANDOM_FLIGHTS, len(drinks))).argsort(axis=1)[:, :glasses]
    distances = distances_between(drinks, known)
    shares = expected_correct(distances[flights[:, :, None], flights[:, None, :]], GRID).mean(axis=0) / glasses
    return Sharpness(name, 0, (float(np.interp(correct_of_five / FACE_GLASSES, shares, GRID)),))


def sharpness(name: str, sittings: Sequence[TasterSitting], known: Mapping[str, Traits]) -> Sharpness:
    """Learn one taster's sharpness from the sittings that count; from none it is what was supposed beforehand.

    Parameters
    ----------
    known : mapping of str to Traits
        More about drinks, by key; what of others the session file states.

    Notes
    -----
    The chance of a key, given the claims made, is e^(−s · cost of the key) over the sum of the same for all n! keys,
    cost as in `key_costs`; what counts of a sitting is how many were right. Sittings are independent, older ones weigh
    less (a power of KEPT). With a distance of one everywhere the likelihood is that of `ability.fit`.
    """
    chosen = counted(sittings).sittings
    beforehand = log(theta_of_face(BEFOREHAND_FACE))
    logs = -0.5 * ((np.log(GRID) - beforehand) / BEFOREHAND_SPREAD) ** 2
    for age, sitting in enumerate(reversed(chosen)):
        logs += KEPT**age * log_likelihood(sitting, distances_between(sitting.drinks, known), GRID)
    chances = np.exp(logs - logs.max())
    reached = np.cumsum(chances) / chances.sum()
    return Sharpness(name, len(chosen), tuple(GRID[np.searchsorted(reached, SHARES)].tolist()))


def log_likelihood(sitting: TasterSitting, distances: Floats, sharpnesses: Floats) -> Floats:
    """Return the log of the chance that as many are right as were, given the claims, for each sharpness.

    Not of what stood where: a taster who never errs between wide drinks, of whom the model expects that now and then,
    would count as sharper than the share correct has it, and flights of near drinks would come out too hard.
    """
    assert sitting.truth is not None
    costs = key_costs(distances, sitting.claims)
    claims = [0 if claim is None else claim for claim in sitting.claims]
    right = (orders(sitting.glasses) + 1 == claims).sum(axis=1)
    as_many = right == right[key_number(sitting.truth)]
    ways = np.exp(-sharpnesses[:, None] * (costs - costs.min()))
    found: Floats = np.log(ways[:, as_many].sum(axis=1)) - np.log(ways.sum(axis=1))
    return found


def distances_between(drinks: Sequence[Drink], known: Mapping[str, Traits]) -> Floats:
    """Return how far apart all drinks are for a taster, squared, (n, n): noughts on the diagonal, a middling pair one.

    Notes
    -----
    A list tells but a part of what a taster tells drinks by: wide drinks are less wide than stated, near ones less
    near, or the widest flight of a cellar would always disappoint. So stated distances are drawn to the middling one.
    Confusions fall off with the square, as they do where percepts are normal [1]_: with the distance itself, flights of
    near drinks come out far harder than expected.

    References
    ----------
    .. [1] R. N. Nosofsky, J. Exp. Psychol.: General 115 (1986) 39–57: similarity as e^(−d²) [memory].
    """
    traits = [known.get(drink.key) or traits_of(drink) for drink in drinks]
    apart = np.array([[distance(one, other) for other in traits] for one in traits])
    drawn = MIDDLING + RELIANCE * (apart - MIDDLING)
    squared: Floats = (drawn / MIDDLING) ** 2 * (1 - np.eye(len(traits)))
    return squared


def nearer(
    by_taster: Sequence[tuple[Sharpness, Sequence[TasterSitting]]], known: Mapping[str, Traits]
) -> dict[PairKey, float]:
    """Return how many times likelier each pair is confused than its stated distance has it, by ordered keys.

    Notes
    -----
    (confusions seen + PAIR_WEIGHT)/(confusions expected + PAIR_WEIGHT), expected by the model at the taster's
    sharpness: what is seen, shrunk to what is stated. Pairs that never met are left out.
    """
    seen: defaultdict[PairKey, float] = defaultdict(float)
    expected: defaultdict[PairKey, float] = defaultdict(float)
    for taster, sittings in by_taster:
        middle = taster.points[len(taster.points) // 2]
        for sitting in counted(sittings).sittings:
            assert sitting.truth is not None
            claims, keys = sitting.claims, [drink.key for drink in sitting.drinks]
            ways = np.exp(-middle * key_costs(distances_between(sitting.drinks, known), claims))
            ways /= ways.sum()
            for place, (stood, claim) in enumerate(zip(sitting.truth, claims, strict=True)):
                if claim is None:
                    continue
                if stood != claim:
                    seen[_pair(keys[stood - 1], keys[claim - 1])] += 1
                standing = np.bincount(orders(sitting.glasses)[:, place], weights=ways, minlength=sitting.glasses)
                for other, chance in enumerate(standing):
                    if other != claim - 1:
                        expected[_pair(keys[other], keys[claim - 1])] += float(chance)
    return {pair: (seen[pair] + PAIR_WEIGHT) / (mean + PAIR_WEIGHT) for pair, mean in expected.items()}


def pooled(tasters: Sequence[Sharpness]) -> tuple[float, ...]:
    """Return points of about equal probability for a taster taken at random from the table, at most nine."""
    points = sorted(point for taster in tasters for point in taster.points)
    if len(points) <= 2 * len(SHARES):
        return tuple(points)
    return tuple(np.quantile(points, (np.arange(9) + 0.5) / 9).tolist())


def _pair(one: str, other: str) -> PairKey:
    return (one, other) if one <= other else (other, one)
