"""What `archive show TASTER` says of scanned sheets: what `score` says, or nothing."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from kit.chance_source import SeededChance
from kit.keys import seal_key
from kit.record import KeysKept, Kit, kept_on_paper, kept_with_passphrase
from kit.session import Keys
from kit.shell import main
from scanner.archive.database import archive_at, transaction
from scanner.archive.facts import put_sheet, relate
from scanner.archive.kits import add_kit
from scanner.archive.rows import insert
from scanner.archive.settlements import settle
from scanner.reading import Outcome, PageReading, PictureReading, State, TurnedReading
from scanner.score import scores
from scanner.settle import BoxAnswer
from tests.kit.kept import record_files
from tests.scanner.archive.pile import KIT as SAMPLE_KIT
from tests.scanner.archive.pile import NOW
from tests.scanner.test_score import KEYS, KIT, full, match, sitting, turned


def kit_folder(folder: Path, shuffle: str, keys: Keys = "own", kept: KeysKept = "masked") -> Path:
    made = sitting(shuffle)
    sealed = tuple(
        seal_key(KIT, number, tuple(key.values()), bytes(16), SeededChance(1)) for number, key in enumerate(KEYS, 1)
    )
    kit = Kit(KIT, replace(made.session, keys=keys), b"secret", () if shuffle == "hand" else sealed)
    if kept != "masked":
        kit = kept_on_paper(kit) if kept == "paper" else kept_with_passphrase(kit, "grey heron", SeededChance(2))
    folder.mkdir()
    for name, content in record_files(kit, made.layout).items():
        (folder / name).write_bytes(content)
    return folder


def archived(place: Path, kit: Path, *pictures: PictureReading, answers: tuple[BoxAnswer, ...] = ()) -> Path:
    """Return an archive of the kit and of these pictures, each from a file of its own."""
    with archive_at(place / "archive", write=True, create=True) as archive:
        add_kit(archive, kit, NOW)
        with transaction(archive) as connection:
            insert(connection, "piles", id="pile", added_at=NOW)
            for number, picture in enumerate(pictures):
                digest = f"{number:064x}"
                file = {"digest": digest, "suffix": ".jpg", "bytes": 1, "name": f"{number}.jpg", "pile": "pile"}
                insert(connection, "originals", **file, added_at=NOW)
                put_sheet(connection, digest, picture, NOW)
                if isinstance(picture, PageReading) and picture.sheet is not None:
                    relate(connection, picture.sheet)
        if answers:
            settle(archive, list(answers), "rhian", NOW)
    return place / "archive"


def shown(archive: Path, taster: str) -> list[dict[str, Any]]:
    answer = CliRunner().invoke(main, ["archive", "show", "--archive", str(archive), taster, "--json", "-"])
    assert answer.exit_code == 0, answer.output
    [one] = json.loads(answer.stdout)["sittings"]
    return list(one["results"])


def row(taster: int, *order: int) -> TurnedReading:
    return TurnedReading("row.jpg", 1, KIT, taster, Outcome.READ, None, order)


CASES: list[tuple[str, tuple[PictureReading, ...], int | None]] = [
    ("host", (match(1, "3,1,2"),), 3),
    ("host", (match(1, "3,3,-"),), 1),
    ("host", (match(1, "-,-,-"),), 0),
    ("host", (match(1, "3,?1,2"),), None),
    ("host", (match(1, "3,1 2,2"),), None),
    ("host", (match(1, "3,1,2"), match(1, "3,2,1")), None),
    ("host", (match(1, "3,1,2"), match(1, "3,1,2")), 3),
    ("host", (match(2, "3,1,2"),), None),
    ("host", (match(1, "3,1,2"), row(1, 3, 1, 2)), 3),
    ("host", (match(1, "3,1,2"), row(1, 1, 3, 2)), None),
    ("twin", (match(1, "3,2,1"),), 1),
    ("hand", (match(1, "2,1,3"),), None),
    ("hand", (match(1, "2,1,3"), row(1, 2, 3, 1)), 1),
    ("hand", (match(1, "2,1,3"), turned(1, "2,1,3")), 3),
    ("hand", (match(1, "2,1,3"), turned(1, "2,1,-")), None),
    ("hand", (match(1, "2,1,3"), turned(1, "2,1,-"), row(1, 2, 1, 3)), 3),
    ("hand", (match(1, "2,1,3"), turned(1, "2,1,1")), None),
    ("hand", (match(1, "2,1,3"), turned(1, "2,1,3"), row(1, 2, 3, 1)), None),
    ("hand", (match(1, "2,1,3"), row(1, 2, 3, 1), row(1, 2, 1, 3)), None),
]


@pytest.mark.parametrize(("shuffle", "pictures", "correct"), CASES)
def test_a_scanned_result_is_the_one_that_score_has(
    tmp_path: Path, shuffle: str, pictures: tuple[PictureReading, ...], correct: int | None
) -> None:
    archive = archived(tmp_path, kit_folder(tmp_path / "kit", shuffle), *pictures)
    results = shown(archive, "Ines")
    assert [result["correct"] for result in results] == ([] if correct is None else [correct])
    assert [result["entered_by"] for result in results] == ["scan"] * (correct is not None)
    pages = [picture for picture in pictures if isinstance(picture, PageReading)]
    rows = tuple(picture for picture in pictures if isinstance(picture, TurnedReading))
    score = scores([sitting(shuffle)], {"r.json": replace(full(*pages), turned=rows)}).tasters[0].score
    assert correct == (score.correct if score.chance_at_least is not None else None)


def test_of_more_sittings_than_are_told_the_latest_are_and_it_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    archive = archived(tmp_path, kit_folder(tmp_path / "kit", "host"), match(1, "3,1,2"))
    asked = ["archive", "show", "--archive", str(archive), "Ines"]
    assert "3 of 3" in CliRunner().invoke(main, asked).stdout
    monkeypatch.setattr("scanner.archive.outcomes.LATEST", 0)
    said = CliRunner().invoke(main, asked).stdout
    assert "3 of 3" not in said
    assert "results of scanned sheets for the latest 0, of all by facedown score --archive" in said


def test_what_a_person_settled_counts(tmp_path: Path) -> None:
    kit = kit_folder(tmp_path / "kit", "host")
    answer = BoxAnswer(f"{KIT}-0001-3", "match.B", "1", State.MARKED)
    archive = archived(tmp_path, kit, match(1, "3,?1,2"), answers=(answer,))
    assert [result["correct"] for result in shown(archive, "Ines")] == [3]


@pytest.mark.parametrize("kept", ["passphrase", "paper"])
def test_no_key_that_is_locked_or_on_paper_is_told_by_a_result(tmp_path: Path, kept: KeysKept) -> None:
    assert shown(archived(tmp_path, kit_folder(tmp_path / "kit", "host", kept=kept), match(1, "3,1,2")), "Ines") == []


@pytest.mark.parametrize("keys", ["shared", "balanced"])
def test_no_key_that_tells_of_others_is_opened_before_all_claims_are_in(tmp_path: Path, keys: Keys) -> None:
    kit = kit_folder(tmp_path / "kit", "host", keys)
    assert shown(archived(tmp_path, kit, match(1, "3,1,2")), "Ines") == []
    (tmp_path / "all").mkdir()
    archive = archived(tmp_path / "all", kit, match(1, "3,1,2"), match(2, "1,3,2"))
    assert [result["correct"] for result in shown(archive, "Ines")] == [3]


def test_a_damaged_record_leaves_the_result_blank(tmp_path: Path) -> None:
    archive = archived(tmp_path, kit_folder(tmp_path / "kit", "host"), match(1, "3,1,2"))
    record = archive / "kits" / KIT / "kit.json"
    for content in (b"{", b"[]", b'{"keys": [{"seal": "x", "nonce": "00", "masked": "AAAA"}]}'):
        record.write_bytes(content)
        assert shown(archive, "Ines") == []
    record.unlink()
    assert shown(archive, "Ines") == []


def test_the_sample_sheets_have_their_result(filled: Path) -> None:
    """Ada's claims are read, Kofi's two pictures of his are in conflict."""
    scored = CliRunner().invoke(main, ["score", "--archive", str(filled), "--json", "-"])
    correct = {one["name"]: one["correct"] for one in json.loads(scored.stdout)["tasters"]}
    [ada] = shown(filled, "ada")
    assert (ada["correct"], ada["of"]) == (correct["Ada Lindqvist"], 5)
    assert shown(filled, "kofi") == []
    told = CliRunner().invoke(main, ["archive", "show", "--archive", str(filled), "ada"]).stdout
    assert f"{ada['correct']} of 5" in told
    assert SAMPLE_KIT in told
