"""What a taster says of a drink, both rounds together, and words in the order in which the form has them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache

from scanner.results.sitting import Note, TasterSitting

Rounds = tuple[Note | None, Note | None]
"""A drink's notes of round one and two."""


def notes_by_round(sitting: TasterSitting, coaster: int) -> Rounds:
    """Return a drink's notes of round one and two; None where missing, or not known to be of this drink."""
    first = None if sitting.notes_1 is None else sitting.notes_1[coaster - 1]
    if sitting.notes_2 is None or sitting.truth is None:
        return first, None
    return first, sitting.notes_2[sitting.truth.index(coaster)]


def notes_of_drink(sitting: TasterSitting, coaster: int) -> tuple[Note, ...]:
    """Return the notes of a drink that there are: none, one or two."""
    return tuple(note for note in notes_by_round(sitting, coaster) if note is not None)


def said(notes: Iterable[Note]) -> frozenset[str]:
    """Return the words of any of the notes, without those in doubt."""
    return frozenset().union(*[note.words - note.unsettled if note.unsettled else note.words for note in notes])


def mean_strengths(notes: Sequence[Note]) -> Mapping[str, float]:
    """Return the mean strength of each scale that any of the notes has a strength on."""
    if len(notes) == 2:
        first, second = notes[0].strengths, notes[1].strengths
        if first.keys() == second.keys():
            return {scale: (step + second[scale]) / 2 for scale, step in first.items()}
        return {**second, **{scale: (step + second.get(scale, step)) / 2 for scale, step in first.items()}}
    return dict(notes[0].strengths) if notes else {}


def in_form_order(words: Iterable[str], form: tuple[str, ...]) -> tuple[str, ...]:
    """Return words in the order of a form; words that it has not come last, by the alphabet."""
    words = tuple(words)
    if len(words) < 2:
        return words
    places = _places(form)
    try:
        return tuple(sorted(words, key=places.__getitem__))
    except KeyError:
        return tuple(sorted(words, key=lambda word: (places.get(word, len(form)), word)))


@lru_cache(maxsize=64)
def _places(form: tuple[str, ...]) -> Mapping[str, int]:
    return {word: place for place, word in enumerate(form)}
