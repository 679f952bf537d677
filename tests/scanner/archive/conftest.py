"""The pile of the archive's tests, read once a session, and archives that it was added to."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from scanner.archive.database import Archive, archive_at
from tests.scanner.archive.pile import Pile, pile_of


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
