"""`facedown report slip` at the keyboard: numbers on paper are those of --json, keys stay secret, files stay whole."""

from __future__ import annotations

import csv
import gc
import io
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from kit.errors import ExitCode
from kit.record import layout_of, load_kit
from kit.sheet_layout import MarkBox
from kit.shell import main
from scanner.commands import report_slip
from scanner.reading import Mark
from scanner.reports.page import ReportPage
from scanner.reports.slip_page import slip_page
from tests.kit.kept import record_files
from tests.kit.rendering import text_of
from tests.outside_programs import left_out
from tests.scanner.reports.bench_command import filled_archive
from tests.scanner.reports.club import DRINKS, evening, session_toml
from tests.scanner.results.test_notes_commands import kit_folder, reading

Run = Callable[..., Result]
NAMES = ("Ines", "=Tomas()")

poppler = pytest.mark.skipif(left_out("pdftotext"), reason="poppler is not installed")


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(main, ["report", "slip", *map(str, arguments)])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return kit_folder(tmp_path / "kit", "K7Q4M2", NAMES)


def flat(text: str) -> str:
    return " ".join(text.split())


@poppler
def test_the_numbers_on_paper_are_those_of_json(run: Run, folder: Path, tmp_path: Path) -> None:
    result = run(
        "--kit", folder, "--out", "slips.pdf", "--json", "slips.json", reading(tmp_path / "r.json", "K7Q4M2", 2)
    )
    assert result.exit_code == ExitCode.DONE, result.output
    assert "slips.pdf: 2 slips, a page each." in result.stdout
    entry = json.loads((tmp_path / "slips.json").read_text("utf-8"))
    assert entry["format"] == "facedown-slips/1"
    texts = [flat(text) for text in text_of((tmp_path / "slips.pdf").read_bytes())]
    seals = load_kit(folder).seals
    for number, (slip, text) in enumerate(zip(entry["slips"], texts, strict=False), start=1):
        short, told = slip["result"]
        assert f"{short} {told}" in text
        assert short == f"{slip['correct']} of {slip['of']} right"
        assert slip["chance_at_least"] == pytest.approx(1 / 6)  # all three right: one key of six
        assert "3 or more 1 time in 6" in told
        assert slip["practise"]["sentence"] in text
        assert slip["seal"].replace("-", "") == seals[number - 1]
        assert f"Kit K7Q4M2 Seal code {slip['seal']}" in text
        assert f"page {number} of 2" in text
        for drink in slip["drinks"]:
            assert f"{drink['coaster']} {drink['name']}" in text
            assert drink["claim"] in text
            for word in (*drink["kept"], *drink["dropped"], *drink["new"]):
                assert word in text


def test_csv_has_a_row_for_each_drink_and_no_formula(run: Run, folder: Path, tmp_path: Path) -> None:
    result = run("--kit", folder, "--out", "slips.pdf", "--csv", "slips.csv", reading(tmp_path / "r.json", "K7Q4M2", 2))
    assert result.exit_code == ExitCode.DONE, result.output
    rows = list(csv.DictReader(io.StringIO((tmp_path / "slips.csv").read_text("utf-8-sig"))))
    assert [(row["coaster"], row["place"], row["claimed_there"], row["right"]) for row in rows[:3]] == [
        ("1", "B", "1", "true"),
        ("2", "C", "2", "true"),
        ("3", "A", "3", "true"),
    ]
    assert rows[3]["name"] == "'=Tomas()"
    assert (rows[0]["kept"], rows[0]["finish_1"], rows[0]["finish_2"]) == ("pear", "1", "1")


def test_one_taster_alone_gets_one_page_on_the_paper_asked_for(run: Run, folder: Path, tmp_path: Path) -> None:
    read = reading(tmp_path / "r.json", "K7Q4M2", 2)
    result = run(
        "--kit",
        folder,
        "--out",
        "one.pdf",
        "--taster",
        "Ines",
        "--paper",
        "letter",
        "--print-safe",
        "--json",
        "-",
        read,
    )
    assert result.exit_code == ExitCode.DONE, result.output
    assert [slip["name"] for slip in json.loads(result.stdout)["slips"]] == ["Ines"]
    assert b"/MediaBox [0 0 612 792]" in (tmp_path / "one.pdf").read_bytes()


def secret(folder: Path) -> Path:
    """Turn the kit's key into one that all share."""
    kit = load_kit(folder)
    shared = replace(kit, session=replace(kit.session, keys="shared"))
    for name, content in record_files(shared, layout_of(folder)).items():
        (folder / name).write_bytes(content)
    return folder


@poppler
def test_a_key_stays_secret_until_all_claims_are_in(run: Run, folder: Path, tmp_path: Path) -> None:
    read = reading(tmp_path / "r.json", "K7Q4M2", 1)  # the second taster's claims are missing
    result = run("--kit", secret(folder), "--out", "slips.pdf", "--json", "-", read)
    assert result.exit_code == ExitCode.LOOK
    [slip] = json.loads(result.stdout)["slips"]
    assert (slip["state"], slip["correct"]) == ("sealed", None)
    assert all(place["stood"] is None for place in slip["places"])
    assert all(
        drink["place"] is None and drink["round_two"] is None and drink["name"] is None for drink in slip["drinks"]
    )
    [text, *_] = text_of((tmp_path / "slips.pdf").read_bytes())
    assert "The keys stay sealed until all claims are in." in flat(text)
    assert "Heron Marsh" not in text


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--csv", "same.pdf"], "--out and --csv both name same.pdf"),
        (["--json", "./same.pdf"], "--out and --json both name"),
    ],
)
def test_one_file_for_two_things_is_refused(run: Run, folder: Path, tmp_path: Path, more: list[str], said: str) -> None:
    result = run("--kit", folder, "--out", "same.pdf", *more, reading(tmp_path / "r.json", "K7Q4M2", 2))
    assert result.exit_code == ExitCode.USAGE
    assert said in result.stderr
    assert not (tmp_path / "same.pdf").exists()


def test_what_is_read_is_never_overwritten(run: Run, folder: Path, tmp_path: Path) -> None:
    read = reading(tmp_path / "r.json", "K7Q4M2", 2)
    before = read.read_bytes()
    result = run("--kit", folder, "--out", read, read)
    assert result.exit_code == ExitCode.USAGE
    assert "--out" in result.stderr
    assert read.read_bytes() == before


@pytest.mark.parametrize("option", ["--out", "--csv", "--json"])
@pytest.mark.parametrize("name", ["keys.pdf", "forms.pdf", "packets/0001.pdf"])
def test_no_paper_of_the_kit_is_overwritten(run: Run, folder: Path, tmp_path: Path, option: str, name: str) -> None:
    paper = folder / name
    paper.parent.mkdir(exist_ok=True)
    paper.write_bytes(b"sealed")
    out = () if option == "--out" else ("--out", "slips.pdf")
    result = run("--kit", folder, *out, option, paper, reading(tmp_path / "r.json", "K7Q4M2", 2))
    assert result.exit_code == ExitCode.USAGE
    assert f"{option} {paper} would overwrite a file of a kit" in flat(result.stderr)
    assert paper.read_bytes() == b"sealed"


def test_a_folder_that_is_not_there_ends_in_status_5_and_no_sheets_in_4(run: Run, folder: Path, tmp_path: Path) -> None:
    read = reading(tmp_path / "r.json", "K7Q4M2", 2)
    assert run("--kit", folder, "--out", tmp_path / "none" / "slips.pdf", read).exit_code == ExitCode.STORAGE
    empty: dict[str, Any] = {"format": "facedown-reading/1", "pages": [], "turned": [], "opened": []}
    (tmp_path / "empty.json").write_text(json.dumps(empty), "utf-8")
    result = run("--kit", folder, "--out", "slips.pdf", tmp_path / "empty.json")
    assert result.exit_code == ExitCode.REFUSED
    assert "no slip to print" in result.stderr
    assert not (tmp_path / "slips.pdf").exists()


def live() -> tuple[int, int]:
    """Return how many boxes of layouts, and how many marks of readings, are in memory."""
    gc.collect()
    there = gc.get_objects()
    return sum(isinstance(one, MarkBox) for one in there), sum(isinstance(one, Mark) for one in there)


@pytest.mark.parametrize("way", ["files", "archive"])
def test_while_slips_are_drawn_no_boxes_or_marks_of_the_pile_are_held(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    held: list[tuple[int, int]] = []

    def counted(*given: Any) -> ReportPage:
        held.append(live())
        return slip_page(*given)

    monkeypatch.setattr(report_slip, "slip_page", counted)
    boxes, marks = [], []
    for tasters in (6, 24):
        given: list[Any]
        if way == "archive":
            given = ["--archive", filled_archive(tmp_path / str(tasters), tasters)]
        else:
            toml = session_toml(tuple(DRINKS)[:3], [f"Taster {number}" for number in range(tasters)])
            given = evening(tmp_path / str(tasters), toml, right=[1] * tasters).arguments
        before = live()
        result = run(*given, "--out", "slips.pdf", "--json", "slips.json")
        assert result.exit_code == ExitCode.DONE, result.output
        assert len(held) == tasters
        boxes.append(max(one[0] for one in held) - before[0])
        marks.append(max(one[1] for one in held) - before[1])
        held.clear()
    assert boxes[0] == boxes[1] > 0
    # At the most one of each kind for each box, which all sheets share: marked, withdrawn, empty.
    assert max(marks) <= 3 * boxes[0]
