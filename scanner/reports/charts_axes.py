"""What charts over time or by count have in common: a plot's place on the drawing, its axes and its ticks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from kit.fonts import width_mm
from scanner.reports.chart import Chart
from scanner.reports.inks import LINE, QUIET

LABEL_PT = 8.0
SMALL_PT = 7.0
TICK_MM = 1.0
MOST_TICKS = 6
_STEPS = (1, 2, 5)


@dataclass(frozen=True, slots=True)
class Plot:
    """A rectangle on a chart, mm from its top left, with the values at its edges; y values rise upwards."""

    left_mm: float
    top_mm: float
    right_mm: float
    bottom_mm: float
    x_values: tuple[float, float]
    y_values: tuple[float, float]

    def x_mm(self, value: float) -> float:
        """Return where a value lies along the plot."""
        first, last = self.x_values
        return self.left_mm + (value - first) / (last - first) * (self.right_mm - self.left_mm)

    def y_mm(self, value: float) -> float:
        """Return where a value lies up the plot."""
        low, high = self.y_values
        return self.bottom_mm - (value - low) / (high - low) * (self.bottom_mm - self.top_mm)


def sittings_plot(
    chart: Chart, y_values: tuple[float, float], sittings: int, *, left_mm: float = 8.0, levels: Sequence[str] = ()
) -> Plot:
    """Return a plot for sittings 1 … m with room for both axes' labels, half a sitting free at the ends.

    At its right there is room for the labels of its `levels`, so that no curve runs through them.
    """
    right_mm = chart.width_mm - 2.0 - max((width_mm(label, "regular", SMALL_PT) for label in levels), default=0.0)
    return Plot(left_mm, 3.0, right_mm, chart.height_mm - 8.0, (0.5, sittings + 0.5), y_values)


def ticks_of(last: int, most: int = MOST_TICKS) -> tuple[int, ...]:
    """Return round numbers from 1 to the last, few enough to be printed side by side; the last is among them.

    >>> ticks_of(5), ticks_of(52), ticks_of(365)
    ((1, 2, 3, 4, 5), (1, 20, 40, 52), (1, 100, 200, 300, 365))
    """
    if last <= most:
        return tuple(range(1, last + 1))
    step = next(step * 10**power for power in range(9) for step in _STEPS if ceil(last / (step * 10**power)) < most)
    inner = [at for at in range(step, last, step) if at > 1 and last - at >= 0.6 * step]
    return (1, *inner, last)


def value_axis(chart: Chart, plot: Plot, labels: Sequence[tuple[float, str]], *, size_pt: float = LABEL_PT) -> None:
    """Draw the upright axis with its labels, each at its value, a faint line across for each."""
    for at, (value, label) in enumerate(labels):
        y_mm = plot.y_mm(value)
        chart.line(plot.left_mm - TICK_MM, y_mm, plot.left_mm, y_mm, gray=LINE, name=f"tick_y_{at}")
        chart.text(plot.left_mm - 1.6, y_mm + 0.36 * size_pt / 2.835, label, size_pt, anchor="end", gray=QUIET)
    chart.line(plot.left_mm, plot.top_mm, plot.left_mm, plot.bottom_mm, gray=LINE)


def sittings_axis(
    chart: Chart, plot: Plot, ticks: Sequence[int], dates: tuple[str, str], *, size_pt: float = LABEL_PT
) -> None:
    """Draw the axis of sittings with their numbers, and below its ends the first and the last date."""
    chart.line(plot.left_mm, plot.bottom_mm, plot.right_mm, plot.bottom_mm, gray=LINE)
    for number in ticks:
        x_mm = plot.x_mm(number)
        chart.line(x_mm, plot.bottom_mm, x_mm, plot.bottom_mm + TICK_MM, gray=LINE, name=f"tick_x_{number}")
        chart.text(x_mm, plot.bottom_mm + 3.9, str(number), size_pt, anchor="middle", gray=QUIET)
    first, last = dates
    chart.text(plot.left_mm, plot.bottom_mm + 7.4, first, SMALL_PT, gray=QUIET)
    if last != first:
        chart.text(plot.right_mm, plot.bottom_mm + 7.4, last, SMALL_PT, anchor="end", gray=QUIET)


def level(chart: Chart, plot: Plot, value: float, label: str, name: str, *, raised_mm: float = 0.0) -> None:
    """Draw a dashed line across at a value that has a meaning, and say which beside its right end."""
    y_mm = plot.y_mm(value)
    chart.line(plot.left_mm, y_mm, plot.right_mm, y_mm, gray=QUIET, width_mm=0.3, dash_mm=(1.6, 1.0), name=name)
    if label:
        chart.text(plot.right_mm + 0.8, y_mm + 0.36 * SMALL_PT / 2.835 - raised_mm, label, SMALL_PT)
