"""`facedown ability`: how able a taster is, whether that changed, how sure it is, and what their sureness is worth."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from pathlib import Path

import click

from kit.errors import ExitCode
from scanner.commands.inputs import refuse_to_overwrite
from scanner.commands.results_inputs import ResultsInputs, block, results_inputs
from scanner.results.cellar import Cellar, load_cellar
from scanner.results.skill import Known, Skill, difficulties_of, sections, skill, to_json

FORMAT = "facedown-ability/1"
WIDTH = 100


@click.command("ability")
@click.option(
    "--cellar",
    "cellar_path",
    metavar="CELLAR",
    type=click.Path(path_type=Path),
    help="A cellar list, as for `suggest`: how alike the drinks of a flight were is reckoned from all that it states.",
)
@results_inputs()
def command(inputs: ResultsInputs, cellar_path: Path | None) -> ExitCode:
    """Say how able tasters are over all their sittings, from one or more READING files."""
    today = datetime.date.today()
    cellar = Cellar(())
    if cellar_path is not None:
        refuse_to_overwrite(inputs.json_path, [cellar_path])
        cellar = load_cellar(cellar_path, today)
    known = cellar.known(today)
    found = [_skill(inputs, taster, known) for taster in inputs.tasters]
    remarks = (*cellar.remarks, *(cellar.unmatched(inputs.gathered.sittings) if cellar.bottles else ()))
    entry = {"format": FORMAT, "tasters": [to_json(one) for one in found], "cellar_remarks": list(remarks)}
    texts = [*map(_text, found), *([block("The cellar list", remarks)] if remarks else [])]
    return inputs.present(entry, "\n\n".join(texts) or "No taster's sheet was read.")


def _skill(inputs: ResultsInputs, taster: str, known: Known) -> Skill:
    sittings = inputs.gathered.of(taster)
    name = inputs.gathered.name_of(taster)
    return skill(taster, name, sittings, difficulties_of(sittings, known), known)


def _text(found: Skill) -> str:
    return "\n".join([found.name, *(_section(heading, lines) for heading, lines in sections(found))])


def _section(heading: str, lines: Sequence[str]) -> str:
    wrapped = (click.wrap_text(line, WIDTH, "    ", "      ") for line in lines)
    return "\n".join([f"  {heading}", *wrapped])
