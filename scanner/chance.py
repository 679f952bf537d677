"""How well a guesser does: the exact law of the number correct in one sitting, whatever the taster claims."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from fractions import Fraction
from math import comb, factorial

FEWEST_GLASSES = 2
MOST_GLASSES = 8


def counts_correct(claims: Sequence[int | None], glasses: int) -> tuple[int, ...]:
    """Count the keys under which the claims are right at exactly k places.

    Parameters
    ----------
    claims : sequence of int or None, length `glasses`
        The coaster number claimed at each place, 1 … `glasses`; None for a place left blank. Numbers may
        repeat.
    glasses : int
        The number n of glasses of the sitting, 2 … 8.

    Returns
    -------
    tuple of int, length n + 1
        Item k is the number of keys, out of n!, under which exactly k places are right. The items sum to n!.

    Raises
    ------
    ValueError
        If `glasses` is out of range, the claims are not one for each place, or a claim is not None or 1 … n.

    Notes
    -----
    Let m_v be the number of places that claim number v. A place has one claim at most, so rooks on the board
    of claims keep apart if each stands on another number: the rook numbers are the elementary symmetric
    polynomials r_j = e_j(m_1 … m_n). By inclusion and exclusion N(k) = Σ_{j≥k} (−1)^{j−k} C(j, k) r_j (n −
    j)! [1]_. Claims without repeats and blanks give the rencontres numbers; for the moments with repeats see
    [2]_, for the use of rook polynomials as an exact test [3]_.

    References
    ----------
    .. [1] J. Riordan, An Introduction to Combinatorial Analysis, Wiley, 1958, ch. 7 and 8.
    .. [2] T. N. E. Greville, Ann. Math. Stat. 12 (1941) 350–354.
    .. [3] R. Gillett, Psychol. Bull. 97 (1985) 106.

    Examples
    --------
    >>> counts_correct([1, 2, 3], 3)
    (2, 3, 0, 1)
    >>> counts_correct([1, 1, None], 3)
    (2, 4, 0, 0)
    """
    check_claims(claims, glasses)
    times_claimed = Counter(claim for claim in claims if claim is not None)
    rook = _elementary_symmetric(times_claimed.values(), glasses)
    return tuple(
        sum((-1) ** (j - k) * comb(j, k) * rook[j] * factorial(glasses - j) for j in range(k, glasses + 1))
        for k in range(glasses + 1)
    )


def chance_at_least(claims: Sequence[int | None], glasses: int, correct: int) -> Fraction:
    """Return the exact probability that a uniformly random key gives these claims at least `correct` right.

    Parameters
    ----------
    claims, glasses
        As for `counts_correct`.
    correct : int
        The number of places that were right, 0 … `glasses`.

    Raises
    ------
    ValueError
        If `correct` or one of the others is out of range.

    Examples
    --------
    >>> chance_at_least([3, 1, 2, 5, 4], 5, 3)
    Fraction(11, 120)
    """
    counts = counts_correct(claims, glasses)
    if not 0 <= correct <= glasses:
        raise ValueError(f"{correct} correct of {glasses} glasses: allowed are 0 to {glasses}")
    return Fraction(sum(counts[correct:]), factorial(glasses))


def one_time_in(probability: Fraction) -> str:
    """Say a probability for people, as a count of times in a count of times.

    Below 3 in 20 it is one time in the nearest whole number; from there on the nearest fraction with a
    denominator of ten at most.

    Raises
    ------
    ValueError
        If `probability` is not within 0 … 1.

    Examples
    --------
    >>> one_time_in(Fraction(11, 120)), one_time_in(Fraction(2, 3)), one_time_in(Fraction(1))
    ('1 time in 11', '2 times in 3', 'every time')
    """
    cases, of = nearest_times(probability)
    if cases == 0:
        return "never"
    if cases == of:
        return "every time" if probability == 1 else "nearly every time"
    return f"{cases} time{'s' if cases > 1 else ''} in {of:,}"


def nearest_times(probability: Fraction) -> tuple[int, int]:
    """Return a probability as so many times in so many, rounded as `one_time_in` says it.

    Raises
    ------
    ValueError
        If `probability` is not within 0 … 1.

    Examples
    --------
    >>> nearest_times(Fraction(11, 120)), nearest_times(Fraction(2, 3)), nearest_times(Fraction(99, 100))
    ((1, 11), (2, 3), (1, 1))
    """
    if not 0 <= probability <= 1:
        raise ValueError(f"{probability} is not a probability: allowed are 0 to 1")
    if 0 < probability < Fraction(3, 20):
        return 1, round(1 / probability)
    near = probability.limit_denominator(10)
    return near.numerator, near.denominator


def check_claims(claims: Sequence[int | None], glasses: int) -> None:
    if not FEWEST_GLASSES <= glasses <= MOST_GLASSES:
        raise ValueError(f"{glasses} glasses: allowed are {FEWEST_GLASSES} to {MOST_GLASSES}")
    if len(claims) != glasses:
        raise ValueError(f"{len(claims)} claims for {glasses} glasses: each place has one, None if blank")
    for claim in claims:
        if claim is not None and not 1 <= claim <= glasses:
            raise ValueError(f"a claim of number {claim}: allowed are 1 to {glasses}, and None for a blank")


def _elementary_symmetric(values: Iterable[int], degree: int) -> list[int]:
    """Return e_0 … e_degree of the values, as the coefficients of Π (1 + v·x)."""
    coefficients = [1] + [0] * degree
    for value in values:
        for j in range(degree, 0, -1):
            coefficients[j] += value * coefficients[j - 1]
    return coefficients
