"""How alike two notes are, and whether notes of the same drink are more alike than luck would have them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from scanner.results.exact import Law, law_of
from scanner.results.sitting import Note

Whole = NDArray[np.int64]

WORD_POINTS = 2
"""What a word in both notes counts, in steps of a scale.

Fixed before any data: on simulated tasters of five kinds, steadier in words or in strengths, it was never the worst.
"""


@dataclass(frozen=True, slots=True)
class Pairing:
    """The notes of one sitting, paired as the key says, against all n! ways to pair them.

    Attributes
    ----------
    score
        The similarity of each glass's two notes, summed.
    law
        The scores of all n! pairings, equally likely for a guesser.
    best
        How many pairings are the most alike.
    right_by_notes
        How many glasses such a pairing gets right, on average over the best.
    """

    glasses: int
    score: int
    law: Law
    best: int
    right_by_notes: Fraction

    @property
    def chance_at_least(self) -> Fraction:
        """The share of all pairings that are as alike or more so: the exact permutation p-value."""
        return Fraction(self.law.at_least(self.score), self.law.cases)

    @property
    def least_chance(self) -> Fraction:
        """The least p-value that these notes could have given."""
        return Fraction(self.law.weights[-1], self.law.cases)

    @property
    def tells(self) -> bool:
        """Whether the notes tell the glasses apart at all."""
        return self.law.decides


def similarity(first: Note, second: Note, scales: Mapping[str, int]) -> int:
    """Return how alike two notes are, in points: the higher, the more alike.

    Two points for each word in both notes; less a point for each step that the strengths of a scale are apart, where a
    strength left blank in either note counts as half the scale apart, steps // 2. What is not settled counts as left
    blank. `scales` has the steps of each scale.

    Examples
    --------
    >>> one = Note(frozenset({"pear", "rice"}), {"weight": 2, "finish": 5})
    >>> other = Note(frozenset({"pear", "malt"}), {"weight": 3})
    >>> similarity(one, other, {"weight": 5, "finish": 5})
    -1
    """
    shared = len((first.words - first.unsettled) & (second.words - second.unsettled))
    apart = sum(
        abs(first.strengths[scale] - second.strengths[scale])
        if scale in first.strengths and scale in second.strengths
        else steps // 2
        for scale, steps in scales.items()
    )
    return WORD_POINTS * shared - apart


def similarities(firsts: Sequence[Note], seconds: Sequence[Note], scales: Mapping[str, int]) -> Whole:
    """Return `similarity` of each first note with each second one, an array (firsts, seconds)."""
    said = [note.words - note.unsettled for note in seconds]
    shared = np.array([[len(words & other) for other in said] for words in (n.words - n.unsettled for n in firsts)])
    strength, other_strength = _strengths(firsts, scales), _strengths(seconds, scales)
    apart = np.abs(strength[:, None] - other_strength)
    blank = (strength[:, None] == 0) | (other_strength == 0)
    half = np.array([steps // 2 for steps in scales.values()], np.int64)
    found: Whole = WORD_POINTS * shared - np.where(blank, half, apart).sum(axis=2)
    return found


def pairing(alike: Whole, truth: Sequence[int]) -> Pairing:
    """Weigh the true pairing against all others.

    Parameters
    ----------
    alike : (n, n) array of int
        Entry (i, j): how alike the note of coaster i + 1 and the note at place j are.
    truth : sequence of int, length n
        The coaster number at each place.

    Notes
    -----
    Given the notes, a key drawn by lot makes every pairing equally likely if the notes have nothing to do with the
    drinks; so P(p ≤ α) ≤ α for every α, whatever the similarity is.
    """
    n = len(truth)
    orders = _orders(n)
    true = np.array(truth) - 1
    scores = alike[orders, np.arange(n)].sum(axis=1)
    best = orders[scores == scores.max()]
    return Pairing(
        n,
        int(alike[true, np.arange(n)].sum()),
        law_of(scores),
        len(best),
        Fraction(int((best == true).sum()), len(best)),
    )


@cache
def _orders(glasses: int) -> Whole:
    return np.array(list(permutations(range(glasses))), np.int64)


def _strengths(notes: Sequence[Note], scales: Mapping[str, int]) -> Whole:
    return np.array([[note.strengths.get(scale, 0) for scale in scales] for note in notes], np.int64)
