"""`facedown unseal`, through the shell and on real files."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kit.errors import ExitCode
from kit.keys import seal_code
from kit.shell import main
from tests.kit import samples
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
