"""Turned coasters in the archive: kept like sheets, waiting for their kit, and of the evening that was named."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from scanner.archive.database import archive_at
from scanner.archive.readings import readings_of
from scanner.archive.settlements import settle, take_back_settlement
from scanner.archive.verify import verify
from scanner.reading import TurnedReading
from scanner.settle import RowAnswer
from tests.scanner.archive.pile import NOW
from tests.scanner.test_row_sittings import facedown, photograph_of, printed_kit


def rows_in(folder: Path) -> tuple[TurnedReading, ...]:
    with archive_at(folder) as archive:
        return readings_of(archive)[1].turned


def truth(folder: Path) -> Any:
    return json.loads(facedown("score", "--archive", folder, "--json", "-").stdout)["tasters"][0]["truth"]


def test_a_photograph_of_a_row_waits_for_its_kit_and_a_person_s_word_on_it_counts(tmp_path: Path) -> None:
    kit, archive = printed_kit(tmp_path, "hand"), tmp_path / "archive"
    photograph = photograph_of(kit, (3, 1, 2), tmp_path / "row.jpg")
    early = facedown("archive", "add", "--archive", archive, photograph)
    assert (early.exit_code, "it waits for its kit" in early.output) == (3, True)
    assert "1 photographs of turned coasters wait" in facedown("archive", "list", "--archive", archive).output
    later = facedown("archive", "add", "--archive", archive, "--kit", kit)
    assert (later.exit_code, "row.jpg, page 1  read" in later.output) == (0, True), later.output
    [row] = rows_in(archive)
    assert (row.order, row.by, row.source) == ((3, 1, 2), None, "row.jpg")
    with archive_at(archive, write=True) as opened:
        assert settle(opened, [RowAnswer(row.kit or "", 1, (1, 2, 3))], "rhian", NOW) == ()
    assert (rows_in(archive)[0].order, rows_in(archive)[0].by) == ((1, 2, 3), "person")
    assert truth(archive) is None
    (tmp_path / "claims.toml").write_text(f'[[sheets]]\nsheet = "{row.kit}-0001-3"\n', "utf-8")
    assert facedown("enter", "--archive", archive, tmp_path / "claims.toml").exit_code == 0
    assert truth(archive) == {"A": 1, "B": 2, "C": 3}
    with archive_at(archive, write=True) as opened:
        assert take_back_settlement(opened, f"{row.kit}-0001", "row", "", "rhian", NOW)
        assert verify(opened).faults == ()
    assert rows_in(archive)[0].order == (3, 1, 2)


def test_house_coasters_are_those_of_the_kit_that_was_named(tmp_path: Path) -> None:
    archive = tmp_path / "archive"
    kits = [printed_kit(tmp_path, "hand", "house"), tmp_path / "second"]
    house = json.loads((kits[0] / "kit.json").read_text("utf-8"))["session"]["house"]
    session = (tmp_path / "session.toml").read_text("utf-8")
    (tmp_path / "second.toml").write_text(f'house = "{house}"\n{session}', "utf-8")
    assert facedown("print", tmp_path / "second.toml", "--out", kits[1]).exit_code == 0
    assert facedown("archive", "add", "--archive", archive, "--kit", kits[0], "--kit", kits[1]).exit_code == 0
    photographs = [
        photograph_of(kits[1], (2, 3, 1), tmp_path / "row.jpg"),
        photograph_of(kits[0], (1, 3, 2), tmp_path / "b.jpg"),
    ]
    unnamed = facedown("archive", "add", "--archive", archive, photographs[0])
    assert (unnamed.exit_code, "house coasters do not say" in unnamed.output) == (3, True)
    ids = [json.loads((kit / "kit.json").read_text("utf-8"))["kit"] for kit in kits]
    named = facedown("archive", "add", "--archive", archive, "--kit", ids[0], photographs[1])
    assert named.exit_code == 0, named.output
    [row] = rows_in(archive)
    assert (row.kit, row.order) == (ids[0], (1, 3, 2))
    # The one that was refused is read again, now that its kit is named.
    assert facedown("archive", "add", "--archive", archive, "--kit", ids[1], photographs[0]).exit_code == 0
    assert {row.kit: row.order for row in rows_in(archive)} == {ids[0]: (1, 3, 2), ids[1]: (2, 3, 1)}
    assert facedown("archive", "verify", "--archive", archive).exit_code == 0
