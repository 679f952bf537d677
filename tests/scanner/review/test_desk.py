"""Answers written into a real archive: at once, with who and when, undone without loss; handwriting typed up."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from scanner.archive.database import Archive, archive_at
from scanner.archive.erase import erase, taster_named
from scanner.archive.lists import shown_of
from scanner.archive.readings import pages_of_sheet, readings_of
from scanner.archive.settlements import undo
from scanner.archive.verify import verify
from scanner.pile import left_to_look_at
from scanner.reading import Outcome, State
from scanner.review.desk import ORDER_KEY, Decision, answer, not_for_review, queue_of, undo_decision
from scanner.review.pictures import cutout_png, whole_page
from scanner.review.queue import BOX, FIELD, ROW, SHEETS, Doubt
from scanner.review.writing import MOST_CHARACTERS, areas_of, next_area, type_up
from tests.scanner.archive.pile import NOW
from tests.scanner.review.doubts import CLAIMS, NOTES


def of_kind(archive: Archive, kind: str) -> Doubt:
    return next(doubt for doubt in queue_of(archive) if doubt.kind == kind)


def given(archive: Archive, doubt: Doubt, key: str, order: str = "") -> Decision:
    decision = answer(archive, doubt.id, key, "rhian", NOW, order)
    assert decision is not None
    return decision


def words(archive: Archive) -> list[tuple[str, ...]]:
    return [tuple(row) for row in archive.connection.execute("SELECT field, option, after, who, at FROM settlements")]


def test_the_queue_has_what_is_left_to_look_at_and_nothing_else(archive: Archive) -> None:
    """Against `left_to_look_at`, by which `read` and `score` tell what is unsettled."""
    left = list(left_to_look_at(readings_of(archive)[1]))
    assert len(queue_of(archive)) == len(left) == 6
    assert [doubt.kind for doubt in queue_of(archive)] == [BOX, BOX, BOX, SHEETS, FIELD, ROW]
    assert not_for_review(archive) == 1


@pytest.mark.parametrize(("key", "state"), [("y", State.MARKED), ("n", State.EMPTY), ("t", State.WITHDRAWN)])
def test_an_answer_is_written_down_with_who_and_when(archive: Archive, key: str, state: State) -> None:
    doubt = of_kind(archive, BOX)
    given(archive, doubt, key)
    assert words(archive) == [(doubt.field, doubt.option, state.value, "rhian", NOW)]
    [page] = pages_of_sheet(archive, NOTES)
    [mark] = [one for one in page.marks if (one.field, one.option) == (doubt.field, doubt.option)]
    assert (mark.state, mark.by) == (state, "person")
    assert doubt.id not in {one.id for one in queue_of(archive)}
    assert verify(archive).faults == ()


def test_keeping_a_picture_settles_the_conflict(archive: Archive) -> None:
    given(archive, of_kind(archive, SHEETS), "2")
    [claims] = [page for page in readings_of(archive)[1].pages if page.sheet == CLAIMS]
    assert claims.outcome is Outcome.READ
    marked = [mark.option for mark in claims.marks if mark.field == "match.A" and mark.state is State.MARKED]
    assert marked == ["2"]


def test_one_of_two_marks_counts_and_the_other_is_taken_back(archive: Archive) -> None:
    given(archive, of_kind(archive, FIELD), "1")
    assert words(archive) == [("match.A", "2", "withdrawn", "rhian", NOW)]


@pytest.mark.parametrize(("key", "order", "after"), [("2", "", "3 1 2"), (ORDER_KEY, "2,3,1", "2 3 1")])
def test_a_row_is_settled_by_a_choice_or_a_typed_order(archive: Archive, key: str, order: str, after: str) -> None:
    given(archive, of_kind(archive, ROW), key, order)
    assert [told[2] for told in words(archive)] == [after]
    assert {row.by for row in readings_of(archive)[1].turned} == {"person"}
    assert ROW not in {doubt.kind for doubt in queue_of(archive)}


@pytest.mark.parametrize("kind", [BOX, SHEETS, FIELD, ROW])
def test_every_kind_of_answer_can_be_undone_and_both_stay_written(archive: Archive, kind: str) -> None:
    before = queue_of(archive)
    decision = given(archive, of_kind(archive, kind), of_kind(archive, kind).choices[-1].key)
    assert undo_decision(archive, decision.name, "rhian", NOW)
    assert queue_of(archive) == before
    assert len(words(archive)) == 2 * (decision.last - decision.first + 1)
    assert verify(archive).faults == ()


def test_undoing_a_second_word_brings_back_the_first_one(archive: Archive) -> None:
    """Two boxes of a field found marked: taking one back again must leave it marked, not doubtful."""
    box = of_kind(archive, FIELD).boxes[0]
    subject = of_kind(archive, FIELD).subject
    for after in ("empty", "marked"):
        archive.connection.execute(
            "INSERT INTO settlements (subject, field, option, before, after, who, at) "
            "VALUES (?, ?, ?, '-', ?, 'a', 'b')",
            (subject, *box, after),
        )
    last = archive.connection.execute("SELECT max(id) FROM settlements").fetchone()[0]
    assert undo(archive, last, last, "rhian", NOW)
    assert [told[2] for told in words(archive)] == ["empty", "marked", "empty"]


def test_an_answer_that_somebody_gave_meanwhile_is_not_written_over(archive: Archive, folder: Path) -> None:
    doubt = of_kind(archive, BOX)
    with archive_at(folder, write=True) as other:
        assert answer(other, doubt.id, "y", "ines", NOW)
    assert answer(archive, doubt.id, "n", "rhian", NOW) is None
    assert [told[2:4] for told in words(archive)] == [("marked", "ines")]


def test_undo_does_not_touch_what_somebody_settled_anew(archive: Archive) -> None:
    doubt = of_kind(archive, BOX)
    first = given(archive, doubt, "y")
    assert undo_decision(archive, first.name, "rhian", NOW)
    given(archive, doubt, "n")
    assert not undo_decision(archive, first.name, "rhian", NOW)
    assert words(archive)[-1][2] == "empty"


@pytest.mark.parametrize("name", ["", "1", "1-", "-1-1", "0-0", "2-1", "1-999999", "1-1; DROP", "١-١", "9" * 40 + "-1"])
def test_a_hostile_name_undoes_nothing(archive: Archive, name: str) -> None:
    given(archive, of_kind(archive, BOX), "y")
    assert not undo_decision(archive, name, "rhian", NOW)
    assert len(words(archive)) == 1


@pytest.mark.parametrize("key", ["", "x", "Y", "1", ORDER_KEY, "yy"])
def test_a_key_that_is_no_answer_writes_nothing(archive: Archive, key: str) -> None:
    assert answer(archive, of_kind(archive, BOX).id, key, "rhian", NOW, "1 2 3") is None
    assert words(archive) == []


def test_an_erased_taster_is_asked_about_without_name_and_picture(archive: Archive) -> None:
    erase(archive, taster_named(archive, "Kofi")["id"], NOW)
    doubt = of_kind(archive, BOX)
    assert doubt.seat.taster is None
    assert doubt.pictures[0].cutout is None
    assert whole_page(archive, doubt.pictures[0].row) is None
    assert given(archive, doubt, "y")
    assert all(area.seat.taster is not None for area in areas_of(archive))


def test_a_cut_out_is_found_by_a_digest_alone(archive: Archive) -> None:
    digest = of_kind(archive, BOX).pictures[0].cutout
    assert digest
    assert (cutout_png(archive, digest) or b"").startswith(b"\x89PNG")
    for name in ("../" + digest, digest.upper(), digest[:-1], "0" * 64, "..", ""):
        assert cutout_png(archive, name) is None


def test_a_whole_sheet_is_shown_upright_in_mm(archive: Archive) -> None:
    page = whole_page(archive, of_kind(archive, BOX).pictures[0].row)
    assert page
    assert page.layout
    assert (page.width, page.height) == (210.0, 297.0)
    photograph = whole_page(archive, of_kind(archive, ROW).pictures[0].row)
    assert photograph
    assert photograph.layout is None
    assert whole_page(archive, 10**9) is None


def test_handwriting_is_typed_up_and_can_be_mended(archive: Archive) -> None:
    first = next_area(areas_of(archive))
    assert first
    assert type_up(archive, first.id, "  plum,\nthen \x1b[2Jsmoke ", "rhian", NOW)
    assert type_up(archive, first.id, "plum, then smoke", "ines", NOW)
    assert next(area.text for area in areas_of(archive) if area.id == first.id) == "plum, then smoke"
    following = next_area(areas_of(archive), first.id)
    assert following
    assert following.id != first.id
    assert type_up(archive, following.id, "", "rhian", NOW)
    shown = shown_of(archive, first.sheet)["handwriting"]
    assert [(one["text"], one["who"]) for one in shown if one["field"] == first.field] == [("plum, then smoke", "ines")]
    assert verify(archive).faults == ()


def test_handwriting_holds_no_more_than_it_should_and_nothing_a_terminal_acts_on(archive: Archive) -> None:
    area = areas_of(archive)[0]
    type_up(archive, area.id, "\x1b\x00" + "a" * 5000, "rhian", NOW)
    assert areas_of(archive)[0].text == "a" * MOST_CHARACTERS
    assert json.dumps(areas_of(archive)[0].text)


def test_an_area_that_is_not_there_is_not_typed_up(archive: Archive) -> None:
    assert type_up(archive, "0" * 16, "plum", "rhian", NOW) is None
    assert archive.connection.execute("SELECT count(*) FROM handwriting").fetchone()[0] == 0
