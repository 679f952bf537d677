"""The whole way on real files: print, fill by the simulated hand, scan, read, score."""

from __future__ import annotations

import json
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from kit.record import load_kit, opened_keys
from kit.sheets import form_sheets
from kit.shell import main
from scanner.rehearsal.camera import CONDITIONS, as_jpeg
from scanner.rehearsal.hand import HANDS, PENS, Intent, mark_sheet, random_answers
from scanner.rehearsal.prints import PX_PER_MM, printed
from tests.make_samples import MISSING, SAMPLES

Mark = tuple[str, str]
STEADY_HANDS = [
    hand for hand in HANDS if hand.name in {"neat-crosses", "looped-crosses", "large-crosses", "tidy-ticks"}
]
STEADY_PENS = [
    pen for pen in PENS if pen.name in {"black-ballpoint", "blue-ballpoint", "gel-pen", "fineliner", "pencil-hb"}
]


def run(*arguments: str | Path, status: int) -> str:
    answer = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert answer.exit_code == status, answer.output
    return answer.output


def session_text(shuffle: str, paper: str, glasses: int, tasters: int) -> str:
    pours = "".join(f'[[pours]]\nname = "Pour {number}"\n' for number in range(1, glasses + 1))
    panel = "".join(f'[[tasters]]\nname = "Taster {number}"\n' for number in range(1, tasters + 1))
    head = (
        f'title = "Rehearsal"\ndate = 2026-12-01\ndrink = "sake"\nshuffle = "{shuffle}"\npaper = "{paper}"\nseed = 11\n'
    )
    return head + pours + panel


@pytest.fixture
def printed_kit(tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    (tmp_path / "session.toml").write_text(session_text(*request.param), "utf-8")
    run("print", tmp_path / "session.toml", "--out", tmp_path / "kit", status=0)
    return tmp_path / "kit"


@dataclass(frozen=True, slots=True)
class Scan:
    """A scanned sheet as a file, and what was meant and drawn in each of its boxes."""

    path: Path
    sheet: str
    states: dict[Mark, tuple[str, str]]


def scans_of_one_taster(kit_folder: Path, taster: int, conditions: tuple[str, ...]) -> list[Scan]:
    kit = load_kit(kit_folder)
    rng = np.random.default_rng([20261201, taster])
    sheets = [sheet for sheet in form_sheets(kit) if sheet.layout.taster == taster]
    hand = STEADY_HANDS[int(rng.integers(len(STEADY_HANDS)))]
    pen = STEADY_PENS[int(rng.integers(len(STEADY_PENS)))]
    scans = []
    for layout, page in printed(sheets):
        marked = mark_sheet(page, layout, random_answers(layout, rng), hand, pen, rng, PX_PER_MM)
        states = {(box.field, box.option): (box.state.value, box.tag.value) for box in marked.boxes}
        for condition in conditions:
            path = kit_folder.parent / f"{layout.sheet}-{condition}.jpg"
            path.write_bytes(as_jpeg(CONDITIONS[condition](marked.page, PX_PER_MM, rng), 85))
            scans.append(Scan(path, layout.sheet, states))
    return scans


def silent_errors(page: dict[str, Any], states: dict[Mark, tuple[str, str]]) -> list[str]:
    """Boxes that were read as something else than they are, and not as doubtful."""
    return [
        f"{page['source']} {mark['field']} {mark['option']} read {mark['state']}"
        for mark in page["marks"]
        if mark["state"] not in ("doubtful", states[mark["field"], mark["option"]][0])
    ]


@pytest.mark.parametrize("printed_kit", [("host", "A4", 5, 40)], indirect=True, ids=["host-A4-5-glasses-40-tasters"])
def test_forty_tasters_sheets_scanned_at_300_and_200_dpi_are_read_without_a_silent_error(printed_kit: Path) -> None:
    with ProcessPoolExecutor(2) as pool:
        work = [pool.submit(scans_of_one_taster, printed_kit, n, ("flatbed-300", "flatbed-200")) for n in range(1, 41)]
        scans = {str(scan.path): scan for job in work for scan in job.result()}
    out = printed_kit.parent / "reading.json"
    answer = CliRunner().invoke(main, ["read", "--kit", str(printed_kit), "--json", str(out), *scans])
    assert answer.exit_code in (0, 3), answer.output
    pages = json.loads(out.read_text("utf-8"))["pages"]
    assert len(pages) == 240
    assert [page["source"] for page in pages if page["sheet"] != scans[page["source"]].sheet] == []
    assert {page["outcome"] for page in pages} <= {"read", "repeat", "conflict"}
    assert [error for page in pages for error in silent_errors(page, scans[page["source"]].states)] == []


@pytest.mark.parametrize(
    "printed_kit",
    [
        ("host", "A4", 3, 1),
        ("host", "Letter", 5, 1),
        ("host", "A4", 4, 1),
        ("hand", "Letter", 3, 1),
        ("hand", "A4", 5, 1),
    ],
    indirect=True,
    ids=lambda kit: "-".join(map(str, kit)),
)
def test_what_was_claimed_on_paper_is_what_is_scored(printed_kit: Path) -> None:
    kit = load_kit(printed_kit)
    places = kit.session.place_letters
    claims = dict(zip(places, reversed(range(1, len(places) + 1)), strict=True))
    turned = dict(zip(places, range(1, len(places) + 1), strict=True))
    truth = opened_keys(kit)[0].places if kit.sealed else turned
    paths = list(filled_by_the_book(printed_kit, claims, turned))
    run("read", "--kit", printed_kit, "--json", printed_kit.parent / "reading.json", *paths, status=0)
    run(
        "score",
        "--kit",
        printed_kit,
        "--json",
        printed_kit.parent / "scores.json",
        printed_kit.parent / "reading.json",
        status=0,
    )
    [taster] = json.loads((printed_kit.parent / "scores.json").read_text("utf-8"))["tasters"]
    assert taster["claims"] == claims
    assert taster["truth"] == truth
    assert taster["correct"] == sum(claims[place] == truth[place] for place in places)
    assert taster["of"] == len(places)


def filled_by_the_book(kit_folder: Path, claims: dict[str, int], turned: dict[str, int]) -> Iterator[Path]:
    rng = np.random.default_rng(7)
    for layout, page in printed(form_sheets(load_kit(kit_folder))):
        intents = {
            **{(f"match.{place}", str(number)): Intent.MARK for place, number in claims.items()},
            **{(f"sure.{place}", "leaning"): Intent.MARK for place in claims},
            **{(f"turned.{place}", str(number)): Intent.MARK for place, number in turned.items()},
            ("words.1", "apple"): Intent.MARK,
            ("words.A", "apple"): Intent.MARK,
        }
        here = {(box.field, box.option) for box in layout.marks}
        mine = {mark: intent for mark, intent in intents.items() if mark in here}
        marked = mark_sheet(page, layout, mine, STEADY_HANDS[0], STEADY_PENS[0], rng, PX_PER_MM)
        path = kit_folder.parent / f"{layout.role}.jpg"
        path.write_bytes(as_jpeg(marked.page, 85))
        yield path


@pytest.fixture(scope="module")
def samples_reading(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    folder = tmp_path_factory.mktemp("samples")
    run("print", SAMPLES / "winter.toml", "--out", folder / "kit", status=0)
    files = [path for path in sorted(SAMPLES.iterdir()) if path.suffix in {".pdf", ".jpg", ".heic"}]
    run("read", "--kit", folder / "kit", "--json", folder / "reading.json", *files, status=3)
    reading: dict[str, Any] = json.loads((folder / "reading.json").read_text("utf-8"))
    return reading


def test_the_samples_are_read_exactly_as_they_were_drawn(samples_reading: dict[str, Any]) -> None:
    answers = json.loads((SAMPLES / "answers.json").read_text("utf-8"))
    drawn = {(Path(sheet["source"]).name, sheet["source_page"]): sheet for sheet in answers["sheets"]}
    wrong, doubtful, read = [], 0, set()
    for page in samples_reading["pages"]:
        place = (Path(page["source"]).name, page["source_page"])
        if place not in drawn:
            continue
        assert (page["outcome"], page["sheet"]) == ("read", drawn[place]["sheet"])
        states = {(mark["field"], mark["option"]): mark["state"] for mark in drawn[place]["marks"]}
        for mark in page["marks"]:
            doubtful += mark["state"] == "doubtful"
            if mark["state"] not in ("doubtful", states.get((mark["field"], mark["option"]), "empty")):
                wrong.append((place, mark))
        read.add(place)
    assert read == set(drawn)
    assert wrong == []
    assert doubtful < 30


def test_the_stranger_in_the_samples_is_found_and_the_missing_sheet_missed(samples_reading: dict[str, Any]) -> None:
    answers = json.loads((SAMPLES / "answers.json").read_text("utf-8"))
    outcomes = {(Path(page["source"]).name, page["source_page"]): page for page in samples_reading["pages"]}
    stranger = outcomes[answers["stranger"]["source"], answers["stranger"]["source_page"]]
    assert (stranger["outcome"], stranger["marks"]) == ("foreign", [])
    assert stranger["reason"]
    assert all(page["outcome"] == "read" for page in outcomes.values() if page is not stranger)
    assert MISSING not in {(page["taster"], page["role"]) for page in samples_reading["pages"]}
