"""The numbers on a progress page: one taster's sittings, ability, evidence, steady words and flights over time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log
from typing import Literal

from scanner.results.counted import counted, right_in, why_not_counted
from scanner.results.difficulty import flight_difficulty
from scanner.results.evidence import LIKELY, Evidence, Word
from scanner.results.luck import luck_of_taster
from scanner.results.notes import in_order, why_not_compared
from scanner.results.progress import FEWEST_SITTINGS, Verdict
from scanner.results.sitting import TasterSitting
from scanner.results.skill import Skill, difficulties_of, skill
from scanner.results.steady import WordReturn, steady_words

FEWEST_FOR_A_LINE = 2
"""Of one sitting no line can be drawn."""
LOOKS = 12
"""At so many sittings, evenly spread, the steady words are counted: each count looks at all words anew."""
MOST_WORDS = 8

REASONS = {
    "a claim is not settled": "unsettled",
    "what stood where is not known": "unknown",
    "there are no claims": "no_claims",
}
"""What `why_not_counted` says, and how it is called here and among the printed words."""


@dataclass(frozen=True, slots=True)
class SittingPoint:
    """One sitting that counts, and the ability at it as correct of five: low end, middle, high end of the band.

    `difficulty` is what the flight takes off the ability θ at weight one; None where nothing is stated of its drinks.
    """

    number: int
    date: str
    title: str
    kit: str
    correct: int
    of: int
    difficulty: float | None
    band: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class EvidenceLine:
    """The evidence of one kind of keys: log10 of the e-value after each of the sittings, by their numbers."""

    keys: Literal["drawn by lot", "mixed by hand"]
    word: Word
    e_value: float | None
    sittings: tuple[int, ...]
    logs_10: tuple[float, ...]
    likely_after: int | None
    p_value: float


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A sitting that does not count, and why, by a name of REASONS."""

    title: str
    date: str
    kit: str
    reason: str


@dataclass(frozen=True, slots=True)
class SteadyCount:
    """How many words were steady after so many sittings with both rounds' notes."""

    date: str
    sittings: int
    words: int


@dataclass(frozen=True, slots=True)
class SteadyWord:
    """A steady word: it came back `returned` of `said` times, and turned up anyway `turned_up` of `other_drinks`."""

    word: str
    returned: int
    said: int
    turned_up: int
    other_drinks: int


@dataclass(frozen=True, slots=True)
class ProgressNumbers:
    """All numbers of one taster's page.

    `face`, `interval` are the ability over all sittings as correct of five, None where nothing can be said. `verdict`
    is whether ability changed; `missing` is how many sittings more that needs. `steady` has the steady words of now,
    the surest first, at most MOST_WORDS, of `steady_total`; `noted` is how many sittings have both rounds' notes.
    """

    taster: str
    name: str
    correct: int
    of: int
    expected_by_luck: float
    chance_at_least: float | None
    face: float | None
    interval: tuple[float, float] | None
    points: tuple[SittingPoint, ...]
    verdict: Verdict
    missing: int
    flights_harder_by: float | None
    evidence: tuple[EvidenceLine, ...]
    noted: int
    steady_counts: tuple[SteadyCount, ...]
    steady: tuple[SteadyWord, ...]
    steady_total: int
    left_out: tuple[LeftOut, ...]

    @property
    def sittings(self) -> int:
        """How many sittings count."""
        return len(self.points)

    @property
    def enough_for_a_line(self) -> bool:
        """Whether a course can be drawn."""
        return self.sittings >= FEWEST_FOR_A_LINE


def progress_numbers(taster: str, name: str, sittings: Sequence[TasterSitting]) -> ProgressNumbers:
    """Return the numbers of one taster from all their sittings."""
    found = skill(taster, name, sittings, difficulties_of(sittings))
    chosen = counted(sittings).sittings
    luck = luck_of_taster(sittings)
    noted = [one for one in in_order(sittings) if why_not_compared(one) is None]
    steady = [word for word in steady_words(noted) if word.verdict == "steady"]
    return ProgressNumbers(
        taster=taster,
        name=name,
        correct=found.ability.correct,
        of=found.ability.of,
        expected_by_luck=float(luck.expected),
        chance_at_least=float(luck.chance_at_least) if chosen else None,
        face=found.ability.face,
        interval=found.ability.face_interval,
        points=_points(chosen, found),
        verdict=found.progress.verdict,
        missing=max(0, FEWEST_SITTINGS - len(chosen)),
        flights_harder_by=found.progress.flights_harder_by,
        evidence=tuple(_line(kind, chosen) for kind in found.evidence),
        noted=len(noted),
        steady_counts=_steady_counts(noted),
        steady=tuple(_word(word) for word in steady[:MOST_WORDS]),
        steady_total=len(steady),
        left_out=_left_out(sittings),
    )


def _left_out(sittings: Sequence[TasterSitting]) -> tuple[LeftOut, ...]:
    reasons = ((one, why_not_counted(one)) for one in in_order(sittings))
    return tuple(
        LeftOut(one.title, one.date.isoformat(), one.kit, REASONS[reason])
        for one, reason in reasons
        if reason is not None
    )


def _points(chosen: Sequence[TasterSitting], found: Skill) -> tuple[SittingPoint, ...]:
    path = found.progress.course
    bands = [] if path is None else [(float(low), float(mid), float(high)) for low, mid, high in path.smoothed]
    return tuple(
        SittingPoint(
            number=number,
            date=sitting.date.isoformat(),
            title=sitting.title,
            kit=sitting.kit,
            correct=right_in(sitting),
            of=sitting.glasses,
            difficulty=_difficulty(sitting),
            band=band,
        )
        for number, (sitting, band) in enumerate(zip(chosen, bands, strict=True), start=1)
    )


def _difficulty(sitting: TasterSitting) -> float | None:
    return None if difficulties_of([sitting]) is None else flight_difficulty(sitting.drinks)


def _line(kind: Evidence, chosen: Sequence[TasterSitting]) -> EvidenceLine:
    numbers = (at for at, one in enumerate(chosen, start=1) if one.keys_are_designed is kind.designed)
    return EvidenceLine(
        keys="drawn by lot" if kind.designed else "mixed by hand",
        word=kind.word,
        e_value=kind.e_value,
        sittings=tuple(numbers),
        logs_10=tuple(value / log(10) for value in kind.logs),
        likely_after=kind.first_reached(LIKELY),
        p_value=float(kind.p_value),
    )


def _steady_counts(noted: Sequence[TasterSitting]) -> tuple[SteadyCount, ...]:
    """Count the steady words after sittings spread evenly, the last of all among them."""
    looks = sorted({round(len(noted) * look / LOOKS) for look in range(1, LOOKS + 1)} - {0})
    return tuple(
        SteadyCount(
            noted[seen - 1].date.isoformat(),
            seen,
            sum(word.verdict == "steady" for word in steady_words(noted[:seen])),
        )
        for seen in looks
    )


def _word(word: WordReturn) -> SteadyWord:
    return SteadyWord(word.word, word.returned, word.said, word.turned_up, word.other_drinks)
