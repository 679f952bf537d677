"""How far apart drinks are by what is stated of them, and how hard that makes a flight."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import exp, log, log2, sqrt

from scanner.results.sitting import Drink

MIDDLING = 1.0
"""The distance of two drinks of which nothing is stated; a flight with all pairs at it has difficulty nought."""
MOST_STEPS = 4.0
"""Beyond so many steps a trait tells two drinks apart no better."""

ABV_STEP_PERCENT = 1.0
METER_VALUE_STEP = 4.0
ACIDITY_STEP = 0.3
"""What lies between the means of futsū and junmai, 1.18 and 1.50 (SOURCES, D)."""
POLISHING_STEP_PERCENT = 10.0
"""What lies between the legal grades, 50, 60 and 70 % (SOURCES, D)."""
NEW_BOTTLE_MONTHS = 12.0
FRESHLY_OPENED_DAYS = 14.0
STYLE_STEPS = 2.0
PASTEURISING_STEPS = 2.0
FAULT_STEPS = 4.0


@dataclass(frozen=True, slots=True)
class Traits:
    """What is stated of a drink, None where it is not.

    `meter_value` is the sake meter value, `acidity` in ml of 0.1 N sodium hydroxide to 10 ml, `polishing_percent` what
    is left of the rice. `fault` None is a sound drink, `open_days` nought a bottle opened on the day.
    """

    style: str | None = None
    abv_percent: float | None = None
    meter_value: float | None = None
    acidity: float | None = None
    polishing_percent: float | None = None
    pasteurised: bool | None = None
    age_months: float | None = None
    open_days: float = 0.0
    fault: str | None = None


def flight_difficulty(drinks: Sequence[Drink], weight: float = 1.0, known: Mapping[str, Traits] | None = None) -> float:
    """Return what a flight takes off a taster's ability θ: above nought for near drinks, below for wide ones.

    Parameters
    ----------
    drinks : sequence of Drink
        Two or more.
    weight : float
        What the difficulty is multiplied by. One is a guess made before any data; whoever uses the difficulty shrinks
        the weight to nought until sittings support more (`ability_course` does).
    known : mapping of str to Traits, optional
        More about the drinks, by `Drink.key`, as a cellar list states it.

    Raises
    ------
    ValueError
        If there are fewer than two drinks.

    Notes
    -----
    weight · ln(mean over all pairs of e^(1 − distance)): one less a soft minimum of the distances, so that the nearest
    pairs count most and the number of glasses does not matter. Alike in all that can be stated: 1. Nothing stated: 0.

    Examples
    --------
    >>> flight_difficulty([Drink("a", "A"), Drink("b", "B"), Drink("c", "C")])
    0.0
    >>> near = [Drink(key, key, "junmai", 15.0) for key in "abc"]
    >>> wide = [Drink("a", "A", "junmai", 15.0), Drink("b", "B", "koshu", 18.0), Drink("c", "C", "daiginjo", 16.5)]
    >>> round(flight_difficulty(near), 3), round(flight_difficulty(wide), 3)
    (0.155, -0.368)
    """
    if len(drinks) < 2:
        raise ValueError(f"a flight of {len(drinks)}: two drinks or more have a distance")
    traits = [(known or {}).get(drink.key) or traits_of(drink) for drink in drinks]
    nearness = [exp(MIDDLING - distance(one, other)) for one, other in combinations(traits, 2)]
    return weight * log(sum(nearness) / len(nearness))


def traits_of(drink: Drink) -> Traits:
    """Return what a session file states of a drink."""
    return Traits(style=drink.style, abv_percent=drink.abv_percent)


def distance(one: Traits, other: Traits) -> float:
    """Return how far apart two drinks are: nought for drinks alike in all, one for two of which nothing is known.

    Notes
    -----
    The root of the mean square of the steps over style, strength, meter value, acidity, polishing, pasteurising and
    age. A step is about the middling difference of two drinks of one flight: common practice, no published source, but
    for acidity and polishing. So a trait that either drink leaves unstated counts as one step. Styles that share no
    word are two steps apart, fewer by the share of words in common; ages a step for each doubling of a year and the
    months. A fault in one drink alone, or another fault, and the days that a bottle has been open, come on top.

    Examples
    --------
    >>> distance(Traits(), Traits())
    1.0
    >>> round(distance(Traits("junmai", 15.0), Traits("junmai ginjo", 15.0)), 3)
    0.926
    """
    graded = [_graded(one, other, steps) for steps in _GRADED]
    on_top = [
        _doublings(one.open_days, other.open_days, FRESHLY_OPENED_DAYS),
        0.0 if plain_style(one.fault) == plain_style(other.fault) else FAULT_STEPS,
    ]
    return sqrt(sum(min(steps, MOST_STEPS) ** 2 for steps in (*graded, *on_top)) / len(graded))


def plain_style(text: str | None) -> str:
    """Return a text without capitals, width and macrons: people write both ginjō and ginjo."""
    parted = unicodedata.normalize("NFKD", text or "").casefold().replace("\N{COMBINING MACRON}", "")
    return unicodedata.normalize("NFC", parted)


def _graded(one: Traits, other: Traits, steps: Callable[[Traits, Traits], float | None]) -> float:
    found = steps(one, other)
    return MIDDLING if found is None else found


def _style(one: Traits, other: Traits) -> float | None:
    words, others = _words(one.style), _words(other.style)
    if not words or not others:
        return None
    return STYLE_STEPS * (1 - len(words & others) / len(words | others))


def _pasteurising(one: Traits, other: Traits) -> float | None:
    if one.pasteurised is None or other.pasteurised is None:
        return None
    return 0.0 if one.pasteurised == other.pasteurised else PASTEURISING_STEPS


def _age(one: Traits, other: Traits) -> float | None:
    if one.age_months is None or other.age_months is None:
        return None
    return _doublings(one.age_months, other.age_months, NEW_BOTTLE_MONTHS)


def _doublings(one: float, other: float, beginning: float) -> float:
    return abs(log2((beginning + one) / (beginning + other)))


def _measured(name: str, step: float) -> Callable[[Traits, Traits], float | None]:
    def steps(one: Traits, other: Traits) -> float | None:
        value, other_value = getattr(one, name), getattr(other, name)
        return None if value is None or other_value is None else abs(value - other_value) / step

    return steps


_GRADED: tuple[Callable[[Traits, Traits], float | None], ...] = (
    _style,
    _measured("abv_percent", ABV_STEP_PERCENT),
    _measured("meter_value", METER_VALUE_STEP),
    _measured("acidity", ACIDITY_STEP),
    _measured("polishing_percent", POLISHING_STEP_PERCENT),
    _pasteurising,
    _age,
)


def _words(style: str | None) -> frozenset[str]:
    return frozenset(re.findall(r"\w+", plain_style(style)))
