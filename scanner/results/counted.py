"""Which sittings of a taster count towards skill, and the law of guessing in each of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from scanner.chance import counts_correct
from scanner.results.sitting import TasterSitting

Counts = tuple[int, ...]
"""Item k is the number of keys, out of n!, under which the claims of one sitting are right at k places."""


@dataclass(frozen=True, slots=True)
class Counted:
    """A taster's sittings that count, the earliest first, and why the others do not."""

    sittings: tuple[TasterSitting, ...]
    left_out: tuple[str, ...]

    @property
    def correct(self) -> tuple[int, ...]:
        """The number correct of each sitting."""
        return tuple(right_in(sitting) for sitting in self.sittings)

    @property
    def counts(self) -> tuple[Counts, ...]:
        """The law of guessing of each sitting."""
        return tuple(counts_of(sitting) for sitting in self.sittings)

    @property
    def of(self) -> int:
        """How many glasses they had together."""
        return sum(sitting.glasses for sitting in self.sittings)


def counted(sittings: Sequence[TasterSitting]) -> Counted:
    """Return the sittings with claims, all settled, of which it is known what stood where; by date."""
    ordered = sorted(sittings, key=lambda sitting: sitting.date)
    reasons = [why_not_counted(sitting) for sitting in ordered]
    return Counted(
        tuple(sitting for sitting, reason in zip(ordered, reasons, strict=True) if reason is None),
        tuple(
            f"{sitting.title}, {sitting.date} (kit {sitting.kit}): {reason}"
            for sitting, reason in zip(ordered, reasons, strict=True)
            if reason is not None
        ),
    )


def why_not_counted(sitting: TasterSitting) -> str | None:
    """Say why a sitting does not count, None if it does."""
    if sitting.unsettled:
        return "a claim is not settled"
    if sitting.truth is None and not sitting.waits:
        return "what stood where is not known"
    if all(claim is None for claim in sitting.claims):
        return "there are no claims"
    if sitting.waits:
        return "a claim at the table is not settled"
    return None


def right_in(sitting: TasterSitting) -> int:
    """Return the number correct in a sitting that counts."""
    assert sitting.correct is not None
    return sitting.correct


def counts_of(sitting: TasterSitting) -> Counts:
    """Return the law of guessing with a sitting's claims, tabulated by how often each number is claimed."""
    times = Counter(claim for claim in sitting.claims if claim is not None).values()
    return _counts(tuple(sorted(times)), sitting.glasses)


@lru_cache(maxsize=256)
def _counts(times: tuple[int, ...], glasses: int) -> Counts:
    claims = [number for number, count in enumerate(times, start=1) for _ in range(count)]
    return counts_correct([*claims, *[None] * (glasses - len(claims))], glasses)
