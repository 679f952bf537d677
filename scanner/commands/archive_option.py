"""What the commands that work from an archive have in common: the option, and which kits that gives."""

from __future__ import annotations

import datetime
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kit.errors import KitError
from kit.files import write_atomically

if TYPE_CHECKING:
    from scanner.reading import Reading
    from scanner.results.sitting import TasterSitting

VARIABLE = "FACEDOWN_ARCHIVE"

archive_option = click.option(
    "--archive",
    "archive",
    metavar="ARCHIVE",
    envvar=VARIABLE,
    required=True,
    type=click.Path(path_type=Path),
    help=f"The archive's folder; left out, the one that the environment variable {VARIABLE} names.",
)

optional_archive_option = click.option(
    "--archive",
    "archive",
    metavar="ARCHIVE",
    envvar=VARIABLE,
    type=click.Path(path_type=Path),
    help="Work from this archive: its kits, where --kit names no folder, and its sheets, where no READING is named. "
    f"Left out, the one that the environment variable {VARIABLE} names, if any.",
)

kit_or_archive_option = click.option(
    "--kit",
    "folders",
    metavar="KIT",
    multiple=True,
    type=click.Path(path_type=Path),
    help="A kit folder, or with --archive the id of a kit in the archive; give the option once for each kit.",
)


json_option = click.option(
    "--json", "json_path", metavar="FILE", help="Write the same as JSON to this file; - is standard output."
)


def write_json(entry: Mapping[str, Any], json_path: str | None) -> None:
    """Write what a command found to the file that --json names; None writes nothing, "-" to standard output."""
    if json_path is None:
        return
    text = json.dumps(entry, ensure_ascii=False, indent=1) + "\n"
    if json_path == "-":
        click.echo(text, nl=False)
    else:
        write_atomically(Path(json_path), text.encode(errors="backslashreplace"))


def now() -> str:
    """Return the time as the archive writes it: UTC, to the second."""
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")


def user_name() -> str:
    """Return the name of the computer's user, for who settled or typed something."""
    import getpass

    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return "unknown"


def kit_folders_of(folders: Sequence[Path], archive: Path | None) -> tuple[Path, ...]:
    """Return the kit folders that --kit names, a kit's id standing for the archive's; without --kit, all of an archive.

    Raises
    ------
    click.UsageError
        If there is neither.
    KitError
        If the archive has no kit at all, or not one that is named.
    StorageError
        If there is no archive.
    """
    if archive is None:
        if not folders:
            raise click.UsageError(f"Missing option --kit (or --archive, or {VARIABLE}).")
        return tuple(folders)
    if folders and all(folder.is_dir() for folder in folders):
        return tuple(folders)
    from scanner.archive.database import archive_at
    from scanner.archive.kits import kit_folders

    with archive_at(archive) as opened:
        kept = {folder.name: folder for folder in kit_folders(opened)}
    if not kept:
        raise KitError(f"{archive}: the archive has no kits.", "`facedown archive add --kit KIT` adds one.")
    if not folders:
        return (*kept.values(),)
    unknown = [str(folder) for folder in folders if not folder.is_dir() and str(folder) not in kept]
    if unknown:
        raise KitError(
            f"--kit {unknown[0]}: it is no folder, and {archive} has no kit of that id.",
            f"The archive has {', '.join(sorted(kept))}.",
        )
    return tuple(folder if folder.is_dir() else kept[str(folder)] for folder in folders)


def refuse_without_readings(files: Sequence[Path], archive: Path | None) -> None:
    """Refuse as wrong usage that there is neither a READING file nor an archive."""
    if not files and archive is None:
        raise click.UsageError(f"Missing argument 'READING...' (or --archive, or {VARIABLE}).")


def readings_given(files: Sequence[Path], archive: Path | None, kits: Sequence[str]) -> dict[str, Reading]:
    """Return the READING files by name, or where none is named, what the archive has of these kits' sheets.

    Raises
    ------
    ReadingError
        If a file is no reading.
    StorageError
        If there is no archive, or it cannot be read.
    """
    from scanner.reading_json import load_reading

    if files or archive is None:
        return {str(file): load_reading(file) for file in files}
    from scanner.archive.database import archive_at
    from scanner.archive.readings import readings_of

    with archive_at(archive) as opened:
        return {str(archive): readings_of(opened, kits)[1]}


def typed_in(archive: Path) -> tuple[TasterSitting, ...]:
    """Return the results that were typed into an archive.

    Raises
    ------
    StorageError
        If there is no archive, or it cannot be read.
    """
    from scanner.archive.database import archive_at
    from scanner.archive.readings import typed_sittings

    with archive_at(archive) as opened:
        return typed_sittings(opened)
