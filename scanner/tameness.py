"""Whether a taster's own mixing is fair: glasses that keep their place, and how far glasses move, against chance."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache
from itertools import permutations
from math import factorial
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from scanner.chance import one_time_in

FEWEST_SITTINGS = 8
"""Below this even the tamest hands differ too little from chance to be told apart."""
TOO_TAME = Fraction(1, 100)
"""The chance, among all tasters of one run together, of calling fair hands tame."""
MOST_EXACT = 30
"""Longer sums are made in floats."""

Order = tuple[int, ...]
"""The coaster number at place A, at place B, and so on."""
Way = Literal["few stayed", "many stayed", "moved little", "moved far"]


WAYS: Mapping[Way, str] = {
    "few stayed": "Too few came back",
    "many stayed": "Too many came back",
    "moved little": "They moved too little",
    "moved far": "They moved too far",
}


@dataclass(frozen=True, slots=True)
class Tameness:
    """The hand shuffles of one taster over many sittings, against keys uniform over all orders.

    `stayed` counts the glasses that came back to their own place, as many as the sittings on average; `moved` is the
    sum of |place − number| over all glasses, (n² − 1)/3 a sitting on average. `way` names the one of the four tails
    that is the smallest; `p_value` is the exact chance that fair mixing gives a smallest tail as small as this.
    """

    sittings: int
    stayed: int
    moved: int
    moved_on_average: Fraction
    way: Way
    p_value: Fraction | float


def tameness(orders: Sequence[Order]) -> Tameness | None:
    """Test a taster's hand shuffles, None if there are too few to say anything.

    Parameters
    ----------
    orders : sequence of orders
        One for each sitting, of any numbers of glasses.

    Notes
    -----
    Over m sittings let F be the glasses that stayed and D the displacement. Hands may be tame in two ways: they do
    little (F large, D small), or take pains to move every glass (F small, D large). The statistic is the smallest of
    the four tails P(F ≤ f), P(F ≥ f), P(D ≤ d), P(D ≥ d). Its own law is had exactly from the joint law of F and D,
    the m-fold convolution of the law of one sitting, counted over all n! orders: so the p-value pays for having looked
    four times, and for F and D going together. In one sitting F has mean 1 [1]_, D (n² − 1)/3 [2]_.

    Fractions up to thirty sittings, floats beyond.

    References
    ----------
    .. [1] W. Feller, An Introduction to Probability Theory and Its Applications, vol. 1, ch. IV.4.
    .. [2] P. Diaconis and R. L. Graham, "Spearman's footrule as a measure of disarray", J. R. Stat. Soc. B 39 (1977)
       262–268.
    """
    if len(orders) < FEWEST_SITTINGS:
        return None
    glasses = tuple(sorted(len(order) for order in orders))
    stayed, moved = (sum(parts) for parts in zip(*map(_features, orders), strict=True))
    joint = _joint_law(glasses)
    cases: Any = joint.sum()
    tails = _tails(joint)
    smallest = min(tails, key=lambda way: tails[way][_at(way, stayed, moved)])
    least = np.minimum(
        np.minimum(tails["few stayed"], tails["many stayed"])[:, None],
        np.minimum(tails["moved little"], tails["moved far"])[None, :],
    )
    observed = tails[smallest][_at(smallest, stayed, moved)]
    if joint.dtype != object:
        # Tails that are equal but for rounding count as equal.
        observed *= 1 + 1e-9
    as_small: Any = joint[least <= observed].sum()
    return Tameness(
        sittings=len(orders),
        stayed=stayed,
        moved=moved,
        moved_on_average=sum((Fraction(n * n - 1, 3) for n in glasses), Fraction(0)),
        way=smallest,
        p_value=Fraction(int(as_small), int(cases)) if joint.dtype == object else min(1.0, float(as_small / cases)),
    )


def too_tame(tested: Mapping[str, Tameness]) -> tuple[str, ...]:
    """Return those whose shuffles are too tame to be fair, by Holm's step-down over all who were tested together.

    It holds for one look. Whoever scores again after every sitting looks often, and should heed a second finding more
    than a first.

    References
    ----------
    .. [1] S. Holm, "A simple sequentially rejective multiple test procedure", Scand. J. Stat. 6 (1979) 65–70.
    """
    found = []
    for rank, who in enumerate(sorted(tested, key=lambda who: tested[who].p_value)):
        if tested[who].p_value * (len(tested) - rank) > TOO_TAME:
            break
        found.append(who)
    return tuple(who for who in tested if who in found)


def to_json(found: Tameness) -> dict[str, Any]:
    """Return the test of a taster's hand shuffles as a JSON object."""
    return {
        "sittings": found.sittings,
        "stayed": found.stayed,
        "moved": found.moved,
        "moved_on_average": float(found.moved_on_average),
        "tail": found.way.replace(" ", "_"),
        "p_value": float(found.p_value),
    }


def sentence(found: Tameness) -> str:
    """Say for people in what way hand shuffles are too tame."""
    return (
        f"over {found.sittings} hand sittings {found.stayed} glasses came back to their own place (fair mixing has "
        f"{found.sittings} on average), and all of them together moved by {found.moved} places "
        f"({round(found.moved_on_average)} on average). {WAYS[found.way]}: fair mixing is as far off "
        f"{_times(found.p_value)}. Mix by the mixing sheet, or have a host move the glasses; until then the chances "
        "told for these sittings are not to be relied on."
    )


def _times(chance: Fraction | float) -> str:
    return "less than 1 time in 1,000,000" if chance < 1e-6 else one_time_in(Fraction(chance))


def _features(order: Order) -> tuple[int, int]:
    moves = [abs(place - number) for place, number in enumerate(order, start=1)]
    return moves.count(0), sum(moves)


@cache
def _law_of_one(glasses: int) -> Mapping[tuple[int, int], int]:
    return Counter(map(_features, permutations(range(1, glasses + 1))))


@lru_cache(maxsize=8)
def _joint_law(glasses: tuple[int, ...]) -> NDArray[Any]:
    """Return the cases, or chances, of every F (rows) with every D (columns)."""
    exact = len(glasses) <= MOST_EXACT
    joint: NDArray[Any] = np.ones((1, 1), object if exact else float)
    for n in glasses:
        # The farthest that n glasses move is ⌊n²/2⌋, in reverse order.
        grown = np.zeros((joint.shape[0] + n, joint.shape[1] + n * n // 2), joint.dtype)
        for (stayed, moved), orders in _law_of_one(n).items():
            share = orders if exact else orders / factorial(n)
            grown[stayed : stayed + joint.shape[0], moved : moved + joint.shape[1]] += share * joint
        joint = grown
    return joint


def _tails(joint: NDArray[Any]) -> dict[Way, NDArray[Any]]:
    stayed, moved = joint.sum(axis=1), joint.sum(axis=0)
    return {
        "few stayed": np.cumsum(stayed),
        "many stayed": np.cumsum(stayed[::-1])[::-1],
        "moved little": np.cumsum(moved),
        "moved far": np.cumsum(moved[::-1])[::-1],
    }


def _at(way: Way, stayed: int, moved: int) -> int:
    return stayed if way.endswith("stayed") else moved
