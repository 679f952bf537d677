"""CSV that a spreadsheet opens without running anything in it.

References
----------
.. [1] OWASP, CSV Injection: cells that begin with = + - @, a tab, carriage return or line feed, or the full-width forms
   of these signs, are taken for formulas; each field is quoted, and such a cell gets a single quote before it.
.. [2] RFC 4180, Common Format and MIME Type for CSV Files.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Sequence
from fractions import Fraction
from io import StringIO

Cell = str | int | float | Fraction | bool | None

FORMULA_STARTS = tuple("=+-@\t\r\n＝＋－＠")
_BYTE_ORDER_MARK = "\ufeff"
"""By it spreadsheets know that the file is UTF-8."""


def csv_bytes(heading: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """Return a table as CSV [2], UTF-8: numbers as numbers, `true` and `false`, an empty cell for None.

    Raises
    ------
    ValueError
        If a number is not finite, or a row has more or fewer cells than the heading.
    """
    text = StringIO()
    text.write(_BYTE_ORDER_MARK)
    writer = csv.writer(text, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    for row in (heading, *rows):
        if len(row) != len(heading):
            raise ValueError(f"a row has {len(row)} cells, the heading {len(heading)}")
        writer.writerow([safe_cell(cell) for cell in row])
    return text.getvalue().encode()


def safe_cell(cell: Cell) -> str | int | float:
    """Return what is written for a cell: a text that begins as a formula does gets a quote before it [1].

    >>> safe_cell("=1+2"), safe_cell(-3), safe_cell("pear")
    ("'=1+2", -3, 'pear')
    """
    match cell:
        case None:
            return ""
        case bool():
            return "true" if cell else "false"
        case Fraction():
            return float(cell)
        case int() | float():
            if not math.isfinite(cell):
                raise ValueError(f"{cell} is no number to write down")
            return cell
    # Blanks before a formula are looked past: some programs do so too.
    return f"'{cell}" if cell.lstrip(" ").startswith(FORMULA_STARTS) else cell
