"""Sureness: what guess, leaning and sure are worth, with whole sittings resampled."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from scanner.bounds import interval
from scanner.results.sitting import TasterSitting
from scanner.results.sureness import sentences, sureness, to_json
from tests.scanner.results.skilled import sitting, sitting_with

NEITHER, GUESSES, SURES, ALL = (2, 1, 4, 3), (1, 2, 4, 3), (2, 1, 3, 4), (1, 2, 3, 4)


def two_and_two(truth: tuple[int, ...], day: int) -> TasterSitting:
    """A and B are guesses, C and D sure; which of them are right, the truth says."""
    return replace(sitting((1, 2, 3, 4), truth, day), sure=("guess", "guess", "sure", "sure"))


def test_claims_are_counted_by_their_word() -> None:
    truths = [SURES] * 8 + [GUESSES] * 2 + [ALL] * 3 + [NEITHER]
    found = sureness([two_and_two(truth, day) for day, truth in enumerate(truths)])
    guess, leaning, sure = found.words
    assert (guess.sittings, guess.correct, guess.claims) == (14, 10, 28)
    assert (leaning.sittings, leaning.correct, leaning.claims, leaning.interval) == (0, 0, 0, None)
    assert (sure.sittings, sure.correct, sure.claims) == (14, 22, 28)
    assert guess.interval is not None
    assert guess.interval[0] < 10 / 28 < guess.interval[1]


def test_a_taster_who_knows_when_they_know_is_told_so() -> None:
    truths = [SURES] * 24 + [GUESSES] * 2 + [NEITHER] * 4
    found = sureness([two_and_two(truth, day) for day, truth in enumerate(truths)])
    assert found.verdict == "sure is right more often"
    assert found.difference is not None
    assert 0 < found.difference[0] < (48 - 4) / 60 < found.difference[1]
    assert "right more often" in sentences(found)[-1]


def test_a_taster_who_is_surest_when_wrong_is_told_so() -> None:
    truths = [GUESSES] * 24 + [SURES] * 2 + [NEITHER] * 4
    found = sureness([two_and_two(truth, day) for day, truth in enumerate(truths)])
    assert found.verdict == "guess is right more often"
    assert "right less often" in sentences(found)[-1]


def test_words_that_tell_nothing_give_no_verdict() -> None:
    truths = [SURES, GUESSES] * 12
    found = sureness([two_and_two(truth, day) for day, truth in enumerate(truths)])
    assert found.verdict == "no difference seen"
    assert "cannot be told from luck" in sentences(found)[-1]


def test_places_of_one_sitting_are_not_taken_for_independent() -> None:
    # Ten sittings all right, ten all wrong: one by one the 80 places would give half the width (Clopper–Pearson .41 –
    # .59 as against .28 – .72 of twenty sittings).
    days = [sitting_with(4 if day % 2 else 0, 4, day, sure="sure") for day in range(20)]
    found = sureness(days).words[-1].interval
    assert found is not None
    places = interval(40, 80)
    assert found[1] - found[0] > 1.5 * (places[1] - places[0])


def test_below_ten_sittings_there_is_no_verdict() -> None:
    found = sureness([two_and_two(SURES, day) for day in range(9)])
    assert found.verdict == "too little"
    assert all(word.interval is None for word in found.words)
    assert "each word needs 10 sittings" in sentences(found)[-1]


def test_all_right_has_an_interval_that_leaves_room() -> None:
    # Clopper and Pearson's for 12 of 12: the low end is .025^(1/12) = .7354.
    found = sureness([sitting_with(3, 3, day, sure="sure") for day in range(12)]).words[-1]
    assert found.interval == pytest.approx((0.7354, 1.0), abs=1e-4)


def test_the_same_sittings_give_the_same_intervals() -> None:
    days = [two_and_two((SURES, GUESSES, ALL, NEITHER)[day % 4], day) for day in range(30)]
    assert sureness(days) == sureness(days)


def test_blanks_and_claims_without_a_word_are_left_out() -> None:
    one = replace(sitting((1, None, 3, 2), (1, 2, 3, 4)), sure=("sure", "sure", None, "guess"))
    found = sureness([one])
    assert [word.claims for word in found.words] == [1, 0, 1]
    assert found.without_word == 1


def test_no_sitting_is_too_little_to_tell() -> None:
    assert sentences(sureness([]))[0].startswith("Too little to tell")
    assert json.dumps(to_json(sureness([])), allow_nan=False)


def test_the_json_has_no_gaps() -> None:
    days = [two_and_two((SURES, GUESSES, ALL)[day % 3], day) for day in range(12)]
    entry = json.loads(json.dumps(to_json(sureness(days)), allow_nan=False))
    assert [word["word"] for word in entry["words"]] == ["guess", "leaning", "sure"]
    assert entry["verdict"] == sureness(days).verdict
