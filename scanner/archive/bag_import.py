"""Restores an archive from a bag, byte for byte: every file as the bag has it, or nothing at all."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from kit.errors import StorageError
from scanner.archive.bag import ARCHIVE_PART, COPY, DIGESTS, PAYLOAD, archive_in, faults_of, opened_bag
from scanner.archive.bag_export import built_beside, refuse_taken
from scanner.archive.database import DATABASE_FILE, archive_at, version_of
from scanner.archive.schema import expected_schema, schema_of
from scanner.archive.store import CHUNK, named_files
from scanner.archive.verify import verify


@dataclass(frozen=True, slots=True)
class Imported:
    """What was restored."""

    files: int
    octets: int
    sheets: int
    sittings: int


def import_bag(bag_folder: Path, target: Path) -> Imported:
    """Restore the archive in a bag as the new folder `target`.

    Raises
    ------
    FacedownError
        If the target is there already.
    StorageError
        If the bag is damaged, incomplete, of an unknown version or not to be trusted, or the disk refuses. Then there
        is no archive.
    """
    refuse_taken(target)
    bag = opened_bag(bag_folder)
    if bag_folder.resolve() in target.resolve().parents:
        raise StorageError(f"{target}: this is within the bag.", "Name a folder elsewhere for the archive.")
    if faults := faults_of(bag):
        more = f" And {len(faults) - 1} more." if len(faults) > 1 else ""
        raise StorageError(f"{bag_folder}: the bag is not as it was written: {faults[0]}{more}", COPY)
    with built_beside(target) as making:
        octets, copied = 0, set()
        source = archive_in(bag_folder)
        for place, _, names in os.walk(source):
            for name in names:
                path = Path(place, name).relative_to(source)
                entry = bag.entries[str(Path(PAYLOAD, ARCHIVE_PART, path))]
                octets += _copy(source / path, making / path, entry)
                copied.add(path)
        return _checked(making, copied, octets, bag_folder)


def _copy(source: Path, target: Path, digests: Mapping[str, str]) -> int:
    """Copy a file, and see while it is copied that it is the one of the manifest; return its size."""
    target.parent.mkdir(parents=True, exist_ok=True)
    hashers = {name: hashlib.new(name) for name in DIGESTS if name in digests}
    size = 0
    with source.open("rb") as given, target.open("xb") as file:
        while chunk := given.read(CHUNK):
            for hasher in hashers.values():
                hasher.update(chunk)
            size += file.write(chunk)
    if not hashers or any(hasher.hexdigest() != digests[name].lower() for name, hasher in hashers.items()):
        raise StorageError(f"{source}: the file changed while it was read.", "Import again.")
    return size


def _checked(folder: Path, copied: set[Path], octets: int, bag: Path) -> Imported:
    """Refuse what a bag's digests cannot tell: a database that is no archive's, or other files than it names."""
    if Path(DATABASE_FILE) not in copied:
        raise StorageError(f"{bag}: there is no archive in the bag.", COPY)
    with archive_at(folder, frozen=True) as archive:
        connection = archive.connection
        if schema_of(connection) != expected_schema(version_of(connection)):
            raise StorageError(f"{bag}: the tables of the database are not an archive's.", COPY)
        named = named_files(connection)
        needed = {path for path, one in named.items() if not one.optional} | {Path(DATABASE_FILE)}
        if strange := sorted((copied - named.keys() - {Path(DATABASE_FILE)}) | (needed - copied)):
            raise StorageError(f"{bag}: the files are not those that its database names: {strange[0]}.", COPY)
        if faults := verify(archive).faults:
            raise StorageError(f"{bag}: the archive in the bag is damaged: {faults[0]}", COPY)
        counts = [connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in ("sheets", "sittings")]
    return Imported(len(copied), octets, *counts)
