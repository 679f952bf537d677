"""The made-up cellars and tasters on which suggestions are tried: nothing in here follows the model used inside.

Inside, a taster makes one choice among the n! ways to match, by squared distances that weigh all stated traits alike.
These do otherwise:

- *percepts*: the two notes of a drink are points in the taster's own space, each off by normal noise, and the claims
  are the matching with the least sum of squared distances (Thurstone's model for the percepts, L. L. Thurstone,
  Psychol. Rev. 34 (1927) 273–286 [memory]);
- *one after another*: the taster takes the places from the left and chooses among the numbers left, with a chance in
  proportion to e^(−b · squared city-block distance) (the choice axiom, R. D. Luce, Individual Choice Behavior, 1959
  [memory]);
- *percepts and slips*, kept: the first, but one sitting in eight is claimed by lot.

Each taster has a space of their own: every trait is stretched by a lognormal factor (σ 0.5), and a quarter of the
variance is of what no list states. A fifth of all traits is left out of the list.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from scanner.results.ability import Floats
from scanner.results.cellar import Bottle
from scanner.results.matching_model import Whole, orders

BOTTLES = 24
UNSTATED = 0.2
TRAITS = ("abv_percent", "meter_value", "acidity", "polishing_percent", "pasteurised", "age_months")
STYLES = (
    "junmai",
    "junmai ginjo",
    "junmai daiginjo",
    "daiginjo",
    "ginjo",
    "honjozo",
    "kimoto junmai",
    "koshu",
    "nigori junmai",
)
VAST = (
    ("Foam", "sparkling nigori", 8.0, -35.0, 2.8, 70.0, False, 4.0),
    ("Noble", "kijoshu", 16.5, -40.0, 2.4, 70.0, True, 36.0),
    ("Amber", "koshu", 18.0, -8.0, 2.3, 80.0, True, 144.0),
    ("Strong", "yamahai genshu", 19.5, 7.0, 2.2, 65.0, True, 24.0),
    ("Silk", "daiginjo", 15.5, 4.0, 1.1, 35.0, True, 6.0),
    ("Plain", "futsu", 14.0, -1.0, 1.1, 75.0, True, 8.0),
)
"""Drinks of a cellar for beginners: name, style, strength, meter value, acidity, polishing, pasteurised, months.

Invented, in the range of what the trade has: common practice, no published source.
"""

Play = Callable[[Floats, int], Whole]
"""Returns so many sittings' claims, (…, runs, n), by drinks' points, (…, n, traits): what each of n was taken for."""
Cellar = Callable[[np.random.Generator], list[Bottle]]


def percepts(noise: float, chance: np.random.Generator) -> Play:
    """Return a taster whose percepts are noisy and whose matching is the best to be had."""

    def play(points: Floats, runs: int) -> Whole:
        *flights, n, traits = points.shape
        shape = (*flights, runs, n, traits)
        first, second = (points[..., None, :, :] + chance.normal(0, noise, shape) for _ in range(2))
        # The squares of either note add the same to every way of matching: the products decide.
        alike = second @ first.swapaxes(-1, -2)
        sums = sum(alike[..., place, orders(n)[:, place]] for place in range(n))
        claims: Whole = orders(n)[np.argmax(sums, axis=-1)]
        return claims

    return play


def one_after_another(sharp: float, chance: np.random.Generator) -> Play:
    """Return a taster who chooses for each place in turn among the numbers left."""

    def play(points: Floats, runs: int) -> Whole:
        *flights, n, _ = points.shape
        apart = np.abs(points[..., :, None, :] - points[..., None, :, :]).sum(axis=-1)
        left = np.ones((*flights, runs, n), bool)
        claims = np.empty((*flights, runs, n), np.intp)
        for place in range(n):
            drawn = -sharp * apart[..., None, place, :] ** 2 + chance.gumbel(size=left.shape)
            claims[..., place] = np.where(left, drawn, -np.inf).argmax(axis=-1)
            np.put_along_axis(left, claims[..., place, None], False, axis=-1)
        return claims

    return play


def with_slips(noise: float, chance: np.random.Generator) -> Play:
    """Return a taster with noisy percepts who in one sitting of eight mixes up the answers: claims by lot."""
    sound = percepts(noise, chance)

    def play(points: Floats, runs: int) -> Whole:
        claims = sound(points, runs)
        slips = chance.random(claims.shape[:-1]) < 1 / 8
        claims[slips] = chance.permuted(claims[slips], axis=1)
        return claims

    return play


def share_correct(play: Play, points: Floats, runs: int) -> Floats:
    """Return the share of drinks put where they stood, over so many sittings of each flight."""
    found: Floats = (play(points, runs) == np.arange(points.shape[-2])).mean(axis=(-1, -2))
    return found


def cellar(chance: np.random.Generator, count: int = BOTTLES) -> list[Bottle]:
    """Return bottles of which all is known, as a shop's shelf might have them."""
    bottles = []
    for number in range(count):
        style = STYLES[chance.integers(len(STYLES))]
        old = style == "koshu"
        bottles.append(
            Bottle(
                name=f"Drink {number}",
                id=f"drink-{number}",
                style=style,
                abv_percent=round(float(chance.normal(15.8, 1.0)), 1),
                meter_value=float(np.round(chance.normal(3, 4))),
                acidity=round(float(chance.normal(1.45, 0.25)), 1),
                polishing_percent=float(chance.choice([35, 40, 50, 55, 60, 65, 70, 80])),
                pasteurised=bool(chance.random() < 0.75),
                age_months=float(chance.choice([60, 84, 120]) if old else chance.integers(2, 30)),
                left_ml=720.0,
            )
        )
    return bottles


def wide_cellar(chance: np.random.Generator, vast: int = len(VAST), lots: int = 6) -> list[Bottle]:
    """Return an ordinary cellar's bottles, and besides them some that differ vastly and some lots of one drink."""
    ordinary = cellar(chance, BOTTLES - vast - lots)
    bottles = list(ordinary)
    for name, style, abv, meter_value, acidity, polishing, pasteurised, months in VAST[:vast]:
        bottles.append(
            Bottle(
                name=name,
                id=name,
                style=style,
                abv_percent=round(abv + float(chance.normal(0, 0.5)), 1),
                meter_value=meter_value + float(np.round(chance.normal(0, 2))),
                acidity=round(acidity + float(chance.normal(0, 0.15)), 1),
                polishing_percent=polishing,
                pasteurised=pasteurised,
                age_months=months,
                left_ml=720.0,
            )
        )
    first = ordinary[0]
    assert first.abv_percent is not None
    assert first.meter_value is not None
    assert first.acidity is not None
    for lot in range(lots):
        bottles.append(
            replace(
                first,
                name=f"{first.name}, lot {lot}",
                id=f"{first.id}-lot-{lot}",
                abv_percent=round(first.abv_percent + float(chance.normal(0, 0.2)), 1),
                meter_value=first.meter_value + float(np.round(chance.normal(0, 1))),
                acidity=round(first.acidity + float(chance.normal(0, 0.1)), 1),
                age_months=float(chance.integers(2, 30)),
            )
        )
    return bottles


def mixed_cellar(chance: np.random.Generator) -> list[Bottle]:
    """Return a cellar between the two: two drinks that differ vastly, three lots of one."""
    return wide_cellar(chance, vast=2, lots=3)


def with_gaps(bottle: Bottle, chance: np.random.Generator) -> Bottle:
    """Return the bottle as a list states it: some traits are left out."""
    stated: dict[str, Any] = {trait: None if chance.random() < UNSTATED else getattr(bottle, trait) for trait in TRAITS}
    return replace(bottle, **stated)


def space(bottles: list[Bottle], chance: np.random.Generator) -> Floats:
    """Return each drink's point in a taster's own space, mean square distance from the middle one."""
    words = sorted({word for bottle in bottles for word in (bottle.style or "").split()})
    stated_part = np.array(
        [
            [
                bottle.abv_percent or 0.0,
                (bottle.meter_value or 0.0) / 4,
                (bottle.acidity or 0.0) / 0.3,
                (bottle.polishing_percent or 0.0) / 12,
                1.5 * (bottle.pasteurised or False),
                np.log2(12 + (bottle.age_months or 0.0)),
                *(1.2 * (word in (bottle.style or "").split()) for word in words),
            ]
            for bottle in bottles
        ]
    )
    # Beyond some steps more makes little difference, here as inside, but not by the same law.
    felt = 4 * np.tanh((stated_part - np.median(stated_part, axis=0)) / 4)
    stretched = (felt - felt.mean(axis=0)) * chance.lognormal(0, 0.5, stated_part.shape[1])
    unstated = chance.normal(0, 1, (len(bottles), 3))
    names = [bottle.name.split(", lot ")[0] for bottle in bottles]
    for at, name in enumerate(names):
        if names.index(name) < at:
            unstated[at] = unstated[names.index(name)] + 0.5 * unstated[at]
    return np.hstack([np.sqrt(0.75) * _scaled(stretched), np.sqrt(0.25) * _scaled(unstated)])


def _scaled(points: Floats) -> Floats:
    scaled: Floats = points / np.sqrt((points**2).sum(axis=1).mean())
    return scaled


@dataclass(frozen=True, slots=True)
class Scenario:
    """Kinds of taster, each with its skills; the cellars they have; the seed."""

    tasters: Mapping[str, tuple[Callable[[float, np.random.Generator], Play], tuple[float, ...]]]
    cellars: Mapping[str, Cellar]
    seed: int


DEVELOPMENT = Scenario(
    {
        "percepts": (percepts, (0.7, 0.5, 0.4, 0.3)),
        "one after another": (one_after_another, (0.1, 0.2, 0.3, 0.5)),
    },
    {"ordinary": cellar, "wide": wide_cellar},
    20261101,
)
KEPT_FIRST = Scenario(
    {
        "percepts": (percepts, (0.68, 0.52, 0.38, 0.28)),
        "one after another": (one_after_another, (0.09, 0.17, 0.28, 0.55)),
        "percepts and slips": (with_slips, (0.47, 0.31)),
    },
    {"ordinary": cellar, "wide": wide_cellar},
    940217,
)
"""Read twice: the first reading showed what was then mended, on those of development alone."""
KEPT_SECOND = Scenario(
    {
        "percepts": (percepts, (0.72, 0.56, 0.43, 0.33, 0.26)),
        "one after another": (one_after_another, (0.08, 0.14, 0.24, 0.4, 0.6)),
        "percepts and slips": (with_slips, (0.5, 0.28)),
    },
    {"ordinary": cellar, "wide": wide_cellar, "mixed": mixed_cellar},
    50270623,
)
"""Read once, after all was chosen: whoever changes the model after that needs others."""
