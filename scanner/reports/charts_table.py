"""The charts of the table's sheet: counts beside luck's, what was taken for what, the words said of a drink."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kit.drawing import Face
from kit.fonts import fitted
from scanner.reports.chart import Chart
from scanner.reports.charts_axes import LABEL_PT, SMALL_PT
from scanner.reports.inks import BLACK, LINE, QUIET, WHITE, ink_on, shade
from scanner.reports.setter import broken
from scanner.reports.table_numbers import CountBar, DrinkLine

COUNT_PT = 11.0
_BAR_GRAY = QUIET


def counts_chart(counts: Sequence[CountBar], axis: str, width_mm: float, height_mm: float) -> Chart:
    """Draw for each number right how many tasters had it, filled, and luck's expectation beside it, hatched.

    Shapes: `tasters_K` and `luck_K`, each with its number above; the baseline is `base`.
    """
    chart = Chart(width_mm, height_mm)
    base_mm, top_mm = height_mm - 9.0, 5.0
    most = max(1.0, *(max(bar.tasters, bar.by_luck) for bar in counts))
    pitch_mm = width_mm / len(counts)
    bar_mm = min(9.0, pitch_mm * 0.36)
    for bar in counts:
        middle_mm = (bar.correct + 0.5) * pitch_mm
        for value, label, x_mm, name in (
            (float(bar.tasters), str(bar.tasters), middle_mm - bar_mm - 0.3, f"tasters_{bar.correct}"),
            (bar.by_luck, f"{bar.by_luck:.1f}", middle_mm + 0.3, f"luck_{bar.correct}"),
        ):
            tall_mm = value / most * (base_mm - top_mm)
            mine = name.startswith("tasters")
            if tall_mm > 0.05:
                if not mine:
                    chart.hatch(x_mm, base_mm - tall_mm, bar_mm, tall_mm, gray=LINE)
                chart.rect(
                    x_mm,
                    base_mm - tall_mm,
                    bar_mm,
                    tall_mm,
                    fill=_BAR_GRAY if mine else None,
                    outline=BLACK if mine else LINE,
                    name=name,
                )
            chart.text(
                x_mm + bar_mm / 2,
                base_mm - tall_mm - 1.0,
                label,
                LABEL_PT,
                face="semibold" if mine else "regular",
                anchor="middle",
                gray=BLACK if mine else QUIET,
            )
        chart.text(middle_mm, base_mm + 4.0, str(bar.correct), LABEL_PT, face="semibold", anchor="middle")
    chart.text(width_mm / 2, height_mm - 1.0, axis, LABEL_PT, anchor="middle", gray=QUIET)
    chart.line(0.0, base_mm, width_mm, base_mm, gray=LINE, name="base")
    return chart


def heat_map(
    labels: Sequence[str],
    times: Sequence[Sequence[int | None]],
    of: int,
    width_mm: float,
    *,
    column_labels: Sequence[str],
    blank: tuple[str, Sequence[int]] | None = None,
    by_luck: tuple[str, Sequence[float]] | None = None,
    cell_mm: float = 11.0,
) -> Chart:
    """Draw what was claimed, by column, of what stood there, by row: the count in each cell, and a gray by its share.

    Parameters
    ----------
    labels, column_labels : sequence of n str
        Of the rows, as long as they like, and of the columns, short.
    times : n rows of n int, None for two that never met
    of : int
        The count that is all black.
    blank : heading and n int
        A column more, set apart: how often nothing was claimed.
    by_luck : heading and n float
        A row more, set apart: what luck would have in every cell of a column.

    Shapes: `cell_ROW_COLUMN` from nought, and `right_N` about the cells of the diagonal.
    """
    n = len(labels)
    rows_mm = 7.0 + n * cell_mm
    chart = Chart(width_mm, rows_mm + (5.5 if by_luck else 1.0))
    blank_mm = cell_mm + 2.0 if blank else 0.0
    left_mm = width_mm - n * cell_mm - blank_mm - 0.5
    for row in range(n):
        _row_label(chart, labels[row], 0.0, 7.0 + (row + 0.5) * cell_mm, left_mm - 2.0, cell_mm)
        for column in range(n):
            count = times[row][column]
            _cell(chart, left_mm + column * cell_mm, 7.0 + row * cell_mm, cell_mm, count, of, f"cell_{row}_{column}")
        if blank:
            _cell(chart, left_mm + n * cell_mm + 2.0, 7.0 + row * cell_mm, cell_mm, blank[1][row], of, f"blank_{row}")
    for at in range(n):
        chart.rect(
            left_mm + at * cell_mm,
            7.0 + at * cell_mm,
            cell_mm,
            cell_mm,
            width_mm=0.9,
            name=f"right_{at}",
        )
        middle_mm = left_mm + (at + 0.5) * cell_mm
        shown, size_pt = fitted(column_labels[at], "semibold", LABEL_PT, cell_mm + 1.0, 5.5)
        chart.text(middle_mm, 5.0, shown, size_pt, face="semibold", anchor="middle")
        if by_luck:
            chart.text(middle_mm, rows_mm + 4.0, f"{by_luck[1][at]:.1f}", LABEL_PT, anchor="middle", gray=QUIET)
    if blank:
        shown, size_pt = fitted(blank[0], "regular", LABEL_PT, cell_mm + 2.0, 5.5)
        chart.text(width_mm - 0.5 - cell_mm / 2, 5.0, shown, size_pt, anchor="middle", gray=QUIET)
    if by_luck:
        shown, size_pt = fitted(by_luck[0], "regular", LABEL_PT, left_mm - 2.0, 6.0)
        chart.text(left_mm - 2.0, rows_mm + 4.0, shown, size_pt, anchor="end", gray=QUIET)
    return chart


def words_chart(
    drink: DrinkLine, printed: Mapping[str, str], width_mm: float, most_words: int, *, row_mm: float = 4.4
) -> Chart:
    """Draw the words said of a drink, the most often said first, each with a bar for how many said it and the count.

    Words of more than half of the table are set bold. `printed` is how words are printed, where not as readings have
    them. Shapes: `word_0` …, the bars; `frame_0` …, what all tasters would be.
    """
    shown = drink.words[:most_words]
    chart = Chart(width_mm, max(1, len(shown)) * row_mm + 1.0)
    bar_mm = min(14.0, width_mm * 0.36)
    room_mm = width_mm - bar_mm - 6.5
    for at, (word, said) in enumerate(shown):
        y_mm = at * row_mm
        mine = at < drink.shared
        face: Face = "semibold" if mine else "regular"
        text, size_pt = fitted(printed.get(word, word), face, LABEL_PT, room_mm, 6.0)
        chart.text(0.0, y_mm + 3.4, text, size_pt, face=face)
        left_mm, high_mm = room_mm + 1.0, 2.4
        chart.rect(left_mm, y_mm + 1.1, bar_mm, high_mm, outline=LINE, width_mm=0.15, name=f"frame_{at}")
        chart.rect(
            left_mm,
            y_mm + 1.1,
            bar_mm * said / drink.noted_by,
            high_mm,
            fill=QUIET if mine else LINE,
            outline=None,
            name=f"word_{at}",
        )
        chart.text(width_mm, y_mm + 3.4, str(said), LABEL_PT, anchor="end", face=face)
    return chart


def _cell(chart: Chart, x_mm: float, y_mm: float, side_mm: float, count: int | None, of: int, name: str) -> None:
    gray = WHITE if count is None else shade(count / of if of else 0.0)
    chart.rect(x_mm, y_mm, side_mm, side_mm, fill=gray, outline=LINE, width_mm=0.2, name=name)
    if count is None:
        chart.text(x_mm + side_mm / 2, y_mm + side_mm / 2 + 1.0, "–", LABEL_PT, anchor="middle", gray=QUIET)
        return
    ink = QUIET if count == 0 else ink_on(gray)
    size_pt = COUNT_PT if side_mm >= 9 else LABEL_PT
    chart.text(
        x_mm + side_mm / 2,
        y_mm + side_mm / 2 + 0.36 * size_pt / 2.835,
        str(count),
        size_pt,
        face="regular" if count == 0 else "semibold",
        anchor="middle",
        gray=ink,
    )


def _row_label(chart: Chart, label: str, x_mm: float, middle_mm: float, room_mm: float, cell_mm: float) -> None:
    """Set a label before its row, on two lines where one is too short."""
    lines = broken(label, "regular", LABEL_PT, room_mm)
    if len(lines) > 2:
        lines = [lines[0], fitted(" ".join(lines[1:]), "regular", LABEL_PT, room_mm, SMALL_PT)[0]]
    lead_mm = min(3.4, cell_mm / 2)
    top_mm = middle_mm + 1.0 - (len(lines) - 1) * lead_mm / 2
    for at, line in enumerate(lines):
        shown, size_pt = fitted(line, "regular", LABEL_PT, room_mm, 6.0)
        chart.text(x_mm + room_mm, top_mm + at * lead_mm, shown, size_pt, anchor="end")
