"""`facedown read` on real files; how well it reads is `tests/test_whole_way.py`'s matter."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from kit.build import build_kit, chance_for
from kit.session import load_session
from kit.sheets import form_sheets
from kit.shell import main
from scanner.kits import KitOnFile
from scanner.page_tasks import PageWork, Task, Told
from scanner.read_pile import read_files
from scanner.reading import Outcome, PageReading, PictureReading
from scanner.rehearsal.arrays import Gray
from scanner.rehearsal.hand import HANDS, PENS, Intent, mark_sheet
from scanner.rehearsal.prints import printed
from tests.make_samples import SAMPLES

PX_PER_MM = 200 / 25.4


def facedown(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


@pytest.fixture(scope="module")
def kit(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("read") / "kit"
    assert facedown("print", SAMPLES / "winter.toml", "--out", folder).exit_code == 0
    return folder


@pytest.fixture(scope="module")
def blank_pages() -> dict[str, Gray]:
    """Taster 1's printed sheets at 200 dpi, by sheet id."""
    session = load_session(SAMPLES / "winter.toml")
    sheets = [one for one in form_sheets(build_kit(session, chance_for(session))) if one.layout.taster == 1]
    return {layout.sheet: page for layout, page in printed(sheets, PX_PER_MM)}


@pytest.fixture
def pictures(tmp_path: Path, blank_pages: dict[str, Gray]) -> Path:
    """notes.png: a blank note sheet; claims.png: place A claims 2; other.png: the same sheet, place A claims 3."""
    session = load_session(SAMPLES / "winter.toml")
    layouts = {
        one.layout.role: one.layout
        for one in form_sheets(build_kit(session, chance_for(session)))
        if one.layout.taster == 1
    }
    match = layouts["match"]
    Image.fromarray(blank_pages[layouts["notes-1"].sheet]).save(tmp_path / "notes.png")
    for name, number in (("claims", "2"), ("other", "3")):
        rng = np.random.default_rng(5)
        intents = {("match.A", number): Intent.MARK, ("match.B", "1"): Intent.MARK}
        marked = mark_sheet(blank_pages[match.sheet], match, intents, HANDS[0], PENS[0], rng, PX_PER_MM)
        Image.fromarray(marked.page).save(tmp_path / f"{name}.png")
    return tmp_path


def reading_of(result: Result, path: Path) -> list[dict[str, Any]]:
    assert path.exists(), result.output
    entry = json.loads(path.read_text("utf-8"))
    assert entry["format"] == "facedown-reading/1"
    pages: list[dict[str, Any]] = entry["pages"]
    return pages


def test_a_sheet_is_read_and_every_box_is_listed(kit: Path, pictures: Path) -> None:
    result = facedown("read", "--kit", kit, "--json", pictures / "out.json", pictures / "claims.png")
    [page] = reading_of(result, pictures / "out.json")
    assert (result.exit_code, page["outcome"], page["role"], page["taster"]) == (0, "read", "match", 1)
    assert len(page["marks"]) == 5 * 5 + 5 * 3
    assert [mark["field"] + mark["option"] for mark in page["marks"] if mark["state"] == "marked"] == [
        "match.A2",
        "match.B1",
    ]
    assert "Ines" in result.output


def test_remarks_alone_leave_nothing_to_look_at(kit: Path, pictures: Path) -> None:
    result = facedown("read", "--kit", kit, pictures / "notes.png")
    assert (result.exit_code, "nothing is marked on it" in result.output) == (0, True)


def test_the_same_sheet_twice_is_a_repeat_and_with_other_answers_a_conflict(kit: Path, pictures: Path) -> None:
    shutil.copy(pictures / "claims.png", pictures / "again.png")
    names = [pictures / f"{name}.png" for name in ("claims", "again", "other")]
    result = facedown("read", "--kit", kit, "--json", pictures / "out.json", *names)
    assert [page["outcome"] for page in reading_of(result, pictures / "out.json")] == ["read", "repeat", "conflict"]
    assert result.exit_code == 3
    assert "other answers than" in result.output


def test_an_answers_file_settles_a_conflict(kit: Path, pictures: Path) -> None:
    names = [pictures / "claims.png", pictures / "other.png"]
    sheet = reading_of(facedown("read", "--kit", kit, "--json", pictures / "out.json", *names), pictures / "out.json")[
        0
    ]["sheet"]
    answers = pictures / "answers.toml"
    answers.write_text(f'[[settle]]\nsheet = "{sheet}"\nkeep = "{names[1]}"\n', "utf-8")
    result = facedown("read", "--kit", kit, "--settle", answers, "--json", pictures / "out.json", *names)
    pages = reading_of(result, pictures / "out.json")
    assert (result.exit_code, [page["outcome"] for page in pages]) == (0, ["read", "repeat"])
    settled = {(m["field"], m["option"]): (m["state"], m.get("by")) for m in pages[0]["marks"]}
    assert settled["match.A", "3"] == ("marked", "person")
    assert settled["match.A", "2"] == ("empty", "person")
    assert settled["match.B", "1"] == ("marked", None)


def test_an_answer_for_nothing_in_the_pile_is_said(kit: Path, pictures: Path) -> None:
    answers = pictures / "answers.toml"
    answers.write_text('[[settle]]\nsheet = "K7Q4M2-0001-3"\nkeep = "x.png"\n', "utf-8")
    result = facedown("read", "--kit", kit, "--settle", answers, pictures / "claims.png")
    assert (result.exit_code, "names nothing in this pile" in result.output) == (3, True)


def test_a_file_that_cannot_be_opened_costs_one_entry_and_the_others_go_on(kit: Path, pictures: Path) -> None:
    (pictures / "letter.txt").write_text("Dear club", "utf-8")
    (pictures / "empty.jpg").write_bytes(b"")
    names = [pictures / name for name in ("letter.txt", "empty.jpg", "missing.jpg", "claims.png")]
    result = facedown("read", "--kit", kit, "--json", pictures / "out.json", "--jobs", "2", *names)
    pages = reading_of(result, pictures / "out.json")
    assert [(page["outcome"], page["source_page"]) for page in pages] == [("unreadable", None)] * 3 + [("read", 1)]
    assert all(page["reason"] and page["sheet"] is None and page["marks"] == [] for page in pages[:3])
    assert result.exit_code == 3


def test_no_file_that_could_be_opened_is_refused(kit: Path, tmp_path: Path) -> None:
    assert facedown("read", "--kit", kit, tmp_path / "missing.jpg").exit_code == 4


def test_a_blank_page_and_another_program_s_page_are_unreadable_with_a_reason(kit: Path, tmp_path: Path) -> None:
    Image.new("L", (1654, 2339), 250).save(tmp_path / "blank.png")
    noise = np.random.default_rng(1).integers(0, 255, (2339, 1654), np.uint8)
    Image.fromarray(noise).save(tmp_path / "noise.png")
    result = facedown(
        "read", "--kit", kit, "--json", tmp_path / "out.json", tmp_path / "blank.png", tmp_path / "noise.png"
    )
    pages = reading_of(result, tmp_path / "out.json")
    assert [page["outcome"] for page in pages] == ["unreadable"] * 2
    assert "blank" in pages[0]["reason"]
    assert "not a sheet of facedown" in pages[1]["reason"]


def test_a_sheet_of_a_kit_that_was_not_given_is_foreign(pictures: Path, tmp_path: Path) -> None:
    other = tmp_path / "other-kit"
    assert facedown("print", SAMPLES / "daily.toml", "--out", other).exit_code == 0
    result = facedown("read", "--kit", other, "--json", tmp_path / "out.json", pictures / "claims.png")
    [page] = reading_of(result, tmp_path / "out.json")
    assert (page["outcome"], page["marks"], result.exit_code) == ("foreign", [], 3)


def test_json_to_standard_output_is_nothing_but_json(kit: Path, pictures: Path) -> None:
    result = facedown("read", "--kit", kit, "--json", "-", pictures / "claims.png")
    assert json.loads(result.stdout)["pages"][0]["outcome"] == "read"


def test_the_pictures_read_are_never_overwritten(kit: Path, pictures: Path) -> None:
    before = (pictures / "claims.png").read_bytes()
    assert facedown("read", "--kit", kit, "--json", pictures / "claims.png", pictures / "claims.png").exit_code == 2
    assert (pictures / "claims.png").read_bytes() == before


@pytest.mark.parametrize(("typed", "states"), [("x\ne\nm\n", ["empty", "marked"]), ("w\n", ["withdrawn", "marked"])])
def test_two_marks_are_asked_about_on_a_terminal_and_breaking_off_keeps_what_was_said(
    kit: Path, pictures: Path, monkeypatch: pytest.MonkeyPatch, typed: str, states: list[str]
) -> None:
    monkeypatch.setattr("scanner.commands.read._can_ask", lambda: True)
    session = load_session(SAMPLES / "winter.toml")
    match = next(
        sheet for sheet in form_sheets(build_kit(session, chance_for(session))) if sheet.layout.role == "match"
    ).layout
    page = np.asarray(Image.open(pictures / "claims.png"))
    marked = mark_sheet(
        page, match, {("match.A", "4"): Intent.MARK}, HANDS[0], PENS[0], np.random.default_rng(5), PX_PER_MM
    )
    Image.fromarray(marked.page).save(pictures / "twice.png")
    arguments = ["read", "--kit", str(kit), "--json", str(pictures / "out.json"), str(pictures / "twice.png")]
    result = CliRunner().invoke(main, arguments, input=typed)
    [reading] = reading_of(result, pictures / "out.json")
    told = {mark["option"]: mark["state"] for mark in reading["marks"] if mark["field"] == "match.A"}
    assert [told["2"], told["4"]] == states
    assert "place A, claim 2" in result.output
    assert result.exit_code == 0


def test_a_defect_on_one_page_costs_that_page_and_not_the_pile(pictures: Path) -> None:
    [page] = read_files([pictures / "claims.png"], {}, 1, work=WithoutKits())
    assert isinstance(page, PageReading)
    assert page.outcome is Outcome.UNREADABLE
    assert "the program failed on it (AttributeError: " in (page.reason or "")


@dataclass(frozen=True, slots=True)
class WithoutKits:
    """A defect in the reader: it is given nothing where kits belong."""

    def __call__(self, task: Task) -> Told:
        return PageWork(cast(Mapping[str, KitOnFile], None))(task)


def test_an_interrupted_pile_keeps_the_pages_read_so_far(
    kit: Path, pictures: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(
        files: tuple[str, ...], kits: dict[str, KitOnFile], jobs: int, **_: object
    ) -> Iterator[PictureReading]:
        yield from read_files(files[:1], kits, 1)
        raise KeyboardInterrupt

    monkeypatch.setattr("scanner.commands.read.read_files", interrupted)
    names = [pictures / "claims.png", pictures / "other.png"]
    result = facedown("read", "--kit", kit, "--json", pictures / "out.json", *names)
    [page] = reading_of(result, pictures / "out.json")
    assert (result.exit_code, page["outcome"]) == (130, "read")
    assert "what was read so far is kept, pages: 1" in result.stderr


def test_several_workers_read_the_same_as_one(kit: Path, pictures: Path) -> None:
    names = [pictures / f"{name}.png" for name in ("notes", "claims", "other")] * 2
    alone = facedown("read", "--kit", kit, "--json", "-", "--jobs", "1", *names)
    together = facedown("read", "--kit", kit, "--json", "-", "--jobs", "2", *names)
    assert alone.stdout == together.stdout


@pytest.mark.parametrize("harm", ["missing record", "missing layout", "edited", "other format", "no folder"])
def test_a_kit_that_is_not_whole_is_refused(kit: Path, pictures: Path, harm: str) -> None:
    folder = pictures / "kit"
    shutil.copytree(kit, folder)
    record, layout = folder / "kit.json", folder / "layout.json"
    match harm:
        case "missing record":
            record.unlink()
        case "missing layout":
            layout.unlink()
        case "edited":
            record.write_text(record.read_text("utf-8").replace("First flight", "Last flight"), "utf-8")
        case "other format":
            record.write_text(record.read_text("utf-8").replace("facedown-kit/1", "facedown-kit/9"), "utf-8")
        case "no folder":
            shutil.rmtree(folder)
    result = facedown("read", "--kit", folder, pictures / "claims.png")
    assert result.exit_code == 4
    assert str(folder) in result.stderr
