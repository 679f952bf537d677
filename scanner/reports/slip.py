"""What a taster's slip says of one sitting, as values: who went where, both rounds' notes, what to practise next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from scanner.reports.practice import Practice, practice
from scanner.results.luck import Luck, luck_of_taster
from scanner.results.majority import Minority
from scanner.results.sitting import Drink, Note, TasterSitting
from scanner.results.table import TableDrink, table
from scanner.results.voices import in_form_order
from scanner.score import TasterScore

PLACES = "ABCDEFGH"
State = Literal["scored", "so_far", "no_claims", "no_match", "sealed", "waits", "unknown"]
"""`so_far`: some claims are not settled. `waits`: nor is a claim of somebody who shares the key."""


@dataclass(frozen=True, slots=True)
class PlaceClaim:
    """One place of round two: what was claimed, and what stood there as far as it may be shown."""

    place: str
    claimed: int | None
    stood: int | None
    settled: bool
    sure: str | None

    @property
    def right(self) -> bool | None:
        """None where it cannot be told."""
        return None if self.stood is None else self.claimed == self.stood


@dataclass(frozen=True, slots=True)
class SlipDrink:
    """One drink in both rounds; `place` and `second` are None where they are not known, or may not be shown.

    `kept`, `dropped`, `new` are words in the form's order, empty unless there are both notes.
    """

    drink: Drink
    coaster: int
    place: str | None
    first: Note | None
    second: Note | None
    kept: tuple[str, ...]
    dropped: tuple[str, ...]
    new: tuple[str, ...]
    minority: Minority | None
    table: TableDrink | None

    @property
    def notes(self) -> tuple[Note, ...]:
        """The notes that there are: none, one or two."""
        return tuple(note for note in (self.first, self.second) if note is not None)


@dataclass(frozen=True, slots=True)
class Slip:
    """One taster's slip. `luck` is None where the sitting does not count; `correct` where nothing can be counted."""

    sitting: TasterSitting
    state: State
    places: tuple[PlaceClaim, ...]
    drinks: tuple[SlipDrink, ...]
    correct: int | None
    luck: Luck | None
    practice: Practice

    @property
    def chance_at_least(self) -> Fraction | None:
        """How often a guesser with the same claims does as well or better."""
        return None if self.luck is None else Fraction(self.luck.chance_at_least)


@dataclass(frozen=True, slots=True)
class SlipTable:
    """What the slips of one sitting share: the table's words, made once for all its tasters."""

    drinks: Mapping[int, TableDrink]
    minorities: Mapping[tuple[int, str], Minority]


def slip_table(sittings: Sequence[TasterSitting]) -> SlipTable:
    """Return what the table says of each drink of one sitting, from all its tasters; by coaster and taster's key."""
    found = table(sittings)
    drinks = dict(enumerate(found.drinks, start=1))
    return SlipTable(
        drinks, {(coaster, one.taster): one for coaster, drink in drinks.items() for one in drink.minorities}
    )


def slip(
    sitting: TasterSitting,
    others: Sequence[TasterSitting],
    at_table: SlipTable,
    score: TasterScore | None,
) -> Slip:
    """Return a taster's slip.

    Parameters
    ----------
    sitting
        The taster's sitting.
    others
        All sittings of the same taster, this one among them: what to practise follows from all of them.
    at_table
        What the table says, as `slip_table` has it.
    score
        As `facedown score` has it; None of a typed result.
    """
    stood = sitting.truth or (None,) * sitting.glasses
    places = tuple(
        PlaceClaim(PLACES[index], sitting.claims[index], stood[index], index not in sitting.unsettled, sure)
        for index, sure in enumerate(sitting.sure)
    )
    luck = luck_of_taster([sitting])
    counts = luck if luck.sittings else None
    drinks = tuple(_drink(sitting, coaster, stood, at_table) for coaster in range(1, sitting.glasses + 1))
    state = _state(sitting, score)
    can_count = state in ("scored", "so_far", "no_claims")
    correct = sitting.correct if score is None else score.score.correct
    return Slip(
        sitting,
        state,
        places,
        drinks,
        correct if can_count else None,
        counts,
        practice(sitting, others),
    )


def _state(sitting: TasterSitting, score: TasterScore | None) -> State:
    if score is not None and not score.has_match:
        return "no_match"
    if score is not None and score.truth.sealed:
        return "sealed"
    if sitting.waits:
        return "so_far" if sitting.unsettled and sitting.keys != "shared" else "waits"
    if sitting.truth is None:
        return "unknown"
    return "scored" if any(claim is not None for claim in sitting.claims) else "no_claims"


def _drink(sitting: TasterSitting, coaster: int, stood: Sequence[int | None], at_table: SlipTable) -> SlipDrink:
    place = stood.index(coaster) if coaster in stood else None
    first = None if sitting.notes_1 is None else sitting.notes_1[coaster - 1]
    second = None if sitting.notes_2 is None or place is None else sitting.notes_2[place]
    before = frozenset[str]() if first is None else first.words - first.unsettled
    after = frozenset[str]() if second is None else second.words - second.unsettled
    both = first is not None and second is not None
    kinds = (before & after, before - after, after - before) if both else ()
    kept, dropped, new = (in_form_order(kind, sitting.words) for kind in kinds or ((), (), ()))
    return SlipDrink(
        sitting.drinks[coaster - 1],
        coaster,
        None if place is None else PLACES[place],
        first,
        second,
        kept,
        dropped,
        new,
        at_table.minorities.get((coaster, sitting.taster)),
        at_table.drinks.get(coaster),
    )
