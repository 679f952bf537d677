"""What boxes are called, on English sheets and on others; both are said where a person has a sheet at hand."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

from kit.shell import main
from scanner.archive.database import archive_at
from scanner.archive.kits import add_kit, kits_of
from scanner.archive.readings import readings_of
from scanner.box_names import box_name, field_name, printed_on
from scanner.pile import left_to_look_at
from scanner.reading import Mark, Outcome, PageReading, Reading, State
from tests.scanner.reports.club import Evening, evening, session_toml

JAPANESE = printed_on("sake", "ja")
NOW = "2026-12-05T20:00:00+00:00"


@pytest.fixture
def japanese(tmp_path: Path) -> tuple[Evening, Path]:
    """Return an evening with Japanese sheets, and an archive that has its kit."""
    one = evening(tmp_path / "kit", session_toml(("Heron Marsh", "Gull Rock", "Old Jetty"), ["Ines"], language="ja"))
    with archive_at(tmp_path / "archive", write=True, create=True) as archive:
        add_kit(archive, one.folder, NOW)
    return one, tmp_path / "archive"


@pytest.mark.parametrize(
    ("field", "option", "name"),
    [
        ("words.2", "pear", "glass 2, the word pear (洋梨)"),
        ("scale.acidity.B", "4", "glass B, acidity (酸味), step 4"),
        ("match.A", "3", "place A, claim 3"),
        ("words.1", "a word of no list", "glass 1, the word a word of no list"),
    ],
)
def test_a_japanese_box_is_named_as_the_reading_and_as_the_sheet_has_it(field: str, option: str, name: str) -> None:
    assert box_name(field, option, JAPANESE) == name
    assert field_name("scale.acidity.B", JAPANESE) == "glass B, acidity (酸味)"


def test_english_sheets_and_lists_that_are_not_installed_have_no_second_name() -> None:
    assert printed_on("sake", "en") == printed_on("mead", "ja") == printed_on("sake", "xx") == {}


def test_what_is_left_of_a_japanese_sheet_has_both_names(japanese: tuple[Evening, Path]) -> None:
    _, folder = japanese
    with archive_at(folder) as archive:
        [kit] = kits_of(archive).values()
    page = PageReading(
        "a.jpg",
        1,
        kit.id,
        f"{kit.id}-0001-1",
        1,
        "notes-1",
        Outcome.READ,
        None,
        (Mark("words.1", "pear", State.DOUBTFUL),),
    )
    [left] = left_to_look_at(Reading((page,)), {kit.id: kit.printed})
    assert left.what == "glass 1, the word pear (洋梨)"


def test_a_japanese_sheet_is_typed_in_by_either_word(
    japanese: tuple[Evening, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    one, folder = japanese
    monkeypatch.setattr("scanner.commands.enter.sys", SimpleNamespace(stdin=SimpleNamespace(isatty=lambda: True)))
    sheet = f"{one.kit.id}-0001-1"
    with archive_at(folder) as archive:
        fields = list(dict.fromkeys(box.field for box in kits_of(archive)[one.kit.id].sheets[sheet].marks))
    answers = [{"words.1": "洋梨、りんご", "words.2": "pear, 米"}.get(field, "") for field in fields]
    result = CliRunner().invoke(
        main, ["enter", "--archive", str(folder), "--sheet", sheet], input="\n".join(answers) + "\n"
    )
    assert result.exit_code == 0, result.output
    assert "pear (洋梨)" in result.output
    assert "glass 1, acidity (酸味)" in result.output
    with archive_at(folder) as archive:
        _, reading = readings_of(archive)
    marked = {(mark.field, mark.option) for mark in reading.pages[0].marks if mark.state is State.MARKED}
    assert marked == {("words.1", "pear"), ("words.1", "apple"), ("words.2", "pear"), ("words.2", "rice")}
