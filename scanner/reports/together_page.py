"""All sittings of a table on a page: how many were right, what was taken for what, the pair to taste next."""

from __future__ import annotations

from collections.abc import Sequence

from kit.drawing import Text
from kit.fonts import fitted
from kit.wording import Wording
from scanner.reports.charts_table import heat_map
from scanner.reports.flow import Cell, Flow, Title
from scanner.reports.inks import QUIET
from scanner.reports.page import Block, Foot, Frame, ReportPage
from scanner.reports.phrases import times_in
from scanner.reports.seals import KitSeals, seals_cell
from scanner.reports.setter import LEAST_PT
from scanner.reports.table_page import FEW_CLAIMS
from scanner.reports.table_together import PairLine, Together
from scanner.reports.told import day_text, shortened

MAP_MM, CELL_MM, ROW_MM = 150.0, 11.0, 5.6
NUMBER_MM = 22.0
STANDS_OUT_MM = 34.0
MOST_KITS = 3
"""So many have room at the foot beside where the seal codes are."""


def together_pages(found: Together, seals: Sequence[KitSeals], frame: Frame, words: Wording) -> list[ReportPage]:
    """Return the page, or pages, of all sittings together; `seals` are the seal codes of their kits, in order."""
    first, last = day_text(found.first, words), day_text(found.last, words)
    below = words("table_report.below_together", kits=found.kits, first=first, last=last)
    heading = words("table_report.heading_together")
    when = words("progress_report.below", first=first, last=last)
    kits = shortened(found.kit_ids, MOST_KITS)
    foot = Foot(kits, (), when, words("table_report.seals_at_end", kits=len(found.kit_ids)))
    title = Title(words("table_report.together"), heading, below)
    flow = Flow(frame, foot, title, words("table_report.together"), words("table_report.continued"))
    flow.setter.paragraph(total_sentence(found, words), face="semibold")
    flow.setter.gap(4.0)
    flow.row((_map(found, words, min(MAP_MM, frame.width)),), (frame.width,))
    _set_pairs(flow, found, words)
    flow.setter.gap(4.0)
    flow.row((seals_cell(seals, words, frame.width),), (frame.width,))
    return flow.pages()


def total_sentence(found: Together, words: Wording) -> str:
    """Say how many were right in all sittings, and what guessers would have had."""
    return words(
        "table_report.together_total",
        correct=found.correct,
        of=found.of,
        sittings=found.sittings,
        expected=f"{found.expected_by_luck:.1f}",
        chance=times_in(found.chance_at_least, words),
    )


def next_sentence(found: Together, words: Wording) -> str:
    """Say which two drinks to taste next side by side, or what is missing to say so."""
    if found.next_pair is None:
        return words("table_report.next_none_twice" if found.wrong else "table_report.next_none_wrong")
    return words("table_report.next_pair", one=found.next_pair[0], other=found.next_pair[1])


def _map(found: Together, words: Wording, width_mm: float) -> Cell:
    told = [words("table_report.together_grid_caption")]
    if len(found.drinks) < found.of_drinks:
        told.append(words("table_report.together_grid_some", shown=len(found.drinks), all=found.of_drinks))
    chart = heat_map(
        [f"{number}  {drink}" for number, drink in enumerate(found.drinks, start=1)],
        found.times,
        max(FEW_CLAIMS, *(count or 0 for row in found.times for count in row)),
        width_mm,
        column_labels=[str(number) for number in range(1, len(found.drinks) + 1)],
        cell_mm=CELL_MM,
    )
    rows = words.sentences(
        words("table_report.grid_row", drink=drink, counts=words.listed("–" if n is None else str(n) for n in row))
        for drink, row in zip(found.drinks, found.times, strict=True)
    )
    return Cell(words("table_report.grid"), words.sentences(told), chart, words("table_report.grid_alt", rows=rows))


def _set_pairs(flow: Flow, found: Together, words: Wording) -> None:
    frame = flow.setter.frame
    caption = words("table_report.pairs_caption") if found.pairs else ""
    cell = Cell(words("table_report.pairs"), caption, None)
    flow.need(cell.height_mm(frame.width) + ROW_MM * (len(found.pairs) + 3))
    flow.row((cell,), (frame.width,), 1.0)
    if found.pairs:
        heads = [words(f"table_report.pair_{name}") for name in ("times", "evenly", "luck", "together")]
        _row(flow, words("table_report.pair"), heads, "", head=True)
        for pair in found.pairs:
            note = words("table_report.stands_out") if pair.stands_out else ""
            _row(flow, " – ".join(pair.names), _numbers(pair), note)
        flow.setter.gap(1.5)
    flow.setter.paragraph(next_sentence(found, words), face="semibold")


def _numbers(pair: PairLine) -> list[str]:
    return [str(pair.times), f"{pair.evenly:.1f}", f"{pair.by_luck:.1f}", str(pair.together)]


def _row(flow: Flow, label: str, numbers: Sequence[str], note: str, *, head: bool = False) -> None:
    setter, frame = flow.setter, flow.setter.frame
    y, size_pt = setter.y + 4.0, 8.0 if head else 9.0
    label_mm = frame.width - NUMBER_MM * len(numbers) - STANDS_OUT_MM
    shown, fitting_pt = fitted(label, "regular", size_pt, label_mm - 2.0, LEAST_PT)
    gray = QUIET if head else 0.0
    parts = [Text(frame.left, y, shown, fitting_pt, gray=gray)]
    for at, number in enumerate(numbers, start=1):
        text, number_pt = fitted(number, "regular", size_pt, NUMBER_MM - 2.0, LEAST_PT)
        parts.append(Text(frame.left + label_mm + at * NUMBER_MM, y, text, number_pt, align="right", gray=gray))
    if note:
        text, note_pt = fitted(note, "regular", 8.0, STANDS_OUT_MM - 4.0, LEAST_PT)
        parts.append(Text(frame.right, y, text, note_pt, align="right"))
    setter.blocks.append(Block("P", tuple(parts)))
    setter.gap(ROW_MM)
    setter.rule(width_mm=0.25 if head else 0.1)
