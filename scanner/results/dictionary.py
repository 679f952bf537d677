"""A taster's personal dictionary: where the table says one word, which word of theirs goes with it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from scanner.results.exact import chance_of_total, holm, overlap_law
from scanner.results.heard import Truths, hear, voices_of
from scanner.results.majority import FEWEST_TASTERS
from scanner.results.sitting import TasterSitting
from scanner.results.table import by_kit

SMALL = 0.05
FEWEST_DRINKS = 5
"""Of how many drinks the table must have said the one word, and the taster the other, to be looked at."""


@dataclass(frozen=True, slots=True)
class DictionaryEntry:
    """Where the others say `table_word` (and most of them not `own_word`), the taster tends to say `own_word`.

    Attributes
    ----------
    together, of
        Of how many of the drinks with the table's word the taster said the own word.
    elsewhere, other_drinks
        The same of the drinks of these sittings without the table's word.
    said_too
        Of how many of the `of` drinks the taster said the table's word too.
    chance, adjusted
        The exact p-value, and the same after Holm's correction over all pairs of words looked at.
    """

    table_word: str
    own_word: str
    together: int
    of: int
    elsewhere: int
    other_drinks: int
    said_too: int
    chance: float
    adjusted: float


@dataclass(frozen=True, slots=True)
class Dictionary:
    """A taster's dictionary; `looked_at` pairs of words were often enough to be tested, over `drinks` drinks."""

    taster: str
    name: str
    drinks: int
    looked_at: int
    entries: tuple[DictionaryEntry, ...]

    @property
    def too_little(self) -> str | None:
        """Say what is missing where nothing could be tested."""
        if not self.drinks:
            return f"no drink has notes of this taster and of {FEWEST_TASTERS - 1} others"
        if not self.looked_at:
            return (
                f"in {self.drinks} drinks no word of the table and no other word of this taster's came up "
                f"{FEWEST_DRINKS} times each, in sittings that could tell"
            )
        return None


@dataclass(frozen=True, slots=True)
class _Heard:
    """By drink (row) and word (column): what most others say, what the taster says; each row's sitting."""

    words: tuple[str, ...]
    table: Truths
    own: Truths
    kit: NDArray[np.intp]


def dictionary(taster: str, sittings: Sequence[TasterSitting]) -> Dictionary:
    """Find the words that a taster says where the others say something else.

    Parameters
    ----------
    taster : str
        The taster's key.
    sittings : sequence of TasterSitting
        Of everybody.

    Notes
    -----
    The table's word of a drink is what more than half of the others said of it. For a pair of words only drinks count
    of which the others' majority did not say the taster's word itself. In each sitting the drinks with the table's word
    and those with the taster's are as two sets drawn at random if the words have nothing to do with each other: the
    number in both is hypergeometric, and the laws of all sittings are convolved. Which pairs are looked at is decided
    from how often each word came up, never from how often they came up together, so Holm's correction holds over these.
    """
    heard = _heard(taster, sittings)
    name = next((one.name for one in reversed(sittings) if one.taster == taster), taster)
    if heard is None:
        return Dictionary(taster, name, 0, 0, ())
    own = np.flatnonzero(heard.own.sum(axis=0) >= FEWEST_DRINKS).tolist()
    found = {pair: entry for y in own for pair, entry in _entries(heard, y)}
    tested = [found[pair] for pair in sorted(found)]
    adjusted = holm([entry.chance for entry in tested])
    supported = [replace(entry, adjusted=p) for entry, p in zip(tested, adjusted, strict=True) if p <= SMALL]
    return Dictionary(
        taster, name, len(heard.kit), len(tested), tuple(sorted(supported, key=lambda entry: entry.adjusted))
    )


def _entries(heard: _Heard, y: int) -> Iterator[tuple[tuple[int, int], DictionaryEntry]]:
    """Test a taster's word y with each of the table's, x; yield (x, y) where they came up often enough to tell."""
    counts = ~heard.table[:, y]
    if not counts.any():
        return
    table, own = heard.table[counts], heard.own[counts]
    first = np.flatnonzero(np.diff(heard.kit[counts], prepend=-1))
    sums = partial(np.add.reduceat, indices=first, axis=0, dtype=np.intp)
    size, with_own = np.diff(first, append=len(own))[:, None], sums(own[:, y])[:, None]
    with_table, both, said_too = sums(table), sums(table & own[:, [y]]), sums(table & own)
    # By sitting (row) and word of the table (column).
    tells = (with_table > 0) & (with_table < size) & (with_own > 0) & (with_own < size)
    drinks, of, of_own, together, too, expected = (
        (of_sitting * tells).sum(axis=0).tolist()
        for of_sitting in (size, with_table, with_own, both, said_too, with_table * with_own / size)
    )
    often = heard.table.sum(axis=0) >= FEWEST_DRINKS
    for x in np.flatnonzero(often & (np.minimum(of, of_own) >= FEWEST_DRINKS)).tolist():
        if x == y:
            continue
        chance = 1.0
        # A pair that came up no more often than by luck has no small p-value; its exact one is not needed.
        if together[x] > expected[x]:
            here = tells[:, x]
            laws = Counter(
                zip(*(one[here].tolist() for one in (size[:, 0], with_table[:, x], with_own[:, 0])), strict=True)
            )
            chance = chance_of_total([overlap_law(*law) for law in laws.elements()], together[x])
        elsewhere, other_drinks = of_own[x] - together[x], drinks[x] - of[x]
        words = heard.words[x], heard.words[y]
        yield (x, y), DictionaryEntry(*words, together[x], of[x], elsewhere, other_drinks, too[x], chance, 1.0)


def _heard(taster: str, sittings: Sequence[TasterSitting]) -> _Heard | None:
    heard = hear(by_kit(sittings))
    voices = voices_of(heard)
    words = tuple(dict.fromkeys(chain.from_iterable(kit[0].words for kit in heard.kits)))
    spoken = voices.spoken[:, [heard.words[word] for word in words]]
    is_own = np.array([one.taster == taster for one in chain.from_iterable(heard.kits)], bool)[voices.sitting]
    others = np.bincount(voices.glass[~is_own], minlength=heard.glasses)
    rows = np.flatnonzero(is_own & (others[voices.glass] >= FEWEST_TASTERS - 1))
    if not len(rows):
        return None
    row, word = np.nonzero(spoken & ~is_own[:, None])
    cells = voices.glass[row] * len(words) + word
    times = np.bincount(cells, minlength=heard.glasses * len(words)).reshape(heard.glasses, len(words))
    glasses = voices.glass[rows]
    kits = np.repeat(np.arange(len(heard.kits)), [kit[0].glasses for kit in heard.kits])
    return _Heard(words, 2 * times[glasses] > others[glasses, None], spoken[rows], kits[glasses])
