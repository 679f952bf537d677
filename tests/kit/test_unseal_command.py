"""`facedown unseal`, through the shell and on real files."""

from __future__ import annotations

import json
import re
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner, Result

from kit.commands.ask_passphrase import VARIABLE
from kit.errors import ExitCode
from kit.keys import seal_code
from kit.shell import main
from tests.kit import samples
from tests.kit.kept import PASSPHRASE, lay_down, printed_with, truth_of
from tests.kit.test_record import laid_down, rewrite


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, ["unseal", *map(str, arguments)])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return laid_down(samples.printed(5), tmp_path / "kit")


def test_the_keys_are_shown_with_names_and_seals(folder: Path) -> None:
    result = run(folder)
    assert result.exit_code == ExitCode.DONE
    lines = result.stdout.splitlines()
    assert lines[0] == f"Kit {samples.printed(5).kit.id}, First flight of winter: every key matches its seal code."
    for line, name in zip(lines[1:], samples.NAMES, strict=True):
        found = re.fullmatch(rf"  {name} *  A (\d)  B (\d)  C (\d)  D (\d)  E (\d)   seal ([0-9A-Z]{{4}}-?){{4}}", line)
        assert found, line
        assert sorted(found.groups()[:5]) == ["1", "2", "3", "4", "5"]


def test_the_json_is_that_of_the_format(folder: Path, tmp_path: Path) -> None:
    """FORMATS, section 5."""
    result = run(folder, "--json", tmp_path / "key.json")
    assert result.exit_code == ExitCode.DONE
    entry = json.loads((tmp_path / "key.json").read_text("utf-8"))
    assert list(entry) == ["format", "kit", "keys"]
    assert (entry["format"], entry["kit"]) == ("facedown-key/1", samples.printed(5).kit.id)
    assert [key["taster"] for key in entry["keys"]] == [1, 2, 3]
    printed_seals = [key["seal"] for key in samples.printed(5).record["keys"]]
    for key, printed_seal in zip(entry["keys"], printed_seals, strict=True):
        assert set(key) == {"taster", "places", "salt", "seal"}
        assert list(key["places"]) == list("ABCDE")
        assert sorted(key["places"].values()) == [1, 2, 3, 4, 5]
        order = tuple(key["places"].values())
        assert seal_code(entry["kit"], key["taster"], order, bytes.fromhex(key["salt"])) == key["seal"] == printed_seal


def test_what_a_person_reads_and_the_json_agree(folder: Path) -> None:
    text = run(folder).stdout
    on_stdout = run(folder, "--json", "-")
    assert on_stdout.exit_code == ExitCode.DONE
    for key in json.loads(on_stdout.stdout)["keys"]:
        assert "  ".join(f"{place} {number}" for place, number in key["places"].items()) in text


def test_a_hand_sitting_has_no_key_to_unseal(tmp_path: Path) -> None:
    result = run(laid_down(samples.printed(3, "A4", "hand"), tmp_path / "kit"))
    assert result.exit_code == ExitCode.REFUSED
    assert "a hand sitting has no key" in result.stderr
    assert "turned sheets" in result.stderr


def test_a_key_that_was_changed_is_refused_though_the_record_is_signed_again(folder: Path) -> None:
    def swap(entry: dict[str, list[dict[str, str]]]) -> None:
        first, second, *_ = entry["keys"]
        for part in ("seal", "nonce", "masked"):
            first[part], second[part] = second[part], first[part]

    rewrite(folder / "kit.json", swap, sign=True)
    result = run(folder)
    assert result.exit_code == ExitCode.REFUSED
    assert "The key of taster 1" in result.stderr
    assert "not the one that was sealed" in result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize("damage", ["no folder", "no record", "edited", "not JSON"])
def test_a_folder_that_is_no_kit_is_refused(folder: Path, tmp_path: Path, damage: str) -> None:
    if damage == "no folder":
        folder = tmp_path / "nowhere"
    elif damage == "no record":
        (folder / "kit.json").unlink()
    elif damage == "edited":
        rewrite(folder / "kit.json", lambda entry: entry["keys"].pop())
    else:
        (folder / "kit.json").write_text("{")
    result = run(folder, "--json", tmp_path / "key.json")
    assert result.exit_code == ExitCode.REFUSED
    assert result.stderr.startswith("facedown: ")
    assert not (tmp_path / "key.json").exists()


def test_a_json_file_that_cannot_be_written_is_the_disks_refusal(folder: Path, tmp_path: Path) -> None:
    result = run(folder, "--json", tmp_path / "nowhere" / "key.json")
    assert result.exit_code == ExitCode.STORAGE
    assert "key.json" in result.stderr
    assert "A " not in result.stdout, "no key is shown by a command that failed"


def test_the_printed_key_sheet_alone_is_enough_to_check_a_seal(folder: Path) -> None:
    """The PDF is not needed to unseal, and forms.pdf not to check: only the record is read."""
    for name in ("forms.pdf", "keys.pdf", "coasters.pdf", "host.pdf", "layout.json"):
        (folder / name).unlink()
    assert run(folder).exit_code == ExitCode.DONE


@pytest.fixture
def locked(tmp_path: Path) -> Path:
    lay_down(samples.printed(5), tmp_path / "locked", "passphrase")
    return tmp_path / "locked"


@pytest.fixture
def on_paper(tmp_path: Path) -> Path:
    lay_down(samples.printed(5), tmp_path / "paper", "paper")
    return tmp_path / "paper"


def test_a_locked_kit_is_opened_by_its_passphrase_from_a_file_or_the_environment(
    locked: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "words.txt").write_bytes(b"\xef\xbb\xbf" + PASSPHRASE.encode() + b"\r\nkeep this safe\n")
    by_file = run(locked, "--passphrase-file", tmp_path / "words.txt")
    assert by_file.exit_code == ExitCode.DONE
    assert "every key matches its seal code" in by_file.stdout
    monkeypatch.setenv(VARIABLE, PASSPHRASE)
    for options in ((), ("--passphrase",)):
        assert run(locked, *options).stdout == by_file.stdout
    # The file that is named goes before the environment.
    (tmp_path / "words.txt").write_text("something else")
    assert run(locked, "--passphrase-file", tmp_path / "words.txt").exit_code == ExitCode.REFUSED


def test_a_passphrase_is_typed_unseen_on_a_terminal(locked: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("kit.commands.ask_passphrase.sys", SimpleNamespace(stdin=SimpleNamespace(isatty=lambda: True)))
    result = CliRunner().invoke(main, ["unseal", str(locked), "--passphrase"], input=PASSPHRASE + "\n")
    assert result.exit_code == ExitCode.DONE
    assert PASSPHRASE not in result.output
    assert f"Passphrase of kit {samples.printed(5).kit.id}" in result.stderr
    empty = CliRunner().invoke(main, ["unseal", str(locked), "--passphrase"], input="\n")
    assert empty.exit_code == ExitCode.REFUSED
    assert "the passphrase is empty" in empty.stderr


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (None, "there is no such file"),
        (b"", "the passphrase is empty"),
        (b"\nsecond line", "the passphrase is empty"),
        (b"\xff\xfe", "cannot be read as text"),
        (b"x" * 5000, "longer than 1024 bytes"),
        (b"wrong", "is not the one that kit"),
    ],
)
def test_a_passphrase_file_that_will_not_do_is_refused(
    locked: Path, tmp_path: Path, words: bytes | None, sentence: str
) -> None:
    if words is not None:
        (tmp_path / "words.txt").write_bytes(words)
    result = run(locked, "--passphrase-file", tmp_path / "words.txt", "--json", tmp_path / "key.json")
    assert result.exit_code == ExitCode.REFUSED
    assert sentence in result.stderr
    assert result.stdout == ""
    assert not (tmp_path / "key.json").exists()


def test_a_locked_kit_without_a_passphrase_says_how_to_give_it(locked: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(VARIABLE, raising=False)
    result = run(locked)
    assert result.exit_code == ExitCode.REFUSED
    assert "--passphrase-file FILE" in result.stderr
    asked = run(locked, "--passphrase")
    assert asked.exit_code == ExitCode.REFUSED
    assert "There is no terminal to ask for the passphrase on" in asked.stderr
    monkeypatch.setenv(VARIABLE, " ")
    assert "the passphrase is empty" in run(locked).stderr


def test_a_kit_that_is_not_locked_needs_none(folder: Path, tmp_path: Path) -> None:
    assert run(folder, "--passphrase").exit_code == ExitCode.DONE
    assert run(folder, "--passphrase-file", tmp_path / "nowhere").exit_code == ExitCode.DONE


def test_keys_on_paper_are_said_to_be_there(on_paper: Path) -> None:
    result = run(on_paper)
    assert result.exit_code == ExitCode.REFUSED
    assert "keeps no keys, only their seal codes" in result.stderr
    assert "`facedown read`" in result.stderr
    assert "--reading" in result.stderr


@pytest.mark.parametrize("which", ["on_paper", "locked", "folder"])
def test_opened_key_sheets_that_were_read_give_the_keys(
    which: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    kit = request.getfixturevalue(which)
    result = run(kit, "--reading", reading_of(tmp_path / "reading.json"), "--json", tmp_path / "key.json")
    assert result.exit_code == ExitCode.DONE
    assert "every key matches its seal code" in result.stdout
    keys = json.loads((tmp_path / "key.json").read_text("utf-8"))["keys"]
    truth = truth_of(samples.printed(5))
    assert [(key["taster"], key["places"], key["salt"], key["seal"]) for key in keys] == [
        (key.taster, key.places, key.salt, key.seal) for key in truth
    ]


def test_a_key_sheet_that_was_not_read_is_named(on_paper: Path, tmp_path: Path) -> None:
    one = reading_of(tmp_path / "one.json", tasters=(3,))
    result = run(on_paper, "--reading", one)
    assert result.exit_code == ExitCode.LOOK
    assert [line for line in result.stderr.splitlines() if "no opened key sheet" in line] == [
        f"facedown: no opened key sheet of {name} (taster {number}) was read."
        for number, name in enumerate(samples.NAMES[:2], start=1)
    ]
    both = run(on_paper, "--reading", one, "--reading", reading_of(tmp_path / "two.json", tasters=(1, 2)))
    assert both.exit_code == ExitCode.DONE


def test_a_key_that_was_changed_in_the_reading_is_refused(on_paper: Path, tmp_path: Path) -> None:
    reading = reading_of(tmp_path / "reading.json")
    rewrite(reading, lambda entry: entry["opened"][1]["places"].update(places_turned(entry["opened"][1]["places"])))
    result = run(on_paper, "--reading", reading)
    assert result.exit_code == ExitCode.REFUSED
    assert f"the key of {samples.NAMES[1]} (taster 2" in result.stderr
    assert "is not the key that was sealed" in result.stderr
    assert result.stdout == ""


def test_refused_key_sheets_and_other_kits_in_a_reading_count_for_nothing(on_paper: Path, tmp_path: Path) -> None:
    reading = reading_of(tmp_path / "reading.json")
    rewrite(
        reading, lambda entry: entry["opened"][0].update(outcome="unreadable", reason="torn", places=None, salt=None)
    )
    rewrite(reading, lambda entry: entry["opened"][1].update(kit="K7Q4M2"))
    result = run(on_paper, "--reading", reading)
    assert result.exit_code == ExitCode.LOOK
    assert "taster 1" in result.stderr
    assert "taster 2" in result.stderr


@pytest.mark.parametrize("keys", ["shared", "balanced"])
def test_no_key_that_tells_of_anothers_is_opened_before_somebody_says_that_all_claims_are_in(
    tmp_path: Path, keys: Any
) -> None:
    lay_down(printed_with(keys), tmp_path / "kit")
    result = run(tmp_path / "kit", "--json", tmp_path / "key.json")
    assert result.exit_code == ExitCode.REFUSED
    assert "before the claims are in can claim by it" in result.stderr.replace("\n", " ")
    assert "--claims-in" in result.stderr
    assert result.stdout == ""
    assert not (tmp_path / "key.json").exists()
    assert run(tmp_path / "kit", "--claims-in").exit_code == ExitCode.DONE


def reading_of(path: Path, tasters: tuple[int, ...] = (1, 2, 3)) -> Path:
    """Write a reading with opened key sheets of these tasters, as FORMATS section 4 has them."""
    opened = [
        {
            "source": "key.jpg",
            "source_page": 1,
            "kit": samples.printed(5).kit.id,
            "taster": key.taster,
            "places": dict(key.places),
            "salt": key.salt,
        }
        for key in truth_of(samples.printed(5))
        if key.taster in tasters
    ]
    entry = {"format": "facedown-reading/1", "pages": [], "turned": [], "opened": opened}
    path.write_text(json.dumps(entry), "utf-8")
    return path


def places_turned(places: dict[str, int]) -> dict[str, int]:
    numbers = list(places.values())
    return dict(zip(places, numbers[1:] + numbers[:1], strict=True))
