"""Erasing a taster: nothing in the folder names or shows them any more; the scores stay, as nobody's."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kit.record import load_kit, opened_keys
from kit.shell import main
from scanner.archive.database import archive_at
from scanner.archive.readings import readings_of
from scanner.archive.store import kit_folder, original_path
from tests.scanner.archive.pile import KIT, Pile


def facedown(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


@pytest.fixture
def erased(folder: Path) -> Path:
    answer = facedown("archive", "erase", "--archive", folder, "--yes", "kofi")
    assert answer.exit_code == 0, answer.output
    return folder


def bytes_with(folder: Path, word: bytes) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file() and word in path.read_bytes()]


def test_before_erasing_the_name_is_there(folder: Path) -> None:
    assert {path.name for path in bytes_with(folder, b"Kofi")} == {"archive.sqlite3", "kit.json"}


def test_no_file_holds_the_name_or_the_id_any_more(erased: Path) -> None:
    assert bytes_with(erased, b"Kofi") == []
    assert bytes_with(erased, b"kofi") == []


def test_the_title_of_a_typed_result_names_nobody_any_more(folder: Path, tmp_path: Path) -> None:
    result = 'date = 2026-03-01\ntaster = "kofi"\nname = "Kofi"\ntitle = "For KOFI at sixty"\n'
    places = "claims = {A = 1, B = 2, C = 3}\ntruth = {A = 1, B = 3, C = 2}\n"
    (tmp_path / "old.toml").write_text(f"[[results]]\n{result}{places}", "utf-8")
    assert facedown("enter", "--archive", folder, tmp_path / "old.toml").exit_code == 0
    assert facedown("archive", "erase", "--archive", folder, "--yes", "kofi").exit_code == 0
    assert "For erased at sixty" in facedown("archive", "list", "--archive", folder).output
    assert not [path for path in folder.rglob("*") if path.is_file() and b"kofi" in path.read_bytes().lower()]
    assert facedown("archive", "verify", "--archive", folder).exit_code == 0


def test_originals_and_handwriting_are_gone_and_others_stay(erased: Path, filled: Path) -> None:
    with archive_at(filled) as archive:
        rows = archive.connection.execute(
            "SELECT DISTINCT digest, suffix, sheets.taster FROM originals JOIN sheets ON original = digest"
        ).fetchall()
    for row in rows:
        assert original_path(erased, row["digest"], row["suffix"]).exists() is (row["taster"] != 7)
    with archive_at(erased) as archive:
        left = archive.connection.execute(
            "SELECT DISTINCT sheets.taster FROM cutouts JOIN sheets ON sheets.id = cutouts.sheet"
        ).fetchall()
    assert [taster for (taster,) in left] == [8]


def test_verify_passes_and_the_key_is_still_the_one_that_was_sealed(erased: Path, pile: Pile) -> None:
    assert facedown("archive", "verify", "--archive", erased).exit_code == 0
    kit = load_kit(kit_folder(erased, KIT))
    assert opened_keys(kit) == opened_keys(load_kit(pile.kit))
    assert kit.session.tasters[6].name == "Taster 7 (erased)"
    assert kit.session.tasters[7].name == "Ada Lindqvist"


def test_the_scores_stay_as_those_of_nobody(erased: Path, filled: Path) -> None:
    before, after = (
        json.loads(facedown("score", "--archive", folder, "--json", "-").stdout)["tasters"][6]
        for folder in (filled, erased)
    )
    assert (before["name"], after["name"]) == ("Kofi", "Taster 7 (erased)")
    assert {key: before[key] for key in ("claims", "truth", "correct")} == {
        key: after[key] for key in ("claims", "truth", "correct")
    }


def test_nothing_brings_an_erased_taster_back(erased: Path, pile: Pile) -> None:
    told = {Path(one.source).name: one.what for one in pile.add(erased)}
    assert told["kofi-match.jpg"] == "refused"
    assert told["ada-match.heic"] == "there already"
    assert bytes_with(erased, b"Kofi") == []
    answer = facedown("archive", "erase", "--archive", erased, "--yes", "kofi")
    assert (answer.exit_code, "no taster is named" in answer.output) == (4, True)


def test_readings_of_the_others_are_the_same(erased: Path, filled: Path) -> None:
    adas = []
    for place in (erased, filled):
        with archive_at(place) as archive:
            adas.append([page for page in readings_of(archive)[1].pages if page.taster == 8])
    assert adas[0] == adas[1] != []


def test_erasing_asks_first(folder: Path) -> None:
    answer = facedown("archive", "erase", "--archive", folder, "kofi")
    assert (answer.exit_code, "--yes" in answer.output) == (2, True)
    assert bytes_with(folder, b"Kofi")
