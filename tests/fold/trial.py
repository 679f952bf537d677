"""What every attack makes of one folded key sheet, and counts of it with exact bounds and tests."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.stats import binomtest

from kit.session import Paper
from scanner.bounds import interval
from scanner.code_readers import READERS, readers_in_use
from tests.fold.attacks import (
    digits_by_ocr,
    digits_by_template,
    has_ocr,
    order_between_scramble,
    order_by_template,
    texts_of_codes,
)
from tests.fold.key_papers import PX_PER_MM, Order, code_of, printed
from tests.fold.packet import (
    FACES,
    Levels,
    Packet,
    fold_by_hand,
    folded,
    photographed,
    seen_against_a_lamp,
    seen_from,
)

Light = Literal["reflected", "lamp"]
LIGHTS: tuple[Light, ...] = ("reflected", "lamp")
PHOTOGRAPHS = (1, 16)
"""How many photographs of each face an attacker averages."""


PAPERS_IN_ORDER: tuple[Paper, ...] = ("A4", "Letter")
BETWEEN_SCRAMBLE = "order between the scramble"
ATTACKS = (
    *(f"one digit, {seen}" for seen in ("both faces", *(f"{face} face" for face in FACES))),
    *(f"order, {seen}" for seen in ("both faces", *(f"{face} face" for face in FACES))),
    "one digit by OCR",
    *(f"the code by {reader}" for reader in READERS),
    BETWEEN_SCRAMBLE,
)


@dataclass(frozen=True, slots=True)
class Try:
    """One attack on one sheet, by whose chance of being right it is judged."""

    light: Light
    photographs: int
    attack: str
    chance: float
    is_right: bool


@dataclass(frozen=True, slots=True)
class Tally:
    """An attack on many sheets: none of its tries depends on another, so that the binomial law is exact."""

    light: Light
    photographs: int
    attack: str
    chance: float
    right: int
    tried: int

    @property
    def is_claimed(self) -> bool:
        """Whether the sheet is to tell no more than chance here: issue 4 names template, OCR and reflected light."""
        return self.light == "reflected" and self.attack != BETWEEN_SCRAMBLE

    @property
    def p_value(self) -> float:
        """How likely chance alone is to be right as often or more often."""
        if self.chance == 0.0:
            return 0.0 if self.right else 1.0
        return float(binomtest(self.right, self.tried, self.chance, alternative="greater").pvalue)

    @property
    def bounds(self) -> tuple[float, float]:
        """The exact 95 % bounds of the share that is right."""
        return interval(self.right, self.tried)


def tries_on(
    sheet: int, glasses: int, paper: Paper, *, covered: bool = True, lights: Iterable[Light] = LIGHTS
) -> Iterator[Try]:
    """Print, fold and photograph key sheet number `sheet`, and yield what comes of every attack on it."""
    rng = np.random.default_rng((sheet, glasses, PAPERS_IN_ORDER.index(paper), covered))
    order = tuple(int(number) + 1 for number in rng.permutation(glasses))
    key_paper = printed(order, paper, sheet, covered=covered)
    packet = folded(key_paper.ink, key_paper.paper, PX_PER_MM, fold_by_hand(rng))
    for light in lights:
        for photographs in PHOTOGRAPHS:
            pictures = _pictures(packet, light, photographs, rng)
            for attack, chance, is_right in _attacks(pictures, order, sheet, glasses, paper):
                yield Try(light, photographs, attack, chance, is_right)


def tallied(tries: Iterable[Try]) -> list[Tally]:
    """Count the tries of each attack."""
    right: Counter[tuple[Light, int, str, float]] = Counter()
    tried: Counter[tuple[Light, int, str, float]] = Counter()
    for one in tries:
        kind = one.light, one.photographs, one.attack, one.chance
        tried[kind] += 1
        right[kind] += one.is_right
    return [Tally(*kind, right[kind], tried[kind]) for kind in sorted(tried, key=lambda kind: _rank(*kind[:3]))]


def _rank(light: Light, photographs: int, attack: str) -> tuple[int, int, int]:
    return LIGHTS.index(light), photographs, ATTACKS.index(attack)


def _pictures(packet: Packet, light: Light, photographs: int, rng: np.random.Generator) -> list[Levels]:
    look = seen_from if light == "reflected" else seen_against_a_lamp
    return [photographed(look(packet, face), photographs, rng) for face in FACES]


def _attacks(
    pictures: list[Levels], order: Order, sheet: int, glasses: int, paper: Paper
) -> Iterator[tuple[str, float, bool]]:
    """Yield each attack with its chance of being right and whether it was."""
    # One digit of a sheet, each place in turn: the digits of one key depend on each other.
    place, by_chance = sheet % glasses, 1 / math.factorial(glasses)
    views = {"both faces": pictures, **{f"{face} face": [one] for face, one in zip(FACES, pictures, strict=True)}}
    for seen, shown in views.items():
        is_right = digits_by_template(shown, glasses, paper)[place] == order[place]
        yield f"one digit, {seen}", 1 / glasses, is_right
        yield f"order, {seen}", by_chance, order_by_template(shown, glasses, paper) == order
    if has_ocr():
        # The OCR program answers at few places: the first of them after the one whose turn it is.
        read = digits_by_ocr(pictures, glasses, paper)
        answered = [at for at in (*range(place, glasses), *range(place)) if read[at] is not None]
        for at in answered[:1]:
            yield "one digit by OCR", 1 / glasses, read[at] == order[at]
    for reader in readers_in_use():
        if reader.in_use:
            is_read = code_of(order, sheet) in texts_of_codes(pictures, glasses, paper, reader.name)
            yield f"the code by {reader.name}", 0.0, is_read
    yield BETWEEN_SCRAMBLE, by_chance, order_between_scramble(pictures[:1], glasses, paper) == order
