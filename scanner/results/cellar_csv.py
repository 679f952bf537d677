"""A cellar list in columns, as spreadsheets write CSV: told apart by its heading, and typed column by column."""

from __future__ import annotations

import contextlib
import csv
import datetime
import difflib
import io
import re
from collections.abc import Sequence
from typing import Any

from kit.errors import CellarError
from kit.session_rules import Table, shown

SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs"}
YES, NO = ("yes", "true"), ("no", "false")

_NUMBER = re.compile(r"[+-]?\d{1,9}(\.\d{1,9})?")
# Three digits behind a comma may be thousands.
_DECIMAL_COMMA = re.compile(r"[+-]?\d{1,9},(\d{1,2}|\d{4,9})")
_DAY = re.compile(r"\d{4}-\d\d-\d\d")


def csv_rows(
    text: str, subject: str, columns: Sequence[str], numbers: Sequence[str]
) -> tuple[list[Table], tuple[str, ...]]:
    """Return a table for each line under the heading, all with one list of issues, and remarks on how it was read.

    Parameters
    ----------
    text : str
        Separated by commas, semicolons or tabs, as its first line is; empty lines and cells are passed over.
    columns, numbers : sequence of str
        The names allowed in the heading, and those whose cells are numbers. `pasteurised` is yes or no, `open_since` a
        day.

    Raises
    ------
    CellarError
        If lines and columns cannot be told.

    Notes
    -----
    A comma in a number is read as its decimal sign where it can be nothing else: with just three digits behind it, it
    is refused. A line with another count of cells than the heading is refused too, for there a number with a comma may
    have been taken apart.
    """
    lines = _lines(text, subject)
    if not lines:
        raise CellarError(subject, ["found nothing; a line of column names and a line for each drink are needed"])
    (heading_line, heading), *rest = lines
    names = [cell.strip().casefold().replace(" ", "_") for cell in heading]
    if faults := _heading_faults(names, columns):
        raise CellarError(subject, [f"line {heading_line}: {fault}" for fault in faults])
    issues: list[tuple[int, str]] = []
    tables = [_row(line, cells, names, numbers, issues) for line, cells in rest]
    if not tables:
        raise CellarError(subject, [f"line {heading_line}: found column names alone; a line for each drink is needed"])
    commas = any(
        _has_decimal_comma(cell)
        for _, cells in rest
        for name, cell in zip(names, cells, strict=False)
        if name in numbers
    )
    return tables, ("Decimal commas were read as points.",) if commas else ()


def _lines(text: str, subject: str) -> list[tuple[int, list[str]]]:
    """Return the lines that are not empty, with their numbers."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    separator = max(SEPARATORS, key=first.count)
    if "\0" in text:
        raise CellarError(subject, ["found characters that are not text; save the list as CSV"])
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    lines = []
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                lines.append((reader.line_num, cells))
    except csv.Error as error:
        advice = 'a cell in quotes ends in a quote, and a quote within it is written ""'
        raise CellarError(subject, [f"line {reader.line_num}: not CSV ({error}); {advice}"]) from None
    return lines


def _heading_faults(names: Sequence[str], columns: Sequence[str]) -> list[str]:
    faults = []
    for at, name in enumerate(names, start=1):
        if name not in columns:
            near = difflib.get_close_matches(name[:60], columns, n=1, cutoff=0.5)
            advice = f"the nearest allowed is {near[0]}" if near else f"allowed are {', '.join(columns)}"
            faults.append(f"column {at} is headed {shown(name)}; {advice}")
        elif name in names[: at - 1]:
            faults.append(f"column {at} is headed {shown(name)} again; each is allowed once")
    if "name" not in names and len(faults) < len(names):
        faults.append('there is no column "name"; it is needed')
    if len(faults) == len(names):
        return [f"found {shown(', '.join(names))}; the first line holds the columns' names, of {', '.join(columns)}"]
    return faults


def _row(
    line: int, cells: Sequence[str], names: Sequence[str], numbers: Sequence[str], issues: list[tuple[int, str]]
) -> Table:
    table = Table({}, {("", 0, name): line for name in names}, issues)
    if len(cells) < len(names) or any(cell.strip() for cell in cells[len(names) :]):
        found = f"found {len(cells)} cells under {len(names)} column names"
        table.refuse("name", f"{found}; as many are allowed, and a cell with a comma or semicolon in it goes in quotes")
    entries = {name: _typed(table, name, cell.strip(), numbers) for name, cell in zip(names, cells, strict=False)}
    table.entries = {"name": ""} | {name: value for name, value in entries.items() if value not in ("", None)}
    return table


def _typed(table: Table, name: str, cell: str, numbers: Sequence[str]) -> Any:
    """Return the cell's value; None where it is empty, or refused."""
    if not cell:
        return None
    if name in numbers:
        number = _sign(cell).replace(",", ".") if _has_decimal_comma(cell) else _sign(cell)
        if _NUMBER.fullmatch(number):
            return float(number)
        table.refuse(name, f"found {shown(cell)}; a number alone, such as 16 or 15.5, is allowed")
    elif name == "pasteurised":
        if cell.casefold() in (*YES, *NO):
            return cell.casefold() in YES
        table.refuse(name, f"found {shown(cell)}; yes or no is allowed")
    elif name == "open_since":
        with contextlib.suppress(ValueError):
            if _DAY.fullmatch(cell):
                return datetime.date.fromisoformat(cell)
        table.refuse(name, f"found {shown(cell)}; a day of the calendar, such as 2026-12-05, is allowed")
    else:
        return cell
    return None


def _has_decimal_comma(cell: str) -> bool:
    return bool(_DECIMAL_COMMA.fullmatch(_sign(cell)))


def _sign(cell: str) -> str:
    return cell.strip().replace("\N{MINUS SIGN}", "-")
