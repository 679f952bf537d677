"""Which drinks were taken for which, by one taster or the table, and which pair to taste next side by side."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np

from scanner.results.counted import counted, right_in
from scanner.results.difficulty import plain_style
from scanner.results.exact import Law, chance_of_total, holm, law_of
from scanner.results.matching_model import orders
from scanner.results.sitting import TasterSitting

SIGNIFICANT = 0.05
FEWEST_WRONG = 10
"""With fewer wrong claims nothing is said of styles."""

PairKey = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Taken:
    """How often one drink was claimed where another stood: `by_luck` is the mean of a guesser with the same claims."""

    stood: str
    claimed: str
    times: int
    by_luck: float


@dataclass(frozen=True, slots=True)
class Pair:
    """Two drinks, or two styles, taken for one another, either way round.

    Attributes
    ----------
    keys, names
        Of both.
    together
        In how many tasters' sittings both were.
    times
        How many claims took one for the other.
    by_luck
        The mean of a guesser with the same claims.
    evenly
        The mean if the wrong claims, as many as there were, had fallen evenly on all pairs of the flight.
    chance, adjusted
        How often errors that fall evenly give as many or more, by itself and by Holm over all pairs; None for styles.
    """

    keys: PairKey
    names: PairKey
    together: int
    times: int
    by_luck: float
    evenly: float
    chance: float | None = None
    adjusted: float | None = None

    @property
    def stands_out(self) -> bool:
        return self.adjusted is not None and self.adjusted <= SIGNIFICANT


@dataclass(frozen=True, slots=True)
class Confusions:
    """What was taken for what. `next_pair` is the one to taste side by side; None where `too_little` says why not."""

    sittings: int
    claims: int
    wrong: int
    taken: tuple[Taken, ...]
    pairs: tuple[Pair, ...]
    styles: tuple[Pair, ...]
    without_style: int
    next_pair: Pair | None
    too_little: str | None


def confusions(sittings: Sequence[TasterSitting]) -> Confusions:
    """Count which drinks were taken for which in all sittings that count, of one taster or of several.

    Notes
    -----
    Luck: each of a guesser's claims meets each drink of the flight with chance 1/n.

    Whether a pair stands out is asked against errors that fall evenly: given the claims made and how many were right in
    each sitting, every key with so many right is equally likely. That holds at any ability under the Mallows model of
    DESIGN, for which the number right is sufficient, so that a good taster's few errors weigh as they should. The law
    of one sitting is enumerated, the sum over sittings is exact as in `exact.chance_of_total`. Tasters are taken to err
    independently given what stood where, also those who share a key. The chance holds for one look at the sittings.

    The pair to taste next has the least chance, of those taken for one another at least twice.
    """
    chosen = counted(sittings).sittings
    pairs = _pairs(chosen)
    wrong = sum(len(_wrong(sitting)) for sitting in chosen)
    taken_twice = [pair for pair in pairs if pair.times >= 2]
    return Confusions(
        sittings=len(chosen),
        claims=sum(claim is not None for sitting in chosen for claim in sitting.claims),
        wrong=wrong,
        taken=_taken(chosen),
        pairs=pairs,
        styles=_styles(chosen),
        without_style=sum(drink.style is None for sitting in chosen for drink in sitting.drinks),
        next_pair=taken_twice[0] if taken_twice else None,
        too_little=None if taken_twice else _what_is_missing(len(chosen), wrong),
    )


def _what_is_missing(sittings: int, wrong: int) -> str:
    if not sittings:
        return "there is no sitting yet with settled claims of which it is known what stood where"
    if not wrong:
        return "no drink was taken for another yet; taste drinks that are nearer to each other"
    return "no two drinks were taken for one another twice yet"


def _wrong(sitting: TasterSitting) -> list[tuple[int, int]]:
    """Return what stood there and what was claimed, by index from nought, wherever a claim is wrong."""
    assert sitting.truth is not None
    return [
        (stood - 1, claim - 1)
        for stood, claim in zip(sitting.truth, sitting.claims, strict=True)
        if claim is not None and claim != stood
    ]


def _taken(sittings: Sequence[TasterSitting]) -> tuple[Taken, ...]:
    times: Counter[PairKey] = Counter()
    by_luck: defaultdict[PairKey, float] = defaultdict(float)
    names = _names(sittings)
    for sitting in sittings:
        keys = [drink.key for drink in sitting.drinks]
        times.update((keys[stood], keys[claim]) for stood, claim in _wrong(sitting))
        for number, claimed in Counter(claim for claim in sitting.claims if claim is not None).items():
            for stood, key in enumerate(keys, start=1):
                if stood != number:
                    by_luck[key, keys[number - 1]] += claimed / sitting.glasses
    ordered = sorted(times, key=lambda pair: (-times[pair], by_luck[pair], pair))
    return tuple(Taken(names[pair[0]], names[pair[1]], times[pair], by_luck[pair]) for pair in ordered)


def _pairs(sittings: Sequence[TasterSitting]) -> tuple[Pair, ...]:
    """Return every two drinks that stood in one flight: the least chance first."""
    times: Counter[PairKey] = Counter()
    by_luck: defaultdict[PairKey, float] = defaultdict(float)
    laws: defaultdict[PairKey, list[Law]] = defaultdict(list)
    for sitting in sittings:
        keys = [drink.key for drink in sitting.drinks]
        times.update(_ordered(keys[stood], keys[claim]) for stood, claim in _wrong(sitting))
        for i, j, luck, law in _laws_of(sitting):
            pair = _ordered(keys[i], keys[j])
            by_luck[pair] += luck
            laws[pair].append(law)
    found = {pair: chance_of_total(laws[pair], times[pair]) for pair in laws}
    # A pair whose count is the same under every key cannot stand out, so it is not paid for.
    tried = [pair for pair in laws if any(law.decides for law in laws[pair])]
    adjusted = dict(zip(tried, holm([found[pair] for pair in tried]), strict=True))
    names = _names(sittings)
    pairs = [
        Pair(
            pair,
            (names[pair[0]], names[pair[1]]),
            len(laws[pair]),
            times[pair],
            by_luck[pair],
            sum(law.mean for law in laws[pair]),
            found[pair],
            adjusted.get(pair, 1.0),
        )
        for pair in laws
    ]
    return tuple(sorted(pairs, key=lambda pair: (pair.chance, -pair.times, pair.keys)))


def _laws_of(sitting: TasterSitting) -> Iterator[tuple[int, int, float, Law]]:
    """Yield each two drinks of the flight with luck's mean and the law of errors that fall evenly."""
    n = sitting.glasses
    claimed = Counter(claim for claim in sitting.claims if claim is not None)
    times = [claimed[number] for number in range(1, n + 1)]
    for i, j in combinations(range(n), 2):
        least, most = sorted((times[i], times[j]))
        others = tuple(sorted(times[:i] + times[i + 1 : j] + times[j + 1 :]))
        yield i, j, (least + most) / n, _pair_law((least, most, *others), right_in(sitting))


@lru_cache(maxsize=4096)
def _pair_law(times: tuple[int, ...], right: int) -> Law:
    """Return the law of how many claims take the first two drinks for one another, over the keys with so many right.

    `times` is how often each of the n drinks is claimed; it does not matter at which places.
    """
    n = len(times)
    claims = np.repeat(np.arange(n), times)
    keys = orders(n)[:, : len(claims)]
    mixed_up = ((keys == 0) & (claims == 1)) | ((keys == 1) & (claims == 0))
    return law_of(mixed_up.sum(axis=1)[(keys == claims).sum(axis=1) == right].tolist())


def _styles(sittings: Sequence[TasterSitting]) -> tuple[Pair, ...]:
    """Return every two styles, or one style twice, that stood in one flight: the most above even errors first."""
    times: Counter[PairKey] = Counter()
    together: Counter[PairKey] = Counter()
    by_luck: defaultdict[PairKey, float] = defaultdict(float)
    evenly: defaultdict[PairKey, float] = defaultdict(float)
    names: dict[str, str] = {}
    for sitting in sittings:
        styles = [plain_style(drink.style) for drink in sitting.drinks]
        names |= {key: drink.style for key, drink in zip(styles, sitting.drinks, strict=True) if drink.style}
        met = set()
        for i, j, luck, law in _laws_of(sitting):
            pair = _ordered(styles[i], styles[j])
            by_luck[pair] += luck
            evenly[pair] += law.mean
            met.add(pair)
        together.update(met)
        times.update(_ordered(styles[stood], styles[claim]) for stood, claim in _wrong(sitting))
    pairs = [
        Pair(pair, (names[pair[0]], names[pair[1]]), together[pair], times[pair], by_luck[pair], evenly[pair])
        for pair in together
        if all(pair)
    ]
    return tuple(sorted(pairs, key=lambda pair: (pair.evenly - pair.times, pair.keys)))


def _names(sittings: Iterable[TasterSitting]) -> dict[str, str]:
    return {drink.key: drink.name for sitting in sittings for drink in sitting.drinks}


def _ordered(one: str, other: str) -> PairKey:
    return (one, other) if one <= other else (other, one)
