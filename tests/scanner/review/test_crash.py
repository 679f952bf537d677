"""Ten kills at random moments; `python -m tests.scanner.review.crash --rounds 300` is the whole course."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.scanner.archive.pile import Pile
from tests.scanner.review.crash import DOUBTS, crashes
from tests.scanner.review.doubts import pile_of_doubts

ROUNDS = 10


@pytest.mark.skipif(sys.platform == "win32", reason="it forks")
@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
def test_after_a_kill_at_any_moment_every_acknowledged_answer_is_there(pile: Pile, tmp_path: Path) -> None:
    (tmp_path / "files").mkdir()
    pile_of_doubts(pile, tmp_path / "files", DOUBTS).add(tmp_path / "archive")
    tally = crashes(tmp_path / "archive", tmp_path, ROUNDS, seed=20261205)
    assert not [what for what in tally if "WRONG" in what]
    assert sum(count for what, count in tally.items() if what.startswith("verified")) == ROUNDS
    assert tally["killed"] > ROUNDS // 2
    assert tally["answers acknowledged"] > 0
