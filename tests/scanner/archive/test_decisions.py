"""Taking back, settling, and what a person typed: kept with who and when, undone without loss."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kit.errors import KitError
from kit.shell import main
from scanner.archive.contents import contents_of, differences
from scanner.archive.database import Archive, archive_at
from scanner.archive.readings import pages_of_sheet, readings_of, typed_sittings
from scanner.archive.settlements import settle, take_back_settlement
from scanner.archive.take_back import take_back
from scanner.archive.verify import verify
from scanner.reading import Outcome, State
from scanner.settle import BoxAnswer, KeepAnswer
from tests.scanner.archive.pile import KIT, NOW, Pile

NOTES, CLAIMS = f"{KIT}-0007-1", f"{KIT}-0007-3"
OLD = """
[[results]]
date = 2025-11-02
taster = "ines"
claims = {A = 3, B = 1}
truth = {A = 3, B = 2, C = 1}
"""


def facedown(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def typed(folder: Path, text: str, tmp_path: Path) -> Result:
    (tmp_path / "typed.toml").write_text(text, "utf-8")
    return facedown("enter", "--archive", folder, tmp_path / "typed.toml")


def outcomes(archive: Archive) -> dict[str, Outcome]:
    return {page.source: page.outcome for page in readings_of(archive)[1].pages}


def test_a_sheet_taken_back_counts_no_more_and_is_kept(archive: Archive) -> None:
    assert take_back(archive, NOTES.lower(), NOW).sheets == (NOTES,)
    assert "kofi-notes-1.jpg" not in outcomes(archive)
    assert archive.connection.execute("SELECT count(*) FROM originals").fetchone()[0] == 9
    assert verify(archive).faults == ()


def test_taking_back_the_better_picture_makes_the_former_count_again(archive: Archive) -> None:
    take_back(archive, "kofi-notes-1.jpg", NOW)
    assert outcomes(archive)["doubtful.jpg"] is Outcome.READ


def test_taking_back_one_side_ends_a_conflict(archive: Archive) -> None:
    take_back(archive, "kofi-match.jpg", NOW)
    found = outcomes(archive)
    assert (found["other.jpg"], "kofi-match.jpg" in found) == (Outcome.READ, False)


def test_adding_again_brings_back_what_was_taken_back(folder: Path, pile: Pile, filled: Path) -> None:
    with archive_at(folder, write=True) as archive:
        pile_id = archive.connection.execute("SELECT id FROM piles").fetchone()[0]
        take_back(archive, pile_id, NOW)
        assert outcomes(archive) == {}
    assert {one.what for one in pile.add(folder)} == {"brought back", "there already"}
    with archive_at(folder) as archive, archive_at(filled) as other:
        assert differences(contents_of(archive), contents_of(other)) == []


def test_what_is_not_there_cannot_be_taken_back(archive: Archive) -> None:
    with pytest.raises(KitError, match="nothing that counts"):
        take_back(archive, "pile.pdf", NOW)


def test_a_settled_doubt_is_kept_with_who_and_when_and_can_be_undone(archive: Archive, pile: Pile) -> None:
    take_back(archive, "kofi-notes-1.jpg", NOW)
    [page] = pages_of_sheet(archive, NOTES)
    [doubt] = [mark for mark in page.marks if mark.state is State.DOUBTFUL]
    assert settle(archive, [BoxAnswer(NOTES, doubt.field, doubt.option, State.MARKED)], "rhian", NOW) == ()
    [page] = pages_of_sheet(archive, NOTES)
    [mark] = [mark for mark in page.marks if (mark.field, mark.option) == (doubt.field, doubt.option)]
    assert (mark.state, mark.by) == (State.MARKED, "person")
    [row] = archive.connection.execute("SELECT before, after, who, at FROM settlements").fetchall()
    assert tuple(row) == ("doubtful", "marked", "rhian", NOW)
    assert take_back_settlement(archive, NOTES, doubt.field, doubt.option, "rhian", NOW)
    assert pages_of_sheet(archive, NOTES)[0].marks[page.marks.index(mark)].state is State.DOUBTFUL
    assert archive.connection.execute("SELECT count(*) FROM settlements").fetchone()[0] == 2
    assert verify(archive).faults == ()


def test_the_same_answer_twice_is_written_down_once(archive: Archive) -> None:
    page = pages_of_sheet(archive, NOTES)[0]
    answer = BoxAnswer(NOTES, page.marks[0].field, page.marks[0].option, State.WITHDRAWN)
    for _ in range(2):
        assert settle(archive, [answer], "rhian", NOW) == ()
    assert archive.connection.execute("SELECT count(*) FROM settlements").fetchone()[0] == 1


def test_keeping_one_picture_settles_a_conflict(archive: Archive) -> None:
    assert settle(archive, [KeepAnswer(CLAIMS, "other.jpg", 1)], "rhian", NOW) == ()
    found = readings_of(archive)[1].pages
    assert {page.outcome for page in found} == {Outcome.READ}
    [claims] = [page for page in found if page.sheet == CLAIMS]
    [other] = [page for page in pages_of_sheet(archive, CLAIMS) if page.source == "other.jpg"]
    assert {(m.field, m.option): m.state for m in claims.marks} == {(m.field, m.option): m.state for m in other.marks}


def test_an_answer_about_nothing_is_given_back(archive: Archive) -> None:
    answer = BoxAnswer(f"{KIT}-0001-1", "words.1", "pear", State.MARKED)
    assert settle(archive, [answer], "rhian", NOW) == (answer,)


def test_claims_and_truth_alone_are_enough_and_marked_as_typed(folder: Path, tmp_path: Path) -> None:
    answer = typed(folder, OLD, tmp_path)
    assert (answer.exit_code, "entered  1 of 3" in answer.output) == (0, True)
    shown = json.loads(facedown("archive", "show", "--archive", folder, "ines", "--json", "-").output)
    assert [one["results"] for one in shown["sittings"] if one["title"] == "Typed in"] == [
        [
            {
                "claims": {"A": 3, "B": 1, "C": None},
                "truth": {"A": 3, "B": 2, "C": 1},
                "correct": 1,
                "of": 3,
                "entered_by": "typed",
            }
        ]
    ]
    with archive_at(folder) as archive:
        [sitting] = typed_sittings(archive)
        assert verify(archive).faults == ()
    assert (sitting.taster, sitting.claims, sitting.truth, sitting.correct) == ("ines", (3, 1, None), (3, 2, 1), 1)
    assert (sitting.shuffle, sitting.notes_1, len(sitting.drinks)) == ("hand", None, 3)


def test_typing_the_same_twice_changes_nothing(folder: Path, tmp_path: Path) -> None:
    typed(folder, OLD, tmp_path)
    with archive_at(folder) as archive:
        before = contents_of(archive)
    assert "there already" in typed(folder, OLD, tmp_path).output
    with archive_at(folder) as archive:
        assert differences(contents_of(archive), before) == []


def test_a_kit_that_the_archive_does_not_have_is_named_with_those_it_has(folder: Path) -> None:
    answer = facedown("score", "--archive", folder, "--kit", "NOPE12")
    assert answer.exit_code == 4
    assert "--kit NOPE12: it is no folder" in answer.stderr
    assert f"The archive has {KIT}." in answer.stderr


def test_a_typed_sheet_is_read_like_a_scan(folder: Path, tmp_path: Path) -> None:
    text = f'[[sheets]]\nsheet = "{KIT}-0001-3"\n[sheets.marks]\n"match.A" = 3\n"match.B" = "1"\n'
    assert typed(folder, text, tmp_path).exit_code == 0
    shown = json.loads(facedown("archive", "show", "--archive", folder, f"{KIT}-0001-3", "--json", "-").output)
    assert [(one["entered_by"], one["standing"]) for one in shown["readings"]] == [("typed", "counts")]
    scores = json.loads(facedown("score", "--archive", folder, "--json", "-").stdout)
    assert scores["tasters"][0]["claims"] == {"A": 3, "B": 1, "C": None, "D": None, "E": None}


def test_a_typed_sheet_that_differs_from_the_scan_is_a_conflict(folder: Path, tmp_path: Path) -> None:
    answer = typed(folder, f'[[sheets]]\nsheet = "{KIT}-0008-3"\n[sheets.marks]\n"match.A" = 1\n', tmp_path)
    assert (answer.exit_code, "conflict" in answer.output) == (3, True)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "nothing is in it"),
        ("[[results]]", "date"),
        ("[[result]]", "unknown key result"),
        ("results = 3", "found 3"),
        (OLD.replace("C = 1", "C = 2"), "each number once"),
        (OLD.replace("B = 1}", "B = 4}"), "claims: found 4"),
        (OLD.replace("B = 1}", "F = 1}"), "claims: found F"),
        (OLD + "sure = {A = 'maybe'}", "sure"),
        (OLD + 'drinks = ["Heron Marsh"]', "3 are needed"),
        ('[[sheets]]\nsheet = "K7Q4M2-0001-3"', "no such sheet"),
        (f'[[sheets]]\nsheet = "{KIT}-0001-5"', "no such sheet"),
        (f'[[sheets]]\nsheet = "{KIT}-0001-3"\n[sheets.marks]\n"match.F" = 1', "no field 'match.F'"),
        (f'[[sheets]]\nsheet = "{KIT}-0001-3"\n[sheets.marks]\n"match.A" = 9', "found '9'"),
        (f'[[sheets]]\nsheet = "{KIT}-0001-3"\n[sheets.marks]\n"match.A" = [1, 2]', "one is allowed"),
        ("[[sheets", "not TOML"),
    ],
)
def test_what_cannot_be_typed_in_is_refused_and_nothing_is_entered(
    folder: Path, filled: Path, tmp_path: Path, text: str, words: str
) -> None:
    answer = typed(folder, text, tmp_path)
    assert (answer.exit_code, words in answer.output) == (4, True), answer.output
    with archive_at(folder) as archive, archive_at(filled) as other:
        assert differences(contents_of(archive), contents_of(other)) == []


def test_a_typed_result_can_be_taken_back(folder: Path, tmp_path: Path) -> None:
    typed(folder, OLD, tmp_path)
    with archive_at(folder, write=True) as archive:
        [sitting] = typed_sittings(archive)
        assert take_back(archive, sitting.kit, NOW).others == 1
        assert typed_sittings(archive) == ()
    assert "brought back" in typed(folder, OLD, tmp_path).output


def test_score_from_the_archive_is_score_from_the_readings(folder: Path, pile: Pile, tmp_path: Path) -> None:
    files = [str(file) for file in pile.files if file.name.startswith(("kofi", "ada"))]
    read = facedown("read", "--archive", folder, "--json", tmp_path / "reading.json", *files)
    assert read.exit_code == 0, read.output
    by_file = facedown("score", "--kit", pile.kit, "--json", "-", tmp_path / "reading.json")
    with archive_at(folder, write=True) as archive:
        take_back(archive, "other.jpg", NOW)
    by_archive = facedown("score", "--archive", folder, "--kit", KIT, "--json", "-")
    assert json.loads(by_archive.stdout) == json.loads(by_file.stdout)


def test_results_from_the_archive_are_those_from_the_readings_and_of_what_was_typed_in(
    folder: Path, pile: Pile, tmp_path: Path
) -> None:
    files = [str(file) for file in pile.files if file.name.startswith(("kofi", "ada"))]
    facedown("read", "--archive", folder, "--json", tmp_path / "reading.json", *files)
    with archive_at(folder, write=True) as archive:
        take_back(archive, "other.jpg", NOW)
    for command in ("luck", "notes", "confusions"):
        by_file = facedown(command, "--kit", pile.kit, "--json", "-", tmp_path / "reading.json")
        by_archive = facedown(command, "--archive", folder, "--json", "-")
        assert json.loads(by_archive.stdout) == json.loads(by_file.stdout), command
    typed(folder, OLD, tmp_path)
    luck = json.loads(facedown("luck", "--archive", folder, "--taster", "ines", "--json", "-").stdout)
    [ines] = luck["tasters"]
    assert [(one["date"], one["correct"], one["of"]) for one in ines["by_sitting"]] == [("2025-11-02", 1, 3)]


def test_the_environment_names_the_archive_too(folder: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("FACEDOWN_ARCHIVE", str(folder))
    assert KIT in facedown("archive", "list").output
    assert json.loads(facedown("score", "--json", "-").stdout)["tasters"][6]["name"] == "Kofi"
    missing = facedown("score", "--kit", "ABCDEF")
    assert (missing.exit_code, "ABCDEF" in missing.output) == (4, True)


@pytest.mark.parametrize("words", [("score",), ("read", "scan.jpg")])
def test_without_kit_and_archive_it_is_wrong_usage(words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("FACEDOWN_ARCHIVE", raising=False)
    answer = facedown(*words)
    assert (answer.exit_code, "--archive" in answer.output) == (2, True)
