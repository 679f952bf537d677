"""Evidence against luck that may be looked at after every sitting: an e-value, beside the plain exact p-value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import log
from typing import Any, Literal

import numpy as np

from scanner.results.ability import Floats, padded
from scanner.results.counted import Counted, Counts, counted
from scanner.results.luck import luck_of_taster, times
from scanner.results.sitting import TasterSitting

THETAS: Floats = np.arange(1, 13) / 4
"""The abilities that are mixed with equal weights: θ = 0.25, 0.5 … 3."""
LIKELY, BEYOND_DOUBT = 10, 100

Word = Literal["not yet", "likely", "beyond doubt"]


@dataclass(frozen=True, slots=True)
class Evidence:
    """The evidence of sittings whose keys were all drawn by lot (`designed`), or all mixed by hand.

    `logs` has the natural logarithm of the e-value after each sitting. `p_value` is the exact chance that a guesser has
    the total or more, right for one look at a number of sittings fixed before.
    """

    designed: bool
    correct: int
    of: int
    logs: tuple[float, ...]
    p_value: Fraction | float

    @property
    def sittings(self) -> int:
        return len(self.logs)

    @property
    def e_value(self) -> float | None:
        """The e-value now; None where it is past any float."""
        return float(np.exp(self.logs[-1])) if self.logs[-1] < 700 else None

    @property
    def word(self) -> Word:
        """What the evidence comes to now; hand keys alone are never beyond doubt."""
        if self.logs[-1] < log(LIKELY):
            return "not yet"
        return "beyond doubt" if self.designed and self.logs[-1] >= log(BEYOND_DOUBT) else "likely"

    def first_reached(self, threshold: float) -> int | None:
        """Return after how many sittings the e-value first was this high, None if never."""
        return next((at for at, value in enumerate(self.logs, start=1) if value >= log(threshold)), None)


def evidence(sittings: Sequence[TasterSitting]) -> tuple[Evidence, ...]:
    """Return the evidence of a taster's sittings that count: of designed keys and of hand keys, each if there are any.

    Notes
    -----
    E = (1/12)·Σ_θ Π_i e^{θ·k_i}/E_0[e^{θ·K_i}], the likelihood ratio of Mallows models against guessing with the same
    claims, mixed once over the whole product. Under guessing its mean is 1 after every sitting whatever the taster
    claims, so P(E ever ≥ 1/α) ≤ α (Ville's inequality) [1]_.

    References
    ----------
    .. [1] P. Grünwald, R. de Heide and W. Koolen, "Safe testing", J. R. Stat. Soc. B 86 (2024) 1091–1128.
    """
    chosen = counted(sittings).sittings
    found = []
    for designed in (True, False):
        kind = Counted(tuple(one for one in chosen if one.keys_are_designed is designed), ())
        if kind.sittings:
            luck = luck_of_taster(kind.sittings)
            logs = log_e_values(kind.counts, kind.correct)
            found.append(Evidence(designed, luck.correct, luck.of, tuple(logs.tolist()), luck.chance_at_least))
    return tuple(found)


def log_e_values(counts: Sequence[Counts], correct: Sequence[int], thetas: Floats = THETAS) -> Floats:
    """Return the natural logarithm of the e-value after each sitting, mixed with equal weights over `thetas`."""
    return mixed(np.cumsum(log_ratios(padded(counts), thetas)[np.arange(len(counts)), :, list(correct)], axis=0))


def log_ratios(table: Floats, thetas: Floats = THETAS) -> Floats:
    """Return log(e^{θk}/E_0[e^{θK}]) for each row of a table of guessing laws, each θ and each k: (m, θ, k)."""
    powers = thetas[:, None] * np.arange(table.shape[1])
    means = (table / table.sum(axis=1, keepdims=True)) @ np.exp(powers).T
    ratios: Floats = powers - np.log(means)[:, :, None]
    return ratios


def mixed(logs: Floats) -> Floats:
    """Return the logarithm of the mean over the last axis of what `logs` are the logarithms of."""
    highest = logs.max(axis=-1)
    means: Floats = highest + np.log(np.exp(logs - highest[..., None]).mean(axis=-1))
    return means


def sentences(found: Sequence[Evidence]) -> tuple[str, ...]:
    """Say in plain words how far the evidence goes, and why the p-value differs."""
    if not found:
        return ("Too little to tell: there is no sitting that counts.",)
    said = [_sentence(kind) for kind in found]
    if any(not kind.designed for kind in found):
        said.append(
            "That every order was equally likely is an assumption about mixing by hand; so such sittings alone are "
            "never called beyond doubt, and they are kept apart from those with keys drawn by lot."
        )
    said.append(
        "The evidence may be looked at after every sitting, and one may stop when one likes: a guesser ever reaches 10 "
        "at most 1 time in 10, and 100 at most 1 time in 100. The plain chance is right for one look after a number of "
        "sittings fixed before; who looks again and again will see it small some day by luck. That is why it often "
        "looks the stronger of the two."
    )
    return tuple(said)


def to_json(kind: Evidence) -> dict[str, Any]:
    """Return the evidence as a JSON object; logarithms to base ten, for the e-values may be past any float."""
    return {
        "keys": "drawn by lot" if kind.designed else "mixed by hand",
        "sittings": kind.sittings,
        "correct": kind.correct,
        "of": kind.of,
        "word": kind.word,
        "e_value": kind.e_value,
        "log10_e_value_after_each": [round(value / log(10), 6) for value in kind.logs],
        "likely_after": kind.first_reached(LIKELY),
        "beyond_doubt_after": kind.first_reached(BEYOND_DOUBT) if kind.designed else None,
        "p_value": float(kind.p_value),
    }


def _sentence(kind: Evidence) -> str:
    whose = "keys drawn by lot" if kind.designed else "glasses mixed by hand"
    number = "sitting" if kind.sittings == 1 else "sittings"
    said = (
        f"{kind.sittings} {number} with {whose}: that it is more than luck is {_WORDS[kind.word]} (evidence "
        f"{_number(kind.logs[-1])}). The plain chance of {kind.correct} or more of {kind.of} by luck is "
        f"{times(kind.p_value)}."
    )
    reached = kind.first_reached(BEYOND_DOUBT if kind.word == "beyond doubt" else LIKELY)
    if kind.word == "not yet" and reached is not None:
        said += f" It was likely once, after {reached}; what came later took some of it back."
    return said


_WORDS = {"not yet": "not shown yet", "likely": "likely", "beyond doubt": "beyond doubt"}


def _number(log_e: float) -> str:
    if log_e > log(1e6):
        return "more than 1,000,000"
    value = float(np.exp(log_e))
    return f"{value:,.0f}" if value >= 10 else f"{value:.2g}"
