"""What `list` and `show` tell, in words and as JSON; and typing at a terminal."""

from __future__ import annotations

import json
import os
import pty
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kit.shell import main
from scanner.archive.database import archive_at
from scanner.archive.readings import typed_sittings
from tests.scanner.archive.pile import KIT


def facedown(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def test_the_list_and_its_json_say_the_same(filled: Path) -> None:
    listed = json.loads(facedown("archive", "list", "--archive", filled, "--json", "-").output)
    [sitting] = listed["sittings"]
    assert sitting == {
        "sitting": KIT,
        "date": "2026-12-05",
        "title": "First flight of winter",
        "glasses": 5,
        "entered_by": "kit",
        "tasters": 8,
        "sheets": 6,
        "left_to_look_at": 1,
    }
    assert listed["totals"]["left_to_look_at"] == 2  # the conflict, and the page that is too dark
    line = next(line for line in facedown("archive", "list", "--archive", filled).output.splitlines() if KIT in line)
    assert line.split() == [KIT, "2026-12-05", "First", "flight", "of", "winter", "5", "8", "6", "1"]


def test_a_sheet_is_shown_with_every_picture_of_it(filled: Path) -> None:
    shown = facedown("archive", "show", "--archive", filled, f"{KIT.lower()}-0007-3").output
    assert "kofi-match.jpg, page 1: counts, scan" in shown
    assert "other.jpg, page 1: conflict, scan" in shown
    assert "match.A" in shown


@pytest.mark.parametrize(
    ("what", "words"),
    [
        (KIT, ["First flight of winter", "Kofi", f"{KIT}-0007-1", "superseded"]),
        ("kofi", ["Kofi (kofi), 1 sitting", "2026-12-05"]),
        ("Kofi", ["Kofi (kofi), 1 sitting"]),
        ("gull-rock", ["Gull Rock, junmai, in 1 sitting"]),
        ("Gull Rock", ["Gull Rock, junmai, in 1 sitting"]),
    ],
)
def test_a_sitting_a_taster_and_a_drink_are_found_by_id_or_name(filled: Path, what: str, words: list[str]) -> None:
    answer = facedown("archive", "show", "--archive", filled, what)
    assert answer.exit_code == 0
    assert not [word for word in words if word not in answer.output]


def test_what_is_not_there_is_said(filled: Path) -> None:
    answer = facedown("archive", "show", "--archive", filled, "Sakura")
    assert (answer.exit_code, "nothing in the archive is named 'Sakura'" in answer.output) == (4, True)


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminal")
@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
def test_an_old_result_is_typed_at_a_terminal(folder: Path) -> None:
    answers = ["2025-11-02", "ines", "", "3", "", "", "", "3", "1", "0", "3", "2", "1"]
    child, terminal = pty.fork()
    if child == 0:
        os.execv(sys.executable, [sys.executable, "-m", "kit.shell", "enter", "--archive", str(folder)])
    os.write(terminal, "".join(f"{answer}\n" for answer in answers).encode())
    told = b""
    while True:
        try:
            part = os.read(terminal, 4096)
        except OSError:
            break
        if not part:
            break
        told += part
    os.close(terminal)
    _, status = os.waitpid(child, 0)
    assert (status, b"entered  1 of 3" in told) == (0, True), told.decode()
    with archive_at(folder) as archive:
        [sitting] = typed_sittings(archive)
    assert (sitting.claims, sitting.truth) == ((3, 1, None), (3, 2, 1))


def test_without_a_terminal_and_a_file_typing_is_wrong_usage(folder: Path) -> None:
    assert facedown("enter", "--archive", folder).exit_code == 2
