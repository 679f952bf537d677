"""Twenty-five kills at random moments; `python -m tests.scanner.archive.crash --rounds 1000` is the whole course."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.scanner.archive.crash import crashes
from tests.scanner.archive.pile import Pile

ROUNDS = 25


@pytest.mark.skipif(sys.platform == "win32", reason="it forks")
@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
def test_after_a_kill_at_any_moment_the_archive_is_whole_and_running_again_does_the_rest(
    pile: Pile, tmp_path: Path
) -> None:
    tally = crashes(pile, tmp_path, ROUNDS, seed=20261205)
    assert not [what for what in tally if "WRONG" in what]
    assert sum(count for what, count in tally.items() if what.endswith("running again")) == ROUNDS
    assert sum(count for what, count in tally.items() if what.endswith(": killed")) > ROUNDS // 2
