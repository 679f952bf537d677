"""Kits by post on real files: print, pack by the packing sheet, fill in by the simulated hand, read, score."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kit.drawing import Text
from kit.packing import packing_pages
from kit.record import Kit, load_kit, opened_keys
from tests.test_whole_way import filled_by_the_book, run, session_text


def packed(kit: Kit) -> dict[str, int]:
    """Return whose number's drink goes into each lettered vial of packet 1, as the packing sheet shows it."""
    page = next(packing_pages(kit, opened_keys(kit)))
    marks = [
        element
        for element in (*page.common, *page.own)
        if isinstance(element, Text) and element.align == "centre" and len(element.text) == 1
    ]
    rows = sorted({mark.y_mm for mark in marks})
    pairs = [sorted(mark.text for mark in marks if mark.y_mm == y) for y in rows]
    return {letter: int(number) for number, letter in pairs}


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("glasses", [3, 4, 5])
def test_what_was_claimed_of_the_vials_is_scored_by_how_they_were_packed(
    tmp_path: Path, glasses: int, paper: str
) -> None:
    (tmp_path / "session.toml").write_text(session_text("twin", paper, glasses, 1), "utf-8")
    run("print", tmp_path / "session.toml", "--out", tmp_path / "kit", status=0)
    kit = load_kit(tmp_path / "kit")
    letters = kit.session.place_letters
    # One claim right, and as many others as luck has it: number and letter in step, but for the first.
    truth = packed(kit)
    claims = {letter: number for number, letter in enumerate(letters, start=1)} | {"A": truth["A"]}
    scans = list(filled_by_the_book(tmp_path / "kit", claims, {}))
    assert len(scans) == 3
    run("read", "--kit", tmp_path / "kit", "--json", tmp_path / "reading.json", *scans, status=0)
    said = run(
        "score", "--kit", tmp_path / "kit", "--json", tmp_path / "scores.json", tmp_path / "reading.json", status=0
    )
    [taster] = json.loads((tmp_path / "scores.json").read_text("utf-8"))["tasters"]
    assert taster["claims"] == claims
    assert taster["truth"] == truth
    assert taster["correct"] == sum(claims[letter] == truth[letter] for letter in letters) >= 1
    assert (taster["of"], taster["unsettled"]) == (glasses, [])
    assert "coaster" not in said


def test_a_record_of_a_kit_by_post_keeps_how_it_was_posted(tmp_path: Path) -> None:
    text = session_text("twin", "A4", 3, 2).replace('paper = "A4"\n', 'paper = "A4"\nvial_ml = 30\nloss_percent = 0\n')
    (tmp_path / "session.toml").write_text(text, "utf-8")
    run("print", tmp_path / "session.toml", "--out", tmp_path / "kit", status=0)
    session = load_kit(tmp_path / "kit").session
    assert (session.shuffle, session.vial_ml, session.loss_percent, session.pour_ml) == ("twin", 30, 0, 20)
