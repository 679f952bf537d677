"""Ability: estimate, exact interval, and its face of five."""

from __future__ import annotations

import json
from itertools import pairwise
from math import exp

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanner.results.ability import (
    Ability,
    ability,
    face_of,
    faces,
    fit,
    laws_of_totals,
    padded,
    sentences,
    theta_of_face,
    tilted,
    to_json,
)
from tests.scanner.results.simulate import interval_coverage
from tests.scanner.results.skilled import LAWS, sitting, sitting_with


@pytest.mark.parametrize("glasses", [3, 4, 5])
@pytest.mark.parametrize("sittings", [1, 2, 5, 9, 14, 20])
def test_the_interval_covers_at_its_rate_by_enumeration(glasses: int, sittings: int) -> None:
    assert interval_coverage([glasses] * sittings)[0] >= 0.95 - 1e-9


def test_the_interval_covers_with_unlike_flights_of_unlike_size() -> None:
    least, mean = interval_coverage([3, 4, 5, 5, 3], [0.4, -0.7, 1.2, 0.1, -1.5])
    assert 0.95 - 1e-9 <= least < 0.975 + 1e-9
    assert 0.95 < mean < 0.99


@settings(max_examples=30)
@given(st.lists(st.tuples(st.sampled_from([3, 4, 5]), st.floats(-2, 2)), min_size=1, max_size=8), st.data())
def test_the_ends_have_the_tails_that_they_claim(flights: list[tuple[int, float]], data: st.DataObject) -> None:
    counts = [LAWS[n] for n, _ in flights]
    shifts = np.array([d for _, d in flights])
    possible = np.flatnonzero(laws_of_totals(padded(counts), -shifts[None])[0])
    total = int(data.draw(st.sampled_from(list(possible))))
    found = fit(counts, total, shifts.tolist())
    assert found is not None
    estimate, low, high = found
    if low is not None:
        assert laws_of_totals(padded(counts), low - shifts[None])[0, total:].sum() == pytest.approx(0.025, rel=1e-6)
    if high is not None:
        assert laws_of_totals(padded(counts), high - shifts[None])[0, : total + 1].sum() == pytest.approx(
            0.025, rel=1e-6
        )
    if estimate is not None:
        law = tilted(padded(counts), estimate - shifts)
        assert (law @ np.arange(law.shape[1])).sum() == pytest.approx(total, abs=1e-6)
        assert low is not None
        assert high is not None
        assert low < estimate < high


def test_more_right_means_more_ability() -> None:
    found = [fit([LAWS[5]] * 6, total) for total in (*range(1, 29), 28)]
    estimates = [each[0] for each in found[:-1] if each is not None and each[0] is not None]
    assert len(estimates) == 28
    assert all(a < b for a, b in pairwise(estimates))


def test_harder_flights_for_the_same_total_mean_more_ability() -> None:
    easy, hard = (fit([LAWS[5]] * 8, 14, [d] * 8) for d in (0.0, 0.8))
    assert easy is not None
    assert hard is not None
    assert [b - a for a, b in zip(easy, hard, strict=True) if a is not None and b is not None] == pytest.approx(
        [0.8] * 3
    )


def test_all_right_has_the_finite_end_and_never_infinity() -> None:
    found = ability([sitting_with(4, 4, day) for day in range(3)])
    assert found.estimate is None
    assert found.high is None
    assert found.low is not None
    assert found.face == 5.0
    assert found.face_interval == (face_of(found.low), 5.0)
    # P_θ(4 of 4) = t⁴/(24·S_4(t)), three times over, is one in forty there.
    t = exp(found.low)
    assert (t**4 / (24 * sum((t - 1) ** j / f for j, f in enumerate((1, 1, 2, 6, 24))))) ** 3 == pytest.approx(0.025)
    assert sentences(found)[0].startswith("As well as can be in 3 sittings: at least ")
    assert to_json(found)["ability_interval"] == [found.low, None]


def test_none_right_has_the_other_end() -> None:
    found = ability([sitting_with(0, 3, day) for day in range(12)])
    assert (found.estimate, found.low, found.face) == (None, None, 0.0)
    assert found.face_interval is not None
    assert found.face_interval[1] < 1
    assert "mixed up" in sentences(found)[1]


def test_claims_that_every_key_answers_alike_tell_nothing() -> None:
    found = ability([sitting((2, 2, 2), (1, 2, 3))])
    assert found.face is None
    assert sentences(found)[0].startswith("Too little to tell")


def test_no_sitting_tells_nothing() -> None:
    assert "no sitting" in sentences(ability([]))[0]
    assert json.dumps(to_json(ability([])), allow_nan=False)


def test_one_sitting_says_that_it_tells_little() -> None:
    found = ability([sitting_with(2, 5)])
    assert found.face_interval is not None
    assert "too little" in sentences(found)[1]


def test_two_to_eight_glasses_stand_on_one_scale() -> None:
    for glasses in LAWS:
        found = fit([LAWS[glasses]] * 40, 40)
        assert found is not None
        # One right a sitting is guessing, however many glasses.
        assert found[0] == pytest.approx(0, abs=1e-8)


def test_a_year_of_perfect_sittings_stays_finite() -> None:
    found = ability([sitting_with(5, 5, day) for day in range(365)])
    assert found.low is not None
    assert 4.9 < face_of(found.low) < 5


@given(st.floats(-700, 700))
def test_the_face_lies_within_its_glasses_and_rises(theta: float) -> None:
    here, above = faces(np.array([theta, theta + 0.01]))
    assert 0 <= here <= above + 1e-14
    assert above <= 5


@given(st.floats(0.01, 4.99))
def test_the_inverse_of_the_face_undoes_it(correct: float) -> None:
    assert face_of(theta_of_face(correct)) == pytest.approx(correct, abs=1e-8)


@pytest.mark.parametrize("correct", [0.0, 5.0, -1.0, 6.0])
def test_the_face_has_no_inverse_at_its_ends(correct: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 5"):
        theta_of_face(correct)


def test_what_does_not_fit_together_is_refused() -> None:
    with pytest.raises(ValueError, match="1 difficulties for 2 sittings"):
        fit([LAWS[3]] * 2, 3, [0.0])
    with pytest.raises(ValueError, match="allowed are 0 to 6"):
        fit([LAWS[3]] * 2, 7)


def test_the_sentence_gives_face_and_interval() -> None:
    found: Ability = ability([sitting_with(2, 5, day) for day in range(40)])
    assert sentences(found) == (
        "About 2.0 of five on a middling flight, and somewhere from 1.6 to 2.5 (95% interval, 40 sittings); "
        "guessing has 1.0.",
    )
