"""Whether suggested flights land at the level asked for, with tasters who do not follow the model used inside.

    python -m tests.scanner.results.simulate_suggest [--runs N] [--cellar wide] [--sittings 0 30] [--kept second]

The tasters and their cellars are those of `simulate_suggest_tasters`; with `--kept` those on which nothing was chosen.

No flight of a cellar may be as easy as a weak taster needs, or as hard as an able one does. An ordinary cellar has what
a shop's shelf may have; a wide one six drinks besides that differ vastly, and six lots of one drink. So what is off is
taken apart, `simulate_suggest_reach`: what the cellar cannot give, by the taster's own space; what besides nobody can
find who knows but the list; and the rest, which is an error of the model or of the choice.
"""

from __future__ import annotations

import argparse
import datetime
from dataclasses import dataclass

import numpy as np

from scanner.results.ability import Floats
from scanner.results.cellar import Bottle
from scanner.results.confusions import confusions
from scanner.results.sharpness import Sharpness, nearer, sharpness, stated
from scanner.results.sitting import TasterSitting
from scanner.results.suggest import LEVEL, Suggestion, Wish, practised, suggest
from tests.scanner.results.simulate_suggest_reach import by_list, in_space, nearest
from tests.scanner.results.simulate_suggest_tasters import (
    BOTTLES,
    DEVELOPMENT,
    KEPT_FIRST,
    KEPT_SECOND,
    Play,
    Scenario,
    share_correct,
    space,
    with_gaps,
)
from tests.scanner.results.skilled import FIRST_DAY, sitting

DAY = FIRST_DAY + datetime.timedelta(days=365)
JUDGED = 400
"""The true share correct of a suggestion is the mean of so many sittings."""
LEGEND = """Points off the middle,
mean and spread; share for whom the cellar has a flight in the level, and the mean of these; points by which
the nearest flight lies outside; of the mean the part unavoidable with the cellar, with the list besides, and
the rest; off the expected; share told that it lies at the edge; glasses."""
SCENARIOS = {"first": KEPT_FIRST, "second": KEPT_SECOND}


@dataclass(frozen=True, slots=True)
class Landing:
    """Where suggestions landed, a number for each taster.

    Attributes
    ----------
    level
        What was asked for.
    true, expected
        The share correct.
    edge
        Whether it was said that the flight lies at the edge of what the cellar has.
    glasses, of_five
        How many, and the taster's true mean of five on random flights.
    hardest, easiest
        The true share correct of the cellar's hardest and easiest flight.
    hardest_listed, easiest_listed
        The same as it could be expected by who knows but the list.
    """

    level: tuple[float, float]
    true: Floats
    expected: Floats
    edge: Floats
    glasses: Floats
    of_five: Floats
    hardest: Floats
    easiest: Floats
    hardest_listed: Floats
    easiest_listed: Floats

    @property
    def middle(self) -> float:
        return sum(self.level) / 2

    @property
    def off(self) -> Floats:
        """Points of a hundred off the middle of the level."""
        return 100 * (self.true - self.middle)

    @property
    def outside(self) -> Floats:
        """Points of a hundred by which the nearest flight of the cellar lies outside the level."""
        low, high = self.level
        return 100 * (np.maximum(0, self.hardest - high) + np.maximum(0, low - self.easiest))

    @property
    def of_cellar(self) -> Floats:
        """Points of a hundred off the middle that the nearest flight of the cellar is."""
        return 100 * (nearest((self.hardest, self.easiest), self.middle) - self.middle)

    @property
    def of_list(self) -> Floats:
        """Points of a hundred off the middle that are left, on average, to the best choice from the list."""
        return 100 * (nearest((self.hardest_listed, self.easiest_listed), self.middle) - self.middle)


def landings(
    kind: str,
    skill: float,
    sittings: int,
    runs: int,
    scenario: Scenario = DEVELOPMENT,
    stock: str = "ordinary",
    level: tuple[float, float] = LEVEL,
    looked_up: bool = True,
) -> Landing:
    """Return where the suggestions for tasters of a kind land, each with a cellar and a space of their own.

    Before the suggestion they had so many sittings of four drinks at random; with none, their true mean of five on
    random flights is told. What could be had is looked up, or is not a number.
    """
    chance, apart = (np.random.default_rng((scenario.seed, part)) for part in range(2))
    make = scenario.tasters[kind][0]
    rows = []
    for _ in range(runs):
        whole = scenario.cellars[stock](chance)
        points = space(whole, chance)
        play = make(skill, chance)
        random = np.array([chance.choice(BOTTLES, 5, replace=False) for _ in range(25)])
        mean = 5 * float(share_correct(play, points[random], 8).mean())
        listed = [with_gaps(bottle, chance) for bottle in whole]
        past = [_sitting(listed, points, play, day, chance) for day in range(sittings)]
        found = _suggested(listed, past, min(4.9, max(1.1, mean)), level)
        at = [listed.index(bottle) for bottle in found.flight]
        true = float(share_correct(play, points[at], JUDGED))
        # With chances of its own, so that what could be had changes nothing of what was suggested.
        judge = make(skill, apart)
        ends = (*in_space(judge, points), *by_list(judge, listed, apart)) if looked_up else (np.nan,) * 4
        rows.append((true, found.share, found.at_the_edge, len(at), mean, *ends))
    return Landing(level, *np.array(rows, float).T)


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
    asked.add_argument("--level", type=float, nargs=2, default=LEVEL)
    asked.add_argument("--kept", choices=sorted(SCENARIOS))
    asked.add_argument("--cellar", choices=sorted(KEPT_SECOND.cellars), default="ordinary")
    asked.add_argument("--sittings", type=int, nargs="+", default=(0, 10, 30))
    given = asked.parse_args()
    scenario = SCENARIOS[given.kept] if given.kept else DEVELOPMENT
    if given.cellar not in scenario.cellars:
        asked.error(f"these tasters have {' and '.join(scenario.cellars)} cellars, no {given.cellar} ones")
    low, high = given.level
    print(f"{given.runs} tasters a line, {given.cellar} cellars, {low:.0%} to {high:.0%} asked for. {LEGEND}")
    print(f"{'':35}   mean spread  attainable  outside  cellar  list  rest   expected  edge  glasses")
    everybody = []
    for sittings in given.sittings:
        for kind, (_, skills) in scenario.tasters.items():
            for skill in skills:
                found = landings(kind, skill, sittings, given.runs, scenario, given.cellar, (low, high))
                everybody.append(found)
                print(f"{sittings:2} before, {kind:18} {found.of_five.mean():.1f} of 5  {_told([found])}", flush=True)
    print(f"{'all together':35}  {_told(everybody)}")


def _told(found: list[Landing]) -> str:
    off, outside, cellar, listed, true, expected, edge, glasses = (
        np.concatenate([getattr(one, of) for one in found])
        for of in ("off", "outside", "of_cellar", "of_list", "true", "expected", "edge", "glasses")
    )
    can = outside == 0
    there = f"{off[can].mean():+5.1f}" if can.any() else "    –"
    parts = (cellar.mean(), (listed - cellar).mean(), (off - listed).mean())
    return (
        f"{off.mean():+5.1f}  {off.std():4.1f}  {can.mean():4.0%} {there}    {outside.mean():4.1f}    "
        f"{parts[0]:+5.1f} {parts[1]:+5.1f} {parts[2]:+5.1f}    {100 * (true - expected).mean():+5.1f}   "
        f"{edge.mean():4.0%}  {glasses.mean():.1f}"
    )


if __name__ == "__main__":
    main()
