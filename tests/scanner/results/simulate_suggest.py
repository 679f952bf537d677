"""Whether suggested flights land at the level asked for, with tasters who do not follow the model used inside.

    python -m tests.scanner.results.simulate_suggest [--runs N]

Inside, a taster makes one choice among the n! ways to match, by distances that weigh all stated traits alike. These two
do otherwise:

- *percepts*: the two notes of a drink are points in the taster's own space, each off by normal noise, and the claims
  are the matching with the least sum of squared distances (Thurstone's model for the percepts, L. L. Thurstone,
  Psychol. Rev. 34 (1927) 273–286 [memory]);
- *one after another*: the taster takes the places from the left and chooses among the numbers left, with a chance in
  proportion to e^(−b · squared city-block distance) (the choice axiom, R. D. Luce, Individual Choice Behavior, 1959
  [memory]).

Each taster has a space of their own: every trait is stretched by a lognormal factor (σ 0.5), and a quarter of the
variance is of what no list states. A fifth of all traits is left out of the list.
"""

from __future__ import annotations

import argparse
import datetime
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from scanner.results.ability import Floats
from scanner.results.cellar import Bottle
from scanner.results.confusions import confusions
from scanner.results.matching_model import Whole, orders
from scanner.results.sharpness import Sharpness, nearer, sharpness, stated
from scanner.results.sitting import TasterSitting
from scanner.results.suggest import Suggestion, Wish, practised, suggest
from tests.scanner.results.skilled import FIRST_DAY, sitting

SEED = 20261101
DAY = FIRST_DAY + datetime.timedelta(days=365)
BOTTLES = 24
UNSTATED = 0.2
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
JUDGED = 400
"""The true share correct of a suggestion is the mean of so many sittings."""

Play = Callable[[Floats, int], Whole]
"""Returns so many sittings' claims, (runs, n), by drinks' points, (n, traits): what each drink of n was taken for."""


def percepts(noise: float, chance: np.random.Generator) -> Play:
    """Return a taster whose percepts are noisy and whose matching is the best to be had."""

    def play(points: Floats, runs: int) -> Whole:
        n = len(points)
        first, second = (points + chance.normal(0, noise, (runs, *points.shape)) for _ in range(2))
        apart = ((second[:, :, None] - first[:, None]) ** 2).sum(axis=3)
        costs = sum(apart[:, place, orders(n)[:, place]] for place in range(n))
        claims: Whole = orders(n)[np.argmin(costs, axis=1)]
        return claims

    return play


def one_after_another(sharp: float, chance: np.random.Generator) -> Play:
    """Return a taster who chooses for each place in turn among the numbers left."""

    def play(points: Floats, runs: int) -> Whole:
        n = len(points)
        apart = np.abs(points[:, None] - points).sum(axis=2)
        left = np.ones((runs, n), bool)
        claims = np.empty((runs, n), np.intp)
        for place in range(n):
            drawn = -sharp * apart[place] ** 2 + chance.gumbel(size=(runs, n))
            claims[:, place] = np.where(left, drawn, -np.inf).argmax(axis=1)
            left[np.arange(runs), claims[:, place]] = False
        return claims

    return play


TASTERS: Mapping[str, tuple[Callable[[float, np.random.Generator], Play], tuple[float, ...]]] = {
    "percepts": (percepts, (0.7, 0.5, 0.4, 0.3)),
    "one after another": (one_after_another, (0.1, 0.2, 0.3, 0.5)),
}


@dataclass(frozen=True, slots=True)
class Landing:
    """Where suggestions landed: the true shares correct, those expected, and whether the level was said reached."""

    true: Floats
    expected: Floats
    reached: Floats
    glasses: Floats
    in_reach: Floats
    random_of_five: float


def landings(
    kind: str, skill: float, sittings: int, runs: int, seed: int = SEED, level: tuple[float, float] = (0.60, 0.75)
) -> Landing:
    """Return where the suggestions for tasters of a kind land, each with a cellar and a space of their own.

    Before the suggestion they had so many sittings of four drinks at random; with none, their true mean of five on
    random flights is told.
    """
    chance = np.random.default_rng(seed)
    make = TASTERS[kind][0]
    rows, of_five = [], []
    for _ in range(runs):
        whole = cellar(chance)
        points = space(whole, chance)
        play = make(skill, chance)
        random = [play(points[chance.choice(BOTTLES, 5, replace=False)], 8) for _ in range(25)]
        mean = float(np.mean([(claims == np.arange(5)).sum(axis=1).mean() for claims in random]))
        of_five.append(mean)
        listed = [_with_gaps(bottle, chance) for bottle in whole]
        past = [_sitting(listed, points, play, day, chance) for day in range(sittings)]
        found = _suggested(listed, past, min(4.9, max(1.1, mean)), level)
        at = [listed.index(bottle) for bottle in found.flight]
        true = float((play(points[at], JUDGED) == np.arange(len(at))).mean())
        rows.append((true, found.share, found.reached, len(at), _in_reach(points, play, sum(level) / 2)))
    columns = np.array(rows, float).T
    return Landing(columns[0], columns[1], columns[2], columns[3], columns[4], float(np.mean(of_five)))


def cellar(chance: np.random.Generator) -> list[Bottle]:
    """Return bottles of which all is known."""
    bottles = []
    for number in range(BOTTLES):
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
    stretched = (stated_part - stated_part.mean(axis=0)) * chance.lognormal(0, 0.5, stated_part.shape[1])
    unstated = chance.normal(0, 1, (len(bottles), 3))
    return np.hstack([np.sqrt(0.75) * _scaled(stretched), np.sqrt(0.25) * _scaled(unstated)])


def _in_reach(points: Floats, play: Play, middle: float) -> bool:
    """Tell whether this taster's widest three drinks are easier, and nearest five harder, than the level's middle."""
    apart = np.sqrt(((points[:, None] - points) ** 2).sum(axis=2))
    widest = max(combinations(range(BOTTLES), 3), key=lambda three: apart[np.ix_(three, three)].sum())
    nearest = min((np.argsort(row)[:5] for row in apart), key=lambda five: float(apart[np.ix_(five, five)].sum()))
    shares = [(play(points[list(at)], JUDGED) == np.arange(len(at))).mean() for at in (widest, nearest)]
    return bool(shares[1] <= middle <= shares[0])


def _scaled(points: Floats) -> Floats:
    scaled: Floats = points / np.sqrt((points**2).sum(axis=1).mean())
    return scaled


def _with_gaps(bottle: Bottle, chance: np.random.Generator) -> Bottle:
    traits = ("abv_percent", "meter_value", "acidity", "polishing_percent", "pasteurised", "age_months")
    stated_ = {trait: None if chance.random() < UNSTATED else getattr(bottle, trait) for trait in traits}
    return Bottle(bottle.name, bottle.id, bottle.style, left_ml=bottle.left_ml, **stated_)


def _sitting(bottles: list[Bottle], points: Floats, play: Play, day: int, chance: np.random.Generator) -> TasterSitting:
    at = chance.choice(BOTTLES, 4, replace=False)
    claims = play(points[at], 1)[0] + 1
    return sitting(claims.tolist(), [1, 2, 3, 4], day, drinks=tuple(bottles[number].drink for number in at))


def _suggested(bottles: list[Bottle], past: list[TasterSitting], mean: float, level: tuple[float, float]) -> Suggestion:
    known = {bottle.key: bottle.traits(DAY) for bottle in bottles}
    taster: Sharpness = (
        sharpness("Ines", past, known) if past else stated(mean, [bottle.drink for bottle in bottles], known)
    )
    pair = practised(confusions(past), bottles)
    found = suggest(
        bottles, DAY, [taster], nearer([(taster, past)], known), Wish(level=level, fault=False, practise=pair)
    )
    assert isinstance(found, Suggestion)
    return found


def main() -> None:
    """Print where suggestions land: in points of a hundred off the middle of the level."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    asked.add_argument("--runs", type=int, default=100)
    asked.add_argument("--level", type=float, nargs=2, default=(0.60, 0.75))
    given = asked.parse_args()
    level = (given.level[0], given.level[1])
    print(f"{given.runs} tasters each; level {level[0]:.0%} to {level[1]:.0%}. Points off its middle: mean, spread;")
    print("share of tasters who have the level in reach, mean off of those; share of flights said to reach it; glasses")
    for sittings in (0, 10, 30):
        for kind, (_, skills) in TASTERS.items():
            for skill in skills:
                found = landings(kind, skill, sittings, given.runs, level=level)
                off = 100 * (found.true - sum(level) / 2)
                reach = found.in_reach == 1
                of_reach = f"{off[reach].mean():+5.1f}" if reach.any() else "  –  "
                print(
                    f"  {sittings:2} sittings before, {kind}, {found.random_of_five:.1f} of five: {off.mean():+5.1f}, "
                    f"{off.std():4.1f}; {reach.mean():4.0%}, {of_reach}; {found.reached.mean():4.0%}; "
                    f"{found.glasses.mean():.1f}",
                    flush=True,
                )


if __name__ == "__main__":
    main()
