"""Shared and balanced keys the whole way: print, fill by the simulated hand, read, score; no seal is broken early."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from kit.record import load_kit, opened_keys
from kit.sheets import form_sheets
from scanner.rehearsal.camera import as_jpeg
from scanner.rehearsal.hand import Intent, mark_sheet
from scanner.rehearsal.prints import PX_PER_MM, printed
from scanner.table_law import table_law
from tests.test_whole_way import STEADY_HANDS, STEADY_PENS, run, session_text

TASTERS = 3


def filled_match_sheets(folder: Path) -> tuple[dict[int, tuple[int, ...]], list[Path]]:
    """Fill every taster's match sheet with one order of numbers each, and return them with their pictures."""
    kit = load_kit(folder)
    rng = np.random.default_rng(4)
    claims, paths = {}, []
    for layout, page in printed(sheet for sheet in form_sheets(kit) if sheet.layout.role == "match"):
        order = tuple(int(number) for number in rng.permutation(kit.session.glasses) + 1)
        claims[layout.taster] = order
        intents = {
            (f"match.{place}", str(number)): Intent.MARK
            for place, number in zip(kit.session.place_letters, order, strict=True)
        }
        marked = mark_sheet(page, layout, intents, STEADY_HANDS[0], STEADY_PENS[0], rng, PX_PER_MM)
        paths.append(folder.parent / f"{layout.sheet}.jpg")
        paths[-1].write_bytes(as_jpeg(marked.page, 85))
    return claims, paths


@pytest.mark.parametrize(
    ("keys", "paper", "glasses"),
    [
        ("shared", "A4", 3),
        ("shared", "Letter", 4),
        ("shared", "A4", 5),
        ("balanced", "Letter", 3),
        ("balanced", "A4", 4),
        ("balanced", "Letter", 5),
    ],
)
def test_a_table_is_scored_by_its_keys_once_all_claims_are_in(
    tmp_path: Path, keys: str, paper: str, glasses: int
) -> None:
    text = session_text("host", paper, glasses, TASTERS).replace('"host"\n', f'"host"\nkeys = "{keys}"\n')
    (tmp_path / "session.toml").write_text(text, "utf-8")
    folder, reading, scores = tmp_path / "kit", tmp_path / "reading.json", tmp_path / "scores.json"
    run("print", tmp_path / "session.toml", "--out", folder, status=0)
    claims, paths = filled_match_sheets(folder)
    kit = load_kit(folder)
    truths = [tuple(key.places.values()) for key in opened_keys(kit)]

    run("read", "--kit", folder, "--json", reading, *paths[:-1], status=0)
    early = run("score", "--kit", folder, reading, status=3)
    assert "sealed until all claims are in" in early
    assert "(" not in early.split("\n\n")[1]

    run("read", "--kit", folder, "--json", reading, *paths, status=0)
    run("score", "--kit", folder, "--json", scores, reading, status=0)
    entry = json.loads(scores.read_text("utf-8"))
    assert [tuple(taster["truth"].values()) for taster in entry["tasters"]] == truths
    right = [sum(map(int.__eq__, claims[taster], truth)) for taster, truth in enumerate(truths, start=1)]
    assert [taster["correct"] for taster in entry["tasters"]] == right
    [table] = entry["tables"]
    assert (table["correct"], table["of"], table["keys"]) == (sum(right), glasses * TASTERS, keys)
    law = table_law(kit.session.keys, claims, glasses, TASTERS)
    assert table["chance_at_least"] == float(law.chance_at_least(sum(right)))
