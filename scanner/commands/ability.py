"""`facedown ability`: how able a taster is, whether that changed, how sure it is, and what their sureness is worth."""

from __future__ import annotations

from collections.abc import Sequence

import click

from kit.errors import ExitCode
from scanner.commands.results_inputs import ResultsInputs, results_inputs
from scanner.results.skill import Skill, difficulties_of, sections, skill, to_json

FORMAT = "facedown-ability/1"
WIDTH = 100


@click.command("ability")
@results_inputs()
def command(inputs: ResultsInputs) -> ExitCode:
    """Say how able tasters are over all their sittings, from one or more READING files."""
    found = [_skill(inputs, taster) for taster in inputs.tasters]
    entry = {"format": FORMAT, "tasters": [to_json(one) for one in found]}
    text = "\n\n".join(map(_text, found)) or "No taster's sheet was read."
    return inputs.present(entry, text)


def _skill(inputs: ResultsInputs, taster: str) -> Skill:
    sittings = inputs.gathered.of(taster)
    return skill(taster, inputs.gathered.name_of(taster), sittings, difficulties_of(sittings))


def _text(found: Skill) -> str:
    return "\n".join([found.name, *(_section(heading, lines) for heading, lines in sections(found))])


def _section(heading: str, lines: Sequence[str]) -> str:
    wrapped = (click.wrap_text(line, WIDTH, "    ", "      ") for line in lines)
    return "\n".join([f"  {heading}", *wrapped])
