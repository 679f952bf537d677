"""What a report may show of what stood where: as much as `facedown score` shows, and no more."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from scanner.results.sitting import TasterSitting
from scanner.score import Scores, TasterScore

PLACES = "ABCDEFGH"

Shown = Mapping[tuple[str, int], Mapping[str, int]]
"""By kit and taster's number: the coaster number that stood at each place that may be shown."""


def shown_truth(result: Scores) -> Shown:
    """Return what may be shown of each taster's truth.

    Nothing while keys stay sealed, where no match sheet was read, and of a shared key while any claim is unsettled:
    whoever settles a claim should not have the truth before their eyes. For the same reason nothing of a place whose
    claim is unsettled.
    """
    unsettled = {taster.kit for taster in result.tasters if taster.claims.unsettled}
    hidden = {one.kit for one in result.sittings if one.session.keys == "shared"} & unsettled
    return {(taster.kit, taster.taster): {} if taster.kit in hidden else _places(taster) for taster in result.tasters}


def as_shown(sitting: TasterSitting, shown: Shown) -> TasterSitting:
    """Return a sitting whose truth is known only if all of it may be shown; typed results are whole."""
    places = shown.get((sitting.kit, sitting.number))
    if sitting.truth is None or places is None or len(places) == sitting.glasses:
        return sitting
    return replace(sitting, truth=None)


def stood_at(sitting: TasterSitting, shown: Shown) -> tuple[int | None, ...]:
    """Return for each place the coaster number that stood there, None where it may not be shown."""
    places = shown.get((sitting.kit, sitting.number))
    if sitting.truth is None:
        return (None,) * sitting.glasses
    if places is None:
        return sitting.truth
    return tuple(places.get(place) for place in PLACES[: sitting.glasses])


def _places(taster: TasterScore) -> dict[str, int]:
    numbers = taster.truth.numbers
    if numbers is None or taster.absent or not taster.has_match:
        return {}
    return {place: number for place, number in numbers.items() if place not in taster.claims.unsettled}
