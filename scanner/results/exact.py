"""Exact laws of whole-number scores over sittings, and the small published tests that results lean on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache, reduce
from math import comb, gcd, sqrt

import numpy as np
from numpy.typing import NDArray

EXACT_SITTINGS = 30
"""Laws of up to so many sittings are added up in whole numbers, longer sums in floats."""
Z_95 = 1.959963984540054
"""The normal distribution's 97.5 % point."""
LEAST_FLOAT = 5e-324


@dataclass(frozen=True, slots=True)
class Law:
    """How often each score occurs among equally likely cases: `weights[i]` cases have the score `least + i·step`."""

    least: int
    weights: tuple[int, ...]
    step: int = 1

    @property
    def cases(self) -> int:
        """The number of cases."""
        return sum(self.weights)

    @property
    def mean(self) -> float:
        """The mean score."""
        return self.least + self.step * sum(i * weight for i, weight in enumerate(self.weights)) / self.cases

    @property
    def decides(self) -> bool:
        """Whether more than one score is possible."""
        return len(self.weights) > 1

    def at_least(self, score: int) -> int:
        """Return the number of cases with this score or a higher one."""
        below = -((self.least - score) // self.step)
        return sum(self.weights[max(0, below) :])


def law_of(scores: Sequence[int] | NDArray[np.int64]) -> Law:
    """Return the law of the scores of equally likely cases.

    Examples
    --------
    >>> law_of([4, 2, 2, 8])
    Law(least=2, weights=(2, 1, 0, 1), step=2)
    """
    if not len(scores):
        raise ValueError("a law needs a score")
    values = np.asarray(scores, np.int64)
    least = int(values.min())
    counts = np.bincount(values - least)
    step = int(np.gcd.reduce(np.flatnonzero(counts))) or 1
    return Law(least, tuple(counts[::step].tolist()), step)


def chance_of_total(laws: Sequence[Law], total: int) -> float:
    """Return the probability that the sum of independent scores is at least `total`.

    Notes
    -----
    Up to EXACT_SITTINGS laws that decide anything the counts of cases are whole numbers: the laws' generating
    polynomials are multiplied as whole numbers with digits wide enough for any coefficient (Kronecker's substitution).
    Beyond, the probabilities are convolved in floats, which for positive terms lose no more than their last digits.
    """
    deciding = [law for law in laws if law.decides]
    total -= sum(law.least for law in laws)
    step = reduce(gcd, (law.step for law in deciding), 0) or 1
    place = max(0, -((-total) // step))
    if len(deciding) <= EXACT_SITTINGS:
        weights, cases = _product(deciding, step)
        return float(Fraction(sum(weights[place:]), cases))
    spread = [_spread(law, step, times) for law, times in Counter(deciding).items()]
    while len(spread) > 1:
        spread = [reduce(np.convolve, spread[i : i + 2]) for i in range(0, len(spread), 2)]
    # What can be is never said to be impossible, were its chance below the least float.
    return min(1.0, max(float(spread[0][place:].sum()), LEAST_FLOAT if place < len(spread[0]) else 0.0))


def _product(laws: Sequence[Law], step: int) -> tuple[list[int], int]:
    """Return the counts of cases of the sum, and their number."""
    cases = 1
    for law in laws:
        cases *= law.cases
    digit_bytes = cases.bit_length() // 8 + 1
    packed, length = 1, 1
    for law in laws:
        wide = law.step // step
        digits = bytearray(digit_bytes * ((len(law.weights) - 1) * wide + 1))
        for i, weight in enumerate(law.weights):
            at = i * wide * digit_bytes
            digits[at : at + digit_bytes] = weight.to_bytes(digit_bytes, "little")
        packed *= int.from_bytes(digits, "little")
        length += (len(law.weights) - 1) * wide
    content = packed.to_bytes(digit_bytes * length, "little")
    weights = [int.from_bytes(content[at : at + digit_bytes], "little") for at in range(0, len(content), digit_bytes)]
    return weights, cases


@lru_cache(maxsize=4096)
def _spread(law: Law, step: int, times: int) -> NDArray[np.float64]:
    """Return the chances of the sum of so many scores of one law."""
    if times > 1:
        return np.convolve(_spread(law, step, times // 2), _spread(law, step, times - times // 2))
    chances = np.zeros((len(law.weights) - 1) * (law.step // step) + 1)
    chances[:: law.step // step] = np.array(law.weights, float) / law.cases
    return chances


@lru_cache(maxsize=1024)
def overlap_law(glasses: int, first: int, second: int) -> Law:
    """Return the law of how many glasses are in both of two sets of so many, one of them drawn at random.

    Notes
    -----
    The hypergeometric law, Fisher's exact test of one fourfold table.

    Examples
    --------
    >>> overlap_law(5, 2, 3).weights, overlap_law(5, 2, 3).least
    ((1, 6, 3), 0)
    """
    if not 0 <= first <= glasses or not 0 <= second <= glasses:
        raise ValueError(f"sets of {first} and {second} among {glasses} glasses")
    least, most = max(0, first + second - glasses), min(first, second)
    ways = (comb(first, k) * comb(glasses - first, second - k) for k in range(least, most + 1))
    return Law(least, tuple(ways))


def holm(chances: Sequence[float]) -> tuple[float, ...]:
    """Return Holm's adjusted p-values, in the order given.

    References
    ----------
    .. [1] S. Holm, Scand. J. Stat. 6 (1979) 65–70.

    Examples
    --------
    >>> holm([0.01, 0.04, 0.03, 0.005])
    (0.03, 0.06, 0.06, 0.02)
    """
    order = sorted(range(len(chances)), key=lambda i: chances[i])
    adjusted = [1.0] * len(chances)
    least = 0.0
    for rank, i in enumerate(order):
        least = max(least, min(1.0, chances[i] * (len(chances) - rank)))
        adjusted[i] = least
    return tuple(adjusted)


def wilson(count: int, of: int) -> tuple[float, float]:
    """Return Wilson's 95 % limits of a rate; (0, 1) with nothing to count.

    References
    ----------
    .. [1] R. G. Newcombe, Stat. Med. 17 (1998) 857–872, method 3.

    Examples
    --------
    >>> low, high = wilson(81, 263)
    >>> round(low, 4), round(high, 4)
    (0.2553, 0.3662)
    """
    if not 0 <= count <= of:
        raise ValueError(f"{count} of {of}")
    if of == 0:
        return 0.0, 1.0
    share, z2 = count / of, Z_95**2
    middle = (share + z2 / (2 * of)) / (1 + z2 / of)
    half = Z_95 / (1 + z2 / of) * sqrt(share * (1 - share) / of + z2 / (4 * of * of))
    return (0.0 if count == 0 else middle - half), (1.0 if count == of else middle + half)


def sign_test(more: int, fewer: int) -> float:
    """Return the two-sided exact p-value of so many differences up and so many down, ties left out.

    Examples
    --------
    >>> sign_test(8, 1), sign_test(0, 0)
    (0.0390625, 1.0)
    """
    of = more + fewer
    extreme = sum(comb(of, k) for k in range(max(more, fewer), of + 1))
    return min(1.0, float(Fraction(2 * extreme, 2**of)))
