"""The numbers of the table's sheet as JSON and as rows of CSV: one quantity a row, so that a spreadsheet can filter."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from typing import Any

from scanner.reports.csv_safe import Cell
from scanner.reports.seals import KitSeals
from scanner.reports.seals import to_json as seals_to_json
from scanner.reports.table_numbers import TableSheet
from scanner.reports.table_together import Together

HEADING = ("kit", "date", "quantity", "taster", "drink", "other", "value")


def to_json(sheets: Sequence[TableSheet], whole: Together | None, seals: Sequence[KitSeals]) -> dict[str, Any]:
    """Return all numbers as a JSON object, with the seal codes of all kits that they are from."""
    return {
        "sittings": [{**asdict(sheet), "counted": sheet.counted} for sheet in sheets],
        "together": None if whole is None else asdict(whole),
        "seals": seals_to_json(seals),
    }


def rows(sheets: Sequence[TableSheet], whole: Together | None) -> Iterator[tuple[Cell, ...]]:
    """Yield the rows; `other` is the drink claimed, the word, or how many were right."""
    for sheet in sheets:
        for quantity, taster, drink, other, value in _of_sheet(sheet):
            yield sheet.kit, sheet.date, quantity, taster, drink, other, value
    if whole is not None:
        for quantity, drink, other, value in _of_whole(whole):
            yield "", "", quantity, None, drink, other, value


def _of_sheet(sheet: TableSheet) -> Iterator[tuple[Cell, ...]]:
    names = [drink.name for drink in sheet.drinks]
    for line in sheet.tasters:
        yield "status", line.name, None, None, line.status
        yield "correct", line.name, None, None, line.correct
        yield "of", line.name, None, None, line.of
        yield "chance_at_least", line.name, None, None, line.chance_at_least
        for name, claimed in zip(names, line.taken_for or (), strict=False):
            yield "taken_for", line.name, name, None, None if claimed is None else names[claimed - 1]
        for role in line.missing:
            yield "missing", line.name, None, role, 1
        yield "waiting", line.name, None, None, line.waiting
    yield "correct", None, None, None, sheet.correct
    yield "of", None, None, None, sheet.of
    yield "expected_by_luck", None, None, None, sheet.expected_by_luck
    yield "chance_at_least", None, None, None, sheet.chance_at_least
    for bar in sheet.counts:
        yield "tasters_with_so_many_right", None, None, bar.correct, bar.tasters
        yield "by_luck_with_so_many_right", None, None, bar.correct, bar.by_luck
    for drink in sheet.drinks:
        yield "recognised", None, drink.name, None, drink.right
        yield "noted_by", None, drink.name, None, drink.noted_by
        for word, said in drink.words:
            yield "said", None, drink.name, word, said
    if sheet.grid is not None:
        for stood, counts in zip(names, sheet.grid.times, strict=True):
            for claimed_name, count in zip(names, counts, strict=True):
                yield "claimed", None, stood, claimed_name, count
        for stood, count in zip(names, sheet.grid.blank, strict=True):
            yield "left_blank", None, stood, None, count
        for claimed_name, by_luck in zip(names, sheet.grid.by_luck, strict=True):
            yield "claimed_by_luck", None, None, claimed_name, by_luck


def _of_whole(whole: Together) -> Iterator[tuple[Cell, ...]]:
    for quantity in ("kits", "sittings", "correct", "of", "expected_by_luck", "chance_at_least"):
        yield f"together_{quantity}", None, None, getattr(whole, quantity)
    for stood, counts in zip(whole.drinks, whole.times, strict=True):
        for claimed, count in zip(whole.drinks, counts, strict=True):
            yield "together_claimed", stood, claimed, count
    for pair in whole.pairs:
        for quantity in ("times", "evenly", "by_luck", "together"):
            yield f"together_pair_{quantity}", *pair.names, getattr(pair, quantity)
