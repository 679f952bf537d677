"""`facedown score`: how many claims were right, and how often a guesser does as well."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path

import click

from kit.commands.ask_passphrase import known_passphrase, passphrase_options
from kit.errors import ExitCode, KitError
from kit.files import write_atomically
from kit.record import Kit, layout_of, load_kit, opened_keys
from kit.tables import aligned, printable
from scanner.claims_in import match_sheets_missing, needs_all_claims, refuse_wrongly_absent
from scanner.commands.archive_option import (
    kit_folders_of,
    kit_or_archive_option,
    optional_archive_option,
    readings_given,
    refuse_without_readings,
)
from scanner.commands.inputs import refuse_to_overwrite
from scanner.keys_on_paper import keys_from_readings
from scanner.reading import Reading
from scanner.score import Scores, Sitting, TasterScore, scores, to_json
from scanner.table_score import TableScore
from scanner.tameness import sentence

AskPassphrase = Callable[[Kit], str | None]

BY_KEY = "What stood where is by the sealed keys; each key matches its seal code."
BY_PAPER = "What stood where is by the opened key sheets that were read; each key matches its seal code."
SEALED = "The keys stay sealed until all claims are in."
TRUTH = {
    "host": BY_KEY,
    "twin": BY_KEY,
    "hand": """\
What stood where is as filled in, or photographed, when the coasters were turned over.
The glasses were mixed by hand. That every order was equally likely is an assumption
about people's mixing; the chances below are as good as it is.""",
}

ABSENT_NUMBER = re.compile("[0-9]{1,4}")
SETTLE = "(Marks are settled by `facedown read --settle ANSWERS.toml`; then score the new reading.)"


@click.command("score")
@kit_or_archive_option
@optional_archive_option
@click.option(
    "--json", "json_path", metavar="FILE", help="Write the scores as JSON to this file; - is standard output."
)
@click.option(
    "--absent",
    metavar="TASTER",
    multiple=True,
    help="The number of a taster who was not there, such as 3, or K7Q4M2-0003 where several kits are given; give the "
    "option once for each. Shared and balanced keys are opened only when everybody else's claims are in.",
)
@passphrase_options("The keys of a kit are locked with a passphrase.")
@click.argument("files", metavar="[READING...]", nargs=-1, type=click.Path(path_type=Path))
def command(
    folders: tuple[Path, ...],
    archive: Path | None,
    json_path: str | None,
    absent: tuple[str, ...],
    ask: bool,
    passphrase_file: Path | None,
    files: tuple[Path, ...],
) -> ExitCode:
    """Score every taster of the kits from READING files, as `facedown read` wrote them, or from an archive's sheets."""
    refuse_without_readings(files, archive)
    folders = kit_folders_of(folders, archive)
    refuse_to_overwrite(json_path, folders, files)
    kits = loaded_kits(folders)
    readings = readings_given(files, archive, [kit.id for kit in kits.values()])
    absent_of = absent_tasters(absent, [kit.id for kit in kits.values()])
    ask_for = partial(known_passphrase, ask=ask, passphrase_file=passphrase_file)
    sittings = [
        opened_sitting(kit, folder, readings, tuple(sorted(absent_of[kit.id])), ask_for) for folder, kit in kits.items()
    ]
    result = scores(sittings, readings)
    entry = json.dumps(to_json(result), ensure_ascii=False, indent=1) + "\n"
    if json_path == "-":
        click.echo(entry, nl=False)
        for sentence in result.left_to_look_at:
            click.echo(f"facedown: {printable(sentence)}", err=True)
    else:
        click.echo(scores_text(result))
        if json_path is not None:
            write_atomically(Path(json_path), entry.encode(errors="backslashreplace"))
    return ExitCode.LOOK if result.left_to_look_at else ExitCode.DONE


def scores_text(result: Scores) -> str:
    """Return the scores for people: a table and the remarks for each kit, then what is left to look at."""
    blocks = [
        _sitting_text(sitting, [taster for taster in result.tasters if taster.kit == sitting.kit], table)
        for sitting, table in zip(result.sittings, result.tables, strict=True)
    ]
    if result.tame:
        blocks.append("Hand shuffles\n" + _lines(f"{who}: {sentence(result.shuffles[who])}" for who in result.tame))
    if result.left_to_look_at:
        blocks.append("Left to look at\n" + _lines([*result.left_to_look_at, SETTLE]))
    return printable("\n\n".join(blocks))


def loaded_kits(folders: Sequence[Path]) -> dict[Path, Kit]:
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


def absent_tasters(named: Sequence[str], kits: Sequence[str]) -> dict[str, set[int]]:
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


def opened_sitting(
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


def _sitting_text(sitting: Sitting, tasters: Sequence[TasterScore], total: TableScore) -> str:
    session = sitting.session
    day = f"{session.date.day} {session.date:%B} {session.date.year}"
    sealed = any(taster.truth.sealed for taster in tasters)
    by_whom = BY_PAPER if sitting.keys_on_paper else TRUTH[session.shuffle]
    heading = f"{session.title}, {day} (kit {sitting.kit})\n{SEALED if sealed else by_whom}"
    # One taster's truth is everybody's with a shared key: whoever settles a claim should not have it before their eyes.
    hidden = session.keys == "shared" and any(taster.claims.unsettled for taster in tasters)
    table = [
        ("", "taster", *session.place_letters, "result"),
        *((str(taster.taster), taster.name, *_cells(taster, hidden=hidden), taster.sentence) for taster in tasters),
    ]
    legend = "  claimed (stood there, where it was another)   – left blank   ? not settled"
    blocks = [heading, f"{aligned(table)}\n\n{legend}"]
    if len(total.counted) > 1:
        blocks.append(f"The table: {total.sentence}")
    if remarks := [f"{taster.name}: {remark}" for taster in tasters for remark in taster.remarks]:
        blocks.append("Remarks\n" + _lines(remarks))
    return "\n\n".join(blocks)


def _cells(taster: TasterScore, *, hidden: bool) -> Iterator[str]:
    for place, number in taster.claims.numbers.items():
        stood = None if taster.truth.numbers is None else taster.truth.numbers[place]
        claimed = "–" if number is None else str(number)
        if not taster.has_match:
            yield ""
        elif place in taster.claims.unsettled:
            # Whoever settles it should not have the truth before their eyes.
            yield "?"
        else:
            yield claimed if hidden or stood in (None, number) else f"{claimed} ({stood})"


def _lines(sentences: Iterable[str]) -> str:
    return "\n".join(f"  {sentence}" for sentence in sentences)
