"""No seal is broken for a bag that has to stay closed."""

from __future__ import annotations

from pathlib import Path

import pytest

from kit.record import layout_of, load_kit
from scanner.archive.bag_results import LOCKED, NO_CLAIMS, ON_PAPER, results_of_kit, rows_of_entry
from scanner.reading import Mark, Outcome, PageReading, Reading, State
from tests.scanner.archive.bags import facedown

SESSION = """
title = "Sealed"
date = 2026-12-05
drink = "sake"
shuffle = "host"
paper = "A4"
keys = "{keys}"
[[pours]]
name = "Heron Marsh"
[[pours]]
name = "Gull Rock"
[[pours]]
name = "Old Jetty"
[[tasters]]
name = "Ines"
[[tasters]]
name = "Kofi"
"""


def printed(folder: Path, keys: str, *options: str) -> Path:
    folder.mkdir()
    (folder / "session.toml").write_text(SESSION.format(keys=keys), "utf-8")
    answer = facedown("print", folder / "session.toml", "--out", folder / "kit", *options)
    assert answer.exit_code == 0, answer.output
    return folder / "kit"


def claims(kit: Path, *tasters: int, doubtful: int | None = None) -> Reading:
    """Return a reading in which these tasters claim 1, 2, 3; the claim of `doubtful` at place A is in doubt."""
    pages = []
    for page in layout_of(kit).pages:
        if page.role == "match" and page.taster in tasters:
            marks = tuple(
                Mark(
                    box.field,
                    box.option,
                    State.EMPTY
                    if box.field not in ("match.A", "match.B", "match.C")
                    or "ABC".index(box.field[-1]) + 1 != int(box.option)
                    else State.DOUBTFUL
                    if box.field == "match.A" and page.taster == doubtful
                    else State.MARKED,
                )
                for box in page.marks
            )
            kit_id = load_kit(kit).id
            pages.append(PageReading("p.jpg", 1, kit_id, page.sheet, page.taster, "match", Outcome.READ, None, marks))
    return Reading(tuple(pages))


def truths(kit: Path, reading: Reading) -> list[bool]:
    found = results_of_kit(kit, reading)
    assert found.entry is not None
    return [taster["truth"] is not None for taster in found.entry["tasters"]]


def test_own_keys_are_told_of_those_who_have_claimed(tmp_path: Path) -> None:
    kit = printed(tmp_path / "own", "own")
    assert truths(kit, claims(kit, 1)) == [True, False]
    assert truths(kit, claims(kit, 1, 2)) == [True, True]
    assert truths(kit, claims(kit, 1, 2, doubtful=2)) == [True, False]


@pytest.mark.parametrize("keys", ["shared", "balanced"])
def test_keys_that_tell_of_each_other_wait_for_everybody(tmp_path: Path, keys: str) -> None:
    kit = printed(tmp_path / "kit", keys)
    assert truths(kit, claims(kit, 1)) == [False, False]
    assert truths(kit, claims(kit, 1, 2)) == [True, True]


def test_a_shared_key_waits_until_every_claim_is_settled(tmp_path: Path) -> None:
    kit = printed(tmp_path / "kit", "shared")
    assert truths(kit, claims(kit, 1, 2, doubtful=2)) == [False, False]


def test_without_claims_no_key_is_opened(tmp_path: Path) -> None:
    kit = printed(tmp_path / "kit", "own")
    assert results_of_kit(kit, Reading(())).why_not == NO_CLAIMS


def test_locked_keys_and_keys_on_paper_stay_closed(tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("low water\n")
    keys_out = ("--keys-out", str(tmp_path / "keys.pdf"))
    locked = printed(tmp_path / "locked", "own", "--passphrase-file", str(tmp_path / "secret"), *keys_out)
    assert results_of_kit(locked, claims(locked, 1, 2)).why_not == LOCKED
    paper = printed(tmp_path / "paper", "own", "--key-on-paper", "--keys-out", str(tmp_path / "more.pdf"))
    assert results_of_kit(paper, claims(paper, 1, 2)).why_not == ON_PAPER


def test_rows_have_every_place_of_whoever_claimed(tmp_path: Path) -> None:
    kit = printed(tmp_path / "own", "own")
    entry = results_of_kit(kit, claims(kit, 1)).entry
    assert entry is not None
    rows = list(rows_of_entry(entry))
    assert [(row[1], row[2], row[3], row[4]) for row in rows] == [
        (1, "Ines", "A", 1),
        (1, "Ines", "B", 2),
        (1, "Ines", "C", 3),
    ]
    assert all(row[7] == ("yes" if row[4] == row[6] else "no") for row in rows)
