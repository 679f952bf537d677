"""Keys that a kit's record does not give: taken from opened key sheets that were read, each held against its seal."""

from __future__ import annotations

from collections.abc import Mapping

from kit.codes import ROLE_DIGITS, sheet_id
from kit.keys import OpenedKey
from kit.record import Kit
from kit.told_keys import opened_by, told_key
from scanner.claims import where
from scanner.reading import OpenedReading, Outcome, Reading

TOLD = (Outcome.READ, Outcome.REPEAT)


def keys_from_readings(kit: Kit, readings: Mapping[str, Reading]) -> tuple[OpenedKey, ...]:
    """Return the keys of a kit that the readings, by the names of their files, hold, in taster order.

    Raises
    ------
    ReadingError
        If one of them cannot be a key of the kit, or is not the one that was sealed.
    """
    keys = {
        sheet.taster: _opened(kit, sheet, f"{subject}: {where(sheet)}")
        for subject, reading in readings.items()
        for sheet in reading.opened
        if sheet.kit == kit.id and sheet.outcome in TOLD
    }
    return tuple(keys[taster] for taster in sorted(keys))


def missing_sentence(kit: str, taster: int) -> str:
    """Say which opened key sheet is waited for, and what to do."""
    sheet = sheet_id(kit, taster, ROLE_DIGITS["key"])
    return (
        f"the key is on paper alone, and no reading holds the opened key sheet {sheet}; photograph or scan it opened, "
        "and read it too"
    )


def _opened(kit: Kit, sheet: OpenedReading, place: str) -> OpenedKey:
    places = None if sheet.places is None else dict(sheet.places)
    told = told_key({"taster": sheet.taster, "places": places, "salt": sheet.salt}, place, kit)
    return opened_by(told, kit, place)
