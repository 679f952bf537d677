"""What the commands on results have in common: kits, readings, whose results, who is who, and where they go."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import wraps
from pathlib import Path
from textwrap import fill
from typing import Any

import click

from kit.errors import ExitCode
from kit.files import opened_atomically
from kit.tables import printable
from scanner.commands.archive_option import typed_in
from scanner.commands.given_sittings import given_sittings, takes_sittings
from scanner.commands.inputs import refuse_to_overwrite
from scanner.reading import Reading
from scanner.reports.json_pieces import json_pieces
from scanner.results.gather import Gathered, gather
from scanner.what_stood import Sitting

WIDTH = 110
NAMED = "An id, or a name as it is printed."


@dataclass(frozen=True, slots=True)
class ResultsInputs:
    """What a command on results is given: the sittings, and which tasters it is about, by their keys.

    `kits` are the printed sittings by their folders, `readings` what was read, by the files' names, from which
    `gathered` is; `archive` is None where the readings are files.
    """

    gathered: Gathered
    tasters: tuple[str, ...]
    json_path: str | None
    kits: Mapping[Path, Sitting] = field(default_factory=dict)
    readings: Mapping[str, Reading] = field(default_factory=dict)
    archive: Path | None = None

    def present(self, entry: dict[str, Any], text: str) -> ExitCode:
        """Show the text, or write the entry as JSON, with the questions and remarks on the sittings; return the status.

        `entry` gets the keys `questions`, `remarks` and `left_to_look_at`; an iterator in it becomes a list that is
        written an element at a time.
        """
        told = self._told()
        if self.json_path == "-":
            for piece in json_pieces(entry | told):
                click.echo(piece, nl=False)
            for sentence in (*told["questions"], *told["left_to_look_at"]):
                click.echo(f"facedown: {printable(sentence)}", err=True)
        else:
            blocks = [
                text,
                *(block(name.replace("_", " ").capitalize(), lines) for name, lines in told.items() if lines),
            ]
            click.echo(printable("\n\n".join(blocks)))
            if self.json_path is not None:
                with opened_atomically(Path(self.json_path)) as file:
                    file.writelines(piece.encode(errors="backslashreplace") for piece in json_pieces(entry | told))
        return ExitCode.LOOK if told["questions"] or told["left_to_look_at"] else ExitCode.DONE

    def _told(self) -> dict[str, list[str]]:
        gathered = self.gathered
        remarks_of = (told for one in self.tasters for told in gathered.remarks_of.get(one, ()))
        return {
            "questions": [question.sentence for question in gathered.questions],
            "remarks": [*gathered.remarks, *remarks_of],
            "left_to_look_at": list(gathered.left_to_look_at),
        }


Command = Callable[..., ExitCode]


def results_inputs(*, of_taster: bool = True, needed: bool = True) -> Callable[[Command], Command]:
    """Give a command the options and arguments of all results; it is called with one `ResultsInputs` besides its own.

    With `of_taster` it has `--taster` too; left out by the person, `tasters` are all of them. Unless `needed`, kits and
    readings may both be left out: there are no sittings then.
    """

    def add(command: Command) -> Command:
        @wraps(command)
        def given(
            json_path: str | None,
            folders: tuple[Path, ...],
            archive: Path | None,
            files: tuple[Path, ...],
            absent: tuple[str, ...],
            same: tuple[tuple[str, str], ...],
            ask: bool,
            passphrase_file: Path | None,
            taster: str | None = None,
            **own: Any,
        ) -> ExitCode:
            nothing = not (folders or archive or files or taster or same or absent)
            if nothing and not needed:
                return command(ResultsInputs(Gathered(()), (), json_path), **own)
            sittings, readings = given_sittings(folders, archive, files, absent, ask, passphrase_file)
            refuse_to_overwrite(json_path, files)
            typed = () if archive is None or files else typed_in(archive)
            gathered = gather(list(sittings.values()), readings, same, typed)
            tasters = gathered.tasters if taster is None else (gathered.taster_called(taster),)
            kept = archive if not files else None
            return command(ResultsInputs(gathered, tasters, json_path, sittings, readings, kept), **own)

        for option in reversed(_options(of_taster)):
            given = option(given)
        return given

    return add


def _options(of_taster: bool) -> list[Callable[[Any], Any]]:
    whose = click.option("--taster", metavar="TASTER", help=f"Whose results; all tasters' if left out. {NAMED}")
    return [
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
        takes_sittings,
    ]


def block(heading: str, lines: Iterable[str]) -> str:
    """Return lines for people under their heading, indented and wrapped."""
    return "\n".join([heading, *(fill(line, WIDTH, initial_indent="  ", subsequent_indent="      ") for line in lines)])
