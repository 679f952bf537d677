"""What a taster answers on a page: a plausible set of marks, blanks and changes of mind, drawn at random."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kit.sheet_layout import SheetLayout
from scanner.rehearsal.truth import Intent, Place

_ORDERED = ("match", "turned")


@dataclass(frozen=True, slots=True)
class Behaviour:
    """How a taster fills a page; the chances are per field, `stray` per box.

    `words` is the least and the greatest number of words for a glass; `blank` a field left empty; `take_back` an answer
    blacked out before the one that counts; `erased` one rubbed out before; `two` a second mark in a pick-one field;
    `repeat` (per page) claims made without care that each number is used once.
    """

    words: tuple[int, int] = (3, 8)
    blank: float = 0.03
    take_back: float = 0.03
    erased: float = 0.0
    stray: float = 0.0
    two: float = 0.0
    repeat: float = 0.1


def random_answers(
    layout: SheetLayout, rng: np.random.Generator, behaviour: Behaviour | None = None
) -> dict[Place, Intent]:
    """Return what a taster does at which boxes of this page; boxes not named stay empty."""
    behaviour = behaviour or Behaviour()
    options: dict[str, list[str]] = {}
    many = set()
    for box in layout.marks:
        options.setdefault(box.field, []).append(box.option)
        if box.pick == "many":
            many.add(box.field)
    chosen = _orders(options, rng, behaviour)
    intents: dict[Place, Intent] = {}
    for field, choices in options.items():
        answer = _words(choices, rng, behaviour) if field in many else chosen.get(field) or _one(choices, rng)
        intents |= _field(field, choices, answer, field in many, rng, behaviour)
    if behaviour.stray:
        for box in layout.marks:
            place = (box.field, box.option)
            if rng.random() < behaviour.stray and place not in intents:
                intents[place] = Intent.STRAY
    return intents


def _field(
    field: str, choices: list[str], answer: list[str], many: bool, rng: np.random.Generator, behaviour: Behaviour
) -> dict[Place, Intent]:
    """One field's intents: its answer, and what was first thought."""
    if rng.random() < behaviour.blank:
        return {}
    intents = {(field, option): Intent.MARK for option in answer}
    others = [option for option in choices if option not in answer]
    for intent, chance in (
        (Intent.TAKE_BACK, behaviour.take_back),
        (Intent.ERASED, behaviour.erased),
        (Intent.MARK, 0.0 if many else behaviour.two),
    ):
        if others and rng.random() < chance:
            intents[field, others.pop(int(rng.integers(len(others))))] = intent
    return intents


def _orders(options: dict[str, list[str]], rng: np.random.Generator, behaviour: Behaviour) -> dict[str, list[str]]:
    """The places' numbers: a permutation, but for the careless; what is turned over always is one."""
    chosen: dict[str, list[str]] = {}
    for kind in _ORDERED:
        places = [field for field in options if field.split(".")[0] == kind]
        careless = rng.random() < behaviour.repeat and kind == "match"
        if not places or careless:
            continue
        numbers = rng.permutation(options[places[0]])
        chosen |= {field: [str(number)] for field, number in zip(places, numbers, strict=False)}
    return chosen


def _words(choices: list[str], rng: np.random.Generator, behaviour: Behaviour) -> list[str]:
    low, high = behaviour.words
    count = min(int(rng.integers(low, high, endpoint=True)), len(choices))
    picked = set(rng.choice(len(choices), size=count, replace=False).tolist())
    return [option for index, option in enumerate(choices) if index in picked]


def _one(choices: list[str], rng: np.random.Generator) -> list[str]:
    """One option, the middle of a scale oftener than its ends."""
    middle = (len(choices) - 1) / 2
    place = round(float(np.clip(rng.normal(middle, max(0.5, len(choices) / 4)), 0, len(choices) - 1)))
    return [choices[place]]
