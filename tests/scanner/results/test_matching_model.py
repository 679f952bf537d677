"""The model of what is taken for what."""

from __future__ import annotations

from itertools import permutations
from math import exp, log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanner.results.matching_model import Floats, expected_correct, key_costs, key_number, orders


def apart(n: int, by: float = 1.0) -> Floats:
    return by * (np.ones((1, n, n)) - np.eye(n))


@pytest.mark.parametrize(
    ("n", "theta", "mean"),
    [
        (3, 0.5, 1.60933390),
        (3, log(2), 1.875),
        (3, 1.0, 2.26225500),
        (4, 0.5, 1.64235807),
        (4, log(2), 1.96923077),
        (4, 1.0, 2.53555459),
        (5, 0.5, 1.64789609),
        (5, log(2), 1.99386503),
        (5, 1.0, 2.65690434),
    ],
)
def test_drinks_all_equally_far_apart_give_the_mallows_model(n: int, theta: float, mean: float) -> None:
    # SOURCES, A6: Fligner & Verducci 1986, values computed apart from the project.
    assert expected_correct(apart(n), [theta])[0, 0] == pytest.approx(mean, abs=1e-8)
    assert expected_correct(apart(n, 2.0), [theta / 2])[0, 0] == pytest.approx(mean, abs=1e-8)


@settings(deadline=None, max_examples=30)
@given(st.integers(2, 5), st.floats(0, 5), st.integers(0, 10**6))
def test_the_mean_equals_a_sum_over_permutations_written_out(n: int, sharp: float, seed: int) -> None:
    points = np.random.default_rng(seed).random((n, 3))
    distances = np.sqrt(((points[:, None] - points) ** 2).sum(axis=2))
    ways = {way: exp(-sharp * sum(distances[i, j] for i, j in enumerate(way))) for way in permutations(range(n))}
    mean = sum(w * sum(i == j for i, j in enumerate(way)) for way, w in ways.items()) / sum(ways.values())
    assert expected_correct(distances[None], [sharp])[0, 0] == pytest.approx(mean)


def test_a_guesser_has_one_right_on_average_and_two_alike_drinks_are_found_by_luck() -> None:
    assert expected_correct(apart(5), [0.0])[0, 0] == pytest.approx(1)
    distances = 50 * apart(4)
    distances[0, 0, 1] = distances[0, 1, 0] = 0
    # Two are always found, the two that are alike are guessed: one of them right on average.
    assert expected_correct(distances, [1.0])[0, 0] == pytest.approx(3)


def test_costs_add_up_what_was_claimed_against_each_key_and_pass_blanks_over() -> None:
    distances = np.array([[0, 1, 4], [1, 0, 2], [4, 2, 0]], float)
    costs = key_costs(distances, [2, None, 3])
    assert costs[key_number((2, 1, 3))] == 0
    assert costs[key_number((3, 1, 2))] == 4
    assert costs[key_number((1, 2, 3))] == 1
    assert key_number((1, 2, 3)) == 0
    assert len(orders(5)) == 120
