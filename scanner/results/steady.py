"""Which words are a taster's steady words: those that come back for the same drink more often than by luck."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scanner.results.exact import chance_of_total, holm, overlap_law, wilson
from scanner.results.notes import pairs, why_not_compared
from scanner.results.sitting import TasterSitting

Verdict = Literal["steady", "noise", "too little to tell"]

SMALL = 0.05
NOISE_MARGIN = 0.25
"""A word is called noise once it cannot well come back so much more often than it turns up anyway."""
FEWEST = 10
"""How often a word must have been said in round one before it is called noise."""


@dataclass(frozen=True, slots=True)
class WordReturn:
    """How one word came back.

    Attributes
    ----------
    said, returned
        For how many drinks it was said in round one, and for how many of these again in round two.
    other_drinks, turned_up
        The drinks that it was not said of in round one, and for how many of these it was said in round two.
    chance
        The exact p-value of so many returns or more, given how often the word was said in each round of each sitting;
        None where no sitting could tell, the word having been said of all glasses, or of none.
    adjusted
        The same after Holm's correction over all words that could tell.
    """

    word: str
    said: int
    returned: int
    other_drinks: int
    turned_up: int
    chance: float | None
    adjusted: float | None

    @property
    def rate(self) -> float | None:
        """The rate of return."""
        return self.returned / self.said if self.said else None

    @property
    def base_rate(self) -> float | None:
        """How often it is said in round two of a drink that it was not said of in round one."""
        return self.turned_up / self.other_drinks if self.other_drinks else None

    @property
    def verdict(self) -> Verdict:
        """What can be said of the word."""
        if self.adjusted is not None and self.adjusted <= SMALL:
            return "steady"
        if self.said < FEWEST or self.base_rate is None or self.chance is None:
            return "too little to tell"
        at_best = wilson(self.returned, self.said)[1] - self.base_rate
        return "noise" if at_best < NOISE_MARGIN else "too little to tell"


def steady_words(sittings: Sequence[TasterSitting]) -> tuple[WordReturn, ...]:
    """Test for each word that a taster said whether it comes back; the surest first.

    Notes
    -----
    In a sitting of n glasses, with the word said of a glasses in round one and of b in round two, a key drawn by lot
    makes the number of returns hypergeometric; the laws of all sittings are convolved, an exact test stratified by
    sitting.
    """
    usable = [sitting for sitting in sittings if why_not_compared(sitting) is None]
    words = list(dict.fromkeys(word for sitting in usable for word in sitting.words))
    index = {word: i for i, word in enumerate(words)}
    # Per sitting and word: said in round one, in round two, in both.
    counts = np.zeros((len(usable), 3, len(words)), np.int64)
    for row, sitting in zip(counts, usable, strict=True):
        for first, second in pairs(sitting):
            before, after = first.words - first.unsettled, second.words - second.unsettled
            for kind, said in enumerate((before, after, before & after)):
                for word in said:
                    row[kind, index[word]] += 1
    glasses = np.array([sitting.glasses for sitting in usable], np.int64)
    tested = [_tested(glasses, counts[:, :, i]) for i in range(len(words))]
    adjusted = iter(holm([chance for chance in tested if chance is not None]))
    totals = counts.sum(axis=0)
    found = [
        WordReturn(
            word,
            int(totals[0, i]),
            int(totals[2, i]),
            int(glasses.sum() - totals[0, i]),
            int(totals[1, i] - totals[2, i]),
            tested[i],
            None if tested[i] is None else next(adjusted),
        )
        for i, word in enumerate(words)
    ]
    used = [word for word in found if word.said or word.turned_up]
    return tuple(sorted(used, key=lambda word: (2.0 if word.chance is None else word.chance, -word.said)))


def _tested(glasses: NDArray[np.int64], counts: NDArray[np.int64]) -> float | None:
    before, after, both = counts.T
    tells = (before > 0) & (before < glasses) & (after > 0) & (after < glasses)
    if not tells.any():
        return None
    cases = zip(glasses[tells].tolist(), before[tells].tolist(), after[tells].tolist(), strict=True)
    return chance_of_total([overlap_law(*case) for case in cases], int(both[tells].sum()))
