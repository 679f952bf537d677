"""Kits into the archive: their records without addresses, and the facts of their sittings."""

from __future__ import annotations

import hashlib
from collections.abc import Collection
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from kit.errors import KitError
from kit.house import card_number
from kit.record import LAYOUT_FILE, RECORD_FILE, Kit, layout_of, layout_sha256_of, load_kit, record_file
from kit.session import Pour, Session, Taster
from scanner.archive.database import Archive, Connection, transaction
from scanner.archive.rows import change, insert, refusing_odd_rows, rowid_of
from scanner.archive.store import PENDING, digest_of, keep_bytes, keep_file, kit_folder
from scanner.box_names import Printed, printed_on
from scanner.kits import KitOnFile, from_kit


def add_kit(archive: Archive, source: Path, now: str) -> str:
    """Take a kit folder's record and layout into the archive; return the kit's id.

    A kit that is there already stays as it is. One that was printed again with a taster more takes the place of the
    former.

    Raises
    ------
    KitError
        If the folder is no kit, or the archive has another kit of that id.
    """
    kit, layout = load_kit(source), layout_of(source)
    if layout.kit != kit.id:
        raise KitError(f"{source}: the layout is of kit {layout.kit}, the record of {kit.id}.")
    with transaction(archive) as connection:
        erased = _erased(connection, kit.id)
        kept = replace(kit, session=without_erased(kit.id, without_addresses(kit.session), erased))
        record = record_file(kept, layout_sha256_of(source))
        digests = (hashlib.sha256(record).hexdigest(), digest_of(source / LAYOUT_FILE))
        former = connection.execute(
            "SELECT rowid, record_digest, layout_digest, record_pending FROM kits WHERE id = ?", (kit.id,)
        ).fetchone()
        if former is not None and (former[1], former[2]) == digests and former[3] is None:
            return kit.id
        target = kit_folder(archive.folder, kit.id)
        if former is None:
            keep_bytes(record, target / RECORD_FILE)
            (target / LAYOUT_FILE).unlink(missing_ok=True)
            keep_file(source / LAYOUT_FILE, target / LAYOUT_FILE, digests[1])
            _insert(connection, kept, digests, now)
            return kit.id
        _refuse_another(load_kit(target), kept, source)
        _stage(archive, kit.id, record, (source / LAYOUT_FILE).read_bytes())
    finish_pending(archive)
    return kit.id


def rewrite_record(archive: Archive, kit: Kit) -> None:
    """Put another session into an archived kit's record, in steps that `finish_pending` can take up."""
    target = kit_folder(archive.folder, kit.id)
    with transaction(archive):
        _stage(archive, kit.id, record_file(kit, layout_sha256_of(target)), (target / LAYOUT_FILE).read_bytes())
    finish_pending(archive)


def finish_pending(archive: Archive) -> None:
    """Let staged records take the place of the former ones; also what an interrupted process left staged."""
    pending = "SELECT rowid, id, record_pending, layout_pending FROM kits WHERE record_pending IS NOT NULL"
    if archive.connection.execute(pending).fetchone() is None:
        return
    with transaction(archive) as connection:
        for rowid, kit_id, record, layout in connection.execute(pending).fetchall():
            target = kit_folder(archive.folder, kit_id)
            for name in (LAYOUT_FILE, RECORD_FILE):
                if (target / f"{PENDING}{name}").exists():
                    (target / f"{PENDING}{name}").replace(target / name)
            columns = {"record_digest": record, "layout_digest": layout, "record_pending": None, "layout_pending": None}
            change(connection, "kits", rowid, **columns)
            for number, taster in enumerate(load_kit(target).session.tasters, start=1):
                if rowid_of(connection, "sittings_tasters", sitting=kit_id, number=number) is None:
                    put_taster(connection, kit_id, number, taster)


@refusing_odd_rows
def kits_of(archive: Archive) -> dict[str, KitOnFile]:
    """Return all kits as the reader sees them, by id."""
    kits = {}
    for (kit_id,) in archive.connection.execute("SELECT id FROM kits ORDER BY id"):
        folder = kit_folder(archive.folder, kit_id)
        kits[kit_id] = from_kit(load_kit(folder), layout_of(folder))
    return kits


@refusing_odd_rows
def printed_in(archive: Archive, sitting: str) -> Printed:
    """Return how words and scales are printed on a sitting's sheets; nothing where they are in English, or typed in."""
    row = archive.connection.execute("SELECT record_digest FROM kits WHERE id = ?", (sitting,)).fetchone()
    return {} if row is None else _printed_by(kit_folder(archive.folder, sitting), row[0])


@lru_cache(maxsize=1000)
def _printed_by(folder: Path, _record_digest: str) -> Printed:
    session = load_kit(folder).session
    return printed_on(session.drink, session.language)


def kit_folders(archive: Archive) -> tuple[Path, ...]:
    """Return the kit folders within the archive, by date of the sitting; every command with --kit takes one."""
    found = archive.connection.execute("SELECT kit FROM sittings WHERE kit IS NOT NULL ORDER BY date, id")
    return tuple(kit_folder(archive.folder, kit) for (kit,) in found)


def without_addresses(session: Session) -> Session:
    """Return a session without the addresses of tasters and of whoever gets the sheets: none is archived."""
    tasters = tuple(replace(taster, address=()) for taster in session.tasters)
    return replace(session, tasters=tasters, send_to=(), seed=None)


def without_erased(kit: str, session: Session, erased: Collection[int]) -> Session:
    """Return a session in which tasters of these numbers have no name and no id.

    With house coasters everybody needs an id: such a taster gets one that says nothing.
    """
    tasters = list(session.tasters)
    cards = {card_number(session.house, one.id) for one in tasters if one.id} if session.house else set()
    for number in sorted(erased):
        stand_in: str | None = None
        if session.coasters == "house":
            tries = (f"erased-{kit.lower()}-{number}-{turn}" for turn in range(1, 10_000))
            stand_in = next(one for one in tries if not session.house or card_number(session.house, one) not in cards)
            cards |= {card_number(session.house, stand_in)} if session.house else set()
        tasters[number - 1] = Taster(f"Taster {number} (erased)", stand_in)
    return replace(session, tasters=tuple(tasters))


def taster_key(taster: Taster) -> str:
    """Return what a taster is known by over many sittings: the id, or the name where there is none."""
    return taster.id or taster.name


def put_taster(connection: Connection, sitting: str, number: int, taster: Taster) -> None:
    """Seat a taster in a sitting; the person is the one known by the same id or name."""
    person = rowid_of(connection, "tasters", key=taster_key(taster))
    if person is None:
        person = insert(connection, "tasters", key=taster_key(taster), name=taster.name)
    if rowid_of(connection, "sittings_tasters", sitting=sitting, number=number) is None:
        insert(connection, "sittings_tasters", sitting=sitting, number=number, taster=person)


def put_drink(connection: Connection, sitting: str, coaster: int, pour: Pour) -> None:
    """Put a drink on a sitting's coaster."""
    key = pour.id or pour.name
    drink = rowid_of(connection, "drinks", key=key)
    if drink is None:
        drink = insert(connection, "drinks", key=key, name=pour.name, style=pour.style, abv_percent=pour.abv_percent)
    if rowid_of(connection, "sittings_drinks", sitting=sitting, coaster=coaster) is None:
        insert(connection, "sittings_drinks", sitting=sitting, coaster=coaster, drink=drink)


def _insert(connection: Connection, kit: Kit, digests: tuple[str, str], now: str) -> None:
    insert(connection, "kits", id=kit.id, record_digest=digests[0], layout_digest=digests[1], added_at=now)
    session = kit.session
    insert(
        connection,
        "sittings",
        id=kit.id,
        kit=kit.id,
        title=session.title,
        date=session.date.isoformat(),
        drink=session.drink,
        shuffle=session.shuffle,
        keys=session.keys,
        glasses=session.glasses,
        entered_by="kit",
        added_at=now,
    )
    for coaster, pour in enumerate(session.pours, start=1):
        put_drink(connection, kit.id, coaster, pour)
    for number, taster in enumerate(session.tasters, start=1):
        put_taster(connection, kit.id, number, taster)


def _stage(archive: Archive, kit_id: str, record: bytes, layout: bytes) -> None:
    """Lay two records beside the former ones, and note that they are to take their place."""
    rowid = rowid_of(archive.connection, "kits", id=kit_id)
    assert rowid is not None
    digests = []
    for name, content in ((RECORD_FILE, record), (LAYOUT_FILE, layout)):
        keep_bytes(content, kit_folder(archive.folder, kit_id) / f"{PENDING}{name}")
        digests.append(hashlib.sha256(content).hexdigest())
    change(archive.connection, "kits", rowid, record_pending=digests[0], layout_pending=digests[1])


def _erased(connection: Connection, kit: str) -> frozenset[int]:
    """Return the numbers of the tasters who were erased from a sitting."""
    found = connection.execute(
        "SELECT number FROM sittings_tasters WHERE sitting = ? AND erased_at IS NOT NULL", (kit,)
    )
    return frozenset(number for (number,) in found)


def _refuse_another(former: Kit, kit: Kit, source: Path) -> None:
    is_same = former.secret == kit.secret and former.seals == kit.seals[: len(former.seals)]
    if not is_same or len(kit.session.tasters) < len(former.session.tasters):
        raise KitError(
            f"{source}: the archive has another kit {kit.id}, or this one with more tasters.",
            "Use the kit folder as it was printed last, or an archive of its own.",
        )
