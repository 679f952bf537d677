"""`facedown notes`: whether words and strengths came back for the same drink."""

from __future__ import annotations

import click

from kit.errors import ExitCode
from scanner.commands.results_inputs import ResultsInputs, block, results_inputs
from scanner.results import notes_report as report
from scanner.results.later import Later, later
from scanner.results.notes import Notes, notes
from scanner.results.steady import WordReturn, steady_words

FORMAT = "facedown-notes/1"

Found = tuple[Notes, tuple[WordReturn, ...], Later]


@click.command("notes")
@click.option("--every", is_flag=True, help="Show every sitting, drink by drink, not the last alone.")
@results_inputs()
def command(given: ResultsInputs, every: bool) -> ExitCode:
    """Compare the notes of round one and round two, from READING files as `facedown read` wrote them."""
    found = [_of_taster(given, taster) for taster in given.tasters]
    entry = {"format": FORMAT, "tasters": [report.to_json(*one) for one in found]}
    blocks = [_text(*one, every=every) for one in found] or [report.TOO_LITTLE + ": no sheet was read."]
    return given.present(entry, "\n\n".join(blocks))


def _of_taster(given: ResultsInputs, taster: str) -> Found:
    sittings = given.gathered.of(taster)
    return notes(taster, given.gathered.name_of(taster), sittings), steady_words(sittings), later(sittings)


def _text(found: Notes, words: tuple[WordReturn, ...], again: Later, *, every: bool) -> str:
    shown = found.sittings if every else found.sittings[-1:]
    blocks = [
        block(f"{found.name}: {one.title}, {one.date} (kit {one.kit})", report.sitting_sentences(one)) for one in shown
    ]
    blocks.append(block(f"{found.name}: the two rounds, over all sittings", report.sentences(found)))
    if found.too_little is None:
        blocks.append(block(f"{found.name}: words that come back", report.steady_sentences(words)))
    blocks.append(block(f"{found.name}: the same drink later", report.later_sentences(again)))
    return "\n\n".join(blocks)
