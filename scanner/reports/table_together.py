"""The numbers of all sittings of a table together: how many were right, and what was taken for what over time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from scanner.results.confusions import Confusions, confusions
from scanner.results.counted import counted
from scanner.results.gather import Gathered
from scanner.results.luck import luck_of_table
from scanner.results.sitting import TasterSitting

MOST_DRINKS = 8
"""So many drinks have a row each in the picture: those that were taken for one another most often."""
MOST_PAIRS = 6


@dataclass(frozen=True, slots=True)
class PairLine:
    """Two drinks taken for one another `times`, either way round, in `together` tasters' sittings that had both.

    `evenly` is the mean if the wrong claims had fallen evenly on all pairs; `stands_out` whether it is more than that.
    """

    names: tuple[str, str]
    together: int
    times: int
    by_luck: float
    evenly: float
    stands_out: bool


@dataclass(frozen=True, slots=True)
class Together:
    """All sittings that count of all tasters.

    Attributes
    ----------
    kit_ids, first, last
        Which sittings, from which day to which.
    kits, sittings
        How many sittings, and how many tasters' parts in them.
    drinks, of_drinks
        The names of the drinks pictured, at most MOST_DRINKS, and how many were poured in all.
    times
        `times[stood][claimed]` of the drinks pictured; None for two that were never in one flight.
    pairs
        Those taken for one another, at most MOST_PAIRS, the one least like errors that fall evenly first.
    next_pair
        The names of the two to taste next side by side; None where no two were taken for one another twice.
    wrong
        How many claims took a drink for another.
    """

    kit_ids: tuple[str, ...]
    first: str
    last: str
    kits: int
    sittings: int
    correct: int
    of: int
    expected_by_luck: float
    chance_at_least: float
    drinks: tuple[str, ...]
    of_drinks: int
    times: tuple[tuple[int | None, ...], ...]
    pairs: tuple[PairLine, ...]
    next_pair: tuple[str, str] | None
    wrong: int


def together(gathered: Gathered, hidden: Collection[str]) -> Together | None:
    """Return what all sittings have together, without the kits that are `hidden`; None where fewer than two count."""
    chosen = counted([one for one in gathered.sittings if one.kit not in hidden]).sittings
    if len({sitting.kit for sitting in chosen}) < 2:
        return None
    luck = luck_of_table(chosen, gathered.seats)
    found = confusions(chosen)
    keys = _pictured(chosen, found)
    names = {drink.key: drink.name for sitting in chosen for drink in sitting.drinks}
    pairs = [pair for pair in found.pairs if pair.times][:MOST_PAIRS]
    return Together(
        kit_ids=tuple(dict.fromkeys(sitting.kit for sitting in chosen)),
        first=chosen[0].date.isoformat(),
        last=chosen[-1].date.isoformat(),
        kits=luck.sittings,
        sittings=len(chosen),
        correct=luck.correct,
        of=luck.of,
        expected_by_luck=float(luck.expected),
        chance_at_least=float(luck.chance_at_least),
        drinks=tuple(names[key] for key in keys),
        of_drinks=len(names),
        times=_times(chosen, keys),
        pairs=tuple(
            PairLine(pair.names, pair.together, pair.times, pair.by_luck, pair.evenly, pair.stands_out)
            for pair in pairs
        ),
        next_pair=None if found.next_pair is None else found.next_pair.names,
        wrong=found.wrong,
    )


def _pictured(sittings: Sequence[TasterSitting], found: Confusions) -> list[str]:
    """Return the keys of the drinks that errors were most often about, then of those poured most often, by name."""
    errors: Counter[str] = Counter()
    for pair in found.pairs:
        for key in pair.keys:
            errors[key] += pair.times
    poured = Counter(drink.key for sitting in sittings for drink in sitting.drinks)
    names = {drink.key: drink.name for sitting in sittings for drink in sitting.drinks}
    chosen = sorted(poured, key=lambda key: (-errors[key], -poured[key], names[key]))[:MOST_DRINKS]
    return sorted(chosen, key=lambda key: (names[key], key))


def _times(sittings: Sequence[TasterSitting], keys: Sequence[str]) -> tuple[tuple[int | None, ...], ...]:
    times: Counter[tuple[str, str]] = Counter()
    met: set[tuple[str, str]] = set()
    for sitting in sittings:
        assert sitting.truth is not None
        flight = [drink.key for drink in sitting.drinks]
        met.update((one, other) for one in flight for other in flight)
        times.update(
            (flight[stood - 1], flight[claim - 1])
            for stood, claim in zip(sitting.truth, sitting.claims, strict=True)
            if claim is not None
        )
    return tuple(
        tuple(times[stood, claimed] if (stood, claimed) in met else None for claimed in keys) for stood in keys
    )
