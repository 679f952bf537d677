"""Exact binomial bounds, against published limits and against SciPy."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta

from scanner.bounds import interval, upper_bound


@pytest.mark.parametrize(
    ("one_in", "positions"), [(500_000, 1_497_865), (100_000, 299_572), (10_000, 29_956), (1_000, 2_995)]
)
def test_so_many_positions_without_an_error_bound_the_rate(one_in: int, positions: int) -> None:
    """SOURCES, E: positions without error that a 95 % upper bound needs [computed]."""
    assert upper_bound(0, positions) <= 1 / one_in < upper_bound(0, positions - 1) * (1 + 1e-9)


@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [(81, 263, 0.2527, 0.3676), (15, 148, 0.0578, 0.1617), (0, 20, 0.0, 0.1684), (1, 29, 0.0009, 0.1776)],
)
def test_the_interval_is_the_published_one(count: int, of: int, low: float, high: float) -> None:
    """R. G. Newcombe, Statist. Med. 17 (1998) 857, table I: Clopper–Pearson limits (SOURCES, C)."""
    found_low, found_high = interval(count, of)
    assert (round(found_low, 4), round(found_high, 4)) == (low, high)


@given(st.integers(1, 2_000_000).flatmap(lambda n: st.tuples(st.integers(0, min(n - 1, 40)), st.just(n))))
def test_the_upper_bound_is_scipy_s_beta_quantile(counts: tuple[int, int]) -> None:
    errors, positions = counts
    assert upper_bound(errors, positions) == pytest.approx(beta.ppf(0.95, errors + 1, positions - errors), rel=1e-6)


def test_nothing_counted_bounds_nothing() -> None:
    assert upper_bound(0, 0) == 1.0
    assert interval(0, 0) == (0.0, 1.0)


def test_more_errors_than_positions_are_no_count() -> None:
    with pytest.raises(ValueError, match="3 of 2"):
        upper_bound(3, 2)
