"""`facedown score` at the keyboard: the table, the JSON, the exit status, and every way of being refused."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kit.chance_source import SeededChance
from kit.errors import ExitCode
from kit.keys import seal_key
from kit.record import Kit
from kit.session import Taster
from kit.shell import main
from scanner.commands.score import scores_text
from scanner.reading import Outcome, PageReading, Reading, to_json
from scanner.score import scores
from tests.kit.kept import record_files
from tests.scanner.test_score import KEYS, KIT, full, match, notes, sitting, turned

Score = Callable[..., Result]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return kit_folder(tmp_path / "kit")


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Score:
    monkeypatch.chdir(tmp_path)

    def score(*arguments: str | Path) -> Result:
        return CliRunner().invoke(main, ["score", *map(str, arguments)])

    return score


def kit_folder(folder: Path, shuffle: str = "host", kit_id: str = KIT) -> Path:
    """Write a kit folder's record and layout, with the keys of `KEYS` sealed."""
    made = sitting(shuffle, kit_id)
    chance = SeededChance(1)
    sealed = tuple(
        seal_key(kit_id, number, tuple(key.values()), bytes(16), chance) for number, key in enumerate(KEYS, start=1)
    )
    kit = Kit(kit_id, made.session, b"secret", () if shuffle == "hand" else sealed)
    folder.mkdir()
    for name, content in record_files(kit, made.layout).items():
        (folder / name).write_bytes(content)
    return folder


def write(file: Path, reading: Reading) -> Path:
    file.write_text(json.dumps(to_json(reading)), "utf-8")
    return file


@pytest.fixture
def evening(tmp_path: Path) -> Path:
    return write(tmp_path / "evening.json", full(match(1, "3,2,1"), match(2, "1,3,2")))


def test_the_table_shows_claims_truth_and_the_guesser(run: Score, folder: Path, evening: Path) -> None:
    result = run("--kit", folder, evening)
    assert result.exit_code == ExitCode.DONE
    lines = result.stdout.splitlines()
    assert lines[0] == "First flight, 5 December 2026 (kit K7Q4M2)"
    assert "each key matches its seal code" in lines[1]
    table = [" ".join(line.split()) for line in lines]
    assert "taster A B C result" in table
    assert "1 Ines 3 2 (1) 1 (2) 1 of 3; a guesser does this well or better 2 times in 3" in table
    assert "2 Tomas 1 3 2 3 of 3; a guesser does this well or better 1 time in 6" in table
    assert "Left to look at" not in result.stdout
    assert result.stderr == ""


def test_columns_stay_in_line_under_names_of_double_width() -> None:
    made = sitting()
    made = replace(made, session=replace(made.session, tasters=(Taster("純米"), Taster("Tomas"))))
    text = scores_text(scores([made], {"r": full(match(1, "3,1,2"), match(2, "1,3,2"))}))
    first, second = (line for line in text.splitlines() if "a guesser" in line)
    # Unicode Standard Annex 11: each of the two ideographs takes two columns, so its line is two characters shorter.
    assert first.index("3 of 3") == second.index("3 of 3") - 2


def test_json_goes_to_a_file_beside_the_table(run: Score, folder: Path, evening: Path, tmp_path: Path) -> None:
    result = run("--kit", folder, "--json", tmp_path / "scores.json", evening)
    assert result.exit_code == ExitCode.DONE
    assert "Ines" in result.stdout
    entry = json.loads((tmp_path / "scores.json").read_text("utf-8"))
    assert entry["format"] == "facedown-scores/1"
    assert [taster["correct"] for taster in entry["tasters"]] == [1, 3]
    assert [taster["chance_at_least"] for taster in entry["tasters"]] == [pytest.approx(2 / 3), pytest.approx(1 / 6)]


def test_json_alone_goes_to_standard_output(run: Score, folder: Path, tmp_path: Path) -> None:
    reading = write(tmp_path / "r.json", full(match(1, "3,?2,1"), match(2, "1,3,2")))
    result = run("--kit", folder, "--json", "-", reading)
    assert result.exit_code == ExitCode.LOOK
    assert json.loads(result.stdout)["tasters"][0]["unsettled"] == ["B"]
    assert "claim at B: the box for 2 is doubtful" in result.stderr
    assert not (tmp_path / "-").exists()


def test_a_doubtful_place_is_shown_without_the_truth_and_ends_in_status_3(
    run: Score, folder: Path, tmp_path: Path
) -> None:
    reading = write(tmp_path / "r.json", full(match(1, "3,?1,2"), match(2, "1,3,2")))
    result = run("--kit", folder, reading)
    assert result.exit_code == ExitCode.LOOK
    table = [" ".join(line.split()) for line in result.stdout.splitlines()]
    assert "1 Ines 3 ? 2 2 of 3 so far; 1 place not settled" in table
    wrong = run("--kit", folder, write(tmp_path / "w.json", full(match(1, "2,?1,3"), match(2, "1,3,2"))))
    assert "(" not in next(line for line in wrong.stdout.splitlines() if "Ines" in line)
    assert "Left to look at" in table
    assert any("claim at B: the box for 1 is doubtful" in line for line in table)


def test_an_unreadable_page_ends_in_status_3(run: Score, folder: Path, tmp_path: Path) -> None:
    page = PageReading("x.pdf", 9, None, None, None, None, Outcome.UNREADABLE, "No corner was found.")
    reading = write(tmp_path / "r.json", full(match(1, "3,1,2"), match(2, "1,3,2"), page))
    result = run("--kit", folder, reading)
    assert result.exit_code == ExitCode.LOOK
    assert "x.pdf, page 9: unreadable: No corner was found." in result.stdout


def test_missing_sheets_and_remarks_are_told_and_nothing_is_left_to_do(
    run: Score, folder: Path, tmp_path: Path
) -> None:
    reading = write(tmp_path / "r.json", Reading((notes(1), match(1, "3,3,-"))))
    result = run("--kit", folder, reading)
    assert result.exit_code == ExitCode.DONE
    table = [" ".join(line.split()) for line in result.stdout.splitlines()]
    assert "1 Ines 3 3 (1) – (2) 1 of 3; a guesser does this well or better 2 times in 3" in table
    assert "2 Tomas not scored: no match sheet was read" in table
    assert "Ines: number 3 is claimed twice, at A and B" in table
    assert "Tomas: sheet K7Q4M2-0002-3, the match, is missing" in table


def test_a_hand_sitting_says_where_its_truth_is_from_and_that_the_law_is_assumed(run: Score, tmp_path: Path) -> None:
    folder = kit_folder(tmp_path / "kit", "hand")
    pages = (match(1, "3,1,2"), match(2, "1,3,2"), turned(1, "3,1,2"))
    result = run("--kit", folder, write(tmp_path / "r.json", full(*pages)))
    assert result.exit_code == ExitCode.DONE
    words = " ".join(result.stdout.split())
    assert "as filled in, or photographed, when the coasters were turned over" in words
    assert "is an assumption about people's mixing" in words
    assert "1 Ines 3 1 2 3 of 3" in words
    assert "2 Tomas 1 3 2 not scored: what stood where is not known" in words


def test_several_kits_and_several_readings_are_scored_together(run: Score, folder: Path, tmp_path: Path) -> None:
    other = kit_folder(tmp_path / "other", kit_id="Z9Z9Z9")
    first = write(tmp_path / "a.json", full(match(1, "3,1,2"), match(2, "1,3,2")))
    second = write(tmp_path / "b.json", Reading((match(1, "3,1,2", kit="Z9Z9Z9"),)))
    result = run("--kit", folder, "--kit", other, "--json", "-", first, second)
    assert result.exit_code == ExitCode.DONE
    told = [(taster["kit"], taster["correct"]) for taster in json.loads(result.stdout)["tasters"]]
    assert told == [(KIT, 3), (KIT, 3), ("Z9Z9Z9", 3), ("Z9Z9Z9", None)]


def refused(result: Result, *said: str) -> None:
    assert result.exit_code == ExitCode.REFUSED
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    for words in said:
        assert words in result.stderr


def test_a_kit_folder_that_is_not_there_is_refused(run: Score, evening: Path) -> None:
    refused(run("--kit", "nowhere", evening), "nowhere", "no such kit folder")


def test_a_key_that_is_not_the_one_that_was_sealed_is_refused(run: Score, evening: Path, tmp_path: Path) -> None:
    made = sitting()
    chance = SeededChance(1)
    ines, tomas = (seal_key(KIT, n, tuple(key.values()), bytes(16), chance) for n, key in enumerate(KEYS, start=1))
    folder = tmp_path / "swapped"
    folder.mkdir()
    for name, content in record_files(Kit(KIT, made.session, b"secret", (tomas, ines)), made.layout).items():
        (folder / name).write_bytes(content)
    refused(run("--kit", folder, evening), "is not the one that was sealed")


def test_a_kit_given_twice_is_refused(run: Score, folder: Path, evening: Path) -> None:
    refused(run("--kit", folder, "--kit", folder, evening), "kit K7Q4M2 is given already")


@pytest.mark.parametrize("content", ["", "{", "[]", "null", '{"format": "facedown-scores/1"}', '"\\ud800"'])
def test_a_file_that_is_no_reading_is_refused_and_nothing_is_written(
    run: Score, folder: Path, evening: Path, tmp_path: Path, content: str
) -> None:
    (tmp_path / "bad.json").write_text(content)
    refused(run("--kit", folder, "--json", tmp_path / "scores.json", evening, tmp_path / "bad.json"), "bad.json: ")
    assert not (tmp_path / "scores.json").exists()


def test_a_reading_of_another_print_run_is_refused(run: Score, folder: Path, tmp_path: Path) -> None:
    page = match(1, "3,1,2")
    mended = to_json(Reading((page,)))
    mended["pages"][0]["marks"][0]["option"] = "7"
    (tmp_path / "r.json").write_text(json.dumps(mended))
    refused(run("--kit", folder, tmp_path / "r.json"), "r.json: pile.pdf, page 1", "match.A 7")


def test_scores_never_overwrite_what_they_are_made_from(run: Score, folder: Path, evening: Path) -> None:
    for target in (evening, folder / "kit.json", folder / "layout.json", evening.parent / "kit" / ".." / evening.name):
        before = target.read_bytes()
        assert run("--kit", folder, "--json", target, evening).exit_code == ExitCode.USAGE
        assert target.read_bytes() == before


def test_a_place_that_cannot_be_written_ends_in_status_5(run: Score, folder: Path, evening: Path) -> None:
    result = run("--kit", folder, "--json", "nowhere/scores.json", evening)
    assert result.exit_code == ExitCode.STORAGE
    assert "nowhere" in result.stderr


@pytest.mark.parametrize("arguments", [[], ["--kit", "k"], ["evening.json"]])
def test_a_kit_and_a_reading_are_needed(run: Score, arguments: list[str]) -> None:
    assert run(*arguments).exit_code == ExitCode.USAGE


def test_a_file_name_that_would_steer_the_terminal_is_made_plain(run: Score, folder: Path, tmp_path: Path) -> None:
    page = PageReading("a\x1b[2Jb\udc80.pdf", 1, None, None, None, None, Outcome.UNREADABLE, "Why.")
    reading = write(tmp_path / "r.json", full(match(1, "3,1,2"), match(2, "1,3,2"), page))
    result = run("--kit", folder, "--json", tmp_path / "scores.json", reading)
    assert result.exit_code == ExitCode.LOOK
    assert "a?[2Jb?.pdf" in result.stdout
    assert json.loads((tmp_path / "scores.json").read_text("utf-8"))["left_to_look_at"] == [
        "a\x1b[2Jb\udc80.pdf, page 1: unreadable: Why."
    ]
