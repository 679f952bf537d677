"""`facedown confusions`: which drinks were taken for which, and the pair to taste next side by side."""

from __future__ import annotations

import click

from kit.errors import ExitCode
from scanner.commands.results_inputs import ResultsInputs, block, results_inputs
from scanner.results import confusions_report as report
from scanner.results.confusions import Confusions, confusions

FORMAT = "facedown-confusions/1"


@click.command("confusions")
@results_inputs()
def command(given: ResultsInputs) -> ExitCode:
    """Count which drinks were taken for which, from READING files as `facedown read` wrote them."""
    found = {taster: confusions(given.gathered.of(taster)) for taster in given.tasters}
    whole = confusions(given.gathered.sittings)
    entry = {
        "format": FORMAT,
        "table": report.to_json(whole),
        "tasters": [
            {"taster": taster, "name": given.gathered.name_of(taster), **report.to_json(one)}
            for taster, one in found.items()
        ],
    }
    blocks = [_text(given.gathered.name_of(taster), one) for taster, one in found.items()]
    if len(given.gathered.tasters) != 1:
        blocks.append(_text("The table", whole))
    return given.present(entry, "\n\n".join(blocks))


def _text(who: str, found: Confusions) -> str:
    return "\n\n".join([block(who, report.sentences(found)), *report.tables(found)])
