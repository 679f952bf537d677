"""What one taster should pour next, from a cellar list, in the numbers and names that a progress page shows."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from scanner.results.cellar import Cellar
from scanner.results.next_flight import next_flight
from scanner.results.sitting import TasterSitting
from scanner.results.suggest import TooFew, Wish


@dataclass(frozen=True, slots=True)
class NextDrink:
    """A drink to pour, and its style where the list states it."""

    name: str
    style: str | None


@dataclass(frozen=True, slots=True)
class TooFewDrinks:
    """The cellar has so many `sound` drinks with `enough_ml` left, and a flight needs more."""

    sound: int
    needed: int
    enough_ml: float


@dataclass(frozen=True, slots=True)
class PourNext:
    """The flight that `facedown suggest` proposes for one taster.

    `share` is the share correct expected, `level_reached` whether it lies in the level asked for; `practise` the pair
    that is in it to be practised. Where `refused` tells why there is none, the rest is empty.
    """

    drinks: tuple[NextDrink, ...]
    share: float | None
    level_reached: bool
    practise: tuple[str, str] | None
    refused: TooFewDrinks | None = None

    @property
    def expected_correct(self) -> float | None:
        """How many of the flight should be right on average."""
        return None if self.share is None else self.share * len(self.drinks)


def pour_next(cellar: Cellar, today: datetime.date, name: str, sittings: Sequence[TasterSitting]) -> PourNext:
    """Propose the next flight of one taster, as `facedown suggest` does with that taster's sittings alone."""
    found = next_flight(cellar, today, [(name, sittings)], Wish())
    if isinstance(found, TooFew):
        return PourNext((), None, False, None, TooFewDrinks(found.sound, found.wish.glasses[0], found.needed_ml))
    return PourNext(
        tuple(NextDrink(bottle.name, bottle.style) for bottle in found.flight),
        found.share,
        found.reached,
        None if found.practised is None else found.practised.names,
    )
