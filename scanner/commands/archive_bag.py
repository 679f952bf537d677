"""`facedown archive verify`, `export` and `import`: an archive into a bag for keeping, and out of it again."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import click

from kit.errors import ExitCode, StorageError
from kit.tables import counted, printable
from scanner.commands.archive_option import VARIABLE, archive_option, json_option, now, write_json


@click.command("verify")
@click.option(
    "--archive",
    "archive",
    metavar="ARCHIVE",
    envvar=VARIABLE,
    type=click.Path(path_type=Path),
    help=f"The archive's folder; left out, the one that the environment variable {VARIABLE} names.",
)
@json_option
@click.argument("folder", metavar="[FOLDER]", required=False, type=click.Path(path_type=Path))
def verify(archive: Path | None, json_path: str | None, folder: Path | None) -> ExitCode:
    """Check every file by its digest, every row by its seal, and the database by SQLite's own check.

    FOLDER is an archive, or a bag that `facedown archive export` wrote; left out, the archive is checked. Whatever is
    not as it was written is named, with the sheets that it concerns, and ends with status 5.
    """
    from scanner.archive.bag import is_bag, verify_bag
    from scanner.archive.database import archive_at
    from scanner.archive.verify import verify as verified

    place = folder or archive
    if place is None:
        raise click.UsageError(f"Name a FOLDER, or --archive (or {VARIABLE}).")
    if is_bag(place):
        found = verify_bag(place)
    else:
        with archive_at(place) as opened:
            found = verified(opened)
    if json_path != "-":
        for fault in found.faults:
            click.echo(printable(str(fault)))
        for path in found.harmless:
            click.echo(printable(f"{path}: left behind by an interrupted command; harmless, the next add removes it."))
        if not found.faults:
            click.echo(f"All is as it was written: the database, and {found.files} files.")
    write_json(
        {
            "faults": [{"what": fault.what, "sheets": fault.sheets} for fault in found.faults],
            "harmless": found.harmless,
            "files": found.files,
        },
        json_path,
    )
    if found.faults:
        raise StorageError(
            f"{place}: {len(found.faults)} things are not as they were written.",
            "Take what is damaged from a copy; nothing was changed.",
        )
    return ExitCode.DONE


@click.command("export")
@archive_option
@json_option
@click.argument("folder", metavar="FOLDER", type=click.Path(path_type=Path))
def export(archive: Path, json_path: str | None, folder: Path) -> ExitCode:
    """Write the whole archive into the new FOLDER, a BagIt bag that can be read without this program.

    It holds the archive itself, a searchable PDF of each sheet, what was read and the results as JSON and CSV, digests
    of all of it, and a README. `facedown archive import` makes an archive of it again.
    """
    from importlib.metadata import version

    from scanner.archive.bag_export import export as exported

    with _progress("exporting sheets") as progress:
        found = exported(archive, folder, now(), f"facedown {version('facedown')}", progress)
    if json_path != "-":
        click.echo(
            f"{folder}: {counted(found.sheets, 'sheet')}, {counted(found.files, 'file')}, "
            f"{counted(found.octets, 'byte')}."
        )
        for kit, why_not in found.not_scored.items():
            click.echo(printable(f"Sitting {kit} has no results: {why_not.rstrip('.')}."))
        if found.without_picture:
            click.echo("Without a picture, for it was typed in, erased or is damaged:")
            click.echo("\n".join(f"  {sheet}" for sheet in found.without_picture))
    write_json(
        {
            "bag": str(folder),
            "sheets": found.sheets,
            "without_picture": found.without_picture,
            "not_scored": found.not_scored,
            "files": found.files,
            "bytes": found.octets,
        },
        json_path,
    )
    return ExitCode.DONE


@click.command("import")
@archive_option
@json_option
@click.argument("bag", metavar="BAG", type=click.Path(path_type=Path))
def import_(archive: Path, json_path: str | None, bag: Path) -> ExitCode:
    """Restore an archive from BAG, the folder that `facedown archive export` wrote, byte for byte.

    The archive that --archive names must be new. A bag in which a single bit is not as it was written is refused.
    """
    from scanner.archive.bag_import import import_bag

    found = import_bag(bag, archive)
    if json_path != "-":
        click.echo(
            f"{archive}: {counted(found.sittings, 'sitting')}, {counted(found.sheets, 'reading')} of sheets, "
            f"{counted(found.files, 'file')}."
        )
    write_json(
        {
            "archive": str(archive),
            "sittings": found.sittings,
            "readings": found.sheets,
            "files": found.files,
            "bytes": found.octets,
        },
        json_path,
    )
    return ExitCode.DONE


@contextlib.contextmanager
def _progress(label: str) -> Iterator[Callable[[int, int], None]]:
    """Give what shows progress: a bar on a terminal, nothing elsewhere."""
    if not sys.stderr.isatty():
        yield lambda done, total: None
        return
    with click.progressbar(length=1, label=label, file=sys.stderr) as bar:

        def show(done: int, total: int) -> None:
            bar.length = total
            bar.update(done - bar.pos)

        yield show
