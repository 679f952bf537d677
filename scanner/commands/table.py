"""`facedown table`: what the table says of each drink, and where a taster says something else."""

from __future__ import annotations

from itertools import groupby

import click

from kit.errors import ExitCode
from scanner.commands.results_inputs import ResultsInputs, block, results_inputs
from scanner.results import table_report as report
from scanner.results.dictionary import Dictionary, dictionary
from scanner.results.notes_report import TOO_LITTLE
from scanner.results.table import Table, table

FORMAT = "facedown-table/1"


@click.command("table")
@click.option("--every", is_flag=True, help="Show the drinks of every sitting, not of the last alone.")
@results_inputs()
def command(given: ResultsInputs, every: bool) -> ExitCode:
    """Compare the tasters' words for the same drink, from READING files as `facedown read` wrote them.

    With --taster only that taster's minorities and dictionary are told; the table is everybody all the same.
    """
    sittings = given.gathered.sittings
    found = table(sittings)
    dictionaries = [dictionary(taster, sittings) for taster in given.tasters]
    entry = {"format": FORMAT, **report.to_json(found, dictionaries, given.tasters)}
    return given.present(entry, _text(found, dictionaries, given, every=every))


def _text(found: Table, dictionaries: list[Dictionary], given: ResultsInputs, *, every: bool) -> str:
    if not found.drinks:
        return f"{TOO_LITTLE}: no sheet was read."
    by_sitting = [
        (key, list(group)) for key, group in groupby(found.drinks, lambda one: (one.title, one.date, one.kit))
    ]
    blocks = [
        block(
            f"{title}, {date} (kit {kit})",
            (line for drink in drinks for line in report.drink_sentences(drink, given.tasters)),
        )
        for (title, date, kit), drinks in (by_sitting if every else by_sitting[-1:])
    ]
    blocks.append(block("What the table shares", report.panel_sentences(found)))
    blocks += [block(f"The dictionary of {one.name}", report.dictionary_sentences(one)) for one in dictionaries]
    return "\n\n".join(blocks)
