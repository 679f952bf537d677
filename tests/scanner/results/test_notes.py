"""Whether notes came back: the similarity, the permutation test, what the notes alone would have claimed."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from itertools import permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanner.results import notes_report
from scanner.results.exact import chance_of_total
from scanner.results.later import later
from scanner.results.notes import notes, notes_of_sitting
from scanner.results.pairing import pairing, similarities, similarity
from scanner.results.sitting import Note, TasterSitting
from scanner.results.steady import steady_words
from tests.scanner.results.noted import SCALES, WORDS, drawn, note, noted
from tests.scanner.results.skilled import FLIGHT

LIKE = (note("pear melon", sweetness=1), note("rice malt", sweetness=3), note("smoke", sweetness=5))
CORES = (("pear", "melon"), ("rice", "malt"), ("smoke", "clove"), ("rose",), ("butter", "pear"))

some_notes = st.builds(
    Note,
    st.frozensets(st.sampled_from(WORDS)),
    st.dictionaries(st.sampled_from(list(SCALES)), st.integers(1, 5)),
    st.frozensets(st.sampled_from([*WORDS[:2], "finish"])),
)


def whole(found: list[TasterSitting]) -> str:
    """Return all that is said and written of a taster's notes; JSON refuses NaN."""
    ines = notes("ines", "Ines", found)
    entry = notes_report.to_json(ines, steady_words(found), later(found))
    return json.dumps(entry, allow_nan=False)


def test_words_kept_dropped_and_new_and_shifts_in_steps() -> None:
    first = (note("pear melon", sweetness=2, finish=4), *LIKE[1:])
    second = (LIKE[2], note("melon rose", sweetness=4), LIKE[1])
    found = notes_of_sitting(noted(first, second, (3, 1, 2)))
    heron = found.drinks[0]
    assert (heron.drink.name, heron.coaster, heron.place) == ("Heron Marsh", 1, "B")
    assert (heron.kept, heron.dropped, heron.new) == (("melon",), ("pear",), ("rose",))
    assert heron.shifts == {"sweetness": 2}
    assert heron.jaccard == pytest.approx(1 / 3)
    assert notes_report.sitting_sentences(found)[0] == (
        "Heron Marsh (1, then B): kept melon; dropped pear; new rose; sweetness +2."
    )


@given(st.lists(some_notes, min_size=3, max_size=5), st.lists(some_notes, min_size=3, max_size=5))
def test_the_array_of_similarities_is_the_documented_one(firsts: list[Note], seconds: list[Note]) -> None:
    found = similarities(firsts, seconds, SCALES)
    assert found.tolist() == [[similarity(first, second, SCALES) for second in seconds] for first in firsts]


def test_a_blank_strength_counts_the_same_whatever_it_is_paired_with() -> None:
    blank = note("pear")
    apart = [similarity(blank, note("rose", sweetness=step), SCALES) for step in range(1, 6)]
    assert set(apart) == {similarity(blank, note("rose"), SCALES)}


@settings(deadline=None, max_examples=30)
@given(st.integers(3, 5), st.integers(0, 10_000), st.integers(0, 6))
def test_a_small_p_comes_no_oftener_than_it_says_over_all_keys(glasses: int, seed: int, spread: int) -> None:
    alike = np.random.default_rng(seed).integers(0, spread + 1, (glasses, glasses))
    keys = list(permutations(range(1, glasses + 1)))
    chances = [pairing(alike, key).chance_at_least for key in keys]
    for alpha in set(chances):
        # Every p-value is an attainable level, so equality holds there, ties or none.
        assert Fraction(sum(p <= alpha for p in chances), len(keys)) == alpha
    assert all(Fraction(sum(p <= Fraction(a, 40) for p in chances), len(keys)) <= Fraction(a, 40) for a in range(41))


def test_without_ties_every_multiple_of_one_key_is_attained() -> None:
    alike = np.array([[0, 1, 5], [2, 9, 0], [30, 0, 0]])
    chances = sorted(pairing(alike, key).chance_at_least for key in permutations((1, 2, 3)))
    assert chances == [Fraction(i, 6) for i in range(1, 7)]


def test_p_over_two_sittings_comes_no_oftener_than_it_says_over_all_pairs_of_keys() -> None:
    chance = np.random.default_rng(4)
    tables = [chance.integers(0, 5, (3, 3)), chance.integers(0, 9, (4, 4))]
    keys = [list(permutations(range(1, len(table) + 1))) for table in tables]
    found = []
    for pair in product(*keys):
        pairings = [pairing(table, key) for table, key in zip(tables, pair, strict=True)]
        found.append(chance_of_total([one.law for one in pairings], sum(one.score for one in pairings)))
    for alpha in set(found):
        assert np.mean([p <= alpha + 1e-12 for p in found]) == pytest.approx(alpha)


def test_three_glasses_alone_never_reach_5_percent_and_the_report_says_so() -> None:
    found = notes_of_sitting(noted(LIKE, LIKE, (1, 2, 3), claims=(1, 2, 3)))
    assert found.pairing.chance_at_least == Fraction(1, 6)
    assert any(
        "with 3 glasses alone" in line and "1 time in 6" in line for line in notes_report.sitting_sentences(found)
    )


def test_four_glasses_can_reach_5_percent() -> None:
    four = (*LIKE, note("butter rose", sweetness=3))
    found = notes_of_sitting(noted(four, four, (1, 2, 3, 4)))
    assert found.pairing.chance_at_least == Fraction(1, 24)
    assert not any("alone, even" in line for line in notes_report.sitting_sentences(found))


def test_what_the_notes_alone_would_have_claimed_is_averaged_over_ties() -> None:
    # Notes 1 and 2 are the same, so the notes pair them either way: 4 and 2 of 4 right, 3 on average.
    four = (LIKE[0], LIKE[0], LIKE[1], LIKE[2])
    found = notes_of_sitting(noted(four, four, (1, 2, 3, 4), claims=(2, 1, 3, 4)))
    assert found.pairing.best == 2
    assert found.pairing.right_by_notes == 3
    assert found.claims_right == 2


def test_notes_that_beat_the_claims_in_many_sittings_are_said_to() -> None:
    four = (*LIKE, note("butter rose", sweetness=3))
    days = [noted(four, four, (1, 2, 3, 4), day, claims=(2, 1, 4, 3)) for day in range(8)]
    [kind] = notes("ines", "Ines", days).combined
    assert (kind.compared, kind.compared_by_notes, kind.compared_by_claims) == (8, 32, 0)
    assert kind.difference_chance == pytest.approx(2 / 2**8)
    assert kind.chance == pytest.approx(24.0**-8)
    assert any(line.startswith("The notes do better") for line in notes_report.sentences(notes("i", "I", days)))


def test_a_shift_of_all_strengths_lowers_the_agreement() -> None:
    # ICC(2,1) is of agreement: Shrout and Fleiss' case 2 counts raters who differ throughout as differing.
    steps = (1, 2, 3, 4)
    days = [
        noted([note(sweetness=s) for s in steps], [note(sweetness=s + 1) for s in steps], (1, 2, 3, 4), day)
        for day in range(5)
    ]
    sweetness = notes("ines", "Ines", days).scales[0]
    assert (sweetness.mean_shift, sweetness.mean_apart) == (1.0, 1.0)
    # Mean squares: between 2·5·5/19, raters 10, rest 0; n = 20.
    between = 50 / 19
    assert sweetness.icc == pytest.approx(between / (between + 2 * 10 / 20))


def test_sittings_in_which_notes_and_claims_are_as_good_count_for_neither() -> None:
    [kind] = notes("ines", "Ines", [noted(LIKE, LIKE, (1, 2, 3), claims=(1, 2, 3))]).combined
    assert (kind.notes_better, kind.claims_better, kind.difference_chance) == (0, 0, 1.0)


def test_hand_and_designed_keys_are_kept_apart() -> None:
    days = [noted(LIKE, LIKE, (1, 2, 3), 0), noted(LIKE, LIKE, (1, 2, 3), 1, shuffle="hand")]
    found = notes("ines", "Ines", days)
    assert [(kind.designed, kind.sittings) for kind in found.combined] == [(True, 1), (False, 1)]
    assert "is an assumption about mixing by hand" in " ".join(notes_report.sentences(found))


def test_the_order_of_the_sittings_given_changes_nothing() -> None:
    chance = np.random.default_rng(3)
    days = [drawn(CORES, chance, day) for day in range(6)]
    assert whole(days) == whole(days[::-1])


def test_guessed_notes_over_many_sittings_are_seldom_called_alike() -> None:
    # A guesser's notes have nothing to do with the drinks: P(p ≤ 5 %) ≤ 5 %. 400 runs: 3.5 standard errors allowed.
    chance = np.random.default_rng(12)
    small = 0
    for _ in range(400):
        days = [drawn(((),) * 4, chance, day) for day in range(3)]
        [kind] = notes("ines", "Ines", days).combined
        small += kind.chance is not None and kind.chance <= 0.05
    assert small <= 400 * 0.05 + 3.5 * (400 * 0.05 * 0.95) ** 0.5


def test_strengths_that_come_back_have_a_high_icc_and_noise_has_none() -> None:
    chance = np.random.default_rng(5)
    days = []
    for day in range(8):
        steps = chance.integers(1, 6, 5)
        first = [note(sweetness=int(step), finish=int(chance.integers(1, 6))) for step in steps]
        second = [note(sweetness=int(step), finish=int(chance.integers(1, 6))) for step in steps]
        days.append(noted(first, second, (1, 2, 3, 4, 5), day))
    sweetness, finish = notes("ines", "Ines", days).scales
    assert sweetness.icc == pytest.approx(1.0)
    assert finish.icc is not None
    assert abs(finish.icc) < 0.5


def test_words_that_come_back_are_steady_and_those_that_do_not_are_noise() -> None:
    chance = np.random.default_rng(7)
    days = []
    for day in range(40):
        found = drawn(CORES, chance, day)
        # Butter is thrown in by the toss of a coin in each round.
        notes_ = [
            [
                replace(one, words=(one.words - {"butter"}) | ({"butter"} if chance.random() < 0.5 else set()))
                for one in side or ()
            ]
            for side in (found.notes_1, found.notes_2)
        ]
        days.append(replace(found, notes_1=tuple(notes_[0]), notes_2=tuple(notes_[1])))
    verdicts = {word.word: word.verdict for word in steady_words(days)}
    assert {word: verdicts[word] for word in ("pear", "rice", "smoke", "butter")} == {
        "pear": "steady",
        "rice": "steady",
        "smoke": "steady",
        "butter": "noise",
    }


def test_no_word_of_a_guesser_is_steady_but_one_time_in_twenty() -> None:
    chance = np.random.default_rng(8)
    wrong = sum(
        any(word.verdict == "steady" for word in steady_words([drawn(((),) * 4, chance, day) for day in range(12)]))
        for _ in range(150)
    )
    assert wrong <= 150 * 0.05 + 3.5 * (150 * 0.05 * 0.95) ** 0.5


def test_a_drink_met_again_is_compared_with_its_last_notes() -> None:
    earlier = noted(LIKE, LIKE, (1, 2, 3), 0)
    again = noted(
        (LIKE[1], LIKE[0], note("rose")),
        (LIKE[0], LIKE[1], note("rose")),
        (2, 1, 3),
        21,
        drinks=(FLIGHT[1], FLIGHT[0], FLIGHT[3]),
    )
    found = later([again, earlier])
    assert [(one.drink.key, one.days, one.kept, one.new) for one in found.again] == [
        ("slow-tide", 21, ("rice", "malt"), ()),
        ("heron-marsh", 21, ("pear", "melon"), ()),
    ]
    assert found.mean_jaccard == 1.0
    assert found.chance_designed == pytest.approx(1 / 6)
    assert found.chance_by_hand is None


def test_a_word_in_doubt_neither_comes_back_nor_counts_as_said() -> None:
    first = (Note(frozenset({"pear"}), {}, frozenset({"pear"})), note(), note("rice"))
    found = {word.word: word for word in steady_words([noted(first, (note("pear"), note(), note("rice")), (1, 2, 3))])}
    assert (found["pear"].said, found["pear"].returned, found["pear"].turned_up) == (0, 0, 1)
    assert (found["rice"].said, found["rice"].returned) == (1, 1)


def test_a_word_is_steady_only_where_holm_s_correction_lets_it() -> None:
    # Said once in each round of three sittings of three, and always come back: p = 1/27. Alone that is below 5 %.
    alone = [noted((note("pear"), note(), note()), (note("pear"), note(), note()), (1, 2, 3), day) for day in range(3)]
    [pear] = steady_words(alone)
    assert pear.chance == pear.adjusted == pytest.approx(1 / 27)
    assert pear.verdict == "steady"
    both = [
        noted((note("pear rice"), note(), note()), (note("pear"), note("rice"), note()), (1, 2, 3), day)
        for day in range(3)
    ]
    pear = steady_words(both)[0]
    assert pear.chance == pytest.approx(1 / 27)
    assert pear.adjusted == pytest.approx(2 / 27)
    assert pear.verdict == "too little to tell"


def test_a_drink_is_remembered_over_a_sitting_without_it() -> None:
    days = [
        noted(LIKE, LIKE, (1, 2, 3), 0),
        noted(LIKE, LIKE, (1, 2, 3), 5, drinks=FLIGHT[3:6]),
        noted((note("pear rose"), LIKE[1], LIKE[2]), None, None, 30, drinks=(FLIGHT[0], FLIGHT[6], FLIGHT[7])),
    ]
    [heron] = later(days).again
    assert (heron.drink.name, heron.days, heron.kit_then) == ("Heron Marsh", 30, "K00000")
    assert (heron.kept, heron.dropped, heron.new) == (("pear",), ("melon",), ("rose",))


def test_a_guesser_s_notes_of_a_drink_met_again_are_seldom_called_alike() -> None:
    chance = np.random.default_rng(10)
    small = 0
    for _ in range(300):
        found = later([drawn(((),) * 4, chance, day) for day in (0, 20)])
        small += found.chance_designed is not None and found.chance_designed <= 0.05
    assert small <= 300 * 0.05 + 3.5 * (300 * 0.05 * 0.95) ** 0.5


ALL = note(" ".join(WORDS), sweetness=3, finish=3)
BAD = {
    "no sitting": [],
    "round one only": [noted(LIKE, None, (1, 2, 3))],
    "round two only": [noted(None, LIKE, (1, 2, 3))],
    "no sheet with notes": [noted(None, None, (1, 2, 3))],
    "what stood where is not known": [noted(LIKE, LIKE, None)],
    "all words ticked": [noted((ALL,) * 3, (ALL,) * 3, (2, 3, 1), day) for day in range(5)],
    "none ticked": [noted((note(),) * 3, (note(),) * 3, (2, 3, 1), day) for day in range(5)],
    "all the same strength": [
        noted((note(sweetness=3, finish=3),) * 3, (note(sweetness=3, finish=3),) * 3, (2, 3, 1), day)
        for day in range(5)
    ],
    "no words and no scales on the form": [noted((note(),) * 3, (note(),) * 3, (1, 2, 3), words=(), scales={})],
    "one sitting": [noted(LIKE, LIKE, (1, 2, 3))],
    "all unsettled": [
        noted((Note(unsettled=frozenset((*WORDS, *SCALES))),) * 3, (note("pear", sweetness=2),) * 3, (1, 2, 3))
    ],
}


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_too_little_to_tell_with_what_is_missing(name: str) -> None:
    said = whole(BAD[name])
    assert "Too little to tell" in said or "too little to tell" in said
    assert "NaN" not in said
    assert "nan" not in said


def test_what_is_missing_is_named() -> None:
    said = {name: " ".join(notes_report.sentences(notes("ines", "Ines", days))) for name, days in BAD.items()}
    assert "the notes of round two are missing" in said["round one only"]
    assert "the notes of round one are missing" in said["round two only"]
    assert "the notes of round one and the notes of round two are missing" in said["no sheet with notes"]
    assert "what stood where is not known" in said["what stood where is not known"]
    assert "the notes tell no glass from another" in said["all words ticked"]
    assert "every strength is the same" in said["all the same strength"]
    assert "none was crossed" in said["none ticked"]
    assert "every word on offer was crossed of every drink" in said["all words ticked"]
    assert "are needed" in said["one sitting"]
