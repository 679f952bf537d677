"""The same drink weeks later: whether a taster's notes of it are more alike than notes of other drinks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from scanner.results.agreement import jaccard
from scanner.results.exact import chance_of_total
from scanner.results.notes import in_order
from scanner.results.pairing import Pairing, Whole, pairing, similarities
from scanner.results.sitting import Drink, Note, TasterSitting
from scanner.results.voices import in_form_order, mean_strengths, notes_of_drink, said


@dataclass(frozen=True, slots=True)
class DrinkAgain:
    """A drink met again: the words said of it in either round, then and now; `days` lie between.

    `shifts` has each scale's mean strength now less the mean then, in steps.
    """

    drink: Drink
    kit_then: str
    kit_now: str
    days: int
    kept: tuple[str, ...]
    dropped: tuple[str, ...]
    new: tuple[str, ...]
    shifts: dict[str, float]
    jaccard: float | None


@dataclass(frozen=True, slots=True)
class Later:
    """All drinks met again, and the permutation test over all sittings in which some were.

    The p-values of sittings with designed keys and of those mixed by hand are None where there are none of the kind.
    """

    again: tuple[DrinkAgain, ...]
    sittings: int
    mean_jaccard: float | None
    chance_designed: float | None
    chance_by_hand: float | None

    @property
    def too_little(self) -> str | None:
        """Say what is missing where nothing can be told."""
        if not self.again:
            return "no drink was met again in a later sitting; give a drink the same id whenever it is poured"
        if self.chance_designed is None and self.chance_by_hand is None:
            return "no later sitting has both notes of round two that tell the glasses apart and what stood where"
        return None


@dataclass(frozen=True, slots=True)
class _Noted:
    """A drink of one sitting with what was said of it."""

    sitting: TasterSitting
    drink: Drink
    notes: tuple[Note, ...]
    words: frozenset[str]
    strengths: Mapping[str, float]


def later(sittings: Sequence[TasterSitting]) -> Later:
    """Compare the notes of each drink with those of the last earlier sitting in which the taster had it.

    Notes
    -----
    Of a later sitting the notes of round two count, whose places the key drew by lot: each is compared with both
    earlier notes of every drink met before, and the sum at the true places is weighed against all n! keys, as in one
    sitting. Each later sitting counts once, so their laws are convolved.
    """
    last: dict[str, _Noted] = {}
    again: list[DrinkAgain] = []
    weighed: dict[bool, list[Pairing]] = {True: [], False: []}
    for sitting in in_order(sittings):
        now = [found for coaster in range(1, sitting.glasses + 1) if (found := _noted(sitting, coaster)) is not None]
        met = {noted.drink.key: last[noted.drink.key] for noted in now if noted.drink.key in last}
        again += [_again(met[noted.drink.key], noted) for noted in now if noted.drink.key in met]
        if met and sitting.notes_2 is not None and sitting.truth is not None:
            paired = pairing(_alike(sitting, sitting.notes_2, met), sitting.truth)
            if paired.tells:
                weighed[sitting.keys_are_designed].append(paired)
        last |= {noted.drink.key: noted for noted in now}
    shares = [drink.jaccard for drink in again if drink.jaccard is not None]
    return Later(
        tuple(again),
        len(weighed[True]) + len(weighed[False]),
        sum(shares) / len(shares) if shares else None,
        _chance(weighed[True]),
        _chance(weighed[False]),
    )


def _noted(sitting: TasterSitting, coaster: int) -> _Noted | None:
    notes = notes_of_drink(sitting, coaster)
    return _Noted(sitting, sitting.drinks[coaster - 1], notes, said(notes), mean_strengths(notes)) if notes else None


def _alike(sitting: TasterSitting, second: Sequence[Note], met: Mapping[str, _Noted]) -> Whole:
    earlier = [
        (row, note) for row, drink in enumerate(sitting.drinks) if drink.key in met for note in met[drink.key].notes
    ]
    alike = np.zeros((sitting.glasses, sitting.glasses), np.int64)
    np.add.at(alike, [row for row, _ in earlier], similarities([note for _, note in earlier], second, sitting.scales))
    return alike


def _again(then: _Noted, now: _Noted) -> DrinkAgain:
    form = now.sitting.words
    return DrinkAgain(
        now.drink,
        then.sitting.kit,
        now.sitting.kit,
        (now.sitting.date - then.sitting.date).days,
        in_form_order(then.words & now.words, form),
        in_form_order(then.words - now.words, form),
        in_form_order(now.words - then.words, form),
        {scale: step - then.strengths[scale] for scale, step in now.strengths.items() if scale in then.strengths},
        jaccard(then.words, now.words),
    )


def _chance(found: Sequence[Pairing]) -> float | None:
    return chance_of_total([one.law for one in found], sum(one.score for one in found)) if found else None
