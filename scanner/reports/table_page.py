"""The table's sheet for the host: one sitting on a page, or more if there are many tasters."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import accumulate

from kit.keys import grouped
from kit.wording import Wording
from scanner.reports.charts_table import counts_chart, heat_map, words_chart
from scanner.reports.flow import GUTTER_MM, TEXT_PT, Cell, Flow, Title, row_height_mm
from scanner.reports.page import Foot, Frame, ReportPage
from scanner.reports.phrases import times_in
from scanner.reports.setter import broken
from scanner.reports.table_numbers import DrinkLine, TableSheet
from scanner.reports.table_scores import set_scores
from scanner.reports.told import day_text
from scanner.reports.waiting import waiting_line
from scanner.results.majority import FEWEST_TASTERS

MOST_WORDS = 7
"""So many words of a drink are drawn; all are in the JSON."""
MOST_WAITING = 12
MOST_LINES = 40
"""So many lines of print what waits, or is missing, may take, on a page of any paper."""
WORDS_MM = 44.0
COUNTS_MM = 46.0
CELL_MM = {3: 11.0, 4: 9.5, 5: 8.0}
FEW_CLAIMS = 4
"""A map of fewer tasters does not get any darker by that: one claim is no dark spot."""
MOST_SEALS = 3
"""So many seal codes have room at the foot; each taster's stands in their line as well."""


def table_pages(
    sheet: TableSheet, seals: Sequence[str], printed: Mapping[str, str], frame: Frame, words: Wording
) -> list[ReportPage]:
    """Return the pages of one sitting; `seals` are its tasters' seal codes, `printed` how words are printed."""
    date = day_text(sheet.date, words)
    below = words("table_report.below", date=date, kit=sheet.kit, glasses=len(sheet.drinks))
    title = Title(words("table_report.heading"), sheet.title, below)
    foot = Foot((sheet.kit,), tuple(map(grouped, seals)), date)
    if len(seals) > MOST_SEALS:
        foot = Foot((sheet.kit,), (), date, words("table_report.seals_with_scores"))
    flow = Flow(frame, foot, title, f"{sheet.title}, {date}", words("table_report.continued"))
    set_scores(flow, sheet, seals, words)
    for sentence in total_sentences(sheet, words):
        flow.setter.paragraph(sentence, face="semibold")
    flow.setter.gap(3.0)
    half_mm = (frame.width - GUTTER_MM) / 2
    flow.row((_counts(sheet, words, half_mm), _grid(sheet, words, half_mm)), (half_mm, half_mm))
    _set_words(flow, sheet, printed, words)
    flow.row((_missing(sheet, words, half_mm), _waiting(sheet, words, half_mm)), (half_mm, half_mm))
    return flow.pages()


def total_sentences(sheet: TableSheet, words: Wording) -> list[str]:
    """Say how many the table had right, and what guessers would have had."""
    if sheet.correct is None or sheet.expected_by_luck is None:
        return [words("table_report.total_none")]
    values = {"correct": sheet.correct, "of": sheet.of, "expected": f"{sheet.expected_by_luck:.1f}"}
    if sheet.chance_at_least is None:
        said = [words("table_report.total_open", **values)]
    else:
        said = [words("table_report.total", **values, chance=times_in(sheet.chance_at_least, words))]
    return [*said, *([words("table_report.by_hand")] if sheet.shuffle == "hand" else [])]


def hardest_sentence(sheet: TableSheet, words: Wording) -> str:
    """Say which drink was recognised by the fewest."""
    if sheet.hardest is None:
        return words("table_report.hardest_little")
    if not sheet.hardest:
        return words("table_report.hardest_none")
    hardest = [sheet.drinks[coaster - 1] for coaster in sheet.hardest]
    names = words.listed(drink.name for drink in hardest)
    return words("table_report.hardest", drinks=names, right=hardest[0].right, of=hardest[0].of)


def _why_nothing(sheet: TableSheet) -> str:
    return "hidden" if sheet.hidden else "nothing_counted"


def _counts(sheet: TableSheet, words: Wording, width_mm: float) -> Cell:
    heading = words("table_report.counts")
    if not sheet.counts:
        return Cell(heading, "", None, lines=(words(f"table_report.{_why_nothing(sheet)}"),))
    bars = words.listed(
        words("table_report.counts_bar", correct=bar.correct, tasters=bar.tasters, by_luck=f"{bar.by_luck:.1f}")
        for bar in sheet.counts
    )
    axis = words("table_report.counts_axis", glasses=len(sheet.drinks))
    return Cell(
        heading,
        words("table_report.counts_caption"),
        counts_chart(sheet.counts, axis, width_mm, COUNTS_MM),
        words("table_report.counts_alt", bars=bars),
    )


def _grid(sheet: TableSheet, words: Wording, width_mm: float) -> Cell:
    heading = words("table_report.grid")
    if sheet.grid is None:
        return Cell(heading, "", None, lines=(words(f"table_report.{_why_nothing(sheet)}"),))
    grid = sheet.grid
    blank = (words("table_report.grid_blank"), grid.blank) if any(grid.blank) else None
    rows = words.sentences(
        words("table_report.grid_row", drink=drink.name, counts=words.listed(map(str, counts)))
        for drink, counts in zip(sheet.drinks, grid.times, strict=True)
    )
    chart = heat_map(
        [f"{drink.coaster}  {drink.name}" for drink in sheet.drinks],
        grid.times,
        max(sheet.counted, FEW_CLAIMS),
        width_mm,
        column_labels=[str(drink.coaster) for drink in sheet.drinks],
        blank=blank,
        by_luck=(words("table_report.grid_luck"), grid.by_luck),
        cell_mm=CELL_MM[len(sheet.drinks)],
    )
    return Cell(
        heading,
        words("table_report.grid_caption"),
        chart,
        words("table_report.grid_alt", rows=rows),
        (hardest_sentence(sheet, words),),
    )


def _set_words(flow: Flow, sheet: TableSheet, printed: Mapping[str, str], words: Wording) -> None:
    frame = flow.setter.frame
    gutter_mm = 4.0
    width_mm = (frame.width - gutter_mm * (len(sheet.drinks) - 1)) / len(sheet.drinks)
    cells = [_words_of(drink, printed, words, width_mm) for drink in sheet.drinks]
    caption = [words("table_report.words_caption")]
    if sheet.hidden:
        caption.append(words("table_report.words_round_one"))
    if not all(drink.enough for drink in sheet.drinks):
        caption.append(words("table_report.words_little", needed=FEWEST_TASTERS))
    heading = Cell(words("table_report.words"), words.sentences(caption), None)
    flow.need(heading.height_mm(frame.width) + row_height_mm(tuple(cells), (width_mm,) * len(cells)) + 8.0)
    flow.row((heading,), (frame.width,), 1.0)
    flow.row(tuple(cells), (width_mm,) * len(cells), gutter_mm=gutter_mm)


def _words_of(drink: DrinkLine, printed: Mapping[str, str], words: Wording, width_mm: float) -> Cell:
    heading = f"{drink.coaster}  {drink.name}"
    told = [drink.style] if drink.style else []
    told.append(words("table_report.noted_by", count=drink.noted_by))
    lines = []
    if not drink.words:
        lines.append(words("table_report.words_none"))
    if len(drink.words) > MOST_WORDS:
        lines.append(words("table_report.words_more", count=len(drink.words) - MOST_WORDS))
    if not drink.words:
        return Cell(heading, words.listed(told), None, lines=tuple(lines))
    said = words.listed(f"{printed.get(word, word)} {times}" for word, times in drink.words)
    chart = words_chart(drink, printed, min(width_mm, WORDS_MM), MOST_WORDS)
    alt = words("table_report.words_alt", drink=drink.name, words=said)
    return Cell(heading, words.listed(told), chart, alt, tuple(lines))


def _missing(sheet: TableSheet, words: Wording, width_mm: float) -> Cell:
    lines = [
        words(
            "table_report.missing_line",
            who=taster.name,
            sheets=words.listed(words(f"table_report.sheet_{role}") for role in taster.missing),
        )
        for taster in sheet.tasters
        if taster.missing
    ]
    heading = words("table_report.missing_heading")
    if not lines:
        return Cell(heading, "", None, lines=(words("table_report.missing_none"),))
    return Cell(heading, words("table_report.missing_caption"), None, lines=_at_most(lines, words, width_mm))


def _waiting(sheet: TableSheet, words: Wording, width_mm: float) -> Cell:
    heading = words("table_report.waiting_heading")
    if not sheet.waiting:
        return Cell(heading, "", None, lines=(words("table_report.waiting_none"),))
    lines = [waiting_line(one, words) for one in sheet.waiting]
    return Cell(heading, words("table_report.waiting_caption"), None, lines=_at_most(lines, words, width_mm))


def _at_most(sentences: Sequence[str], words: Wording, width_mm: float) -> tuple[str, ...]:
    """Return as many sentences as have room, and how many more there are."""
    heights = accumulate(len(broken(sentence, "regular", TEXT_PT, width_mm)) for sentence in sentences)
    fitting = sum(height <= MOST_LINES for height in heights)
    shown = min(max(1, fitting), MOST_WAITING)
    if shown >= len(sentences):
        return tuple(sentences)
    return (*sentences[:shown], words("table_report.waiting_more", count=len(sentences) - shown))
