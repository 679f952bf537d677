"""The scores on the table's sheet: a line for each taster, with a dot or a number for each drink."""

from __future__ import annotations

from collections.abc import Sequence

from kit.drawing import Align, Element, Rule, Text
from kit.fonts import fitted
from kit.keys import grouped
from kit.wording import Wording
from scanner.reports.flow import CAPTION_PT, Flow
from scanner.reports.inks import LINE, QUIET
from scanner.reports.page import Block
from scanner.reports.phrases import times_in
from scanner.reports.setter import LEAST_PT, broken
from scanner.reports.table_numbers import TableSheet, TasterLine

ROW_MM = 5.3
SIZE_PT = 9.0
DRINK_MM = 11.0
NUMBER_MM, RIGHT_MM, SEAL_MM = 6.0, 18.0, 31.0
LEAST_NAME_MM, MOST_NAME_MM = 34.0, 56.0
RECOGNISED, DOT_PT = "●", 13.0


def set_scores(flow: Flow, sheet: TableSheet, seals: Sequence[str], words: Wording) -> None:
    """Set the heading, what it says, and a line for each taster; the columns' names again on each page.

    `seals` are the tasters' seal codes, in their order, or none.
    """
    frame = flow.setter.frame
    flow.heading(words("table_report.scores"), frame.left, frame.width)
    caption = "table_report.scores_hidden" if sheet.hidden else "table_report.scores_caption"
    flow.setter.paragraph(words(caption), size_pt=CAPTION_PT, gray=QUIET)
    flow.setter.gap(1.0)
    columns = Columns(sheet, frame.left, frame.right)
    _heads(flow, sheet, columns, words, seals=bool(seals))
    for taster in sheet.tasters:
        if flow.need(ROW_MM):
            _heads(flow, sheet, columns, words, seals=bool(seals))
        seal = seals[taster.number - 1] if taster.number <= len(seals) else ""
        _line(flow, taster, columns, words, seal)
    flow.setter.gap(1.5)


class Columns:
    """Where the columns begin, mm; `drinks` has the middle of each drink's."""

    def __init__(self, sheet: TableSheet, left_mm: float, right_mm: float) -> None:
        drinks_mm = 0.0 if sheet.hidden else len(sheet.drinks) * DRINK_MM
        self.left, self.right = left_mm, right_mm
        # Names and chances share what the rest leaves; each is cut short rather than printed over the next.
        rest_mm = right_mm - left_mm - NUMBER_MM - drinks_mm - RIGHT_MM - SEAL_MM
        self.name = left_mm + NUMBER_MM
        self.name_mm = min(MOST_NAME_MM, max(LEAST_NAME_MM, 0.55 * rest_mm))
        first = self.name + self.name_mm
        self.drinks = () if sheet.hidden else tuple(first + (at + 0.5) * DRINK_MM for at in range(len(sheet.drinks)))
        self.correct = first + drinks_mm + 3.0
        self.chance = self.correct + RIGHT_MM - 3.0
        self.chance_mm = right_mm - SEAL_MM - self.chance


def _heads(flow: Flow, sheet: TableSheet, columns: Columns, words: Wording, *, seals: bool) -> None:
    setter = flow.setter
    y = setter.y + 4.0
    heads: list[Element] = [
        _cut(columns.name, y, words("table_report.taster"), columns.name_mm - 2.0),
        _cut(columns.correct, y, words("table_report.right"), RIGHT_MM - 3.0),
        _cut(columns.chance, y, words("table_report.by_guessing"), columns.chance_mm - 2.0),
        *([_cut(columns.right, y, words("table_report.seal"), SEAL_MM, align="right")] if seals else []),
    ]
    for drink, x in zip(sheet.drinks, columns.drinks, strict=False):
        heads.append(Text(x, y, str(drink.coaster), SIZE_PT, "semibold", "centre"))
    setter.blocks.append(Block("P", tuple(heads)))
    setter.gap(5.4)
    setter.rule(width_mm=0.25)


def _line(flow: Flow, taster: TasterLine, columns: Columns, words: Wording, seal: str) -> None:
    setter = flow.setter
    y = setter.y + 4.0
    parts: list[Element] = [
        Text(columns.left, y, str(taster.number), CAPTION_PT, gray=QUIET),
        *_name(taster.name, columns, y),
    ]
    for at, x in enumerate(columns.drinks):
        if taster.taken_for is not None:
            parts.append(_mark(taster.taken_for[at], at + 1, x, y))
    if taster.correct is not None:
        counted = words("table_report.right_of", correct=taster.correct, of=taster.of)
        parts.append(Text(columns.correct, y, counted, SIZE_PT, "semibold"))
    if taster.chance_at_least is not None:
        parts.append(_cut(columns.chance, y, times_in(taster.chance_at_least, words), columns.chance_mm - 2.0, SIZE_PT))
    elif remark := remark_of(taster, words):
        parts.append(_cut(columns.chance, y, remark, columns.chance_mm - 2.0))
    if seal:
        parts.append(_cut(columns.right, y, grouped(seal), SEAL_MM - 1.0, 7.0, align="right"))
    setter.blocks.append(Block("P", tuple(parts)))
    setter.gap(ROW_MM)
    setter.blocks.append(Block("Artifact", (Rule(columns.left, setter.y, columns.right, setter.y, 0.1, LINE),)))


def remark_of(taster: TasterLine, words: Wording) -> str:
    """Say why a taster has no result, or only a part of one."""
    names = {
        "so far": "so_far",
        "sealed": "sealed",
        "no match": "no_match",
        "absent": "absent",
        "not known": "not_known",
        "scored": "",
    }
    name = names[taster.status]
    return words(f"table_report.{name}") if name else ""


def _mark(claimed: int | None, coaster: int, x_mm: float, y_mm: float) -> Element:
    if claimed == coaster:
        return Text(x_mm, y_mm + 0.55, RECOGNISED, DOT_PT, align="centre")
    return Text(x_mm, y_mm, "–" if claimed is None else str(claimed), SIZE_PT, align="centre", gray=QUIET)


def _name(name: str, columns: Columns, y_mm: float) -> list[Text]:
    """Set a name on a line, or on two that are smaller where it is long."""
    room_mm = columns.name_mm - 2.0
    lines = broken(name, "semibold", SIZE_PT, room_mm)
    if len(lines) == 1:
        return [Text(columns.name, y_mm, name, SIZE_PT, "semibold")]
    first, *rest = broken(name, "semibold", LEAST_PT, room_mm)
    if not rest:
        return [Text(columns.name, y_mm, name, LEAST_PT, "semibold")]
    second, size_pt = fitted(" ".join(rest), "semibold", LEAST_PT, room_mm, LEAST_PT)
    return [
        Text(columns.name, y_mm - 1.45, first, LEAST_PT, "semibold"),
        Text(columns.name, y_mm + 0.95, second, size_pt, "semibold"),
    ]


def _cut(
    x_mm: float, y_mm: float, text: str, room_mm: float, size_pt: float = CAPTION_PT, align: Align = "left"
) -> Text:
    shown, fitting_pt = fitted(text, "regular", size_pt, room_mm, LEAST_PT)
    return Text(x_mm, y_mm, shown, fitting_pt, align=align, gray=QUIET)
