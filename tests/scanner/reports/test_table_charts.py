"""The table's charts read back: positions against numbers, and grays that can be told apart."""

from __future__ import annotations

from math import comb
from typing import Any

import pytest

from scanner.reports.chart import Chart
from scanner.reports.charts_table import counts_chart, heat_map, words_chart
from scanner.reports.table_numbers import CountBar, DrinkLine
from tests.scanner.reports.read_back import contrasts, ratio, text_near, texts

RENCONTRES = {3: (2, 3, 0, 1), 4: (9, 8, 6, 0, 1), 5: (44, 45, 20, 10, 0, 1)}
"""Permutations with so many fixed points: OEIS A008290 (from memory), the matching distribution times n!."""

COUNTS = tuple(CountBar(k, tasters, 8 * RENCONTRES[5][k] / 120) for k, tasters in enumerate((1, 2, 2, 1, 0, 2)))
TIMES = ((4, 0, 1), (0, 3, 12), (6, 2, 0))
DRINK = DrinkLine(2, "Gull Rock", "junmai", 3, 8, 8, (("rice", 8), ("koji", 5), ("hay", 4), ("smoke", 1)), 2, True)


def bars() -> Chart:
    return counts_chart(COUNTS, "right", 90.0, 50.0)


def test_bars_are_as_high_as_the_counts_and_as_luck_expects() -> None:
    chart = bars()
    base = chart.read("base").y1
    tallest = max(max(bar.tasters, bar.by_luck) for bar in COUNTS)
    unit = max(
        chart.read(name).height
        for bar in COUNTS
        for name in (f"tasters_{bar.correct}", f"luck_{bar.correct}")
        if chart.has(name)
    )
    for bar in COUNTS:
        for name, value in ((f"tasters_{bar.correct}", bar.tasters), (f"luck_{bar.correct}", bar.by_luck)):
            if value == 0:
                assert not chart.has(name)
                continue
            shape = chart.read(name)
            assert shape.y == pytest.approx(base)
            assert shape.height / unit == pytest.approx(value / tallest, abs=1e-6)


def test_a_bar_and_luck_s_stand_side_by_side_over_their_number() -> None:
    chart = bars()
    for bar in COUNTS[:3]:
        mine, luck = chart.place(f"tasters_{bar.correct}"), chart.place(f"luck_{bar.correct}")
        assert mine[2] <= luck[0]
        middle = (mine[2] + luck[0]) / 2
        assert int(middle // (90.0 / len(COUNTS))) == bar.correct


def test_counts_are_whole_numbers_and_luck_has_one_decimal() -> None:
    shown = texts(bars())
    assert [one for one in shown if "." in one] == ["2.9", "3.0", "1.3", "0.7", "0.0", "0.1"]


def test_each_cell_of_the_heat_map_has_its_count_and_is_the_darker_the_more() -> None:
    chart = heat_map(["one", "two", "three"], TIMES, 12, 80.0, column_labels=["1", "2", "3"])
    grays = []
    for row, counts in enumerate(TIMES):
        for column, count in enumerate(counts):
            name = f"cell_{row}_{column}"
            assert text_near(chart, name) == str(count)
            grays.append((count, chart.read(name).fillColor.red))
    for count, gray in grays:
        for other, its_gray in grays:
            assert count <= other or gray <= its_gray
    assert {gray for count, gray in grays if count == 0} == {1.0}
    assert min(grays)[1] > max(grays)[1]


def test_rows_run_down_and_columns_to_the_right() -> None:
    chart = heat_map(["one", "two", "three"], TIMES, 12, 80.0, column_labels=["1", "2", "3"], cell_mm=10.0)
    left, top, right, bottom = chart.place("cell_0_0")
    for row in range(3):
        for column in range(3):
            place = chart.place(f"cell_{row}_{column}")
            moved = (left + 10 * column, top + 10 * row, right + 10 * column, bottom + 10 * row)
            assert place == pytest.approx(moved, abs=1e-6)
    for at in range(3):
        assert chart.place(f"right_{at}") == pytest.approx(chart.place(f"cell_{at}_{at}"), abs=0.5)


def test_two_that_never_met_have_a_dash_and_blanks_a_column_of_their_own() -> None:
    chart = heat_map(
        ["one", "two"],
        ((3, None), (None, 4)),
        4,
        80.0,
        column_labels=["1", "2"],
        blank=("blank", (2, 0)),
        by_luck=("by luck", (0.75, 1.25)),
    )
    assert text_near(chart, "cell_0_1") == "–"
    assert text_near(chart, "blank_0") == "2"
    assert chart.place("blank_0")[0] > chart.place("cell_0_1")[2]
    assert {"0.8", "1.2"} <= set(texts(chart))


def test_word_bars_are_as_long_as_the_share_that_said_them() -> None:
    chart = words_chart(DRINK, {}, 40.0, 10)
    for at, (word, said) in enumerate(DRINK.words):
        frame, bar = chart.read(f"frame_{at}"), chart.read(f"word_{at}")
        assert bar.width / frame.width == pytest.approx(said / DRINK.noted_by)
        assert bar.x == pytest.approx(frame.x)
        assert word in texts(chart)
    shapes: list[Any] = chart.drawing.contents
    bold = [shape.text for shape in shapes if getattr(shape, "fontName", "") == "semibold"]
    assert bold == ["rice", "8", "koji", "5"]


@pytest.mark.parametrize("count", range(13))
def test_a_number_is_legible_on_every_shade(count: int) -> None:
    chart = heat_map(["one"], ((count,),), 12, 40.0, column_labels=["1"])
    assert all(found >= asked for _, found, asked in contrasts(chart))


def test_all_grays_reach_what_wcag_asks() -> None:
    charts = [bars(), words_chart(DRINK, {}, 40.0, 10)]
    charts.append(heat_map(["one", "two", "three"], TIMES, 12, 80.0, column_labels=["1", "2", "3"]))
    for chart in charts:
        for what, found, asked in contrasts(chart):
            assert found >= asked, what
    # Filled bars have no outline: they must stand out from the paper themselves.
    words = words_chart(DRINK, {}, 40.0, 10)
    assert all(ratio(words.read(f"word_{at}").fillColor.red, 1.0) >= 3.0 for at in range(4))


def test_the_check_of_contrast_fails_on_pale_print() -> None:
    chart = Chart(20.0, 20.0)
    chart.text(1.0, 10.0, "pale", 8.0, gray=0.6)
    chart.rect(0.0, 12.0, 20.0, 8.0, fill=0.3)
    chart.text(1.0, 17.0, "dark on dark", 6.0, gray=0.0)
    chart.line(0.0, 1.0, 20.0, 1.0, gray=0.7)
    assert [what for what, found, asked in contrasts(chart) if found < asked] == ["pale", "dark on dark", "Line"]
    # Black on white is 21:1, and the gray #767676 4.54:1: known from WCAG's own explanations (from memory).
    assert ratio(0.0, 1.0) == pytest.approx(21.0)
    assert ratio(0x76 / 255, 1.0) == pytest.approx(4.54, abs=0.005)


def test_the_oracle_of_luck_adds_up() -> None:
    for n, row in RENCONTRES.items():
        # Σ_k D(n, k) = n! and the mean of fixed points is 1.
        assert sum(row) == sum(k * count for k, count in enumerate(row))
        # D(n, k) = C(n, k)·D(n − k, 0), D(0, 0) = 1, D(1, 0) = 0, D(2, 0) = 1.
        none_fixed = {0: 1, 1: 0, 2: 1, 3: 2, 4: 9, 5: 44}
        assert row == tuple(comb(n, k) * none_fixed[n - k] for k in range(n + 1))
