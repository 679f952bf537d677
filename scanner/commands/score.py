"""`facedown score`: how many claims were right, and how often a guesser does as well."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

import click

from kit.errors import ExitCode, KitError
from kit.files import write_atomically
from kit.record import layout_of, load_kit, opened_keys
from kit.tables import aligned, printable
from scanner.commands.inputs import kit_option, refuse_to_overwrite
from scanner.reading_json import load_reading
from scanner.score import Scores, Sitting, TasterScore, scores, to_json

BY_KEY = "What stood where is by the sealed keys; each key matches its seal code."
TRUTH = {
    "host": BY_KEY,
    "twin": BY_KEY,
    "hand": """\
What stood where is as filled in, or photographed, when the coasters were turned over.
The glasses were mixed by hand. That every order was equally likely is an assumption
about people's mixing; the chances below are as good as it is.""",
}

SETTLE = "(Marks are settled by `facedown read --settle ANSWERS.toml`; then score the new reading.)"


@click.command("score")
@kit_option
@click.option(
    "--json", "json_path", metavar="FILE", help="Write the scores as JSON to this file; - is standard output."
)
@click.argument("files", metavar="READING...", nargs=-1, required=True, type=click.Path(path_type=Path))
def command(folders: tuple[Path, ...], json_path: str | None, files: tuple[Path, ...]) -> ExitCode:
    """Score every taster of the kits from one or more READING files, as `facedown read` wrote them."""
    refuse_to_overwrite(json_path, folders, files)
    sittings = _sittings(folders)
    result = scores(sittings, {str(file): load_reading(file) for file in files})
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
        _sitting_text(sitting, [taster for taster in result.tasters if taster.kit == sitting.kit])
        for sitting in result.sittings
    ]
    if result.left_to_look_at:
        blocks.append("Left to look at\n" + _lines([*result.left_to_look_at, SETTLE]))
    return printable("\n\n".join(blocks))


def _sittings(folders: Sequence[Path]) -> list[Sitting]:
    """Load the kits and break their seals, each checked against its seal code."""
    given: dict[str, Path] = {}
    sittings = []
    for folder in folders:
        kit = load_kit(folder)
        if kit.id in given:
            raise KitError(f"{folder}: kit {kit.id} is given already, as {given[kit.id]}.", "Give it once.")
        given[kit.id] = folder
        sittings.append(Sitting(kit.id, kit.session, layout_of(folder), opened_keys(kit)))
    return sittings


def _sitting_text(sitting: Sitting, tasters: Sequence[TasterScore]) -> str:
    session = sitting.session
    day = f"{session.date.day} {session.date:%B} {session.date.year}"
    heading = f"{session.title}, {day} (kit {sitting.kit})\n{TRUTH[session.shuffle]}"
    table = [("", "taster", *session.place_letters, "result"), *map(_row, tasters)]
    legend = "  claimed (stood there, where it was another)   – left blank   ? not settled"
    blocks = [heading, f"{aligned(table)}\n\n{legend}"]
    if remarks := [f"{taster.name}: {remark}" for taster in tasters for remark in taster.remarks]:
        blocks.append("Remarks\n" + _lines(remarks))
    return "\n\n".join(blocks)


def _row(taster: TasterScore) -> tuple[str, ...]:
    return str(taster.taster), taster.name, *_cells(taster), taster.sentence


def _cells(taster: TasterScore) -> Iterator[str]:
    for place, number in taster.claims.numbers.items():
        stood = None if taster.truth.numbers is None else taster.truth.numbers[place]
        claimed = "–" if number is None else str(number)
        if not taster.has_match:
            yield ""
        elif place in taster.claims.unsettled:
            # Whoever settles it should not have the truth before their eyes.
            yield "?"
        else:
            yield claimed if stood in (None, number) else f"{claimed} ({stood})"


def _lines(sentences: Iterable[str]) -> str:
    return "\n".join(f"  {sentence}" for sentence in sentences)
