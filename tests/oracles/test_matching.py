"""The law of the number correct, held against published tables and against every key counted out.

The standing of each value: [seen] in a copy of the source or a page quoting it; [memory] recalled; [computed]
by exact fractions or enumeration with code that is not the project's.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import combinations_with_replacement, permutations
from math import comb, exp, factorial

import pytest

from scanner.chance import chance_at_least, counts_correct

# OEIS A008290, rows n = 2 … 8 of the rencontres numbers D(n, k) [seen, recomputed].
RENCONTRES = {
    2: (1, 0, 1),
    3: (2, 3, 0, 1),
    4: (9, 8, 6, 0, 1),
    5: (44, 45, 20, 10, 0, 1),
    6: (265, 264, 135, 40, 15, 0, 1),
    7: (1854, 1855, 924, 315, 70, 21, 0, 1),
    8: (14833, 14832, 7420, 2464, 630, 112, 28, 0, 1),
}

# OEIS A000166, subfactorials from n = 2 [seen].
SUBFACTORIALS = {2: 1, 3: 2, 4: 9, 5: 44, 6: 265, 7: 1854, 8: 14833}

# Feller, An Introduction to Probability Theory and Its Applications, vol. 1, ch. IV.4, N = 3 … 6 [the table's
# place from memory, its values computed].
FELLER = {
    3: (0.333, 0.500, 0, 0.167),
    4: (0.375, 0.33333, 0.250, 0, 0.04167),
    5: (0.36667, 0.375, 0.16667, 0.08333, 0, 0.00833),
    6: (0.36806, 0.36667, 0.1875, 0.05556, 0.02083, 0, 0.00139),
}

# P(K ≥ k), k = 1 … n [computed].
UPPER_TAILS = {
    3: ("2/3", "1/6", "1/6"),
    4: ("5/8", "7/24", "1/24", "1/24"),
    5: ("19/30", "31/120", "11/120", "1/120", "1/120"),
}

# How often each claimed number is claimed, then the keys with 0, 1, 2 … correct [computed by enumeration].
# The times sum to the number of glasses less the blanks.
GREVILLE_COUNTS = [
    (3, (3,), (0, 6)),
    (3, (2, 1), (2, 2, 2)),
    (3, (1, 1, 1), (2, 3, 0, 1)),
    (4, (4,), (0, 24)),
    (4, (3, 1), (6, 12, 6)),
    (4, (2, 2), (8, 8, 8)),
    (4, (2, 1, 1), (8, 10, 4, 2)),
    (5, (4, 1), (24, 72, 24)),
    (5, (3, 2), (36, 48, 36)),
    (5, (3, 1, 1), (36, 54, 24, 6)),
    (5, (2, 2, 1), (40, 48, 24, 8)),
    (5, (2, 1, 1, 1), (42, 46, 24, 6, 2)),
    (3, (2,), (2, 4)),
    (3, (1, 1), (3, 2, 1)),
    (4, (3,), (6, 18)),
    (4, (2, 1), (10, 10, 4)),
    (4, (1, 1, 1), (11, 9, 3, 1)),
    (5, (1, 1, 1, 1), (53, 44, 18, 4, 1)),
    (5, (2, 1, 1), (50, 48, 18, 4)),
]


@pytest.mark.parametrize("glasses", RENCONTRES)
def test_claims_without_repeats_give_the_rencontres_numbers_of_oeis_a008290(glasses: int) -> None:
    assert counts_correct(range(1, glasses + 1), glasses) == RENCONTRES[glasses]


@pytest.mark.parametrize("glasses", SUBFACTORIALS)
def test_none_correct_gives_the_subfactorials_of_oeis_a000166(glasses: int) -> None:
    assert counts_correct(range(glasses, 0, -1), glasses)[0] == SUBFACTORIALS[glasses]


@pytest.mark.parametrize("glasses", [3, 4, 5, 6, 7, 8])
def test_each_rencontres_number_chooses_its_fixed_points_and_deranges_the_rest(glasses: int) -> None:
    # D(n, k) = C(n, k) · D(n − k, 0), OEIS A008290 [seen]; D(0, 0) = 1 and D(1, 0) = 0.
    deranged = {0: 1, 1: 0, **SUBFACTORIALS}
    counts = counts_correct(range(1, glasses + 1), glasses)
    assert counts == tuple(comb(glasses, k) * deranged[glasses - k] for k in range(glasses + 1))


@pytest.mark.parametrize("glasses", FELLER)
def test_the_law_is_fellers_table_of_the_matching_distribution(glasses: int) -> None:
    counts = counts_correct(range(1, glasses + 1), glasses)
    law = [count / factorial(glasses) for count in counts]
    # The table rounds to three places at least.
    assert law == pytest.approx(FELLER[glasses], abs=5.1e-4 if glasses < 5 else 5.1e-6)


def test_eight_glasses_are_as_near_to_poisson_as_feller_says() -> None:
    # Feller IV.4 [place from memory]: the limit is Poisson with mean 1. P(k) = Σ_{i≤n−k} (−1)^i / (i! k!), an
    # alternating series for e^−1/k!, so its error is below the first term left out, 1/(k! (n − k + 1)!).
    counts = counts_correct(range(1, 9), 8)
    for k, count in enumerate(counts):
        error = abs(count / factorial(8) - exp(-1) / factorial(k))
        assert error < 1 / (factorial(k) * factorial(9 - k))


@pytest.mark.parametrize("glasses", UPPER_TAILS)
def test_the_upper_tails_are_those_worked_out_by_hand(glasses: int) -> None:
    claims = range(1, glasses + 1)
    tails = [chance_at_least(claims, glasses, k) for k in range(1, glasses + 1)]
    assert tails == [Fraction(tail) for tail in UPPER_TAILS[glasses]]
    assert chance_at_least(claims, glasses, 0) == 1


def test_one_perfect_sitting_of_three_never_reaches_five_per_cent_and_one_of_four_does() -> None:
    # 1/6 and 1/24 [computed].
    assert chance_at_least((1, 2, 3), 3, 3) > Fraction(5, 100)
    assert chance_at_least((1, 2, 3, 4), 4, 4) < Fraction(5, 100)


@pytest.mark.parametrize(("glasses", "times", "counts"), GREVILLE_COUNTS)
def test_repeats_and_blanks_give_the_counts_of_the_table(
    glasses: int, times: tuple[int, ...], counts: tuple[int, ...]
) -> None:
    claims = _claims_with(times, glasses)
    assert counts_correct(claims, glasses) == counts + (0,) * (glasses + 1 - len(counts))


@pytest.mark.parametrize("glasses", [2, 3, 4, 5, 6])
def test_every_type_of_claims_agrees_with_counting_out_all_keys(glasses: int) -> None:
    # No source needed: the definition itself, each of the n! keys tried in turn.
    keys = list(permutations(range(1, glasses + 1)))
    for claims in _claim_types(glasses):
        tally = Counter(sum(a == b for a, b in zip(claims, key, strict=True)) for key in keys)
        assert counts_correct(claims, glasses) == tuple(tally[k] for k in range(glasses + 1)), claims


@pytest.mark.parametrize("glasses", [2, 3, 4, 5, 6, 7, 8])
def test_mean_and_variance_are_grevilles(glasses: int) -> None:
    # T. N. E. Greville, Ann. Math. Stat. 12 (1941) 350–354 [seen as citation; the formulae computed]: with
    # a_i the times number i is claimed and M their sum.
    n = glasses
    for claims in _claim_types(n):
        times = Counter(claim for claim in claims if claim is not None).values()
        made = sum(times)
        mean, variance = _moments(counts_correct(claims, n))
        assert mean == Fraction(made, n)
        assert variance == Fraction(made**2 - n * sum(a * (a + 1) for a in times) + n**2 * made, n**2 * (n - 1))
        if made == n:
            assert mean == 1
            assert variance == Fraction(n**2 - sum(a * a for a in times), n * (n - 1))


def test_the_enumeration_covers_every_type_once() -> None:
    # Partitions of 0 … 5 into at most five parts: 1 + 1 + 2 + 3 + 5 + 7 (OEIS A000070, a(5) = 19 [memory]).
    assert len(list(_claim_types(5))) == 19


def _claims_with(times: Sequence[int], glasses: int) -> tuple[int | None, ...]:
    """Claim number v so many times as `times` says, and leave the other places blank."""
    claims: list[int | None] = [v for v, count in enumerate(times, start=1) for _ in range(count)]
    return tuple(claims + [None] * (glasses - len(claims)))


def _claim_types(glasses: int) -> Iterator[tuple[int | None, ...]]:
    """Give one set of claims for each way of repeating numbers and of leaving places blank."""
    for times in combinations_with_replacement(range(glasses, -1, -1), glasses):
        if sum(times) <= glasses:
            yield _claims_with(times, glasses)


def _moments(counts: Sequence[int]) -> tuple[Fraction, Fraction]:
    keys = sum(counts)
    mean = Fraction(sum(k * count for k, count in enumerate(counts)), keys)
    return mean, Fraction(sum(k * k * count for k, count in enumerate(counts)), keys) - mean**2
