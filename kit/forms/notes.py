"""The note form of one round: a block for each glass with families of words, scales and room to write."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from kit.drawing import GRAY, RULE_GRAY, Element, Rect, Rule, Text
from kit.errors import FacedownError
from kit.fonts import fitted, width_mm
from kit.forms.design import Design, load_design
from kit.forms.frame import Area
from kit.lexicon import Lexicon, Scale, printed_words, translated
from kit.sheet_layout import MarkBox, WritingArea
from kit.wording import Wording

LEAST_PT = 6.0
"""The smallest type that a translation's words may shrink to."""
WORD_CLEAR_MM = 0.7
"""What stays free between a word and the next box."""


@dataclass(frozen=True, slots=True)
class FormBody:
    """What a form draws in its body, and what of it is read back."""

    elements: tuple[Element, ...]
    marks: tuple[MarkBox, ...]
    writing: tuple[WritingArea, ...]


@dataclass(frozen=True, slots=True)
class _Grid:
    """Where a block's columns stand, from the page's left edge, and its rows, from the block's top. All mm."""

    box: float
    row_pitch: float
    block_pitch: float
    word_columns: tuple[float, ...]
    family_x: float
    scale_x: float
    steps_x: float
    writing_x: float
    writing_w: float
    height: float


def notes_body(area: Area, glasses: tuple[str, ...], lexicon: Lexicon, words: Wording) -> FormBody:
    """Lay out the notes of these glasses (their numbers in round one, their places in round two).

    Where things stand follows from the lexicon's own words, so that it is the same in every language; where a
    language's words are wider, they shrink.

    Raises
    ------
    FacedownError
        If the lexicon needs more room than the page has.
    """
    design = load_design("notes")
    grid, shown = _grid(area, len(glasses), lexicon, design), translated(lexicon, words)
    elements: list[Element] = []
    marks: list[MarkBox] = []
    writing: list[WritingArea] = []
    for place, glass in enumerate(glasses):
        top = area.top + place * grid.block_pitch
        if place:
            line = top - (grid.block_pitch - grid.height) / 2
            elements.append(Rule(area.left, line, area.right, line, 0.18, RULE_GRAY))
        elements.append(Text(area.left, top + 6.0, glass, design.pt("number"), "black"))
        elements += _family_names(top, grid, shown, design)
        marks += _word_boxes(top, glass, grid, lexicon)
        marks += _scale_boxes(top, glass, grid, lexicon, design)
        elements += _scale_words(top, grid, shown, design)
        writing.append(WritingArea(f"remarks.{glass}", *_rounded(grid.writing_x, top, grid.writing_w, grid.height)))
        elements += _writing_lines(writing[-1], words, design)
    elements += [Rect(mark.x_mm, mark.y_mm, mark.w_mm, mark.h_mm) for mark in marks]
    printed = printed_words(lexicon, words)
    elements += [_word(mark, printed[mark.option], grid, design) for mark in marks if mark.field.startswith("words.")]
    return FormBody(tuple(elements), tuple(marks), tuple(writing))


def _grid(area: Area, glasses: int, lexicon: Lexicon, design: Design) -> _Grid:
    box, rows = design.mm("box"), max(len(lexicon.families), len(lexicon.scales))
    block_pitch = (area.height + design.mm("block_air_least")) / glasses
    spare = block_pitch - design.mm("block_air_least") - box - (rows - 1) * design.mm("row_pitch_least")
    row_pitch = design.mm("row_pitch_least") + (1 - design.mm("block_air_share")) * spare / (rows - 1)
    row_pitch = min(row_pitch, design.mm("row_pitch_most"))
    x = area.left + design.mm("number_width") + design.mm("family_width")
    columns = []
    for width in _word_widths(lexicon, design):
        columns.append(x)
        x += box + design.mm("label_gap") + width + design.mm("word_gap")
    scale_x = x - design.mm("word_gap") + design.mm("zone_gap")
    steps_x = scale_x + design.mm("scale_name_width") + design.mm("label_gap")
    most_steps = max(scale.steps for scale in lexicon.scales)
    steps_w = (most_steps - 1) * design.mm("step_pitch") + box
    writing_x = steps_x + steps_w + design.mm("label_gap") + design.mm("scale_end_width") + design.mm("zone_gap")
    grid = _Grid(
        box,
        row_pitch,
        block_pitch,
        tuple(columns),
        area.left + design.mm("number_width"),
        scale_x,
        steps_x,
        writing_x,
        area.right - writing_x,
        (rows - 1) * row_pitch + box,
    )
    if row_pitch < design.mm("row_pitch_least") or grid.height < design.mm("writing_least_h"):
        raise FacedownError(
            f"The word list {lexicon.drink!r} has {rows} rows: they do not fit {glasses} times on this page.",
            "Take a family or a scale out of it, or pour fewer glasses.",
        )
    if grid.writing_w < design.mm("writing_least_w"):
        raise FacedownError(
            f"The words of {lexicon.drink!r} leave {grid.writing_w:.1f} mm to write on; "
            f"{design.mm('writing_least_w'):.0f} mm are needed.",
            "Take the longest words out of its list, or shorten them.",
        )
    return grid


def _word_widths(lexicon: Lexicon, design: Design) -> tuple[float, ...]:
    columns = max(len(family.words) for family in lexicon.families)
    return tuple(
        max(
            width_mm(family.words[column], "regular", design.pt("word"))
            for family in lexicon.families
            if column < len(family.words)
        )
        for column in range(columns)
    )


def _word_boxes(top: float, glass: str, grid: _Grid, lexicon: Lexicon) -> list[MarkBox]:
    return [
        MarkBox(f"words.{glass}", word, "many", *_rounded(x, top + row * grid.row_pitch, grid.box, grid.box))
        for row, family in enumerate(lexicon.families)
        for x, word in zip(grid.word_columns, family.words, strict=False)
    ]


def _scale_boxes(top: float, glass: str, grid: _Grid, lexicon: Lexicon, design: Design) -> list[MarkBox]:
    return [
        MarkBox(
            f"scale.{scale.id}.{glass}",
            str(step + 1),
            "one",
            *_rounded(grid.steps_x + step * design.mm("step_pitch"), top + row * grid.row_pitch, grid.box, grid.box),
        )
        for row, scale in enumerate(lexicon.scales)
        for step in range(scale.steps)
    ]


def _word(mark: MarkBox, printed: str, grid: _Grid, design: Design) -> Text:
    """Set a word beside its box, in what room the next column's boxes leave."""
    x = mark.x_mm + grid.box + design.mm("label_gap")
    behind_last = grid.scale_x - design.mm("zone_gap") + design.mm("word_gap")
    after = min(edge for edge in (*grid.word_columns, behind_last) if edge > x)
    text, size_pt = fitted(printed, "regular", design.pt("word"), after - WORD_CLEAR_MM - x, LEAST_PT)
    return Text(x, mark.y_mm + grid.box / 2 + 0.95, text, size_pt)


def _family_names(top: float, grid: _Grid, lexicon: Lexicon, design: Design) -> Iterator[Element]:
    right = grid.word_columns[0] - 1.5
    for row, family in enumerate(lexicon.families):
        name, size_pt = fitted(family.name, "regular", design.pt("family"), right - grid.family_x, LEAST_PT)
        yield Text(right, _baseline(top, row, grid), name, size_pt, align="right", gray=GRAY)


def _scale_words(top: float, grid: _Grid, lexicon: Lexicon, design: Design) -> list[Element]:
    elements: list[Element] = []
    for row, scale in enumerate(lexicon.scales):
        y = _baseline(top, row, grid)
        elements += [
            Text(grid.scale_x, y, scale.name, design.pt("scale"), "semibold"),
            Text(grid.steps_x - design.mm("label_gap"), y, scale.ends[0], design.pt("end"), align="right"),
            Text(_behind_steps(scale, grid, design), y, scale.ends[1], design.pt("end")),
        ]
    return elements


def _behind_steps(scale: Scale, grid: _Grid, design: Design) -> float:
    return grid.steps_x + (scale.steps - 1) * design.mm("step_pitch") + grid.box + design.mm("label_gap")


def _writing_lines(area: WritingArea, words: Wording, design: Design) -> list[Element]:
    lines = int(area.h_mm / design.mm("writing_line"))
    pitch = area.h_mm / lines
    elements: list[Element] = [
        Rule(area.x_mm, area.y_mm + line * pitch, area.x_mm + area.w_mm, area.y_mm + line * pitch, 0.12, RULE_GRAY)
        for line in range(1, lines)
    ]
    elements.append(Text(area.x_mm, area.y_mm + 2.2, words("notes.writing"), design.pt("writing"), gray=GRAY))
    return elements


def _baseline(top: float, row: int, grid: _Grid) -> float:
    return top + row * grid.row_pitch + grid.box / 2 + 0.9


def _rounded(*lengths: float) -> tuple[float, ...]:
    return tuple(round(length, 3) for length in lengths)
