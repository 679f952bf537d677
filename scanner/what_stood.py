"""What stood at each place of a taster: by the sealed key, the turned sheet, the photographed row, or a person."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from kit.keys import OpenedKey
from kit.session import Session
from kit.sheet_layout import KitLayout
from scanner.claims import combined, turned_of, where
from scanner.reading import PageReading, TurnedReading

TruthSource = Literal["key", "turned", "row", "person"]

Told = tuple[TruthSource, str, Mapping[str, int]]
"""Who tells what stood where: the source, its name for people, and the coaster numbers by place."""

DECIDED = "what stood where is as a person settled it"


@dataclass(frozen=True, slots=True)
class Sitting:
    """What scoring has to know of one kit; `keys` are opened, in taster order, none with `hand`.

    `absent` are the tasters who were not there: their claims are not waited for. With `keys_on_paper` the keys are
    those of the opened key sheets that were read, and some may be missing.
    """

    kit: str
    session: Session
    layout: KitLayout
    keys: tuple[OpenedKey, ...]
    absent: tuple[int, ...] = ()
    keys_on_paper: bool = False

    def key_of(self, taster: int) -> OpenedKey | None:
        """Return a taster's key, None where there is none or it is not known."""
        return next((key for key in self.keys if key.taster == taster), None)

    def lacks_key_of(self, taster: int) -> bool:
        """Tell whether a taster's key is on paper alone, and was not read."""
        return self.keys_on_paper and self.key_of(taster) is None


@dataclass(frozen=True, slots=True)
class Truth:
    """What stood at each place, None unless known for all; `unsettled` has the places in doubt and why.

    `sealed` where it could be known, but other tasters' claims are waited for.
    """

    numbers: Mapping[str, int] | None
    source: TruthSource | None
    unsettled: Mapping[str, str]
    remarks: tuple[str, ...] = ()
    sealed: bool = False


def truth_of(
    sitting: Sitting, number: int, turned_pages: Sequence[PageReading], rows: Sequence[TurnedReading]
) -> Truth:
    """Return what stood where: by the sealed key, or with `hand` by the turned sheet or the photographed row.

    Where two of them differ, were it at a place that the turned sheet alone fills in, nothing is known and a person
    must look; what a person then says stood in the row counts alone.
    """
    places = sitting.session.place_letters
    decided = [row for row in rows if row.by is not None]
    if decided:
        return _told_truth([_by_row("person", row, places) for row in decided], places, (DECIDED,))
    if sitting.lacks_key_of(number):
        return Truth(None, None, {})
    key = sitting.key_of(number)
    told: list[Told] = [("key", "the sealed key", key.places)] if key else []
    remarks: tuple[str, ...] = ()
    if turned_pages:
        turned = turned_of(combined(turned_pages), places, range(1, len(places) + 1))
        if turned.unsettled:
            return Truth(None, None, turned.unsettled, turned.remarks)
        remarks = turned.remarks
        stood = {place: coaster for place, coaster in turned.numbers.items() if coaster is not None}
        told.append(("turned", "the turned sheet", stood))
    told += [_by_row("row", row, places) for row in rows]
    return _told_truth(told, places, remarks)


def _by_row(source: TruthSource, row: TurnedReading, places: Sequence[str]) -> Told:
    who = f"a person, for {where(row)}" if source == "person" else f"the row on {where(row)}"
    return source, who, dict(zip(places, row.order or (), strict=True))


def _told_truth(told: Sequence[Told], places: Sequence[str], remarks: tuple[str, ...]) -> Truth:
    """Return the truth that all who tell of it agree upon: the first that tells of every place."""
    unsettled = {
        place: " but ".join(f"{stood[place]} by {who}" for _, who, stood in told if place in stood)
        for place in places
        if len({stood[place] for _, _, stood in told if place in stood}) > 1
    }
    whole = [(source, stood) for source, _, stood in told if stood.keys() == set(places)]
    if unsettled or not whole:
        return Truth(None, None, unsettled, remarks)
    source, numbers = whole[0]
    return Truth(numbers, source, {}, remarks)
