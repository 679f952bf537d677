"""CSV that a spreadsheet opens without running anything."""

from __future__ import annotations

import csv
import io
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanner.reports.csv_safe import Cell, csv_bytes

# OWASP, "CSV Injection": cells beginning with any of these may be run as formulas.
DANGEROUS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def read(octets: bytes) -> list[list[str]]:
    """Return the cells as Python's own reader of CSV finds them."""
    return list(csv.reader(io.StringIO(octets.decode("utf-8-sig"), newline="")))


@given(st.lists(st.text(st.characters(codec="utf-8", exclude_characters="\0")), min_size=1, max_size=6))
def test_no_text_begins_as_a_formula_and_none_is_lost(cells: list[str]) -> None:
    [_, found] = read(csv_bytes([f"c{n}" for n in range(len(cells))], [cells]))
    for given_text, cell in zip(cells, found, strict=True):
        assert not cell.startswith(DANGEROUS)
        assert cell in (given_text, f"'{given_text}")


@pytest.mark.parametrize("start", DANGEROUS)
@pytest.mark.parametrize("blanks", ["", "  "])
def test_each_dangerous_beginning_is_quoted(start: str, blanks: str) -> None:
    [_, [cell]] = read(csv_bytes(["name"], [[f"{blanks}{start}SUM(A1:A9)"]]))
    assert cell == f"'{blanks}{start}SUM(A1:A9)"


def test_a_heading_is_no_formula_either() -> None:
    [[cell]] = read(csv_bytes(["=now()"], []))
    assert cell == "'=now()"


@given(st.one_of(st.integers(-(10**9), 10**9), st.floats(allow_nan=False, allow_infinity=False)))
def test_numbers_stay_numbers_negative_ones_too(number: float) -> None:
    octets = csv_bytes(["n"], [[number]])
    assert b'"' not in octets.splitlines()[1]
    assert float(read(octets)[1][0]) == number


def test_fractions_truths_and_nothing_have_their_own_cells() -> None:
    row: list[Cell] = [Fraction(1, 4), True, False, None]
    assert read(csv_bytes(["a", "b", "c", "d"], [row]))[1] == ["0.25", "true", "false", ""]


@pytest.mark.parametrize("number", [float("nan"), float("inf")])
def test_what_is_no_number_is_refused(number: float) -> None:
    with pytest.raises(ValueError, match="no number"):
        csv_bytes(["n"], [[number]])


def test_a_row_of_another_length_is_refused() -> None:
    with pytest.raises(ValueError, match="2 cells, the heading 1"):
        csv_bytes(["n"], [[1, 2]])


def test_lines_end_as_rfc_4180_has_them_and_the_file_says_that_it_is_utf_8() -> None:
    octets = csv_bytes(["name"], [["結城 ゆき"]])
    assert octets.startswith(b"\xef\xbb\xbf")
    assert octets.endswith('"結城 ゆき"\r\n'.encode())
