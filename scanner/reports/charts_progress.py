"""The charts of a progress page: ability with its band, evidence, steady words, flights, single sittings."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import ceil, floor

from kit.wording import Wording
from scanner.reports.chart import Chart
from scanner.reports.charts_axes import (
    LABEL_PT,
    SMALL_PT,
    Plot,
    level,
    sittings_axis,
    sittings_plot,
    ticks_of,
    value_axis,
)
from scanner.reports.inks import BLACK, LINE, QUIET, WHITE
from scanner.reports.progress_numbers import EvidenceLine, SittingPoint, SteadyCount

FACE = 5
LUCK = 1.0
"""A guesser's mean of five."""
BAND = 0.85
LABEL_MM = 2.9
"""Labels nearer to one another than this run into each other."""
LOWEST, HIGHEST = -3, 5
"""Powers of ten of the evidence; beyond them more says nothing more."""
STRIP = 40
"""So many sittings have a column of boxes each, the latest."""
_MOST_DOTS = 60
"""With more sittings than that a line goes without dots."""


def course_chart(
    points: Sequence[SittingPoint], dates: tuple[str, str], words: Wording, width_mm: float, height_mm: float
) -> Chart:
    """Draw correct of five at each sitting: the filter's band, its middle line, luck's line.

    Shapes: `band`, a polygon through the low ends forward and the high ends back; `middle`; `luck`; `tick_y_…`.
    """
    chart = Chart(width_mm, height_mm)
    luck = words("progress_report.luck_line")
    plot = sittings_plot(chart, (0.0, float(FACE)), len(points), levels=[luck])
    _course(chart, plot, points, luck)
    value_axis(chart, plot, [(float(value), str(value)) for value in range(FACE + 1)])
    sittings_axis(chart, plot, ticks_of(len(points)), dates)
    return chart


def panel_chart(points: Sequence[SittingPoint], width_mm: float, height_mm: float) -> Chart:
    """Draw a small course for one taster of many: the same shapes, the axis marked at 0, luck's 1 and 5."""
    chart = Chart(width_mm, height_mm)
    plot = Plot(4.0, 2.0, width_mm - 1.0, height_mm - 4.5, (0.5, len(points) + 0.5), (0.0, float(FACE)))
    _course(chart, plot, points, "")
    value_axis(chart, plot, [(0.0, "0"), (LUCK, "1"), (float(FACE), str(FACE))], size_pt=SMALL_PT)
    chart.line(plot.left_mm, plot.bottom_mm, plot.right_mm, plot.bottom_mm, gray=LINE)
    for number in (1, len(points)):
        chart.text(plot.x_mm(number), plot.bottom_mm + 3.4, str(number), SMALL_PT, anchor="middle", gray=QUIET)
    return chart


def evidence_chart(
    lines: Sequence[EvidenceLine],
    sittings: int,
    dates: tuple[str, str],
    words: Wording,
    width_mm: float,
    height_mm: float,
) -> Chart:
    """Draw the evidence after each sitting on a scale of tens; keys drawn by lot unbroken, mixed by hand dotted.

    What is above 10^HIGHEST or below 10^LOWEST is drawn at the edge. Shapes: `evidence_0`, `evidence_1` in the order of
    the lines, `likely`, `beyond_doubt`.
    """
    logs = [value for line in lines for value in line.logs_10]
    low, high = max(LOWEST, min(-1, floor(min(logs)))), min(HIGHEST, max(3, ceil(max(logs))))
    chart = Chart(width_mm, height_mm)
    likely, beyond = words("progress_report.likely"), words("progress_report.beyond_doubt")
    plot = sittings_plot(chart, (low, high), sittings, left_mm=14.0, levels=[likely, beyond])
    apart_mm = plot.y_mm(0.0) - plot.y_mm(1.0)
    spare_mm = max(0.0, LABEL_MM - apart_mm) / 2
    level(chart, plot, 1.0, likely, "likely", raised_mm=-spare_mm)
    level(chart, plot, 2.0, beyond, "beyond_doubt", raised_mm=spare_mm)
    for at, line in enumerate(lines):
        dash_mm = () if line.keys == "drawn by lot" else (0.5, 0.8)
        shown = (min(max(value, low), high) for value in line.logs_10)
        where = [(plot.x_mm(n), plot.y_mm(value)) for n, value in zip(line.sittings, shown, strict=True)]
        if len(where) > 1:
            chart.polyline(where, width_mm=0.6, dash_mm=dash_mm, name=f"evidence_{at}")
        chart.circle(*where[-1], 0.9, fill=BLACK if not dash_mm else WHITE, outline=BLACK)
    step = 1 if apart_mm >= LABEL_MM else 2
    value_axis(chart, plot, [(float(power), _power(power)) for power in range(low, high + 1) if power % step == 0])
    sittings_axis(chart, plot, ticks_of(sittings, 5), dates)
    return chart


def difficulty_chart(
    points: Sequence[SittingPoint], dates: tuple[str, str], words: Wording, width_mm: float, height_mm: float
) -> Chart:
    """Draw how hard each flight was; a ring where nothing is stated of the drinks, on the middling line.

    Shapes: `flight_1` … by the number of the sitting, `middling`.
    """
    chart = Chart(width_mm, height_mm)
    most = max([0.5, *(abs(point.difficulty) for point in points if point.difficulty is not None)])
    plot = sittings_plot(chart, (-1.1 * most, 1.1 * most), len(points), left_mm=14.0)
    level(chart, plot, 0.0, "", "middling")
    radius_mm = 0.9 if len(points) <= _MOST_DOTS else 0.35
    for point in points:
        unknown = point.difficulty is None
        chart.circle(
            plot.x_mm(point.number),
            plot.y_mm(point.difficulty or 0.0),
            radius_mm,
            fill=WHITE if unknown else BLACK,
            outline=BLACK if unknown else None,
            width_mm=min(0.25, 0.4 * radius_mm),
            name=f"flight_{point.number}",
        )
    labels = ("easier", "middling", "harder")
    value_axis(
        chart,
        plot,
        [(at * most, words(f"progress_report.{label}")) for at, label in zip((-1, 0, 1), labels, strict=True)],
    )
    sittings_axis(chart, plot, ticks_of(len(points), 5), dates)
    return chart


def steady_chart(counts: Sequence[SteadyCount], dates: tuple[str, str], width_mm: float, height_mm: float) -> Chart:
    """Draw how many words were steady after so many sittings, a step at each count.

    Shapes: `steady` and the dots `steady_1` … by how many sittings were looked at.
    """
    chart = Chart(width_mm, height_mm)
    most = max(4, max(count.words for count in counts))
    sittings = counts[-1].sittings
    plot = sittings_plot(chart, (0.0, most * 1.08), sittings)
    where = [(plot.x_mm(count.sittings), plot.y_mm(count.words)) for count in counts]
    steps = [where[0]]
    for (_, before_mm), (x_mm, y_mm) in pairwise(where):
        steps += [(x_mm, before_mm), (x_mm, y_mm)]
    if len(steps) > 1:
        chart.polyline(steps, width_mm=0.5, name="steady")
    for count, (x_mm, y_mm) in zip(counts, where, strict=True):
        chart.circle(x_mm, y_mm, 0.8, fill=BLACK, outline=BLACK, name=f"steady_{count.sittings}")
    step = max(1, ceil(most / 5))
    value_axis(chart, plot, [(float(value), str(value)) for value in range(0, most + 1, step)])
    sittings_axis(chart, plot, ticks_of(sittings, 5), dates)
    return chart


def strip_chart(points: Sequence[SittingPoint], width_mm: float) -> Chart:
    """Draw a column of boxes for each of the latest sittings, a box for each glass, those right filled from below.

    Shapes: `box_SITTING_GLASS`, counted from below.
    """
    shown = points[-STRIP:]
    side_mm, pitch_mm = 3.0, min(8.0, (width_mm - 8.0) / max(1, len(shown)))
    tall = max(point.of for point in shown)
    chart = Chart(width_mm, tall * side_mm + 6.0)
    for column, point in enumerate(shown):
        x_mm = 8.0 + column * pitch_mm
        for glass in range(point.of):
            chart.rect(
                x_mm,
                (tall - 1 - glass) * side_mm + 1.0,
                min(side_mm, pitch_mm) - 0.7,
                side_mm - 0.7,
                fill=QUIET if glass < point.correct else None,
                outline=LINE,
                width_mm=0.2,
                name=f"box_{point.number}_{glass + 1}",
            )
        if point.number in _numbered(shown):
            chart.text(
                x_mm + min(side_mm, pitch_mm) / 2 - 0.35,
                tall * side_mm + 4.6,
                str(point.number),
                LABEL_PT,
                anchor="middle",
                gray=QUIET,
            )
    return chart


def _numbered(shown: Sequence[SittingPoint]) -> frozenset[int]:
    first, last = shown[0].number, shown[-1].number
    if len(shown) <= 12:
        return frozenset(range(first, last + 1))
    return frozenset({first, last, *(number for number in range(first, last) if number % 5 == 0 and last - number > 2)})


def _course(chart: Chart, plot: Plot, points: Sequence[SittingPoint], luck: str) -> None:
    lows, middles, highs = (
        [(plot.x_mm(point.number), plot.y_mm(point.band[end])) for point in points] for end in range(3)
    )
    chart.polygon([*lows, *reversed(highs)], fill=BAND, outline=None, name="band")
    for edge in (lows, highs):
        chart.polyline(edge, width_mm=0.2, gray=LINE)
    level(chart, plot, LUCK, luck, "luck")
    chart.polyline(middles, width_mm=0.8, name="middle")
    if len(points) <= _MOST_DOTS:
        for x_mm, y_mm in middles:
            chart.circle(x_mm, y_mm, 0.5, fill=BLACK, outline=None)


def _power(power: int) -> str:
    return f"{10**power:,}" if power >= 0 else f"1/{10**-power:,}"
