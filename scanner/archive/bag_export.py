"""Exports an archive to a bag: a snapshot of it first, then everything else from the snapshot, then the digests.

So a writer may go on meanwhile. The bag takes its name only when it is whole.
"""

from __future__ import annotations

import contextlib
import json
import os
import secrets
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import bagit

from kit.errors import FacedownError, StorageError
from kit.wording import load_wording
from scanner.archive.bag import (
    ARCHIVE_PART,
    DECLARATION,
    DIGESTS,
    FORMAT,
    FORMAT_LABEL,
    READINGS_PART,
    README,
    RESULTS_PART,
    SHEETS_PART,
    TABLES_PART,
)
from scanner.archive.bag_results import results_of_kit, rows_of_entry, rows_of_typed
from scanner.archive.bag_sheets import count_sheets, write_sheets
from scanner.archive.bag_tables import RESULT_COLUMNS, SITTINGS, write_csv, write_tables
from scanner.archive.database import DATABASE_FILE, Archive, archive_at, snapshot
from scanner.archive.kits import finish_pending, kit_folders
from scanner.archive.readings import readings_of, typed_sittings
from scanner.archive.store import named_files
from scanner.archive.verify import verify
from scanner.reading import to_json
from scanner.reports.csv_safe import Cell

DECLARED = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
"""The library writes that a bag is of 0.97; this one keeps to RFC 8493 as well."""

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Exported:
    """What the bag holds; `without_picture` are sheets, `not_scored` says of sittings why they have no results."""

    sheets: int
    without_picture: tuple[str, ...]
    not_scored: dict[str, str]
    files: int
    octets: int


def export(folder: Path, target: Path, now: str, software: str, progress: Progress = lambda *_: None) -> Exported:
    """Write the archive in `folder` to the bag `target`.

    Parameters
    ----------
    now
        The time, UTC, ISO 8601.
    software
        This program with its version.
    progress
        Called as sheets are done, with how many and of how many.

    Raises
    ------
    FacedownError
        If the target is there already, or lies in the archive.
    StorageError
        If there is no archive, it is damaged, or the disk refuses. Then there is no bag.
    """
    refuse_taken(target)
    if folder.resolve() in (target.resolve(), *target.resolve().parents):
        raise FacedownError(f"{target}: this is within the archive.", "Name a folder elsewhere for the bag.")
    with built_beside(target) as making:
        _take_snapshot(folder, making / ARCHIVE_PART)
        with archive_at(making / ARCHIVE_PART, frozen=True) as archive:
            not_scored = _write_results(archive, making)
            write_tables(archive.connection, making / TABLES_PART)
            without_picture = _write_sheets(archive, making / SHEETS_PART, progress)
            sheets = count_sheets(archive)
        about = {"day": now[:10], "software": software, "sheets": sheets, "format": FORMAT}
        (making / README).write_text(load_wording("en")("bag.readme", **about), "utf-8")
        files, octets = _make_bag(making, now, software)
    return Exported(sheets, without_picture, not_scored, files, octets)


def refuse_taken(target: Path) -> None:
    """Refuse a target that is there, unless it is an empty folder."""
    if target.is_symlink() or (target.exists() and not (target.is_dir() and not any(target.iterdir()))):
        what = "an archive is here already" if (target / DATABASE_FILE).exists() else "it is there already"
        raise FacedownError(f"{target}: {what}; nothing is written over it.", "Name a new folder.")


@contextlib.contextmanager
def built_beside(target: Path) -> Iterator[Path]:
    """Give a folder to fill, which becomes `target` when the block ends well; else nothing of it is left."""
    target.parent.mkdir(parents=True, exist_ok=True)
    making = target.parent.resolve() / f".facedown-{secrets.token_hex(8)}.tmp"
    making.mkdir(mode=0o700)
    try:
        yield making
        making.chmod(0o777 & ~_umask())
        if hasattr(os, "sync"):
            os.sync()
        if target.exists():
            target.rmdir()  # empty, as `refuse_taken` saw
        making.rename(target)
    except BaseException:
        shutil.rmtree(making, ignore_errors=True)
        raise


def _take_snapshot(folder: Path, copy: Path) -> None:
    """Copy an archive as it is at one moment, and check the copy."""
    copy.mkdir()
    with archive_at(folder) as archive:
        if archive.connection.execute("SELECT 1 FROM kits WHERE record_pending IS NOT NULL").fetchone():
            with archive_at(folder, write=True) as writing:
                finish_pending(writing)
        snapshot(archive, copy / DATABASE_FILE)
    with archive_at(copy, frozen=True) as archive:
        for path in named_files(archive.connection):
            (copy / path).parent.mkdir(parents=True, exist_ok=True)
            with contextlib.suppress(FileNotFoundError):
                shutil.copyfile(folder / path, copy / path)
        faults = verify(archive).faults
    if faults:
        more = f" and {len(faults) - 1} more" if len(faults) > 1 else ""
        raise StorageError(
            f"{folder}: the archive is damaged, or it was changed meanwhile: {faults[0]}{more}",
            "`facedown archive verify` says more. If all is well there, export again.",
        )


def _write_results(archive: Archive, bag: Path) -> dict[str, str]:
    """Write readings and results of each kit, and the tables of sittings and results; return why some have none."""
    not_scored: dict[str, str] = {}
    (bag / READINGS_PART).mkdir()
    (bag / RESULTS_PART).mkdir()

    def rows() -> Iterator[tuple[Cell, ...]]:
        for folder in kit_folders(archive):
            _, reading = readings_of(archive, [folder.name])
            _write_json(bag / READINGS_PART / f"{folder.name}.json", to_json(reading))
            found = results_of_kit(folder, reading)
            if found.entry is None:
                not_scored[folder.name] = found.why_not or ""
                continue
            _write_json(bag / RESULTS_PART / f"{folder.name}.json", found.entry)
            yield from map(tuple, rows_of_entry(found.entry))
        for result in typed_sittings(archive):
            yield from map(tuple, rows_of_typed(result))

    write_csv(bag / TABLES_PART / "results.csv", RESULT_COLUMNS, rows())
    sittings = archive.connection.execute(SITTINGS)
    heading = [column[0] for column in sittings.description]
    write_csv(
        bag / TABLES_PART / "sittings.csv",
        [*heading, "not_scored"],
        ((*row, not_scored.get(row["sitting"])) for row in sittings),
    )
    return not_scored


def _write_json(path: Path, entry: object) -> None:
    path.write_bytes((json.dumps(entry, ensure_ascii=False, indent=1) + "\n").encode(errors="backslashreplace"))


def _write_sheets(archive: Archive, folder: Path, progress: Progress) -> tuple[str, ...]:
    total, without_picture = count_sheets(archive), []
    folder.mkdir()
    for done, (sheet, has_picture) in enumerate(write_sheets(archive, folder), start=1):
        if not has_picture:
            without_picture.append(sheet)
        progress(done, total)
    return tuple(without_picture)


def _make_bag(folder: Path, now: str, software: str) -> tuple[int, int]:
    """Turn a folder into a bag; return how many files and bytes its payload has."""
    info = {
        "External-Description": "Sheets of blind matching exercises as scanned, what was read of them, the results.",
        "Bagging-Date": now[:10],
        "Bag-Software-Agent": f"{software}, bagit.py {bagit.VERSION}",
        FORMAT_LABEL: FORMAT,
    }
    bag = bagit.make_bag(str(folder), info, checksums=list(DIGESTS))
    (folder / DECLARATION).write_text(DECLARED, "utf-8", newline="\n")
    bag.save()  # writes the digests of the tag files anew
    octets, files = str(bag.info["Payload-Oxum"]).split(".")
    return int(files), int(octets)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
