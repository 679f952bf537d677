"""The table's words, who is in the minority, the personal dictionary and the panel's agreement."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from math import comb

import numpy as np
import pytest

from scanner.results import table_report as report
from scanner.results.dictionary import dictionary
from scanner.results.sitting import Note, TasterSitting
from scanner.results.table import table
from tests.scanner.results.noted import SCALES, WORDS, note, noted
from tests.scanner.results.skilled import FLIGHT

TASTERS = ("ines", "tomas", "rhian", "kofi")
BLANK = (note(),) * 2


def seated(taster: str, sitting: TasterSitting) -> TasterSitting:
    return replace(sitting, taster=taster, name=taster.title())


def evening(*words: str, day: int = 0) -> list[TasterSitting]:
    """Return a sitting whose tasters say these words of the first of three drinks in round one, and nothing else."""
    return [
        seated(taster, noted((note(said), *BLANK), None, (1, 2, 3), day))
        for taster, said in zip(TASTERS, words, strict=False)
    ]


def whole(sittings: Sequence[TasterSitting]) -> str:
    tasters = list(dict.fromkeys(one.taster for one in sittings))
    entry = report.to_json(table(sittings), [dictionary(taster, sittings) for taster in tasters], tasters)
    return json.dumps(entry, allow_nan=False)


def test_the_table_s_words_are_those_of_more_than_half() -> None:
    first = table(evening("pear rice", "pear rose", "pear rice", "rose smoke")).drinks[0]
    assert first.words == {"pear": 3}
    assert first.tasters == 4


def test_a_taster_is_told_what_they_missed_and_what_they_alone_said() -> None:
    first = table(evening("pear", "pear rose", "pear", "clove")).drinks[0]
    told = {one.taster: (one.missed, one.alone) for one in first.minorities}
    assert told == {"tomas": ((), ("rose",)), "kofi": (("pear",), ("clove",))}
    assert report.drink_sentences(first) == (
        "Heron Marsh: pear (3 of 4).",
        "  Tomas alone says rose.",
        "  Kofi does not say pear; alone says clove.",
    )
    assert report.drink_sentences(first, ["ines"]) == ("Heron Marsh: pear (3 of 4).",)


def test_strengths_far_from_the_median_are_told() -> None:
    sittings = [
        seated(taster, noted((note(sweetness=step), *BLANK), None, (1, 2, 3)))
        for taster, step in zip(TASTERS, (2, 2, 3, 5), strict=True)
    ]
    first = table(sittings).drinks[0]
    assert first.strengths == {"sweetness": 2.5}
    assert {one.taster: one.apart for one in first.minorities} == {"kofi": {"sweetness": 2.5}}


def test_a_word_of_round_two_counts_for_the_drink_that_stood_there() -> None:
    sittings = [
        seated(taster, noted((note(),) * 3, (note(), note("smoke"), note()), truth))
        for taster, truth in (("ines", (1, 3, 2)), ("tomas", (1, 3, 2)), ("rhian", (3, 1, 2)))
    ]
    drinks = table(sittings).drinks
    assert [drink.words for drink in drinks] == [{}, {}, {"smoke": 2}]
    # Rhian's second place held the first drink.
    assert [one.taster for one in drinks[0].minorities] == ["rhian"]


def test_round_two_is_left_out_where_what_stood_where_is_not_known() -> None:
    sittings = [seated(taster, noted((note(),) * 3, (note("smoke"),) * 3, None)) for taster in TASTERS]
    assert [drink.words for drink in table(sittings).drinks] == [{}, {}, {}]


def test_alpha_of_a_word_is_one_where_all_agree_and_below_nought_where_nobody_does() -> None:
    agreed = [one for day in range(6) for one in evening(*["pear"] * 4, day=day)]
    [pear] = [word for word in table(agreed).words if word.word == "pear"]
    assert (pear.alpha, pear.said, pear.of) == (1.0, 24, 72)
    split = [one for day in range(6) for one in evening("pear", "", "", "", day=day)]
    [pear] = [word for word in table(split).words if word.word == "pear"]
    assert pear.alpha is not None
    assert pear.alpha < 0.05


def test_an_unsettled_word_is_no_answer_in_alpha() -> None:
    sittings = [one for day in range(6) for one in evening("pear", "pear", "pear", "", day=day)]
    doubtful = [
        replace(one, notes_1=(Note(unsettled=frozenset(WORDS)), *BLANK)) if one.taster == "kofi" else one
        for one in sittings
    ]
    [pear] = [word for word in table(doubtful).words if word.word == "pear"]
    assert pear.alpha == 1.0


def course(chance: np.random.Generator, days: int, own: str = "butter", strength: float = 1.0) -> list[TasterSitting]:
    """Draw sittings where others say pear of one drink of four and Ines says `own` of it instead, that often."""
    sittings = []
    for day in range(days):
        pear = int(chance.integers(4))
        for taster in TASTERS:
            said = []
            for glass in range(4):
                words = {word for word in ("rose", "malt") if chance.random() < 0.3}
                if glass == pear and taster != "ines":
                    words.add("pear")
                if taster == "ines" and chance.random() < (strength if glass == pear else 0.15):
                    words.add(own)
                said.append(note(" ".join(words)))
            sittings.append(seated(taster, noted(said, None, (1, 2, 3, 4), day)))
    return sittings


def test_the_dictionary_finds_the_taster_s_own_word_for_the_table_s() -> None:
    found = dictionary("ines", course(np.random.default_rng(2), 20))
    assert [(entry.table_word, entry.own_word) for entry in found.entries] == [("pear", "butter")]
    [entry] = found.entries
    # Of 20 evenings those in which Ines said butter of all four drinks would tell nothing.
    assert entry.together == entry.of
    assert entry.said_too == 0
    assert entry.adjusted == pytest.approx(min(1.0, entry.chance * found.looked_at))
    assert report.dictionary_sentences(found)[0].startswith(
        f"Where the table says pear, you tend to say butter: {entry.of} of {entry.of} times"
    )
    assert dictionary("tomas", course(np.random.default_rng(2), 20)).entries == ()


def test_two_others_are_enough_for_a_dictionary_and_one_is_not() -> None:
    sittings = course(np.random.default_rng(2), 20)
    three = [one for one in sittings if one.taster != "kofi"]
    assert [(entry.table_word, entry.own_word) for entry in dictionary("ines", three).entries] == [("pear", "butter")]
    assert dictionary("ines", [one for one in three if one.taster != "rhian"]).drinks == 0


def test_the_dictionary_s_p_value_is_counted_out_by_hand() -> None:
    # Eight evenings of three drinks, pear of one, butter of one, always together: (1/3)^8 by luck.
    sittings = [
        seated(taster, noted((note("butter" if taster == "ines" else "pear"), *BLANK), None, (1, 2, 3), day))
        for day in range(8)
        for taster in TASTERS
    ]
    [entry] = dictionary("ines", sittings).entries
    assert (entry.together, entry.of, entry.elsewhere, entry.other_drinks) == (8, 8, 0, 16)
    assert entry.chance == pytest.approx(comb(3, 1) ** -8.0)


def test_a_word_that_the_table_says_as_well_is_no_dictionary_entry() -> None:
    # All say pear and rose together: Ines' rose is the table's, not hers.
    sittings = [one for day in range(10) for one in evening(*["pear rose"] * 4, day=day)]
    assert dictionary("ines", sittings).entries == ()


def test_a_taster_without_habits_gets_an_entry_one_time_in_twenty_at_most() -> None:
    chance = np.random.default_rng(11)
    runs = 120
    found = [dictionary("ines", course(chance, 20, strength=0.15)) for _ in range(runs)]
    assert min(one.looked_at for one in found) > 0
    wrong = sum(bool(one.entries) for one in found)
    assert wrong <= runs * 0.05 + 3.5 * (runs * 0.05 * 0.95) ** 0.5


ALL = note(" ".join(WORDS), sweetness=3, finish=3)
BAD = {
    "no sitting": [],
    "two tasters": evening("pear", "pear"),
    "no notes": [seated(taster, noted(None, None, (1, 2, 3))) for taster in TASTERS],
    "all words ticked": [
        seated(taster, noted((ALL,) * 3, None, (1, 2, 3), day)) for day in range(6) for taster in TASTERS
    ],
    "none ticked": [
        seated(taster, noted((note(),) * 3, None, (1, 2, 3), day)) for day in range(6) for taster in TASTERS
    ],
    "all the same strength": [
        seated(taster, noted((note(sweetness=3, finish=3),) * 3, None, (1, 2, 3))) for taster in TASTERS
    ],
    "an empty form": [seated(taster, noted((note(),) * 3, None, (1, 2, 3), words=(), scales={})) for taster in TASTERS],
    "one evening": evening("pear", "pear", "rose"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_too_little_to_tell_with_what_is_missing(name: str) -> None:
    said = whole(BAD[name])
    assert "NaN" not in said
    assert "oo little to tell" in said or name == "no sitting"


def test_what_is_missing_is_named() -> None:
    assert table(BAD["two tasters"]).drinks[0].too_little == "2 tasters noted it; 3 are needed"
    assert table(BAD["no sitting"]).too_little == "no drink has the notes of 3 tasters of one sitting"
    panel = {name: " ".join(report.panel_sentences(table(sittings))) for name, sittings in BAD.items()}
    assert "said of nearly every drink" in panel["all words ticked"]
    assert "said 0 times" in panel["none ticked"]
    assert "every strength is the same" in panel["all the same strength"]
    assert "no form offered one" in panel["an empty form"]
    assert dictionary("ines", BAD["two tasters"]).too_little == "no drink has notes of this taster and of 2 others"


def test_kits_with_other_scales_and_words_stand_side_by_side() -> None:
    other = [
        replace(one, words=("plum",), scales={"body": 7}, notes_1=(note("plum", body=7), *BLANK), drinks=FLIGHT[3:6])
        for one in evening("", "", "", day=1)
    ]
    found = table([*evening("pear", "pear", "pear"), *other])
    assert [drink.words for drink in found.drinks if drink.words] == [{"pear": 3}, {"plum": 3}]
    assert {word.word for word in found.words} == {*WORDS, "plum"}
    assert {scale.word for scale in found.scales} == {*SCALES, "body"}
