"""`facedown new`, through the shell and on real files."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from kit.commands.new import session_file_text
from kit.errors import ExitCode
from kit.session import PAPERS, SHUFFLES, Paper, Shelf, Shuffle, load_session, session_from_toml
from kit.shell import main

DAY = datetime.date(2026, 12, 5)


@pytest.mark.parametrize("drink", ["sake", "a-drink-of-long-name"])
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("shuffle", SHUFFLES)
@pytest.mark.parametrize("glasses", [3, 4, 5])
def test_the_file_is_itself_a_right_session(glasses: int, shuffle: Shuffle, paper: Paper, drink: str) -> None:
    text = session_file_text(drink, glasses, shuffle, paper, DAY)
    session = session_from_toml(text, "new.toml", Shelf((drink,), ("en",)))
    assert (session.drink, session.glasses, session.shuffle, session.paper) == (drink, glasses, shuffle, paper)
    assert session.date == DAY
    assert session.seed is None
    assert "seed" not in text
    assert len(session.tasters) in {2, 3}
    assert all(pour.id and pour.look == "clear" for pour in session.pours)


@pytest.mark.parametrize("shuffle", SHUFFLES)
@pytest.mark.parametrize("glasses", [3, 4, 5])
def test_what_it_offers_in_comments_is_the_default(glasses: int, shuffle: Shuffle) -> None:
    text = session_file_text("sake", glasses, shuffle, "A4", DAY)
    offers = [line.removeprefix("# ") for line in text.splitlines() if line.startswith("# ") and " = " in line]
    keys = [offer.split()[0] for offer in offers if not offer.startswith("For posted")]
    common = ["minutes", "pour_ml", "language"]
    assert (
        keys
        == {
            "host": ["keys", "coasters", *common],
            "hand": ["coasters", *common],
            "twin": [*common, "vial_ml", "loss_percent"],
        }[shuffle]
    )
    shelf = Shelf(("sake",), ("en",))
    taken = "\n".join(
        line.removeprefix("# ") if line.removeprefix("# ") in offers and "For posted" not in line else line
        for line in text.splitlines()
    )
    assert session_from_toml(taken, "taken", shelf) == session_from_toml(text, "left", shelf)


@pytest.mark.parametrize("shuffle", SHUFFLES)
def test_another_language_stands_in_the_file(shuffle: Shuffle) -> None:
    text = session_file_text("sake", 3, shuffle, "A4", DAY, "ja")
    session = session_from_toml(text, "new.toml", Shelf(("sake",), ("en", "ja")))
    assert session.language == "ja"
    assert replace(session, language="en") == session_from_toml(
        session_file_text("sake", 3, shuffle, "A4", DAY), "new.toml", Shelf(("sake",), ("en",))
    )


def test_a_language_without_words_is_wrong_usage(tmp_path: Path) -> None:
    result = CliRunner().invoke(main, ["new", str(tmp_path / "first.toml"), "--language", "xx"])
    assert result.exit_code == 2
    assert "no printed words in 'xx'; there are in en, ja" in result.stderr


def test_kits_by_post_say_where_and_until_when_sheets_are_sent() -> None:
    session = session_from_toml(session_file_text("sake", 3, "twin", "A4", DAY), "new.toml", Shelf(("sake",), ("en",)))
    assert session.send_to
    assert session.send_by == datetime.date(2026, 12, 19)


@pytest.mark.parametrize("shuffle", SHUFFLES)
def test_no_line_is_too_wide_for_an_editor(shuffle: Shuffle) -> None:
    text = session_file_text("sake", 5, shuffle, "Letter", DAY)
    assert max(map(len, text.splitlines())) <= 110


def test_the_command_writes_todays_session_and_check_takes_it(tmp_path: Path) -> None:
    file = tmp_path / "first.toml"
    before = datetime.date.today()
    result = CliRunner().invoke(main, ["new", str(file), "--glasses", "4", "--shuffle", "twin", "--paper", "Letter"])
    assert result.exit_code == ExitCode.DONE
    assert result.stdout == ""
    assert "facedown check" in result.stderr
    session = load_session(file)
    assert (session.glasses, session.shuffle, session.paper, session.drink) == (4, "twin", "Letter", "sake")
    assert before <= session.date <= datetime.date.today()
    assert CliRunner().invoke(main, ["check", str(file)]).exit_code == ExitCode.DONE


def test_a_file_that_is_there_is_written_over_only_by_force(tmp_path: Path) -> None:
    file = tmp_path / "first.toml"
    file.write_text("mine")
    refused = CliRunner().invoke(main, ["new", str(file)])
    assert refused.exit_code == ExitCode.REFUSED
    assert "there already" in refused.stderr
    assert file.read_text() == "mine"
    assert CliRunner().invoke(main, ["new", str(file), "--force"]).exit_code == ExitCode.DONE
    assert load_session(file).glasses == 3


def test_a_link_that_leads_nowhere_counts_as_there(tmp_path: Path) -> None:
    (tmp_path / "link.toml").symlink_to(tmp_path / "elsewhere.toml")
    assert CliRunner().invoke(main, ["new", str(tmp_path / "link.toml")]).exit_code == ExitCode.REFUSED
    assert not (tmp_path / "elsewhere.toml").exists()


def test_a_folder_that_is_missing_is_the_disks_refusal(tmp_path: Path) -> None:
    result = CliRunner().invoke(main, ["new", str(tmp_path / "none" / "first.toml")])
    assert result.exit_code == ExitCode.STORAGE
    assert "Make the folder first" in result.stderr


@pytest.mark.parametrize(
    "options",
    [
        ["--glasses", "2"],
        ["--glasses", "6"],
        ["--glasses", "three"],
        ["--shuffle", "robot"],
        ["--paper", "A5"],
        ["--drink", "lemonade"],
        ["--drink", "../words/en"],
        ["--seed", "1"],
    ],
)
def test_wrong_options_are_wrong_usage(options: list[str], tmp_path: Path) -> None:
    file = tmp_path / "first.toml"
    result = CliRunner().invoke(main, ["new", str(file), *options])
    assert result.exit_code == ExitCode.USAGE
    assert not file.exists()
