"""`facedown report table` at the keyboard: its PDF's numbers against its JSON, its structure, its pages."""

from __future__ import annotations

import json
import re
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from kit.errors import ExitCode
from kit.shell import main
from kit.wording import load_wording
from scanner.reports.waiting import Waiting, waiting_line
from tests.outside_programs import left_out
from tests.scanner.reports.club import DRINKS, TASTERS, Evening, evening, session_toml, year
from tests.scanner.reports.read_back import flowing, page_texts

Run = Callable[..., Result]
NAMES = tuple(DRINKS)
LONG_DRINKS = ("The Very Long Pressing of the Northern Saltmarsh Brewery No.", "W" * 60, "特別純米大吟醸生酛" * 6)

needs_poppler = pytest.mark.skipif(left_out("pdftotext"), reason="poppler's programs are not installed")
needs_qpdf = pytest.mark.skipif(left_out("qpdf"), reason="qpdf is not installed")


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(main, ["report", *map(str, arguments)])


def printed(run: Run, *made: Evening, options: tuple[str, ...] = ()) -> tuple[dict[str, Any], list[str]]:
    """Print the table's report; return its JSON and the text of its pages."""
    given = [argument for one in made for argument in one.arguments]
    result = run("table", *given, "--out", "t.pdf", "--json", "t.json", *options)
    assert result.exit_code in (ExitCode.DONE, ExitCode.LOOK), result.output
    return json.loads(Path("t.json").read_text("utf-8")), page_texts(Path("t.pdf"))


def cells(text: str, first: str) -> list[str]:
    """Return what stands right of a text in its line."""
    line = next(line for line in text.splitlines() if first in line)
    return line.partition(first)[2].split()


@needs_poppler
def test_the_numbers_on_paper_are_those_of_the_json(run: Run, tmp_path: Path) -> None:
    skip = lambda taster, role: (taster, role) == (4, "notes-2")  # noqa: E731
    made = evening(tmp_path / "kit", session_toml(NAMES[:5]), right=[5, 2, 1, 0, 3, 2, 1, 5], skip=skip, doubtful=[7])
    entry, pages = printed(run, made)
    (sheet,) = entry["sittings"]
    (text,) = pages
    flow = flowing(text)
    names = [drink["name"] for drink in sheet["drinks"]]
    for line in sheet["tasters"]:
        shown = cells(text, line["name"])
        if line["taken_for"] is None:
            assert shown[:3] == [str(line["correct"]), "of", "5"]
            continue
        marks = ["●" if claimed == at else str(claimed) for at, claimed in enumerate(line["taken_for"], start=1)]
        assert shown[:8] == [*marks, str(line["correct"]), "of", "5"]
        if line["correct"] == 5:
            assert shown[8:12] == ["1", "time", "in", f"{round(1 / line['chance_at_least'])}"]
    assert f"The table: {sheet['correct']} of {sheet['of']} right so far." in flow
    assert f"has {sheet['expected_by_luck']:.1f} on average" in flow
    bars = [f"{bar[name]:{form}}" for bar in sheet["counts"] for name, form in (("tasters", "d"), ("by_luck", ".1f"))]
    for shown_number in bars:
        assert re.search(rf"(?<![\d.]){re.escape(shown_number)}(?![\d.])", flow)
    for at, (name, counts) in enumerate(zip(names, sheet["grid"]["times"], strict=True), start=1):
        line = next(one for one in text.splitlines() if re.search(rf"{at} +{name} +\d+ +\d+ +\d+ +\d+ +\d+", one))
        assert cells(line, name) == [str(count) for count in counts]
    hardest = [names[at - 1] for at in sheet["hardest"]]
    assert f"Hardest: {', '.join(hardest)}, recognised by" in flow
    for drink in sheet["drinks"]:
        for word, said in drink["words"][:3]:
            assert re.search(rf"\b{word} +{said}\b", flow)
    assert "Kofi: notes of round two" in flow
    lines = [waiting_line(Waiting(**one), load_wording("en")) for one in sheet["waiting"]]
    assert lines
    assert all(flowing(line)[:40] in flow for line in lines)


@needs_poppler
def test_every_sheet_has_its_kit_and_each_taster_the_seal_code(run: Run, tmp_path: Path) -> None:
    made = evening(tmp_path / "kit", session_toml(NAMES[:3]))
    _, (text,) = printed(run, made)
    assert f"Kit {made.kit.id}" in text.splitlines()[-1]
    for name, seal in zip(TASTERS, made.kit.seals, strict=True):
        assert seal.replace("-", "") in " ".join(cells(text, name)).replace("-", "")


@needs_poppler
@pytest.mark.parametrize("tasters", [3, 60])
def test_every_page_says_what_the_seal_codes_are_or_where(run: Run, tmp_path: Path, tasters: int) -> None:
    made = evening(tmp_path / "kit", session_toml(NAMES[:4], [f"Taster {number}" for number in range(tasters)]))
    _, pages = printed(run, made)
    for text in pages:
        foot = text.splitlines()[-1].replace("-", "")
        assert made.kit.id in foot
        if tasters == 3:
            assert all(seal.replace("-", "") in foot for seal in made.kit.seals)
        else:
            assert "Seal codes in each taster's line" in foot


@needs_poppler
def test_many_tasters_flow_to_pages_that_repeat_the_heading(run: Run, tmp_path: Path) -> None:
    tasters = [f"Taster with a rather long name indeed, number {number}" for number in range(1, 61)]
    made = evening(tmp_path / "kit", session_toml(NAMES[:4], tasters))
    _, pages = printed(run, made, options=("--paper", "Letter", "--print-safe"))
    assert len(pages) == 3
    for number, text in enumerate(pages, start=1):
        assert "The table" in text
        assert "First flight of winter" in text
        assert f"page {number} of 3" in text
    assert all("a guesser does as well" in text for text in pages[:2])
    whole = flowing(" ".join(pages))
    assert all(f"number {number}" in whole for number in (1, 30, 60))


@needs_poppler
@pytest.mark.parametrize("glasses", [3, 4, 5])
def test_long_names_and_eight_tasters_keep_to_the_paper(run: Run, tmp_path: Path, glasses: int) -> None:
    made = evening(tmp_path / "kit", session_toml([*LONG_DRINKS, "Old Jetty", "Low Sun"][:glasses]))
    printed(run, made, options=("--paper", "A4"))
    assert all_text_is_within(Path("t.pdf"), 210, 297, 10)


@needs_poppler
def test_many_doubts_and_missing_sheets_keep_to_the_paper_and_the_rest_is_counted(run: Run, tmp_path: Path) -> None:
    tasters = [f"Wilhelmina Featherstonehaugh-Cholmondeley {number}" for number in range(1, 31)]
    skip = lambda taster, role: role == "notes-1"  # noqa: E731
    made = evening(tmp_path / "kit", session_toml(NAMES[:5], tasters), doubtful=range(1, 31), skip=skip)
    entry, pages = printed(run, made, options=("--paper", "Letter", "--print-safe"))
    assert all_text_is_within(Path("t.pdf"), 215.9, 279.4, 15)
    assert len(entry["sittings"][0]["waiting"]) == 30
    assert len(re.findall(r"and \d+ more, all in the JSON", flowing(" ".join(pages)))) == 2


def all_text_is_within(pdf: Path, width_mm: float, height_mm: float, margin_mm: float) -> bool:
    """Tell whether every word's box, as poppler finds it, keeps the margins; a line's box reaches below its letters."""
    done = subprocess.run(["pdftotext", "-bbox", str(pdf), "-"], capture_output=True, text=True, check=True)
    found = re.findall(r'xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)"', done.stdout)
    boxes = [tuple(float(side) * 25.4 / 72 for side in box) for box in found]
    assert boxes
    return all(
        left >= margin_mm - 0.2 and right <= width_mm - margin_mm + 0.2 and bottom <= height_mm - margin_mm + 1.2
        for left, _, right, bottom in boxes
    )


@needs_poppler
def test_a_sealed_key_is_told_by_neither_paper_json_nor_csv(run: Run, tmp_path: Path) -> None:
    toml = session_toml(NAMES[:3], TASTERS[:4], keys="shared")
    made = evening(tmp_path / "kit", toml, skip=lambda taster, role: (taster, role) == (2, "match"))
    entry, (text,) = printed(run, made, options=("--csv", "t.csv"))
    assert entry["sittings"][0]["hidden"]
    assert "keys still sealed" in text
    assert "Not shown yet" in text
    assert not re.search(r"\d of 3", text)
    content = Path("t.csv").read_text("utf-8-sig")
    assert "taken_for" not in content
    assert '"claimed"' not in content


@needs_poppler
def test_one_taster_has_a_sheet_that_says_what_is_too_little(run: Run, tmp_path: Path) -> None:
    made = evening(tmp_path / "kit", session_toml(NAMES[:3], ["Ines"]), right=[1])
    _, (text,) = printed(run, made)
    flow = flowing(text)
    assert "The table: 1 of 3 right." in flow
    assert "Too little to tell which drink is hardest" in flow
    assert "Words of the table need the notes of 3 tasters" in flow


@needs_poppler
def test_several_sittings_have_a_page_on_all_of_them(run: Run, tmp_path: Path) -> None:
    made = year(tmp_path / "club", 3, TASTERS[:3])
    entry, pages = printed(run, *made)
    assert [sheet["title"] for sheet in entry["sittings"]] == ["Thursday flight 3"]
    whole, flow = entry["together"], flowing(pages[-1])
    assert f"{whole['correct']} of {whole['of']} right in 9 tasters' sittings" in flow
    assert f"has {whole['expected_by_luck']:.1f} on average" in flow
    for pair in whole["pairs"]:
        numbers = [str(pair["times"]), f"{pair['evenly']:.1f}", f"{pair['by_luck']:.1f}", str(pair["together"])]
        assert cells(pages[-1], " – ".join(pair["names"]))[:4] == numbers
    entry, pages = printed(run, *made, options=("--every",))
    assert len(entry["sittings"]) == 3
    assert len(pages) == 4


@needs_qpdf
@needs_poppler
def test_two_other_programs_find_the_pdf_sound_tagged_and_its_fonts_embedded(run: Run, tmp_path: Path) -> None:
    printed(run, evening(tmp_path / "kit", session_toml(["Heron 大吟醸", *NAMES[1:3]])))
    subprocess.run(["qpdf", "--check", "t.pdf"], check=True, capture_output=True)
    about = subprocess.run(["pdfinfo", "t.pdf"], check=True, capture_output=True, text=True).stdout
    assert re.search(r"Tagged: +yes", about)
    assert re.search(r"Title: +The table: First flight of winter", about)
    fonts = subprocess.run(["pdffonts", "t.pdf"], check=True, capture_output=True, text=True).stdout.splitlines()[2:]
    assert fonts
    assert all(line.split()[-5:-2] == ["yes", "yes", "yes"] for line in fonts)


def test_sittings_mixed_by_hand_say_what_is_assumed(run: Run, tmp_path: Path) -> None:
    made = evening(tmp_path / "kit", session_toml(NAMES[:3], shuffle="hand"), right=[3, 1, 0, 1, 1, 3, 0, 0])
    result = run("table", *made.arguments, "--out", "t.pdf", "--json", "-")
    assert json.loads(result.stdout)["sittings"][0]["correct"] == 9


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (("--out", "t.pdf", "--csv", "t.pdf"), "name two files"),
        (("--out", "kit.json"), "kit.json"),
        ((), "Missing option '--out'"),
    ],
)
def test_wrong_usage_is_refused(run: Run, tmp_path: Path, options: tuple[str, ...], sentence: str) -> None:
    made = evening(tmp_path / "kit", session_toml(NAMES[:3]))
    result = run("table", *made.arguments, *options)
    assert result.exit_code == ExitCode.USAGE
    assert sentence in result.output
    assert made.reading.read_text("utf-8").startswith("{")


@needs_poppler
@pytest.mark.parametrize(("sittings", "tasters"), [(2, 3), (4, 8), (3, 20)])
def test_the_page_of_all_sittings_has_their_first_and_last_seal_codes_and_the_json_all(
    run: Run, tmp_path: Path, sittings: int, tasters: int
) -> None:
    made = year(tmp_path / "club", sittings, [f"Taster {number}" for number in range(1, tasters + 1)])
    entry, pages = printed(run, *made)
    text = pages[-1]
    kits = [one.kit.id for one in made]
    told = {one["kit"]: [taster["seal"].replace("-", "") for taster in one["tasters"]] for one in entry["seals"]}
    assert told == {one.kit.id: list(one.kit.seals) for one in made}
    assert f"{sittings} sittings with {sittings} kits" in flowing(text)
    foot = text.splitlines()[-1]
    assert kits[0] in foot
    assert kits[-1] in foot
    assert f"{sittings} kits; seal codes at the end" in foot
    plain = text.replace("-", "")
    for one in (made[0], made[-1]):
        seals = one.kit.seals
        assert [seal for seal in seals if seal in plain] == list(seals if tasters <= 16 else (seals[0], seals[-1]))
        # On one line with whose it is.
        assert all(re.search(rf"Taster {seals.index(seal) + 1} {seal}", plain) for seal in seals if seal in plain)
    assert ("the JSON has those of all" in flowing(text)) == (sittings > 2 or tasters > 16)
