"""Which drinks of a cellar to pour next, so that about as many are told apart as practice wants."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import log

import numpy as np

from kit.session import GLASS_POUR_ML
from scanner.results.cellar import Bottle
from scanner.results.confusions import Confusions, Pair
from scanner.results.flights import Flights, bettered, flights_of, scored
from scanner.results.matching_model import Floats, expected_correct, key_costs, orders
from scanner.results.sharpness import PairKey, Sharpness, distances_between, pooled

LEVEL = (0.60, 0.75)
GLASSES = (3, 5)
FAULT_EVERY = 5
"""Every so many sittings there is one fault bottle, if the cellar has one."""
FEW, SOME = 2.0, 3.0
"""Up to so many correct of five three glasses are enough, and four: common practice, no published source."""
NEAR_THE_MIDDLE = 1 / 3
"""The part of the level, about its middle, within which the other wishes decide."""
LEAST_NEAR = 0.01
"""Of a level that is one number: so near is at it."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What is wanted: the least and most glasses, the share correct from and to, for how many, and how much in a glass.

    `fault` None is a fault bottle now and then. `avoid` holds keys of drinks had last time, `practise` a pair to have
    together.
    """

    glasses: tuple[int, int] = GLASSES
    level: tuple[float, float] = LEVEL
    tasters: int = 1
    pour_ml: float = GLASS_POUR_ML
    fault: bool | None = None
    avoid: frozenset[str] = frozenset()
    practise: Pair | None = None

    @property
    def middle(self) -> float:
        """The share correct aimed at."""
        return sum(self.level) / 2

    @property
    def near_the_middle(self) -> float:
        """How far off its middle the share correct may be expected to lie."""
        return max(LEAST_NEAR, NEAR_THE_MIDDLE * (self.level[1] - self.level[0]) / 2)

    def holds(self, share: float) -> bool:
        """Tell whether the share correct lies in the level, or at it where that is one number."""
        return self.level[0] <= share <= self.level[1] or abs(share - self.middle) <= self.near_the_middle


@dataclass(frozen=True, slots=True)
class TwoDrinks:
    """Two drinks of the flight, their distance to these tasters, and how often one is taken for the other."""

    one: Bottle
    other: Bottle
    distance: float
    mistaken: float


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A flight, and why it is this one.

    Attributes
    ----------
    flight
        The bottles.
    share, shares
        The share correct expected, over the table and for each taster (low, middle, high of what is known).
    reached
        Whether the share lies in the level asked for; else no flight of the cellar does, and this is the nearest.
    at_the_edge
        Whether the cellar, with so many glasses, has hardly a flight on the other side of the level's middle: what is
        expected of the widest flight of all, and of the nearest, is the likeliest to be overstated.
    mean_distance, cellar_distance
        Between the flight's drinks, and between all that could have been poured.
    pairs
        Every two drinks, the nearest first.
    practised
        The pair to practise, where it is in the flight.
    passed_over
        The bottles with too little left.
    wish, tasters
        What was asked for, and of whom.
    """

    flight: tuple[Bottle, ...]
    share: float
    shares: tuple[tuple[float, float, float], ...]
    reached: bool
    at_the_edge: bool
    mean_distance: float
    cellar_distance: float
    pairs: tuple[TwoDrinks, ...]
    practised: Pair | None
    passed_over: tuple[Bottle, ...]
    wish: Wish
    tasters: tuple[Sharpness, ...]


@dataclass(frozen=True, slots=True)
class TooFew:
    """There is no flight: the cellar has but `sound` sound drinks with enough left; `passed_over` have less."""

    sound: int
    wish: Wish
    passed_over: tuple[str, ...]

    @property
    def needed_ml(self) -> float:
        """What must be left of a drink for all tasters."""
        return self.wish.tasters * self.wish.pour_ml

    @property
    def sentence(self) -> str:
        wish = self.wish
        drinks = f"{self.sound} sound drink{'' if self.sound == 1 else 's'}"
        said = f"The cellar has {drinks} with {self.needed_ml:g} ml left"
        said += f" ({wish.tasters} × {wish.pour_ml:g} ml); a flight needs {wish.glasses[0]}."
        if self.passed_over:
            names = ", ".join(self.passed_over[:5])
            said += f" Too little is left of {names}{' and others' if len(self.passed_over) > 5 else ''}."
        return said


def suggest(
    bottles: Sequence[Bottle],
    day: datetime.date,
    tasters: Sequence[Sharpness],
    nearer: Mapping[PairKey, float],
    wish: Wish,
) -> Suggestion | TooFew:
    """Choose a flight whose expected share correct lies at the level wished for; or say why there is none.

    Parameters
    ----------
    tasters : sequence of Sharpness, one or more
    nearer : mapping of pair of keys to float
        As `sharpness.nearer` has it: a pair confused f times as often as stated counts as ln(f)/sharpness nearer.

    Notes
    -----
    The expected score is that of `matching_model`, averaged over what is known of the tasters' sharpness. The number of
    glasses grows with ability; where the middle of the level cannot be had with it, others are tried. Among flights
    near the middle of the level, one is preferred that has the pair to practise, bottles already open, drinks not had
    last time, one look, and no two drinks much nearer than the rest.
    """
    needed_ml = wish.tasters * wish.pour_ml
    enough = [bottle for bottle in bottles if bottle.left_ml is None or bottle.left_ml >= needed_ml]
    passed_over = tuple(bottle for bottle in bottles if bottle not in enough)
    faulty = np.array([at for at, bottle in enumerate(enough) if bottle.fault], np.intp)
    sound = np.array([at for at, bottle in enumerate(enough) if not bottle.fault], np.intp)
    chosen_faulty = faulty if _wants_fault(wish, tasters) else faulty[:0]
    if len(sound) < wish.glasses[0] - (len(chosen_faulty) > 0):
        return TooFew(len(sound), wish, tuple(bottle.name for bottle in passed_over))
    points = pooled(tasters)
    distances = to_tasters(enough, day, points, nearer)
    best: tuple[tuple[bool, bool, float], Flights, float] | None = None
    for glasses in glasses_in_order(wish.glasses, tasters):
        flights = flights_of(sound, chosen_faulty, glasses)
        if not len(flights):
            continue
        shares = scored(flights, distances, points)
        flights, shares = bettered(flights, shares, sound, distances, points, wish.middle)
        at = _preferred(flights, shares, distances, enough, wish)
        edge = shares.max() < wish.middle + wish.near_the_middle or shares.min() > wish.middle - wish.near_the_middle
        share = float(shares[at])
        merit = (not wish.holds(share), bool(edge), abs(share - wish.middle))
        if best is None or merit < best[0]:
            best = merit, flights[at], share
        if not edge and wish.holds(share):
            break
    assert best is not None
    (_, at_the_edge, _), flight, share = best
    return _suggestion(flight, share, at_the_edge, distances, enough, passed_over, tasters, wish, sound)


def glasses_in_order(allowed: tuple[int, int], tasters: Sequence[Sharpness]) -> tuple[int, ...]:
    """Return the numbers of glasses allowed, the one that suits the tasters' ability first."""
    face = float(np.median([taster.face for taster in tasters]))
    suits = 3 if face < FEW else 4 if face < SOME else 5
    return tuple(sorted(range(allowed[0], allowed[1] + 1), key=lambda glasses: (abs(glasses - suits), glasses)))


def to_tasters(
    bottles: Sequence[Bottle], day: datetime.date, points: Sequence[float], nearer: Mapping[PairKey, float]
) -> Floats:
    """Return the distances between the bottles, (m, m), less what confusions have shown of them."""
    known = {bottle.key: bottle.traits(day) for bottle in bottles}
    distances = distances_between([bottle.drink for bottle in bottles], known)
    middle = points[len(points) // 2]
    at = {bottle.key: number for number, bottle in enumerate(bottles)}
    for (one, other), factor in nearer.items():
        if one in at and other in at:
            shorter = max(0.0, distances[at[one], at[other]] - log(factor) / middle)
            distances[at[one], at[other]] = distances[at[other], at[one]] = shorter
    return distances


def practised(found: Confusions, bottles: Sequence[Bottle]) -> Pair | None:
    """Return the pair to taste next, if both drinks are in the cellar and sound."""
    sound = {bottle.key for bottle in bottles if not bottle.fault}
    return next((pair for pair in found.pairs if pair.times >= 2 and set(pair.keys) <= sound), None)


def _wants_fault(wish: Wish, tasters: Sequence[Sharpness]) -> bool:
    if wish.fault is not None:
        return wish.fault
    most = max(taster.sittings for taster in tasters)
    return most % FAULT_EVERY == FAULT_EVERY - 1


def _preferred(flights: Flights, shares: Floats, distances: Floats, bottles: Sequence[Bottle], wish: Wish) -> int:
    """Return the row of the flight to pour: near the middle of the level, and by the other wishes among those."""
    off = np.abs(shares - wish.middle)
    half = wish.near_the_middle
    near = np.flatnonzero(off <= max(half, float(off.min())))
    keys = [bottle.key for bottle in bottles]
    is_open = np.array([bottle.open_since is not None for bottle in bottles])
    had = np.array([key in wish.avoid for key in keys])
    of_pair = np.array([wish.practise is not None and key in wish.practise.keys for key in keys])
    looks = np.array([bottle.look or "" for bottle in bottles])[flights[near]]
    between = distances[flights[near][:, :, None], flights[near][:, None, :]]
    n = flights.shape[1]
    upper = between[:, *np.triu_indices(n, 1)]
    merit = (
        2.0 * (of_pair[flights[near]].sum(axis=1) == 2)
        + 0.25 * is_open[flights[near]].sum(axis=1)
        - 0.25 * had[flights[near]].sum(axis=1)
        - 0.25 * (looks != looks[:, :1]).any(axis=1)
        + upper.min(axis=1) / np.maximum(upper.mean(axis=1), 1e-9)
    )
    return int(near[np.argmax(merit)])


def _suggestion(
    flight: Flights,
    share: float,
    at_the_edge: bool,
    distances: Floats,
    bottles: Sequence[Bottle],
    passed_over: tuple[Bottle, ...],
    tasters: Sequence[Sharpness],
    wish: Wish,
    sound: Flights,
) -> Suggestion:
    between = distances[np.ix_(flight, flight)]
    n, chosen = len(flight), tuple(bottles[at] for at in flight)
    shares = [expected_correct(between[None], taster.points)[0] / n for taster in tasters]
    mistaken = _mistaken(between, pooled(tasters))
    pairs = [
        TwoDrinks(chosen[i], chosen[j], float(between[i, j]), float(mistaken[i, j]))
        for i, j in combinations(range(n), 2)
    ]
    whole = distances[np.ix_(sound, sound)]
    keys = {bottle.key for bottle in chosen}
    return Suggestion(
        flight=chosen,
        share=share,
        shares=tuple((float(s.min()), float(s.mean()), float(s.max())) for s in shares),
        reached=wish.holds(share),
        at_the_edge=at_the_edge,
        mean_distance=float(between[np.triu_indices(n, 1)].mean()),
        cellar_distance=float(whole[np.triu_indices(len(sound), 1)].mean()) if len(sound) > 1 else 0.0,
        pairs=tuple(sorted(pairs, key=lambda pair: pair.distance)),
        practised=wish.practise if wish.practise is not None and set(wish.practise.keys) <= keys else None,
        passed_over=passed_over,
        wish=wish,
        tasters=tuple(tasters),
    )


def _mistaken(between: Floats, points: Sequence[float]) -> Floats:
    """Return how often each drink is taken for each other, (n, n), the mean over the points of sharpness."""
    n = len(between)
    costs = key_costs(between, list(range(1, n + 1)))
    found = np.zeros((n, n))
    for point in points:
        ways = np.exp(-point * costs)
        for claimed in range(n):
            found[claimed] += np.bincount(orders(n)[:, claimed], weights=ways / ways.sum(), minlength=n)
    return found / len(points)
