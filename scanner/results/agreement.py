"""How well two rounds, or several tasters, agree: published coefficients, None where they say nothing."""

from __future__ import annotations

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Level = Literal["nominal", "ordinal", "interval"]


@dataclass(frozen=True, slots=True)
class Icc:
    """Shrout and Fleiss' six intraclass correlations; the first index is their case, the second the ratings averaged.

    Case 1: each target has raters of its own; 2: the raters are drawn from many; 3: these raters are all there are. One
    is None where its denominator is not above nought.
    """

    icc_1_1: float | None
    icc_2_1: float | None
    icc_3_1: float | None
    icc_1_k: float | None
    icc_2_k: float | None
    icc_3_k: float | None


def icc(ratings: Sequence[Sequence[float]] | Floats) -> Icc | None:
    """Return the intraclass correlations of a table of ratings.

    Parameters
    ----------
    ratings : (targets, raters) array of float, both at least two, nothing missing

    Returns
    -------
    Icc, or None where there are too few ratings, or all are the same

    Notes
    -----
    From the mean squares between targets, between raters, of the rest, and within targets [1]_.

    References
    ----------
    .. [1] P. E. Shrout and J. L. Fleiss, Psychol. Bull. 86 (1979) 420–428.
    """
    table = np.asarray(ratings, float)
    if table.ndim != 2 or min(table.shape) < 2 or not np.isfinite(table).all():
        return None
    n, k = table.shape
    mean = table.mean()
    between = k * ((table.mean(axis=1) - mean) ** 2).sum()
    raters = n * ((table.mean(axis=0) - mean) ** 2).sum()
    whole = ((table - mean) ** 2).sum()
    if whole <= 1e-12:
        return None
    rest = max(0.0, whole - between - raters)
    bms, jms = between / (n - 1), raters / (k - 1)
    ems, wms = rest / ((n - 1) * (k - 1)), (whole - between) / (n * (k - 1))
    below = (
        bms + (k - 1) * wms,
        bms + (k - 1) * ems + k * (jms - ems) / n,
        bms + (k - 1) * ems,
        bms,
        bms + (jms - ems) / n,
        bms,
    )
    above = (bms - wms, bms - ems, bms - ems, bms - wms, bms - ems, bms - ems)
    # A denominator of a rounding error's size is nought.
    return Icc(*(float(a / b) if b > 1e-12 * whole else None for a, b in zip(above, below, strict=True)))


def jaccard(first: AbstractSet[str], second: AbstractSet[str]) -> float | None:
    """Return the share of all words of two sets that are in both; None where both are empty.

    Examples
    --------
    >>> jaccard({"pear", "rice"}, {"pear", "malt", "rose"}), jaccard(set(), set())
    (0.25, None)
    """
    union = first | second
    return len(first & second) / len(union) if union else None


def krippendorff_alpha(codings: Sequence[Sequence[float | None]] | Floats, level: Level = "nominal") -> float | None:
    """Return Krippendorff's alpha.

    Parameters
    ----------
    codings : (coders, units) array of float
        The value that each coder gave each unit; NaN or None where there is none.
    level : {"nominal", "ordinal", "interval"}
        How far values are apart.

    Returns
    -------
    float, or None where no unit has two values, or all values that can be paired are the same

    Notes
    -----
    See `alpha_of_counts`.
    """
    table = np.array(codings, float)
    values = np.unique(table[~np.isnan(table)])
    counts = (table[:, :, None] == values).sum(axis=0)
    return alpha_of_counts(counts.astype(float), values, level)


def alpha_of_counts(counts: Floats, values: Floats, level: Level = "nominal") -> float | None:
    """Return Krippendorff's alpha from how often each value was given to each unit.

    Parameters
    ----------
    counts : (units, values) array of float
    values : (values,) array of float, ascending

    Notes
    -----
    α = 1 − D_o/D_e with the coincidences o_ck = Σ_u n_uc(n_uk − [c = k])/(m_u − 1) of units with m_u ≥ 2 values and
    e_ck = n_c(n_k − [c = k])/(n − 1) [1]_. Squared differences: nominal [c ≠ k]; interval (c − k)²; ordinal
    (Σ_{g=c…k} n_g − (n_c + n_k)/2)².

    References
    ----------
    .. [1] K. Krippendorff, Computing Krippendorff's alpha-reliability, University of Pennsylvania, 2011.
    """
    given = counts.sum(axis=1)
    paired, given = counts[given >= 2], given[given >= 2]
    if not len(paired):
        return None
    observed = (paired / (given - 1)[:, None]).T @ paired - np.diag((paired / (given - 1)[:, None]).sum(axis=0))
    of_value = paired.sum(axis=0)
    expected = np.outer(of_value, of_value) / (of_value.sum() - 1)
    apart = _squared_differences(values, of_value, level)
    disagreement = float((expected * apart).sum())
    if disagreement <= 0:
        return None
    return 1.0 - float((observed * apart).sum()) / disagreement


def _squared_differences(values: Floats, of_value: Floats, level: Level) -> Floats:
    if level == "nominal":
        return 1.0 - np.eye(len(values))
    if level == "interval":
        return np.asarray((values[:, None] - values) ** 2, float)
    middles = np.cumsum(of_value) - of_value / 2
    return np.asarray((middles[:, None] - middles) ** 2, float)
