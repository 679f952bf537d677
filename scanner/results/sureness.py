"""Whether a taster's word of certainty is worth anything: how many claims were right by guess, leaning and sure.

The places of one sitting depend on each other, so intervals come from resampling whole sittings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from scanner.bounds import interval
from scanner.claims import CERTAINTIES
from scanner.results.counted import counted
from scanner.results.sitting import TasterSitting

CONFIDENCE = 0.95
FEWEST_SITTINGS = 10
RESAMPLES = 1000
SEED = 20_06
"""Fixed, so that the same sittings give the same report."""

Verdict = Literal["sure is right more often", "guess is right more often", "no difference seen", "too little"]


@dataclass(frozen=True, slots=True)
class ByWord:
    """The claims with one word of certainty; `interval` of their share right, None below ten sittings with the word."""

    word: str
    sittings: int
    correct: int
    claims: int
    interval: tuple[float, float] | None

    @property
    def share(self) -> float | None:
        return self.correct / self.claims if self.claims else None


@dataclass(frozen=True, slots=True)
class Sureness:
    """The claims by word of certainty, from guess to sure; `without_word` is how many claims had none.

    `difference` is the interval of the share right when sure less that when guessing.
    """

    sittings: int
    words: tuple[ByWord, ...]
    without_word: int
    difference: tuple[float, float] | None
    verdict: Verdict


def sureness(sittings: Sequence[TasterSitting], confidence: float = CONFIDENCE) -> Sureness:
    """Compare a taster's words of certainty with what was right, over all sittings that count.

    Notes
    -----
    Percentile intervals of the ratio of right claims to claims, over `RESAMPLES` draws of as many sittings with
    replacement, from a generator of fixed seed. Where all the claims with a word were right, or none, resampling shows
    nothing: there the interval is Clopper and Pearson's with each sitting counted once.
    """
    chosen = counted(sittings).sittings
    claims, right = _tables(chosen)
    with_word = (claims > 0).sum(axis=0)
    drawn = _resampled(claims, right)
    words = tuple(
        ByWord(
            word=word,
            sittings=int(with_word[at]),
            correct=int(right[:, at].sum()),
            claims=int(claims[:, at].sum()),
            interval=_interval(drawn[:, at], right[:, at], claims[:, at], confidence)
            if with_word[at] >= FEWEST_SITTINGS
            else None,
        )
        for at, word in enumerate(CERTAINTIES)
    )
    made = sum(claim is not None for sitting in chosen for claim in sitting.claims)
    difference = _difference(drawn, words, confidence)
    return Sureness(len(chosen), words, made - int(claims.sum()), difference, _verdict(difference))


def sentences(found: Sureness) -> tuple[str, ...]:
    """Say in plain words how much the words of certainty told."""
    said = [_said(word) for word in found.words if word.claims]
    if not said:
        return ("Too little to tell of certainty: no claim that counts says how sure it is.",)
    if found.difference is None:
        lacking = [f"{word.word} {word.sittings}" for word in found.words if word.interval is None]
        said.append(
            f"Too little to tell whether sure means more than guess: each word needs {FEWEST_SITTINGS} sittings in "
            f"which it was used; so far {', '.join(lacking)}."
            if lacking
            else "Too little to tell whether sure means more than guess."
        )
        return tuple(said)
    low, high = found.difference
    between = f"the difference lies between {_points(low)} and {_points(high)} percentage points"
    if found.verdict == "sure is right more often":
        said.append(f"What you are sure of is right more often than what you guess: {between}.")
    elif found.verdict == "guess is right more often":
        said.append(f"What you are sure of is right less often than what you guess: {between}.")
    else:
        said.append(f"Whether sure means more than guess cannot be told from luck: {between}.")
    return tuple(said)


def to_json(found: Sureness) -> dict[str, Any]:
    """Return the result as a JSON object."""
    return {
        "sittings": found.sittings,
        "verdict": found.verdict,
        "sure_less_guess_interval": None if found.difference is None else list(found.difference),
        "claims_without_word": found.without_word,
        "words": [
            {
                "word": word.word,
                "sittings": word.sittings,
                "correct": word.correct,
                "claims": word.claims,
                "share": word.share,
                "interval": None if word.interval is None else list(word.interval),
            }
            for word in found.words
        ],
    }


def _tables(sittings: Sequence[TasterSitting]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the claims, and the right ones, of each sitting by word: (m, 3) each."""
    claims = np.zeros((len(sittings), len(CERTAINTIES)), np.int64)
    right = np.zeros_like(claims)
    column = {word: at for at, word in enumerate(CERTAINTIES)}
    for row, sitting in enumerate(sittings):
        assert sitting.truth is not None
        for claim, stood, word in zip(sitting.claims, sitting.truth, sitting.sure, strict=True):
            if claim is not None and word is not None:
                claims[row, column[word]] += 1
                right[row, column[word]] += claim == stood
    return claims, right


def _resampled(claims: NDArray[np.int64], right: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the share right of each word in each resample, NaN where a resample has no claim with it."""
    sittings = len(claims)
    if sittings < FEWEST_SITTINGS:
        return np.empty((0, claims.shape[1]))
    chance = np.random.default_rng(SEED)
    drawn = chance.integers(0, sittings, (RESAMPLES, sittings)) + sittings * np.arange(RESAMPLES)[:, None]
    often = np.bincount(drawn.ravel(), minlength=RESAMPLES * sittings).reshape(RESAMPLES, sittings).astype(float)
    of, rights = often @ claims, often @ right
    shares = np.full(of.shape, np.nan)
    np.divide(rights, of, out=shares, where=of > 0)
    return shares


def _interval(
    drawn: NDArray[np.float64], right: NDArray[np.int64], claims: NDArray[np.int64], confidence: float
) -> tuple[float, float]:
    used = int((claims > 0).sum())
    if right.sum() in (0, claims.sum()):
        return interval(used if right.sum() else 0, used, confidence)
    return _percentiles(drawn, confidence)


def _difference(drawn: NDArray[np.float64], words: Sequence[ByWord], confidence: float) -> tuple[float, float] | None:
    """Return the interval of sure less guess, None where either has too few sittings."""
    guess, sure = words[0], words[-1]
    if guess.interval is None or sure.interval is None:
        return None
    if 0 < guess.correct < guess.claims and 0 < sure.correct < sure.claims:
        return _percentiles(drawn[:, -1] - drawn[:, 0], confidence)
    # One of them does not vary: the ends of both intervals, which is wider than need be.
    return sure.interval[0] - guess.interval[1], sure.interval[1] - guess.interval[0]


def _percentiles(drawn: NDArray[np.float64], confidence: float) -> tuple[float, float]:
    low, high = np.nanquantile(drawn, ((1 - confidence) / 2, (1 + confidence) / 2))
    return float(low), float(high)


def _verdict(difference: tuple[float, float] | None) -> Verdict:
    if difference is None:
        return "too little"
    if difference[0] > 0:
        return "sure is right more often"
    return "guess is right more often" if difference[1] < 0 else "no difference seen"


def _said(word: ByWord) -> str:
    said = f"{word.word}: {word.correct} of {word.claims} right"
    if word.interval is None:
        return f"{said}."
    return f"{said}, {word.share:.0%} (from {word.interval[0]:.0%} to {word.interval[1]:.0%})."


def _points(share: float) -> str:
    return f"{100 * share:.0f}".replace("-", "−")
