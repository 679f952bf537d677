"""The whole way with paper in another language: print, fill by the simulated hand, scan, read, score."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from kit.lexicon import load_lexicon, translated
from kit.record import load_kit, opened_keys
from kit.sheets import form_sheets
from kit.shell import main
from kit.wording import load_wording
from scanner.archive.database import archive_at
from scanner.rehearsal.camera import CONDITIONS, as_jpeg
from scanner.rehearsal.hand import HANDS, PENS, Intent, mark_sheet
from scanner.rehearsal.prints import PX_PER_MM, printed
from scanner.review import phrases
from scanner.review.desk import queue_of

HEAD = 'title = "冬の利き酒"\ndate = 2026-12-01\ndrink = "sake"\nlanguage = "ja"\nseed = 11\n'
NAMES = ("鷺の沼", "灯の丘", "静かな果樹園", "石の渡し", "潮の水")
HAND = next(hand for hand in HANDS if hand.name == "neat-crosses")
PEN = next(pen for pen in PENS if pen.name == "blue-ballpoint")
Mark = tuple[str, str]


def run(*arguments: str | Path, status: int) -> None:
    answer = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert answer.exit_code == status, answer.output


def marks_of(places: tuple[str, ...]) -> dict[Mark, Intent]:
    """Marks in every field: claims in reverse order, the coasters as they stood, words and strengths by turns."""
    lexicon = load_lexicon("sake")
    words = [word for family in lexicon.families for word in family.words]
    marks: dict[Mark, Intent] = {}
    for number, place in enumerate(places, start=1):
        marks[f"match.{place}", str(len(places) + 1 - number)] = Intent.MARK
        marks[f"sure.{place}", ("guess", "leaning", "sure")[number % 3]] = Intent.MARK
        marks[f"turned.{place}", str(number)] = Intent.MARK
        for glass in (str(number), place):
            marks |= {(f"words.{glass}", word): Intent.MARK for word in words[number :: len(places)]}
            marks |= {(f"scale.{scale.id}.{glass}", str(number)): Intent.MARK for scale in lexicon.scales}
    return marks


@pytest.mark.parametrize("shuffle", ["host", "hand"])
@pytest.mark.parametrize(("paper", "glasses"), [("A4", 3), ("A4", 5), ("Letter", 3), ("Letter", 5)])
def test_a_japanese_kit_is_read_and_scored_as_it_was_filled_in(
    tmp_path: Path, paper: str, glasses: int, shuffle: str
) -> None:
    pours = "".join(f'[[pours]]\nname = "{name}"\nstyle = "純米大吟醸"\n' for name in NAMES[:glasses])
    text = f'{HEAD}paper = "{paper}"\nshuffle = "{shuffle}"\n{pours}[[tasters]]\nname = "山田 花子"\n'
    (tmp_path / "session.toml").write_text(text, "utf-8")
    run("print", tmp_path / "session.toml", "--out", tmp_path / "kit", status=0)
    kit = load_kit(tmp_path / "kit")
    meant = marks_of(kit.session.place_letters)
    rng, paths = np.random.default_rng(7), []
    for layout, page in printed(form_sheets(kit)):
        here = {(box.field, box.option) for box in layout.marks}
        mine = {mark: intent for mark, intent in meant.items() if mark in here}
        marked = mark_sheet(page, layout, mine, HAND, PEN, rng, PX_PER_MM)
        paths.append(tmp_path / f"{layout.role}.jpg")
        paths[-1].write_bytes(as_jpeg(CONDITIONS["flatbed-200"](marked.page, PX_PER_MM, rng), 85))
    run("read", "--kit", tmp_path / "kit", "--json", tmp_path / "reading.json", *paths, status=0)
    reading = json.loads((tmp_path / "reading.json").read_text("utf-8"))
    read = {
        (mark["field"], mark["option"])
        for page in reading["pages"]
        for mark in page["marks"]
        if mark["state"] == "marked"
    }
    assert read == {mark for mark in meant if shuffle == "hand" or not mark[0].startswith("turned.")}
    run("score", "--kit", tmp_path / "kit", "--json", tmp_path / "s.json", tmp_path / "reading.json", status=0)
    [taster] = json.loads((tmp_path / "s.json").read_text("utf-8"))["tasters"]
    places = kit.session.place_letters
    truth = opened_keys(kit)[0].places if kit.sealed else dict(zip(places, range(1, glasses + 1), strict=True))
    claims = dict(zip(places, range(glasses, 0, -1), strict=True))
    assert (taster["name"], taster["claims"], taster["truth"]) == ("山田 花子", claims, truth)
    assert taster["correct"] == sum(claims[place] == truth[place] for place in places)


def test_a_doubt_about_a_japanese_sheet_is_named_as_the_sheet_has_it(tmp_path: Path) -> None:
    pours = "".join(f'[[pours]]\nname = "{name}"\n' for name in NAMES[:3])
    text = f'{HEAD}paper = "A4"\nshuffle = "host"\n{pours}[[tasters]]\nname = "山田 花子"\n'
    (tmp_path / "session.toml").write_text(text, "utf-8")
    run("print", tmp_path / "session.toml", "--out", tmp_path / "kit", status=0)
    kit = load_kit(tmp_path / "kit")
    layout, page = next(found for found in printed(form_sheets(kit)) if found[0].role == "notes-1")
    scale = load_lexicon("sake").scales[0]
    twice = {(f"scale.{scale.id}.1", step): Intent.MARK for step in ("2", "4")}
    rng = np.random.default_rng(7)
    marked = mark_sheet(page, layout, twice, HAND, PEN, rng, PX_PER_MM)
    (tmp_path / "page.jpg").write_bytes(as_jpeg(CONDITIONS["flatbed-200"](marked.page, PX_PER_MM, rng), 85))
    add = ("archive", "add", "--archive", tmp_path / "archive", "--kit", tmp_path / "kit", tmp_path / "page.jpg")
    run(*add, status=3)
    with archive_at(tmp_path / "archive") as archive:
        [doubt] = queue_of(archive)
        heading = phrases.heading(doubt, load_wording("en"))
    assert heading == f"Glass 1, {scale.id} ({translated(load_lexicon('sake'), load_wording('ja')).scales[0].name})"
