"""How well a table of guessers does: the exact law of the total correct, by how the keys of the table were drawn.

Own keys are independent of each other, and so are keys mixed by hand: their laws are convolved. A shared key is not,
nor are the keys of a balanced set: there every way in which they could have been drawn is counted out.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import permutations
from math import fsum, prod

import numpy as np

from kit.designs import Block, blocks
from kit.keys import Key
from kit.session import Keys
from scanner.chance import check_claims, counts_correct

MOST_EXACT = 30
"""Of more tasters with independent keys, or in balanced blocks, the laws are summed in floats."""

Claims = Sequence[int | None]
"""The coaster number claimed at each place, None for a place left blank."""

_LIMB_BITS = 64
"""Packed side by side into one integer are counts of ways to give out keys: 15! at most, of 41 bits."""


@dataclass(frozen=True, slots=True)
class TableLaw:
    """How often a table of guessers has each total right.

    Item k of `chances` is the probability of k correct: fractions if `exact`, else floats within 1e-10 of them.
    """

    chances: tuple[Fraction | float, ...]
    exact: bool

    def chance_at_least(self, correct: int) -> Fraction | float:
        """Return how often the total is `correct` or more.

        Raises
        ------
        ValueError
            If so many cannot be.
        """
        if not 0 <= correct < len(self.chances):
            raise ValueError(f"{correct} correct at the table: allowed are 0 to {len(self.chances) - 1}")
        if self.exact:
            return Fraction(sum(self.chances[correct:]))
        return min(1.0, fsum(self.chances[correct:]))


def table_law(keys: Keys, claims: Mapping[int, Claims], glasses: int, tasters: int) -> TableLaw:
    """Return the law of the total correct under keys drawn as the kit's were, whatever the tasters claim.

    Parameters
    ----------
    keys : "own", "shared" or "balanced"
        How the keys of the table were drawn.
    claims : mapping of taster number to claims
        Of the tasters who are counted, `glasses` claims each; the others' keys were drawn all the same.
    glasses : int
        The number of glasses of the sitting, 3 … 5.
    tasters : int
        How many tasters the kit was printed for.

    Raises
    ------
    ValueError
        If a number or a claim is out of range.

    Notes
    -----
    Fractions up to thirty tasters counted, with a shared key for any number; floats beyond. These are sums of products
    of positive numbers, so nothing cancels: each keeps a relative error of about 1e-16 for each taster.
    """
    for number, entry in claims.items():
        if not 1 <= number <= tasters:
            raise ValueError(f"claims of taster {number}: allowed are 1 to {tasters}")
        check_claims(entry, glasses)
    if keys == "shared":
        counts = [shared_counts(tuple(claims.values()), glasses)]
    elif keys == "own":
        counts = [counts_correct(entry, glasses) for entry in claims.values()]
    else:
        counts = []
        first = 1
        for rows in blocks(glasses, tasters):
            numbers = range(first, first + len(rows))
            counts.append(block_counts(rows, [claims[number] for number in numbers if number in claims], glasses))
            first += len(rows)
    return _sum_of(counts, exact=len(claims) <= MOST_EXACT or keys == "shared")


def shared_counts(claims: Sequence[Claims], glasses: int) -> tuple[int, ...]:
    """Count the keys, out of n!, under which all claims together are right at exactly k places, for k = 0 …"""
    times = [Counter(entry[place] for entry in claims) for place in range(glasses)]
    totals = Counter(
        sum(times[place][number] for place, number in enumerate(key)) for key in permutations(range(1, glasses + 1))
    )
    return tuple(totals[total] for total in range(glasses * len(claims) + 1))


def block_counts(rows: Block, claims: Sequence[Claims], glasses: int) -> tuple[int, ...]:
    """Count the draws of a balanced block under which its tasters' claims are right at exactly k places, for k = 0 …

    Parameters
    ----------
    rows : sequence of rows
        The block's rows, all different, fifteen at most.
    claims : sequence of claims
        Of those of the block's tasters who are counted; their order does not matter.

    Returns
    -------
    tuple of int, length glasses · len(claims) + 1
        They sum to n! · R! / (R − T)!: the relabellings of the drinks, times the ways to give T tasters one of R rows
        each. (However the rest go to those not counted, it is as many ways.)

    Notes
    -----
    For one relabelling, what is sought is Σ_σ Π_t z^(claims of t that are right under row σ(t)) over all one-to-one σ,
    a permanent. It is built up a taster after the other, for every set of rows given out so far: 2^R sets in place of
    R! orders. Relabellings that only change the order of the rows are counted together.
    """
    relabelled = Counter(
        tuple(sorted(tuple(labels[drink - 1] for drink in row) for row in rows))
        for labels in permutations(range(1, glasses + 1))
    )
    most = glasses * len(claims)
    packed = sum(times * _assignments(keys, claims) for keys, times in relabelled.items())
    return tuple(packed >> _LIMB_BITS * total & (1 << _LIMB_BITS) - 1 for total in range(most + 1))


def _assignments(keys: Sequence[Key], claims: Sequence[Claims]) -> int:
    """Count the ways to give each taster another of the keys, by the total correct; limb k has those with k correct."""
    ways = {0: 1}
    for entry in claims:
        right = [sum(map(int.__eq__, key, (claim or 0 for claim in entry))) for key in keys]
        steps = [(1 << at, _LIMB_BITS * count) for at, count in enumerate(right)]
        grown: dict[int, int] = defaultdict(int)
        for given, packed in ways.items():
            for key, shift in steps:
                if not given & key:
                    grown[given | key] += packed << shift
        ways = grown
    return sum(ways.values())


def _sum_of(counts: Sequence[tuple[int, ...]], *, exact: bool) -> TableLaw:
    """Return the law of the sum of independent parts, each given by counts of equally likely cases."""
    if exact:
        cases = np.array([1], object)
        for part in counts:
            cases = np.convolve(cases, np.array(part, object))
        of = prod(sum(part) for part in counts)
        return TableLaw(tuple(Fraction(int(case), of) for case in cases), exact=True)
    chances = np.ones(1)
    for part in counts:
        chances = np.convolve(chances, np.array([case / sum(part) for case in part]))
    return TableLaw(tuple(float(chance) for chance in chances), exact=False)
