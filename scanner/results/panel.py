"""Which words and scales the table shares: Krippendorff's alpha over the notes of one drink in one round."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scanner.results.agreement import Floats
from scanner.results.heard import Heard, Whole
from scanner.results.leave_one_out import alpha_interval

FEWEST_SAID = 5
"""How often a word must have been said, and not said, before its coefficient is given."""


@dataclass(frozen=True, slots=True)
class PanelWord:
    """How well the panel agrees on one word or scale.

    `said` of the `of` notes of drinks that two tasters or more noted have the word, or a strength. `alpha` is nominal
    for a word, ordinal for a scale; None where `too_little` says why. `interval` is what alpha's value is known to, by
    whole sittings; None where `interval_lacks` says why.
    """

    word: str
    said: int
    of: int
    alpha: float | None
    too_little: str | None
    interval: tuple[float, float] | None = None
    interval_lacks: str | None = None


def panel_words(heard: Heard) -> tuple[PanelWord, ...]:
    """Return how well the panel agrees on each word that a form offers, the best shared first."""
    columns = len(heard.words)
    notes = np.bincount(heard.unit, minlength=2 * heard.glasses)
    said, in_doubt = (
        _tally(heard.unit[note] * columns + word, (len(notes), columns)) for note, word in (heard.said, heard.doubted)
    )
    offered = np.zeros((len(heard.kits), columns))
    for row, kit in zip(offered, heard.kits, strict=True):
        row[[heard.words[word] for word in kit[0].words]] = 1.0
    kits = _kits(heard)
    of = offered[kits] * notes[:, None] - in_doubt
    found = [
        _panel_word(word, said[:, column], of[:, column], kits)
        for word, column in heard.words.items()
        if offered[:, column].any()
    ]
    return tuple(sorted(found, key=lambda one: -2.0 if one.alpha is None else one.alpha, reverse=True))


def panel_scales(heard: Heard) -> tuple[PanelWord, ...]:
    """Return how well the panel agrees on each scale."""
    kits = _kits(heard)
    found = []
    for (scale, most), strengths in zip(heard.steps.items(), heard.strengths.T.astype(np.intp), strict=True):
        given = strengths > 0
        counts = _tally(heard.unit[given] * most + strengths[given] - 1, (2 * heard.glasses, most))
        found.append(_panel_scale(scale, counts, kits))
    return tuple(found)


def _kits(heard: Heard) -> Whole:
    """Return the number of each unit's kit."""
    return np.repeat(np.arange(len(heard.kits)), [2 * kit[0].glasses for kit in heard.kits])


def _tally(cells: Whole, shape: tuple[int, int]) -> Floats:
    """Count how often each cell of a table, numbered along its rows, is named."""
    return np.bincount(cells, minlength=shape[0] * shape[1]).astype(float).reshape(shape)


def _panel_word(word: str, said: Floats, of: Floats, kits: Whole) -> PanelWord:
    shared = of >= 2
    times, notes = int(said[shared].sum()), int(of[shared].sum())
    if not notes:
        return PanelWord(word, times, notes, None, "no two tasters noted the same drink")
    if times < FEWEST_SAID:
        return PanelWord(word, times, notes, None, f"said {times} time{'s' * (times != 1)}; {FEWEST_SAID} are needed")
    if notes - times < FEWEST_SAID:
        return PanelWord(word, times, notes, None, "said of nearly every drink")
    counts, values = np.stack([of - said, said], axis=1), np.array([0.0, 1.0])
    spread = alpha_interval(counts, values, kits)
    return PanelWord(word, times, notes, spread.coefficient, None, spread.interval, spread.lacks)


def _panel_scale(scale: str, counts: Floats, kits: Whole) -> PanelWord:
    paired = int(counts[counts.sum(axis=1) >= 2].sum())
    values = np.arange(1.0, counts.shape[1] + 1)
    spread = alpha_interval(counts, values, kits, "ordinal")
    if spread.coefficient is None:
        why = "every strength is the same" if paired else "no two tasters gave the same drink a strength"
        return PanelWord(scale, paired, paired, None, why)
    return PanelWord(scale, paired, paired, spread.coefficient, None, spread.interval, spread.lacks)
