"""The strengths of one drink in both rounds, scale by scale, as two dots on each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from kit.fonts import fitted, width_mm
from kit.lexicon import Scale
from scanner.reports.chart import Chart
from scanner.reports.inks import BLACK, LINE, QUIET, WHITE
from scanner.reports.setter import LEAST_PT
from scanner.results.sitting import Note

TICK_MM = 0.7
OPEN_MM, FILLED_MM, WITHIN_MM = 1.45, 1.25, 0.85
"""Radii of the dots of round one, of round two, and of round two's within that of round one."""


@dataclass(frozen=True, slots=True)
class Tracks:
    """All scales of a form without dots, `chart`; where each track begins and ends, and its scales' middles, mm."""

    chart: Chart
    first: float
    last: float
    middles: tuple[float, ...]


@lru_cache(32)
def tracks(scales: tuple[Scale, ...], width: float, height: float) -> Tracks:
    """Draw names, end words and tracks of all scales; the same for every drink, so it is drawn once."""
    chart = Chart(width, height)
    pitch = height / max(len(scales), 1)
    size = min(8.0, max(LEAST_PT, pitch * 2.05))
    name_end, first, last = _columns(scales, width, size)
    middles = tuple(pitch * (row + 0.5) for row in range(len(scales)))
    for scale, y in zip(scales, middles, strict=True):
        baseline = y + size * 0.12
        room = name_end - width_mm(scale.ends[0], "regular", size) - 1.6
        chart.text(0.0, baseline, *fitted(scale.name, "regular", size, max(room, 6.0), LEAST_PT))
        chart.text(name_end, baseline, scale.ends[0], size * 0.92, anchor="end", gray=QUIET)
        end = fitted(scale.ends[1], "regular", size * 0.92, width - last - 2.9, LEAST_PT)
        chart.text(last + 2.9, baseline, *end, gray=QUIET)
        chart.polyline(_ticked(first, last, y, scale.steps), width_mm=0.15, gray=LINE, name=f"{scale.id}_track")
    return Tracks(chart, first, last, middles)


def dots(form: Tracks, scales: Sequence[Scale], first: Note | None, second: Note | None) -> Chart:
    """Draw an open dot for round one and a filled one for round two, joined; one within the other where they are alike.

    The chart lies on that of the tracks.
    """
    chart = Chart(form.chart.width_mm, form.chart.height_mm)
    for scale, y in zip(scales, form.middles, strict=True):
        one, two = (None if note is None else note.strengths.get(scale.id) for note in (first, second))
        at = [form.first + (form.last - form.first) * _share(step, scale) for step in (one, two)]
        if one is not None and two is not None and one != two:
            chart.line(at[0], y, at[1], y, width_mm=0.5, name=f"{scale.id}_moved")
        if one is not None:
            chart.circle(at[0], y, OPEN_MM, fill=WHITE, width_mm=0.4, name=f"{scale.id}_first")
        if two is not None:
            chart.circle(at[1], y, WITHIN_MM if one == two else FILLED_MM, fill=BLACK, name=f"{scale.id}_second")
    return chart


def _share(step: int | None, scale: Scale) -> float:
    return 0.0 if step is None or scale.steps == 1 else (step - 1) / (scale.steps - 1)


def _ticked(first: float, last: float, y: float, steps: int) -> list[tuple[float, float]]:
    """Return a track with a tick at each step as one line through points."""
    points = []
    for step in range(steps):
        x = first + (last - first) * step / max(steps - 1, 1)
        points += [(x, y), (x, y - TICK_MM), (x, y + TICK_MM), (x, y)]
    return points


def _columns(scales: Sequence[Scale], width: float, size_pt: float) -> tuple[float, float, float]:
    """Return where names and first end words end, and where tracks begin and end, so that all words have room.

    The track keeps a third of the width; words that leave it less are shortened.
    """
    name = max((width_mm(scale.name, "regular", size_pt) for scale in scales), default=0.0)
    first, last = (
        max((width_mm(scale.ends[end], "regular", size_pt) for scale in scales), default=0.0) for end in (0, 1)
    )
    share = min(1.0, (width * 0.67 - 8.0) / max(name + first + last, 0.1))
    return (name + first) * share + 2.0, (name + first) * share + 5.4, width - last * share - 3.4
