"""The second look over a pipe and in a terminal: the same queue, the same keys."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from kit.shell import main
from scanner.archive.database import archive_at
from scanner.review.blocks import SHADES, block_picture
from scanner.review.desk import queue_of


def review(folder: Path, *lines: str, options: tuple[str, ...] = ()) -> Result:
    words = ["review", "--archive", str(folder), "--terminal", "--by", "rhian", *options]
    return CliRunner().invoke(main, words, input="".join(f"{line}\n" for line in lines))


def settled(folder: Path) -> list[str | None]:
    with archive_at(folder) as archive:
        return [row[0] for row in archive.connection.execute("SELECT after FROM settlements ORDER BY id")]


def test_one_letter_a_line_settles_everything(folder: Path) -> None:
    answer = review(folder, "y", "n", "t", "2", "1", "2 3 1")
    assert answer.exit_code == 0
    assert settled(folder) == ["marked", "empty", "withdrawn", "empty", "marked", "withdrawn", "2 3 1"]
    assert "6 settled, 0 left" in answer.output


def test_it_shows_the_picture_its_file_the_reason_and_the_keys(folder: Path) -> None:
    output = review(folder, "q").output
    for words in ("1 of 6", "Glass 1, the word apple", "the stroke is faint", "y Yes", "t Taken back", "w whole sheet"):
        assert words in output
    path = Path(output.split("Cut-out: ")[1].splitlines()[0])
    assert path.is_file()
    assert path.suffix == ".png"
    assert any(len(line) > 20 and set(line) <= set(SHADES + "┌┐└┘") for line in output.splitlines())


def test_ended_or_broken_off_it_keeps_what_was_answered_and_says_what_is_left(folder: Path) -> None:
    assert review(folder, "y", "q").exit_code == 3
    answer = review(folder, "n")
    assert (answer.exit_code, "1 settled, 4 left" in answer.output) == (3, True)
    assert settled(folder) == ["marked", "empty"]


def test_undo_skip_and_what_is_no_key(folder: Path) -> None:
    output = review(folder, "x", "u", "y", "u", "s", "w", "q").output
    for words in ("One of the keys", "nothing to undo", "Undone", "2 of 6", "Whole sheet: "):
        assert words in output
    assert settled(folder) == ["marked", None]


def test_skipped_ones_are_not_asked_for_ever(folder: Path) -> None:
    answer = review(folder, *"ssssss")
    assert (answer.exit_code, "0 settled, 6 left" in answer.output) == (3, True)


def test_handwriting_is_typed_line_by_line(folder: Path) -> None:
    answer = review(folder, "plum, then smoke", "-", "s", "q", options=("--handwriting",))
    assert answer.exit_code == 3
    with archive_at(folder) as archive:
        texts = [row[0] for row in archive.connection.execute("SELECT text FROM handwriting ORDER BY id")]
    assert texts == ["plum, then smoke", ""]


def test_nothing_left_is_said_at_once(folder: Path) -> None:
    review(folder, "y", "n", "t", "2", "1", "1")
    with archive_at(folder) as archive:
        assert queue_of(archive) == ()
    assert review(folder).exit_code == 0


@pytest.mark.parametrize(("height", "width"), [(83, 83), (20, 200), (300, 10), (1, 1)])
def test_block_pictures_keep_within_their_room_and_their_shape(height: int, width: int) -> None:
    gray = np.full((height, width), 255, np.uint8)
    for colours in (False, True):
        lines = block_picture(gray, 40, 12, box=(0, 0, width, height), colours=colours)
        assert 1 <= len(lines) <= 12
        assert all(line.count("▀") <= 40 for line in lines)


def test_ink_is_dark_paper_is_blank_and_the_box_has_corners() -> None:
    gray = np.full((80, 80), 255, np.uint8)
    gray[30:50, 30:50] = 0
    lines = block_picture(gray, 40, 20, box=(20, 20, 40, 40), colours=False)
    assert lines[10][20] == SHADES[0]
    assert lines[0] == ""
    assert [lines[4][9], lines[4][31], lines[16][9], lines[16][31]] == list("┌┐└┘")
    coloured = block_picture(gray, 40, 20, box=(20, 20, 40, 40), colours=True)
    assert "38;5;232;48;5;232m▀" in coloured[10]
    assert coloured[0].startswith("\x1b[38;5;255;48;5;255m▀")


def test_ink_shows_on_a_dim_photograph_too() -> None:
    gray = np.full((80, 80), 110, np.uint8)
    gray[30:50, 30:50] = 80
    lines = block_picture(gray, 40, 20, box=(20, 20, 40, 40), colours=False)
    assert (lines[10][20], lines[0]) == (SHADES[0], "")
