"""What the table says of each drink, and where one taster says something else."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from scanner.results.notes import in_order
from scanner.results.panel import PanelWord, panel_scales, panel_words, units_of
from scanner.results.sitting import Drink, TasterSitting
from scanner.results.voices import in_form_order, mean_strengths, notes_of_drink, said

FEWEST_TASTERS = 3
"""With fewer there is no majority to be in or out of."""
FAR_STEPS = 2.0
"""So many steps from the table's median is another strength."""


@dataclass(frozen=True, slots=True)
class Voice:
    """What one taster says of one drink of a sitting, in either round: words, and each scale's mean strength."""

    taster: str
    name: str
    words: frozenset[str]
    strengths: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Minority:
    """Where a taster differs from the table on one drink.

    Attributes
    ----------
    missed
        The table's words that the taster did not say.
    alone
        The words that nobody else said.
    apart
        The scales on which the taster is FAR_STEPS or more from the table's median, with the steps above it.
    """

    taster: str
    name: str
    missed: tuple[str, ...]
    alone: tuple[str, ...]
    apart: Mapping[str, float]


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
    kits = by_kit(sittings)
    units = units_of(kits)
    return Table(
        tuple(_table_drink(kit, coaster) for kit in kits for coaster in range(1, kit[0].glasses + 1)),
        panel_words(units),
        panel_scales(units, _steps(kits)),
    )


def _steps(kits: Sequence[Sequence[TasterSitting]]) -> dict[str, int]:
    """Return the most steps that each scale had in any kit."""
    steps: dict[str, int] = {}
    for kit in kits:
        for scale, most in kit[0].scales.items():
            steps[scale] = max(most, steps.get(scale, 0))
    return steps


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


def _table_drink(kit: Sequence[TasterSitting], coaster: int) -> TableDrink:
    first = kit[0]
    voices = [found for sitting in kit if (found := voice(sitting, coaster)) is not None]
    drink = first.drinks[coaster - 1]
    head = (first.kit, first.title, first.date.isoformat(), drink, len(voices))
    if len(voices) < FEWEST_TASTERS:
        count = f"{len(voices)} taster{'s' * (len(voices) != 1)} noted it"
        return TableDrink(*head, {}, {}, (), f"{count}; {FEWEST_TASTERS} are needed")
    times = Counter(word for one in voices for word in one.words)
    words = {word: times[word] for word in first.words if 2 * times[word] > len(voices)}
    strengths = {
        scale: median(steps)
        for scale in first.scales
        if len(steps := [one.strengths[scale] for one in voices if scale in one.strengths]) >= FEWEST_TASTERS
    }
    minorities = (_minority(one, times, words, strengths, first.words) for one in voices)
    differing = tuple(found for found in minorities if found.missed or found.alone or found.apart)
    return TableDrink(*head, words, strengths, differing, None)


def _minority(
    one: Voice,
    times: Mapping[str, int],
    words: Mapping[str, int],
    strengths: Mapping[str, float],
    form: tuple[str, ...],
) -> Minority:
    said = one.strengths
    apart = {scale: said[scale] - middle for scale, middle in strengths.items() if scale in said}
    return Minority(
        one.taster,
        one.name,
        tuple(word for word in words if word not in one.words),
        in_form_order((word for word in one.words if times[word] == 1), form),
        {scale: steps for scale, steps in apart.items() if abs(steps) >= FAR_STEPS},
    )
