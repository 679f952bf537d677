"""Tasters with notes, made by hand or by lot, for the tests of what notes and tables say."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from scanner.results.sitting import Drink, Note, TasterSitting
from tests.scanner.results.skilled import FLIGHT, sitting

WORDS = ("pear", "melon", "rose", "rice", "malt", "clove", "butter", "smoke")
SCALES: Mapping[str, int] = {"sweetness": 5, "finish": 5}


def note(words: str = "", **strengths: int) -> Note:
    """Return a note from its words, with a space between."""
    return Note(frozenset(words.split()), strengths)


def noted(
    first: Sequence[Note] | None,
    second: Sequence[Note] | None,
    truth: Sequence[int] | None,
    day: int = 0,
    claims: Sequence[int | None] | None = None,
    drinks: Sequence[Drink] | None = None,
    **other: Any,
) -> TasterSitting:
    """Return a sitting with these notes; the claims are blank if none are given."""
    glasses = len(first or second or truth or ())
    given: dict[str, Any] = {
        "notes_1": None if first is None else tuple(first),
        "notes_2": None if second is None else tuple(second),
        "drinks": tuple(drinks or FLIGHT[:glasses]),
        "words": WORDS,
        "scales": SCALES,
    }
    return sitting(tuple(claims or (None,) * glasses), truth, day, **{**given, **other})


def drawn_note(
    core: Sequence[str],
    chance: np.random.Generator,
    habit: float = 0.8,
    words: Sequence[str] = WORDS,
    scales: Mapping[str, int] = SCALES,
) -> Note:
    """Draw a note: each word of the core with chance `habit`, each other one 1 time in 20; strengths at random."""
    said = [word for word in words if chance.random() < (habit if word in core else 0.05)]
    strengths = {scale: int(chance.integers(2, steps)) for scale, steps in scales.items()}
    return Note(frozenset(said), strengths)


def drawn(
    cores: Sequence[Sequence[str]],
    chance: np.random.Generator,
    day: int = 0,
    habit: float = 0.8,
    words: Sequence[str] = WORDS,
    scales: Mapping[str, int] = SCALES,
) -> TasterSitting:
    """Draw a sitting whose drinks have these words to them, the claims at random."""
    truth = (chance.permutation(len(cores)) + 1).tolist()
    first = [drawn_note(core, chance, habit, words, scales) for core in cores]
    second = [drawn_note(cores[coaster - 1], chance, habit, words, scales) for coaster in truth]
    claims = (chance.permutation(len(cores)) + 1).tolist()
    return noted(first, second, truth, day, claims, words=tuple(words), scales=scales)
