"""Progress: its numbers, and `facedown report progress` at the keyboard, on paper as in JSON."""

from __future__ import annotations

import json
import math
import re
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.errors import ExitCode
from kit.paper import A4, LETTER
from kit.shell import main
from kit.wording import load_wording
from scanner.reports.club_page import club_pages
from scanner.reports.csv_safe import csv_bytes
from scanner.reports.page import Frame
from scanner.reports.progress_numbers import ProgressNumbers, progress_numbers
from scanner.reports.progress_page import progress_pages, verdict_sentence
from scanner.reports.progress_rows import HEADING, rows, to_json
from scanner.reports.told import evidence_text
from scanner.results.sitting import TasterSitting
from scanner.results.steady import steady_words
from tests.outside_programs import left_out
from tests.scanner.reports.club import TASTERS, evening, session_toml, year
from tests.scanner.reports.read_back import flowing, page_texts
from tests.scanner.results.noted import drawn
from tests.scanner.results.skilled import sitting_with

ENGLISH = load_wording("en")
CELLAR = Path(__file__).parents[3] / "samples" / "cellar.toml"
Run = Callable[..., Result]

needs_poppler = pytest.mark.skipif(left_out("pdftotext"), reason="poppler's programs are not installed")
needs_qpdf = pytest.mark.skipif(left_out("qpdf"), reason="qpdf is not installed")


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(main, ["report", "progress", *map(str, arguments)])


def numbers(*sittings: TasterSitting) -> ProgressNumbers:
    return progress_numbers("ines", "Ines", sittings)


def test_each_sitting_has_a_point_and_evidence_in_the_order_of_dates() -> None:
    found = numbers(*(sitting_with(right, 4, day) for day, right in ((9, 4), (2, 1), (5, 2))))
    assert [(point.number, point.correct, point.of) for point in found.points] == [(1, 1, 4), (2, 2, 4), (3, 4, 4)]
    assert found.evidence[0].sittings == (1, 2, 3)
    assert (found.correct, found.of) == (7, 12)
    # A guesser has one right of any number of glasses (the matching distribution's mean).
    assert found.expected_by_luck == pytest.approx(3.0)
    assert all(low < middle < high for low, middle, high in (point.band for point in found.points))


def test_designed_and_hand_keys_have_lines_apart() -> None:
    found = numbers(*(sitting_with(4, 4, day, shuffle="hand" if day % 2 else "host") for day in range(6)))
    assert [(line.keys, line.sittings) for line in found.evidence] == [
        ("drawn by lot", (1, 3, 5)),
        ("mixed by hand", (2, 4, 6)),
    ]


def test_steady_words_are_counted_over_time_and_end_with_those_of_now() -> None:
    chance = np.random.default_rng(3)
    cores = (("pear", "melon"), ("rice", "malt"), ("butter", "smoke"))
    sittings = [drawn(cores, chance, day, 0.8) for day in range(26)]
    found = numbers(*sittings)
    now = [word for word in steady_words(sittings) if word.verdict == "steady"]
    assert found.steady_total == len(now) > 0
    assert found.steady_counts[-1].sittings == found.noted == 26
    assert found.steady_counts[-1].words == len(now)
    assert [count.sittings for count in found.steady_counts] == sorted({n.sittings for n in found.steady_counts})
    half = next(count for count in found.steady_counts if count.sittings == 13)
    assert half.words == sum(word.verdict == "steady" for word in steady_words(sittings[:13]))


@pytest.mark.parametrize(
    ("count", "sentence"),
    [
        (0, "no sitting counts yet"),
        (1, "one sitting counts. A line needs two, and to speak of progress takes 9 more"),
        (4, "4 sittings count, 6 more are needed"),
        (30, "No change of ability can be told from luck"),
    ],
)
def test_what_is_missing_is_said(count: int, sentence: str) -> None:
    found = numbers(*(sitting_with((1, 2, 0)[day % 3], 4, day) for day in range(count)))
    assert sentence in verdict_sentence(found, ENGLISH)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.integers(3, 5), st.sampled_from([0, 1, 1, 2, 5]), st.booleans()), max_size=12),
    st.booleans(),
)
def test_no_run_of_sittings_gives_a_number_that_is_none(runs: list[tuple[int, int, bool]], letter: bool) -> None:
    sittings = []
    for day, (glasses, right, by_hand) in enumerate(runs):
        # All right stands for what no key allows, one wrong alone.
        right = glasses if right >= glasses - 1 else right
        sittings.append(sitting_with(right, glasses, day, shuffle="hand" if by_hand else "host"))
    found = numbers(*sittings)
    entry = to_json([(found, None)], {})
    assert all(math.isfinite(number) for number in _numbers(entry))
    json.dumps(entry, allow_nan=False)
    csv_bytes(HEADING, rows([(found, None)]))
    frame = Frame(LETTER if letter else A4, letter)
    for page in (*progress_pages(found, None, {}, {}, frame, ENGLISH), *club_pages([found] * 4, {}, frame, ENGLISH)):
        assert "nan" not in repr(page.blocks)


@needs_poppler
def test_the_numbers_on_paper_are_those_of_the_json(run: Run, tmp_path: Path) -> None:
    made = year(tmp_path / "club", 14, TASTERS[:2])
    given = [argument for one in made for argument in one.arguments]
    options = ("--taster", "Ines", "--cellar", CELLAR, "--out", "p.pdf", "--json", "p.json", "--csv", "p.csv")
    result = run(*given, *options)
    assert result.exit_code == ExitCode.DONE, result.output
    (entry,) = json.loads(Path("p.json").read_text("utf-8"))["tasters"]
    flow = flowing(" ".join(page_texts(Path("p.pdf"))))
    low, high = entry["interval"]
    assert f"{entry['face']:.1f} of five" in flow
    assert f"{entry['correct']} of {entry['of']}" in flow
    assert f"{entry['steady_total']} steady" in flow
    last = entry["points"][-1]["band"]
    assert f"Now about {last[1]:.1f} of five (from {last[0]:.1f} to {last[2]:.1f})." in flow
    words = page_texts(Path("p.pdf"))[0]
    for number in (f"from {low:.1f} to {high:.1f}", f"{entry['expected_by_luck']:.1f}"):
        assert number in words or number in flow
    assert evidence_text(entry["evidence"][0]["e_value"]) in flow
    for word in entry["steady"]:
        assert f"{word['word']} {word['returned']} of {word['said']}" in flowing(_column(tmp_path / "p.pdf"))
    pour = entry["pour_next"]
    assert f"Expected: {pour['expected_correct']:.1f} of {len(pour['drinks'])} right" in flow
    assert f"({100 * pour['share']:.0f} %)" in flow
    assert all(drink["name"] in flow for drink in pour["drinks"])
    content = Path("p.csv").read_text("utf-8-sig")
    assert f'"correct_of_five","",{entry["face"]}' in content


@needs_poppler
def test_a_club_has_a_panel_for_each_taster_with_their_numbers(run: Run, tmp_path: Path) -> None:
    made = year(tmp_path / "club", 2, (*TASTERS, *(f"Guest {n}" for n in range(1, 6))))
    given = [argument for one in made for argument in one.arguments]
    result = run(*given, "--club", "--out", "c.pdf", "--json", "c.json")
    assert result.exit_code == ExitCode.DONE, result.output
    entry = json.loads(Path("c.json").read_text("utf-8"))["tasters"]
    pages = page_texts(Path("c.pdf"))
    assert len(pages) == 2
    assert all("The club" in page for page in pages)
    flow = flowing(" ".join(pages))
    assert len(entry) == 13
    for one in entry:
        assert one["name"] in flow
        assert f"{one['correct']} of {one['of']} right in 2 sittings" in flow
        low, high = one["interval"]
        assert f"{one['face']:.1f} of five ({low:.1f} to {high:.1f})" in flow


@needs_poppler
def test_one_sitting_says_what_is_too_little(run: Run, tmp_path: Path) -> None:
    made = evening(tmp_path / "kit", session_toml(("Gull Rock", "Tidal Flat", "Old Jetty"), ["Ines"]), right=[1])
    for options in ((), ("--club",)):
        assert run(*made.arguments, "--out", "p.pdf", *options).exit_code == ExitCode.DONE
        flow = flowing(page_texts(Path("p.pdf"))[0])
        assert "Too little to tell" in flow
        assert "1 of 3" in flow
        assert "nan" not in flow.lower()


@needs_poppler
def test_a_sealed_key_gives_no_point(run: Run, tmp_path: Path) -> None:
    toml = session_toml(("Gull Rock", "Tidal Flat", "Old Jetty"), TASTERS[:3], keys="shared")
    made = evening(tmp_path / "kit", toml, right=[3, 3, 3], skip=lambda taster, role: (taster, role) == (2, "match"))
    result = run(*made.arguments, "--out", "p.pdf", "--json", "p.json")
    assert result.exit_code == ExitCode.LOOK
    for one in json.loads(Path("p.json").read_text("utf-8"))["tasters"]:
        assert (one["points"], one["correct"], one["noted"], one["evidence"]) == ([], 0, 0, [])
    flow = flowing(" ".join(page_texts(Path("p.pdf"))))
    assert "no sitting counts yet" in flow
    assert not re.search(r"(?<!page )3 of 3", flow)


@needs_poppler
def test_every_page_has_its_kits_and_the_taster_s_own_seal_codes(run: Run, tmp_path: Path) -> None:
    made = year(tmp_path / "club", 3, ("Ines", "Tomas"))
    given = [argument for one in made for argument in one.arguments]
    run(*given, "--out", "p.pdf", "--paper", "Letter", "--print-safe")
    for number, text in enumerate(page_texts(Path("p.pdf"))):
        foot = text.splitlines()[-1]
        seals = [one.kit.seals[number] for one in made]
        assert all(one.kit.id in foot for one in made)
        assert [seal.replace("-", "") in foot.replace("-", "") for seal in seals] == [True, False, True]


@needs_poppler
@pytest.mark.parametrize("options", [(), ("--paper", "Letter", "--print-safe")])
@pytest.mark.parametrize("sittings", [1, 2, 5])
def test_the_club_s_pages_have_their_kits_and_every_taster_s_first_and_last_seal_code(
    run: Run, tmp_path: Path, sittings: int, options: tuple[str, ...]
) -> None:
    made = year(tmp_path / "club", sittings, (*TASTERS, "Wilhelmina Throckmorton-Featherstonehaugh"))
    given = [argument for one in made for argument in one.arguments]
    assert run(*given, "--club", "--out", "c.pdf", "--json", "c.json", *options).exit_code == ExitCode.DONE
    [text] = page_texts(Path("c.pdf"))
    foot = text.splitlines()[-1]
    kits = [one.kit.id for one in made]
    assert kits[0] in foot
    assert kits[-1] in foot
    assert (f"{sittings} kits" in foot) == (sittings > 3)
    assert "eal codes in each taster's panel" in foot
    assert ("one sitting" if sittings == 1 else f"{sittings} sittings") in flowing(text)
    printed = text.replace("-", "")
    for one in {made[0], made[-1]}:
        assert all(seal in printed for seal in one.kit.seals)
    assert not any(seal in printed for one in made[1:-1] for seal in one.kit.seals)
    for number, entry in enumerate(json.loads(Path("c.json").read_text("utf-8"))["tasters"]):
        told = {kit: seal.replace("-", "") for kit, seal in entry["seals"].items()}
        assert told == {one.kit.id: one.kit.seals[number] for one in made}


@needs_poppler
def test_where_no_key_was_sealed_a_panel_says_so(run: Run, tmp_path: Path) -> None:
    toml = session_toml(("Gull Rock", "Tidal Flat", "Old Jetty"), ["Ines"], shuffle="hand")
    made = evening(tmp_path / "kit", toml, right=[1])
    run(*made.arguments, "--club", "--out", "c.pdf", "--json", "c.json")
    assert f"kit {made.kit.id}, no seal" in flowing(page_texts(Path("c.pdf"))[0])
    assert json.loads(Path("c.json").read_text("utf-8"))["tasters"][0]["seals"] == {}


@needs_poppler
def test_a_cellar_with_too_little_says_what_a_flight_needs(run: Run, tmp_path: Path) -> None:
    made = evening(tmp_path / "kit", session_toml(("Gull Rock", "Tidal Flat", "Old Jetty"), ["Ines"]), right=[1])
    cellar = tmp_path / "cellar.toml"
    cellar.write_text('[[drinks]]\nname = "Heron Marsh"\n[[drinks]]\nname = "Gull Rock"\nleft_ml = 3\n')
    run(*made.arguments, "--cellar", cellar, "--out", "p.pdf", "--json", "p.json")
    [one] = json.loads(Path("p.json").read_text("utf-8"))["tasters"]
    assert one["pour_next"]["refused"] == {"sound": 1, "needed": 3, "enough_ml": 75.0}
    assert "it needs 3 sound drinks with 75 ml left, and the cellar list has 1." in flowing(_column(Path("p.pdf")))


@needs_qpdf
@needs_poppler
def test_two_other_programs_find_the_pdf_sound_tagged_and_its_fonts_embedded(run: Run, tmp_path: Path) -> None:
    made = year(tmp_path / "club", 3, ("Inés 花子", "Tomas"))
    given = [argument for one in made for argument in one.arguments]
    assert run(*given, "--out", "p.pdf", "--paper", "Letter").exit_code == ExitCode.DONE
    subprocess.run(["qpdf", "--check", "p.pdf"], check=True, capture_output=True)
    about = subprocess.run(["pdfinfo", "p.pdf"], check=True, capture_output=True, text=True).stdout
    assert re.search(r"Tagged: +yes", about)
    assert re.search(r"Page size: +612 x 792 pts", about)
    fonts = subprocess.run(["pdffonts", "p.pdf"], check=True, capture_output=True, text=True).stdout.splitlines()[2:]
    assert fonts
    assert all(line.split()[-5:-2] == ["yes", "yes", "yes"] for line in fonts)


def test_a_cellar_that_would_be_overwritten_or_is_none_is_refused(run: Run, tmp_path: Path) -> None:
    made = evening(tmp_path / "kit", session_toml(("Gull Rock", "Tidal Flat", "Old Jetty"), ["Ines"]), right=[1])
    cellar = tmp_path / "cellar.toml"
    cellar.write_bytes(CELLAR.read_bytes())
    assert run(*made.arguments, "--cellar", cellar, "--out", cellar).exit_code == ExitCode.USAGE
    assert cellar.read_bytes() == CELLAR.read_bytes()
    assert run(*made.arguments, "--cellar", tmp_path / "none.toml", "--out", "p.pdf").exit_code == ExitCode.REFUSED
    assert not Path("p.pdf").exists()


def _column(pdf: Path) -> str:
    """Return the text of a PDF in the order in which it was set, so that columns stay whole."""
    return subprocess.run(["pdftotext", "-raw", str(pdf), "-"], capture_output=True, text=True, check=True).stdout


def _numbers(entry: Any) -> list[float]:
    if isinstance(entry, dict):
        return [number for value in entry.values() for number in _numbers(value)]
    if isinstance(entry, list | tuple):
        return [number for value in entry for number in _numbers(value)]
    return [float(entry)] if isinstance(entry, int | float) else []
