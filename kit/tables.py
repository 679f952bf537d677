"""Text for a terminal: columns that line up, numbers with their nouns, nothing that a terminal acts on."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence


def aligned(rows: Iterable[Sequence[str]]) -> str:
    """Return the rows with their columns lined up, two spaces apart and indented by two."""
    table = [tuple(row) for row in rows]
    if "".join(map("".join, table)).isascii():  # thousands of rows of an archive pass through here
        template = "  " + "  ".join(f"{{:<{max(map(len, cells))}}}" for cells in zip(*table, strict=True))
        return "\n".join([template.format(*row).rstrip() for row in table])
    widths = [max(map(columns, cells)) for cells in zip(*table, strict=True)]
    return "\n".join([("  " + "  ".join(map(_padded, row, widths))).rstrip() for row in table])


def _padded(cell: str, width: int) -> str:
    return cell.ljust(width) if cell.isascii() else cell + " " * (width - columns(cell))


def columns(text: str) -> int:
    """Return how many columns a terminal gives a text: two for Japanese characters, none for marks (UAX 11)."""
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(character) else 1 + (unicodedata.east_asian_width(character) in "WF")
        for character in text
    )


def printable(text: str) -> str:
    """Return the text without what a terminal would act on: file names may hold anything."""
    return "\n".join(
        line if line.isprintable() else "".join(c if c.isprintable() else "?" for c in line)
        for line in text.split("\n")
    )


def counted(number: int, noun: str, plural: str = "") -> str:
    """Return a number with its noun.

    >>> counted(2, "box", "boxes")
    '2 boxes'
    """
    return f"{number:,} {noun if number == 1 else plural or noun + 's'}"
