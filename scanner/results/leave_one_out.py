"""How well a coefficient of agreement is known: its interval by leaving out one whole sitting after the other.

The notes of one sitting are not independent of each other, so that sittings, not notes, are what is left out.

References
----------
.. [1] J. W. Tukey, Ann. Math. Stat. 29 (1958) 614: the jackknife, with Student's t [memory].
.. [2] M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 26.7.5: Student's t from the normal [memory].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scanner.results.agreement import Floats, Level

FEWEST_SITTINGS = 10
NORMAL_975 = 1.959964
"""Below it lie 97.5 % of the standard normal law."""
NEVER_APART = "there is nearly no disagreement to tell it by"

Whole = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Spread:
    """A coefficient, None where there is none, and its 95 % interval, None where `lacks` says what is missing."""

    interval: tuple[float, float] | None
    lacks: str | None
    coefficient: float | None = None


def alpha_interval(counts: Floats, values: Floats, sittings: Whole, level: Level = "nominal") -> Spread:
    """Return Krippendorff's alpha, as `agreement.alpha_of_counts` has it, and its interval.

    Parameters
    ----------
    counts : (units, values) array of float
        How often each value was given to each unit.
    values : (values,) array of float, ascending
    sittings : (units,) array of int
        The number of each unit's sitting.

    Notes
    -----
    See `_spread`; 1 − α is D_o/D_e.
    """
    given = counts.sum(axis=1)
    is_paired = given >= 2
    paired, share = counts[is_paired].T, 1 / (given[is_paired] - 1)
    # Two values at a time: one value is at no distance from itself.
    low, high = np.triu_indices(len(values), 1)
    sums = _but_one(np.concatenate([paired[low] * paired[high] * share, paired]), sittings[is_paired])
    observed, of_value = sums[: len(low)], sums[len(low) :]
    expected = of_value[low] * of_value[high] / (of_value.sum(axis=0) - 1)
    apart = _squared_differences(values, of_value, level, low, high)
    return _spread((observed * apart).sum(axis=0), (expected * apart).sum(axis=0))


def icc_interval(ratings: Floats, sittings: Whole) -> Spread:
    """Return the interval of ICC(2,1) of two ratings of each target (`agreement.icc`).

    Parameters
    ----------
    ratings : (targets, 2) array of float
    sittings : (targets,) array of int
        The number of each target's sitting.

    Notes
    -----
    See `_spread`; by the mean squares of Shrout and Fleiss, which follow from sums, squares and products.
    """
    one, other = ratings.T
    sums = np.stack([np.ones(len(one)), one, other, one * one, other * other, one * other])
    n, x, y, xx, yy, xy = _but_one(sums, sittings)
    mean = (x + y) / (2 * n)
    between = (xx + 2 * xy + yy) / 2 - 2 * n * mean**2
    raters = n * ((x / n - mean) ** 2 + (y / n - mean) ** 2)
    rest = np.maximum(xx + yy - 2 * n * mean**2 - between - raters, 0.0)
    bms, jms, ems = between / (n - 1), raters, rest / (n - 1)
    below = bms + ems + 2 * (jms - ems) / n
    return _spread(below - (bms - ems), below)


def student_975(freedom: float) -> float:
    """Return the value below which 97.5 % of Student's t lie, to three places from nine degrees of freedom on [2]_.

    Examples
    --------
    >>> round(student_975(9), 3), round(student_975(100), 3)
    (2.262, 1.984)
    """
    z = NORMAL_975
    terms = (
        (z**3 + z) / 4,
        (5 * z**5 + 16 * z**3 + 3 * z) / 96,
        (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384,
    )
    return z + sum(term / freedom**power for power, term in enumerate(terms, start=1))


def _but_one(rows: Floats, sittings: Whole) -> Floats:
    """Return each row's sum, and then its sums without each sitting's part in turn; a column is of one sitting."""
    whole: Floats = rows.sum(axis=1, keepdims=True)
    if not len(sittings):
        return whole
    if (np.diff(sittings) < 0).any():
        order = np.argsort(sittings, kind="stable")
        rows, sittings = rows[:, order], sittings[order]
    starts = np.flatnonzero(np.diff(sittings, prepend=-1))
    sums: Floats = np.hstack([whole, whole - np.add.reduceat(rows, starts, axis=1)])
    return sums


def _spread(above: Floats, below: Floats) -> Spread:
    """Return the interval of 1 − above/below, whose first values are of all sittings, the others of all but one.

    Notes
    -----
    The jackknife [1]_ of z = ln(above/below): z ± t·√((m − 1)/m · Σ(z_i − z̄)²) over the m sittings, t of m − 1 degrees
    of freedom, turned back into the coefficient. The logarithm keeps the interval below one.
    """
    sittings = len(above) - 1
    whole = float(1 - above[0] / below[0]) if below[0] > 0 else None
    if sittings < FEWEST_SITTINGS:
        return Spread(None, f"it takes {FEWEST_SITTINGS} sittings; there {_are(sittings)}", whole)
    if (above <= 1e-9 * np.abs(below)).any() or (below <= 0).any():
        return Spread(None, NEVER_APART, whole)
    logs = np.log(above / below)
    one_less = logs[1:]
    error = np.sqrt((sittings - 1) / sittings * ((one_less - one_less.mean()) ** 2).sum())
    if error <= 1e-9:
        return Spread(None, "all sittings are alike", whole)
    reach = student_975(sittings - 1) * error
    return Spread((float(1 - np.exp(logs[0] + reach)), float(1 - np.exp(logs[0] - reach))), None, whole)


def _are(sittings: int) -> str:
    return "is one" if sittings == 1 else f"are {sittings}" if sittings else "is none"


def _squared_differences(values: Floats, of_value: Floats, level: Level, low: Whole, high: Whole) -> Floats:
    """Return how far the values of each pair are apart, (pairs, 1 or more), as `agreement` has it."""
    if level == "nominal":
        return np.ones((len(low), 1))
    middles = values[:, None] if level == "interval" else np.cumsum(of_value, axis=0) - of_value / 2
    return np.asarray((middles[low] - middles[high]) ** 2, float)
