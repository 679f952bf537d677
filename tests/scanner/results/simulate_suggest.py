"""Whether suggested flights land at the level asked for, with tasters who do not follow the model used inside.

    python -m tests.scanner.results.simulate_suggest [--runs N] [--cellar wide] [--kept]

With `--kept` the tasters, their abilities and the seed are those on which nothing was chosen.

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

No flight of a cellar may be as easy as a weak taster needs, or as hard as an able one does. An ordinary cellar has what
a shop's shelf may have; a wide one six drinks besides that differ vastly, and six lots of one drink. Whether a cellar
has such a flight for a taster is looked up in the space that no list tells: those tasters are counted apart, and so are
the flights of which the output says that they lie at the edge of what the cellar has.
"""

from __future__ import annotations

import argparse
import datetime
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

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
LOTS = 6
JUDGED = 400
"""The true share correct of a suggestion is the mean of so many sittings."""

Truths = NDArray[np.bool_]
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


Tasters = Mapping[str, tuple[Callable[[float, np.random.Generator], Play], tuple[float, ...]]]
TASTERS: Tasters = {
    "percepts": (percepts, (0.7, 0.5, 0.4, 0.3)),
    "one after another": (one_after_another, (0.1, 0.2, 0.3, 0.5)),
}


def with_slips(noise: float, chance: np.random.Generator) -> Play:
    """Return a taster with noisy percepts who in one sitting of eight mixes up the answers: claims by lot."""
    sound = percepts(noise, chance)

    def play(points: Floats, runs: int) -> Whole:
        claims = sound(points, runs)
        slips = chance.random(runs) < 1 / 8
        claims[slips] = chance.permuted(claims[slips], axis=1)
        return claims

    return play


KEPT: Tasters = {
    "percepts": (percepts, (0.68, 0.52, 0.38, 0.28)),
    "one after another": (one_after_another, (0.09, 0.17, 0.28, 0.55)),
    "percepts and slips": (with_slips, (0.47, 0.31)),
}
"""Nothing was chosen on these: no constant of the model, nor what is said of a flight."""
KEPT_SEED = 940217


@dataclass(frozen=True, slots=True)
class Landing:
    """Where suggestions landed: the true shares correct, those expected, whether it was said that none is nearer."""

    true: Floats
    expected: Floats
    edge: Floats
    glasses: Floats
    in_reach: Floats
    random_of_five: float


def landings(
    kind: str,
    skill: float,
    sittings: int,
    runs: int,
    seed: int = SEED,
    level: tuple[float, float] = (0.60, 0.75),
    tasters: Tasters = TASTERS,
    stock: str = "ordinary",
) -> Landing:
    """Return where the suggestions for tasters of a kind land, each with a cellar and a space of their own.

    Before the suggestion they had so many sittings of four drinks at random; with none, their true mean of five on
    random flights is told.
    """
    chance = np.random.default_rng(seed)
    make = tasters[kind][0]
    rows, of_five = [], []
    for _ in range(runs):
        whole = CELLARS[stock](chance)
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
        rows.append((true, found.share, found.at_the_edge, len(at), _in_reach(points, play, sum(level) / 2)))
    columns = np.array(rows, float).T
    return Landing(columns[0], columns[1], columns[2], columns[3], columns[4], float(np.mean(of_five)))


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


def wide_cellar(chance: np.random.Generator) -> list[Bottle]:
    """Return an ordinary cellar's bottles, and besides them some that differ vastly and six lots of one drink."""
    ordinary = cellar(chance, BOTTLES - len(VAST) - LOTS)
    bottles = list(ordinary)
    for name, style, abv, meter_value, acidity, polishing, pasteurised, months in VAST:
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
    for lot in range(LOTS):
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


CELLARS: Mapping[str, Callable[[np.random.Generator], list[Bottle]]] = {"ordinary": cellar, "wide": wide_cellar}


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


def _in_reach(points: Floats, play: Play, middle: float) -> bool:
    """Tell whether this taster's widest three drinks are easier, and nearest five harder, than the level's middle."""
    apart = np.sqrt(((points[:, None] - points) ** 2).sum(axis=2))
    threes = np.array(list(combinations(range(len(points)), 3)))
    widest = threes[np.argmax(sum(apart[threes[:, i], threes[:, j]] for i, j in combinations(range(3), 2)))]
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
    asked.add_argument("--kept", action="store_true")
    asked.add_argument("--cellar", choices=sorted(CELLARS), default="ordinary")
    asked.add_argument("--sittings", type=int, nargs="+", default=(0, 10, 30))
    given = asked.parse_args()
    level = (given.level[0], given.level[1])
    tasters, seed = (KEPT, KEPT_SEED) if given.kept else (TASTERS, SEED)
    print(f"{given.runs} tasters each, {given.cellar} cellars; level {level[0]:.0%} to {level[1]:.0%}. Points off its")
    print(
        "middle, mean and spread; share of tasters whose cellar has such a flight by what no list tells, and the mean"
    )
    print(
        "off for these; share told that it lies at the edge, and the mean off of all others; off the expected; glasses"
    )
    everybody: list[Landing] = []
    for sittings in given.sittings:
        for kind, (_, skills) in tasters.items():
            for skill in skills:
                found = landings(kind, skill, sittings, given.runs, seed, level, tasters, given.cellar)
                everybody.append(found)
                said = _told(100 * (found.true - sum(level) / 2), found.in_reach == 1, found.edge == 1)
                expected, glasses = 100 * (found.true - found.expected).mean(), found.glasses.mean()
                head = f"  {sittings:2} sittings before, {kind}, {found.random_of_five:.1f} of five"
                print(f"{head}: {said}; {expected:+5.1f}; {glasses:.1f}", flush=True)
    true, in_reach, edge = (
        np.concatenate([getattr(one, of) for one in everybody]) for of in ("true", "in_reach", "edge")
    )
    print(f"all together: {_told(100 * (true - sum(level) / 2), in_reach == 1, edge == 1)}")


def _told(off: Floats, in_reach: Truths, edge: Truths) -> str:
    return (
        f"{off.mean():+5.1f}, {off.std():4.1f}; {in_reach.mean():4.0%}, {_mean(off[in_reach])}; "
        f"{edge.mean():4.0%}, {_mean(off[~edge])}"
    )


def _mean(off: Floats) -> str:
    return f"{off.mean():+5.1f}" if len(off) else "  –  "


if __name__ == "__main__":
    main()
