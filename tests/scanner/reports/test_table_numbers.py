"""The numbers of the table's sheet: against published counts, and what is not told while keys are sealed."""

from __future__ import annotations

from dataclasses import asdict, replace
from itertools import permutations
from pathlib import Path
from typing import Any

import pytest

from kit.keys import OpenedKey
from kit.record import load_kit, opened_keys
from kit.sheet_layout import KitLayout
from kit.sheets import form_layouts
from scanner.reading_json import load_reading
from scanner.reports.csv_safe import csv_bytes
from scanner.reports.table_numbers import TableSheet, table_sheets
from scanner.reports.table_rows import HEADING, rows, to_json
from scanner.reports.table_together import MOST_DRINKS, together
from scanner.results.gather import Gathered, gather
from scanner.score import scores
from scanner.what_stood import Sitting
from tests.scanner.reports.club import DRINKS, TASTERS, Evening, evening, session_toml, year
from tests.scanner.reports.test_table_charts import RENCONTRES

NAMES = tuple(DRINKS)


def sitting_of(made: Evening, keys: tuple[OpenedKey, ...] | None = None) -> Sitting:
    kit = load_kit(made.folder)
    layout = KitLayout(kit.id, tuple(form_layouts(kit)))
    return Sitting(kit.id, kit.session, layout, opened_keys(kit) if keys is None else keys)


def both(*made: Evening, keys: tuple[OpenedKey, ...] | None = None) -> tuple[tuple[TableSheet, ...], Gathered]:
    sittings = [sitting_of(one, keys) for one in made]
    readings = {one.reading.name: load_reading(one.reading) for one in made}
    gathered = gather(sittings, readings)
    return table_sheets(scores(sittings, readings), gathered, list(readings.values())), gathered


def sheet_of(made: Evening, keys: tuple[OpenedKey, ...] | None = None) -> TableSheet:
    (sheet,), _ = both(made, keys=keys)
    return sheet


@pytest.mark.parametrize("glasses", [3, 4, 5])
def test_luck_is_the_matching_distribution_where_no_number_repeats(tmp_path: Path, glasses: int) -> None:
    sheet = sheet_of(evening(tmp_path / "kit", session_toml(NAMES[:glasses])))
    keys = sum(RENCONTRES[glasses])
    assert [bar.by_luck for bar in sheet.counts] == pytest.approx([8 * n / keys for n in RENCONTRES[glasses]])
    # A guesser has one right on average, however many glasses (the matching distribution's mean; DESIGN.md).
    assert sheet.expected_by_luck == pytest.approx(8.0)
    assert sum(bar.tasters for bar in sheet.counts) == sheet.counted == 8
    assert sum(bar.correct * bar.tasters for bar in sheet.counts) == sheet.correct


def test_lines_cells_and_rows_tell_the_same_claims(tmp_path: Path) -> None:
    sheet = sheet_of(evening(tmp_path / "kit", session_toml(NAMES[:5]), right=[5, 2, 1, 0, 3, 2, 1, 5]))
    assert [line.correct for line in sheet.tasters] == [5, 2, 1, 0, 3, 2, 1, 5]
    assert sheet.grid is not None
    for stood in range(5):
        taken = [line.taken_for[stood] for line in sheet.tasters if line.taken_for]
        assert [taken.count(claimed) for claimed in range(1, 6)] == list(sheet.grid.times[stood])
        assert sheet.drinks[stood].right == sheet.grid.times[stood][stood]
    fewest = min(drink.right or 0 for drink in sheet.drinks)
    assert sheet.hardest == tuple(drink.coaster for drink in sheet.drinks if drink.right == fewest)
    # Every number is claimed once by each of eight: luck puts 8/5 of them on each drink.
    assert sheet.grid.by_luck == pytest.approx([8 / 5] * 5)


def test_all_right_leaves_no_drink_hard_and_one_taster_too_little(tmp_path: Path) -> None:
    everybody = sheet_of(evening(tmp_path / "all", session_toml(NAMES[:3]), right=[3] * 8))
    assert everybody.hardest == ()
    alone = sheet_of(evening(tmp_path / "one", session_toml(NAMES[:3], ["Ines"]), right=[1]))
    assert alone.hardest is None
    assert not any(drink.enough or drink.shared for drink in alone.drinks)


def test_blank_claims_are_counted_and_luck_has_none_of_them(tmp_path: Path) -> None:
    sheet = sheet_of(evening(tmp_path / "kit", session_toml(NAMES[:3], TASTERS[:2]), right=[None, 3]))
    assert sheet.tasters[0].taken_for == (None, None, None)
    assert sheet.grid is not None
    assert sheet.grid.blank == (1, 1, 1)
    assert sheet.expected_by_luck == pytest.approx(1.0)
    # Who claims nothing has none right for certain.
    assert sheet.counts[0].by_luck == pytest.approx(1 + 2 / 6)


def test_words_stand_by_how_many_said_them(tmp_path: Path) -> None:
    sheet = sheet_of(evening(tmp_path / "kit", session_toml(NAMES[:3]), habit=0.95))
    for drink in sheet.drinks:
        said = [times for _, times in drink.words]
        assert said == sorted(said, reverse=True)
        assert all(2 * times > drink.noted_by for times in said[: drink.shared])
        assert all(2 * times <= drink.noted_by for times in said[drink.shared :])
        assert set(DRINKS[drink.name][2]) <= {word for word, _ in drink.words}


def test_missing_sheets_and_doubts_stand_with_their_taster(tmp_path: Path) -> None:
    made = evening(
        tmp_path / "kit",
        session_toml(NAMES[:3]),
        skip=lambda taster, role: (taster, role) in ((2, "notes-1"), (4, "match")),
        doubtful=[7],
    )
    sheet = sheet_of(made)
    assert sheet.tasters[1].missing == ("notes-1",)
    assert (sheet.tasters[3].status, sheet.tasters[3].correct) == ("no match", None)
    assert (sheet.tasters[6].status, sheet.tasters[6].taken_for) == ("so far", None)
    assert sheet.counted == 6
    assert [(one.kind, one.who, one.about) for one in sheet.waiting] == [("claim", TASTERS[6], "A")]
    # The total has Mirela's two settled claims, so luck's expectation has them too.
    assert sheet.expected_by_luck == pytest.approx(6 + 2 / 3)


@pytest.mark.parametrize("keys", ["shared", "balanced"])
def test_a_sealed_key_leaves_nothing_that_tells_it(tmp_path: Path, keys: str) -> None:
    toml = session_toml(NAMES[:3], TASTERS[:4], keys=keys)
    made = evening(tmp_path / "kit", toml, right=[3, 1, 0, 3], skip=lambda taster, role: (taster, role) == (2, "match"))
    (sheet,), gathered = both(made)
    assert sheet.hidden
    assert (sheet.grid, sheet.hardest, sheet.counts, sheet.correct) == (None, None, (), None)
    assert all(line.taken_for is None and line.correct is None for line in sheet.tasters)
    assert [line.status for line in sheet.tasters] == ["sealed", "no match", "sealed", "sealed"]
    assert together(gathered, {sheet.kit}) is None
    # Whatever the key, the sheet is the same.
    for order in permutations((1, 2, 3)):
        places = dict(zip("ABC", order, strict=True))
        other = tuple(OpenedKey(number, places, "00", "S") for number in range(1, 5))
        assert sheet_of(made, other) == sheet


def test_a_shared_key_hides_what_stood_where_while_a_claim_is_unsettled(tmp_path: Path) -> None:
    toml = session_toml(NAMES[:3], TASTERS[:4], keys="shared")
    made = evening(tmp_path / "kit", toml, right=[3, 1, 0, 3], doubtful=[2])
    sheet = sheet_of(made)
    assert sheet.hidden
    assert (sheet.grid, sheet.hardest) == (None, None)
    assert all(line.taken_for is None for line in sheet.tasters)
    assert all(drink.right is None for drink in sheet.drinks)
    # Counts are told, as `facedown score` tells them; words are those of round one, whatever the key.
    assert [line.correct for line in sheet.tasters][2:] == [0, 3]
    key = opened_keys(load_kit(made.folder))[0].places
    turned = dict(zip("ABC", (*[*key.values()][1:], key["A"]), strict=True))
    other = sheet_of(made, tuple(OpenedKey(number, turned, "00", "S") for number in range(1, 5)))
    assert [drink.words for drink in other.drinks] == [drink.words for drink in sheet.drinks]


def test_all_sittings_together_leave_out_what_is_hidden(tmp_path: Path) -> None:
    made = year(tmp_path, 4, TASTERS[:3])
    sheets, gathered = both(*made)
    whole = together(gathered, ())
    assert whole is not None
    assert (whole.kits, whole.sittings, whole.of) == (4, 12, 48)
    assert whole.correct == sum(sheet.correct or 0 for sheet in sheets)
    assert whole.expected_by_luck == pytest.approx(12.0)
    assert len(whole.drinks) <= MOST_DRINKS
    less = together(gathered, {sheets[0].kit})
    assert less is not None
    assert sheets[0].kit not in less.kit_ids
    assert less.correct == whole.correct - (sheets[0].correct or 0)
    if len(whole.drinks) == whole.of_drinks:
        assert sum(n or 0 for row in whole.times for n in row) == 48
        assert sum(whole.times[at][at] or 0 for at in range(len(whole.drinks))) == whole.correct


def test_one_sitting_has_nothing_together(tmp_path: Path) -> None:
    _, gathered = both(evening(tmp_path / "kit", session_toml(NAMES[:3])))
    assert together(gathered, ()) is None


def test_csv_has_every_number_of_the_json(tmp_path: Path) -> None:
    made = year(tmp_path, 2, TASTERS[:3])
    sheets, gathered = both(*made)
    whole = together(gathered, ())
    told = list(rows(sheets, whole))
    assert csv_bytes(HEADING, told).count(b"\r\n") == len(told) + 1
    values = [row[-1] for row in told]
    for number in _numbers(to_json(sheets, whole, ())["sittings"][0]["grid"]):
        assert number in values
    for line in sheets[0].tasters:
        mine = {row[2]: row[-1] for row in told if row[0] == sheets[0].kit and row[3] == line.name}
        assert (mine["correct"], mine["of"], mine["chance_at_least"]) == (line.correct, line.of, line.chance_at_least)


def test_names_that_begin_a_formula_are_defused_in_csv(tmp_path: Path) -> None:
    sheet = sheet_of(evening(tmp_path / "kit", session_toml(NAMES[:3], ["Ines"])))
    line = replace(sheet.tasters[0], name="=SUM(A1)")
    content = csv_bytes(HEADING, rows([replace(sheet, tasters=(line,))], None)).decode()
    assert '"\'=SUM(A1)"' in content
    assert '"=SUM' not in content
    assert asdict(line)["name"] == "=SUM(A1)"


def _numbers(entry: Any) -> list[float]:
    if isinstance(entry, dict):
        return [number for value in entry.values() for number in _numbers(value)]
    if isinstance(entry, list | tuple):
        return [number for value in entry for number in _numbers(value)]
    return [entry] if isinstance(entry, int | float) else []
