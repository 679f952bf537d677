"""Archives full of doubts: made once a session, copied for each test that writes."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from scanner.archive.database import Archive, archive_at
from tests.scanner.archive.pile import Pile, pile_of
from tests.scanner.review.doubts import pile_of_doubts

DOUBTS = 100


@pytest.fixture(scope="session")
def pile(tmp_path_factory: pytest.TempPathFactory) -> Pile:
    return pile_of(tmp_path_factory.mktemp("pile"))


@pytest.fixture(scope="session")
def hundred(pile: Pile, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive with a hundred doubtful boxes, not to be written to."""
    place = tmp_path_factory.mktemp("hundred")
    pile_of_doubts(pile, place, DOUBTS).add(place / "archive")
    return place / "archive"


@pytest.fixture(scope="session")
def mixed(pile: Pile, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive with three doubtful boxes and one doubt of every other kind, not to be written to."""
    place = tmp_path_factory.mktemp("mixed")
    pile_of_doubts(pile, place, 3, others=True).add(place / "archive")
    return place / "archive"


@pytest.fixture
def folder(mixed: Path, tmp_path: Path) -> Path:
    """A copy of the mixed archive for one test."""
    return Path(shutil.copytree(mixed, tmp_path / "archive"))


@pytest.fixture
def archive(folder: Path) -> Iterator[Archive]:
    with archive_at(folder, write=True) as opened:
        yield opened
