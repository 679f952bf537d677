"""Sittings with photographed rows, from print to score: rows tell the truth, check a key, clash, and are settled."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import pytest
from click.testing import CliRunner, Result

from kit.record import layout_of, load_kit
from kit.shell import main
from scanner.pile import gathered, left_to_look_at, rows_sorted_out
from scanner.reading import Mark, Outcome, PageReading, Reading, State, TurnedReading
from scanner.reading import to_json as reading_to_json
from scanner.reading_json import from_json, load_reading
from scanner.rehearsal.row_photograph import faces_of
from scanner.what_stood import DECIDED
from tests.scanner.rows import picture, pieces
from tests.scanner.test_score import KIT, match, notes, scored, turned

KEPT = ("source", "kit", "taster", "outcome", "order")


def row(*order: int, taster: int = 1, source: str = "row.jpg", outcome: Outcome = Outcome.READ) -> TurnedReading:
    reason = "another order" if outcome is Outcome.CONFLICT else None
    return TurnedReading(source, 1, KIT, taster, outcome, reason, order)


def by_person(*order: int, **more: Any) -> TurnedReading:
    return replace(row(*order, **more), by="person")


def test_a_row_alone_tells_what_stood_where_and_no_sheet_is_missed() -> None:
    result = scored(match(1, "3,1,2"), shuffle="hand", rows=(row(3, 1, 2),)).tasters[0]
    assert (result.truth.source, result.score.correct, result.missing) == ("row", 3, ())


def test_a_row_and_a_turned_sheet_that_differ_leave_nothing_scored() -> None:
    result = scored(match(1, "3,1,2"), turned(1, "3,1,2"), shuffle="hand", rows=(row(3, 2, 1),)).tasters[0]
    assert (result.truth.numbers, result.score.correct, result.score.chance_at_least) == (None, None, None)
    assert result.truth.unsettled == {
        "B": "1 by the turned sheet but 2 by the row on row.jpg, page 1",
        "C": "2 by the turned sheet but 1 by the row on row.jpg, page 1",
    }


def test_a_row_is_held_against_a_turned_sheet_that_is_filled_in_half() -> None:
    clash = scored(match(1, "3,1,2"), turned(1, "1,-,-"), shuffle="hand", rows=(row(3, 1, 2),)).tasters[0]
    assert (clash.truth.numbers, list(clash.truth.unsettled)) == (None, ["A"])
    agreed = scored(match(1, "3,1,2"), turned(1, "3,-,-"), shuffle="hand", rows=(row(3, 1, 2),)).tasters[0]
    assert (agreed.truth.source, agreed.score.correct) == ("row", 3)


def test_a_row_that_read_called_a_conflict_is_not_left_out_of_account() -> None:
    """Were it, the other one would decide alone."""
    rows = (row(3, 1, 2), row(3, 2, 1, source="b.jpg", outcome=Outcome.CONFLICT))
    result = scored(match(1, "3,1,2"), shuffle="hand", rows=rows)
    assert result.tasters[0].score.correct is None
    assert any("b.jpg" in sentence for sentence in result.left_to_look_at)


@pytest.mark.parametrize("shuffle", ["host", "hand"])
def test_what_a_person_says_of_a_row_counts_alone(shuffle: str) -> None:
    pages = (match(1, "3,1,2"), match(2, "1,3,2"), *([turned(2, "1,3,2")] if shuffle == "hand" else []))
    sheets = (turned(1, "1,2,3"),) if shuffle == "hand" else ()
    result = scored(*pages, *sheets, shuffle=shuffle, rows=(by_person(2, 1, 3),)).tasters[0]
    assert result.truth.numbers == {"A": 2, "B": 1, "C": 3}
    assert (result.truth.source, result.score.correct, DECIDED in result.remarks) == ("person", 1, True)
    torn = scored(*pages, shuffle=shuffle, rows=(by_person(2, 1, 3), by_person(1, 2, 3, source="b.jpg"))).tasters[0]
    assert torn.score.correct is None


def test_the_same_row_again_is_a_repeat_and_another_order_a_conflict() -> None:
    rows = [row(3, 1, 2), row(3, 1, 2, source="b.jpg"), row(1, 3, 2, source="c.jpg"), row(1, 3, 2, taster=2)]
    after = rows_sorted_out(rows, [])
    assert [one.outcome for one in after] == [Outcome.READ, Outcome.REPEAT, Outcome.CONFLICT, Outcome.READ]
    assert after[2].reason == "it shows the order 1, 3, 2, but row.jpg, page 1 shows 3, 1, 2 of the same taster"
    assert [left.page.source for left in left_to_look_at(Reading((), after))] == ["c.jpg"]


def test_a_row_that_its_turned_sheet_contradicts_is_a_conflict_until_a_person_decides() -> None:
    sheet = turned(1, "3,2,-")
    [clash] = rows_sorted_out([row(3, 1, 2)], [sheet])
    assert (clash.outcome, clash.order) == (Outcome.CONFLICT, (3, 1, 2))
    assert "it shows coaster 1 at B, but the sheet on pile.pdf, page 1 has 2" in (clash.reason or "")
    assert rows_sorted_out([row(3, 2, 1), by_person(3, 1, 2, taster=2)], [sheet, turned(2, "1,2,3")]) == (
        row(3, 2, 1),
        by_person(3, 1, 2, taster=2),
    )


def test_a_sheet_s_doubtful_box_contradicts_no_row() -> None:
    doubtful = Mark("turned.A", "1", State.DOUBTFUL)
    sheet = replace(turned(1, "-,-,-"), marks=(doubtful,))
    assert rows_sorted_out([row(3, 1, 2)], [sheet])[0].outcome is Outcome.READ


def test_a_reading_with_rows_comes_back_from_json() -> None:
    reading = gathered([notes(1), row(3, 1, 2), by_person(1, 2, 3, taster=2)])
    assert isinstance(reading.pages[0], PageReading)
    assert from_json(json.loads(json.dumps(reading_to_json(reading))), "reading.json") == reading


# The way from print to score, on real files.


def facedown(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def printed_kit(folder: Path, shuffle: str, coasters: str = "kit", glasses: int = 3) -> Path:
    pours = "".join(f'[[pours]]\nname = "Pour {number}"\n' for number in range(glasses))
    session = folder / "session.toml"
    session.write_text(
        f'title = "Evening"\ndate = 2026-12-05\ndrink = "sake"\nshuffle = "{shuffle}"\npaper = "A4"\n'
        f'coasters = "{coasters}"\n{pours}[[tasters]]\nid = "ines"\nname = "Ines"\n',
        "utf-8",
    )
    result = facedown("print", session, "--out", folder / "kit")
    assert result.exit_code == 0, result.output
    return folder / "kit"


def photograph_of(kit: Path, order: tuple[int, ...], path: Path, rotation_deg: float = 0.0) -> Path:
    faces = faces_of(load_kit(kit))
    cv2.imwrite(str(path), picture(pieces(faces, order), rotation_deg=rotation_deg))
    return path


def rows_read(kit: Path, *files: Path, settle: Path | None = None) -> tuple[int, list[dict[str, Any]], Path]:
    out = kit.parent / "reading.json"
    answers = ("--settle", settle) if settle else ()
    result = facedown("read", "--kit", kit, "--json", out, *answers, *files)
    assert result.exit_code in (0, 3), result.output
    return result.exit_code, json.loads(out.read_text("utf-8"))["turned"], out


def truth_of(kit: Path, reading: Path) -> dict[str, Any]:
    """Return what stood where as `score` tells it, once a blank match sheet is in: nothing is told before."""
    out, claimed = kit.parent / "scores.json", kit.parent / "claimed.json"
    sheet = next(page for page in layout_of(kit).pages if page.role == "match")
    blank = tuple(Mark(box.field, box.option, State.EMPTY) for box in sheet.marks)
    page = PageReading("match.png", 1, load_kit(kit).id, sheet.sheet, 1, "match", Outcome.READ, None, blank)
    whole = load_reading(reading)
    claimed.write_text(json.dumps(reading_to_json(replace(whole, pages=(*whole.pages, page)))), "utf-8")
    facedown("score", "--kit", kit, "--json", out, claimed)
    told = json.loads(out.read_text("utf-8"))["tasters"][0]
    return {"truth": told["truth"], "from": told["truth_from"], "unsettled": told["truth_unsettled"]}


@pytest.mark.parametrize("coasters", ["kit", "house"])
def test_a_hand_sitting_s_row_is_its_truth(tmp_path: Path, coasters: str) -> None:
    kit = printed_kit(tmp_path, "hand", coasters)
    status, rows, reading = rows_read(kit, photograph_of(kit, (2, 3, 1), tmp_path / "row.png", rotation_deg=200.0))
    assert (status, [(one["outcome"], one["taster"], one["order"]) for one in rows]) == (0, [("read", 1, [2, 3, 1])])
    assert truth_of(kit, reading) == {"truth": {"A": 2, "B": 3, "C": 1}, "from": "row", "unsettled": []}


def test_in_a_host_sitting_a_row_checks_the_key_and_a_person_decides(tmp_path: Path) -> None:
    kit = printed_kit(tmp_path, "host")
    key = json.loads(facedown("unseal", kit, "--json", "-").stdout)["keys"][0]["places"]
    stood = tuple(key.values())
    agreeing = photograph_of(kit, stood, tmp_path / "row.png")
    assert truth_of(kit, rows_read(kit, agreeing)[2]) == {"truth": key, "from": "key", "unsettled": []}
    other = photograph_of(kit, (stood[1], stood[0], stood[2]), tmp_path / "other.png")
    status, _, reading = rows_read(kit, other)
    assert status == 0  # `read` breaks no seal: it cannot know
    assert truth_of(kit, reading) == {"truth": None, "from": None, "unsettled": ["A", "B"]}
    answers = tmp_path / "answers.toml"
    answers.write_text(f'[[settle]]\nrow = "{load_kit(kit).id}-0001"\norder = {list(stood)}\n', "utf-8")
    status, rows, reading = rows_read(kit, other, settle=answers)
    assert (status, rows[0]["by"], rows[0]["order"]) == (0, "person", list(stood))
    assert truth_of(kit, reading) == {"truth": key, "from": "person", "unsettled": []}


def test_a_refused_row_is_an_entry_of_its_own_with_its_reason(tmp_path: Path) -> None:
    kit = printed_kit(tmp_path, "hand")
    faces = faces_of(load_kit(kit))
    cv2.imwrite(str(tmp_path / "row.png"), picture(pieces(faces, (1, 2, 3))[1:]))
    result = facedown("read", "--kit", kit, "--json", tmp_path / "out.json", tmp_path / "row.png")
    entry = json.loads((tmp_path / "out.json").read_text("utf-8"))
    assert (result.exit_code, entry["pages"]) == (3, [])
    [one] = entry["turned"]
    assert (one["kit"], one["taster"], one["outcome"], one["order"]) == (load_kit(kit).id, None, "unreadable", None)
    assert "no row-end card" in one["reason"]
    assert "no row-end card" in result.output
    assert "turned coasters" in result.output
