"""All tasters' notes as arrays: of which glass, in which round, which words were said, and how strong all was found."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from scanner.results.agreement import Floats
from scanner.results.sitting import Note, TasterSitting

Whole = NDArray[np.intp]
Truths = NDArray[np.bool_]
Pairs = tuple[Whole, Whole]


@dataclass(frozen=True, slots=True)
class Heard:
    """The N notes of which it is known what drink they are of.

    Attributes
    ----------
    kits
        The sittings of each kit. Sittings and glasses are numbered through all of them.
    sitting, glass, unit
        (N,) arrays, for each note the number of its sitting, of its glass, and twice the latter, one more in round two.
    words
        Every word's column: first those that forms offer, in the forms' order.
    said, doubted
        The notes' numbers and the words' columns, of what was said and settled, and of what is in doubt.
    steps
        Every scale, with the most steps that it had in any kit.
    strengths
        (N, scales) array, nought where a note has no strength.
    """

    kits: Sequence[Sequence[TasterSitting]]
    sitting: Whole
    glass: Whole
    unit: Whole
    words: Mapping[str, int]
    said: Pairs
    doubted: Pairs
    steps: Mapping[str, int]
    strengths: Floats

    @property
    def glasses(self) -> int:
        """The number of glasses of all kits."""
        return sum(kit[0].glasses for kit in self.kits)


@dataclass(frozen=True, slots=True)
class Voices:
    """What each taster says of each glass, both rounds together: a row for each, in the order of glasses and tasters.

    `sitting` and `glass` are their numbers, `spoken` has a column for each word, `strengths` (means, NaN where there is
    none) for each scale.
    """

    sitting: Whole
    glass: Whole
    spoken: Truths
    strengths: Floats


def hear(kits: Sequence[Sequence[TasterSitting]]) -> Heard:
    """Return what was noted, from the sittings of each kit."""
    pages = list(_pages(kits))
    notes = list(chain.from_iterable([page for page, *_ in pages]))
    sizes = [len(page) for page, *_ in pages]
    coaster = np.fromiter(chain.from_iterable([coasters for _, coasters, *_ in pages]), np.intp, len(notes))
    first_glass, sitting, second = (
        np.repeat(np.array([page[column] for page in pages], np.intp), sizes) for column in (2, 3, 4)
    )
    glass = first_glass + coaster - 1
    said = [note.words - note.unsettled if note.unsettled else note.words for note in notes]
    forms = dict.fromkeys(kit[0].words for kit in kits)
    every = dict.fromkeys(chain(chain.from_iterable(forms), sorted(frozenset().union(*said))))
    words = {word: column for column, word in enumerate(every)}
    doubted = [note.unsettled & words.keys() if note.unsettled else note.unsettled for note in notes]
    steps: dict[str, int] = {}
    for kit in kits:
        for scale, most in kit[0].scales.items():
            steps[scale] = max(most, steps.get(scale, 0))
    strengths = np.zeros((len(notes), len(steps)))
    for column, scale in enumerate(steps):
        strengths[:, column] = [note.strengths.get(scale, 0) for note in notes]
    return Heard(
        kits, sitting, glass, 2 * glass + second, words, _pairs(said, words), _pairs(doubted, words), steps, strengths
    )


def voices_of(heard: Heard) -> Voices:
    """Return what each taster says of each glass that they noted."""
    sittings = sum(map(len, heard.kits))
    seats, voice = np.unique(heard.glass * sittings + heard.sitting, return_inverse=True)
    spoken = np.zeros((len(seats), len(heard.words)), bool)
    note, word = heard.said
    spoken[voice[note], word] = True
    strengths = np.full((len(seats), len(heard.steps)), np.nan)
    for column, given in enumerate(heard.strengths.T):
        count = np.bincount(voice, given > 0, minlength=len(seats))
        np.divide(np.bincount(voice, given, minlength=len(seats)), count, out=strengths[:, column], where=count > 0)
    return Voices(seats % sittings, seats // sittings, spoken, strengths)


def _pages(kits: Iterable[Sequence[TasterSitting]]) -> Iterator[tuple[Sequence[Note], Sequence[int], int, int, int]]:
    """Yield each round's notes and the coaster numbers they belong to; the first glass, the sitting, and the round."""
    first = glass = 0
    for kit in kits:
        for number, one in enumerate(kit, start=first):
            if one.notes_1 is not None:
                yield one.notes_1, range(1, one.glasses + 1), glass, number, 0
            if one.notes_2 is not None and one.truth is not None:
                yield one.notes_2, one.truth, glass, number, 1
        first, glass = first + len(kit), glass + kit[0].glasses


def _pairs(words: Sequence[AbstractSet[str]], columns: Mapping[str, int]) -> Pairs:
    sizes = [len(of_note) for of_note in words]
    of_word = np.fromiter(map(columns.__getitem__, chain.from_iterable(words)), np.intp, sum(sizes))
    return np.repeat(np.arange(len(words)), sizes), of_word
