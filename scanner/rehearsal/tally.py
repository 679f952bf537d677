"""The counts of a rehearsal by cause, and the reader's two figures out of them, with exact bounds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from scanner.bounds import interval
from scanner.reading import Outcome, State
from scanner.rehearsal.trial import Trial
from scanner.rehearsal.truth import Tag

Cause = Literal["condition", "hand", "pen"]

CAUSES: tuple[Cause, ...] = ("condition", "hand", "pen")


@dataclass(frozen=True, slots=True)
class Tried:
    """One sheet of a course: its place in it, what it went through, what came of it."""

    number: int
    condition: str
    hand: str
    pen: str
    trial: Trial

    def cause(self, which: Cause) -> str:
        """Return the name of its condition, hand or pen."""
        return {"condition": self.condition, "hand": self.hand, "pen": self.pen}[which]


@dataclass(frozen=True, slots=True)
class Rate:
    """So many of so many, and between which rates the true one lies.

    `low` and `high` are the exact two-sided 95 % bounds (Clopper and Pearson); 0 and 1 with nothing counted.
    """

    count: int
    of: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """The share found; 0 with nothing counted."""
        return self.count / self.of if self.of else 0.0


def rate(count: int, of: int) -> Rate:
    """Return a rate with its bounds."""
    return Rate(count, of, *interval(count, of))


@dataclass(frozen=True, slots=True)
class Refused:
    """How many sheets of a condition were not read, for one reason; `come_closer` where that is good advice."""

    condition: str
    reason: str
    sheets: int
    come_closer: bool


@dataclass(frozen=True, slots=True)
class Figures:
    """What came of some sheets.

    `silent` and `doubtful` are over the boxes that are plainly marked, taken back or empty; the other boxes, which a
    careful person could doubt, are `marginal`, of which `marginal_otherwise` were read otherwise than meant and
    `marginal_doubtful` left to a person. `closer` counts sheets that were rightly told to be photographed from nearer,
    `unread` those not read for other reasons, `stolen` those credited to another sheet.
    """

    sheets: int
    read: int
    closer: int
    unread: int
    stolen: int
    silent: Rate
    doubtful: Rate
    marginal: int
    marginal_otherwise: int
    marginal_doubtful: int

    @property
    def boxes(self) -> int:
        """The plain boxes read."""
        return self.silent.of

    @property
    def is_clean(self) -> bool:
        """Whether no plain box was read wrongly in silence and no sheet credited to another."""
        return self.silent.count == 0 and self.stolen == 0


def figures(sheets: Iterable[Tried]) -> Figures:
    """Return the figures of some sheets."""
    trials = [tried.trial for tried in sheets]
    counts: Counter[tuple[Tag, str]] = Counter()
    for trial in trials:
        for (state, tag, seen), count in trial.counts.items():
            outcome = "doubtful" if seen == State.DOUBTFUL else "right" if seen == state else "wrong"
            counts[Tag(tag), outcome] += count
    plain, marginal = (
        {name: counts[tag, name] for name in ("right", "wrong", "doubtful")} for tag in (Tag.PLAIN, Tag.MARGINAL)
    )
    boxes = sum(plain.values())
    closer = sum(_told_to_come_closer(trial) for trial in trials)
    stolen = sum(trial.stolen for trial in trials)
    read = sum(trial.outcome is Outcome.READ and not trial.stolen for trial in trials)
    return Figures(
        sheets=len(trials),
        read=read,
        closer=closer,
        unread=len(trials) - read - closer - stolen,
        stolen=stolen,
        silent=rate(plain["wrong"], boxes),
        doubtful=rate(plain["doubtful"], boxes),
        marginal=sum(marginal.values()),
        marginal_otherwise=marginal["wrong"],
        marginal_doubtful=marginal["doubtful"],
    )


def by_cause(sheets: Sequence[Tried], which: Cause) -> dict[str, Figures]:
    """Return the figures apart for each condition, hand or pen, in the order in which they first occur."""
    groups: dict[str, list[Tried]] = {}
    for tried in sheets:
        groups.setdefault(tried.cause(which), []).append(tried)
    return {name: figures(group) for name, group in groups.items()}


def refusals(sheets: Iterable[Tried]) -> Iterator[Refused]:
    """Yield why sheets were not read, by condition, the commonest reason first."""
    counts: Counter[tuple[str, str, bool]] = Counter()
    for tried in sheets:
        trial = tried.trial
        if trial.outcome is not Outcome.READ and not trial.stolen:
            reason = trial.reason or trial.outcome.value
            counts[tried.condition, _without_figures(reason), _told_to_come_closer(trial)] += 1
    for (condition, reason, closer), refused in sorted(counts.items(), key=lambda item: (item[0][0], -item[1])):
        yield Refused(condition, reason, refused, closer)


def _told_to_come_closer(trial: Trial) -> bool:
    refused = trial.outcome is not Outcome.READ and not trial.stolen
    return refused and trial.told_to_come_closer


def _without_figures(reason: str) -> str:
    """What a reason says of this one picture, in brackets, would keep like refusals apart."""
    head, bracket, rest = reason.partition(" (")
    return head + rest.partition(")")[2] if bracket else reason
