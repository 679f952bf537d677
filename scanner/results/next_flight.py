"""The flight to pour next, from a cellar list and the sittings so far: what `facedown suggest` and reports propose."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import replace

from scanner.results.cellar import Cellar
from scanner.results.confusions import confusions
from scanner.results.sharpness import nearer, sharpness, stated
from scanner.results.sitting import TasterSitting
from scanner.results.suggest import Suggestion, TooFew, Wish, practised, suggest


def next_flight(
    cellar: Cellar,
    today: datetime.date,
    sittings: Sequence[tuple[str, Sequence[TasterSitting]]],
    wish: Wish,
    ability: float | None = None,
) -> Suggestion | TooFew:
    """Choose a flight for these tasters.

    Parameters
    ----------
    sittings
        Each taster's name and sittings; none where nothing is known of who will taste.
    wish
        What is asked for; drinks to avoid and the pair to practise follow from the sittings.
    ability : float or None
        Correct of five drinks taken at random from the cellar, in place of what the sittings tell.
    """
    known = cellar.known(today)
    learnt = [(sharpness(name, of_one, known), of_one) for name, of_one in sittings]
    tasters = [taster for taster, _ in learnt] or [sharpness("", (), {})]
    if ability is not None:
        tasters = [stated(ability, [bottle.drink for bottle in cellar.bottles if not bottle.fault], known)]
    everything = [one for _, of_one in learnt for one in of_one]
    practise = practised(confusions(everything), cellar.bottles)
    whole = replace(wish, avoid=_last_flight(everything), practise=practise)
    return suggest(cellar.bottles, today, tasters, nearer(learnt, known), whole)


def _last_flight(sittings: Sequence[TasterSitting]) -> frozenset[str]:
    last = max(sittings, key=lambda one: one.date, default=None)
    return frozenset() if last is None else frozenset(drink.key for drink in last.drinks)
