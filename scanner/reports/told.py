"""Dates, evidence and numbers of sittings as the reports on tables and progress print them."""

from __future__ import annotations

import datetime

from kit.sheets import written_date
from kit.wording import Wording
from scanner.results.evidence import Word

PAST_TELLING, LEAST_TELLING = 1e6, 0.001
MOST_KITS = 6


def day_text(iso_date: str, words: Wording) -> str:
    """Return a date as it is printed in the language."""
    return written_date(datetime.date.fromisoformat(iso_date), words)


def evidence_text(e_value: float | None) -> str:
    """Return an e-value with as many figures as mean something; None is one past any float.

    >>> evidence_text(0.034), evidence_text(5.25), evidence_text(123.4), evidence_text(None), evidence_text(1e-5)
    ('0.034', '5.2', '123', '> 1,000,000', '< 0.001')
    """
    if e_value is not None and e_value < LEAST_TELLING:
        return f"< {LEAST_TELLING:g}"
    if e_value is None or e_value > PAST_TELLING:
        return f"> {PAST_TELLING:,.0f}"
    return f"{e_value:,.0f}" if e_value >= 10 else f"{e_value:.2g}"


def evidence_word(word: Word, words: Wording) -> str:
    """Return what evidence comes to, as it is printed."""
    return words(f"progress_report.{word.replace(' ', '_')}")


def shortened(kits: tuple[str, ...], most: int = MOST_KITS) -> tuple[str, ...]:
    """Return kits, or seal codes, as they have room at the foot of a page: of many the first and the last.

    >>> shortened(("A", "B")), shortened(tuple("ABCDEFGH"))
    (('A', 'B'), ('A', '…', 'H'))
    """
    return kits if len(kits) <= most else (kits[0], "…", kits[-1])


def sittings_text(count: int, words: Wording) -> str:
    """Return a number of sittings with its noun."""
    return words("progress_report.one_sitting") if count == 1 else words("progress_report.sittings", count=count)
