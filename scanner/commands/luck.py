"""`facedown luck`: what luck alone explains of the claims that were right, by taster and for the table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import click

from kit.errors import ExitCode
from kit.tables import aligned
from scanner.commands.results_inputs import ResultsInputs, results_inputs
from scanner.results.counted import counted, counts_of, right_in
from scanner.results.luck import (
    Luck,
    law_of_counts,
    luck_of_table,
    luck_of_taster,
    sentences,
    sitting_to_json,
    tail,
    times,
    to_json,
)
from scanner.results.sitting import TasterSitting

FORMAT = "facedown-luck/1"


@click.command("luck")
@results_inputs()
def command(inputs: ResultsInputs) -> ExitCode:
    """Say what luck alone explains, of each sitting and of all together, from one or more READING files."""
    by_taster = {taster: inputs.gathered.of(taster) for taster in inputs.tasters}
    lucks = {taster: luck_of_taster(sittings) for taster, sittings in by_taster.items()}
    table = luck_of_table(inputs.gathered.sittings, inputs.gathered.seats) if len(by_taster) > 1 else None
    entry: dict[str, Any] = {
        "format": FORMAT,
        "tasters": [
            {
                "taster": taster,
                "name": inputs.gathered.name_of(taster),
                **to_json(lucks[taster]),
                "by_sitting": [sitting_to_json(sitting) for sitting in counted(sittings).sittings],
                "left_out": list(counted(sittings).left_out),
            }
            for taster, sittings in by_taster.items()
        ],
        "table": None if table is None else to_json(table),
    }
    blocks = [
        _taster_text(inputs.gathered.name_of(taster), sittings, lucks[taster]) for taster, sittings in by_taster.items()
    ]
    if table is not None:
        blocks.append(_block("The table", sentences(table, "a table of guessers")))
    return inputs.present(entry, "\n\n".join(blocks))


def _taster_text(name: str, sittings: Sequence[TasterSitting], luck: Luck) -> str:
    chosen = counted(sittings)
    rows = [
        (
            sitting.date.isoformat(),
            sitting.title,
            f"{right_in(sitting)} of {sitting.glasses}",
            f"a guesser as well or better {times(tail(law_of_counts(counts_of(sitting)), right_in(sitting)))}",
        )
        for sitting in chosen.sittings
    ]
    parts = [name, *([aligned(rows)] if rows else []), _block("", sentences(luck))]
    if chosen.left_out:
        parts.append(_block("  Not counted:", [f"  {reason}" for reason in chosen.left_out]))
    return "\n".join(parts)


def _block(heading: str, lines: Sequence[str]) -> str:
    return "\n".join([*([heading] if heading else []), *(f"  {line}" for line in lines)])
