"""One thing to practise next, by a simple rule that is stated: the first of these that holds.

1. Over all sittings a pair of drinks was taken for one another twice or more: taste these two side by side.
2. In this sitting a drink was taken for another: these two side by side; the surest claim comes first.
3. No drink has a word or a strength to compare: note some in both rounds.
4. A strength moved two steps or more between the rounds: that scale, on that drink; the furthest comes first.
5. Fewer than half of a drink's words came back: note that drink twice; the one with the least share comes first.
6. All was right and came back: pour a flight nearer together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from kit.wording import Wording
from scanner.results.confusions import confusions
from scanner.results.notes import DrinkNotes, notes_of_sitting, why_not_compared
from scanner.results.sitting import TasterSitting

Kind = Literal["nothing", "pair", "claim", "notes", "scale", "words", "nearer"]

CERTAINTIES = (None, "guess", "leaning", "sure")
FAR_STEPS = 2
FEW_WORDS = 0.5


@dataclass(frozen=True, slots=True)
class Practice:
    """What to practise, with what the sentence needs: the drinks' names, a scale, how often or how far."""

    kind: Kind
    drinks: tuple[str, ...] = ()
    scale: str | None = None
    times: int = 0

    def sentence(self, words: Wording, scale_name: str | None = None) -> str:
        """Say it; `scale_name` is the scale's printed name."""
        one, other = (*self.drinks, "", "")[:2]
        return words(
            f"slip.practise_{self.kind}", one=one, other=other, scale=scale_name or self.scale, times=self.times
        )


def practice(sitting: TasterSitting, sittings: Sequence[TasterSitting]) -> Practice:
    """Return what to practise after a sitting; `sittings` are all of the same taster, that one among them.

    Where it is not known what stood where, or may not be shown, there is nothing yet.
    """
    if sitting.truth is None:
        return Practice("nothing")
    pair = confusions(sittings).next_pair
    if pair is not None:
        return Practice("pair", pair.names, times=pair.times)
    wrong = [
        (CERTAINTIES.index(sure), -index, stood, claim)
        for index, (claim, stood, sure) in enumerate(zip(sitting.claims, sitting.truth, sitting.sure, strict=True))
        if claim is not None and claim != stood
    ]
    if wrong:
        _, _, stood, claim = max(wrong)
        return Practice("claim", (sitting.drinks[stood - 1].name, sitting.drinks[claim - 1].name))
    if why_not_compared(sitting) is not None:
        return Practice("nothing")
    drinks = notes_of_sitting(sitting).drinks
    if not any(drink.shifts or drink.jaccard is not None for drink in drinks):
        return Practice("notes")
    return _steps(drinks) or _words(drinks) or Practice("nearer")


def _steps(drinks: Sequence[DrinkNotes]) -> Practice | None:
    moved = [(abs(steps), drink, scale) for drink in drinks for scale, steps in drink.shifts.items()]
    far = max(moved, key=lambda one: one[0], default=None)
    if far is None or far[0] < FAR_STEPS:
        return None
    return Practice("scale", (far[1].drink.name,), far[2], far[0])


def _words(drinks: Sequence[DrinkNotes]) -> Practice | None:
    shares = [(drink.jaccard, drink) for drink in drinks if drink.jaccard is not None]
    least = min(shares, key=lambda one: one[0], default=None)
    if least is None or least[0] >= FEW_WORDS:
        return None
    return Practice("words", (least[1].drink.name,))
