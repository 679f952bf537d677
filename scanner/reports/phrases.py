"""Phrases that several reports print, in the words of one language."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from kit.wording import Wording
from scanner.chance import nearest_times
from scanner.results.luck import RARE


def times_in(chance: Fraction | float, words: Wording) -> str:
    """Say a probability as so many times in so many, as `facedown score` rounds it."""
    if chance <= RARE:
        return words("report.rarely") if chance > 0 else words("report.never")
    cases, of = nearest_times(Fraction(chance))
    if cases == 0:
        return words("report.never")
    if cases == of:
        return words("report.always") if chance == 1 else words("report.nearly_always")
    return words("report.once_in" if cases == 1 else "report.times_in", cases=cases, of=f"{of:,}")


def listed(items: Iterable[str], words: Wording) -> str:
    """Return items as a list in a line."""
    return words("frame.between_items").join(items)


def decimal(value: float, digits: int = 1) -> str:
    """Return a number as printed, with as many digits behind the point as it needs, and a true minus sign.

    >>> decimal(2.0), decimal(-0.25, 2), decimal(-0.01)
    ('2', '−0.25', '0')
    """
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text.replace("-", "−")
