"""Which reading of a sheet counts where there are several, and what of it is left for a person."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from scanner.pile import twice_marked
from scanner.reading import Mark, State

Box = tuple[str, str]
Marks = Mapping[Box, Mark]
"""The marks of a sheet by field and option; a box that is not in it is empty."""


@dataclass(frozen=True, slots=True)
class Standing:
    """One reading beside the others of its sheet: it counts, or it is superseded by the one at `superseded_by`.

    With `conflict` it has other answers than the one that counts. `left_over` is the number of things on it that only a
    person can settle.
    """

    superseded_by: int | None = None
    conflict: bool = False
    left_over: int = 0


def standings(readings: Sequence[Marks | None]) -> tuple[Standing, ...]:
    """Return how the readings of one sheet stand to each other, in the order in which they came.

    The one with the fewest doubtful marks counts, of several such the first. One with the same answers is superseded,
    whether an unmarked box is empty or taken back being no matter, and a doubtful box being no other answer. One with a
    box that is marked in it and clearly not in the one that counts, or the other way round, is in conflict: kept, for a
    person.

    Parameters
    ----------
    readings : sequence of Marks or None
        None where the picture could not be read.
    """
    read = [place for place, marks in enumerate(readings) if marks is not None]
    if not read:
        return tuple(Standing(left_over=1) for _ in readings)
    best = min(read, key=lambda place: (_doubts(readings[place] or {}), place))
    return tuple(_standing(place, marks, best, readings[best] or {}) for place, marks in enumerate(readings))


def left_over(marks: Marks) -> int:
    """Return how many boxes are doubtful, and how many pick-one fields marked twice."""
    return _doubts(marks) + len(twice_marked(tuple(marks.values())))


def _standing(place: int, marks: Marks | None, best: int, counting: Marks) -> Standing:
    if place == best:
        return Standing(left_over=left_over(counting))
    if marks is not None and _clash(marks, counting):
        return Standing(conflict=True, left_over=1)
    return Standing(superseded_by=best)


def _clash(one: Marks, other: Marks) -> bool:
    for box in one.keys() | other.keys():
        states = [marks[box].state if box in marks else State.EMPTY for marks in (one, other)]
        if State.DOUBTFUL not in states and (states[0] is State.MARKED) != (states[1] is State.MARKED):
            return True
    return False


def _doubts(marks: Marks) -> int:
    return sum(mark.state is State.DOUBTFUL for mark in marks.values())
