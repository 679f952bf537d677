"""`facedown rehearse`: its three ways, its messages, its statuses."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from PIL import Image
from scipy.stats import binomtest

from kit.shell import main
from scanner.commands import rehearse as rehearse_module
from scanner.reading import Outcome
from scanner.rehearsal.camera import SHOTS
from scanner.rehearsal.course import Course
from scanner.rehearsal.own_kit import own_kit
from scanner.rehearsal.tally import Tried
from scanner.rehearsal.trial import Trial
from tests.make_samples import SAMPLES
from tests.scanner.rehearsal_sheets import filled, scan, session_of, winter

WINTER = SAMPLES / "winter.toml"


def facedown(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in ("rehearse", *arguments)])


def tried(condition: str = "flatbed-200", read: str = "empty", *, stolen: bool = False) -> Tried:
    counts = Counter({("empty", "plain", "empty"): 280}) + Counter({("empty", "plain", read): 10})
    return Tried(0, condition, "neat-crosses", "gel-pen", Trial(290, Outcome.READ, None, False, stolen, counts, (), ()))


def answer_with(monkeypatch: pytest.MonkeyPatch, *sheets: Tried | type[BaseException]) -> None:
    def rehearse(course: Course, jobs: int) -> Iterator[Tried]:
        for sheet in sheets:
            if isinstance(sheet, Tried):
                yield sheet
            else:
                raise sheet

    monkeypatch.setattr(rehearse_module, "rehearse", rehearse)


def test_without_a_camera_both_figures_are_told_for_each_condition(tmp_path: Path) -> None:
    result = facedown(
        WINTER, "--conditions", "flatbed-200,fax-200", "--sheets", "2", "--jobs", "1", "--json", tmp_path / "out.json"
    )
    entry = json.loads((tmp_path / "out.json").read_text("utf-8"))
    assert result.exit_code == (3 if entry["all"]["silent_errors"]["count"] else 0)
    assert (entry["format"], entry["all"]["sheets"], entry["seed"]) == ("facedown-rehearsal/1", 4, 0)
    assert [row["condition"] for row in entry["by_condition"]] == ["flatbed-200", "fax-200"]
    assert sum(row["sheets"] for row in entry["by_hand"]) == sum(row["sheets"] for row in entry["by_pen"]) == 4
    for row in (entry["all"], *entry["by_condition"], *entry["by_hand"], *entry["by_pen"]):
        for figure in (row["silent_errors"], row["doubtful"]):
            exact = binomtest(figure["count"], figure["of"]).proportion_ci(0.95, method="exact")
            assert figure["low_95"] == pytest.approx(exact.low, rel=1e-6)
            assert figure["high_95"] == pytest.approx(exact.high, rel=1e-6)
        shown = f"{row['silent_errors']['of']:,}"
        assert shown in result.output or row not in entry["by_condition"]


def test_json_alone_goes_to_standard_output(monkeypatch: pytest.MonkeyPatch) -> None:
    answer_with(monkeypatch, tried())
    result = facedown(WINTER, "--conditions", "flatbed-200", "--sheets", "1", "--json", "-")
    assert json.loads(result.stdout)["all"]["silent_errors"]["of"] == 290
    assert result.stderr == ""


@pytest.mark.parametrize(
    ("sheet", "status", "words"),
    [
        (tried(), 0, "No plain box was read wrongly in silence."),
        (tried(read="doubtful"), 0, "10 = 3.45 %"),
        (tried(read="marked"), 3, "10 plain boxes read wrongly in silence."),
        (tried(stolen=True), 3, "1 sheet credited to another sheet"),
    ],
)
def test_the_status_is_3_only_where_something_was_read_wrongly(
    monkeypatch: pytest.MonkeyPatch, sheet: Tried, status: int, words: str
) -> None:
    answer_with(monkeypatch, sheet)
    result = facedown(WINTER, "--conditions", "flatbed-200", "--sheets", "1")
    assert (result.exit_code, words in result.output) == (status, True), result.output


def test_sheets_rightly_told_to_come_closer_stand_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    refused = [
        Tried(
            0, "photo-tilted", "waves", "gel-pen", Trial(290, Outcome.UNREADABLE, why, True, False, Counter(), (), ())
        )
        for why in ("it is too small (3.1 pixels a millimetre); come closer", "the page is blank")
    ]
    answer_with(monkeypatch, *refused)
    result = facedown(WINTER, "--conditions", "photo-tilted", "--sheets", "2")
    before, _, after = result.output.partition("Sheets too small in the picture")
    assert (result.exit_code, "the page is blank" in before, "come closer" in after) == (0, True, True)
    assert "No sheet could be read under these conditions." in after


def test_tables_by_hand_and_pen_on_request(monkeypatch: pytest.MonkeyPatch) -> None:
    answer_with(monkeypatch, tried())
    result = facedown(WINTER, "--conditions", "flatbed-200", "--sheets", "1", "--by", "hand", "--by", "pen")
    assert "neat-crosses" in result.output
    assert "gel-pen" in result.output
    assert "flatbed-200" not in result.output


def test_breaking_off_tells_nothing_half_true(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    answer_with(monkeypatch, tried(), KeyboardInterrupt)
    result = facedown(WINTER, "--json", tmp_path / "out.json")
    assert (result.exit_code, result.stdout, (tmp_path / "out.json").exists()) == (130, "", False)
    assert "interrupted" in result.stderr


def test_the_list_names_every_condition_and_needs_no_session() -> None:
    result = facedown("--list")
    assert result.exit_code == 0
    assert SHOTS.keys() <= {line.split()[0] for line in result.output.splitlines()}


def test_print_then_fill_in_then_scan_then_grade(tmp_path: Path) -> None:
    result = facedown(WINTER, "--print", tmp_path / "sheet.pdf")
    assert result.exit_code == 0
    assert f"facedown rehearse {WINTER} --grade SCAN…" in result.output
    own = own_kit(winter())
    assert own.to_fill.layout.sheet in result.output
    scan(filled(own), tmp_path / "scan.pdf")
    graded = facedown(WINTER, "--grade", tmp_path / "scan.pdf", "--json", tmp_path / "out.json")
    entry = json.loads((tmp_path / "out.json").read_text("utf-8"))
    assert (graded.exit_code, entry["format"]) == (0, "facedown-grade/1")
    assert entry["silent_errors"]["of"] == len(own.to_fill.layout.marks)
    exact = binomtest(0, entry["silent_errors"]["of"]).proportion_ci(0.95, method="exact")
    assert f"(0 to 1 in {1 / exact.high:,.0f})" in graded.output
    assert "true to size" in graded.output


def test_several_pictures_are_graded_each_and_together(tmp_path: Path) -> None:
    page = filled(own_kit(winter()))
    pictures = [scan(page, tmp_path / name) for name in ("one.png", "two.png")]
    result = facedown(WINTER, "--grade", *pictures)
    assert (result.exit_code, "All 2 pictures together, 580 boxes" in result.output) == (0, True)


def test_the_printed_sheets_themselves_scanned_unfilled_are_not_graded(tmp_path: Path) -> None:
    assert facedown(WINTER, "--print", tmp_path / "sheet.pdf").exit_code == 0
    result = facedown(WINTER, "--grade", tmp_path / "sheet.pdf")
    assert result.exit_code == 3
    assert " ".join(result.output.split()).count("not graded") == 2


def test_a_stranger_s_sheet_and_a_missing_file_leave_something_to_look_at(tmp_path: Path) -> None:
    other = scan(filled(own_kit(session_of(3))), tmp_path / "other.png")
    result = facedown(WINTER, "--grade", other, tmp_path / "nowhere.png")
    assert result.exit_code == 3
    text = " ".join(result.output.split())
    assert "another session's" in text
    assert "No such file" in text


def test_no_picture_that_can_be_opened_is_refused(tmp_path: Path) -> None:
    (tmp_path / "notes.png").write_text("no picture at all")
    assert facedown(WINTER, "--grade", tmp_path / "nowhere.png", tmp_path / "notes.png").exit_code == 4


def test_a_picture_too_small_to_be_a_page_leaves_something_to_look_at(tmp_path: Path) -> None:
    Image.new("L", (20, 20)).save(tmp_path / "tiny.png")
    result = facedown(WINTER, "--grade", tmp_path / "tiny.png")
    assert result.exit_code == 3
    assert "Too small to be a page" in " ".join(result.output.split())


def test_an_existing_file_is_not_written_over_without_force(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.pdf"
    sheet.write_text("mine")
    result = facedown(WINTER, "--print", sheet)
    assert (result.exit_code, sheet.read_text(), "--force" in result.output) == (4, "mine", True)
    assert facedown(WINTER, "--print", sheet, "--force").exit_code == 0
    assert sheet.read_bytes().startswith(b"%PDF")


def test_a_name_that_no_font_can_print_is_refused(tmp_path: Path) -> None:
    session = tmp_path / "odd.toml"
    session.write_text(WINTER.read_text("utf-8").replace("First flight of winter", "Flight \u0e01"), "utf-8")
    result = facedown(session, "--print", tmp_path / "sheet.pdf")
    assert (result.exit_code, "no shape for" in result.output) == (4, True)
    assert not (tmp_path / "sheet.pdf").exists()


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        ([], 2, "Missing argument 'SESSION'"),
        (["nowhere.toml"], 4, "there is no such file"),
        ([WINTER, "--conditions", "flatbd"], 4, "found 'flatbd'. Allowed are"),
        ([WINTER, "--conditions", ","], 4, "no condition at all"),
        ([WINTER, "--sheets", "0"], 2, "0 is not in the range"),
        ([WINTER, "--seed", "-1"], 2, "-1 is not in the range"),
        ([WINTER, "--by", "paper"], 2, "'paper' is not one of"),
        ([WINTER, "scan.png"], 2, "add --grade"),
        ([WINTER, "--grade"], 2, "--grade needs the scans"),
        ([WINTER, "--print", "a.pdf", "--grade", "scan.png"], 2, "two steps"),
        ([WINTER, "--print", "a.pdf", "--seed", "2"], 2, "--seed does not go with --print"),
        ([WINTER, "--print", "a.pdf", "--json", "out.json"], 2, "--json does not go with --print"),
        ([WINTER, "--grade", "scan.png", "--by", "hand"], 2, "--by does not go with --grade"),
        ([WINTER, "--force"], 2, "--force goes with --print alone"),
        ([WINTER, "--print", WINTER, "--force"], 2, "would overwrite the session file"),
        ([WINTER, "--json", WINTER], 2, "would overwrite"),
        ([WINTER, "--grade", "scan.png", "--json", "scan.png"], 2, "would overwrite"),
    ],
)
def test_wrong_usage_is_answered_in_a_sentence(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, arguments: list[str | Path], status: int, words: str
) -> None:
    monkeypatch.chdir(tmp_path)
    before = WINTER.read_bytes()
    result = facedown(*arguments)
    assert (result.exit_code, words in result.output) == (status, True), result.output
    assert WINTER.read_bytes() == before
    assert not list(tmp_path.iterdir())
