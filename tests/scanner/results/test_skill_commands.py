"""`facedown luck` and `facedown ability` at the keyboard."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kit.errors import ExitCode
from kit.shell import main
from scanner.reading import Reading
from tests.scanner.test_score import full, match
from tests.scanner.test_score_command import kit_folder, write

Run = Callable[..., Result]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(main, list(map(str, arguments)))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return kit_folder(tmp_path / "kit")


@pytest.fixture
def evening(tmp_path: Path) -> Path:
    # Ines has all three right, Tomas one.
    return write(tmp_path / "evening.json", full(match(1, "3,1,2"), match(2, "1,2,3")))


def test_luck_is_told_by_taster_and_for_the_table(run: Run, folder: Path, evening: Path) -> None:
    result = run("luck", "--kit", folder, evening)
    assert result.exit_code == ExitCode.DONE
    lines = [" ".join(line.split()) for line in result.stdout.splitlines()]
    assert "2026-12-05 First flight 3 of 3 a guesser as well or better 1 time in 6" in lines
    assert any(
        line.startswith("3 of 3 right in one sitting. With the same claims a guesser has 1 right") for line in lines
    )
    # Two sittings of three (2, 3, 0, 1 over six keys): four or more right is (2·3 + 1)/36, one in 5.1.
    assert any("a table of guessers has 2 right on average, and 4 or more 1 time in 5." in line for line in lines)


def test_one_tasters_luck_has_no_table(run: Run, folder: Path, evening: Path) -> None:
    result = run("luck", "--kit", folder, "--taster", "Tomas", "--json", "-", evening)
    entry = json.loads(result.stdout)
    assert entry["format"] == "facedown-luck/1"
    assert entry["table"] is None
    (tomas,) = entry["tasters"]
    assert (tomas["name"], tomas["correct"], tomas["of"], tomas["exact"]) == ("Tomas", 1, 3, True)
    assert tomas["law"] == pytest.approx([2 / 6, 3 / 6, 0, 1 / 6])
    assert tomas["by_sitting"][0]["chance_at_least"] == pytest.approx(4 / 6)


def test_ability_is_told_in_sections(run: Run, folder: Path, evening: Path) -> None:
    result = run("ability", "--kit", folder, "--taster", "Ines", evening)
    assert result.exit_code == ExitCode.DONE
    lines = [line.strip() for line in result.stdout.splitlines()]
    assert lines[0] == "Ines"
    for heading in ("Ability", "Progress", "Evidence", "Sureness"):
        assert heading in lines
    assert "Tomas" not in lines
    assert "As well as can be in one sitting: at least" in result.stdout
    assert "Too little to tell of progress: 1 sitting counts, 9 more are needed." in result.stdout
    assert max(map(len, lines)) <= 100


def test_ability_as_json_is_whole(run: Run, folder: Path, evening: Path, tmp_path: Path) -> None:
    result = run("ability", "--kit", folder, "--json", tmp_path / "ability.json", evening)
    assert result.exit_code == ExitCode.DONE
    entry = json.loads((tmp_path / "ability.json").read_text("utf-8"))
    assert [one["name"] for one in entry["tasters"]] == ["Ines", "Tomas"]
    ines = entry["tasters"][0]
    assert ines["ability"]["correct_of_five_interval"][1] == 5.0
    assert ines["progress"]["verdict"] == "too little"
    assert ines["evidence"][0]["keys"] == "drawn by lot"


def test_a_claim_that_is_not_settled_does_not_count_and_ends_in_status_3(
    run: Run, folder: Path, tmp_path: Path
) -> None:
    reading = write(tmp_path / "r.json", full(match(1, "3,?1,2"), match(2, "1,2,3")))
    for name in ("luck", "ability"):
        result = run(name, "--kit", folder, "--taster", "Ines", reading)
        assert result.exit_code == ExitCode.LOOK
        assert "a claim is not settled" in result.stdout
        assert "Too little to tell" in result.stdout


def test_a_reading_without_anybodys_sheet_is_no_crash(run: Run, folder: Path, tmp_path: Path) -> None:
    empty = write(tmp_path / "r.json", Reading(()))
    for name in ("luck", "ability"):
        result = run(name, "--kit", folder, empty)
        assert result.exit_code in (ExitCode.DONE, ExitCode.LOOK), result.output
        assert result.stdout


def test_a_taster_who_is_not_there_is_refused_in_a_sentence(run: Run, folder: Path, evening: Path) -> None:
    result = run("ability", "--kit", folder, "--taster", "Nobody", evening)
    assert result.exit_code == ExitCode.REFUSED
    assert "no such taster" in result.stderr


CELLAR = """
[[drinks]]
name = "{name}"
acidity = 1.4
polishing_ratio = 40
"""


def test_the_cellars_list_says_how_alike_the_drinks_were(run: Run, folder: Path, evening: Path, tmp_path: Path) -> None:
    """The kit states nothing of its pours; the list has nothing of the third, and that leaves none unstated."""
    cellar = tmp_path / "cellar.toml"
    cellar.write_text("".join(CELLAR.format(name=f"Pour {number}") for number in (1, 2)), "utf-8")
    options = ("ability", "--kit", folder, "--taster", "Ines", "--json", "-")
    listed, other = run(*options, "--cellar", cellar, evening), tmp_path / "other.toml"
    assert listed.exit_code == ExitCode.DONE
    entry = json.loads(listed.stdout)
    assert entry["cellar_remarks"] == []
    assert entry["tasters"][0]["flights_with_nothing_stated"] == 0
    other.write_text(CELLAR.format(name="Heron Marsh"), "utf-8")
    without = json.loads(run(*options, "--cellar", other, evening).stdout)
    assert without["tasters"][0]["progress"] == json.loads(run(*options, evening).stdout)["tasters"][0]["progress"]


def test_a_cellar_that_names_a_drink_nearly_alike_asks(run: Run, folder: Path, evening: Path, tmp_path: Path) -> None:
    cellar = tmp_path / "cellar.toml"
    cellar.write_text(CELLAR.format(name="Poor 1"), "utf-8")
    result = run("ability", "--kit", folder, "--cellar", cellar, evening)
    assert 'Is "Poor 1" the "Pour 1" of earlier sittings?' in " ".join(result.stdout.split())


def test_a_cellar_that_is_none_is_refused(run: Run, folder: Path, evening: Path, tmp_path: Path) -> None:
    (tmp_path / "cellar.toml").write_text("drinks = 3", "utf-8")
    assert run("ability", "--kit", folder, "--cellar", tmp_path / "cellar.toml", evening).exit_code == ExitCode.REFUSED
    assert run("ability", "--kit", folder, "--cellar", tmp_path / "no.toml", evening).exit_code == ExitCode.REFUSED
