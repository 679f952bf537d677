"""What is learnt of tasters, and of pairs, from sittings."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from scanner.results.ability import fit, theta_of_face
from scanner.results.counted import counts_of, right_in
from scanner.results.difficulty import Traits
from scanner.results.matching_model import expected_correct
from scanner.results.sharpness import (
    PAIR_WEIGHT,
    Sharpness,
    distances_between,
    log_likelihood,
    nearer,
    pooled,
    sharpness,
    stated,
)
from scanner.results.sitting import Drink
from tests.scanner.results.skilled import FLIGHT, sitting, sitting_with

APART = {drink.key: Traits(abv_percent=12.0 + 3 * n) for n, drink in enumerate(FLIGHT)}


def test_with_nothing_stated_the_likeliest_sharpness_is_the_ability_of_the_exact_fit() -> None:
    # `ability.fit` solves E[total] = total by convolution; here the likelihood over all keys is searched.
    sittings = [sitting_with(k, 5, day) for day, k in enumerate((3, 1, 2, 5, 0, 3, 2))]
    sittings.append(sitting([2, 2, None, 4], [2, 1, 3, 4], day=9))
    grid = np.linspace(0.0, 3.0, 3001)
    logs = sum(log_likelihood(one, distances_between(one.drinks, {}), grid) for one in sittings)
    found = fit([counts_of(one) for one in sittings], sum(map(right_in, sittings)))
    assert found is not None
    assert grid[np.argmax(logs)] == pytest.approx(found[0], abs=1e-3)


def test_the_more_sittings_the_narrower_is_what_is_known() -> None:
    spreads = []
    for many in (0, 3, 30):
        points = sharpness("Ines", [sitting_with((2, 3, 1)[day % 3], 5, day) for day in range(many)], {}).points
        spreads.append(points[-1] / points[0])
    assert spreads[0] > spreads[1] > spreads[2]


def test_who_gets_more_right_is_sharper_and_late_sittings_weigh_more() -> None:
    faces = [sharpness("", [sitting_with(k, 5, day) for day in range(10)], {}).face for k in (0, 1, 2, 3, 5)]
    assert all(one < other for one, other in pairwise(faces))
    risen = [sitting_with(0 if day < 10 else 5, 5, day) for day in range(20)]
    fallen = [sitting_with(5 if day < 10 else 0, 5, day) for day in range(20)]
    assert sharpness("", risen, {}).face > sharpness("", fallen, {}).face


def test_the_same_result_on_drinks_far_apart_says_less_of_a_taster() -> None:
    sittings = [sitting_with(3, 5, day) for day in range(10)]
    assert sharpness("", sittings, APART).face < sharpness("", sittings, {}).face


@pytest.mark.parametrize("correct", [1.5, 2.5, 3.5, 4.5])
def test_a_stated_ability_is_met_on_random_flights_of_the_cellar(correct: float) -> None:
    drinks = list(FLIGHT)
    taster = stated(correct, drinks, APART)
    chance = np.random.default_rng(5)
    flights = np.array([chance.choice(len(drinks), 5, replace=False) for _ in range(500)])
    distances = distances_between(drinks, APART)[flights[:, :, None], flights[:, None, :]]
    assert expected_correct(distances, taster.points).mean() == pytest.approx(correct, abs=0.1)


def test_with_nothing_stated_of_the_cellar_the_ability_is_on_the_scale_of_all_results() -> None:
    assert stated(2.5, FLIGHT, {}).points[0] == pytest.approx(theta_of_face(2.5), rel=0.01)


@pytest.mark.parametrize("drinks", [(), FLIGHT[:1], FLIGHT[:3]])
@pytest.mark.parametrize("correct", [1.001, 4.999])
def test_small_cellars_and_extreme_abilities_give_a_finite_sharpness(drinks: tuple[Drink, ...], correct: float) -> None:
    assert 0 < stated(correct, drinks, APART).points[0] < 10


def test_a_pair_often_confused_comes_nearer_and_one_never_confused_moves_off() -> None:
    swapped = [sitting([2, 1, 3, 4], [1, 2, 3, 4], day) for day in range(8)]
    taster = sharpness("Ines", swapped, {})
    found = nearer([(taster, swapped)], {})
    pair = (FLIGHT[0].key, FLIGHT[1].key)
    assert found[pair] == max(found.values()) > 1
    assert found[tuple(sorted((FLIGHT[2].key, FLIGHT[3].key)))] < 1  # type: ignore[index]
    assert (FLIGHT[0].key, FLIGHT[5].key) not in found
    # The confusions expected are at least nought: the factor is at most this.
    assert found[pair] <= (16 + PAIR_WEIGHT) / PAIR_WEIGHT


def test_one_taster_is_pooled_as_is_and_a_table_by_its_quantiles() -> None:
    assert pooled([Sharpness("", 0, (0.5,))]) == (0.5,)
    table = pooled([Sharpness("", 1, (float(n), n + 0.5)) for n in range(20)])
    assert len(table) == 9
    assert table[4] == pytest.approx(9.75)
