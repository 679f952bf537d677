"""`facedown notes` and `facedown table` at the keyboard, and what all commands on results share."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kit.chance_source import SeededChance
from kit.errors import ExitCode
from kit.keys import seal_key
from kit.record import Kit
from kit.shell import main
from scanner.reading import Reading, to_json
from tests.kit.kept import record_files
from tests.scanner.results.test_gather import Told, layout, page, session

Run = Callable[..., Result]
POURS = ("Heron Marsh", "Slow Tide", "Lamp Hill")
FIRST = {"words.1": "pear", "scale.finish.1": "1", "words.2": "rice", "scale.finish.2": "4", "scale.finish.3": "2"}
# The key puts coasters 3, 1, 2 at A, B, C.
SECOND = {
    "words.B": "pear",
    "scale.finish.B": "1",
    "words.C": "rice",
    "scale.finish.C": "4",
    "scale.finish.A": "2",
    "match.A": "3",
    "match.B": "1",
    "match.C": "2",
}


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(main, [str(argument) for argument in arguments])


def kit_folder(folder: Path, kit_id: str, tasters: Sequence[str], day: int = 5) -> Path:
    keys = tuple(seal_key(kit_id, n, (3, 1, 2), bytes(16), SeededChance(n)) for n in range(1, len(tasters) + 1))
    kit = Kit(kit_id, session(tasters, POURS, day), b"secret", keys)
    folder.mkdir()
    for name, content in record_files(kit, layout(kit_id, len(tasters))).items():
        (folder / name).write_bytes(content)
    return folder


def reading(file: Path, kit_id: str, tasters: int, told: Sequence[Told] = (FIRST, SECOND)) -> Path:
    pages = [
        page(kit_id, taster, role, said)
        for taster in range(1, tasters + 1)
        for role, said in zip(("notes-1", "match"), told, strict=True)
    ]
    file.write_text(json.dumps(to_json(Reading(tuple(pages)))), "utf-8")
    return file


@pytest.fixture
def evening(tmp_path: Path) -> list[Path | str]:
    folder = kit_folder(tmp_path / "kit", "K7Q4M2", ["Ines", "Tomas", "Rhian"])
    return ["--kit", folder, reading(tmp_path / "r.json", "K7Q4M2", 3)]


def words_of(result: Result) -> str:
    return " ".join(result.stdout.split())


def test_notes_tell_of_each_drink_and_of_chance(run: Run, evening: list[Path | str]) -> None:
    result = run("notes", *evening, "--taster", "ines")
    assert result.exit_code == ExitCode.DONE
    said = words_of(result)
    assert "Heron Marsh (1, then B): kept pear; strengths the same." in said
    assert "paired at random: 1 time in 6." in said
    assert "with 3 glasses alone, even the best pairing comes 1 time in 6" in said
    assert "By the notes alone 3 of 3 glasses would have been right. By the claims 3 were." in said
    assert "Tomas" not in said


def test_notes_as_json_hold_every_taster_and_the_same_figures(run: Run, evening: list[Path | str]) -> None:
    result = run("notes", *evening, "--json", "-")
    entry = json.loads(result.stdout)
    assert entry["format"] == "facedown-notes/1"
    assert [one["name"] for one in entry["tasters"]] == ["Ines", "Tomas", "Rhian"]
    ines = entry["tasters"][0]
    assert ines["sittings"][0]["chance_at_least"] == pytest.approx(1 / 6)
    assert ines["words"]["kept"] == 2
    assert (ines["combined"][0]["keys"], ines["combined"][0]["right_by_notes"]) == ("drawn by lot", 3.0)
    assert entry["questions"] == []


def test_notes_tell_no_key_before_the_claims_are_settled(run: Run, tmp_path: Path) -> None:
    folder = kit_folder(tmp_path / "kit", "K7Q4M2", ["Ines"])
    told = (FIRST, SECOND | {"match.B": "1 2"})
    result = run("notes", "--kit", folder, reading(tmp_path / "r.json", "K7Q4M2", 1, told))
    assert "what stood where is told once the claims are in and settled" in words_of(result)
    assert "then B" not in words_of(result)


def test_the_table_tells_its_words_and_writes_json_beside(run: Run, evening: list[Path | str], tmp_path: Path) -> None:
    result = run("table", *evening, "--json", tmp_path / "table.json")
    assert result.exit_code == ExitCode.DONE
    assert "Heron Marsh: pear (3 of 3); finish 1." in words_of(result)
    entry = json.loads((tmp_path / "table.json").read_text("utf-8"))
    assert entry["format"] == "facedown-table/1"
    assert [drink["words"] for drink in entry["drinks"]] == [{"pear": 3}, {"rice": 3}, {}]
    assert [one["taster"] for one in entry["dictionaries"]] == ["Ines", "Tomas", "Rhian"]


def test_near_misses_are_asked_about_and_end_in_status_3_until_answered(
    run: Run, tmp_path: Path, evening: list[Path | str]
) -> None:
    other = kit_folder(tmp_path / "other", "Z9Z9Z9", ["Inés"], 12)
    more = ["--kit", other, reading(tmp_path / "z.json", "Z9Z9Z9", 1)]
    result = run("notes", *evening, *more)
    assert result.exit_code == ExitCode.LOOK
    assert "Are the tasters 'Ines' and 'Inés' one?" in words_of(result)
    merged = run("notes", *evening, *more, "--same", "Ines", "Inés", "--json", "-")
    assert merged.exit_code == ExitCode.DONE
    ines = json.loads(merged.stdout)["tasters"][0]
    assert [sitting["kit"] for sitting in ines["sittings"]] == ["K7Q4M2", "Z9Z9Z9"]
    assert [drink["days"] for drink in ines["again"]["drinks"]] == [7, 7, 7]
    assert ines["again"]["chance_designed"] == pytest.approx(1 / 6)


def test_every_sitting_is_shown_when_asked(run: Run, tmp_path: Path, evening: list[Path | str]) -> None:
    other = kit_folder(tmp_path / "other", "Z9Z9Z9", ["Ines"], 12)
    more = ["--kit", other, reading(tmp_path / "z.json", "Z9Z9Z9", 1), "--taster", "Ines"]
    for command in ("notes", "table"):
        assert "(kit K7Q4M2)" not in run(command, *evening, *more).stdout
        assert "(kit K7Q4M2)" in run(command, *evening, *more, "--every").stdout


@pytest.mark.parametrize("command", ["notes", "table"])
@pytest.mark.parametrize(
    ("first", "second"),
    [({}, {}), ({f"words.{n}": "pear rice" for n in "123"}, {f"words.{p}": "pear rice" for p in "ABC"})],
    ids=["none ticked", "all ticked"],
)
def test_blank_and_full_sheets_are_too_little_to_tell(
    run: Run, tmp_path: Path, command: str, first: Told, second: Told
) -> None:
    folder = kit_folder(tmp_path / "kit", "K7Q4M2", ["Ines", "Tomas", "Rhian"])
    result = run(command, "--kit", folder, reading(tmp_path / "r.json", "K7Q4M2", 3, (first, second)))
    assert result.exit_code == ExitCode.DONE
    assert "oo little to tell" in result.stdout
    assert "nan" not in result.stdout.lower().split()


@pytest.mark.parametrize("command", ["notes", "table"])
def test_a_reading_without_sheets_is_too_little_to_tell(run: Run, tmp_path: Path, command: str) -> None:
    folder = kit_folder(tmp_path / "kit", "K7Q4M2", ["Ines"])
    (tmp_path / "r.json").write_text(json.dumps(to_json(Reading(()))))
    result = run(command, "--kit", folder, "r.json")
    assert result.exit_code == ExitCode.DONE
    assert "Too little to tell: no sheet was read." in result.stdout
    assert "Ines (taster 1 of kit K7Q4M2): no sheet was read" in result.stdout


@pytest.mark.parametrize("command", ["notes", "table"])
def test_a_wrong_taster_or_pair_is_refused_in_a_sentence(run: Run, command: str, evening: list[Path | str]) -> None:
    for more, said in ((("--taster", "Nobody"), "no such taster"), (("--same", "Ines", "Nobody"), "Nobody")):
        result = run(command, *evening, *more)
        assert result.exit_code == ExitCode.REFUSED
        assert said in result.stderr
        assert "Traceback" not in result.stderr
        assert result.stdout == ""


def test_results_never_overwrite_what_they_are_made_from(run: Run, evening: list[Path | str]) -> None:
    target = Path(str(evening[-1]))
    before = target.read_bytes()
    assert run("notes", *evening, "--json", target).exit_code == ExitCode.USAGE
    assert target.read_bytes() == before
