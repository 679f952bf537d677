"""What luck alone explains: the exact law of the number correct, in one sitting and over many, by taster and table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import factorial, fsum, lcm
from typing import Any

import numpy as np

from scanner.chance import one_time_in
from scanner.results.counted import Counted, Counts, counted, counts_of, right_in
from scanner.results.sitting import TasterSitting
from scanner.table_law import table_law

MOST_EXACT = 30
"""Of more sittings the laws are summed in floats, which agree with the exact sums to 1e-10."""
RARE = 1e-12

Chances = tuple[Fraction | float, ...]
"""Item k is the probability of k correct."""


@dataclass(frozen=True, slots=True)
class Luck:
    """A total over sittings, and how a guesser with the same claims does.

    `chances` is the law of a guesser's total, in fractions if `exact`; `expected` its mean. `by_hand` counts the
    sittings whose glasses were mixed by hand: there the law is an assumption about people's mixing.
    """

    sittings: int
    by_hand: int
    correct: int
    of: int
    expected: Fraction
    chances: Chances

    @property
    def exact(self) -> bool:
        return isinstance(self.chances[0], Fraction)

    @property
    def chance_at_least(self) -> Fraction | float:
        """How often a guesser has as many right or more: the exact p-value of the total."""
        return tail(self.chances, self.correct)


def luck_of_taster(sittings: Sequence[TasterSitting]) -> Luck:
    """Return what a guesser with a taster's claims would have had, over all their sittings that count.

    Whoever drew the keys, and however the table shared them, each of one taster's keys is uniform over the n! orders
    and independent of those of other sittings: so the laws of the sittings are convolved. No sitting gives a law that
    is nought for certain.
    """
    chosen = counted(sittings)
    return _luck(chosen.sittings, [law_of_counts(counts) for counts in chosen.counts])


def luck_of_table(sittings: Sequence[TasterSitting], tasters_of: Mapping[str, int]) -> Luck:
    """Return what a table of guessers with the same claims would have had, over all sittings that count.

    Parameters
    ----------
    sittings : sequence of TasterSitting
        Of any tasters and kits.
    tasters_of : mapping of kit to int
        How many tasters each kit was printed for: a balanced set is drawn for all of them.

    Notes
    -----
    Within one kit the law is that of its own, shared or balanced keys (`scanner.table_law`); kits are independent. In
    the result `sittings` and `by_hand` count kits.
    """
    by_kit: dict[str, list[TasterSitting]] = {}
    for sitting in counted(sittings).sittings:
        by_kit.setdefault(sitting.kit, []).append(sitting)
    laws: list[Chances] = []
    for kit, table in by_kit.items():
        claims = {sitting.number: sitting.claims for sitting in table}
        if len(claims) != len(table):
            raise ValueError(f"kit {kit}: a taster is given twice")
        laws.append(table_law(table[0].keys, claims, table[0].glasses, tasters_of[kit]).chances)
    luck = _luck([sitting for table in by_kit.values() for sitting in table], laws)
    by_hand = sum(not table[0].keys_are_designed for table in by_kit.values())
    return Luck(len(by_kit), by_hand, luck.correct, luck.of, luck.expected, luck.chances)


def law_of_counts(counts: Counts) -> Chances:
    """Return the law of one sitting, in fractions."""
    keys = sum(counts)
    return tuple(Fraction(count, keys) for count in counts)


def law_of_total(laws: Sequence[Chances], most_exact: int = MOST_EXACT) -> Chances:
    """Return the law of the sum of independent counts.

    Fractions where there are at most `most_exact` laws, all in fractions; floats else. The floats are sums of products
    of positive numbers, so that nothing cancels: the relative error grows by about 1e-16 a law.
    """
    if len(laws) > most_exact or not all(isinstance(law[0], Fraction) for law in laws):
        total = np.ones(1)
        for law in laws:
            total = np.convolve(total, np.array(law, float))
        return tuple(total.tolist())
    cases = np.array([1], object)
    of = 1
    for law in laws:
        shares = [Fraction(chance) for chance in law]
        parts = lcm(*(share.denominator for share in shares))
        cases = np.convolve(cases, np.array([int(share * parts) for share in shares], object))
        of *= parts
    return tuple(Fraction(int(case), of) for case in cases)


def tail(chances: Chances, correct: int) -> Fraction | float:
    """Return the probability of `correct` or more.

    Raises
    ------
    ValueError
        If so many cannot be.
    """
    if not 0 <= correct < len(chances):
        raise ValueError(f"{correct} correct: allowed are 0 to {len(chances) - 1}")
    if isinstance(chances[0], Fraction):
        return sum((Fraction(chance) for chance in chances[correct:]), Fraction(0))
    return min(1.0, fsum(chances[correct:]))


def times(chance: Fraction | float) -> str:
    """Say a probability for people, however small."""
    return one_time_in(Fraction(chance)) if chance > RARE else "less than 1 time in 1,000,000,000,000"


def sentences(luck: Luck, guesser: str = "a guesser") -> tuple[str, ...]:
    """Say in plain words what luck explains."""
    if luck.sittings == 0:
        return (
            "Too little to tell: there is no sitting yet with settled claims of which it is known what stood where.",
        )
    over = "one sitting" if luck.sittings == 1 else f"{luck.sittings} sittings"
    said = [
        f"{luck.correct} of {luck.of} right in {over}. With the same claims {guesser} has "
        f"{float(luck.expected):.3g} right on average, and {luck.correct} or more {times(luck.chance_at_least)}."
    ]
    if luck.by_hand:
        mixed = "It was" if luck.sittings == 1 else f"{luck.by_hand} of them were"
        said.append(
            f"{mixed} mixed by hand. That every order was equally likely is an assumption about people's mixing there."
        )
    return tuple(said)


def to_json(luck: Luck) -> dict[str, Any]:
    """Return the result as a JSON object; the law as floats."""
    return {
        "sittings": luck.sittings,
        "mixed_by_hand": luck.by_hand,
        "correct": luck.correct,
        "of": luck.of,
        "expected_by_guessing": float(luck.expected),
        "chance_at_least": float(luck.chance_at_least),
        "exact": luck.exact,
        "law": [float(chance) for chance in luck.chances],
    }


def sitting_to_json(sitting: TasterSitting) -> dict[str, Any]:
    """Return one sitting that counts with its own chance."""
    law = law_of_counts(counts_of(sitting))
    return {
        "kit": sitting.kit,
        "date": sitting.date.isoformat(),
        "title": sitting.title,
        "shuffle": sitting.shuffle,
        "correct": right_in(sitting),
        "of": sitting.glasses,
        "chance_at_least": float(tail(law, right_in(sitting))),
    }


def _luck(sittings: Sequence[TasterSitting], laws: Sequence[Chances]) -> Luck:
    chosen = Counted(tuple(sittings), ())
    return Luck(
        sittings=len(chosen.sittings),
        by_hand=sum(not sitting.keys_are_designed for sitting in chosen.sittings),
        correct=sum(chosen.correct),
        of=chosen.of,
        expected=sum((_mean(counts) for counts in chosen.counts), Fraction(0)),
        chances=law_of_total(laws),
    )


def _mean(counts: Counts) -> Fraction:
    keys = factorial(len(counts) - 1)
    return Fraction(sum(k * count for k, count in enumerate(counts)), keys)
