"""The sittings that a command is given, by kits and readings or by an archive: each key opened, none too early."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import click

from kit.commands.ask_passphrase import known_passphrase, passphrase_options
from kit.errors import KitError
from kit.record import Kit, layout_of, load_kit, opened_keys
from scanner.claims_in import match_sheets_missing, needs_all_claims, refuse_wrongly_absent
from scanner.commands.archive_option import (
    kit_folders_of,
    kit_or_archive_option,
    optional_archive_option,
    readings_given,
    refuse_without_readings,
)
from scanner.keys_on_paper import keys_from_readings
from scanner.reading import Reading
from scanner.what_stood import Sitting

AskPassphrase = Callable[[Kit], str | None]

ABSENT_NUMBER = re.compile("[0-9]{1,4}")

_OPTIONS: tuple[Callable[[Any], Any], ...] = (
    kit_or_archive_option,
    optional_archive_option,
    click.option(
        "--absent",
        metavar="TASTER",
        multiple=True,
        help="The number of a taster who was not there, such as 3, or K7Q4M2-0003 where several kits are given; give "
        "the option once for each. Shared and balanced keys are opened only when everybody else's claims are in.",
    ),
    passphrase_options("The keys of a kit are locked with a passphrase."),
    click.argument("files", metavar="[READING...]", nargs=-1, type=click.Path(path_type=Path)),
)


def takes_sittings(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the options and arguments that `given_sittings` takes, by the same names."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


def given_sittings(
    folders: Sequence[Path],
    archive: Path | None,
    files: Sequence[Path],
    absent: Sequence[str],
    ask: bool,
    passphrase_file: Path | None,
) -> tuple[dict[Path, Sitting], dict[str, Reading]]:
    """Return the sittings by their kits' folders, and the readings by name.

    Raises
    ------
    click.UsageError
        If there are no kits or no readings, and no archive; or an absent taster whom no kit has.
    KitError, ReadingError, StorageError
        If one of them is wrong, or cannot be read.
    """
    refuse_without_readings(files, archive)
    kits = _loaded(kit_folders_of(folders, archive))
    ids = [kit.id for kit in kits.values()]
    readings = readings_given(files, archive, ids)
    absent_of = _absent(absent, ids)
    ask_for = partial(known_passphrase, ask=ask, passphrase_file=passphrase_file)
    sittings = {
        folder: _opened(kit, folder, readings, tuple(sorted(absent_of[kit.id])), ask_for)
        for folder, kit in kits.items()
    }
    return sittings, readings


def _loaded(folders: Sequence[Path]) -> dict[Path, Kit]:
    """Return the kits by their folders; the same kit given twice is refused."""
    given: dict[str, Path] = {}
    kits = {}
    for folder in folders:
        kit = load_kit(folder)
        if kit.id in given:
            raise KitError(f"{folder}: kit {kit.id} is given already, as {given[kit.id]}.", "Give it once.")
        given[kit.id] = folder
        kits[folder] = kit
    return kits


def _absent(named: Sequence[str], kits: Sequence[str]) -> dict[str, set[int]]:
    """Return the absent tasters of each kit."""
    absent: dict[str, set[int]] = {kit: set() for kit in kits}
    for name in named:
        kit, dash, number = name.rpartition("-")
        if not ABSENT_NUMBER.fullmatch(number) or (dash and kit not in absent):
            raise click.UsageError(f"--absent {name}: a taster's number, alone or after {kits[0]}-, is allowed.")
        if not kit and len(kits) > 1:
            raise click.UsageError(f"--absent {name}: with several kits say whose taster, such as {kits[0]}-{number}.")
        absent[kit or kits[0]].add(int(number))
    return absent


def _opened(
    kit: Kit, folder: Path, readings: Mapping[str, Reading], absent: tuple[int, ...], ask: AskPassphrase
) -> Sitting:
    """Break the seals of a kit, each checked against its seal code; not while claims are waited for."""
    given = tuple(readings.values())
    refuse_wrongly_absent(kit.id, kit.session, given, absent)
    waits = needs_all_claims(kit.session) and match_sheets_missing(kit.id, kit.session, given, absent)
    on_paper = keys_from_readings(kit, readings)
    if waits:
        return Sitting(kit.id, kit.session, layout_of(folder), (), absent)
    passphrase = ask(kit)
    # Who has lost the passphrase still has the key sheets.
    if kit.keys_kept == "paper" or (kit.keys_kept == "passphrase" and passphrase is None and on_paper):
        return Sitting(kit.id, kit.session, layout_of(folder), on_paper, absent, keys_on_paper=True)
    return Sitting(kit.id, kit.session, layout_of(folder), opened_keys(kit, passphrase), absent)
