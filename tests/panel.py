"""An invented panel: what its tasters would note and claim, for the samples."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kit.keys import OpenedKey
from kit.lexicon import Lexicon
from kit.sheet_layout import SheetLayout
from scanner.rehearsal.hand import Intent

Intents = dict[tuple[str, str], Intent]

PROFILES: dict[str, tuple[dict[str, float], tuple[float, ...]]] = {
    "heron-marsh": ({"apple": 0.8, "melon": 0.6, "banana": 0.5, "blossom": 0.4}, (4.4, 3.2, 2.0, 2.1, 1.5, 2.4)),
    "first-frost": ({"pear": 0.8, "apple": 0.4, "rose": 0.4, "violet": 0.3}, (3.8, 2.5, 2.2, 1.8, 1.4, 2.8)),
    "gull-rock": ({"rice": 0.8, "koji": 0.5, "malt": 0.3, "hay": 0.3}, (2.2, 2.6, 3.0, 3.4, 2.8, 3.0)),
    "tidal-flat": ({"yoghurt": 0.7, "mushroom": 0.5, "cheese": 0.4, "chestnut": 0.4}, (2.9, 2.0, 4.4, 4.0, 3.8, 4.0)),
    "old-jetty": ({"caramel": 0.9, "almond": 0.6, "smoke": 0.4, "honey": 0.4}, (4.0, 4.2, 3.2, 4.3, 3.0, 4.6)),
}
"""Drink → how likely each word is to a steady taster, and where it lies on each scale."""


@dataclass(frozen=True, slots=True)
class Panellist:
    """A taster's steadiness, 0 … 1: how surely the same words and strengths come back, and the right claims."""

    steadiness: float


def intents_for(
    layout: SheetLayout,
    pours: tuple[str, ...],
    key: OpenedKey,
    lexicon: Lexicon,
    panellist: Panellist,
    rng: np.random.Generator,
) -> Intents:
    """Return what a panellist marks on one sheet; `pours` are the drinks' ids in coaster order."""
    if layout.role == "notes-1":
        return _notes({str(number): pour for number, pour in enumerate(pours, 1)}, lexicon, panellist, rng)
    if layout.role == "notes-2":
        return _notes({place: pours[number - 1] for place, number in key.places.items()}, lexicon, panellist, rng)
    return _claims(key, panellist, rng)


def _notes(glasses: dict[str, str], lexicon: Lexicon, panellist: Panellist, rng: np.random.Generator) -> Intents:
    intents: Intents = {}
    words = [word for family in lexicon.families for word in family.words]
    for glass, pour in glasses.items():
        likely, strengths = PROFILES[pour]
        for word in words:
            chance = likely.get(word, 0.0) * (0.4 + 0.6 * panellist.steadiness) + 0.06 * (1 - panellist.steadiness)
            if rng.random() < chance:
                intents[f"words.{glass}", word] = Intent.MARK
        for scale, strength in zip(lexicon.scales, strengths, strict=True):
            step = int(np.clip(round(strength + rng.normal(0, 1.1 - panellist.steadiness)), 1, scale.steps))
            intents[f"scale.{scale.id}.{glass}", str(step)] = Intent.MARK
    return intents


def _claims(key: OpenedKey, panellist: Panellist, rng: np.random.Generator) -> Intents:
    numbers = list(key.places.values())
    for _ in range(int(rng.binomial(4, min(1.0, 1.1 - panellist.steadiness)))):
        first, second = rng.choice(len(numbers), 2, replace=False)
        numbers[first], numbers[second] = numbers[second], numbers[first]
    intents: Intents = {}
    for place, number in zip(key.places, numbers, strict=True):
        intents[f"match.{place}", str(number)] = Intent.MARK
        right = key.places[place] == number
        sureness = rng.choice(["guess", "leaning", "sure"], p=[0.15, 0.35, 0.5] if right else [0.45, 0.4, 0.15])
        intents[f"sure.{place}", str(sureness)] = Intent.MARK
    return intents
