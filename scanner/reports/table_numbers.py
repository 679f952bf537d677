"""The numbers on the table's sheet: scores, what was taken for what, the table's words, what is still missing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from math import factorial
from typing import Literal

from scanner.chance import counts_correct
from scanner.reading import Reading
from scanner.reports.waiting import Waiting, waiting
from scanner.results.gather import Gathered
from scanner.results.majority import FEWEST_TASTERS
from scanner.results.sitting import TasterSitting
from scanner.results.table import voice
from scanner.results.voices import in_form_order
from scanner.score import Scores, TasterScore
from scanner.what_stood import Sitting

FEWEST_FOR_HARDEST = 2
"""With one taster alone no drink is called the hardest."""

Status = Literal["scored", "so far", "sealed", "no match", "absent", "not known"]


@dataclass(frozen=True, slots=True)
class TasterLine:
    """One taster's line.

    Attributes
    ----------
    correct, chance_at_least
        As `facedown score` has them; None where there is nothing to count, or a claim is not settled.
    taken_for
        For each drink, in coaster order, the coaster number claimed where it stood, None where it was left blank; the
        whole is None where that is not known, or may not be told yet.
    missing
        The roles of the sheets that no reading holds; `waiting` is how many things a person has to settle.
    """

    number: int
    name: str
    status: Status
    correct: int | None
    of: int
    chance_at_least: float | None
    taken_for: tuple[int | None, ...] | None
    missing: tuple[str, ...]
    waiting: int


@dataclass(frozen=True, slots=True)
class CountBar:
    """How many tasters had so many right, and how many of as many guessers with the same claims would have."""

    correct: int
    tasters: int
    by_luck: float


@dataclass(frozen=True, slots=True)
class DrinkLine:
    """One drink of the flight: how many of the `of` tasters counted were right about it, and what the table says of it.

    `words` are all that were said, the most often said first; those of the table, said by more than half, are the first
    `shared`. `noted_by` is how many tasters noted it; `enough` whether these are a table.
    """

    coaster: int
    name: str
    style: str | None
    right: int | None
    of: int
    noted_by: int
    words: tuple[tuple[str, int], ...]
    shared: int
    enough: bool


@dataclass(frozen=True, slots=True)
class Grid:
    """What was taken for what: `times[stood][claimed]`, how often each was claimed wherever each stood.

    `blank[stood]` is how often nothing was claimed there; `by_luck[claimed]` what a cell of that column has on average
    if all guess with the same claims: the same for every row.
    """

    times: tuple[tuple[int, ...], ...]
    blank: tuple[int, ...]
    by_luck: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class TableSheet:
    """All numbers of one sitting.

    `hidden` where what stood where may not be told yet: a key is sealed, or it is shared and a claim is not settled.
    `hardest` has the coaster numbers of the drinks that the fewest were right about, None with too few tasters.
    """

    kit: str
    title: str
    date: str
    shuffle: str
    keys: str
    tasters: tuple[TasterLine, ...]
    correct: int | None
    of: int
    expected_by_luck: float | None
    chance_at_least: float | None
    counts: tuple[CountBar, ...]
    drinks: tuple[DrinkLine, ...]
    grid: Grid | None
    hardest: tuple[int, ...] | None
    hidden: bool
    waiting: tuple[Waiting, ...]

    @property
    def counted(self) -> int:
        """How many tasters' claims are counted: all settled, with what stood there known."""
        return sum(bar.tasters for bar in self.counts)


def table_sheets(scored: Scores, gathered: Gathered, readings: Collection[Reading]) -> tuple[TableSheet, ...]:
    """Return the numbers of every kit's sitting, the earliest first, from its scores and its tasters' notes."""
    notes = {kit: list(group) for kit, group in groupby(sorted(gathered.sittings, key=_kit), key=_kit)}
    ordered = sorted(scored.sittings, key=lambda sitting: (sitting.session.date, sitting.kit))
    return tuple(_sheet(one, scored, notes.get(one.kit, []), waiting(one, scored, readings)) for one in ordered)


def _kit(sitting: TasterSitting) -> str:
    return sitting.kit


def _sheet(
    sitting: Sitting,
    scored: Scores,
    notes: Sequence[TasterSitting],
    left: tuple[Waiting, ...],
) -> TableSheet:
    session = sitting.session
    tasters = [taster for taster in scored.tasters if taster.kit == sitting.kit]
    total = next(table for table in scored.tables if table.kit == sitting.kit)
    unsettled = any(taster.claims.unsettled for taster in tasters)
    hidden = any(taster.truth.sealed for taster in tasters) or (session.keys == "shared" and unsettled)
    settled = [taster for taster in tasters if _is_settled(taster)]
    counts = _counts(settled, session.glasses)
    grid = None if hidden or not settled else _grid(settled, session.glasses)
    right = None if grid is None else [grid.times[at][at] for at in range(session.glasses)]
    return TableSheet(
        kit=sitting.kit,
        title=session.title,
        date=session.date.isoformat(),
        shuffle=session.shuffle,
        keys=session.keys,
        tasters=tuple(_line(taster, left, hidden=hidden) for taster in tasters),
        correct=total.correct,
        of=total.of,
        expected_by_luck=_expected(tasters),
        chance_at_least=None if total.chance_at_least is None else float(total.chance_at_least),
        counts=counts,
        drinks=tuple(
            _drink(sitting, at, notes, None if right is None else right[at], len(settled))
            for at in range(session.glasses)
        ),
        grid=grid,
        hardest=_hardest(right, len(settled)),
        hidden=hidden,
        waiting=left,
    )


def _is_settled(taster: TasterScore) -> bool:
    return taster.score.correct is not None and not taster.claims.unsettled


def _line(taster: TasterScore, left: Sequence[Waiting], *, hidden: bool) -> TasterLine:
    chance = taster.score.chance_at_least
    return TasterLine(
        number=taster.taster,
        name=taster.name,
        status=_status(taster),
        correct=taster.score.correct,
        of=taster.score.of,
        chance_at_least=None if chance is None else float(chance),
        taken_for=_taken_for(taster) if _is_settled(taster) and not hidden else None,
        missing=() if taster.absent else taster.missing,
        waiting=sum(one.count for one in left if one.taster == taster.taster and one.kind != "sealed"),
    )


def _status(taster: TasterScore) -> Status:
    if taster.absent:
        return "absent"
    if not taster.has_match:
        return "no match"
    if taster.truth.sealed:
        return "sealed"
    if taster.score.correct is None:
        return "not known"
    return "so far" if taster.claims.unsettled else "scored"


def _taken_for(taster: TasterScore) -> tuple[int | None, ...]:
    assert taster.truth.numbers is not None
    claimed = {stood: taster.claims.numbers[place] for place, stood in taster.truth.numbers.items()}
    return tuple(claimed[coaster] for coaster in sorted(claimed))


def _counts(settled: Sequence[TasterScore], glasses: int) -> tuple[CountBar, ...]:
    """Return a bar for each number right; no taster gives none."""
    laws = [counts_correct(tuple(taster.claims.numbers.values()), glasses) for taster in settled]
    tasters = Counter(taster.score.correct for taster in settled)
    return tuple(
        CountBar(k, tasters[k], float(Fraction(sum(law[k] for law in laws), factorial(glasses))))
        for k in (range(glasses + 1) if settled else ())
    )


def _expected(tasters: Sequence[TasterScore]) -> float | None:
    """Return how many of the claims counted in the total luck has right: each of them 1 time in n."""
    counted = [taster.claims.numbers.values() for taster in tasters if taster.score.correct is not None]
    if not counted:
        return None
    return sum(sum(claim is not None for claim in claims) / len(claims) for claims in counted)


def _grid(settled: Sequence[TasterScore], glasses: int) -> Grid:
    taken = [_taken_for(taster) for taster in settled]
    times = Counter((stood, claimed) for one in taken for stood, claimed in enumerate(one, start=1))
    numbers = range(1, glasses + 1)
    return Grid(
        tuple(tuple(times[stood, claimed] for claimed in numbers) for stood in numbers),
        tuple(times[stood, None] for stood in numbers),
        tuple(sum(times[stood, claimed] for stood in numbers) / glasses for claimed in numbers),
    )


def _hardest(right: Sequence[int] | None, tasters: int) -> tuple[int, ...] | None:
    """Return the drinks that the fewest were right about; none of them if all were right about all."""
    if right is None or tasters < FEWEST_FOR_HARDEST:
        return None
    fewest = min(right)
    return () if fewest == tasters else tuple(at for at, count in enumerate(right, start=1) if count == fewest)


def _drink(sitting: Sitting, at: int, seen: Sequence[TasterSitting], right: int | None, of: int) -> DrinkLine:
    pour = sitting.session.pours[at]
    voices = [found for one in seen if (found := voice(one, at + 1)) is not None]
    times = Counter(word for one in voices for word in one.words)
    form = seen[0].words if seen else ()
    words = sorted(in_form_order(times, form), key=lambda word: -times[word])
    enough = len(voices) >= FEWEST_TASTERS
    return DrinkLine(
        coaster=at + 1,
        name=pour.name,
        style=pour.style,
        right=right,
        of=of,
        noted_by=len(voices),
        words=tuple((word, times[word]) for word in words),
        shared=sum(2 * times[word] > len(voices) for word in words) if enough else 0,
        enough=enough,
    )
