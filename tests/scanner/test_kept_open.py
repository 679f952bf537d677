"""Keeping one file open: opened once, again when it changed or after a fork, and always closed."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from scanner.kept_open import KeptOpen


class Ledger:
    """An open file that only counts."""

    opened: list[Path]
    closed: list[Path]

    def __init__(self, path: Path) -> None:
        self.path = path
        self.opened.append(path)

    def close(self) -> None:
        self.closed.append(self.path)


@pytest.fixture
def kept() -> KeptOpen[Ledger]:
    Ledger.opened, Ledger.closed = [], []
    return KeptOpen(Ledger)


def test_a_file_is_opened_once_and_closed_for_the_next(kept: KeptOpen[Ledger], tmp_path: Path) -> None:
    one, two = tmp_path / "one", tmp_path / "two"
    one.write_text("1")
    two.write_text("2")
    assert kept.get(one) is kept.get(one)
    kept.get(two)
    kept.get(one)
    assert (Ledger.opened, Ledger.closed) == ([one, two, one], [one, two])
    kept.close()
    kept.close()
    assert Ledger.closed == [one, two, one]


def test_a_file_that_changed_is_opened_again(kept: KeptOpen[Ledger], tmp_path: Path) -> None:
    path = tmp_path / "pile"
    path.write_text("1")
    before = kept.get(path)
    path.write_text("22")
    assert kept.get(path) is not before
    assert Ledger.closed == [path]


def test_another_process_opens_the_file_for_itself(
    kept: KeptOpen[Ledger], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "pile"
    path.write_text("1")
    before = kept.get(path)
    monkeypatch.setattr(os, "getpid", lambda: -1)
    assert kept.get(path) is not before


def test_what_cannot_be_opened_leaves_nothing_open(kept: KeptOpen[Ledger], tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        kept.get(tmp_path / "gone")
    kept.close()
    assert (Ledger.opened, Ledger.closed) == ([], [])
