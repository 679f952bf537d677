"""Kits that give no key away, from the session file to the key told: printed, opened, read, unsealed and checked."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kit.commands.ask_passphrase import VARIABLE
from kit.errors import ExitCode
from kit.session import Paper
from kit.shell import main
from tests.kit import samples


def facedown(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


@pytest.mark.parametrize("paper", samples.PAPERS)
@pytest.mark.parametrize("way", ["--key-on-paper", "--passphrase"])
def test_the_printed_key_sheets_are_enough_to_know_the_keys(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: str, paper: Paper
) -> None:
    monkeypatch.setattr("kit.passphrase.COST", 2**4)
    monkeypatch.setenv(VARIABLE, "seven grey herons")
    session, kit, keys = tmp_path / "session.toml", tmp_path / "kit", tmp_path / "keys.pdf"
    session.write_text(samples.session_file(samples.a_session(4, paper), seeded=False), "utf-8")
    assert facedown("print", session, "--out", kit, way, "--keys-out", keys).exit_code == ExitCode.DONE
    assert not (kit / "keys.pdf").exists()
    monkeypatch.delenv(VARIABLE)
    refused = facedown("unseal", kit)
    assert refused.exit_code == ExitCode.REFUSED

    # The keys are opened, and scanned as one PDF: here the very one that was printed.
    assert facedown("read", "--jobs", "1", "--kit", kit, "--json", tmp_path / "r.json", keys).exit_code == ExitCode.DONE
    opened = json.loads((tmp_path / "r.json").read_text("utf-8"))["opened"]
    assert [one["taster"] for one in opened] == [1, 2, 3]
    assert all(sorted(one["places"].values()) == [1, 2, 3, 4] for one in opened)

    result = facedown("unseal", kit, "--reading", tmp_path / "r.json", "--json", tmp_path / "key.json")
    assert result.exit_code == ExitCode.DONE
    told = json.loads((tmp_path / "key.json").read_text("utf-8"))["keys"]
    assert [(one["places"], one["salt"]) for one in told] == [(one["places"], one["salt"]) for one in opened]
    assert facedown("seal", kit, "--key", tmp_path / "key.json").stdout.count("the key that was sealed") == 3
    if way == "--passphrase":
        monkeypatch.setenv(VARIABLE, "seven grey herons")
        assert facedown("unseal", kit).stdout == result.stdout
