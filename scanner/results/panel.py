"""Which words and scales the table shares: Krippendorff's alpha over the notes of one drink in one round."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from scanner.results.agreement import Floats, alpha_of_counts
from scanner.results.sitting import Note, TasterSitting
from scanner.results.voices import notes_by_round

FEWEST_SAID = 5
"""How often a word must have been said, and not said, before its coefficient is given."""

Unit = tuple[tuple[str, ...], tuple[Note, ...]]
"""The words that a form offered, and the tasters' notes of one drink in one round."""


@dataclass(frozen=True, slots=True)
class PanelWord:
    """How well the panel agrees on one word or scale.

    `said` of the `of` notes of drinks that two tasters or more noted have the word, or a strength. `alpha` is nominal
    for a word, ordinal for a scale; None where `too_little` says why.
    """

    word: str
    said: int
    of: int
    alpha: float | None
    too_little: str | None


def units_of(kits: Sequence[Sequence[TasterSitting]]) -> list[Unit]:
    """Return the notes of all tasters for each drink, round and kit."""
    return list(_units(kits))


def panel_words(units: Sequence[Unit]) -> tuple[PanelWord, ...]:
    """Return how well the panel agrees on each word, the best shared first."""
    index = {word: i for i, word in enumerate(dict.fromkeys(word for form, _ in units for word in form))}
    spoken, doubted = [], []
    for row, (_, notes) in enumerate(units):
        first = row * len(index)
        for note in notes:
            spoken += [first + index[word] for word in note.words - note.unsettled]
            doubted += [first + index[word] for word in note.unsettled if word in index]
    shape = (len(units), len(index))
    said, of = _tally(spoken, shape), -_tally(doubted, shape)
    columns = {form: [index[word] for word in form] for form in dict.fromkeys(form for form, _ in units)}
    for line, (form, notes) in zip(of, units, strict=True):
        line[columns[form]] += len(notes)
    found = [_panel_word(word, said[:, i], of[:, i]) for word, i in index.items()]
    return tuple(sorted(found, key=lambda one: -2.0 if one.alpha is None else one.alpha, reverse=True))


def panel_scales(units: Sequence[Unit], steps: dict[str, int]) -> tuple[PanelWord, ...]:
    """Return how well the panel agrees on each scale; `steps` has the steps of each."""
    strengths: dict[str, list[int]] = {scale: [] for scale in steps}
    for row, (_, notes) in enumerate(units):
        for note in notes:
            for scale, step in note.strengths.items():
                strengths[scale].append(row * steps[scale] + step - 1)
    return tuple(_panel_scale(scale, _tally(strengths[scale], (len(units), most))) for scale, most in steps.items())


def _units(kits: Sequence[Sequence[TasterSitting]]) -> Iterator[Unit]:
    for kit in kits:
        for coaster in range(1, kit[0].glasses + 1):
            for one_round in zip(*(notes_by_round(sitting, coaster) for sitting in kit), strict=True):
                notes = tuple(note for note in one_round if note is not None)
                if notes:
                    yield kit[0].words, notes


def _tally(cells: Sequence[int], shape: tuple[int, int]) -> Floats:
    """Count how often each cell of a table, numbered along its rows, is named."""
    return np.bincount(np.array(cells, np.intp), minlength=shape[0] * shape[1]).astype(float).reshape(shape)


def _panel_word(word: str, said: Floats, of: Floats) -> PanelWord:
    shared = of >= 2
    times, notes = int(said[shared].sum()), int(of[shared].sum())
    too_little, alpha = None, None
    if not notes:
        too_little = "no two tasters noted the same drink"
    elif times < FEWEST_SAID:
        too_little = f"said {times} time{'s' * (times != 1)}; {FEWEST_SAID} are needed"
    elif notes - times < FEWEST_SAID:
        too_little = "said of nearly every drink"
    else:
        alpha = alpha_of_counts(np.stack([of - said, said], axis=1), np.array([0.0, 1.0]))
    return PanelWord(word, times, notes, alpha, too_little)


def _panel_scale(scale: str, counts: Floats) -> PanelWord:
    paired = int(counts[counts.sum(axis=1) >= 2].sum())
    alpha = alpha_of_counts(counts, np.arange(1.0, counts.shape[1] + 1), "ordinal")
    why = "every strength is the same" if paired else "no two tasters gave the same drink a strength"
    return PanelWord(scale, paired, paired, alpha, why if alpha is None else None)
