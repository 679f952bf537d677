"""How far apart drinks are by what is stated, and how hard that makes a flight."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanner.results.difficulty import Traits, distance, flight_difficulty
from scanner.results.sitting import Drink

FULL = Traits("junmai", 15.0, 3.0, 1.5, 70.0, True, 10.0)

some_traits = st.builds(
    Traits,
    style=st.none() | st.sampled_from(["junmai", "junmai ginjo", "koshu", "純米"]),
    abv_percent=st.none() | st.floats(0, 96),
    meter_value=st.none() | st.floats(-150, 50),
    acidity=st.none() | st.floats(0, 15),
    polishing_percent=st.none() | st.floats(1, 100),
    pasteurised=st.none() | st.booleans(),
    age_months=st.none() | st.floats(0, 1200),
    open_days=st.floats(0, 400),
    fault=st.none() | st.sampled_from(["stale", "mould"]),
)


@given(some_traits, some_traits)
def test_a_distance_is_the_same_both_ways_and_never_below_nought(one: Traits, other: Traits) -> None:
    assert distance(one, other) == pytest.approx(distance(other, one))
    assert 0 <= distance(one, other) <= sqrt(9 * 16 / 7)


@pytest.mark.parametrize(
    ("change", "steps"),
    [
        ({}, 0.0),
        ({"style": "koshu"}, 2.0),
        ({"style": "Junmai Ginjō"}, 1.0),
        ({"abv_percent": 16.5}, 1.5),
        ({"meter_value": -5.0}, 2.0),
        ({"acidity": 1.2}, 1.0),
        ({"polishing_percent": 50.0}, 2.0),
        ({"pasteurised": False}, 2.0),
        ({"age_months": 32.0}, 1.0),
        ({"open_days": 14.0}, 1.0),
        ({"fault": "stale"}, 4.0),
        ({"abv_percent": 40.0}, 4.0),
        ({"abv_percent": None}, 1.0),
    ],
)
def test_one_trait_at_a_time_counts_its_documented_steps(change: dict[str, object], steps: float) -> None:
    # Reckoned by hand from the steps in the docstring; the root of the mean over seven traits.
    assert distance(FULL, replace(FULL, **change)) == pytest.approx(sqrt(steps**2 / 7))  # type: ignore[arg-type]


def test_macrons_capitals_and_hyphens_make_no_other_style() -> None:
    assert distance(Traits("Junmai-Ginjō"), Traits("junmai ginjo")) == distance(Traits("a"), Traits("a"))


def test_a_flight_of_which_nothing_is_stated_is_middling() -> None:
    for glasses in (2, 3, 4, 5):
        assert flight_difficulty([Drink(str(n), str(n)) for n in range(glasses)]) == 0


def test_the_difficulty_is_the_documented_function_of_the_distances() -> None:
    known = {"a": FULL, "b": replace(FULL, abv_percent=17.0), "c": replace(FULL, abv_percent=18.0)}
    drinks = [Drink(key, key) for key in known]
    apart = [sqrt(4 / 7), sqrt(9 / 7), sqrt(1 / 7)]
    assert flight_difficulty(drinks, known=known) == pytest.approx(log(sum(exp(1 - d) for d in apart) / 3))


@given(st.lists(some_traits, min_size=3, max_size=5), st.floats(0, 2))
def test_the_weight_multiplies_and_nought_takes_all_difficulty_away(traits: list[Traits], weight: float) -> None:
    drinks = [Drink(str(n), str(n)) for n in range(len(traits))]
    known = {str(n): one for n, one in enumerate(traits)}
    whole = flight_difficulty(drinks, known=known)
    assert whole <= 1 + 1e-12
    assert flight_difficulty(drinks, weight, known) == pytest.approx(weight * whole)


def test_alike_drinks_are_harder_than_drinks_far_apart() -> None:
    near = [Drink(key, key, "junmai", 15.0) for key in "abc"]
    wide = [Drink("a", "A", "junmai", 15.0), Drink("b", "B", "koshu", 18.0), Drink("c", "C", "nigori", 13.0)]
    assert flight_difficulty(near) > 0 > flight_difficulty(wide)


def test_one_drink_has_no_difficulty() -> None:
    with pytest.raises(ValueError, match="two drinks or more"):
        flight_difficulty([Drink("a", "A")])
