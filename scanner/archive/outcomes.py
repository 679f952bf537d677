"""How many claims of a taster's scanned match sheets were right, for `show`: by the database and the kits' keys alone.

It says no more than `score` would without being told anything: nothing while a claim is not settled, a picture is in
conflict, a key is locked or on paper, or other tasters' claims are waited for. No layout is opened and no record gone
through, and of many sittings the latest alone are looked at: each takes its marks and its kit's file.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

from kit.errors import KitError
from kit.files import RECORD_FILE
from kit.keys import SealedKey, open_key
from scanner.archive.database import Archive, Row
from scanner.archive.store import kit_folder
from scanner.archive.told import turned_order

LIVE = "sheets.taken_back_at IS NULL AND sheets.superseded_by IS NULL AND sheets.outcome = 'read'"
KINDS = ("match", "turned")
LATEST = 50
"""The results of so many sittings are told, of a taster who has more."""
SEATS = "(SELECT json_extract(value, '$[0]') AS sitting, json_extract(value, '$[1]') AS number FROM json_each(?))"
"""Sittings and tasters' numbers in them, given as JSON."""

Seat = tuple[str, int]
"""A sitting and a taster's number in it."""
Boxes = dict[tuple[str, str], str]
"""The state of each box that is not empty, by field and option."""
Places = dict[str, int | None]
"""A coaster number by place, None where there is none."""


def scanned_results(archive: Archive, taster: int) -> dict[Seat, dict[str, Any]]:
    """Return the result of each of a taster's LATEST sittings that has one, as typed results are told."""
    seats = archive.connection.execute(
        "SELECT sitting, number, shuffle, keys, glasses FROM sittings_tasters JOIN sittings ON sittings.id = sitting "
        f"WHERE taster = ? ORDER BY date DESC, sittings.id, number LIMIT {LATEST}",
        (taster,),
    ).fetchall()
    wanted = json.dumps([(seat["sitting"], seat["number"]) for seat in seats])
    sheets, rows, waiting = _sheets(archive, wanted), _rows(archive, wanted), _waiting(archive, wanted)
    found = {}
    for seat in seats:
        at = (seat["sitting"], seat["number"])
        letters = "ABCDE"[: seat["glasses"]]
        claims = _filled_in(sheets.get((*at, "match")), letters)
        if claims is None or at[0] in waiting:
            continue
        truth = _truth(archive, seat, letters, sheets.get((*at, "turned")), rows.get(at, ()))
        if truth is not None:
            found[at] = {
                "claims": claims,
                "truth": truth,
                "correct": sum(claims[place] == truth[place] for place in letters),
                "of": len(letters),
                "entered_by": "scan",
            }
    return found


def _sheets(archive: Archive, seats: str) -> dict[tuple[str, int, str], Boxes | None]:
    """Return the boxes that are not empty, by field and option, of each match and turned sheet; None in conflict."""
    read: dict[tuple[str, int, str], dict[int, Boxes]] = defaultdict(dict)
    names: dict[str, tuple[str, int, str]] = {}
    conflicts = set()
    for row in archive.connection.execute(
        f"SELECT sheets.id, sheets.sitting, number, role, sheet, conflict FROM {SEATS} AS seat "
        "JOIN sheets ON sheets.sitting = seat.sitting AND sheets.taster = seat.number "
        f"WHERE kind = 'page' AND role IN ('match', 'turned') AND {LIVE}",
        (seats,),
    ):
        key = (row["sitting"], row["number"], row["role"])
        names[row["sheet"]] = key
        conflicts |= {key} if row["conflict"] else set()
        read[key][row["id"]] = {}
    whose = {sheet: boxes for by_id in read.values() for sheet, boxes in by_id.items()}
    for kind in KINDS:
        for sheet, field, option, state in archive.connection.execute(
            f"SELECT marks.sheet, field, option, state FROM {SEATS} AS seat "
            "JOIN sheets ON sheets.sitting = seat.sitting AND sheets.taster = seat.number "
            "JOIN marks ON marks.sheet = sheets.id "
            f"WHERE kind = 'page' AND role = ? AND {LIVE} AND field >= ? AND field < ?",
            (seats, kind, f"{kind}.", f"{kind}/"),
        ):
            whose[sheet][field, option] = state
    for subject, field, option, after in archive.connection.execute(
        "SELECT subject, field, option, after FROM settlements WHERE field <> 'row' AND after IS NOT NULL ORDER BY id"
    ):
        if subject in names:
            for boxes in read[names[subject]].values():
                boxes[field, option] = after
    return {
        key: None if key in conflicts or len(by_id) != 1 else next(iter(by_id.values())) for key, by_id in read.items()
    }


def _rows(archive: Archive, seats: str) -> dict[Seat, list[tuple[tuple[int, ...], bool]]]:
    """Return the photographed orders of each sitting, and whether a person said so."""
    found: dict[Seat, list[tuple[tuple[int, ...], bool]]] = defaultdict(list)
    for row in archive.connection.execute(
        f"SELECT sheets.*, number FROM {SEATS} AS seat "
        "JOIN sheets ON sheets.sitting = seat.sitting AND sheets.taster = seat.number "
        f"WHERE kind = 'row' AND {LIVE}",
        (seats,),
    ):
        order, by_person = turned_order(archive.connection, row)
        if order is not None:
            found[row["sitting"], row["number"]].append((order, by_person))
    return found


def _waiting(archive: Archive, seats: str) -> set[str]:
    """Return the sittings whose keys tell of each other, and of which not all claims are in."""
    return {
        sitting
        for (sitting,) in archive.connection.execute(
            f"SELECT mine.sitting FROM {SEATS} AS mine JOIN sittings ON sittings.id = mine.sitting "
            "JOIN sittings_tasters AS seat ON seat.sitting = mine.sitting "
            "WHERE shuffle = 'host' AND keys <> 'own' AND NOT EXISTS ("
            "SELECT 1 FROM sheets WHERE sheets.sitting = seat.sitting AND sheets.taster = seat.number "
            f"AND kind = 'page' AND role = 'match' AND {LIVE})",
            (seats,),
        )
    }


def _filled_in(boxes: Mapping[tuple[str, str], str] | None, letters: str) -> Places | None:
    """Return the number crossed at each place; None where there is no sheet, or one that is not settled."""
    if boxes is None or "doubtful" in boxes.values():
        return None
    crossed: dict[str, list[int]] = {letter: [] for letter in letters}
    for (field, option), state in boxes.items():
        if state == "marked" and field.partition(".")[0] in KINDS:
            crossed[field.partition(".")[2]].append(int(option))
    if any(len(numbers) > 1 for numbers in crossed.values()):
        return None
    return {place: next(iter(numbers), None) for place, numbers in crossed.items()}


def _truth(
    archive: Archive,
    seat: Row,
    letters: str,
    turned: Boxes | None,
    rows: Iterable[tuple[tuple[int, ...], bool]],
) -> dict[str, int] | None:
    """Return what stood where, if all who tell of it agree; what a person said of the row counts alone."""
    rows = list(rows)
    told: list[Places] = [dict(zip(letters, order, strict=True)) for order, by_person in rows if by_person]
    if not told:
        told = [dict(zip(letters, order, strict=True)) for order, _ in rows]
        if turned is not None:
            filled_in = _filled_in(turned, letters)
            if filled_in is None:
                return None
            told.append(filled_in)
        key = None if seat["shuffle"] == "hand" else _key(archive, seat)
        if seat["shuffle"] != "hand" and key is None:
            return None
        told += [] if key is None else [dict(key)]
    truth: dict[str, int] = {}
    for one in told:
        for place, number in one.items():
            if number is not None and truth.setdefault(place, number) != number:
                return None
    whole = any(None not in one.values() for one in told)
    return truth if whole and sorted(truth.values()) == list(range(1, len(letters) + 1)) else None


def _key(archive: Archive, seat: Row) -> dict[str, int] | None:
    """Return a taster's key, None where the kit does not give it away."""
    try:
        record = json.loads((kit_folder(archive.folder, seat["sitting"]) / RECORD_FILE).read_bytes())
        entry = record["keys"][seat["number"] - 1]
        if record.get("keys_kept", "masked") != "masked":
            return None
        sealed = SealedKey(entry["seal"], entry["nonce"], masked=entry["masked"])
        opened = open_key(seat["sitting"], seat["number"], seat["glasses"], sealed)
    except (OSError, ValueError, LookupError, TypeError, KitError):
        # `verify` says what is wrong with a file; here the result stays blank.
        return None
    return dict(opened.places)
