"""Scores of whole sittings: who is in them, what counts, what is missing and what a person must look at."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.codes import ROLE_DIGITS, sheet_id
from kit.errors import ReadingError
from kit.keys import OpenedKey
from kit.session import Session, Shelf, session_from_toml
from kit.sheet_layout import KitLayout, MarkBox, SheetLayout
from scanner.reading import Mark, Outcome, PageReading, Reading, State, TurnedReading
from scanner.score import Score, Scores, TasterScore, score, scores
from scanner.score_json import to_json
from scanner.what_stood import Sitting

KIT = "K7Q4M2"
KEYS = ({"A": 3, "B": 1, "C": 2}, {"A": 1, "B": 3, "C": 2})
Told = Mapping[str, str]


def session(shuffle: str = "host", tasters: tuple[str, ...] = ("Ines", "Tomas"), glasses: int = 3) -> Session:
    head = f'title = "First flight"\ndate = 2026-12-05\ndrink = "sake"\nshuffle = "{shuffle}"\npaper = "A4"\n'
    pours = "".join(f'[[pours]]\nname = "Pour {number}"\n' for number in range(1, glasses + 1))
    names = "".join(f'[[tasters]]\nname = "{name}"\n' for name in tasters)
    return session_from_toml(head + pours + names, "flight.toml", Shelf(("sake",), ("en",)))


def sitting(shuffle: str = "host", kit: str = KIT) -> Sitting:
    """Return a sitting of three glasses for two tasters, with the boxes that scoring looks at and one word."""
    flight = session(shuffle)
    roles = ("notes-1", "match", "turned") if shuffle == "hand" else ("notes-1", "match")
    pages = tuple(_sheet(kit, taster, role) for taster in (1, 2) for role in roles)
    keys = tuple(OpenedKey(number, key, "00", "S") for number, key in enumerate(KEYS, start=1))
    return Sitting(kit, flight, KitLayout(kit, pages), () if shuffle == "hand" else keys)


def _sheet(kit: str, taster: int, role: str) -> SheetLayout:
    numbers, words = ("1", "2", "3"), ("guess", "leaning", "sure")
    by_role: dict[str, list[tuple[str, tuple[str, ...]]]] = {
        "notes-1": [("words.1", ("pear", "plum"))],
        "match": [*((f"match.{p}", numbers) for p in "ABC"), *((f"sure.{p}", words) for p in "ABC")],
        "turned": [(f"turned.{p}", numbers) for p in "ABC"],
    }
    boxes = tuple(MarkBox(field, option, "one", 0, 0, 5, 5) for field, options in by_role[role] for option in options)
    return SheetLayout("forms.pdf", 1, 210, 297, sheet_id(kit, taster, ROLE_DIGITS[role]), taster, role, boxes)


def sheet_read(
    role: str, taster: int, told: Told, *, kit: str = KIT, source: str = "pile.pdf", by: str | None = None
) -> PageReading:
    """Return a page as read; `told` has the marked options of a field, ? before one for a doubtful box."""
    sheet = _sheet(kit, taster, role)
    marks = []
    for box in sheet.marks:
        marked = told.get(box.field, "").split()
        state = State.MARKED if box.option in marked else State.EMPTY
        if f"?{box.option}" in marked:
            state = State.DOUBTFUL
        marks.append(Mark(box.field, box.option, state, by if state is State.MARKED else None))
    return PageReading(source, taster, kit, sheet.sheet, taster, role, Outcome.READ, None, tuple(marks))


def match(taster: int, claims: str, *, kit: str = KIT, source: str = "pile.pdf", by: str | None = None) -> PageReading:
    """Return a match sheet; `claims` by place as in "3,1 2,-": nothing at the third place, two at the second."""
    told = {f"match.{place}": said.replace("-", "") for place, said in zip("ABC", claims.split(","), strict=True)}
    return sheet_read("match", taster, told, kit=kit, source=source, by=by)


def turned(taster: int, stood: str, **more: str) -> PageReading:
    told = {f"turned.{place}": said.replace("-", "") for place, said in zip("ABC", stood.split(","), strict=True)}
    return sheet_read("turned", taster, told, **more)


def notes(taster: int, words: str = "", **more: str) -> PageReading:
    return sheet_read("notes-1", taster, {"words.1": words}, **more)


def full(*pages: PageReading) -> Reading:
    """Return these pages with the notes of both tasters."""
    return Reading((notes(1), notes(2), *pages))


def scored(*pages: PageReading, shuffle: str = "host", rows: tuple[TurnedReading, ...] = ()) -> Scores:
    return scores([sitting(shuffle)], {"evening.json": replace(full(*pages), turned=rows)})


def test_right_claims_are_counted_and_weighed_against_a_guesser() -> None:
    # A2 and A5 of the published counts: three claims without repeats have counts 2 3 0 1 over six keys.
    result = scored(match(1, "3,1,2"), match(2, "1,2,3"))
    assert [taster.score for taster in result.tasters] == [
        Score(3, 3, Fraction(1, 6)),
        Score(1, 3, Fraction(4, 6)),
    ]
    assert result.left_to_look_at == ()


@pytest.mark.parametrize(
    ("keys", "claims", "told"),
    [
        ("own", ("3,1,2", "1,2,3"), [True, True]),
        ("own", ("3,1,2", None), [True, False]),
        ("own", ("3,1,2 1", "1,2,3"), [False, True]),
        ("shared", ("3,1,2 1", "1,2,3"), [False, False]),
        ("shared", ("3,1,2", None), [False, False]),
    ],
)
def test_what_stood_where_is_told_whole_and_only_to_whom_has_claimed(
    keys: Any, claims: tuple[str | None, ...], told: list[bool]
) -> None:
    """A key is known to nobody who could still claim by it; the settled places would tell the one that is left."""
    made = sitting()
    made = replace(made, session=replace(made.session, keys=keys))
    pages = [match(number, said) for number, said in enumerate(claims, start=1) if said is not None]
    result = scores([made], {"evening.json": full(*pages)})
    assert [taster["truth"] is not None for taster in to_json(result)["tasters"]] == told
    assert [taster.told for taster in result.tasters] == [
        taster.truth.numbers if is_told else None for taster, is_told in zip(result.tasters, told, strict=True)
    ]


def test_the_sentence_for_a_taster_names_the_guesser() -> None:
    result = scored(match(1, "3,1,2"), match(2, "2,2,2"))
    assert result.tasters[0].sentence == "3 of 3; a guesser does this well or better 1 time in 6"
    assert result.tasters[1].sentence == "1 of 3; a guesser does this well or better every time"


def test_three_of_five_is_one_time_in_eleven() -> None:
    # 11/120: Feller's table of the matching distribution, N = 5 [values computed].
    claims = {"A": 1, "B": 2, "C": 3, "D": 5, "E": 4}
    result = score(claims, {"A": 1, "B": 2, "C": 3, "D": 4, "E": 5})
    assert result == Score(3, 5, Fraction(11, 120))


def test_the_example_of_the_format_has_one_correct_and_a_chance_of_a_half() -> None:
    # FORMATS.md, section 5: claims 3 2 –, truth 3 1 2. One blank, two claims: counts 3 2 1 (Greville's case).
    assert score({"A": 3, "B": 2, "C": None}, KEYS[0]) == Score(1, 3, Fraction(1, 2))


def test_claims_and_truth_of_other_places_are_refused() -> None:
    with pytest.raises(ValueError, match="A, B, but the truth for A, B, C"):
        score({"A": 3, "B": 2}, KEYS[0])


@settings(deadline=None)
@given(st.permutations([1, 2, 3, 4]), st.lists(st.none() | st.integers(1, 4), min_size=4, max_size=4))
def test_a_score_does_not_depend_on_which_places_were_right(key: list[int], claims: list[int | None]) -> None:
    told = score(dict(zip("ABCD", claims, strict=True)), dict(zip("ABCD", key, strict=True)))
    backwards = score(dict(zip("ABCD", claims[::-1], strict=True)), dict(zip("ABCD", key[::-1], strict=True)))
    assert told == backwards
    assert told.correct == sum(a == b for a, b in zip(claims, key, strict=True))


def test_a_number_claimed_twice_is_scored_and_remarked_on() -> None:
    taster = scored(match(1, "3,3,2"), match(2, "1,3,2")).tasters[0]
    # Counts of (2,1): 2 2 2 (Greville's case, computed).
    assert taster.score == Score(2, 3, Fraction(2, 6))
    assert taster.remarks == ("number 3 is claimed twice, at A and B",)
    assert taster.left_to_look_at == ()


@pytest.mark.parametrize("claim", ["?1", "1 2", "1 ?3"])
def test_an_unsettled_place_is_listed_and_there_is_no_chance(claim: str) -> None:
    result = scored(match(1, f"3,{claim},-"), match(2, "1,3,2"))
    taster = result.tasters[0]
    assert taster.claims.numbers == {"A": 3, "B": None, "C": None}
    assert taster.score == Score(1, 3, None)
    assert taster.sentence == "1 of 3 so far; 1 place not settled"
    assert [line.startswith(f"Ines (taster 1 of kit {KIT}), claim at B: ") for line in result.left_to_look_at] == [True]
    assert "pile.pdf, page 1" in result.left_to_look_at[0]


def test_a_missing_match_sheet_leaves_the_taster_in_the_list_without_a_score() -> None:
    result = scored(match(1, "3,1,2"))
    taster = result.tasters[1]
    assert taster.claims.numbers == {"A": None, "B": None, "C": None}
    assert taster.score == Score(None, 3, None)
    assert taster.missing == ("match",)
    assert taster.remarks == ("sheet K7Q4M2-0002-3, the match, is missing",)
    assert taster.sentence == "not scored: no match sheet was read"
    assert result.left_to_look_at == ()


def test_missing_notes_are_remarked_on_and_the_claims_scored() -> None:
    result = scores([sitting()], {"r.json": Reading((match(1, "3,1,2"), notes(2), match(2, "1,3,2")))})
    assert result.tasters[0].remarks == ("sheet K7Q4M2-0001-1, the notes of round one, is missing",)
    assert result.tasters[0].score.correct == 3


def test_every_taster_of_every_kit_is_in_the_scores_in_order() -> None:
    second = sitting(kit="Z9Z9Z9")
    pile = full(match(2, "1,3,2"), match(1, "3,1,2", kit="Z9Z9Z9"), notes(1, kit="Z9Z9Z9"))
    result = scores([second, sitting()], {"r.json": pile})
    told = [(taster.kit, taster.taster, taster.name, taster.score.correct) for taster in result.tasters]
    assert told == [
        ("Z9Z9Z9", 1, "Ines", 3),
        ("Z9Z9Z9", 2, "Tomas", None),
        (KIT, 1, "Ines", None),
        (KIT, 2, "Tomas", 3),
    ]


def test_with_hand_the_truth_is_what_the_turned_sheet_says() -> None:
    result = scored(match(1, "3,1,2"), match(2, "1,3,2"), turned(1, "3,2,1"), turned(2, "1,3,2"), shuffle="hand")
    assert [(taster.truth.source, taster.score.correct) for taster in result.tasters] == [("turned", 1), ("turned", 3)]
    assert result.left_to_look_at == ()


@pytest.mark.parametrize(
    ("stood", "remark"),
    [
        (None, "sheet K7Q4M2-0001-4, the turned coasters, is missing"),
        ("-,-,-", "the turned sheet is not filled in"),
        ("3,1,-", "what stood at C is not filled in"),
    ],
)
def test_without_a_whole_turned_sheet_the_truth_is_not_known(stood: str | None, remark: str) -> None:
    sheets = [] if stood is None else [turned(1, stood)]
    result = scored(match(1, "3,1,2"), match(2, "1,3,2"), turned(2, "1,3,2"), *sheets, shuffle="hand")
    taster = result.tasters[0]
    assert taster.truth.numbers is None
    assert taster.score == Score(None, 3, None)
    assert taster.remarks == (remark,)
    assert taster.sentence == "not scored: what stood where is not known"
    assert taster.claims.numbers == {"A": 3, "B": 1, "C": 2}


@pytest.mark.parametrize("stood", ["3,?1,2", "3,1 2,2", "3,3,2"])
def test_a_turned_sheet_in_doubt_is_left_to_a_person(stood: str) -> None:
    result = scored(match(1, "3,1,2"), match(2, "1,3,2"), turned(1, stood), turned(2, "1,3,2"), shuffle="hand")
    assert result.tasters[0].score == Score(None, 3, None)
    assert all(f"Ines (taster 1 of kit {KIT}), turned coaster at" in line for line in result.left_to_look_at)
    assert result.left_to_look_at
    assert result.tasters[1].score.correct == 3


def row(*order: int, taster: int = 1) -> TurnedReading:
    return TurnedReading("row.jpg", 1, KIT, taster, Outcome.READ, None, order)


def test_with_hand_a_photographed_row_tells_the_truth_too() -> None:
    result = scored(match(1, "3,1,2"), match(2, "-,-,-"), turned(1, "-,-,-"), shuffle="hand", rows=(row(3, 2, 1),))
    assert result.tasters[0].truth.source == "row"
    assert result.tasters[0].truth.numbers == {"A": 3, "B": 2, "C": 1}
    assert result.tasters[0].score.correct == 1


@pytest.mark.parametrize("shuffle", ["host", "hand"])
def test_a_row_that_says_otherwise_than_the_key_or_the_turned_sheet_leaves_the_truth_to_a_person(shuffle: str) -> None:
    sheets = [turned(1, "3,1,2"), turned(2, "1,3,2")] if shuffle == "hand" else []
    pages = (match(1, "3,1,2"), match(2, "1,3,2"), *sheets)
    assert scored(*pages, shuffle=shuffle, rows=(row(3, 1, 2),)).left_to_look_at == ()
    result = scored(*pages, shuffle=shuffle, rows=(row(3, 2, 1),))
    assert list(result.tasters[0].truth.unsettled) == ["B", "C"]
    assert result.tasters[0].score == Score(None, 3, None)
    assert len(result.left_to_look_at) == 2


def test_the_same_sheet_in_two_files_with_the_same_answers_counts_once() -> None:
    first = full(match(1, "3,1,2"), match(2, "1,3,2"))
    again = Reading((match(1, "3,1,2", source="again.pdf"),))
    assert (
        scores([sitting()], {"a.json": first, "b.json": again}).tasters
        == scored(match(1, "3,1,2"), match(2, "1,3,2")).tasters
    )


def test_the_same_sheet_in_two_files_with_other_answers_is_left_to_a_person() -> None:
    first = full(match(1, "3,1,2"), match(2, "1,3,2"))
    again = Reading((match(1, "3,2,1", source="again.pdf"),))
    result = scores([sitting()], {"a.json": first, "b.json": again})
    taster = result.tasters[0]
    assert taster.claims.numbers == {"A": 3, "B": None, "C": None}
    assert list(taster.claims.unsettled) == ["B", "C"]
    assert taster.score.chance_at_least is None
    assert all("pile.pdf, page 1" in line and "again.pdf, page 1" in line for line in result.left_to_look_at)


def test_what_a_person_settled_in_one_file_wins_over_the_reader_in_another() -> None:
    doubtful = full(match(1, "3,?1,2"), match(2, "1,3,2"))
    settled = Reading((match(1, "3,1,2", by="person"),))
    result = scores([sitting()], {"a.json": doubtful, "b.json": settled})
    assert result.tasters[0].score == Score(3, 3, Fraction(1, 6))
    assert result.left_to_look_at == ()


def test_notes_read_with_other_answers_are_left_to_a_person_and_change_no_score() -> None:
    first = full(match(1, "3,1,2"), match(2, "1,3,2"))
    result = scores([sitting()], {"a.json": first, "b.json": Reading((notes(1, "pear", source="again.pdf"),))})
    assert result.left_to_look_at == (
        "sheet K7Q4M2-0001-1 was read with different answers in words.1: pile.pdf, page 1 and again.pdf, page 1",
    )
    assert [taster.score.correct for taster in result.tasters] == [3, 3]


def test_doubtful_notes_are_none_of_scorings_business() -> None:
    pages = (match(1, "3,1,2"), match(2, "1,3,2"))
    result = scores([sitting()], {"r.json": Reading((notes(1, "?pear"), notes(2), *pages))})
    assert result.left_to_look_at == ()


def test_how_sure_is_told_and_its_doubts_are_left_to_a_person() -> None:
    told = {"match.A": "3", "match.B": "1", "match.C": "2", "sure.A": "sure", "sure.B": "guess sure"}
    result = scored(sheet_read("match", 1, told), match(2, "1,3,2"))
    assert result.tasters[0].certainty.words == {"A": "sure", "B": None, "C": None}
    assert result.tasters[0].score == Score(3, 3, Fraction(1, 6))
    assert len(result.left_to_look_at) == 1
    assert "certainty at B" in result.left_to_look_at[0]


@pytest.mark.parametrize("outcome", [Outcome.CONFLICT, Outcome.FOREIGN, Outcome.UNREADABLE])
def test_pages_that_were_not_read_are_left_to_look_at(outcome: Outcome) -> None:
    page = replace(notes(1, source="odd.pdf"), outcome=outcome, reason="Why it was not read.")
    result = scored(match(1, "3,1,2"), match(2, "1,3,2"), page)
    assert result.left_to_look_at == (f"odd.pdf, page 1: {outcome.value}: Why it was not read.",)


def test_a_row_that_was_refused_is_left_to_look_at() -> None:
    refused = TurnedReading("row.jpg", 1, None, None, Outcome.UNREADABLE, "Two rows.", None)
    assert scored(match(1, "3,1,2"), match(2, "1,3,2"), rows=(refused,)).left_to_look_at == (
        "row.jpg, page 1: unreadable: Two rows.",
    )


def test_a_repeat_is_nothing_to_look_at() -> None:
    repeat = replace(match(1, "3,1,2"), outcome=Outcome.REPEAT)
    assert scored(match(1, "3,1,2"), match(2, "1,3,2"), repeat).left_to_look_at == ()


def test_a_conflict_leaves_the_places_that_differ_unsettled() -> None:
    conflict = replace(match(1, "3,2,2", source="again.pdf"), outcome=Outcome.CONFLICT, reason="Other answers.")
    result = scored(match(1, "3,1,2"), match(2, "1,3,2"), conflict)
    assert list(result.tasters[0].claims.unsettled) == ["B"]
    assert result.left_to_look_at[0] == "again.pdf, page 1: conflict: Other answers."


def test_pages_of_a_kit_that_was_not_given_are_left_to_look_at() -> None:
    result = scored(match(1, "3,1,2"), match(2, "1,3,2"), notes(1, kit="Z9Z9Z9"))
    assert result.left_to_look_at == ("kit Z9Z9Z9, which was not given, has 1 of the pages read",)


def test_a_sheet_that_the_kit_does_not_have_is_refused() -> None:
    stranger = replace(notes(1), sheet="K7Q4M2-0009-1", taster=9)
    with pytest.raises(ReadingError, match=r"evening\.json: pile\.pdf, page 1: found sheet K7Q4M2-0009-1"):
        scored(stranger)


def test_a_box_that_the_sheet_does_not_have_is_refused() -> None:
    page = match(1, "3,1,2")
    page = replace(page, marks=(*page.marks, Mark("match.D", "1", State.EMPTY)))
    with pytest.raises(ReadingError, match=r"found the box match\.D 1, which the sheet does not have"):
        scored(page)


@pytest.mark.parametrize(("order", "taster"), [((1, 1, 2), 1), ((1, 2), 1), ((1, 2, 3, 4), 1), ((1, 2, 3), 3)])
def test_a_row_that_cannot_be_is_refused(order: tuple[int, ...], taster: int) -> None:
    with pytest.raises(ReadingError, match=r"evening\.json: row\.jpg, page 1: found"):
        scored(rows=(row(*order, taster=taster),))


def test_the_json_is_that_of_the_format() -> None:
    result = scored(match(1, "3,2,-"), match(2, "1,?3,2"))
    entry = json.loads(json.dumps(to_json(result)))
    assert entry["format"] == "facedown-scores/1"
    # The first taster is the example of FORMATS.md, section 5, field by field.
    example = {
        "kit": "K7Q4M2",
        "taster": 1,
        "name": "Ines",
        "claims": {"A": 3, "B": 2, "C": None},
        "truth": {"A": 3, "B": 1, "C": 2},
        "correct": 1,
        "of": 3,
        "chance_at_least": 0.5,
        "unsettled": [],
    }
    assert {key: entry["tasters"][0][key] for key in example} == example
    assert entry["tasters"][0]["truth_from"] == "key"
    assert entry["tasters"][1]["chance_at_least"] is None
    assert entry["tasters"][1]["unsettled"] == ["B"]
    assert entry["kits"][0]["uniform_keys"] == "by construction"


def test_the_json_of_a_hand_sitting_says_that_the_law_is_assumed_and_what_is_not_known() -> None:
    entry = to_json(scored(match(1, "3,1,2"), shuffle="hand"))
    assert entry["kits"][0]["uniform_keys"] == "assumed"
    taster = entry["tasters"][0]
    assert (taster["truth"], taster["truth_from"], taster["correct"]) == (None, None, None)
    assert taster["chance_at_least"] is None
    assert taster["missing"] == ["turned"]
    assert entry["tasters"][1]["claims"] == {"A": None, "B": None, "C": None}


@settings(deadline=None, max_examples=30)
@given(st.permutations(range(4)))
def test_the_order_of_pages_and_files_changes_no_result(order: list[int]) -> None:
    pages = [match(1, "3,1,2"), match(1, "3,?1,2", source="b.pdf"), match(2, "1,3,2"), notes(2)]
    told = scores([sitting()], {str(at): Reading((pages[at],)) for at in order})
    assert [_without_reasons(taster) for taster in told.tasters] == [
        _without_reasons(taster) for taster in scores([sitting()], {"all": Reading(tuple(pages))}).tasters
    ]


def _without_reasons(taster: TasterScore) -> tuple[object, ...]:
    return taster.claims.numbers, set(taster.claims.unsettled), taster.score, taster.truth.numbers, taster.missing
