"""From kits and readings to sittings: notes, missing sheets, and who is who over many kits."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.codes import ROLE_DIGITS, sheet_id
from kit.errors import KitError
from kit.keys import OpenedKey
from kit.session import Session, Shelf, session_from_toml
from kit.sheet_layout import KitLayout, MarkBox, SheetLayout
from scanner.reading import Mark, Outcome, PageReading, Reading, State
from scanner.results.gather import Gathered, gather
from scanner.results.namesakes import edits, nearly_alike, plain
from scanner.results.sitting import Drink, Note, TasterSitting
from scanner.results.typed import nobody, unnamed
from scanner.what_stood import Sitting
from tests.scanner.results.skilled import sitting

POURS = (("heron-marsh", "Heron Marsh"), ("slow-tide", "Slow Tide"), ("lamp-hill", "Lamp Hill"))
Told = Mapping[str, str]


def session(tasters: Sequence[str], pours: Sequence[str], day: int = 5, shuffle: str = "host") -> Session:
    """Return a session; a taster or pour is TOML, its name alone or with more: 'Ines" \n id = "ines'."""
    head = f'title = "Flight"\ndate = 2026-12-{day:02}\ndrink = "sake"\nshuffle = "{shuffle}"\npaper = "A4"\n'
    tables = [f'[[pours]]\nname = "{pour}"\n' for pour in pours] + [f'[[tasters]]\nname = "{one}"\n' for one in tasters]
    return session_from_toml(head + "".join(tables), "flight.toml", Shelf(("sake",), ("en",)))


def with_id(name: str, id_: str) -> str:
    return f'{name}"\nid = "{id_}'


def layout(kit: str, tasters: int, glasses: int = 3) -> KitLayout:
    return KitLayout(
        kit, tuple(_sheet(kit, n, role, glasses) for n in range(1, tasters + 1) for role in ("notes-1", "match"))
    )


def _sheet(kit: str, taster: int, role: str, glasses: int) -> SheetLayout:
    numbers, letters = [str(n) for n in range(1, glasses + 1)], "ABCDE"[:glasses]
    fields: list[tuple[str, Sequence[str]]] = []
    for glass in numbers if role == "notes-1" else letters:
        fields += [(f"words.{glass}", ("pear", "rice")), (f"scale.finish.{glass}", ("1", "2", "3", "4"))]
    if role == "match":
        fields += [(f"match.{place}", numbers) for place in letters]
        fields += [(f"sure.{place}", ("guess", "leaning", "sure")) for place in letters]
    boxes = tuple(MarkBox(field, option, "one", 0, 0, 5, 5) for field, options in fields for option in options)
    return SheetLayout("forms.pdf", 1, 210, 297, sheet_id(kit, taster, ROLE_DIGITS[role]), taster, role, boxes)


def page(
    kit: str, taster: int, role: str, told: Told, outcome: Outcome = Outcome.READ, glasses: int = 3
) -> PageReading:
    """Return a sheet as read: the options crossed by field; ? before one for a doubtful box."""
    sheet = _sheet(kit, taster, role, glasses)
    marks = []
    for box in sheet.marks:
        crossed = told.get(box.field, "").split()
        state = State.DOUBTFUL if f"?{box.option}" in crossed else State.EMPTY
        marks.append(Mark(box.field, box.option, State.MARKED if box.option in crossed else state))
    return PageReading("pile.pdf", taster, kit, sheet.sheet, taster, role, outcome, None, tuple(marks))


def kit_of(
    name: str,
    tasters: Sequence[str] = ("Ines",),
    pours: Sequence[str] = ("Heron Marsh", "Slow Tide", "Lamp Hill"),
    day: int = 5,
) -> Sitting:
    keys = tuple(OpenedKey(n, {"A": 3, "B": 1, "C": 2}, "00", "S") for n in range(1, len(tasters) + 1))
    return Sitting(name, session(tasters, pours, day), layout(name, len(tasters)), keys)


def gathered(*sittings: Sitting, same: Sequence[tuple[str, str]] = (), told: Told | None = None) -> Gathered:
    """Gather sittings in which every taster handed in all sheets."""
    pages = [
        page(one.kit, taster, role, told or {})
        for one in sittings
        for taster in range(1, len(one.session.tasters) + 1)
        for role in ("notes-1", "match")
    ]
    return gather(sittings, {"r.json": Reading(tuple(pages))}, same)


def test_notes_of_both_rounds_claims_and_truth_come_together() -> None:
    first = page("K7Q4M2", 1, "notes-1", {"words.1": "pear rice", "scale.finish.1": "4", "words.3": "rice"})
    second = page(
        "K7Q4M2",
        1,
        "match",
        {"words.B": "pear", "scale.finish.B": "3", "match.A": "3", "match.B": "2", "sure.A": "sure"},
    )
    [ines] = gather([kit_of("K7Q4M2")], {"r.json": Reading((first, second))}).sittings
    assert ines.notes_1 == (Note(frozenset({"pear", "rice"}), {"finish": 4}), Note(), Note(frozenset({"rice"})))
    assert ines.notes_2 == (Note(), Note(frozenset({"pear"}), {"finish": 3}), Note())
    assert (ines.claims, ines.sure, ines.truth) == ((3, 2, None), ("sure", None, None), (3, 1, 2))
    assert (ines.words, ines.scales) == (("pear", "rice"), {"finish": 4})
    assert (ines.taster, ines.name, ines.date) == ("Ines", "Ines", datetime.date(2026, 12, 5))
    assert [drink.name for drink in ines.drinks] == ["Heron Marsh", "Slow Tide", "Lamp Hill"]


def test_a_doubtful_word_two_crosses_on_a_scale_and_a_claim_in_doubt_are_unsettled() -> None:
    first = page("K7Q4M2", 1, "notes-1", {"words.1": "pear ?rice", "scale.finish.2": "1 3", "scale.finish.3": "?2"})
    second = page("K7Q4M2", 1, "match", {"match.B": "?2", "match.C": "1"})
    [ines] = gather([kit_of("K7Q4M2")], {"r.json": Reading((first, second))}).sittings
    assert ines.notes_1 is not None
    assert ines.notes_1[0] == Note(frozenset({"pear"}), {}, frozenset({"rice"}))
    assert [note.unsettled for note in ines.notes_1[1:]] == [{"finish"}, {"finish"}]
    assert all(not note.strengths for note in ines.notes_1)
    assert (ines.claims, ines.unsettled) == ((None, None, 1), (1,))


def test_a_box_that_the_reading_does_not_list_is_unsettled() -> None:
    whole = page("K7Q4M2", 1, "notes-1", {"words.1": "pear"})
    torn = replace(whole, marks=tuple(mark for mark in whole.marks if mark.option not in ("rice", "2")))
    [ines] = gather([kit_of("K7Q4M2")], {"r.json": Reading((torn,))}).sittings
    assert ines.notes_1 is not None
    assert ines.notes_1[0] == Note(frozenset({"pear"}), {}, frozenset({"rice", "finish"}))


def test_a_sheet_read_twice_with_other_answers_leaves_these_unsettled() -> None:
    one = page("K7Q4M2", 1, "notes-1", {"words.1": "pear", "words.2": "rice"})
    other = page("K7Q4M2", 1, "notes-1", {"words.1": "rice", "words.2": "rice"}, Outcome.CONFLICT)
    [ines] = gather([kit_of("K7Q4M2")], {"r.json": Reading((one, other))}).sittings
    assert ines.notes_1 is not None
    assert ines.notes_1[0] == Note(frozenset(), {}, frozenset({"pear", "rice"}))
    assert ines.notes_1[1].words == {"rice"}


def test_missing_sheets_and_rounds_are_told_with_their_taster() -> None:
    found = gather([kit_of("K7Q4M2", ("Ines", "Tomas"))], {"r.json": Reading((page("K7Q4M2", 1, "notes-1", {}),))})
    [ines] = found.sittings
    assert ines.notes_2 is None
    assert found.remarks_of["Ines"] == (
        "Ines (taster 1 of kit K7Q4M2): sheet K7Q4M2-0001-3, the match, is missing",
        "Ines (taster 1 of kit K7Q4M2): there are no notes of round two",
    )
    assert found.remarks == ("Tomas (taster 2 of kit K7Q4M2): no sheet was read",)


def test_no_reading_gives_no_sitting_and_no_crash() -> None:
    found = gather([kit_of("K7Q4M2")], {})
    assert found.sittings == ()
    with pytest.raises(KitError, match="no sheet was read"):
        found.taster_called("Ines")


def test_sittings_stand_by_date_whatever_order_they_are_given_in() -> None:
    late, early = kit_of("AAAAAA", day=20), kit_of("BBBBBB", day=2)
    assert [one.kit for one in gathered(late, early).sittings] == ["BBBBBB", "AAAAAA"]


def test_an_id_is_the_same_taster_and_drink_over_kits_whatever_the_name() -> None:
    pours = [with_id(name, id_) for id_, name in POURS]
    renamed = [with_id("Heron Marsh new label", "heron-marsh"), *pours[1:]]
    found = gathered(
        kit_of("AAAAAA", [with_id("Ines", "ines")], pours, 1), kit_of("BBBBBB", [with_id("Inês", "ines")], renamed, 2)
    )
    assert found.tasters == ("ines",)
    assert {one.drinks[0].key for one in found.sittings} == {"heron-marsh"}
    assert found.questions == ()
    assert "taster 'ines' is called Ines and Inês in different kits" in found.remarks
    assert found.taster_called("Inês") == found.taster_called("Ines") == found.taster_called("ines") == "ines"


@pytest.mark.parametrize("other", ["Inés", "ines", "INES ", "Inez", "Ies"])
def test_a_near_miss_of_a_name_is_asked_about_and_kept_apart(other: str) -> None:
    found = gathered(kit_of("AAAAAA", ["Ines"], day=1), kit_of("BBBBBB", [other], day=2))
    assert len(found.tasters) == 2
    [question] = found.questions
    assert (question.kind, question.first, question.second) == ("taster", "Ines", other.strip())
    assert f'--same "Ines" "{other.strip()}"' in question.sentence


@pytest.mark.parametrize("other", ["Tomas", "Ida", "Rhian"])
def test_other_names_are_not_asked_about(other: str) -> None:
    assert gathered(kit_of("AAAAAA", ["Ines"], day=1), kit_of("BBBBBB", [other], day=2)).questions == ()


def test_two_of_one_kit_are_two_and_not_asked_about() -> None:
    assert gathered(kit_of("AAAAAA", ["Ines", "Inez"])).questions == ()


def test_a_name_with_an_id_in_one_kit_and_none_in_another_is_asked_about() -> None:
    found = gathered(kit_of("AAAAAA", [with_id("Ines", "ines")], day=1), kit_of("BBBBBB", ["Ines"], day=2))
    assert found.tasters == ("ines", "Ines")
    assert [one.reason for one in found.questions] == ["Both are called 'Ines', one of them without an id"]
    assert {found.name_of(taster) for taster in found.tasters} == {"Ines [ines]", "Ines"}


def test_a_name_that_is_another_s_id_is_not_taken_for_it() -> None:
    found = gathered(kit_of("AAAAAA", [with_id("Rhian", "ines")], day=1), kit_of("BBBBBB", ["ines"], day=2))
    assert found.tasters == ("ines", "ines (no id)")
    assert len(found.questions) == 1


def test_the_person_s_word_makes_them_one() -> None:
    kits = (
        kit_of("AAAAAA", ["Inés"], day=1),
        kit_of("BBBBBB", [with_id("Ines", "ines")], day=2),
        kit_of("CCCCCC", ["Ines"], day=3),
    )
    assert len(gathered(*kits).questions) == 3
    found = gathered(*kits, same=[("Inés", "ines"), ("Ines", "Inés")])
    assert found.tasters == ("ines",)
    assert found.questions == ()
    assert len(found.of("ines")) == 3


@pytest.mark.parametrize(
    ("same", "words"),
    [
        (("Ines", "Nobody"), "no two tasters, and no two drinks"),
        (("Ines", "Tomas"), "both tasters are in kit AAAAAA"),
        (("Heron Marsh", "Slow Tide"), "both drinks are in kit AAAAAA"),
        (("Ines", "Heron Marsh"), "no two tasters, and no two drinks"),
    ],
)
def test_a_word_that_cannot_be_is_refused(same: tuple[str, str], words: str) -> None:
    with pytest.raises(KitError, match=words):
        gathered(kit_of("AAAAAA", ["Ines", "Tomas"]), same=[same])


def test_drinks_of_one_name_that_differ_are_kept_apart_and_asked_about() -> None:
    plain_ = ("Slow Tide", "Lamp Hill")
    first = kit_of("AAAAAA", pours=('Heron Marsh"\nstyle = "junmai', *plain_), day=1)
    second = kit_of("BBBBBB", pours=('Heron Marsh"\nstyle = "koshu', *plain_), day=2)
    found = gathered(first, second)
    assert [one.drinks[0].key for one in found.sittings] == ["Heron Marsh", "Heron Marsh (koshu)"]
    assert [one.reason for one in found.questions] == [
        "Both are called 'Heron Marsh', but what is stated of them differs"
    ]
    merged = gathered(first, second, same=[("Heron Marsh", "Heron Marsh (koshu)")])
    assert {one.drinks[0].key for one in merged.sittings} == {"Heron Marsh"}
    assert merged.questions == ()


def test_drinks_of_one_id_that_differ_are_one_and_told() -> None:
    rest = [with_id(name, id_) for id_, name in POURS[1:]]
    kits = [
        kit_of(kit, pours=[f'Heron Marsh"\nabv = {abv}\nid = "heron-marsh', *rest], day=day)
        for kit, abv, day in (("AAAAAA", 15, 1), ("BBBBBB", 16, 2))
    ]
    found = gathered(*kits)
    assert {one.drinks[0].key for one in found.sittings} == {"heron-marsh"}
    assert any("strength in % differs between kits: 15.0 and 16.0" in remark for remark in found.remarks)


def test_a_taster_asked_for_is_found_by_id_name_or_near_name() -> None:
    found = gathered(kit_of("AAAAAA", [with_id("Inés Vargas", "ines"), "Tomas"]))
    assert found.taster_called("ines") == found.taster_called("ines  vargas") == "ines"
    with pytest.raises(KitError, match="Perhaps: 'Tomas'"):
        found.taster_called("Tomaz")
    with pytest.raises(KitError, match="There are: 'ines', 'Tomas'"):
        found.taster_called("Rhian")


def test_a_key_that_waits_for_claims_leaves_the_truth_unknown() -> None:
    one = kit_of("AAAAAA", ["Ines", "Tomas"])
    waiting = replace(one, session=replace(one.session, keys="shared"), keys=())
    pages = [page("AAAAAA", 1, role, {"match.A": "1"}) for role in ("notes-1", "match")]
    found = gather([waiting], {"r.json": Reading(tuple(pages))})
    assert found.sittings[0].truth is None
    assert any("none is opened before all claims are in" in sentence for sentence in found.left_to_look_at)


@given(st.text(max_size=8), st.text(max_size=8), st.text(max_size=8))
def test_edits_are_symmetric_and_bounded_by_the_longer_text(first: str, second: str, third: str) -> None:
    assert edits(first, second) == edits(second, first)
    assert (edits(first, second) == 0) == (first == second)
    assert abs(len(first) - len(second)) <= edits(first, second) <= max(len(first), len(second))
    # Adding a third text to both ends costs nothing.
    assert edits(third + first, third + second) <= edits(first, second)


@given(st.text("aábß CD-1 ", max_size=12))
def test_a_name_is_near_itself_in_other_letters_and_spaces(name: str) -> None:
    assert nearly_alike(name, f" {name.upper()}\u00a0") == bool(plain(name))


def test_a_year_or_batch_is_another_drink() -> None:
    assert not nearly_alike("Heron Marsh 2024", "Heron Marsh 2025")
    assert nearly_alike("Heron Marsh 2024", "Heron Mash 2024")


def typed(name: str, key: str | None = None, drinks: Sequence[Drink] = (), kit: str = "T00001") -> TasterSitting:
    """Return a result of three drinks that was typed in."""
    own = (Drink("reed-bell", "Reed Bell"), Drink("grey-gate", "Grey Gate"), Drink("salt-wren", "Salt Wren"))
    drinks = (*drinks, *own[len(drinks) :])
    return sitting((1, 2, 3), (1, 2, 3), kit=kit, taster=key or name, name=name, drinks=drinks)


def with_typed(*results: TasterSitting, same: Sequence[tuple[str, str]] = ()) -> Gathered:
    pages = [page("K7Q4M2", 1, role, {}) for role in ("notes-1", "match")]
    return gather([kit_of("K7Q4M2")], {"r.json": Reading(tuple(pages))}, same, results)


def test_a_typed_result_of_the_very_same_name_is_the_tasters_without_a_question() -> None:
    found = with_typed(typed("Ines", drinks=[Drink("Heron Marsh", "Heron Marsh")]))
    assert (found.tasters, found.questions) == (("Ines",), ())
    assert len(found.of("Ines")) == 2


@pytest.mark.parametrize(("name", "key"), [("Inés", None), ("Ines ", None), ("Ines", "ines-of-the-marsh")])
def test_a_typed_name_nearly_alike_is_asked_about_and_kept_apart_until_told(name: str, key: str | None) -> None:
    found = with_typed(typed(name, key))
    assert len(found.tasters) == 2
    [question] = found.questions
    assert question.kind == "taster"
    assert "Ines" in question.sentence
    told = with_typed(typed(name, key), same=[(question.first, question.second)])
    assert (len(told.tasters), told.questions) == (1, ())
    assert len(told.sittings) == 2


def test_a_typed_drink_nearly_alike_is_asked_about() -> None:
    found = with_typed(typed("Ines", drinks=[Drink("Heron Marhs", "Heron Marhs")]))
    [question] = found.questions
    assert (question.kind, {question.first, question.second}) == ("drink", {"Heron Marsh", "Heron Marhs"})
    told = with_typed(
        typed("Ines", drinks=[Drink("Heron Marhs", "Heron Marhs")]), same=[("Heron Marsh", "Heron Marhs")]
    )
    assert told.questions == ()
    assert len({one.drinks[0].key for one in told.sittings}) == 1


def test_nobody_asks_about_an_erased_taster_or_a_drink_that_was_not_named() -> None:
    results = [
        typed(nobody(kit, 1), drinks=[unnamed(kit, coaster) for coaster in (1, 2, 3)], kit=kit)
        for kit in ("TABCDE", "TABCDF")
    ]
    found = with_typed(*results)
    assert found.questions == ()
    assert [one.taster for one in found.sittings if one.kit != "K7Q4M2"] == [nobody("TABCDE", 1), nobody("TABCDF", 1)]
