"""One taster's part in one sitting, as every result is computed from it. Values only; `gather.py` builds them."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field

from kit.session import Keys, Shuffle


@dataclass(frozen=True, slots=True)
class Drink:
    """A drink as it is known over many sittings: `key` is its id, or its name where it has none."""

    key: str
    name: str
    style: str | None = None
    abv_percent: float | None = None


@dataclass(frozen=True, slots=True)
class Note:
    """What one note form says of one glass: the words crossed, and the step crossed on each scale.

    A scale that was left blank, or is not settled, is not in `strengths`; `unsettled` names such words and scales.
    """

    words: frozenset[str] = frozenset()
    strengths: Mapping[str, int] = field(default_factory=dict)
    unsettled: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class TasterSitting:
    """One taster in one sitting of n glasses.

    Attributes
    ----------
    taster
        The taster's id, or the name where there is none: the same over many sittings.
    drinks
        n drinks, in coaster order 1 … n.
    claims, sure
        For each place A … the coaster number claimed and the word of certainty; None where blank or not settled.
    truth
        For each place the coaster number that stood there; None where that is not known, or not to be told yet.
    notes_1
        The notes of round one by coaster number 1 … n; None where the sheet is missing.
    notes_2
        The notes of round two by place A …; None where the sheet is missing.
    words
        Every word that the form offered, in the form's order; `scales` every scale with the number of its steps.
    unsettled
        The places whose claim a person has still to settle.
    waits
        Whether the truth is known, but not told before the claims are in and settled; it is None then.
    """

    kit: str
    title: str
    date: datetime.date
    taster: str
    name: str
    number: int
    shuffle: Shuffle
    keys: Keys
    drinks: tuple[Drink, ...]
    claims: tuple[int | None, ...]
    sure: tuple[str | None, ...]
    truth: tuple[int, ...] | None
    notes_1: tuple[Note, ...] | None
    notes_2: tuple[Note, ...] | None
    words: tuple[str, ...] = ()
    scales: Mapping[str, int] = field(default_factory=dict)
    unsettled: tuple[int, ...] = ()
    waits: bool = False

    @property
    def glasses(self) -> int:
        return len(self.drinks)

    @property
    def correct(self) -> int | None:
        """How many claims were right; None where the truth is not known or there are no claims to settle it by."""
        if self.truth is None or self.unsettled:
            return None
        return sum(claim == stood for claim, stood in zip(self.claims, self.truth, strict=True))

    @property
    def keys_are_designed(self) -> bool:
        """Whether the key was drawn by lot, so that the uniform law holds by construction."""
        return self.shuffle != "hand"
