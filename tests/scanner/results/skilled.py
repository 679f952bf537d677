"""Tasters of known ability, made by hand or by lot, for the tests and simulations of skill."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from itertools import permutations
from typing import Any

import numpy as np

from scanner.chance import counts_correct
from scanner.results.ability import Floats, tilted
from scanner.results.counted import Counts
from scanner.results.sitting import Drink, TasterSitting

FIRST_DAY = datetime.date(2026, 1, 5)
FLIGHT = tuple(
    Drink(name.lower().replace(" ", "-"), name)
    for name in ("Heron Marsh", "Slow Tide", "Lamp Hill", "Reed Bell", "Grey Gate", "Salt Wren", "Far Barn", "Low Sun")
)

LAWS: dict[int, Counts] = {glasses: counts_correct(range(1, glasses + 1), glasses) for glasses in range(2, 9)}
"""The law of guessing without repeats, by the number of glasses."""


def sitting(
    claims: Sequence[int | None], truth: Sequence[int] | None, day: int = 0, sure: str | None = None, **other: Any
) -> TasterSitting:
    """Return a sitting of Ines with these claims."""
    given: dict[str, Any] = {
        "kit": f"K{day:05}",
        "title": "Saltmarsh Sake Circle",
        "date": FIRST_DAY + datetime.timedelta(days=day),
        "taster": "ines",
        "name": "Ines",
        "number": 1,
        "shuffle": "host",
        "keys": "own",
        "drinks": FLIGHT[: len(claims)],
        "claims": tuple(claims),
        "sure": tuple(None if claim is None else sure for claim in claims),
        "truth": None if truth is None else tuple(truth),
        "notes_1": None,
        "notes_2": None,
    }
    return TasterSitting(**{**given, **other})


def sitting_with(correct: int, glasses: int, day: int = 0, **other: Any) -> TasterSitting:
    """Return a sitting of claims without repeats of which so many are right."""
    claims = range(1, glasses + 1)
    for truth in permutations(claims):
        if sum(map(int.__eq__, claims, truth)) == correct:
            return sitting(tuple(claims), truth, day, **other)
    raise ValueError(f"{correct} of {glasses} cannot be")


def draw_correct(thetas: Floats, glasses: int, chance: np.random.Generator) -> Floats:
    """Draw the number correct for each θ of an array, by the Mallows model."""
    flat = tilted(np.tile(np.array(LAWS[glasses], float), (thetas.size, 1)), thetas.ravel())
    below = np.cumsum(flat, axis=1)
    drawn: Floats = (chance.random(thetas.size)[:, None] > below).sum(axis=1).reshape(thetas.shape)
    return np.minimum(drawn, glasses)
