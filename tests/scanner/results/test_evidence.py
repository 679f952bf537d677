"""Evidence: valid at every look, in words, beside the exact p-value."""

from __future__ import annotations

import json
from fractions import Fraction
from itertools import permutations
from math import log

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanner.results.ability import padded, theta_of_face
from scanner.results.counted import counts_of
from scanner.results.evidence import (
    BEYOND_DOUBT,
    LIKELY,
    THETAS,
    evidence,
    log_e_values,
    log_ratios,
    sentences,
    to_json,
)
from tests.scanner.results.simulate import crossings
from tests.scanner.results.skilled import LAWS, sitting, sitting_with


@given(st.lists(st.none() | st.integers(1, 4), min_size=4, max_size=4))
def test_the_mean_under_guessing_is_one_whatever_is_claimed(claims: list[int | None]) -> None:
    counts = counts_of(sitting(claims, (1, 2, 3, 4)))
    ratios = np.exp(log_ratios(padded([counts])))[0]
    right = [sum(map(lambda a, b: a == b, claims, key)) for key in permutations((1, 2, 3, 4))]
    assert ratios[:, right].mean(axis=1) == pytest.approx(np.ones(len(THETAS)))


@pytest.mark.parametrize("glasses", [3, 4, 5])
def test_guessers_who_look_after_every_sitting_seldom_reach_twenty(glasses: int) -> None:
    # Ville: 5 % at most. 2,000 guessers of 200 sittings; 5 % of them and three standard errors are 129.
    ever = np.isfinite(crossings(glasses, np.zeros((2000, 200)), (20,), np.random.default_rng(5)))
    assert 0 < ever.sum() <= 129
    assert ever.mean() <= 0.05


def test_able_tasters_are_found_out_sooner_the_abler_they_are() -> None:
    chance = np.random.default_rng(6)
    medians = [
        np.quantile(crossings(5, np.full((400, 400), theta_of_face(face)), (LIKELY, BEYOND_DOUBT), chance), 0.5, axis=0)
        for face in (1.5, 2.0, 2.5, 3.2)
    ]
    # Measured with 4,000 tasters each (`simulate`): likely 33, 9, 4, 2; beyond doubt 57, 15, 8, 4.
    assert np.array(medians) == pytest.approx(np.array([[33, 57], [9, 15], [4, 8], [2, 4]]), rel=0.2, abs=1)


def test_designed_and_hand_keys_stay_apart() -> None:
    lots = [sitting_with(5, 5, day) for day in (0, 2)]
    hands = [sitting_with(3, 5, day, shuffle="hand") for day in (1, 3, 5)]
    designed, hand = evidence(lots + hands)
    assert (designed.designed, designed.sittings, designed.correct) == (True, 2, 10)
    assert (hand.designed, hand.sittings, hand.correct) == (False, 3, 9)
    assert designed.p_value == Fraction(1, 120**2)
    assert evidence(lots) == (designed,)


def test_hand_keys_alone_are_never_beyond_doubt() -> None:
    (hand,) = evidence([sitting_with(5, 5, day, shuffle="hand") for day in range(20)])
    assert hand.logs[-1] > log(BEYOND_DOUBT)
    assert hand.word == "likely"
    assert to_json(hand)["beyond_doubt_after"] is None
    (lots,) = evidence([sitting_with(5, 5, day, shuffle="twin") for day in range(20)])
    assert lots.word == "beyond doubt"


def test_the_words_follow_the_thresholds() -> None:
    (found,) = evidence([sitting_with(5, 5, day) for day in range(2)])
    assert found.first_reached(LIKELY) == 1
    assert found.first_reached(BEYOND_DOUBT) == 2
    assert found.word == "beyond doubt"
    (one,) = evidence([sitting_with(2, 5)])
    assert one.word == "not yet"
    assert one.first_reached(LIKELY) is None


def test_evidence_that_was_lost_again_is_told() -> None:
    (found,) = evidence([sitting_with(5, 5), *(sitting_with(0, 5, day) for day in range(1, 9))])
    assert found.word == "not yet"
    assert "It was likely once, after 1;" in sentences([found])[0]


def test_a_sitting_in_which_every_key_gives_the_same_is_no_evidence() -> None:
    assert log_e_values([counts_of(sitting((3, 3, 3), (1, 2, 3)))], (1,)) == pytest.approx(0)


def test_the_order_of_sittings_leaves_the_last_value_alone() -> None:
    correct = (5, 0, 2, 1, 3)
    ways = {round(float(log_e_values([LAWS[5]] * 5, order)[-1]), 9) for order in permutations(correct)}
    assert len(ways) == 1


def test_a_year_of_perfect_sittings_stays_finite() -> None:
    (found,) = evidence([sitting_with(5, 5, day) for day in range(365)])
    assert found.e_value is None
    assert "more than 1,000,000" in sentences([found])[0]
    assert json.dumps(to_json(found), allow_nan=False)


def test_no_sitting_is_too_little_to_tell() -> None:
    assert evidence([]) == ()
    assert sentences(())[0].startswith("Too little to tell")


def test_the_report_says_why_evidence_and_plain_chance_differ() -> None:
    said = " ".join(sentences(evidence([sitting_with(3, 5)])))
    assert "looked at after every sitting" in said
    assert "right for one look" in said
