"""The table's total: how many claims of all tasters were right, and what a table of guessers would have done."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from kit.session import Keys, Session
from scanner.chance import one_time_in
from scanner.table_law import Claims, table_law

KEYS = {"own": "", "shared": " under its one key", "balanced": " under its balanced keys"}
RARE = Fraction(1, 10**12)


@dataclass(frozen=True, slots=True)
class TableScore:
    """The total of one sitting over the tasters who are `counted`: those scored.

    `chance_at_least` is how often a table of guessers with the same claims has `correct` right or more, under keys
    drawn as this kit's were; a fraction where it is `exact`. None where nobody is counted, with `correct` None, and
    where somebody's place is unsettled.
    """

    kit: str
    tasters: int
    counted: tuple[int, ...]
    keys: Keys
    correct: int | None
    of: int
    chance_at_least: Fraction | float | None

    @property
    def exact(self) -> bool:
        """Whether the chance was counted out in whole numbers."""
        return isinstance(self.chance_at_least, Fraction)

    @property
    def sentence(self) -> str:
        """The result for the table."""
        whole = len(self.counted) == self.tasters
        who = "" if whole else f" ({len(self.counted)} of {self.tasters} tasters)"
        counted = f"{self.correct} of {self.of}{who}"
        if self.chance_at_least is None:
            return f"{counted} so far"
        guessers = f"a table of guessers{KEYS[self.keys]}"
        return f"{counted}; {guessers} does this well or better {_times(self.chance_at_least)}"


def table_score(
    kit: str, session: Session, claims: Mapping[int, Claims], correct: Mapping[int, int], *, settled: bool
) -> TableScore:
    """Score the table from its scored tasters' claims and counts, by taster number; `settled` if no claim is open."""
    counted = tuple(sorted(correct))
    of = session.glasses * len(counted)
    tasters = len(session.tasters)
    if not counted:
        return TableScore(kit, tasters, (), session.keys, None, 0, None)
    total = sum(correct.values())
    chance = None
    if settled:
        law = table_law(session.keys, {number: claims[number] for number in counted}, session.glasses, tasters)
        chance = law.chance_at_least(total)
    return TableScore(kit, tasters, counted, session.keys, total, of, chance)


def to_json(table: TableScore) -> dict[str, Any]:
    """Return a table's total as a JSON object."""
    return {
        "kit": table.kit,
        "keys": table.keys,
        "counted": list(table.counted),
        "correct": table.correct,
        "of": table.of,
        "chance_at_least": None if table.chance_at_least is None else float(table.chance_at_least),
        "exact": table.exact,
    }


def _times(chance: Fraction | float) -> str:
    return one_time_in(Fraction(chance)) if chance > RARE else "less than 1 time in 1,000,000,000,000"
