"""A slip on paper: its charts against the numbers, nothing cut off or one over the other, whatever is given."""

from __future__ import annotations

import io
import re
import subprocess
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.drawing import Rect, Rule, Text
from kit.fonts import ELLIPSIS
from kit.forms.frame import Area
from kit.paper import A4, LETTER
from scanner.reports.foot import foot_block
from scanner.reports.page import Block, Frame, Picture, Placed, ReportPage
from scanner.reports.report_pdf import About, write_report
from scanner.reports.slip import Slip, slip
from scanner.reports.slip_chart import line_chart
from scanner.reports.slip_drink import Hands
from scanner.reports.strengths_chart import dots, tracks
from scanner.results.sitting import Note
from tests.kit.extents import ink_of
from tests.outside_programs import left_out
from tests.scanner.reports.made import (
    ENGLISH,
    LONG,
    SAKE,
    SCALES,
    WORDS,
    others,
    page_of,
    slip_of,
    table_of,
    taster,
    writing,
)

TRUTH = (3, 1, 5, 2, 4)
EVERY = tuple(Note(frozenset(WORDS), dict(SCALES)) for _ in TRUTH)
LONG_NAME = "Maximiliane-Wilhelmina von und zu Hohenschwangau-Neuburg III"


def slips() -> dict[str, Slip]:
    """Return slips of every kind."""
    table = others(TRUTH)
    one = taster(TRUTH, TRUTH, 1)
    unsettled = replace(one, unsettled=(1, 3), claims=(3, None, 4, None, 4), truth=None, waits=True)
    return {
        "all right": slip_of(one, table),
        "none right": slip_of(taster((1, 3, 4, 5, 2), TRUTH, 2, 0.2), table),
        "repeated and blank": slip_of(taster((3, 3, None, 2, 2), TRUTH, 3), table),
        "nothing claimed": slip_of(taster((None,) * 5, TRUTH, 4), table),
        "long names": slip_of(taster((1, 2, 3, 4, 5), (2, 1, 4, 3, 5), 5, 0.3, drinks=LONG, name=LONG_NAME), table),
        "all words in one round": slip_of(replace(one, notes_1=EVERY), table),
        "all words in both rounds": slip_of(replace(one, notes_1=EVERY, notes_2=EVERY), table),
        "nothing noted": slip_of(replace(one, notes_1=(Note(),) * 5, notes_2=(Note(),) * 5), table),
        "no round one": slip_of(replace(one, notes_1=None), table),
        "no round two": slip_of(replace(one, notes_2=None), table),
        "three glasses": slip_of(taster((1, 3, 2), (1, 2, 3), 6)),
        "four glasses": slip_of(taster((1, 3, 2, 4), (1, 2, 3, 4), 7), others((1, 2, 3, 4))),
        "sealed": replace(slip_of(taster((1, 3, 2, 4, 5), None, 8)), state="sealed"),
        "unsettled": replace(slip(unsettled, [one], table_of([one]), None), correct=2),
        "title of eighty": slip_of(taster(TRUTH, TRUTH, 9, title="A title as long as any can be " * 2 + "W" * 20)),
    }


FRAMES = {"A4": Frame(A4), "Letter": Frame(LETTER), "Letter safe": Frame(LETTER, True)}


def areas(block: Block) -> list[Area]:
    """Return where the parts of a block lie; text by its ink, as Pillow's font reader has it."""
    found = []
    for part in block.parts:
        match part:
            case Placed():
                found.append(
                    Area(part.x_mm, part.y_mm, part.x_mm + part.chart.width_mm, part.y_mm + part.chart.height_mm)
                )
            case Picture():
                found.append(Area(part.x_mm, part.y_mm, part.x_mm + part.w_mm, part.y_mm + part.h_mm))
            case Text() if not part.text:
                pass
            case _:
                found.append(ink_of(part))
    return found


def _sized(x_mm: float, y_mm: float, w_mm: float, h_mm: float) -> Area:
    return Area(x_mm, y_mm, x_mm + w_mm, y_mm + h_mm)


def over(one: Area, other: Area) -> bool:
    """Tell whether two areas lie one over the other by more than a hair."""
    hair = 0.05
    return (
        one.left < other.right - hair
        and other.left < one.right - hair
        and one.top < other.bottom - hair
        and other.top < one.bottom - hair
    )


@pytest.mark.parametrize("frame", ["A4", "Letter safe"])
@pytest.mark.parametrize("hands", [{}, writing()], ids=["printed", "with handwriting"])
@pytest.mark.parametrize("kind", slips())
def test_nothing_leaves_the_margins_or_lies_over_another(kind: str, hands: Hands, frame: str) -> None:
    page = page_of(slips()[kind], FRAMES[frame], hands)
    foot = foot_block(page, 1, 1, ENGLISH)
    blocks = [(block, area) for block in (*page.blocks, foot) for area in areas(block)]
    for _, area in blocks:
        assert area.left >= page.frame.left - 0.3
        assert area.right <= page.frame.right + 0.3
        assert page.frame.top <= area.top
        assert area.bottom <= page.frame.paper.height_mm - page.frame.margin_mm + 0.1
    solid = [(block, area) for block, area in blocks if block.role != "Artifact"]
    for (block, area), (other, another) in combinations(solid, 2):
        if block is not other:
            assert not over(area, another), (texts(block), texts(other))


def texts(block: Block) -> list[str]:
    return [part.text for part in block.parts if isinstance(part, Text)]


@pytest.mark.parametrize("frame", FRAMES)
@pytest.mark.parametrize("hands", [{}, writing()], ids=["printed", "with handwriting"])
@pytest.mark.parametrize("kind", slips())
def test_no_text_is_cut_short(kind: str, hands: Hands, frame: str) -> None:
    page = page_of(slips()[kind], FRAMES[frame], hands)
    shown = [text for block in page.blocks for text in texts(block)]
    # A style of forty characters beside a name of sixty is shortened, never its strength.
    assert [text for text in shown if ELLIPSIS in text and not re.fullmatch(r"a style.*…, 18\.2 %", text)] == []
    assert all(text.endswith(", 18.2 %") for text in shown if text.startswith("a style"))


def test_handwriting_that_gives_way_to_words_is_named() -> None:
    slip = slips()["all words in one round"]
    shown = " ".join(text for block in page_of(slip, FRAMES["Letter safe"], writing()).blocks for text in texts(block))
    assert "Your words; no room for your hand: 1, 2, 3, 4, 5" in shown
    plain = page_of(slips()["all right"], FRAMES["A4"], writing())
    assert "Your words" in [text for block in plain.blocks for text in texts(block)]


def test_words_that_nobody_else_said_are_counted_where_naming_them_twice_has_no_room() -> None:
    one = replace(taster((2, 1, 3, 5, 4), (1, 2, 3, 4, 5), drinks=LONG), notes_1=EVERY, notes_2=EVERY)
    page = page_of(slip_of(one, others((1, 2, 3, 4, 5))), FRAMES["Letter safe"])
    shown = " ".join(text for block in page.blocks for text in texts(block))
    assert re.search(r"\d+ of these words you alone said\.", shown)
    said = frozenset[str]().union(*(note.words for note in (*(one.notes_1 or ()), *(one.notes_2 or ()))))
    assert all(word in shown for word in said)


# The charts, read back.


def test_a_right_claim_is_straight_and_bold_a_wrong_one_leads_to_the_number_claimed() -> None:
    found = slip_of(taster((3, 5, 1, 2, None), TRUTH))
    chart = line_chart(found.places, {}, 190.0, ENGLISH, settled=True)

    def middle(name: str) -> float:
        left, _, right, _ = chart.place(name)
        return (left + right) / 2

    for place, claimed in zip("ABCD", (3, 5, 1, 2), strict=True):
        line = chart.read(f"claim_{place}")
        mm = 25.4 / 72
        assert line.x1 * mm == pytest.approx(middle(f"glass_{place}"))
        assert line.x2 * mm == pytest.approx(middle(f"number_{claimed}"))
        right = place in "AD"
        assert (line.x1 == line.x2) == right
        assert (line.strokeDashArray is None) == right
        assert (line.strokeWidth > 2) == right
    # Each number lies below the glass that it belongs to.
    for place, stood in zip("ABCDE", TRUTH, strict=True):
        assert middle(f"glass_{place}") == pytest.approx(middle(f"number_{stood}"))
    assert chart.read("said_E").text == "no claim"


@given(st.permutations([1, 2, 3, 4, 5]), st.permutations([1, 2, 3, 4, 5]))
def test_as_many_lines_are_straight_as_claims_are_right(claims: list[int], truth: list[int]) -> None:
    found = slip_of(replace(taster(TRUTH, TRUTH), claims=tuple(claims), truth=tuple(truth)))
    chart = line_chart(found.places, {}, 190.0, ENGLISH, settled=True)
    lines = [chart.read(f"claim_{place}") for place in "ABCDE"]
    straight = sum(line.x1 == pytest.approx(line.x2) for line in lines)
    assert straight == found.correct == sum(a == b for a, b in zip(claims, truth, strict=True))
    solid = [chart.read(f"glass_{place}").fillColor.red == 0 for place in "ABCDE"]
    assert sum(solid) == straight


@given(
    st.dictionaries(st.sampled_from(sorted(SCALES)), st.integers(1, 5)),
    st.dictionaries(st.sampled_from(sorted(SCALES)), st.integers(1, 5)),
)
def test_dots_lie_at_their_steps(first: dict[str, int], second: dict[str, int]) -> None:
    form = tracks(SAKE.scales, 58.0, 28.0)
    chart = dots(form, SAKE.scales, Note(strengths=first), Note(strengths=second))
    for scale in SAKE.scales:
        left, _, right, _ = form.chart.place(f"{scale.id}_track")
        for name, steps in (("first", first), ("second", second)):
            assert chart.has(f"{scale.id}_{name}") == (scale.id in steps)
            if scale.id in steps:
                near, _, far, _ = chart.place(f"{scale.id}_{name}")
                share = ((near + far) / 2 - left) / (right - left)
                assert 1 + share * (scale.steps - 1) == pytest.approx(steps[scale.id], abs=0.02)
        both = scale.id in first and scale.id in second
        assert chart.has(f"{scale.id}_moved") == (both and first[scale.id] != second[scale.id])


@pytest.mark.skipif(left_out("pdftotext"), reason="poppler is not installed")
@pytest.mark.parametrize("kind", ["all right", "none right", "long names"])
def test_poppler_finds_all_words_within_the_paper(kind: str, tmp_path: Path) -> None:
    page: ReportPage = page_of(slips()[kind], FRAMES["Letter"], writing())
    file = io.BytesIO()
    write_report(file, [page], About("a", "a"), ENGLISH)
    (tmp_path / "slip.pdf").write_bytes(file.getvalue())
    text = subprocess.run(
        ["pdftotext", "-layout", tmp_path / "slip.pdf", "-"], check=True, capture_output=True, text=True
    ).stdout
    flat = "".join(text.split())
    for block in page.blocks:
        for line in texts(block):
            assert "".join(line.split()) in flat


def test_the_parts_of_a_page_are_of_known_kinds() -> None:
    kinds = {type(part) for block in page_of(slips()["all right"], None, writing()).blocks for part in block.parts}
    assert kinds == {Text, Rule, Rect, Placed, Picture}
