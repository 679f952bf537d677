"""What the commands on results have in common: kits, readings, whose results, who is who, and where they go."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial, wraps
from pathlib import Path
from textwrap import fill
from typing import Any

import click

from kit.commands.ask_passphrase import known_passphrase, passphrase_options
from kit.errors import ExitCode
from kit.files import write_atomically
from kit.tables import printable
from scanner.commands.inputs import kit_option, optional_kit_option, refuse_to_overwrite
from scanner.commands.score import absent_tasters, loaded_kits, opened_sitting
from scanner.reading_json import load_reading
from scanner.results.gather import Gathered, gather

WIDTH = 110
NAMED = "An id, or a name as it is printed."


@dataclass(frozen=True, slots=True)
class ResultsInputs:
    """What a command on results is given: the sittings, and which tasters it is about, by their keys."""

    gathered: Gathered
    tasters: tuple[str, ...]
    json_path: str | None

    def present(self, entry: dict[str, Any], text: str) -> ExitCode:
        """Show the text, or write the entry as JSON, with the questions and remarks on the sittings; return the status.

        `entry` gets the keys `questions`, `remarks` and `left_to_look_at`.
        """
        gathered = self.gathered
        questions = [question.sentence for question in gathered.questions]
        remarks = [*gathered.remarks, *(told for one in self.tasters for told in gathered.remarks_of.get(one, ()))]
        whole = {
            **entry,
            "questions": questions,
            "remarks": remarks,
            "left_to_look_at": list(gathered.left_to_look_at),
        }
        written = json.dumps(whole, ensure_ascii=False, indent=1, allow_nan=False) + "\n"
        if self.json_path == "-":
            click.echo(written, nl=False)
            for sentence in (*questions, *gathered.left_to_look_at):
                click.echo(f"facedown: {printable(sentence)}", err=True)
        else:
            lists = {"Questions": questions, "Remarks": remarks, "Left to look at": gathered.left_to_look_at}
            blocks = [text, *(block(heading, lines) for heading, lines in lists.items() if lines)]
            click.echo(printable("\n\n".join(blocks)))
            if self.json_path is not None:
                write_atomically(Path(self.json_path), written.encode(errors="backslashreplace"))
        return ExitCode.LOOK if questions or gathered.left_to_look_at else ExitCode.DONE


Command = Callable[..., ExitCode]


def results_inputs(*, of_taster: bool = True, needed: bool = True) -> Callable[[Command], Command]:
    """Give a command the options and arguments of all results; it is called with one `ResultsInputs` besides its own.

    With `of_taster` it has `--taster` too; left out by the person, `tasters` are all of them. Unless `needed`, kits and
    readings may both be left out: there are no sittings then.
    """

    def add(command: Command) -> Command:
        @wraps(command)
        def given(
            folders: tuple[Path, ...],
            json_path: str | None,
            absent: tuple[str, ...],
            same: tuple[tuple[str, str], ...],
            ask: bool,
            passphrase_file: Path | None,
            files: tuple[Path, ...],
            taster: str | None = None,
            **own: Any,
        ) -> ExitCode:
            refuse_to_overwrite(json_path, folders, files)
            if bool(folders) != bool(files) or (not folders and (taster or same or absent)):
                raise click.UsageError("The sittings are in kits and readings: give both, --kit KIT and READING files.")
            ask_for = partial(known_passphrase, ask=ask, passphrase_file=passphrase_file)
            gathered = _gathered(folders, files, absent, same, ask_for)
            tasters = gathered.tasters if taster is None else (gathered.taster_called(taster),)
            return command(ResultsInputs(gathered, tasters, json_path), **own)

        for option in reversed(_options(of_taster, needed)):
            given = option(given)
        return given

    return add


def _options(of_taster: bool, needed: bool) -> list[Callable[[Any], Any]]:
    whose = click.option("--taster", metavar="TASTER", help=f"Whose results; all tasters' if left out. {NAMED}")
    return [
        kit_option if needed else optional_kit_option,
        *([whose] if of_taster else []),
        click.option(
            "--same",
            nargs=2,
            multiple=True,
            metavar="ONE OTHER",
            help=f"These two are one taster, or one drink; give the option once for each pair. {NAMED}",
        ),
        click.option(
            "--json", "json_path", metavar="FILE", help="Write the results as JSON to this file; - is standard output."
        ),
        click.option(
            "--absent",
            metavar="TASTER",
            multiple=True,
            help="The number of a taster who was not there, as for facedown score.",
        ),
        passphrase_options("The keys of a kit are locked with a passphrase."),
        click.argument(
            "files",
            metavar="READING..." if needed else "[READING...]",
            nargs=-1,
            required=needed,
            type=click.Path(path_type=Path),
        ),
    ]


def _gathered(
    folders: Sequence[Path],
    files: Sequence[Path],
    absent: Sequence[str],
    same: Sequence[tuple[str, str]],
    ask: Callable[..., str | None],
) -> Gathered:
    kits = loaded_kits(folders)
    readings = {str(file): load_reading(file) for file in files}
    absent_of = absent_tasters(absent, [kit.id for kit in kits.values()])
    sittings = [
        opened_sitting(kit, folder, readings, tuple(sorted(absent_of[kit.id])), ask) for folder, kit in kits.items()
    ]
    return gather(sittings, readings, same)


def block(heading: str, lines: Iterable[str]) -> str:
    """Return lines for people under their heading, indented and wrapped."""
    return "\n".join([heading, *(fill(line, WIDTH, initial_indent="  ", subsequent_indent="      ") for line in lines)])
