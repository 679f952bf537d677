"""Exact bounds on a rate from a count: what so many errors in so many positions allow to be said."""

from __future__ import annotations

import math
from collections.abc import Callable


def upper_bound(errors: int, positions: int, confidence: float = 0.95) -> float:
    """Return the highest rate that such a count does not rule out: the one-sided Clopper–Pearson bound.

    Parameters
    ----------
    errors, positions : int
        0 <= errors <= positions.
    confidence : float

    Returns
    -------
    float
        The rate at which no more than `errors` would occur with probability 1 − confidence; 1 with no positions.

    Raises
    ------
    ValueError
        If the counts do not fit together.

    References
    ----------
    .. [1] C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404–413.

    Examples
    --------
    >>> round(1 / upper_bound(0, 1_497_865))
    500000
    """
    _check(errors, positions)
    if errors == positions:
        return 1.0
    return _solved(lambda rate: _at_most(errors, positions, rate) > 1 - confidence)


def interval(count: int, positions: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the two-sided Clopper–Pearson interval of a rate; (0, 1) with no positions."""
    _check(count, positions)
    tail = (1 - confidence) / 2
    low = 0.0 if count == 0 else _solved(lambda rate: 1 - _at_most(count - 1, positions, rate) < tail)
    return low, upper_bound(count, positions, 1 - tail)


def _check(count: int, positions: int) -> None:
    if not 0 <= count <= positions:
        raise ValueError(f"{count} of {positions} is no count")


def _solved(below: Callable[[float], bool]) -> float:
    """Return where `below` turns from true to false, on a logarithmic scale first, since rates may be tiny."""
    low, high = -80.0, 0.0
    for _ in range(200):
        middle = (low + high) / 2
        if below(math.exp(middle)):
            low = middle
        else:
            high = middle
    return math.exp(high)


def _at_most(count: int, positions: int, rate: float) -> float:
    """Return the probability of `count` or fewer in `positions` at this rate."""
    if rate >= 1.0:
        return 1.0 if count >= positions else 0.0
    log_rate, log_rest = math.log(rate), math.log1p(-rate)
    return math.fsum(
        math.exp(
            math.lgamma(positions + 1)
            - math.lgamma(k + 1)
            - math.lgamma(positions - k + 1)
            + k * log_rate
            + (positions - k) * log_rest
        )
        for k in range(count + 1)
    )
