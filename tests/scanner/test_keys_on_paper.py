"""`facedown score` for kits whose keys are on paper, or locked: opened key sheets that were read, or the passphrase."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kit.chance_source import SeededChance
from kit.commands.ask_passphrase import VARIABLE
from kit.errors import ExitCode, ReadingError
from kit.keys import seal_key
from kit.record import Kit
from kit.shell import main
from scanner.keys_on_paper import keys_from_readings
from scanner.reading import OpenedReading, Outcome, Reading, TurnedReading, to_json
from tests.kit.kept import PASSPHRASE, as_kept, record_files
from tests.scanner.test_score import KEYS, KIT, full, match, sitting

SALTS = (bytes(range(16)), bytes(range(16, 32)))
Score = Callable[..., Result]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Score:
    monkeypatch.delenv(VARIABLE, raising=False)

    def score(*arguments: str | Path) -> Result:
        return CliRunner().invoke(main, ["score", *map(str, arguments)])

    return score


def kit(kept: str = "paper") -> Kit:
    """Return the kit of `tests.scanner.test_score`, its keys kept in that way."""
    sealed = tuple(
        seal_key(KIT, number, tuple(key.values()), salt, SeededChance(1))
        for number, (key, salt) in enumerate(zip(KEYS, SALTS, strict=True), start=1)
    )
    return as_kept(Kit(KIT, sitting().session, b"secret", sealed), kept)


def kit_folder(folder: Path, kept: str = "paper") -> Path:
    folder.mkdir()
    for name, content in record_files(kit(kept), sitting().layout).items():
        (folder / name).write_bytes(content)
    return folder


def key_sheet(taster: int) -> OpenedReading:
    key, salt = KEYS[taster - 1], SALTS[taster - 1]
    return OpenedReading("keys.pdf", taster, KIT, taster, Outcome.READ, None, key, salt.hex())


def evening(*opened: OpenedReading) -> Reading:
    return replace(full(match(1, "3,2,1"), match(2, "1,3,2")), opened=opened)


def write(file: Path, reading: Reading) -> Path:
    file.write_text(json.dumps(to_json(reading)), "utf-8")
    return file


def entry_of(result: Result) -> dict[str, list[dict[str, object]]]:
    entry: dict[str, list[dict[str, object]]] = json.loads(result.stdout)
    return entry


def test_opened_key_sheets_tell_what_stood_where(run: Score, tmp_path: Path) -> None:
    folder = kit_folder(tmp_path / "kit")
    result = run("--kit", folder, write(tmp_path / "r.json", evening(key_sheet(1), key_sheet(2))))
    assert result.exit_code == ExitCode.DONE
    assert "by the opened key sheets that were read; each key matches its seal code" in result.stdout
    assert "1 of 3; a guesser" in result.stdout
    assert "3 of 3; a guesser" in result.stdout


def test_sheets_and_keys_may_come_in_several_readings(run: Score, tmp_path: Path) -> None:
    folder = kit_folder(tmp_path / "kit")
    readings = [
        write(tmp_path / "claims.json", evening()),
        write(tmp_path / "key-1.json", Reading((), (), (key_sheet(1),))),
        write(tmp_path / "key-2.json", Reading((), (), (key_sheet(2), key_sheet(1)))),
    ]
    result = run("--kit", folder, "--json", "-", *readings)
    assert result.exit_code == ExitCode.DONE
    assert [taster["correct"] for taster in entry_of(result)["tasters"]] == [1, 3]
    assert [taster["truth_from"] for taster in entry_of(result)["tasters"]] == ["key", "key"]


def test_a_missing_key_sheet_leaves_that_taster_unknown(run: Score, tmp_path: Path) -> None:
    folder = kit_folder(tmp_path / "kit")
    result = run("--kit", folder, "--json", "-", write(tmp_path / "r.json", evening(key_sheet(2))))
    assert result.exit_code == ExitCode.LOOK
    first, second = entry_of(result)["tasters"]
    assert (first["truth"], first["correct"], first["sentence"]) == (
        None,
        None,
        "not scored: what stood where is not known",
    )
    assert second["correct"] == 3
    assert f"Ines (taster 1 of kit {KIT}): the key is on paper alone" in result.stderr
    assert f"{KIT}-0001-5" in result.stderr
    assert "Tomas" not in result.stderr


def test_nobody_waits_for_the_key_of_one_who_was_absent(run: Score, tmp_path: Path) -> None:
    folder = kit_folder(tmp_path / "kit")
    reading = replace(full(match(2, "1,3,2")), opened=(key_sheet(2),))
    result = run("--kit", folder, "--absent", "1", write(tmp_path / "r.json", reading))
    assert result.exit_code == ExitCode.DONE
    assert "on paper alone" not in result.stdout


def test_a_row_of_coasters_alone_does_not_stand_in_for_a_missing_key(run: Score, tmp_path: Path) -> None:
    """In a host sitting it only checks that the glasses stood as the key says."""
    row = TurnedReading("row.jpg", 1, KIT, 1, Outcome.READ, None, (3, 1, 2))
    reading = replace(evening(key_sheet(2)), turned=(row,))
    result = run("--kit", kit_folder(tmp_path / "kit"), "--json", "-", write(tmp_path / "r.json", reading))
    assert result.exit_code == ExitCode.LOOK
    assert entry_of(result)["tasters"][0]["truth"] is None


@pytest.mark.parametrize(
    "change",
    [
        {"places": {"A": 1, "B": 3, "C": 2}},
        {"places": {"A": 3, "B": 1}},
        {"places": {"A": 3, "B": 3, "C": 2}},
        {"places": {"A": 3, "B": 1, "C": 2, "D": 4}},
        {"salt": SALTS[1].hex()},
        {"salt": "no salt"},
        {"taster": 2},
        {"taster": 3},
    ],
)
@pytest.mark.parametrize("kept", ["masked", "paper"])
def test_a_key_that_was_changed_in_the_reading_is_refused(
    run: Score, tmp_path: Path, kept: str, change: dict[str, object]
) -> None:
    """By whoever wrote the reading anew; each is held against the seal once more."""
    reading = evening(replace(key_sheet(1), **change))  # type: ignore[arg-type]
    result = run("--kit", kit_folder(tmp_path / "kit", kept), write(tmp_path / "r.json", reading))
    assert result.exit_code == ExitCode.REFUSED
    assert "r.json: keys.pdf, page 1" in result.stderr
    assert result.stdout == ""


def test_a_key_sheet_that_was_refused_is_left_to_look_at(run: Score, tmp_path: Path) -> None:
    torn = replace(key_sheet(1), outcome=Outcome.UNREADABLE, reason="it is torn", places=None, salt=None)
    result = run("--kit", kit_folder(tmp_path / "kit"), write(tmp_path / "r.json", evening(torn, key_sheet(2))))
    assert result.exit_code == ExitCode.LOOK
    assert "keys.pdf, page 1: unreadable: it is torn" in result.stdout
    assert "the key is on paper alone" in result.stdout


def test_a_locked_kit_is_scored_with_its_passphrase(
    run: Score, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, reading = kit_folder(tmp_path / "kit", "passphrase"), write(tmp_path / "r.json", evening())
    (tmp_path / "words").write_text(PASSPHRASE)
    by_file = run("--kit", folder, "--passphrase-file", tmp_path / "words", reading)
    assert by_file.exit_code == ExitCode.DONE
    assert "by the sealed keys; each key matches its seal code" in by_file.stdout
    monkeypatch.setenv(VARIABLE, PASSPHRASE)
    assert run("--kit", folder, reading).stdout == by_file.stdout
    monkeypatch.setenv(VARIABLE, "wrong")
    wrong = run("--kit", folder, reading)
    assert wrong.exit_code == ExitCode.REFUSED
    assert "is not the one that kit" in wrong.stderr


def test_a_locked_kit_without_its_passphrase_is_refused_unless_its_key_sheets_were_read(
    run: Score, tmp_path: Path
) -> None:
    folder = kit_folder(tmp_path / "kit", "passphrase")
    refused = run("--kit", folder, write(tmp_path / "r.json", evening()))
    assert refused.exit_code == ExitCode.REFUSED
    assert "are locked with a passphrase" in refused.stderr
    opened = run("--kit", folder, write(tmp_path / "o.json", evening(key_sheet(1), key_sheet(2))))
    assert opened.exit_code == ExitCode.DONE


def test_keys_come_in_taster_order_and_of_this_kit_alone() -> None:
    readings = {"r.json": Reading((), (), (key_sheet(2), replace(key_sheet(1), kit="000000"), key_sheet(1)))}
    assert [(key.taster, key.places) for key in keys_from_readings(kit(), readings)] == [(1, KEYS[0]), (2, KEYS[1])]
    with pytest.raises(ReadingError, match="not the key that was sealed"):
        keys_from_readings(replace(kit(), sealed=kit().sealed[::-1]), readings)
