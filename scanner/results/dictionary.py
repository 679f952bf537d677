"""A taster's personal dictionary: where the table says one word, which word of theirs goes with it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scanner.results.exact import chance_of_total, holm, overlap_law
from scanner.results.sitting import TasterSitting
from scanner.results.table import FEWEST_TASTERS, by_kit
from scanner.results.voices import notes_of_drink, said

Truths = NDArray[np.bool_]

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
    tested = [
        entry
        for x in range(len(heard.words))
        if heard.table[:, x].sum() >= FEWEST_DRINKS
        for y in range(len(heard.words))
        if x != y and heard.own[:, y].sum() >= FEWEST_DRINKS and (entry := _entry(heard, x, y)) is not None
    ]
    adjusted = holm([entry.chance for entry in tested])
    supported = [replace(entry, adjusted=p) for entry, p in zip(tested, adjusted, strict=True) if p <= SMALL]
    return Dictionary(
        taster, name, len(heard.kit), len(tested), tuple(sorted(supported, key=lambda entry: entry.adjusted))
    )


def _entry(heard: _Heard, x: int, y: int) -> DictionaryEntry | None:
    """Test one pair of words; None where it came up too seldom, or no sitting can tell."""
    counts = ~heard.table[:, y]
    kits, table, own = heard.kit[counts], heard.table[counts, x], heard.own[counts, y]
    size = np.bincount(kits)
    with_table, with_own, both = (np.bincount(kits, weights=w).astype(int) for w in (table, own, table & own))
    tells = (with_table > 0) & (with_table < size) & (with_own > 0) & (with_own < size)
    if int(with_table[tells].sum()) < FEWEST_DRINKS or int(with_own[tells].sum()) < FEWEST_DRINKS:
        return None
    together, of = int(both[tells].sum()), int(with_table[tells].sum())
    elsewhere, drinks = int(with_own[tells].sum()) - together, int(size[tells].sum())
    expected = float((with_table[tells] * with_own[tells] / size[tells]).sum())
    laws = Counter(zip(size[tells].tolist(), with_table[tells].tolist(), with_own[tells].tolist(), strict=True))
    # A pair that came up no more often than by luck has no small p-value; its exact one is not needed.
    chance = 1.0 if together <= expected else chance_of_total([overlap_law(*law) for law in laws.elements()], together)
    said_too = int((table & heard.own[counts, x] & tells[kits]).sum())
    return DictionaryEntry(heard.words[x], heard.words[y], together, of, elsewhere, drinks - of, said_too, chance, 1.0)


def _heard(taster: str, sittings: Sequence[TasterSitting]) -> _Heard | None:
    words = tuple(dict.fromkeys(word for sitting in sittings for word in sitting.words))
    table, owns, kits = [], [], []
    for number, kit in enumerate(by_kit(sittings)):
        for coaster in range(1, kit[0].glasses + 1):
            voices = {one.taster: said(notes) for one in kit if (notes := notes_of_drink(one, coaster))}
            own = voices.pop(taster, None)
            if own is None or len(voices) < FEWEST_TASTERS - 1:
                continue
            table.append(_majority(voices.values(), words))
            owns.append([word in own for word in words])
            kits.append(number)
    if not kits:
        return None
    return _Heard(words, np.array(table, bool), np.array(owns, bool), np.array(kits, np.intp))


def _majority(voices: Collection[frozenset[str]], words: Sequence[str]) -> list[bool]:
    times = Counter(word for one in voices for word in one)
    return [2 * times[word] > len(voices) for word in words]
