"""Handwriting to type up: the writing areas of all sheets that count, and what was typed of them so far."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from scanner.archive.database import Archive, transaction
from scanner.archive.rows import change, insert, rowid_of
from scanner.review.queue import Seat

MOST_CHARACTERS = 2000
_AREAS = """
    SELECT sheets.sheet, sheets.sitting, sheets.taster, sheets.role, cutouts.field, cutouts.digest,
           sittings.title, sittings.date, tasters.name AS person, handwriting.text
    FROM cutouts JOIN sheets ON sheets.id = cutouts.sheet
    JOIN sittings ON sittings.id = sheets.sitting
    LEFT JOIN sittings_tasters AS seat ON seat.sitting = sheets.sitting AND seat.number = sheets.taster
    LEFT JOIN tasters ON tasters.id = seat.taster
    LEFT JOIN handwriting ON handwriting.sheet = sheets.sheet AND handwriting.field = cutouts.field
    WHERE cutouts.kind = 'writing' AND taken_back_at IS NULL AND superseded_by IS NULL AND conflict = 0
    ORDER BY sittings.date, sheets.sitting, sheets.taster, sheets.sheet, cutouts.field"""


@dataclass(frozen=True, slots=True)
class Area:
    """One writing area; `text` is what was typed of it, '' where nothing is written there, None where nobody looked."""

    sheet: str
    field: str
    role: str
    seat: Seat
    cutout: str
    text: str | None

    @property
    def id(self) -> str:
        """A name that stays the same."""
        return hashlib.sha256(f"writing\n{self.sheet}\n{self.field}".encode(errors="backslashreplace")).hexdigest()[:16]


def areas_of(archive: Archive) -> tuple[Area, ...]:
    """Return all writing areas in order, typed up or not."""
    return tuple(
        Area(
            row["sheet"],
            row["field"],
            row["role"],
            Seat(row["sitting"], row["title"], row["date"], row["taster"], row["person"]),
            row["digest"],
            row["text"],
        )
        for row in archive.connection.execute(_AREAS).fetchall()
    )


def next_area(areas: tuple[Area, ...], after: str | None = None) -> Area | None:
    """Return the next area that nobody typed up, from the one of that name on; at the end those before it."""
    names = [area.id for area in areas]
    start = names.index(after) + 1 if after in names else 0
    return next((area for area in (*areas[start:], *areas[:start]) if area.text is None and area.id != after), None)


def type_up(archive: Archive, area_id: str, text: str, who: str, now: str) -> Area | None:
    """Write down what a writing area says, in place of what was typed before; None where the area is there no more."""
    cleaned = "\n".join("".join(filter(str.isprintable, line)).rstrip() for line in text.splitlines())
    typed = cleaned.strip()[:MOST_CHARACTERS]
    with transaction(archive) as connection:
        area = next((one for one in areas_of(archive) if one.id == area_id), None)
        if area is None:
            return None
        former = rowid_of(connection, "handwriting", sheet=area.sheet, field=area.field)
        if former is None:
            insert(connection, "handwriting", sheet=area.sheet, field=area.field, text=typed, who=who, at=now)
        else:
            change(connection, "handwriting", former, text=typed, who=who, at=now)
        return area
