"""How well the words and strengths of round one and two agree, over all drinks of all sittings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from scanner.results.agreement import alpha_of_counts, icc
from scanner.results.leave_one_out import Spread, alpha_interval, icc_interval

FEWEST_PAIRS = 10
"""Of strengths, before an agreement coefficient is given."""

Strengths = Mapping[str, int]
Times = tuple[int, int, int, int]
"""Of one sitting: words kept, dropped, new, and how many were on offer, over all its drinks."""


@dataclass(frozen=True, slots=True)
class WordAgreement:
    """How well the words of round one and two agree, over all drinks.

    `interval` is what alpha's value is known to, by whole sittings; None where `interval_lacks` says why.
    """

    kept: int
    dropped: int
    new: int
    mean_jaccard: float | None
    alpha: float | None
    interval: tuple[float, float] | None = None
    interval_lacks: str | None = None


@dataclass(frozen=True, slots=True)
class ScaleAgreement:
    """How well the strengths of round one and two agree on one scale; `icc` is ICC(2,1), None where `too_little`.

    `interval` is what its value is known to, by whole sittings; None where `interval_lacks` says why.
    """

    scale: str
    pairs: int
    mean_shift: float | None
    mean_apart: float | None
    icc: float | None
    too_little: str | None
    interval: tuple[float, float] | None = None
    interval_lacks: str | None = None


def word_agreement(times: Sequence[Times], jaccards: Sequence[float | None]) -> WordAgreement:
    """Return how well words agree, from each sitting's counts and each drink's Jaccard coefficient."""
    counts = np.array(times, np.intp).reshape(-1, 4)
    kept, dropped, new, offered = counts.T
    shares = [share for share in jaccards if share is not None]
    words = (int(kept.sum()), int(dropped.sum()), int(new.sum()), sum(shares) / len(shares) if shares else None)
    # Two codings, said or not, of each word the form offered for each drink.
    by_kind = np.stack([kept, dropped + new, offered - kept - dropped - new], axis=1)
    codings = np.repeat(np.tile([[0.0, 2.0], [1.0, 1.0], [2.0, 0.0]], (len(counts), 1)), by_kind.ravel(), axis=0)
    values = np.array([0.0, 1.0])
    alpha = alpha_of_counts(codings, values) if len(codings) else None
    if alpha is None:
        return WordAgreement(*words, None)
    spread = alpha_interval(codings, values, np.repeat(np.arange(len(counts)), offered))
    return WordAgreement(*words, alpha, spread.interval, spread.lacks)


def scale_agreement(
    rounds: Sequence[tuple[int, Strengths, Strengths]], scales: Sequence[str]
) -> tuple[ScaleAgreement, ...]:
    """Return how well strengths agree on each scale, from each drink's sitting by its number and strengths."""
    return tuple(_one_scale(scale, rounds) for scale in scales)


def _one_scale(scale: str, rounds: Sequence[tuple[int, Strengths, Strengths]]) -> ScaleAgreement:
    both = [(number, one[scale], other[scale]) for number, one, other in rounds if scale in one and scale in other]
    if not both:
        return ScaleAgreement(scale, 0, None, None, None, "no drink has a strength on it in both rounds")
    whole = np.array(both, np.intp)
    of_sitting, table = whole[:, 0], whole[:, 1:].astype(float)
    shifts = table[:, 1] - table[:, 0]
    coefficient, too_little, spread = None, None, Spread(None, None)
    if len(both) < FEWEST_PAIRS:
        have = "drinks have" if len(both) > 1 else "drink has"
        too_little = f"{len(both)} {have} it in both rounds; {FEWEST_PAIRS} are needed"
    else:
        found = icc(table)
        coefficient = None if found is None else found.icc_2_1
        too_little = "every strength is the same" if coefficient is None else None
        spread = spread if coefficient is None else icc_interval(table, of_sitting)
    apart = float(np.abs(shifts).mean())
    return ScaleAgreement(
        scale, len(both), float(shifts.mean()), apart, coefficient, too_little, spread.interval, spread.lacks
    )
