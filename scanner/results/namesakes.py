"""Which names may be one name written twice: they are asked about, never taken for each other."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

LONG, LONGER = 4, 8
"""Near names of fewer than LONG letters differ by no letter, of LONGER or more by two at most, others by one."""


@lru_cache(maxsize=4096)
def plain(name: str) -> str:
    """Return a name without what is easily written in two ways: case, spaces, accents, punctuation.

    Examples
    --------
    >>> plain("  Inès  d'Arc ") == plain("ines-darc"), plain("Heron Marsh")
    (True, 'heronmarsh')
    """
    letters = unicodedata.normalize("NFKD", name.casefold())
    return "".join(letter for letter in letters if letter.isalnum())


def nearly_alike(first: str, second: str) -> bool:
    """Tell whether two names may be one: alike when plain, or a letter or two apart.

    Names with other digits are other names: two vintages, two batches.

    Examples
    --------
    >>> nearly_alike("Heron Marsh", "Heron  marhs"), nearly_alike("Batch 12", "Batch 13"), nearly_alike("Ana", "Ada")
    (True, False, False)
    """
    one, other = plain(first), plain(second)
    if one == other:
        return bool(one)
    longest = max(len(one), len(other))
    allowed = 0 if longest < LONG else 1 if longest < LONGER else 2
    # Two cheap bounds of the distance spare most pairs the rest.
    if abs(len(one) - len(other)) > allowed or len(set(one) ^ set(other)) > 2 * allowed:
        return False
    return re.findall(r"\d", one) == re.findall(r"\d", other) and edits(one, other) <= allowed


@lru_cache(maxsize=4096)
def edits(first: str, second: str) -> int:
    """Return how many letters to add, drop, change or swap with the next turn one text into the other.

    Notes
    -----
    The optimal string alignment distance: no letter is touched twice.

    Examples
    --------
    >>> edits("marsh", "marhs"), edits("kitten", "sitting"), edits("", "abc")
    (1, 3, 3)
    """
    before: list[int] = []
    last = list(range(len(second) + 1))
    for i, letter in enumerate(first, start=1):
        row = [i]
        for j, other in enumerate(second, start=1):
            best = min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (letter != other))
            if i > 1 and j > 1 and letter == second[j - 2] and first[i - 2] == other:
                best = min(best, before[j - 2] + 1)
            row.append(best)
        before, last = last, row
    return last[-1]
