"""Columns of text that line up on a terminal."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence


def aligned(rows: Iterable[Sequence[str]]) -> str:
    """Return the rows with their columns lined up, two spaces apart and indented by two."""
    table = [tuple(row) for row in rows]
    widths = [max(map(columns, column)) for column in zip(*table, strict=True)]
    padded = ([cell + " " * (w - columns(cell)) for cell, w in zip(row, widths, strict=True)] for row in table)
    return "\n".join(f"  {'  '.join(row)}".rstrip() for row in padded)


def columns(text: str) -> int:
    """Return how many columns a terminal gives a text: two for Japanese characters, none for marks (UAX 11)."""
    return sum(
        0 if unicodedata.combining(character) else 1 + (unicodedata.east_asian_width(character) in "WF")
        for character in text
    )


def printable(text: str) -> str:
    """Return the text without what a terminal would act on: file names may hold anything."""
    return "".join(c if c.isprintable() or c == "\n" else "?" for c in text)
