"""What the table says of each drink, and where one taster says something else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from scanner.results.heard import Heard, hear
from scanner.results.majority import FEWEST_TASTERS, Minority, majorities
from scanner.results.notes import in_order
from scanner.results.panel import PanelWord, panel_scales, panel_words
from scanner.results.sitting import Drink, TasterSitting
from scanner.results.voices import mean_strengths, notes_of_drink, said


@dataclass(frozen=True, slots=True)
class Voice:
    """What one taster says of one drink of a sitting, in either round: words, and each scale's mean strength."""

    taster: str
    name: str
    words: frozenset[str]
    strengths: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class TableDrink:
    """One drink at one sitting as the table has it.

    `words` are those of more than half of the tasters, with how many said them; `strengths` the medians. Where
    `too_little`, there are no words of the table and no minorities.
    """

    kit: str
    title: str
    date: str
    drink: Drink
    tasters: int
    words: Mapping[str, int]
    strengths: Mapping[str, float]
    minorities: tuple[Minority, ...]
    too_little: str | None


@dataclass(frozen=True, slots=True)
class Table:
    """All drinks of all sittings, the earliest first, and the panel's agreement on words and scales."""

    drinks: tuple[TableDrink, ...]
    words: tuple[PanelWord, ...]
    scales: tuple[PanelWord, ...]

    @property
    def too_little(self) -> str | None:
        """Say what is missing where there is no table."""
        if any(drink.too_little is None for drink in self.drinks):
            return None
        return f"no drink has the notes of {FEWEST_TASTERS} tasters of one sitting"


def table(sittings: Sequence[TasterSitting]) -> Table:
    """Return what the table says, from all tasters' sittings."""
    heard = hear(by_kit(sittings))
    return Table(tuple(_drinks(heard)), panel_words(heard), panel_scales(heard))


def by_kit(sittings: Sequence[TasterSitting]) -> list[list[TasterSitting]]:
    """Return the sittings of each kit together, the earliest first."""
    kits: dict[str, list[TasterSitting]] = {}
    for sitting in in_order(sittings):
        kits.setdefault(sitting.kit, []).append(sitting)
    return list(kits.values())


def voice(sitting: TasterSitting, coaster: int) -> Voice | None:
    """Return what a taster says of a drink; None without a note of it. Round two counts where its truth is known."""
    notes = notes_of_drink(sitting, coaster)
    return Voice(sitting.taster, sitting.name, said(notes), mean_strengths(notes)) if notes else None


def _drinks(heard: Heard) -> list[TableDrink]:
    poured = [(kit[0], drink) for kit in heard.kits for drink in kit[0].drinks]
    return [
        TableDrink(
            first.kit,
            first.title,
            first.date.isoformat(),
            drink,
            found.tasters,
            found.words,
            found.strengths,
            found.minorities,
            _too_little(found.tasters),
        )
        for (first, drink), found in zip(poured, majorities(heard), strict=True)
    ]


def _too_little(tasters: int) -> str | None:
    if tasters >= FEWEST_TASTERS:
        return None
    return f"{tasters} taster{'s' * (tasters != 1)} noted it; {FEWEST_TASTERS} are needed"
