"""The numbers of progress pages as JSON and as rows of CSV: one quantity a row, so that a spreadsheet can filter."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from scanner.reports.csv_safe import Cell
from scanner.reports.pour_next import PourNext
from scanner.reports.progress_numbers import ProgressNumbers
from scanner.reports.seals import TasterSeals

HEADING = ("taster", "date", "sitting", "quantity", "about", "value")

Progress = tuple[ProgressNumbers, PourNext | None]


def to_json(found: Sequence[Progress], seals: Mapping[str, TasterSeals]) -> dict[str, Any]:
    """Return all numbers as a JSON object, with all seal codes of each taster by kit."""
    return {
        "tasters": [
            {
                **asdict(numbers),
                "sittings": numbers.sittings,
                "seals": dict(seals.get(numbers.taster, {})),
                "pour_next": None if pour is None else {**asdict(pour), "expected_correct": pour.expected_correct},
            }
            for numbers, pour in found
        ]
    }


def rows(found: Sequence[Progress]) -> Iterator[tuple[Cell, ...]]:
    """Yield the rows; `about` is the word, the drink or the kind of keys that the quantity is about."""
    for numbers, pour in found:
        for date, sitting, quantity, about, value in (*_of_taster(numbers), *_of_sittings(numbers), *_of_pour(pour)):
            yield numbers.name, date, sitting, quantity, about, value


def _of_taster(found: ProgressNumbers) -> Iterator[tuple[Cell, ...]]:
    low, high = found.interval or (None, None)
    whole: dict[str, Cell] = {
        "sittings": found.sittings,
        "correct": found.correct,
        "of": found.of,
        "expected_by_luck": found.expected_by_luck,
        "chance_at_least": found.chance_at_least,
        "correct_of_five": found.face,
        "correct_of_five_low": low,
        "correct_of_five_high": high,
        "verdict": found.verdict,
        "flights_harder_by": found.flights_harder_by,
        "sittings_with_both_notes": found.noted,
        "steady_words": found.steady_total,
    }
    for quantity, value in whole.items():
        yield None, None, quantity, None, value
    for line in found.evidence:
        yield None, None, "e_value", line.keys, line.e_value
        yield None, None, "p_value", line.keys, line.p_value
    for count in found.steady_counts:
        yield count.date, count.sittings, "steady_words_so_far", None, count.words
    for word in found.steady:
        for quantity in ("returned", "said", "turned_up", "other_drinks"):
            yield None, None, quantity, word.word, getattr(word, quantity)


def _of_sittings(found: ProgressNumbers) -> Iterator[tuple[Cell, ...]]:
    for point in found.points:
        low, middle, high = point.band
        values: dict[str, Cell] = {
            "correct": point.correct,
            "of": point.of,
            "flight_difficulty": point.difficulty,
            "course_low": low,
            "course": middle,
            "course_high": high,
        }
        for quantity, value in values.items():
            yield point.date, point.number, quantity, point.kit, value
    for line in found.evidence:
        for number, log_10 in zip(line.sittings, line.logs_10, strict=True):
            yield found.points[number - 1].date, number, "log10_e_value", line.keys, log_10


def _of_pour(pour: PourNext | None) -> Iterator[tuple[Cell, ...]]:
    if pour is None:
        return
    for number, drink in enumerate(pour.drinks, start=1):
        yield None, None, "pour_next", number, drink.name
    yield None, None, "expected_share", None, pour.share
