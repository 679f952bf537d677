"""The pile of the archive's tests, read once a session, and archives that it was added to."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from scanner.archive.bag_export import export
from scanner.archive.database import Archive, archive_at
from tests.scanner.archive.bags import keep_more
from tests.scanner.archive.pile import NOW, Pile, pile_of


@pytest.fixture(scope="session")
def pile(tmp_path_factory: pytest.TempPathFactory) -> Pile:
    return pile_of(tmp_path_factory.mktemp("pile"))


@pytest.fixture(scope="session")
def filled(pile: Pile, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive with the whole pile in it, not to be written to."""
    folder = tmp_path_factory.mktemp("filled") / "archive"
    pile.add(folder)
    return folder


@pytest.fixture
def folder(filled: Path, tmp_path: Path) -> Path:
    """A copy of it for one test."""
    return Path(shutil.copytree(filled, tmp_path / "archive"))


@pytest.fixture
def archive(folder: Path) -> Iterator[Archive]:
    with archive_at(folder, write=True) as opened:
        yield opened


@pytest.fixture(scope="session")
def kept(pile: Pile, filled: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The pile with a doubt settled, handwriting typed up and an old result, not to be written to."""
    folder = Path(shutil.copytree(filled, tmp_path_factory.mktemp("kept") / "archive"))
    pile.settle(folder)
    keep_more(folder)
    return folder


@pytest.fixture(scope="session")
def exported(kept: Path) -> Path:
    """The bag of `kept`, not to be written to."""
    bag = kept.parent / "bag"
    export(kept, bag, NOW, "facedown of the tests")
    return bag


@pytest.fixture
def bag(exported: Path, tmp_path: Path) -> Path:
    """A copy of it for one test."""
    return Path(shutil.copytree(exported, tmp_path / "bag"))
