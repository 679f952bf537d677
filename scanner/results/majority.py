"""What most tasters say of each glass and who says something else, counted in arrays."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, islice, pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scanner.results.agreement import Floats
from scanner.results.heard import Heard, Truths, Voices, Whole, voices_of

FEWEST_TASTERS = 3
"""With fewer there is no majority to be in or out of."""
FAR_STEPS = 2.0
"""So many steps from the table's median is another strength."""


@dataclass(frozen=True, slots=True)
class Minority:
    """Where a taster differs from the table on one drink.

    Attributes
    ----------
    missed
        The table's words that the taster did not say.
    alone
        The words that nobody else said.
    apart
        The scales on which the taster is FAR_STEPS or more from the table's median, with the steps above it.
    """

    taster: str
    name: str
    missed: tuple[str, ...]
    alone: tuple[str, ...]
    apart: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Majority:
    """What most tasters say of one glass.

    `tasters` noted it; `words` are those of more than half, with how many said them; `strengths` the medians of the
    scales that FEWEST_TASTERS gave a strength on. With fewer tasters than that there is none of it.
    """

    tasters: int
    words: Mapping[str, int]
    strengths: Mapping[str, float]
    minorities: tuple[Minority, ...]


def majorities(heard: Heard) -> list[Majority]:
    """Return what most say of each glass, and who differs; words and scales in the order of the glass's form."""
    voices = voices_of(heard)
    tasters = np.bincount(voices.glass, minlength=heard.glasses)
    found = [Majority(count, {}, {}, ()) for count in tasters.tolist()]
    for words, scales, glasses in _by_form(heard):
        numbers = glasses[tasters[glasses] >= FEWEST_TASTERS]
        if len(numbers):
            rows = np.flatnonzero(np.isin(voices.glass, numbers))
            for number, majority in zip(numbers.tolist(), _of_form(heard, voices, rows, words, scales), strict=True):
                found[number] = majority
    return found


def _by_form(heard: Heard) -> list[tuple[list[str], list[str], Whole]]:
    """Return each form's words, those of other forms last by the alphabet, its scales, and its glasses' numbers."""
    forms: dict[tuple[tuple[str, ...], tuple[str, ...]], list[int]] = {}
    glass = 0
    for kit in heard.kits:
        glasses = range(glass, glass := glass + kit[0].glasses)
        forms.setdefault((kit[0].words, tuple(kit[0].scales)), []).extend(glasses)
    return [
        ([*words, *sorted(heard.words.keys() - set(words))], list(scales), np.array(glasses))
        for (words, scales), glasses in forms.items()
    ]


def _of_form(
    heard: Heard, voices: Voices, rows: Whole, words: Sequence[str], scales: Sequence[str]
) -> Iterator[Majority]:
    """Yield what most say of the glasses of one form, whose voices are in these rows: FEWEST_TASTERS for each."""
    of_scale = {scale: column for column, scale in enumerate(heard.steps)}
    spoken = voices.spoken[rows][:, [heard.words[word] for word in words]]
    strengths = voices.strengths[rows][:, [of_scale[scale] for scale in scales]]
    _, starts, of_glass, tasters = np.unique(
        voices.glass[rows], return_index=True, return_inverse=True, return_counts=True
    )
    times = np.add.reduceat(spoken, starts, axis=0, dtype=np.intp)
    of_most = 2 * times > tasters[:, None]
    medians = _medians(strengths, of_glass, np.arange(len(rows)) - starts[of_glass])
    missed = of_most[of_glass] & ~spoken
    alone = (times == 1)[of_glass] & spoken
    above = strengths - medians[of_glass]
    apart = np.abs(above) >= FAR_STEPS

    differs = np.flatnonzero(missed.any(axis=1) | alone.any(axis=1) | apart.any(axis=1))
    sittings = list(chain.from_iterable(heard.kits))
    minorities = (
        Minority(sittings[number].taster, sittings[number].name, lacked, own, steps)
        for number, lacked, own, steps in zip(
            voices.sitting[rows[differs]].tolist(),
            _names(words, missed[differs]),
            _names(words, alone[differs]),
            _values(scales, apart[differs], above[differs]),
            strict=True,
        )
    )
    for count, differing, most, middles in zip(
        tasters.tolist(),
        np.bincount(of_glass[differs], minlength=len(tasters)).tolist(),
        _values(words, of_most, times),
        _values(scales, ~np.isnan(medians), medians),
        strict=True,
    ):
        yield Majority(count, most, middles, tuple(islice(minorities, differing)))


def _medians(strengths: Floats, of_glass: Whole, seat: Whole) -> Floats:
    """Return each glass's median on each scale, NaN where fewer than FEWEST_TASTERS gave a strength."""
    by_seat = np.full((int(of_glass[-1]) + 1, int(seat.max()) + 1, strengths.shape[1]), np.nan)
    by_seat[of_glass, seat] = strengths
    # NaN comes last.
    by_seat.sort(axis=1)
    count = (~np.isnan(by_seat)).sum(axis=1)
    low, high = (np.take_along_axis(by_seat, at[:, None], axis=1)[:, 0] for at in ((count - 1) // 2, count // 2))
    return np.where(count >= FEWEST_TASTERS, (low + high) / 2, np.nan)


def _names(names: Sequence[str], chosen: Truths) -> Iterator[tuple[str, ...]]:
    """Yield for each row the names of the columns chosen."""
    found = tuple([names[column] for column in np.nonzero(chosen)[1].tolist()])
    for start, end in pairwise([0, *np.cumsum(chosen.sum(axis=1)).tolist()]):
        yield found[start:end]


def _values(names: Sequence[str], chosen: Truths, values: NDArray[Any]) -> Iterator[dict[str, Any]]:
    """Yield for each row the names of the columns chosen, with their values."""
    of_chosen = iter(values[chosen].tolist())
    for row in _names(names, chosen):
        yield dict(zip(row, of_chosen))  # noqa: B905 - the values go on with the next row
