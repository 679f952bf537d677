"""The bag that an archive is exported to: what is in it, and whether all of it is as it was written.

A bag of BagIt 1.0 [1]. Its payload:

    data/README.txt          what all this is, for somebody who has nothing else
    data/archive/            the archive, byte for byte as `import` restores it
    data/sheets/KIT/         a searchable PDF of each sheet
    data/readings/KIT.json   what was read, FORMATS section 4
    data/results/KIT.json    the scores, FORMATS section 5
    data/tables/*.csv        the same for spreadsheets

References
----------
.. [1] J. Kunze et al., The BagIt File Packaging Format (V1.0), RFC 8493, 2018: structure 2, completeness 3, security 5.
"""

from __future__ import annotations

import contextlib
import logging
import os
import re
import stat
from collections.abc import Iterator
from pathlib import Path

import bagit

from kit.errors import StorageError
from scanner.archive.database import DATABASE_FILE, Archive, archive_at
from scanner.archive.verify import Fault, Verified, sheets_of_file
from scanner.archive.verify import verify as verify_archive

FORMAT = "facedown-bag/1"
FORMAT_LABEL = "Facedown-Bag-Format"
"""In `bag-info.txt`."""
DECLARATION = "bagit.txt"
PAYLOAD = "data"
ARCHIVE_PART, SHEETS_PART = "archive", "sheets"
READINGS_PART, RESULTS_PART, TABLES_PART = "readings", "results", "tables"
README = "README.txt"
DIGESTS = ("sha256", "sha512")
VERSIONS = ((0, 97), (1, 0))
COPY = "Take the bag from another copy."

_MANIFEST = re.compile(r"(tag)?manifest-[a-z0-9-]+\.txt")

_TAG_LINE = re.compile(rb"[0-9a-f]+ {1,2}([^ *].*)")

logging.getLogger("bagit").addHandler(logging.NullHandler())


def is_bag(folder: Path) -> bool:
    """Tell whether a folder says that it is a bag."""
    return (folder / DECLARATION).is_file()


def archive_in(folder: Path) -> Path:
    """Return the archive's folder within a bag."""
    return folder / PAYLOAD / ARCHIVE_PART


def opened_bag(folder: Path) -> bagit.Bag:
    """Open a bag of an exported archive, before anything in it is looked at.

    Raises
    ------
    StorageError
        If it is no such bag or of an unknown version, a path in it leaves its folder, or it has files left to fetch.
    """
    if not is_bag(folder):
        raise StorageError(f"{folder}: there is no bag here.", "Name the folder that `facedown archive export` wrote.")
    _refuse_links(folder)
    _refuse_paths_that_leave(folder)
    with _as_sentences(folder):
        bag = bagit.Bag(str(folder))
    if bag.version_info not in VERSIONS:
        raise StorageError(
            f"{folder / DECLARATION}: the bag is of version {bag.tags['BagIt-Version']}; 1.0 is known.",
            "Use a newer facedown.",
        )
    found = bag.info.get(FORMAT_LABEL)
    if found != FORMAT:
        named = f"of the format {found!r}" if found else "no bag of an archive"
        raise StorageError(f"{folder}: this is {named}; {FORMAT!r} is known.", "Use a newer facedown, or another bag.")
    if (folder / "fetch.txt").exists():
        raise StorageError(f"{folder}: the bag has files that are elsewhere.", "Name a bag that is whole.")
    if not any((folder / f"manifest-{name}.txt").is_file() for name in DIGESTS):
        raise StorageError(f"{folder}: the bag lacks its manifest of digests.", COPY)
    return bag


def faults_of(bag: bagit.Bag) -> tuple[Fault, ...]:
    """Hold every file of a bag against its digests, and name the sheets that damage concerns."""
    return (*_faults_of_payload(bag), *_faults_of_tag_manifests(Path(bag.path)))


def verify_bag(folder: Path) -> Verified:
    """Check a bag, and the archive within it, as `verify` checks an archive.

    Raises
    ------
    StorageError
        If it is no bag of an archive, or its database cannot be read at all.
    """
    faults = faults_of(opened_bag(folder))
    if not (archive_in(folder) / DATABASE_FILE).is_file():
        return Verified((*faults, Fault("The archive's database is missing.")), (), 0)
    try:
        with archive_at(archive_in(folder), frozen=True) as archive:
            found = verify_archive(archive)
    except StorageError as error:
        return Verified((*faults, Fault(error.message)), (), 0)
    payload = sum(len(names) for _, _, names in os.walk(folder / PAYLOAD))
    return Verified(tuple(dict.fromkeys((*faults, *found.faults))), found.harmless, payload)


def _faults_of_payload(bag: bagit.Bag) -> tuple[Fault, ...]:
    folder = Path(bag.path)
    try:
        with _as_sentences(folder):
            bag.validate()
    except StorageError as error:
        cause = error.__cause__
        details = cause.details if isinstance(cause, bagit.BagValidationError) else []
        if not details:
            # The count of bytes is looked at first, and names no file: the digests do.
            details = _details_without_count(bag)
        if not details:
            return (Fault(error.message),)
        what = {detail.path: _sentence(detail) for detail in details if isinstance(detail, bagit.ManifestErrorDetail)}
        return tuple(Fault(f"{path}: {told}", _sheets(folder, path)) for path, told in sorted(what.items()))
    return ()


def _faults_of_tag_manifests(folder: Path) -> Iterator[Fault]:
    """Look closer at what no digest covers than the library, which passes over a line that it cannot read."""
    needed = {DECLARATION, "bag-info.txt", *(path.name for path in folder.glob("manifest-*.txt"))}
    for path in sorted(folder.glob("tagmanifest-*.txt")):
        lines = [_TAG_LINE.fullmatch(line) for line in path.read_bytes().removesuffix(b"\n").split(b"\n")]
        names = {line[1].decode(errors="replace") for line in lines if line}
        if not all(lines) or not names >= needed:
            yield Fault(f"{path.name}: the file is not as it was written.")


def _sheets(folder: Path, path: str) -> tuple[str, ...]:
    """Return the sheets that a file of the bag concerns, or its sitting."""
    parts = Path(path).parts
    match parts:
        case ("data", "archive", *rest) if len(rest) > 1:
            with contextlib.suppress(StorageError), archive_at(archive_in(folder), frozen=True) as archive:
                return _of_archive(archive, Path(*rest))
        case ("data", "sheets", _, name):
            return (name.removesuffix(".pdf"),)
        case ("data", "readings" | "results", name):
            return (f"sitting {name.removesuffix('.json')}",)
    return ()


def _of_archive(archive: Archive, path: Path) -> tuple[str, ...]:
    return tuple(sheets_of_file(archive.connection, path))


def _details_without_count(bag: bagit.Bag) -> list[bagit.BagError]:
    bag.info.pop("Payload-Oxum", None)
    try:
        with _as_sentences(Path(bag.path)):
            bag.validate()
    except StorageError as error:
        if isinstance(error.__cause__, bagit.BagValidationError):
            return list(error.__cause__.details)
    return []


def _sentence(detail: bagit.ManifestErrorDetail) -> str:
    match detail:
        case bagit.FileMissing():
            return "the file is missing."
        case bagit.UnexpectedFile():
            return "the file is in no manifest."
    return "the file is not as it was written."


def _refuse_links(folder: Path) -> None:
    """A link could name any file of this computer; nothing but files and folders belongs into a bag."""
    for place, folders, names in os.walk(folder):
        for name in (*folders, *names):
            mode = Path(place, name).lstat().st_mode
            if not (stat.S_ISREG(mode) or stat.S_ISDIR(mode)):
                raise StorageError(f"{Path(place, name)}: this is a link or no file; a bag has files alone.", COPY)


def _refuse_paths_that_leave(folder: Path) -> None:
    """Look at every manifest's paths before anything follows them [1, 5.1]."""
    for manifest in sorted(folder.iterdir()):
        if not _MANIFEST.fullmatch(manifest.name):
            continue
        with manifest.open(encoding="utf-8", errors="backslashreplace") as lines:
            for number, line in enumerate(lines, start=1):
                path = line.strip().partition(" ")[2].strip().lstrip("*")
                if _leaves(path) or not (manifest.name.startswith("tag") or path.startswith(f"{PAYLOAD}/")):
                    raise StorageError(
                        f"{manifest}: line {number} names {path!r}, which is not within the bag's {PAYLOAD} folder.",
                        "Do not trust this bag. " + COPY,
                    )


def _leaves(path: str) -> bool:
    parts = re.split(r"[/\\]", path)
    is_drive = len(parts[0]) > 1 and parts[0][1] == ":"
    return is_drive or not path or any(part in ("", ".", "..") for part in parts) or path.startswith("~")


@contextlib.contextmanager
def _as_sentences(folder: Path) -> Iterator[None]:
    """Turn whatever the library raises into a StorageError: a damaged bag makes it raise nearly anything."""
    try:
        yield
    except OSError:
        raise
    except Exception as error:
        raise StorageError(f"{folder}: the bag is damaged: {_first_line(error)}.", COPY) from error


def _first_line(error: Exception) -> str:
    line = str(error).splitlines()[0] if str(error) else type(error).__name__
    return line[:300].rstrip(".")
