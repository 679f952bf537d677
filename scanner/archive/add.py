"""Adds a pile: kits first, then file by file, each in one transaction, so that nothing is ever half there."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path

from kit.errors import SourceError
from kit.record import load_kit
from scanner.archive.database import Archive, Connection, transaction
from scanner.archive.facts import put_sheet, relate, relate_all
from scanner.archive.kits import add_kit, finish_pending, kits_of
from scanner.archive.rows import change, insert, rowid_of, seal
from scanner.archive.store import cutout_path, digest_of, keep_bytes, keep_file, original_path, suffix_of, sweep
from scanner.checked_file import checked_kind, refusal
from scanner.kits import KitOnFile
from scanner.page_tasks import PageRead
from scanner.read_pile import read_and_cut
from scanner.reading import Outcome, PageReading, PictureReading, TurnedReading

FAILED_PAGES = (
    "SELECT id, page FROM sheets WHERE original = ? AND outcome <> 'read' AND taken_back_at IS NULL "
    "AND superseded_by IS NULL"
)

ANY_KIT = ""
"""In place of a kit's id: turned coasters of a kit that is not there do not say which."""

Kits = Mapping[str, KitOnFile]
ReadFiles = Callable[[Sequence[Path | str], Kits, int], Iterable[PageRead]]


@dataclass(frozen=True, slots=True)
class Added:
    """What became of one page, or of a file as a whole where `page` is None: a word, and a sentence where one helps."""

    source: str
    page: int | None
    sheet: str | None
    taster: int | None
    what: str
    reason: str | None = None

    @property
    def is_left_to_look_at(self) -> bool:
        """Whether a person has something to do about it."""
        return self.what in ("conflict", "unreadable", "foreign", "waits", "refused", "doubts")


def add_pile(
    archive: Archive,
    kit_folders: Sequence[Path],
    files: Sequence[Path],
    now: str,
    *,
    jobs: int = 1,
    read: ReadFiles = read_and_cut,
) -> Iterator[Added]:
    """Add kits and the files of a pile; yield what became of each page, as soon as it is kept.

    What is in the archive already changes nothing, but for pages that could not be read and can be, now that a kit is
    named with them. Sheets that waited for one of the kits are read. A file that was
    taken back is there again.

    Parameters
    ----------
    kit_folders
        Kit folders to add, or ids of kits in the archive: house coasters in the pile are of those.
    read
        Stand-in for the reader, for tests of everything else.
    """
    sweep(archive)
    finish_pending(archive)
    named = {add_kit(archive, folder, now) if folder.is_dir() else _named(archive, folder) for folder in kit_folders}
    every = kits_of(archive)
    kits = _without_other_evenings(every, named)
    yield from _take_up_waiting(archive, kits, now, jobs)
    fresh: dict[str, Path] = {}
    pile, digests = _pile(files)
    for file, found in digests.items():
        if isinstance(found, Added):
            yield found
        elif known := _known(archive, file, found):
            yield known
            if named and _has_failed_pages(archive, found):
                yield from _read_again(archive, found, kits, now, read((file,), kits, jobs))
        else:
            fresh.setdefault(found, file)
    by_source = {str(file): digest for digest, file in fresh.items()}
    for source, group in groupby(read(tuple(fresh.values()), kits, jobs), key=lambda page: page.picture.source):
        pages = tuple(group)
        if pages[0].picture.source_page is None:
            yield Added(source, None, None, None, "refused", pages[0].picture.reason)
            continue
        yield from _keep(archive, Path(source), by_source[source], pile, pages, kits, now)
    if len(kits) < len(every):
        yield from _take_up_waiting(archive, every, now, jobs)


def _named(archive: Archive, folder: Path) -> str:
    """Return the kit's id where it is that of a kit in the archive; KitError of a folder that is not there."""
    kit = str(folder)
    return kit if rowid_of(archive.connection, "kits", id=kit) is not None else load_kit(folder).id


def _without_other_evenings(kits: Kits, named: Collection[str]) -> Kits:
    """House coasters do not tell evenings apart: of the kits that use one set, those named count alone, if any."""
    houses = {kits[kit].house for kit in named} - {None}
    return {name: kit for name, kit in kits.items() if name in named or kit.house not in houses}


def _pile(files: Sequence[Path]) -> tuple[str, dict[Path, str | Added]]:
    """Return the pile's id and each file's digest, or why it is refused."""
    found: dict[Path, str | Added] = {}
    for file in files:
        try:
            checked_kind(file)
            found[file] = digest_of(file)
        except (SourceError, OSError) as error:
            found[file] = Added(str(file), None, None, None, "refused", str(_refusal(error)))
    digests = sorted({digest for digest in found.values() if isinstance(digest, str)})
    return hashlib.sha256("\n".join(digests).encode()).hexdigest()[:12], found


def _refusal(error: SourceError | OSError) -> SourceError:
    return error if isinstance(error, SourceError) else refusal(error)


def _known(archive: Archive, file: Path, digest: str) -> Added | None:
    """Say that a file is in the archive already, and bring it back where it was taken back."""
    connection = archive.connection
    if rowid_of(connection, "originals", digest=digest) is None:
        return None
    taken_back = "SELECT id, sheet FROM sheets WHERE original = ? AND taken_back_at IS NOT NULL"
    if connection.execute(taken_back, (digest,)).fetchone() is None:
        return Added(str(file), None, None, None, "there already")
    with transaction(archive):
        rows = connection.execute(taken_back, (digest,)).fetchall()
        for row in rows:
            change(connection, "sheets", row["id"], taken_back_at=None)
        relate_all(connection, (row["sheet"] for row in rows))
    return Added(str(file), None, None, None, "brought back")


def _has_failed_pages(archive: Archive, digest: str) -> bool:
    return archive.connection.execute(FAILED_PAGES, (digest,)).fetchone() is not None


def _read_again(archive: Archive, digest: str, kits: Kits, now: str, read: Iterable[PageRead]) -> tuple[Added, ...]:
    """Put what can be read by now, with the kits named, in the place of what could not be read before."""
    pages = tuple(page for page in read if page.picture.outcome is Outcome.READ)
    told = []
    with transaction(archive) as connection:
        if _erased_on(connection, pages):
            return ()
        failed = {row["page"]: row["id"] for row in connection.execute(FAILED_PAGES, (digest,))}
        for page in pages:
            picture = page.picture
            former = failed.get(picture.source_page)
            if former is None:
                continue
            connection.execute("DELETE FROM sheets WHERE id = ?", (former,))
            row = _keep_picture(archive, digest, page, kits, now)
            if isinstance(picture, PageReading) and picture.sheet:
                relate(connection, picture.sheet)
            told.append(_told(connection, picture, row))
    return tuple(told)


def _keep(
    archive: Archive,
    path: Path,
    digest: str,
    pile: str,
    pages: Sequence[PageRead],
    kits: Kits,
    now: str,
) -> tuple[Added, ...]:
    """Keep one file with everything read from it, in one transaction."""

    def whole_file(what: str, reason: str | None = None) -> tuple[Added, ...]:
        return (Added(str(path), None, None, None, what, reason),)

    with transaction(archive) as connection:
        if erased := _erased_on(connection, pages):
            reason = f"page {erased.source_page} shows a taster who was erased. Add a file without that page."
            return whole_file("refused", reason)
        if rowid_of(connection, "originals", digest=digest) is not None:
            return whole_file("there already")  # another process came first
        try:
            suffix = suffix_of(path)
            keep_file(path, original_path(archive.folder, digest, suffix), digest)
        except SourceError as error:
            return whole_file("refused", str(error))
        if rowid_of(connection, "piles", id=pile) is None:
            insert(connection, "piles", id=pile, added_at=now)
        insert(
            connection,
            "originals",
            digest=digest,
            suffix=suffix,
            bytes=path.stat().st_size,
            name=path.name,
            pile=pile,
            added_at=now,
        )
        rows = [(page.picture, _keep_picture(archive, digest, page, kits, now)) for page in pages]
        relate_all(connection, (picture.sheet for picture, _ in rows if isinstance(picture, PageReading)))
        return tuple(_told(connection, picture, row) for picture, row in rows)


def _keep_picture(archive: Archive, digest: str, page: PageRead, kits: Kits, now: str) -> int | None:
    """Keep what one page gave; None where it waits for its kit."""
    connection, picture, cutouts = archive.connection, page.picture, page.cutouts
    if (waits_for := _waits_for(picture, kits)) is not None:
        insert(
            connection,
            "waiting",
            original=digest,
            page=picture.source_page or 1,
            kit=waits_for,
            reason=picture.reason or "its kit is not known",
            added_at=now,
        )
        return None
    row = put_sheet(connection, digest, picture, now)
    for one in cutouts:
        png_digest = hashlib.sha256(one.png).hexdigest()
        target = cutout_path(archive.folder, png_digest)
        if not target.exists():
            keep_bytes(one.png, target)
        connection.execute(
            "INSERT INTO cutouts (sheet, kind, field, option, digest) VALUES (?, ?, ?, ?, ?)",
            (row, one.kind, one.field, one.option, png_digest),
        )
    if cutouts:
        seal(connection, "sheets", row)
    return row


def _waits_for(picture: PictureReading, kits: Kits) -> str | None:
    """Return the kit that a page waits for, ANY_KIT where it does not tell, None where it does not wait."""
    if picture.outcome is not Outcome.FOREIGN or picture.kit in kits:
        return None
    return picture.kit or (ANY_KIT if isinstance(picture, TurnedReading) else None)


def _take_up_waiting(archive: Archive, kits: Kits, now: str, jobs: int) -> Iterator[Added]:
    """Read the pages that waited for a kit which is there now."""
    waiting = archive.connection.execute(
        "SELECT waiting.original, waiting.page, originals.suffix, originals.name FROM waiting "
        "JOIN originals ON digest = original WHERE waiting.kit = ? OR waiting.kit IN (SELECT id FROM kits) "
        "ORDER BY originals.rowid, waiting.page",
        (ANY_KIT,),
    ).fetchall()
    for digest, group in groupby(waiting, key=lambda row: row["original"]):
        rows = tuple(group)
        path = original_path(archive.folder, digest, rows[0]["suffix"])
        wanted = {str(path): {row["page"] for row in rows}}
        pages = tuple(
            replace(page, picture=replace(page.picture, source=rows[0]["name"]))
            for page in read_and_cut((path,), kits, jobs, only=wanted)
            if page.picture.source_page is not None and _waits_for(page.picture, kits) is None
        )
        with transaction(archive) as connection:
            told = []
            for page in pages:
                picture = page.picture
                still = "SELECT rowid FROM waiting WHERE original = ? AND page = ?"
                if connection.execute(still, (digest, picture.source_page)).fetchone() is None:
                    continue  # another process came first
                connection.execute("DELETE FROM waiting WHERE original = ? AND page = ?", (digest, picture.source_page))
                row = _keep_picture(archive, digest, page, kits, now)
                if isinstance(picture, PageReading) and picture.sheet:
                    relate(connection, picture.sheet)
                told.append(_told(connection, picture, row))
        yield from told


def _erased_on(connection: Connection, pages: Sequence[PageRead]) -> PictureReading | None:
    """Return the first page that shows a taster who was erased from its sitting."""
    for picture in (page.picture for page in pages):
        seat = connection.execute(
            "SELECT 1 FROM sittings_tasters WHERE sitting = ? AND number = ? AND erased_at IS NOT NULL",
            (picture.kit, picture.taster),
        ).fetchone()
        if seat is not None:
            return picture
    return None


def _told(connection: Connection, picture: PictureReading, row: int | None) -> Added:
    sheet = picture.sheet if isinstance(picture, PageReading) else None
    place = (picture.source, picture.source_page, sheet, picture.taster)
    if row is None:
        kit = f"kit {picture.kit}" if picture.kit else "its kit"
        return Added(*place, "waits", f"it waits for {kit}: add it with --kit")
    stored = connection.execute("SELECT * FROM sheets WHERE id = ?", (row,)).fetchone()
    if stored["outcome"] != "read":
        return Added(*place, stored["outcome"], stored["reason"])
    if stored["conflict"]:
        return Added(*place, "conflict", "another picture of this sheet has other answers; a person decides")
    if stored["superseded_by"] is not None:
        return Added(*place, "repeat", "another picture of this sheet counts")
    former = connection.execute("SELECT count(*) FROM sheets WHERE superseded_by = ?", (row,)).fetchone()[0]
    word = "doubts" if stored["left_over"] else "better" if former else "read"
    left = f"{stored['left_over']} left to look at" if stored["left_over"] else None
    return Added(*place, word, left or ("it counts in place of a former picture" if former else None))
