"""How able a taster is over many sittings, on one scale for flights of any size, with an exact interval."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import factorial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scanner.results.counted import Counts, counted
from scanner.results.sitting import TasterSitting

CONFIDENCE = 0.95
FACE_GLASSES = 5
WIDE = 2.0
"""An interval wider than this on the face, in glasses of five, is too wide to tell anything by."""

MANY = 20
"""So many pairs of laws and more are summed together, fewer each by itself."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Ability:
    """A taster's ability θ, nought for a guesser, over all sittings taken together as if it had not changed.

    `estimate` is the maximum of likelihood; `low` and `high` are the ends of the exact interval. All right so far:
    estimate and `high` are None, for no finite value is too high; none right: estimate and `low` are None. `face` and
    its interval are the same as correct of five on a middling flight, always within 0 … 5. All are None where
    `too_little` says what is missing.
    """

    sittings: int
    correct: int
    of: int
    confidence: float
    estimate: float | None
    low: float | None
    high: float | None
    too_little: str | None = None

    @property
    def face(self) -> float | None:
        """The number correct of five on a middling flight."""
        if self.too_little is not None:
            return None
        if self.estimate is None:
            return 0.0 if self.low is None else float(FACE_GLASSES)
        return face_of(self.estimate)

    @property
    def face_interval(self) -> tuple[float, float] | None:
        """The interval on the face: one end of it is 0 or 5 where the ability's is open."""
        if self.too_little is not None:
            return None
        return (
            0.0 if self.low is None else face_of(self.low),
            float(FACE_GLASSES) if self.high is None else face_of(self.high),
        )


def ability(
    sittings: Sequence[TasterSitting],
    difficulties: Sequence[float] | None = None,
    confidence: float = CONFIDENCE,
) -> Ability:
    """Estimate a taster's ability from all their sittings that count.

    Parameters
    ----------
    sittings : sequence of TasterSitting
    difficulties : sequence of float, one for each sitting that counts, by date
        What the flight takes off the ability, nought for a middling one, taken as known: the interval does not pay for
        how uncertain they are. Left out, all are middling.
    confidence : float
        Of the interval.

    Notes
    -----
    See `fit`.
    """
    chosen = counted(sittings)
    correct, of = sum(chosen.correct), chosen.of
    if not chosen.sittings:
        missing = "there is no sitting yet with settled claims of which it is known what stood where"
        return Ability(0, 0, 0, confidence, None, None, None, missing)
    found = fit(chosen.counts, correct, difficulties, confidence)
    if found is None:
        missing = "with numbers claimed so often, every key gives the same number right"
        return Ability(len(chosen.sittings), correct, of, confidence, None, None, None, missing)
    return Ability(len(chosen.sittings), correct, of, confidence, *found)


def fit(
    counts: Sequence[Counts], correct: int, difficulties: Sequence[float] | None = None, confidence: float = CONFIDENCE
) -> tuple[float | None, float | None, float | None] | None:
    """Return the maximum of likelihood of θ and the ends of its exact interval, each None where it is infinite.

    None for all where the total is the same under every key.

    Notes
    -----
    P_θ(k) ∝ P_0(k)·e^{θk} for a sitting with θ = a − d, its flight's difficulty: the Mallows model with Hamming
    distance [1]_, given the claims made. Of a the total T is sufficient, with P_a(T) ∝ w(T)·e^{aT}, where w is the
    convolution of the sittings' P_0(k)·e^{−dk}. So the estimate has E_a[T] equal to the total; the interval's ends are
    the a with P_a(T ≥ t) = (1 − confidence)/2 and with P_a(T ≤ t) = (1 − confidence)/2, as Clopper and Pearson's.

    References
    ----------
    .. [1] M. A. Fligner and J. S. Verducci, J. R. Stat. Soc. B 48 (1986) 359–369.
    """
    shifts = np.zeros(len(counts)) if difficulties is None else np.asarray(difficulties, float)
    if len(shifts) != len(counts):
        raise ValueError(f"{len(shifts)} difficulties for {len(counts)} sittings")
    table = padded(counts)
    lowest, highest = extremes(table)
    if not lowest <= correct <= highest:
        raise ValueError(f"{correct} correct: allowed are {lowest} to {highest}")
    if lowest == highest:
        return None
    # The law is summed where it has its mass near the total: far from there its floats would come to nothing.
    centre = likeliest(table, shifts, correct)
    weights = laws_of_totals(table, (centre - shifts)[None])[0]
    totals = np.flatnonzero(weights)
    logs, totals = np.log(weights[totals]), totals - correct
    tail = (1 - confidence) / 2
    low = high = None
    if correct > lowest:
        low = root(lambda a: _share(logs, totals, a - centre, totals >= 0) - tail, centre)
    if correct < highest:
        high = root(lambda a: tail - _share(logs, totals, a - centre, totals <= 0), centre)
    return (centre if lowest < correct < highest else None), low, high


def extremes(table: Floats) -> tuple[int, int]:
    """Return the least and the greatest total that a table of guessing laws allows."""
    possible = table > 0
    return int(possible.argmax(axis=1).sum()), int((table.shape[1] - 1 - possible[:, ::-1].argmax(axis=1)).sum())


def likeliest(table: Floats, shifts: Floats, correct: int) -> float:
    """Return the ability whose mean total is the total correct; at an extreme total, that of half a claim less far."""
    lowest, highest = extremes(table)
    if lowest == highest:
        return 0.0
    inner = min(max(correct, lowest + 0.5), highest - 0.5)
    return root(lambda a: _mean_total(table, a - shifts) - inner, float(shifts.mean()))


def face_of(theta: float) -> float:
    """Return the number correct of five that this θ has on average, with claims that do not repeat.

    Examples
    --------
    >>> face_of(0.0), round(face_of(1.0), 6)
    (1.0, 2.656904)
    """
    return float(faces(np.array([theta]))[0])


def faces(thetas: Floats, glasses: int = FACE_GLASSES) -> Floats:
    """Return the mean correct of n glasses for an array of θ.

    It is t·S_{n−1}(t)/S_n(t) with t = e^θ and S_n(t) = Σ_{j≤n} (t − 1)^j/j!, for E_0[t^K] = S_n(t).
    """
    # Divided by t^n, so that nothing overflows: with u = 1/t, (t − 1)^j/t^n = (1 − u)^j·u^(n − j).
    u = t = np.exp(-np.abs(thetas))
    high = sum((1 - u) ** j * u ** (glasses - j) / factorial(j) for j in range(glasses + 1))
    high_less = sum((1 - u) ** j * u ** (glasses - 1 - j) / factorial(j) for j in range(glasses))
    low = sum((t - 1) ** j / factorial(j) for j in range(glasses + 1))
    low_less = sum((t - 1) ** j / factorial(j) for j in range(glasses))
    return np.clip(np.where(thetas >= 0, high_less / high, t * low_less / low), 0, glasses)


def theta_of_face(correct_of_five: float) -> float:
    """Return the θ with this mean number correct of five, which lies between 0 and 5.

    Examples
    --------
    >>> abs(round(theta_of_face(1.0), 9))
    0.0
    """
    if not 0 < correct_of_five < FACE_GLASSES:
        raise ValueError(f"{correct_of_five} of five on average: allowed is what lies between 0 and 5")
    return root(lambda theta: face_of(theta) - correct_of_five, 0.0)


def padded(counts: Sequence[Counts]) -> Floats:
    """Return the laws of guessing as an array, a row for each sitting, noughts where there are fewer glasses."""
    width = max(map(len, counts))
    table = np.zeros((len(counts), width))
    for row, law in enumerate(counts):
        table[row, : len(law)] = law
    return table


def tilted(table: Floats, thetas: Floats) -> Floats:
    """Return P_θ(k) for each row of an (m, K) table of guessing laws: (…, m, K) for (…, m) values of θ."""
    exponents = thetas[..., None] * np.arange(table.shape[1])
    law = table * np.exp(exponents - exponents.max(axis=-1, keepdims=True))
    chances: Floats = law / law.sum(axis=-1, keepdims=True)
    return chances


def laws_of_totals(table: Floats, thetas: Floats) -> Floats:
    """Return the law of the total over the rows of an (m, K) table of guessing laws: (W, ·) for (W, m) values of θ."""
    laws = tilted(table, thetas)
    longest = len(table) * (table.shape[1] - 1) + 1
    while laws.shape[1] > 1:
        if laws.shape[1] % 2:
            certain = np.zeros((len(laws), 1, laws.shape[2]))
            certain[..., 0] = 1
            laws = np.concatenate([laws, certain], axis=1)
        laws = _summed(laws[:, ::2], laws[:, 1::2])
    return laws[:, 0, :longest]


def sentences(found: Ability) -> tuple[str, ...]:
    """Say a taster's ability in plain words."""
    if found.too_little is not None:
        return (f"Too little to tell: {found.too_little}.",)
    face, interval = found.face, found.face_interval
    assert face is not None
    assert interval is not None
    over = "one sitting" if found.sittings == 1 else f"{found.sittings} sittings"
    sure = f"{found.confidence:.0%} interval"
    if found.high is None:
        said = f"As well as can be in {over}: at least {interval[0]:.1f} of five on a middling flight ({sure})"
    elif found.low is None:
        said = f"As badly as can be in {over}: at most {interval[1]:.1f} of five on a middling flight ({sure})"
    else:
        said = (
            f"About {face:.1f} of five on a middling flight, and somewhere from {interval[0]:.1f} to {interval[1]:.1f} "
            f"({sure}, {over})"
        )
    said += "; guessing has 1.0."
    if interval[1] < 1:
        return said, "That is less than guessing: look whether places and numbers were mixed up."
    if interval[1] - interval[0] > WIDE:
        return said, "That is too little to tell much: the interval narrows with every sitting."
    return (said,)


def to_json(found: Ability) -> dict[str, Any]:
    """Return the result as a JSON object; an end that is open is null."""
    return {
        "sittings": found.sittings,
        "correct": found.correct,
        "of": found.of,
        "too_little": found.too_little,
        "ability": found.estimate,
        "ability_interval": None if found.too_little else [found.low, found.high],
        "correct_of_five": found.face,
        "correct_of_five_interval": None if found.face_interval is None else list(found.face_interval),
        "confidence": found.confidence,
    }


def _mean_total(table: Floats, thetas: Floats) -> float:
    return float((tilted(table, thetas) @ np.arange(table.shape[1])).sum())


def _summed(first: Floats, second: Floats) -> Floats:
    """Return the laws of the sums of pairs of independent counts: (…, L) and (…, L) to (…, 2L − 1)."""
    length = first.shape[-1]
    total = np.zeros((*first.shape[:-1], 2 * length - 1))
    if total.size > total.shape[-1] * MANY:
        for at in range(length):
            total[..., at : at + length] += first[..., at : at + 1] * second
    else:
        for place in np.ndindex(first.shape[:-1]):
            total[place] = np.convolve(first[place], second[place])
    return total


def _share(logs: Floats, totals: NDArray[np.intp], tilt: float, chosen: NDArray[np.bool_]) -> float:
    exponents = logs + tilt * totals
    law = np.exp(exponents - exponents.max())
    return float(law[chosen].sum() / law.sum())


def root(rising: Callable[[float], float], near: float) -> float:
    """Return where a rising function is nought, to about 1e-10: bracketed first, then halved."""
    step = 0.5
    low, high = near - step, near + step
    while rising(low) > 0:
        low, step = low - step, 2 * step
    while rising(high) < 0:
        high, step = high + step, 2 * step
    while high - low > 1e-10 * max(1.0, abs(low), abs(high)):
        middle = (low + high) / 2
        if rising(middle) < 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2
