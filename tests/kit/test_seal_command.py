"""`facedown seal` on real files: the seal codes listed, keys held against them, nothing opened."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from kit.errors import ExitCode
from kit.keys import grouped
from kit.shell import main
from tests.kit import samples
from tests.kit.kept import lay_down, truth_of

PRINTED = samples.printed(4)
WAYS = ("masked", "passphrase", "paper")


def seal(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, ["seal", *map(str, arguments)])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    lay_down(PRINTED, tmp_path / "kit", "paper")
    return tmp_path / "kit"


def keys_file(path: Path, edit: Callable[[dict[str, Any]], object] = lambda entry: None) -> Path:
    """Write the kit's keys as `facedown unseal --json` does, edited."""
    keys = [
        {"taster": key.taster, "places": dict(key.places), "salt": key.salt, "seal": key.seal}
        for key in truth_of(PRINTED)
    ]
    entry = {"format": "facedown-key/1", "kit": PRINTED.kit.id, "keys": keys}
    edit(entry)
    path.write_text(json.dumps(entry), "utf-8")
    return path


@pytest.mark.parametrize("kept", WAYS)
def test_the_seal_codes_are_listed_whatever_way_the_keys_are_kept(tmp_path: Path, kept: str) -> None:
    lay_down(PRINTED, tmp_path / "kit", kept)
    result = seal(tmp_path / "kit")
    assert result.exit_code == ExitCode.DONE
    for name, code in zip(samples.NAMES, PRINTED.kit.seals, strict=True):
        assert any(name in line and grouped(code) in line for line in result.stdout.splitlines())
    for key in truth_of(PRINTED):
        assert key.salt not in result.stdout
    assert "sealed" not in "".join(result.stdout.splitlines()[1:]), "nobody gave a key"


@pytest.mark.parametrize("kept", WAYS)
def test_the_keys_that_were_sealed_are_known_again(tmp_path: Path, kept: str) -> None:
    lay_down(PRINTED, tmp_path / "kit", kept)
    result = seal(tmp_path / "kit", "--key", keys_file(tmp_path / "key.json"))
    assert result.exit_code == ExitCode.DONE
    assert result.stdout.count("the key that was sealed") == 3
    assert "NOT" not in result.stdout


def test_a_changed_key_is_named_and_the_others_are_not(folder: Path, tmp_path: Path) -> None:
    def swap(entry: dict[str, Any]) -> None:
        places = entry["keys"][1]["places"]
        places["A"], places["B"] = places["B"], places["A"]

    result = seal(folder, "--key", keys_file(tmp_path / "key.json", swap))
    assert result.exit_code == ExitCode.REFUSED
    lines = [line for line in result.stdout.splitlines() if "the key that was sealed" in line]
    assert ["NOT the key" in line for line in lines] == [False, True, False]


def test_the_json_says_the_same(folder: Path, tmp_path: Path) -> None:
    def change(entry: dict[str, Any]) -> None:
        entry["keys"][0]["salt"] = "00" * 16
        del entry["keys"][2]

    key = keys_file(tmp_path / "key.json", change)
    result = seal(folder, "--key", key, "--json", "-")
    assert result.exit_code == ExitCode.REFUSED
    entry = json.loads(result.stdout)
    assert (entry["format"], entry["kit"], entry["keys_kept"]) == ("facedown-seals/1", PRINTED.kit.id, "paper")
    assert [(one["taster"], one["seal"], one["is_sealed_key"]) for one in entry["seals"]] == list(
        zip((1, 2, 3), PRINTED.kit.seals, (False, True, None), strict=True)
    )
    beside = seal(folder, "--key", key, "--json", tmp_path / "seals.json")
    assert json.loads((tmp_path / "seals.json").read_text("utf-8")) == entry
    assert "NOT the key" in beside.stdout


@pytest.mark.parametrize("order", ["{}", "{} ", "{},", "{}-"], ids=["run together", "blanks", "commas", "dashes"])
def test_a_key_typed_from_the_sheet_is_checked(folder: Path, order: str) -> None:
    key = truth_of(PRINTED)[1]
    typed = "".join(order.format(number) for number in key.places.values()).rstrip(" ,-")
    spaced = " ".join(key.salt[first : first + 8] for first in range(0, 32, 8))
    result = seal(folder, "--taster", "2", "--order", typed, "--salt", spaced.upper())
    assert result.exit_code == ExitCode.DONE
    assert "the key that was sealed" in result.stdout
    other = seal(folder, "--taster", "1", "--order", typed, "--salt", key.salt)
    assert other.exit_code == ExitCode.REFUSED
    assert "NOT the key that was sealed" in other.stdout


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        (("9", "1234", "0" * 32), "a number from 1 to 3"),
        (("1", "1233", "0" * 32), '--order "1233": each of the numbers 1 to 4 once, from place A on'),
        (("1", "123", "0" * 32), "each of the numbers 1 to 4 once"),
        (("1", "12345678987654321", "0" * 32), "each of the numbers 1 to 4 once"),
        (("1", "ABCD", "0" * 32), "each of the numbers 1 to 4 once, from place A on"),
        (("1", "1234", "0" * 31), f'--salt "{"0" * 31}": 32 digits 0 to 9 and a to f'),
        (("1", "1234", "g" * 32), "32 digits 0 to 9 and a to f"),
    ],
)
def test_what_cannot_be_a_key_is_refused_in_a_sentence(folder: Path, typed: tuple[str, ...], sentence: str) -> None:
    taster, order, salt = typed
    result = seal(folder, "--taster", taster, "--order", order, "--salt", salt)
    assert result.exit_code == ExitCode.REFUSED
    assert sentence in result.stderr


def test_half_a_typed_key_is_wrong_usage(folder: Path) -> None:
    assert seal(folder, "--taster", "1", "--order", "1234").exit_code == ExitCode.USAGE
    assert seal(folder, "--salt", "00").exit_code == ExitCode.USAGE


@pytest.mark.parametrize(
    ("edit", "sentence"),
    [
        (lambda entry: entry.update(kit="K7Q4M2"), 'its keys are of kit "K7Q4M2"'),
        (lambda entry: entry.update(format="facedown-scores/1"), "facedown-key/1 or facedown-reading/1 is allowed"),
        (lambda entry: entry.update(format=["facedown-key/1"]), "is allowed"),
        (lambda entry: entry.pop("keys"), "a list of objects is allowed"),
        (lambda entry: entry.update(keys=[3]), "a list of objects is allowed"),
        (lambda entry: entry["keys"][0].pop("places"), "each of the numbers 1 to 4 once"),
        (lambda entry: entry["keys"][0]["places"].update(A=True), "each of the numbers 1 to 4 once"),
        (lambda entry: entry["keys"][0]["places"].update(E=5), "each of the numbers 1 to 4 once"),
        (lambda entry: entry["keys"][0].update(taster="1"), "a number from 1 to 3"),
        (lambda entry: entry["keys"][0].update(taster=True), "a number from 1 to 3"),
        (lambda entry: entry["keys"][0].update(salt=None), "32 digits"),
    ],
)
def test_a_file_that_holds_no_such_keys_is_refused(
    folder: Path, tmp_path: Path, edit: Callable[[dict[str, Any]], object], sentence: str
) -> None:
    result = seal(folder, "--key", keys_file(tmp_path / "key.json", edit))
    assert result.exit_code == ExitCode.REFUSED
    assert sentence in result.stderr
    assert "key.json" in result.stderr


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b"\xff", b"[" * 100_000])
def test_a_broken_file_is_refused_in_a_sentence(folder: Path, tmp_path: Path, content: bytes) -> None:
    (tmp_path / "key.json").write_bytes(content)
    result = seal(folder, "--key", tmp_path / "key.json")
    assert result.exit_code == ExitCode.REFUSED
    assert "key.json: it " in result.stderr


def test_a_file_that_is_not_there_is_refused(folder: Path, tmp_path: Path) -> None:
    result = seal(folder, "--key", tmp_path / "nowhere.json")
    assert result.exit_code == ExitCode.REFUSED
    assert "there is no such file" in result.stderr


def test_a_file_without_any_key_of_the_kit_leaves_something_to_look_at(folder: Path, tmp_path: Path) -> None:
    reading = tmp_path / "reading.json"
    reading.write_text(json.dumps({"format": "facedown-reading/1", "pages": [], "turned": [], "opened": []}))
    result = seal(folder, "--key", reading)
    assert result.exit_code == ExitCode.LOOK
    assert f"no key of kit {PRINTED.kit.id} is in " in result.stderr


def test_a_hand_sitting_has_nothing_sealed(tmp_path: Path) -> None:
    lay_down(samples.printed(3, "A4", "hand"), tmp_path / "kit")
    result = seal(tmp_path / "kit")
    assert result.exit_code == ExitCode.REFUSED
    assert "nothing is sealed" in result.stderr
