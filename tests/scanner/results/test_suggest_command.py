"""`facedown confusions` and `facedown suggest` at the keyboard."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kit.errors import ExitCode
from kit.shell import main
from tests.scanner.results.test_notes_commands import kit_folder, reading

Run = Callable[..., Result]
SAMPLE = Path(__file__).parents[3] / "samples" / "cellar.toml"
MIXED_UP = {"match.A": "3", "match.B": "2", "match.C": "1"}


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.chdir(tmp_path)
    shutil.copy(SAMPLE, tmp_path / "cellar.toml")
    return lambda *arguments: CliRunner().invoke(main, [str(argument) for argument in arguments])


@pytest.fixture
def evening(tmp_path: Path) -> list[Path | str]:
    # The key puts coasters 3, 1, 2 at A, B, C.
    folder = kit_folder(tmp_path / "kit", "K7Q4M2", ["Ines", "Tomas"])
    return ["--kit", folder, reading(tmp_path / "r.json", "K7Q4M2", 2, ({}, MIXED_UP))]


def test_confusions_tell_of_each_taster_and_of_the_table(run: Run, evening: list[Path | str]) -> None:
    result = run("confusions", *evening)
    assert result.exit_code == ExitCode.DONE
    said = " ".join(result.stdout.split())
    assert "Ines 2 of 3 claims took one drink for another" in said
    assert "The table 4 of 6 claims" in said
    assert "Taste next, side by side: Heron Marsh and Slow Tide (taken for one another 4 times in 2 sittings" in said


def test_confusions_of_one_taster_as_json(run: Run, evening: list[Path | str]) -> None:
    result = run("confusions", *evening, "--taster", "Tomas", "--json", "-")
    entry = json.loads(result.stdout)
    assert entry["format"] == "facedown-confusions/1"
    assert [taster["name"] for taster in entry["tasters"]] == ["Tomas"]
    assert entry["tasters"][0]["taken"][0] == {
        "stood": "Heron Marsh",
        "claimed": "Slow Tide",
        "times": 1,
        "by_luck": 1 / 3,
    }
    assert entry["table"]["wrong"] == 4


def test_a_suggestion_without_any_sitting_says_what_it_supposes(run: Run) -> None:
    result = run("suggest", "cellar.toml")
    assert result.exit_code == ExitCode.DONE
    assert "Pour next" in result.stdout
    assert "nothing is known yet" in " ".join(result.stdout.split())
    assert "[[pours]]" in result.stdout


def test_a_suggestion_from_an_evening_names_its_tasters(run: Run, evening: list[Path | str]) -> None:
    result = run("suggest", "cellar.toml", *evening, "--glasses", "4", "--level", "50-70", "--json", "-")
    assert result.exit_code == ExitCode.DONE
    entry = json.loads(result.stdout)
    assert entry["format"] == "facedown-suggestion/1"
    assert [taster["name"] for taster in entry["tasters"]] == ["Ines", "Tomas"]
    assert len(entry["flight"]) == 4
    assert entry["level"] == [0.5, 0.7]


def test_an_ability_that_is_told_takes_the_place_of_sittings(run: Run) -> None:
    shares = {}
    for ability in ("2", "4.5"):
        entry = json.loads(run("suggest", "cellar.toml", "--ability", ability, "--json", "-").stdout)
        shares[ability] = len(entry["flight"])
    assert shares == {"2": 3, "4.5": 5}


def test_a_cellar_drink_that_may_be_one_of_the_sittings_is_asked_about(run: Run, evening: list[Path | str]) -> None:
    Path("near.csv").write_text("name,abv\nHeron Marsch,15\nGull Rock,16\nOld Jetty,18\n", "utf-8")
    said = " ".join(run("suggest", "near.csv", *evening).stdout.split())
    assert 'Is "Heron Marsch" the "Heron Marsh" of earlier sittings?' in said


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (("nowhere.toml",), ExitCode.REFUSED, "nowhere.toml: there is no such file"),
        (("bad.csv",), ExitCode.REFUSED, 'bad.csv: line 2, abv: found "x"; a number alone'),
        (("cellar.toml", "--for", "100"), ExitCode.REFUSED, "has 0 sound drinks with 7500 ml left"),
        (("cellar.toml", "--level", "75-60"), ExitCode.USAGE, "one number or two from 20 to 100"),
        (("cellar.toml", "--level", "much"), ExitCode.USAGE, "one number or two from 20 to 100"),
        (("cellar.toml", "--glasses", "2-6"), ExitCode.USAGE, "one number or two from 3 to 5"),
        (("cellar.toml", "--ability", "1"), ExitCode.USAGE, "--ability"),
        (("cellar.toml", "--ability", "nan"), ExitCode.USAGE, "--ability"),
        (("cellar.toml", "--pour-ml", "nan"), ExitCode.USAGE, "found nan; a number is allowed"),
        (("cellar.toml", "--pour-ml", "0"), ExitCode.USAGE, "--pour-ml"),
        (("cellar.toml", "--taster", "Ines"), ExitCode.USAGE, "READING"),
        (("cellar.toml", "r.json"), ExitCode.USAGE, "--kit"),
        (("cellar.toml", "--json", "cellar.toml"), ExitCode.USAGE, "would overwrite what is to be read"),
        ((), ExitCode.USAGE, "CELLAR"),
    ],
)
def test_bad_input_is_refused_in_a_sentence(run: Run, arguments: tuple[str, ...], status: ExitCode, said: str) -> None:
    Path("bad.csv").write_text("name,abv\nA,x\n", "utf-8")
    result = run("suggest", *arguments)
    assert result.exit_code == status
    assert said in " ".join(result.stderr.split())
    assert "Traceback" not in result.stderr
