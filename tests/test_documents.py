"""The README and DEVELOPERS.md say what is there."""

from __future__ import annotations

import re
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest
from click.testing import CliRunner

from kit.shell import COMMANDS, main

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_stands_in_the_readme_and_has_help(name: str) -> None:
    assert f"`facedown {name}" in README
    answer = CliRunner().invoke(main, [name, "--help"])
    assert answer.exit_code == 0
    assert len(answer.output.splitlines()) > 4


def test_ci_runs_the_readme_s_own_test_command() -> None:
    [command] = re.findall(r"^    (python3 .*pytest.*)$", README, re.MULTILINE)
    script = (ROOT / ".ci" / "run").read_text("utf-8")
    assert command in script


def test_every_dependency_is_explained() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    wanted = [*project["dependencies"], *project["optional-dependencies"]["test"]]
    names = {re.split(r"[><=]", requirement)[0] for requirement in wanted}
    assert not {name for name in names if name not in DEVELOPERS}


def test_every_module_named_for_developers_is_there() -> None:
    named = set(re.findall(r"`((?:kit|scanner|tests|templates)/[a-z_/.]+\.(?:py|toml))`", DEVELOPERS))
    assert len(named) > 15
    assert not {name for name in named if not (ROOT / name).exists()}


def test_every_picture_in_the_readme_is_there() -> None:
    pictures = re.findall(r"\]\((samples/[^)]+)\)", README)
    assert len(pictures) >= 2
    assert all((ROOT / picture).is_file() for picture in pictures)


def test_fonts_ship_with_their_licences() -> None:
    names = {entry.name for entry in (files("templates") / "fonts").iterdir()}
    assert {"LICENSE-NotoSansJP.txt", "LICENSE-SourceSans3.txt"} <= names
