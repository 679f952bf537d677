"""The charts of progress read back: positions against numbers by their own ticks, and grays that can be told apart."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from math import log10
from typing import Any

import pytest
from reportlab.graphics.shapes import String
from reportlab.lib.units import mm

from kit.fonts import width_mm
from kit.wording import languages, load_wording
from scanner.reports.chart import Chart
from scanner.reports.charts_axes import ticks_of
from scanner.reports.charts_progress import (
    STRIP,
    course_chart,
    difficulty_chart,
    evidence_chart,
    panel_chart,
    steady_chart,
    strip_chart,
)
from scanner.reports.progress_numbers import EvidenceLine, SittingPoint, SteadyCount
from tests.scanner.reports.read_back import contrasts, text_near, texts, value_ticks
from tests.scanner.reports.read_back import ratio as contrast

ENGLISH = load_wording("en")
DATES = ("9 January 2026", "3 June 2026")
LOT = EvidenceLine("drawn by lot", "beyond doubt", 316.2, (1, 2, 4), (-0.3, 1.0, 2.5), 2, 0.001)
HAND = EvidenceLine("mixed by hand", "not yet", 0.5, (3, 5), (0.1, -0.3), None, 0.4)


def points(count: int) -> tuple[SittingPoint, ...]:
    return tuple(
        SittingPoint(
            number,
            "2026-01-09",
            "Flight",
            "K7Q4M2",
            number % 5,
            4 + number % 2,
            None if number == 2 else 0.1 * (number % 7) - 0.3,
            (0.1 * number % 1, 1.0 + 0.02 * number, 2.5 + 0.01 * number),
        )
        for number in range(1, count + 1)
    )


def reader(chart: Chart, low: str, high: str) -> Any:
    """Return what reads a height back as a value, by two labelled ticks of the chart's own axis."""
    ticks = value_ticks(chart)
    first, last = float(low.replace(",", "")), float(high.replace(",", ""))
    return lambda y: first + (y - ticks[low]) / (ticks[high] - ticks[low]) * (last - first)


def sitting_reader(chart: Chart, first: int, last: int) -> Any:
    """Return what reads a place along the chart back as a sitting's number, by two ticks of its axis."""
    left, right = chart.read(f"tick_x_{first}").x1, chart.read(f"tick_x_{last}").x1
    return lambda x: first + (x - left) / (right - left) * (last - first)


def pairs(flat: Sequence[float]) -> list[tuple[float, float]]:
    return list(zip(flat[::2], flat[1::2], strict=True))


@pytest.mark.parametrize("count", [2, 9, 24, 365])
def test_the_course_and_its_band_lie_where_the_numbers_say(count: int) -> None:
    found = points(count)
    chart = course_chart(found, DATES, ENGLISH, 190.0, 46.0)
    value, number = reader(chart, "0", "5"), sitting_reader(chart, 1, count)
    middle = [(number(x), value(y)) for x, y in pairs(chart.read("middle").points)]
    assert middle == [pytest.approx((point.number, point.band[1]), abs=1e-6) for point in found]
    band = pairs(chart.read("band").points)
    lows, highs = band[:count], band[count:][::-1]
    for point, (low_x, low_y), (high_x, high_y) in zip(found, lows, highs, strict=True):
        assert (number(low_x), number(high_x)) == pytest.approx((point.number, point.number))
        assert (value(low_y), value(high_y)) == pytest.approx((point.band[0], point.band[2]))
    assert value(chart.read("luck").y1) == pytest.approx(1.0)
    assert {*DATES, "guessing: 1"} <= set(texts(chart))


def test_a_panel_has_the_same_course_small() -> None:
    found = points(7)
    chart = panel_chart(found, 58.0, 34.0)
    value = reader(chart, "0", "5")
    assert [value(y) for _, y in pairs(chart.read("middle").points)] == pytest.approx([one.band[1] for one in found])
    assert value(chart.read("luck").y1) == pytest.approx(1.0)


def test_evidence_rises_by_tens_and_its_words_have_their_lines() -> None:
    chart = evidence_chart([LOT, HAND], 5, DATES, ENGLISH, 91.0, 36.0)
    ticks = value_ticks(chart)
    assert chart.read("likely").y1 == pytest.approx(ticks["10"])
    assert chart.read("beyond_doubt").y1 == pytest.approx(ticks["100"])
    step = ticks["100"] - ticks["10"]
    number = sitting_reader(chart, 1, 5)
    for at, line in enumerate((LOT, HAND)):
        read = [(number(x), (y - ticks["1"]) / step) for x, y in pairs(chart.read(f"evidence_{at}").points)]
        assert read == [pytest.approx(both) for both in zip(line.sittings, line.logs_10, strict=True)]
    assert chart.read("evidence_0").strokeDashArray is None
    assert chart.read("evidence_1").strokeDashArray
    assert text_near(chart, "evidence_0")
    assert {"likely", "beyond doubt"} <= set(texts(chart))


def test_evidence_past_the_scale_is_drawn_at_its_edge() -> None:
    line = EvidenceLine("drawn by lot", "beyond doubt", None, (1, 2, 3), (2.0, 321.5, -9.0), 1, 0.0)
    chart = evidence_chart([line], 3, DATES, ENGLISH, 91.0, 36.0)
    ticks = value_ticks(chart)
    heights = [y for _, y in pairs(chart.read("evidence_0").points)]
    assert heights == pytest.approx([ticks["100"], ticks["100,000"], ticks["1/1,000"]])


def test_flights_lie_above_the_middling_line_if_harder_and_rings_are_unknown() -> None:
    found = points(9)
    chart = difficulty_chart(found, DATES, ENGLISH, 91.0, 36.0)
    ticks = value_ticks(chart)
    half = ticks["harder"] - ticks["middling"]
    assert ticks["middling"] - ticks["easier"] == pytest.approx(half)
    for point in found:
        dot = chart.read(f"flight_{point.number}")
        if point.difficulty is None:
            assert dot.fillColor.red == 1.0
            continue
        # The axis ends at the farthest flight, at half a unit of θ at least.
        assert (dot.cy - ticks["middling"]) / half == pytest.approx(point.difficulty / 0.5)
        assert dot.fillColor.red == 0.0


def test_steady_words_step_up_where_they_were_counted() -> None:
    counts = (SteadyCount("2026-01-09", 2, 0), SteadyCount("2026-02-09", 4, 3), SteadyCount("2026-03-09", 6, 8))
    chart = steady_chart(counts, DATES, 91.0, 36.0)
    value, number = reader(chart, "0", "8"), sitting_reader(chart, 1, 6)
    for count in counts:
        dot = chart.read(f"steady_{count.sittings}")
        assert (number(dot.cx), value(dot.cy)) == pytest.approx((count.sittings, count.words))
    corners = [(round(number(x), 6), round(value(y), 6)) for x, y in pairs(chart.read("steady").points)]
    assert corners == [(2, 0), (4, 0), (4, 3), (6, 3), (6, 8)]


@pytest.mark.parametrize("count", [1, 12, 90])
def test_a_strip_has_a_box_for_each_glass_and_fills_those_right(count: int) -> None:
    found = points(count)
    chart = strip_chart(found, 190.0)
    for point in found[-STRIP:]:
        boxes = [chart.read(f"box_{point.number}_{glass}") for glass in range(1, point.of + 1)]
        assert sum(box.fillColor is not None for box in boxes) == point.correct
        assert not chart.has(f"box_{point.number}_{point.of + 1}")
        assert [box.y for box in boxes] == sorted(box.y for box in boxes)
        assert boxes[-1].x + boxes[-1].width <= 190.0 / 25.4 * 72
    assert chart.has("box_1_1") == (count <= STRIP)


@pytest.mark.parametrize("count", [2, 61, 365])
def test_all_grays_reach_what_wcag_asks(count: int) -> None:
    found = points(count)
    logs = tuple(log10(1 + number) for number in range(count))
    line = EvidenceLine("drawn by lot", "likely", 12.0, tuple(range(1, count + 1)), logs, 1, 0.01)
    steady = (SteadyCount("2026-01-09", 1, 0), SteadyCount("2026-01-09", count, 2))
    charts = [
        course_chart(found, DATES, ENGLISH, 190.0, 46.0),
        panel_chart(found, 58.0, 34.0),
        evidence_chart([line, HAND], max(5, count), DATES, ENGLISH, 91.0, 36.0),
        difficulty_chart(found, DATES, ENGLISH, 91.0, 36.0),
        steady_chart(steady, DATES, 91.0, 36.0),
        strip_chart(found, 190.0),
    ]
    for chart in charts:
        for what, ratio, asked in contrasts(chart):
            assert ratio >= asked, what
    # Luck's line crosses the band: it must stand out from that gray too.
    band, luck = (charts[0].read(name) for name in ("band", "luck"))
    assert contrast(luck.strokeColor.red, band.fillColor.red) >= 3.0


@pytest.mark.parametrize("last", [1, 2, 5, 6, 7, 13, 52, 100, 365, 4000])
def test_ticks_run_from_the_first_to_the_last_and_are_few(last: int) -> None:
    ticks = ticks_of(last)
    assert (ticks[0], ticks[-1]) == (1, last)
    assert list(ticks) == sorted(set(ticks))
    assert len(ticks) <= 7


@pytest.mark.parametrize("height_mm", [25.2, 36.0])
@pytest.mark.parametrize("logs", [(2.0, 321.5, -9.0), (-0.5, -0.2, 0.1), (1.0, 9.0, 9.0)])
@pytest.mark.parametrize("language", languages())
def test_no_label_of_evidence_lies_over_another_or_over_the_curve(
    logs: tuple[float, ...], height_mm: float, language: str
) -> None:
    line = EvidenceLine("drawn by lot", "likely", None, (1, 2, 3), logs, 1, 0.0)
    words = load_wording(language)
    chart = evidence_chart([line], 3, DATES, words, 91.0, height_mm)
    labels = [shape for shape in chart.drawing.contents if isinstance(shape, String)]
    values = [label for label in labels if label.textAnchor == "end" and label.text not in DATES]
    assert len(values) >= 3
    for one, other in combinations(values, 2):
        assert abs(one.y - other.y) >= 0.95 * one.fontSize
    likely, beyond = (
        next(label for label in labels if label.text == words(f"progress_report.{name}"))
        for name in ("likely", "beyond_doubt")
    )
    assert beyond.y - likely.y >= 0.95 * likely.fontSize
    assert min(likely.x, beyond.x) > max(x for x, _ in pairs(chart.read("evidence_0").points))
    for label in (likely, beyond):
        assert label.x / mm + width_mm(label.text, "regular", label.fontSize) <= 91.0
