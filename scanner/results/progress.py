"""Whether a taster got better: the ability's course, two exact comparisons beside it, and what flights may have hidden.

The comparisons need no model of how ability moves. Given the total of two runs of sittings, the share of the later run
has a law that is free of the ability: w_1(s − t)·w_2(t), as in Fisher's exact test. It holds for one look.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from scanner.results.ability import CONFIDENCE, Floats, laws_of_totals, likeliest, padded
from scanner.results.ability_course import WEIGHTS, Course, course
from scanner.results.counted import Counts, counted
from scanner.results.luck import times
from scanner.results.sitting import TasterSitting

FEWEST_SITTINGS = 10
"""Below this no change of ability is spoken of."""
RUN = 10
SIGNIFICANT = 0.05
NOTABLE = 0.2
"""By so much of θ harder or easier flights, at weight one, are told of."""
NEGLIGIBLE = 1e-3
"""A weight of the difficulty less probable than this is not looked at, if it is not plausible."""

Change = Literal["rise", "fall", "none seen"]
Verdict = Literal["rise", "fall", "none seen", "not to be told from the flights", "too little"]


@dataclass(frozen=True, slots=True)
class Comparison:
    """A later run of sittings against an earlier one.

    `p_value` is the exact chance, with ability unchanged, of a difference as great either way (twice the smaller tail),
    averaged over what the flights' difficulty may weigh. `at_some_weight`: whether it is small at a plausible weight.
    """

    sittings: tuple[int, int]
    correct: tuple[int, int]
    of: tuple[int, int]
    p_value: float
    better: bool
    at_some_weight: bool

    @property
    def change(self) -> Change:
        if self.p_value > SIGNIFICANT:
            return "none seen"
        return "rise" if self.better else "fall"


@dataclass(frozen=True, slots=True)
class Progress:
    """The course of a taster's ability.

    `halves` compares the later half of all sittings with the earlier, `last_ten` the last ten with the ten before;
    None with too few. `flights_harder_by` is by how much more difficult the later half's flights were, at weight one;
    None where no difficulties are known. `plausible_weights` are the ends of what the difficulty's weight may be.
    """

    sittings: int
    course: Course | None
    halves: Comparison | None
    last_ten: Comparison | None
    verdict: Verdict
    flights_harder_by: float | None
    plausible_weights: tuple[float, float]


def progress(
    sittings: Sequence[TasterSitting], difficulties: Sequence[float] | None = None, confidence: float = CONFIDENCE
) -> Progress:
    """Follow a taster's ability, and say whether it changed.

    Parameters
    ----------
    sittings : sequence of TasterSitting
    difficulties : sequence of float, one for each sitting that counts, by date
        At weight one; left out, nothing is known of them.
    confidence : float
        Of the band.
    """
    chosen = counted(sittings)
    return follow(chosen.counts, chosen.correct, difficulties, confidence)


def follow(
    counts: Sequence[Counts],
    correct: Sequence[int],
    difficulties: Sequence[float] | None = None,
    confidence: float = CONFIDENCE,
) -> Progress:
    """Follow the ability over sittings given by their laws of guessing and numbers correct, in the order of dates."""
    sittings = len(counts)
    if not sittings:
        return Progress(0, None, None, None, "too little", None, (0.0, 0.0))
    path = course(counts, correct, difficulties, confidence)
    offsets = np.zeros(sittings) if difficulties is None else np.asarray(difficulties, float)
    half = sittings // 2
    harder = None if difficulties is None else float(offsets[half:].mean() - offsets[: half or None].mean())
    if sittings < FEWEST_SITTINGS:
        return Progress(sittings, path, None, None, "too little", harder, path.plausible_weights)
    runs = (half, sittings - half), (RUN, RUN)
    halves, last_ten = (compare(counts, correct, *run, offsets, path) if sum(run) <= sittings else None for run in runs)
    assert halves is not None
    hidden = halves.change == "none seen" and halves.at_some_weight
    verdict: Verdict = "not to be told from the flights" if hidden else halves.change
    return Progress(sittings, path, halves, last_ten, verdict, harder, path.plausible_weights)


def compare(
    counts: Sequence[Counts],
    correct: Sequence[int],
    before: int,
    after: int,
    difficulties: Floats | None = None,
    path: Course | None = None,
) -> Comparison:
    """Compare the last `after` sittings with the `before` ones before them.

    Parameters
    ----------
    counts, correct
        Of all sittings, in the order of dates.
    before, after : int
    difficulties : (m,) array of float
        At weight one; left out, all flights are alike.
    path : Course
        Which weights are how probable; left out, difficulties weigh one.

    Notes
    -----
    With w_1 and w_2 the sums' laws at any one ability, the later total t given the total s of both is distributed as
    w_1(s − t)·w_2(t), whatever the ability: it cancels.
    """
    run = slice(len(counts) - before - after, None)
    table, right = padded(counts[run]), np.array(correct[run])
    offsets = np.zeros(len(table)) if difficulties is None else difficulties[run]
    chances = np.where(WEIGHTS == 1, 1.0, 0.0) if path is None else path.weights_chance
    low, high = (1.0, 1.0) if path is None else path.plausible_weights
    tried = (chances > NEGLIGIBLE) | ((low <= WEIGHTS) & (high >= WEIGHTS))
    weights, chances = WEIGHTS[tried], chances[tried] / chances[tried].sum()
    later = int(right[before:].sum())
    law = _law_of_later(table, weights[:, None] * offsets, before, int(right.sum()))
    up, down = law[:, later:].sum(axis=1), law[:, : later + 1].sum(axis=1)
    small = 2 * np.minimum(up, down) <= SIGNIFICANT
    above, below = float(chances @ up), float(chances @ down)
    glasses = [len(law) - 1 for law in counts[run]]
    return Comparison(
        sittings=(before, after),
        correct=(int(right[:before].sum()), later),
        of=(sum(glasses[:before]), sum(glasses[before:])),
        p_value=min(1.0, 2 * min(above, below)),
        better=above < below,
        at_some_weight=bool(small[(low <= weights) & (weights <= high)].any()),
    )


def sentences(found: Progress) -> tuple[str, ...]:
    """Say in plain words how ability moved, and whether that can be told from luck and from the flights."""
    if found.course is None:
        return ("Too little to tell: there is no sitting that counts.",)
    if found.halves is None:
        missing = FEWEST_SITTINGS - found.sittings
        return (
            "Too little to tell of progress: "
            f"{found.sittings} sitting{'s count' if found.sittings > 1 else ' counts'}, "
            f"{missing} more {'are' if missing > 1 else 'is'} needed.",
        )
    first, last = found.course.smoothed[0], found.course.smoothed[-1]
    said = [
        f"Now about {last[1]:.1f} of five on a middling flight (from {last[0]:.1f} to {last[2]:.1f}); "
        f"at the first sitting about {first[1]:.1f} (from {first[0]:.1f} to {first[2]:.1f}).",
        _verdict(found, found.halves),
    ]
    if found.last_ten is not None:
        said.append(f"The last ten sittings against the ten before: {_compared(found.last_ten)}.")
    if found.flights_harder_by is None:
        said.append(
            "How alike the drinks of each flight were is not known: a rise could come of easier flights, and harder "
            "ones could hide one."
        )
    return tuple(said)


def to_json(found: Progress) -> dict[str, Any]:
    """Return the result as a JSON object; bands as rows of low end, median, high end."""
    path = found.course
    return {
        "sittings": found.sittings,
        "verdict": found.verdict,
        "step_width": None if path is None else path.step_width,
        "difficulty_weight": None if path is None else path.weight,
        "plausible_difficulty_weights": list(found.plausible_weights),
        "flights_harder_by": found.flights_harder_by,
        "later_half_against_earlier": None if found.halves is None else _comparison_json(found.halves),
        "last_ten_against_ten_before": None if found.last_ten is None else _comparison_json(found.last_ten),
        "correct_of_five": None if path is None else np.round(path.smoothed, 4).tolist(),
        "correct_of_five_as_known_then": None if path is None else np.round(path.filtered, 4).tolist(),
    }


def _law_of_later(table: Floats, offsets: Floats, before: int, total: int) -> Floats:
    """Return the law of the later total given the total of both runs, for each row of difficulties: (W, total + 1)."""
    near = likeliest(table, offsets[0], total) + (offsets - offsets[0]).mean(axis=1)
    thetas = near[:, None] - offsets
    first = laws_of_totals(table[:before], thetas[:, :before])
    second = laws_of_totals(table[before:], thetas[:, before:])
    t = np.arange(max(0, total - first.shape[1] + 1), min(second.shape[1] - 1, total) + 1)
    law = np.zeros((len(offsets), total + 1))
    law[:, t] = first[:, total - t] * second[:, t]
    law /= law.sum(axis=1, keepdims=True)
    return law


def _verdict(found: Progress, halves: Comparison) -> str:
    compared = f"later half against earlier: {_compared(halves)}"
    if found.verdict == "rise":
        return f"Ability rose ({compared})."
    if found.verdict == "fall":
        return f"Ability fell ({compared})."
    if found.verdict == "none seen":
        said = f"No change that can be told from luck ({compared})."
        if found.flights_harder_by is None or abs(found.flights_harder_by) < NOTABLE:
            return said
        hidden = "a rise" if found.flights_harder_by > 0 else "a fall"
        return f"{said} The flights became {_changed(found)} meanwhile, which may have hidden {hidden}."
    return (
        f"Whether ability changed cannot be told from the flights having become {_changed(found)}: it depends on how "
        f"much the drinks' likeness weighs, and the sittings do not settle that yet ({compared}). Flights as hard as "
        "the first ones, now and then, would settle it."
    )


def _changed(found: Progress) -> str:
    assert found.flights_harder_by is not None
    return "harder" if found.flights_harder_by > 0 else "easier"


def _compared(pair: Comparison) -> str:
    (before, after), (of_before, of_after) = pair.correct, pair.of
    return (
        f"{after} of {of_after} after {before} of {of_before}; with ability unchanged so great a difference comes "
        f"{times(pair.p_value)}"
    )


def _comparison_json(pair: Comparison) -> dict[str, Any]:
    return {
        "sittings": list(pair.sittings),
        "correct": list(pair.correct),
        "of": list(pair.of),
        "p_value": pair.p_value,
        "change": pair.change,
    }
