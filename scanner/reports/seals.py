"""Which kits a page of many sittings speaks of, and the seal codes that were printed with them."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from kit.fonts import width_mm as text_width_mm
from kit.keys import grouped
from kit.wording import Wording
from scanner.reports.flow import TEXT_PT, Cell
from scanner.reports.told import day_text, shortened
from scanner.results.sitting import TasterSitting

MOST_TASTERS = 16
"""So many seal codes of one kit have room on a page."""

TasterSeals = Mapping[str, str]
"""One taster's seal code by kit, as it is printed; without those kits that sealed no key."""


@dataclass(frozen=True, slots=True)
class TasterSeal:
    """A taster of a kit, and their seal code as it is printed."""

    number: int
    name: str
    seal: str


@dataclass(frozen=True, slots=True)
class KitSeals:
    """One sitting's kit; `tasters` are those with a sealed key, none where the glasses were mixed by hand."""

    kit: str
    date: str
    tasters: tuple[TasterSeal, ...]


def seals_of_taster(sittings: Iterable[TasterSitting], codes: Mapping[str, Sequence[str]]) -> dict[str, str]:
    """Return the seal codes of one taster's sittings, given those of each kit in its tasters' order."""
    return {
        one.kit: grouped(codes[one.kit][one.number - 1])
        for one in sittings
        if one.number <= len(codes.get(one.kit, ()))
    }


def seals_of_kit(kit: str, date: datetime.date, names: Sequence[str], codes: Sequence[str]) -> KitSeals:
    """Return the seal codes of a kit, given its tasters' names and as many codes, or none, in their order."""
    tasters = enumerate(zip(names, codes, strict=False), start=1)
    return KitSeals(
        kit, date.isoformat(), tuple(TasterSeal(number, name, grouped(code)) for number, (name, code) in tasters)
    )


def seals_cell(kits: Sequence[KitSeals], words: Wording, width_mm: float) -> Cell:
    """Return what is printed of many kits: how many there are, then the first's seal codes and the last's."""
    ends = kits if len(kits) < 2 else (kits[0], kits[-1])
    is_all = len(ends) == len(kits) and all(len(one.tasters) <= MOST_TASTERS for one in ends)
    caption = words("table_report.seals_caption" if is_all else "table_report.seals_caption_ends", kits=len(kits))
    lines = tuple(line for one in ends for line in _lines(one, words, width_mm))
    return Cell(words("table_report.seals_heading"), caption, None, lines=lines)


def to_json(kits: Iterable[KitSeals]) -> list[dict[str, Any]]:
    """Return all seal codes."""
    return [
        {
            "kit": one.kit,
            "date": one.date,
            "tasters": [{"number": each.number, "name": each.name, "seal": each.seal} for each in one.tasters],
        }
        for one in kits
    ]


def _lines(one: KitSeals, words: Wording, width_mm: float) -> Iterator[str]:
    """Yield lines of the width on which no name is parted from its code."""
    codes = shortened(tuple(f"{each.name} {each.seal}" for each in one.tasters), MOST_TASTERS)
    first, *rest = codes or (words("table_report.seals_none"),)
    line = words("table_report.seals_kit", kit=one.kit, date=day_text(one.date, words), seals=first)
    for code in rest:
        longer = words.listed((line, code))
        if text_width_mm(longer, "regular", TEXT_PT) > width_mm:
            yield line
            longer = code
        line = longer
    yield line
