"""How the rehearsal's reports put their figures: rates with their bounds, paragraphs."""

from __future__ import annotations

import textwrap
from typing import Any

from scanner.rehearsal.tally import Rate

WIDTH = 96


def silent_text(of: Rate) -> str:
    """Return a count of errors with its bounds as "1 in so many"; nothing where nothing was counted.

    >>> silent_text(Rate(0, 1340, 0.0, 0.002749))
    '0  (0 to 1 in 364)'
    """
    low = "0" if of.low == 0 else f"1 in {_whole(1 / of.low)}"
    return f"{of.count}  ({low} to 1 in {_whole(1 / of.high)})" if of.of else ""


def share_text(of: Rate) -> str:
    """Return a count as a share with its bounds in per cent; nothing where nothing was counted.

    >>> share_text(Rate(4, 1340, 0.000814, 0.007624))
    '4 = 0.30 %  (0.08 to 0.76 %)'
    """
    return f"{of.count} = {100 * of.share:.2f} %  ({100 * of.low:.2f} to {100 * of.high:.2f} %)" if of.of else ""


def rate_to_json(of: Rate) -> dict[str, Any]:
    """Return a rate with its bounds as a JSON object."""
    return {"count": of.count, "of": of.of, "low_95": of.low, "high_95": of.high}


def paragraph(text: str, first: int = 0, others: int = 0) -> str:
    """Return a text broken into lines, indented by so many columns: the first, and the others."""
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=" " * first,
        subsequent_indent=" " * others,
        break_on_hyphens=False,
        break_long_words=False,
    )


def _whole(number: float) -> str:
    return f"{number:,.0f}" if number >= 9.95 else f"{number:.1f}"
