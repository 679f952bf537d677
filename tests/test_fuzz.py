"""A small fixed share of every door's fuzzing, and that the fuzzer finds what is wrong."""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest

from kit.errors import FacedownError, KitError, ReadingError, StorageError
from kit.keys import checked_key
from kit.sheet_layout import from_json
from scanner.archive.database import archive_at
from scanner.archive.readings import typed_sittings
from scanner.archive.rows import change
from scanner.settle import load_answers
from tests.fuzz import archive_doors, good, trial
from tests.fuzz.doors import Door, doors
from tests.fuzz.mutate import of_bytes, of_json, of_text

SHARE = {"layout": 10, "reading": 25, "archive-rows": 10, "archive-file": 10, "locked-kit": 25, "bag": 10}


@pytest.mark.parametrize("name", list(doors()))
def test_no_case_of_a_door_s_share_gives_a_traceback_or_hangs(name: str, tmp_path: Path) -> None:
    tally = trial.run_cases(name, SHARE.get(name, 40), 1, tmp_path)
    assert tally.findings == {}
    assert tally.cases == SHARE.get(name, 40)


@pytest.mark.parametrize("name", list(doors()))
def test_every_door_takes_its_good_files(name: str, tmp_path: Path) -> None:
    door = doors()[name]
    take = door.opened(tmp_path)
    for content in door.seeds():
        take(content)


@pytest.mark.parametrize(
    ("wrong", "found"),
    [("raise ValueError", "ValueError at tests"), ("wait", "hang"), ("refuse", "a refusal without a sentence")],
)
def test_the_fuzzer_finds_what_is_wrong_with_a_door(
    wrong: str, found: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def take(content: bytes) -> None:
        match wrong:
            case "raise ValueError":
                raise ValueError
            case "wait":
                while True:
                    pass
            case _:
                raise FacedownError("")

    door = Door("wrong", lambda: [b"good"], of_bytes, lambda folder: take, seconds=0.2)
    monkeypatch.setattr(trial, "door_named", lambda name: door)
    tally = trial.run_cases("wrong", 2, 1, tmp_path)
    assert [(what.split(":")[0], count) for what, count in tally.findings.items()] == [(found, 2)]
    assert not tally.is_clean


@pytest.mark.parametrize(
    ("wrong", "found"),
    [
        ("scanner.review.web.next_after", "a page says that the program failed"),
        ("scanner.review.guard.Guard.refusal", "a stranger is let in"),
    ],
)
def test_the_door_of_the_second_look_tells_failures_and_strangers_let_in(
    wrong: str, found: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def nothing(*_: object) -> None:
        if "next_after" in wrong:
            raise ZeroDivisionError

    door = doors()["review"]
    _, doubt, *_ = door.seeds()
    take = door.opened(tmp_path)
    stranger = doubt.replace(b"127.0.0.1", b"example.org")
    take(doubt)
    take(stranger)
    monkeypatch.setattr(wrong, nothing)
    with pytest.raises(AssertionError, match=found):
        take(doubt if "next_after" in wrong else stranger)


def test_the_same_seed_gives_the_same_cases_and_another_seed_others() -> None:
    good = b'{"a": [1, 2, {"b": "text"}], "c": null}'
    for mutation in (of_json, of_text, of_bytes):
        first, again, other = ([mutation(good, random.Random(f"{s}|{n}")) for n in range(20)] for s in (1, 1, 2))
        assert first == again != other


@pytest.mark.parametrize("value", ["9" * 5000, "[" * 2000 + "]" * 2000])
def test_answers_with_endless_numbers_or_nesting_are_refused(value: str, tmp_path: Path) -> None:
    # Found by the door "settle": ValueError and RecursionError out of tomllib.
    path = tmp_path / "answers.toml"
    path.write_text(f"[[settle]]\nsheet = {value}\n", "utf-8")
    with pytest.raises(ReadingError, match="it cannot be read"):
        load_answers(path)


def test_a_seal_that_no_text_can_hold_is_refused() -> None:
    # Found by the door "kit": UnicodeEncodeError at a lone surrogate.
    with pytest.raises(KitError, match="is not the one that was sealed"):
        checked_key("K7Q4M2", 1, 3, (3, 1, 2), bytes(16), "\ud800")


@pytest.mark.parametrize("value", ["40", float("nan"), float("inf"), -1, 1e9, True, None, []])
def test_a_box_that_is_nowhere_on_a_page_is_refused_with_the_layout(value: object) -> None:
    entry = json.loads(good.kit_files()[1])
    entry["pages"][0]["marks"][0]["x_mm"] = value
    with pytest.raises(ValueError, match="no place on a page"):
        from_json(entry)


@pytest.mark.parametrize(("column", "value"), [("claims", "0.5"), ("claims", "["), ("truth", "{}")])
def test_a_typed_result_that_is_none_is_said_to_be_damage(column: str, value: str, tmp_path: Path) -> None:
    # Found by the door "archive-rows": AttributeError, ValueError and KeyError.
    folder = archive_doors.archive_in(tmp_path)
    with archive_at(folder, write=True) as archive:
        change(archive.connection, "results", 1, **{column: value})
        with pytest.raises(StorageError, match="what facedown never writes"):
            typed_sittings(archive)
